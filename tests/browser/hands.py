"""What two hands do: a mouse that is moved, pressed and dragged, keys that are pressed; and what an editor does."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Locator, Page

LONGEST_WALK = 400
"""So many presses of a key are enough to come anywhere on a page."""
COUNT_POINTERS = """
window.pointers = 0;
for (const sort of ["pointerdown", "pointermove", "wheel"])
  addEventListener(sort, (event) => { if (event.isTrusted) window.pointers += 1; }, true);
"""


def middle(thing: Locator) -> tuple[float, float]:
    """Return where the middle of a thing is, after it has been scrolled into sight. [CSS px]"""
    thing.scroll_into_view_if_needed()
    return here(thing)


def here(thing: Locator) -> tuple[float, float]:
    """Return where the middle of a thing is that is in sight. [CSS px]"""
    box = thing.bounding_box()
    assert box, f"{thing} is not to be seen"
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def click(thing: Locator) -> None:
    """Go to a thing with the mouse, press and let go."""
    thing.wait_for()
    thing.page.mouse.move(*middle(thing))
    thing.click()


def drag(page: Page, source: Locator, to_x: float, to_y: float, *, steps: int = 12) -> None:
    """Take a thing with the mouse, and let it go at a place. [CSS px]"""
    page.mouse.move(*middle(source))
    page.mouse.down()
    page.mouse.move(to_x, to_y, steps=steps)
    page.mouse.up()


def has_focus(thing: Locator) -> bool:
    """Whether the keys go to a thing."""
    return thing.count() == 1 and bool(thing.evaluate("e => e === document.activeElement"))


def walk_to(thing: Locator, *, key: str = "Tab") -> None:
    """Press a key until the keys go to a thing; it then has to show that."""
    thing.wait_for()
    for _ in range(LONGEST_WALK):
        if has_focus(thing):
            break
        thing.page.keyboard.press(key)
    assert has_focus(thing), f"{key} does not come to {thing}"
    assert thing.evaluate(SHOWS_FOCUS), f"{thing} has the focus and does not show it"


SHOWS_FOCUS = """(thing) => {
  const probe = document.createElement("i");
  thing.ownerDocument.body.append(probe);
  probe.style.color = "var(--focus)";
  const colour = getComputedStyle(probe).color;
  probe.remove();
  return [thing, thing.parentElement, ...thing.querySelectorAll("*")].some((one) => {
    const look = getComputedStyle(one);
    return look.outlineStyle !== "none" && parseFloat(look.outlineWidth) >= 2 && look.outlineColor === colour
      || look.stroke === colour && parseFloat(look.strokeWidth) >= 2;
  });
}"""
"""A line in the colour of the focus: at the thing, in it, or at the box around it. Source: WCAG 2.2, 2.4.7."""


def press(thing: Locator, key: str = "Enter") -> None:
    """Come to a thing by Tab and press a key."""
    walk_to(thing)
    thing.page.keyboard.press(key)


def type_into(field: Locator, text: str) -> None:
    """Come to a field by Tab, and type over what is in it."""
    walk_to(field)
    field.page.keyboard.press("Control+a")
    field.page.keyboard.type(text)


def pick(page: Page, name: str) -> None:
    """Type a name into the field that has the keys, and take it from the list that opens."""
    page.keyboard.type(name)
    page.get_by_role("option", selected=True).filter(has_text=name).wait_for()
    page.keyboard.press("Enter")


def save_as_an_editor(path: Path, text: str) -> None:
    """Write a file beside it and put it in its place, as most editors save."""
    beside = path.with_name(f".{path.name}.swp")
    beside.write_bytes(text.encode())
    beside.replace(path)


def files_in(folder: Path) -> dict[str, bytes]:
    """Return all texts of a project."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*.toml"))}
