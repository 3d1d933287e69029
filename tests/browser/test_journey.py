"""From an empty folder to a sound and back, by mouse alone and by keys alone, with the files watched all the way."""

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import OpenApp, OpenPage
from tests.browser.driving import go
from tests.browser.hands import (
    COUNT_POINTERS,
    click,
    drag,
    files_in,
    has_focus,
    here,
    pick,
    press,
    type_into,
    walk_to,
)

TAKEN = (
    "clock-6",
    "note-sequencer-16",
    "oscillator",
    "ladder-filter",
    "dual-envelope",
    "quad-vca",
    "mixer-4",
    "line-out-2",
)
"""Modules enough for one voice and a way out, with two more that it does not need."""
FIRST_SOUND_MS = 90_000
"""A kernel that no render has needed before is compiled, once on a machine."""
REASON = "it has run so for years"
NOTE_AUDIO = """
window.sounds = [];
window.Audio = new Proxy(Audio, { construct: (made, given) => {
  const sound = new made(...given);
  window.sounds.push(sound);
  return sound;
} });
"""
PLAYED_S = "(sounds.filter((one) => one.src && !one.paused).map((one) => one.currentTime)[0] ?? -1)"


class Rig:
    """The project's files, as the disk has them now."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @property
    def rig(self) -> str:
        return (self.folder / "rig.toml").read_text("utf-8")

    @property
    def patch(self) -> str:
        return (self.folder / "harbour.patch.toml").read_text("utf-8")

    def module(self, id_: str) -> dict[str, Any]:
        """Return what the rig says of a module, read with the eyes of a person: line by line."""
        part = self.rig.split(f'id = "{id_}"\n')[1].split("\n\n")[0]
        return dict(re.findall(r"(\w+) = (\S+)", part))


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    folder = tmp_path / "harbour"
    folder.mkdir()
    return folder


def saved(page: Page) -> None:
    """Wait until all that was done is on the disk and in the proof."""
    expect(page.get_by_test_id("saved")).to_have_text("Saved")


def test_by_mouse_from_an_empty_folder_to_a_sound_and_back(
    open_app: OpenApp, open_page: OpenPage, empty: Path
) -> None:
    app = open_app(empty)
    page = open_page()
    page.add_init_script(NOTE_AUDIO)
    files = Rig(empty)

    # What is owned, and a first sound.
    page.goto(app.link)
    click(page.get_by_test_id("begin-owned"))
    click(page.get_by_test_id("begin-name"))
    page.keyboard.type("Harbour")
    click(page.get_by_test_id("next"))
    click(page.get_by_test_id("begin-add-row"))
    click(page.get_by_test_id("next"))
    click(page.get_by_test_id("next"))
    for name in TAKEN:
        click(page.get_by_test_id("library-find"))
        page.keyboard.press("Control+a")
        page.keyboard.type(name)
        click(page.get_by_test_id(f"take-{name}"))
        expect(page.get_by_test_id(f"count-{name}")).to_have_text("1")
    click(page.get_by_test_id("next"))
    click(page.get_by_test_id("take-interface-2"))
    click(page.get_by_test_id("next"))
    assert list(empty.iterdir()) == [], "nothing is written before it is said"
    click(page.get_by_test_id("make"))
    expect(page.get_by_test_id("made")).to_contain_text("oscillator.saw to")
    begun = files_in(empty)
    assert set(begun) == {"rig.toml", "harbour.patch.toml", "harbour.set.toml"}
    assert [files.module(name)["row"] for name in TAKEN] == ["1"] * len(TAKEN)

    # A module is dragged to another row.
    click(page.get_by_test_id("go-kit"))
    mixer = page.get_by_test_id("module-mixer-4")
    row = page.get_by_test_id("case-row-2").bounding_box()
    assert row
    drag(page, mixer, row["x"] + row["width"] / 3, row["y"] + row["height"] / 2)
    saved(page)
    assert files.module("mixer-4")["row"] == "2"

    # A cable is dragged from pin to pin.
    go(page, "Wiring")
    page.get_by_test_id("block-ladder-filter").wait_for()
    click(page.get_by_role("button", name="Fit all"))
    click_on(page.get_by_test_id("block-ladder-filter").locator(".face"))
    pull(
        page,
        page.get_by_test_id("jack-oscillator.saw"),
        page.get_by_test_id("jack-ladder-filter.in"),
    )
    expect(page.get_by_test_id("diagram-says")).to_contain_text("Plugged oscillator.saw into")
    expect(page.get_by_test_id("cable-8")).to_have_count(1)
    saved(page)
    assert '{ from = "oscillator.saw", to = "ladder-filter.in"' in files.patch
    # Two outputs are not joined by hand: the page says why, and nothing is written.
    before = files.patch
    pull(
        page,
        page.get_by_test_id("jack-clock-6.sixteenth"),
        page.get_by_test_id("jack-quad-vca.cv-1"),
    )
    expect(page.get_by_test_id("diagram-says")).to_contain_text("quad-vca.cv-1 is driven by")
    page.keyboard.press("Escape")
    assert files.patch == before

    # The supply is weaker than was thought: more current is drawn than it gives.
    go(page, "Kit")
    for rail, ma in (("+12 V", "300"), ("−12 V", "300")):
        click(page.get_by_role("textbox", name=f"{rail} gives, in mA"))
        page.keyboard.press("Control+a")
        page.keyboard.type(ma)
        page.keyboard.press("Enter")
        saved(page)
    assert '"+12V" = 300' in files.rig
    click(page.get_by_role("link", name=re.compile("^Findings")))
    weak = page.get_by_test_id("finding-rail-overloaded")
    click(weak)
    view = page.get_by_test_id("finding-view")
    expect(view).to_contain_text("at +12V")
    click(view.get_by_role("button", name="in Kit"))
    expect(page.get_by_role("textbox", name="+12 V gives, in mA")).to_be_visible()
    go(page, "Proof")
    click(weak)
    click(page.get_by_test_id("fix-show"))
    expect(view).to_contain_text('"+12V" = 300')
    assert '"+12V" = 300' in files.rig, "shown, not done"
    click(page.get_by_test_id("fix-apply"))
    expect(weak).to_have_count(0)
    assert '"+12V" = 300' not in files.rig

    # The other stays as it is, with a reason.
    click(page.get_by_test_id("finding-rail-headroom-short"))
    click(page.get_by_test_id("decline"))
    page.keyboard.type(REASON)
    click(page.get_by_role("button", name="Let it stand", exact=True))
    expect(view).to_contain_text(f"You let it stand: {REASON}")
    declined = files.patch.split("[[declined]]")[1]
    assert f'reason = "{REASON}"' in declined
    assert 'at = "-12V"' in declined

    # Three seconds are rendered, played and looked at.
    go(page, "Hear")
    click(page.get_by_role("textbox", name="How long"))
    page.keyboard.press("Control+a")
    page.keyboard.type("3")
    click(page.get_by_role("combobox", name="Look at a jack"))
    pick(page, "quad-vca.out-1")
    click(page.get_by_test_id("render-start"))
    page.get_by_role("progressbar").first.wait_for()
    heard(page)
    click(page.get_by_test_id("play"))
    click(page.get_by_role("dialog").get_by_role("button", name="They are down: play"))
    plays(page)

    # All is taken back, step by step, and done again.
    ended = files_in(empty)
    for key, button, wanted in (("z", "Undo", begun), ("Shift+Z", "Redo", ended)):
        steps = travel(page, f"Control+{key}", button)
        assert steps == 6
        assert files_in(empty) == wanted


def test_by_keys_alone_from_an_empty_folder_to_a_sound_and_back(
    open_app: OpenApp, open_page: OpenPage, empty: Path
) -> None:
    app = open_app(empty)
    page = open_page()
    page.add_init_script(NOTE_AUDIO + COUNT_POINTERS)
    keys = page.keyboard
    files = Rig(empty)

    # What is owned, and a first sound.
    page.goto(app.link)
    press(page.get_by_test_id("begin-owned"))
    type_into(page.get_by_test_id("begin-name"), "Harbour")
    keys.press("Enter")
    press(page.get_by_test_id("begin-add-row"))
    press(page.get_by_test_id("next"))
    press(page.get_by_test_id("next"))
    for name in TAKEN:
        type_into(page.get_by_test_id("library-find"), name)
        press(page.get_by_test_id(f"take-{name}"))
        expect(page.get_by_test_id(f"count-{name}")).to_have_text("1")
    press(page.get_by_test_id("next"))
    walk_to(page.locator("input[name=interface]:checked"))
    walk_to(page.get_by_test_id("take-interface-2"), key="ArrowDown")
    keys.press("Enter")
    assert list(empty.iterdir()) == [], "nothing is written before it is said"
    press(page.get_by_test_id("make"))
    expect(page.get_by_test_id("made")).to_contain_text("oscillator.saw to")
    begun = files_in(empty)

    # A module goes to another row.
    press(page.get_by_test_id("go-kit"))
    press(page.get_by_test_id("module-mixer-4"), "ArrowDown")
    moved = page.get_by_role("button", name="Undo", exact=True)
    expect(moved).to_be_enabled()
    assert files.module("mixer-4")["row"] == "2"

    # A cable goes from pin to pin, in the drawing.
    keys.press("Alt+2")
    page.get_by_test_id("block-oscillator").wait_for()
    walk_to(page.get_by_test_id("diagram"))
    keys.press("Enter")
    walk_along(page.get_by_test_id("block-oscillator").locator(".face"), "ArrowRight")
    keys.press("Enter")
    keys.press("Enter")
    walk_along(page.get_by_test_id("jack-oscillator.saw"), "ArrowRight", "ArrowDown")
    keys.press("Enter")
    says = page.get_by_test_id("diagram-says")
    expect(says).to_contain_text("jacks may take it")
    keys.type("ladder-filter.in")
    expect(says).to_contain_text("ladder-filter.in, 1 of")
    keys.press("Enter")
    expect(says).to_contain_text("Plugged oscillator.saw into ladder-filter.in")
    expect(page.get_by_test_id("cable-8")).to_have_count(1)
    saved(page)
    assert '{ from = "oscillator.saw", to = "ladder-filter.in"' in files.patch
    # In the bar, what cannot be says why.
    type_into(page.get_by_test_id("wire-from"), "clock-6.sixteenth")
    type_into(page.get_by_test_id("wire-to"), "quad-vca.cv-1")
    expect(page.get_by_role("form", name="Plug in a cable")).to_contain_text("is driven by")
    expect(page.get_by_test_id("wire-add")).to_be_disabled()

    # The supply is weaker than was thought; one finding is mended, the other stands.
    keys.press("Alt+1")
    for rail, ma in (("+12 V", "300"), ("−12 V", "300")):
        type_into(page.get_by_role("textbox", name=f"{rail} gives, in mA"), ma)
        keys.press("Enter")
        saved(page)
    keys.press("Alt+3")
    weak = page.get_by_test_id("finding-rail-overloaded")
    short = page.get_by_test_id("finding-rail-headroom-short")
    view = page.get_by_test_id("finding-view")
    press(weak)
    expect(view).to_contain_text("at +12V")
    press(page.get_by_test_id("fix-show"))
    expect(view).to_contain_text('"+12V" = 300')
    assert '"+12V" = 300' in files.rig, "shown, not done"
    press(page.get_by_test_id("fix-apply"))
    expect(weak).to_have_count(0)
    assert '"+12V" = 300' not in files.rig
    press(short)
    press(page.get_by_test_id("decline"))
    keys.type(REASON)
    keys.press("Enter")
    expect(view).to_contain_text(f"You let it stand: {REASON}")
    assert f'reason = "{REASON}"' in files.patch.split("[[declined]]")[1]

    # Three seconds are rendered, played and looked at.
    keys.press("Alt+4")
    type_into(page.get_by_role("textbox", name="How long"), "3")
    walk_to(page.get_by_role("combobox", name="Look at a jack"))
    pick(page, "quad-vca.out-1")
    press(page.get_by_test_id("render-start"))
    heard(page)
    press(page.get_by_test_id("play"))
    press(page.get_by_role("dialog").get_by_role("button", name="They are down: play"))
    plays(page)

    # All is taken back, step by step, and done again.
    ended = files_in(empty)
    for key, button, wanted in (("z", "Undo", begun), ("Shift+Z", "Redo", ended)):
        assert travel(page, f"Control+{key}", button) == 6
        assert files_in(empty) == wanted
    assert page.evaluate("pointers") == 0, "a mouse was used"


def walk_along(thing: Locator, *keys: str) -> None:
    """Press arrow keys in turn until the keys go to a thing of a drawing."""
    for step in range(60):
        if has_focus(thing):
            return
        thing.page.keyboard.press(keys[step % len(keys)])
        thing.page.evaluate("() => new Promise(requestAnimationFrame)")
    raise AssertionError(f"{keys} do not come to {thing}")


def heard(page: Page) -> None:
    """Wait for the player, and see that the jack stays within what is proved of it."""
    scope = page.get_by_test_id("scope-quad-vca.out-1")
    expect(scope).to_contain_text("Seen within what is proved.", timeout=FIRST_SOUND_MS)
    proved, seen = re.findall(r"(?:proved|seen) (\S+) … (\S+) V", scope.inner_text())
    assert volts(proved[0]) <= volts(seen[0]) < 0 < volts(seen[1]) <= volts(proved[1])


def volts(text: str) -> float:
    """Read volts as the page writes them."""
    return float(text.replace("−", "-"))


def plays(page: Page) -> None:
    """See that time goes on, in the sound itself and on the page."""
    page.wait_for_function(f"() => {PLAYED_S} > 0.3")
    expect(page.get_by_test_id("play-time")).not_to_contain_text("0:00.0")
    first = page.evaluate(PLAYED_S)
    page.wait_for_function(f"() => {PLAYED_S} > {first + 0.2}")


def travel(page: Page, key: str, button: str) -> int:
    """Press a key until its button says that there is nothing left, and return how often."""
    thing = page.get_by_role("button", name=button, exact=True)
    page.locator("h1").first.wait_for()
    for steps in range(1, 40):
        before = page.get_by_test_id("saved").get_attribute("data-revision") or ""
        page.keyboard.press(key)
        expect(page.get_by_test_id("saved")).not_to_have_attribute("data-revision", before)
        expect(page.get_by_test_id("saved")).to_have_text("Saved")
        if thing.is_disabled():
            return steps
    raise AssertionError(f"{button} does not come to an end")


def click_on(thing: Locator) -> None:
    """Press the mouse on a thing of a drawing, where it is."""
    thing.page.mouse.click(*here(thing))


def pull(page: Page, source: Locator, target: Locator) -> None:
    """Pull a cable with the mouse from one pin to another."""
    page.mouse.move(*here(source))
    page.mouse.down()
    page.mouse.move(*here(target), steps=15)
    page.mouse.up()
