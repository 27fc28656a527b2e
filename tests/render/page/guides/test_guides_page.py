"""Guides on their card in a real browser: a scheme is chosen, and the list edited."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.render.page.conftest import Seen, Start, at_cards
from tests.scenes.stage.test_guide_schemes import BASE, RODS

pytestmark = pytest.mark.browser

SECOND = '\n[[blank.guide_schemes]]\nname = "plain"\nthread = "Sloe Black A"\n'


def guides(page: Page, file: Path) -> list[dict[str, Any]]:
    """Save, and read the guides in the file."""
    page.keyboard.press("Control+s")
    expect(page.locator(".document .dot")).to_have_count(0)
    fitted = tomllib.loads(file.read_text("utf-8"))["blank"]["fitted"]
    return [one for one in fitted if one["kind"] == "guide"]


def chosen(page: Page, path: str, value: str) -> Locator:
    """The button of an entry of a short choice."""
    return page.locator(f'[data-path="{path}"] input[value="{value}"]')


def test_guides_are_bound_by_a_choice_and_placed_by_a_list(
    tab: Seen, start: Start, design_file: Path
) -> None:
    design_file.write_text(BASE + RODS + SECOND, "utf-8")
    page = tab.page
    at_cards(page, start(design_file).address)
    blank = page.locator('[data-card="blank"]')
    blank.locator("summary").first.click()
    more = blank.locator("details.more > summary")
    if more.count():
        more.click()
    scheme = "blank.fitted.2.scheme"
    expect(chosen(page, scheme, "running")).to_be_checked()
    page.locator(f'[data-path="{scheme}"] label', has_text="plain").click()
    expect(chosen(page, scheme, "plain")).to_be_checked()
    # Without a scheme it needs a thread of its own: the choice stays, and the page says so.
    page.locator(f'[data-path="{scheme}"] label', has_text="none").click()
    expect(page.locator(f'[data-path="{scheme}"] .problem')).to_contain_text("Thread is missing")
    expect(chosen(page, scheme, "plain")).to_be_checked()

    listed = page.get_by_role("button", name="Guides as a list…")
    listed.focus()
    page.keyboard.press("Enter")
    text = page.get_by_label("Guides, from butt to tip")
    expect(text).to_be_focused()
    expect(text).to_have_value("place\tfoot\tring, mm\n430\t40\n490\t20\n540\t20\t10")
    put = page.get_by_role("button", name="Put the guides so")
    text.fill("430\t40\n490\t260")
    put.click()
    problem = page.locator(".guide-list .problem")
    expect(problem).to_contain_text("Guide 2 from the butt: 260 mm is not between 2 and 150 mm")
    text.fill("430\t40\t16\n500\t20\t12")
    put.click()
    expect(text).to_have_count(0)
    expect(listed).to_be_focused()
    expect(page.locator('[data-path="blank.fitted.3"]')).to_have_count(0)
    found = [
        (one["at"], one["length"], one["ring"], one["scheme"]) for one in guides(page, design_file)
    ]
    assert found == [(430, 40, 16, "running"), (500, 20, 12, "plain")]
