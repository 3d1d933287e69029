"""What stands beside the diagram: whatever is chosen tells its readings and is edited in place; a trace is followed."""

import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.driving import DESK, TABLET, App, Faults, accessibility_faults, enter, go


class Beside:
    """The inspector and the trace of a page, and the patch as it stands on the disk."""

    def __init__(self, page: Page, folder: Path) -> None:
        self.page = page
        self.folder = folder
        go(page, "Wiring")
        self.inspector = page.get_by_test_id("inspector")
        self.trace = page.get_by_test_id("trace")
        expect(page.get_by_test_id("block-echo")).to_be_visible()

    def choose(self, name: str) -> Locator:
        """Find something by typing, and return the inspector that shows it."""
        find = self.page.get_by_test_id("diagram-find")
        find.fill(name)
        find.press("Enter")
        expect(self.inspector.get_by_role("heading", level=2)).to_have_text(name)
        return self.inspector

    def expect_in_patch(self, pattern: str) -> None:
        """Wait until the patch on the disk says something, a regular expression."""
        for _ in range(100):
            text = (self.folder / "lowtide.patch.toml").read_text("utf-8")
            if re.search(pattern, text):
                return
            self.page.wait_for_timeout(50)
        raise AssertionError(f"the patch never says {pattern}")


@pytest.fixture
def beside(page: Page, project_folder: Path) -> Beside:
    """The inspector beside the diagram, at the size of a laptop."""
    return Beside(page, project_folder)


def follow_a_fader(beside: Beside) -> None:
    """Hold a fader elsewhere: its message is its place in 128 steps, 57 at 0.45 and 127 at the top.

    Source: MIDI 1.0 Detailed Specification, data bytes of seven bits.
    """
    inspector = beside.choose("faders")
    inspector.get_by_role("button", name="Look at faders.f8", exact=True).click()
    inspector.get_by_role("button", name="Trace from here").click()
    expect(beside.trace.get_by_role("status")).to_contain_text("CC 37 = 57")
    slider = beside.trace.get_by_role("slider")
    slider.focus()
    slider.press("End")
    expect(beside.trace.get_by_role("status")).to_contain_text("CC 37 = 127")
    expect(beside.trace).not_to_contain_text("−3.2 dB")
    beside.trace.get_by_role("button", name="echo.left", exact=True).first.click()
    expect(inspector.get_by_role("heading", level=2)).to_have_text("echo.left")
    beside.trace.get_by_role("button", name="Clear").click()
    expect(beside.trace.get_by_role("table")).to_have_count(0)


def test_a_jack_tells_what_the_readings_say_and_a_trace_follows_the_hand(
    beside: Beside, app: App
) -> None:
    """Against the server's own answer for the same contact."""
    read = beside.page.request.get(f"{app.address}api/readings").json()["jacks"]["rhythm.trig-3"]
    assert read["pulse"]["per_quarter"] == "5/8"
    inspector = beside.choose("rhythm.trig-3")
    expect(inspector).to_contain_text("Ticks per quarter note")
    expect(inspector).to_contain_text("5/8")
    expect(inspector).to_contain_text(f"{read['volts'][1]:.2f} V")
    expect(inspector).to_contain_text("85 %")
    bar = inspector.get_by_role("img", name=re.compile("^Proved 0 … 4.95 V"))
    expect(bar).to_be_visible()
    inspector.get_by_role("button", name="sampler.trig-5", exact=True).click()
    expect(inspector.get_by_role("heading", level=2)).to_have_text("sampler.trig-5")
    follow_a_fader(beside)


def test_rhythms_notes_and_controls_are_touched_and_a_burst_is_one_step_to_undo(
    beside: Beside,
) -> None:
    inspector = beside.choose("rhythm")
    slot = inspector.get_by_role("region", name="Rhythm rhythm.rhythm-2")
    slot.get_by_role("button", name="Step 1: rest").click()
    slot.get_by_role("button", name="Step 3: rest").click(modifiers=["Shift"])
    slot.get_by_role("button", name="Step 5: rest").focus()
    beside.page.keyboard.type("xX")
    beside.expect_in_patch(r'"rhythm\.rhythm-2" = \{ steps = "x\.x\.xX\.\.x\.{7}"')
    beside.page.get_by_role("button", name="Undo").click()
    beside.expect_in_patch(r'"rhythm\.rhythm-2" = \{ steps = "\.{8}x\.{7}"')
    expect(slot.get_by_role("button", name="Step 1: rest")).to_be_visible()
    slot.get_by_label("How rhythm.rhythm-2 is written").select_option("even")
    slot.get_by_label("Hits").fill("3")
    slot.get_by_label("Hits").press("Enter")
    beside.expect_in_patch(r'"rhythm\.rhythm-2" = \{ steps = "",.* euclid = \[3, 16, 0\]')

    # Notes and controls go by the arrow keys, and back to the sheet.
    inspector = beside.choose("notes")
    note = inspector.get_by_label("Note 2", exact=True)
    note.press("ArrowUp")
    note.press("Shift+ArrowUp")
    beside.expect_in_patch(r'"notes\.notes" = \{ notes = \["D2", "D#3", "A1"')
    glide = inspector.locator('[data-control="notes.glide"]')
    glide.fill("120 ms")
    glide.press("Enter")
    beside.expect_in_patch(r'"notes\.glide" = "120 ms"')
    inspector.get_by_role("button", name=re.compile("^Put notes.glide back")).click()
    beside.expect_in_patch(r'(?s)\A(?!.*"notes\.glide")')


def test_a_bank_takes_files_and_says_which_it_cannot(
    beside: Beside, faults: Faults, tmp_path: Path
) -> None:
    faults.allow("422")
    good, bad = tmp_path / "low thud.flac", tmp_path / "torn.wav"
    shutil.copy(beside.folder / "samples" / "thud.flac", good)
    bad.write_bytes(b"RIFF")
    bank = beside.choose("sampler").get_by_role("region", name="Samples sampler.bank-1")
    bank.locator("input[type=file]").set_input_files([bad, good])
    beside.expect_in_patch(
        r'"sampler\.bank-1" = \["samples/thud\.flac", "samples/low thud\.flac"\]'
    )
    expect(bank.get_by_role("alert")).to_contain_text("torn.wav")
    bank.get_by_role("button", name="Move low thud.flac up").click()
    beside.expect_in_patch(
        r'"sampler\.bank-1" = \["samples/low thud\.flac", "samples/thud\.flac"\]'
    )


def test_a_cable_is_changed_moved_and_pulled_and_a_control_mapped(beside: Beside) -> None:
    inspector = beside.choose("sends.mix")
    inspector.get_by_role("button", name=re.compile(": the cable to echo.left$")).click()
    for label, text in (("Length", "45"), ("Colour", "teal")):
        inspector.get_by_label(label).fill(text)
        inspector.get_by_label(label).press("Enter")
    beside.expect_in_patch(r'from = "sends\.mix", to = "echo\.left".*colour = "teal".*cm = 45')
    inspector.get_by_label("Lead").select_option("stereo-3.5")
    beside.expect_in_patch(r'from = "sends\.mix", to = "echo\.left".*lead = "stereo-3\.5"')
    for label in ("Length", "Colour"):
        inspector.get_by_label(label).fill("")
        inspector.get_by_label(label).press("Enter")
    inspector.get_by_label("Lead").select_option("as the jacks need")
    beside.expect_in_patch(r'from = "sends\.mix", to = "echo\.left" }')
    expect(inspector.get_by_label("Length")).to_have_value("")
    inspector.get_by_role("button", name="Move the plug at sends.mix").click()
    ends = inspector.get_by_role("combobox", name="Out of sends.mix, into")
    ends.fill("sends.out-1")
    expect(inspector.get_by_role("option", name="sends.out-1")).to_be_visible()
    ends.press("Enter")
    beside.expect_in_patch(r'from = "sends\.out-1", to = "echo\.left"')
    inspector.get_by_role("button", name="Unplug", exact=True).click()
    beside.expect_in_patch(r'(?s)\A(?!.*to = "echo\.left")')

    inspector = beside.choose("faders")
    inspector.get_by_role("button", name="Add …").click()
    for label, text in (("Control", "faders.k8"), ("Heard by", "bridge.cc-12")):
        field = inspector.get_by_role("combobox", name=label, exact=True)
        field.fill(text)
        field.press("Enter")
    inspector.get_by_role("button", name="Add", exact=True).click()
    free = r"28"  # 20 to 27 are taken in the demo
    beside.expect_in_patch(
        rf'control = "faders\.k8"\ncc = {free}\n(channel = 1\n)?to = "bridge\.cc-12"'
    )
    inspector.get_by_label("CC of faders.f1").fill("200")
    inspector.get_by_label("CC of faders.f1").press("Enter")
    expect(inspector.get_by_role("alert")).to_have_text("a whole number from 0 to 127")
    inspector.get_by_label("CC of faders.f1").fill("77")
    inspector.get_by_label("CC of faders.f1").press("Enter")
    beside.expect_in_patch(r'control = "faders\.f1"\ncc = 77')


@pytest.mark.parametrize(
    ("size", "sheet"), [(TABLET, "light"), (DESK, "dark")], ids=["tablet-light", "desk-dark"]
)
def test_everything_chosen_can_be_read_by_everybody(
    app: App, open_page: OpenPage, project_folder: Path, size: tuple[int, int], sheet: str
) -> None:
    page = open_page(size=size, sheet=sheet)
    enter(page, app)
    beside = Beside(page, project_folder)
    for name in ("rhythm", "notes", "sampler", "echo.left"):
        beside.choose(name)
        assert accessibility_faults(page, within=".both") == []
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
