"""A photograph in a real browser: it grows in place of the picture, and gives way to all else."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from tests.render.page.conftest import Seen, Start

pytestmark = pytest.mark.browser

TINY = {"viewport": {"width": 480, "height": 420}}
"""Of a window with a small picture."""


def paths(page: Page, count: int) -> None:
    """Choose the paths through each pixel of the next photograph."""
    page.evaluate("(count) => localStorage.setItem('turnlight-photo-paths', count)", count)
    page.reload()
    page.wait_for_function("() => window.turnlight?.shown")


def take(page: Page) -> None:
    page.locator('[data-test="picture"]').press("p")
    expect(page.locator('[data-test="photo-state"]')).to_be_visible()


def shown(page: Page, condition: str) -> None:
    """Wait until a photograph is shown that fulfils a condition; fail if it gives way."""
    page.wait_for_function(
        f"""() => {{
            const photo = window.turnlight.photo();
            if (!photo.on) throw new Error("The photograph has given way.");
            return photo.shown && ({condition});
        }}"""
    )


@pytest.mark.parametrize("tab", [TINY], indirect=True)
def test_a_photograph_grows_in_place_is_saved_and_gives_way(
    tab: Seen, start: Start, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    # It needs no trial, which would take longer than the few paths here.
    monkeypatch.setenv("TURNLIGHT_PHOTO_ENGINE", "scalar")
    tab.open(start("sample:two-start-band"))
    page = tab.page
    paths(page, 8)
    tab.picture("shown.grade !== 'preview'")
    live = page.locator(".picture").screenshot()
    # In a row as narrow as this one the button is in the menu.
    page.locator('[data-test="more"]').click()
    page.locator('[data-test="photograph"]').click()
    page.keyboard.press("Escape")
    shown(page, "!photo.working")
    state = page.locator('[data-test="photo-state"]')
    expect(state).to_contain_text("8 of 8 paths")
    photo = page.locator('[data-test="photo"]')
    with page.expect_download() as download:
        page.locator('[data-test="photo-save"]').click()
    assert download.value.suggested_filename.endswith("-photograph.png")
    download.value.save_as(tmp_path / "saved.png")
    with Image.open(tmp_path / "saved.png") as saved:
        assert "path-traced, 8 samples a pixel" in str(saved.info)
        assert saved.info["Title"] != "-"
        taken = saved.convert("RGB")
    # The same picture, in the same place: the rod's outline of one is that of the other. Below it
    # stands what the page says of the picture.
    seen = Image.open(io.BytesIO(live)).convert("RGB").resize(taken.size)
    upper = slice(0, 2 * taken.height // 3)
    rows = [np.asarray(image, float)[upper].mean(axis=(1, 2)) for image in (seen, taken)]
    assert np.corrcoef(rows)[0, 1] > 0.95
    # A turn: the live picture is back at once.
    page.locator('[data-test="picture"]').press("ArrowRight")
    expect(photo).to_be_hidden()
    expect(state).to_have_count(0)
    # The same sample anew looks the same: the photograph is right still. Another design does not.
    take(page)
    shown(page, "!photo.working")
    new = "async (sample) => { await window.trame.trigger('file_new', [sample, true]); }"
    page.evaluate(new, "two-start-band")
    shown(page, "true")
    page.evaluate(new, "graded-trim")
    expect(photo).to_be_hidden()
    expect(state).to_have_count(0)
    # Ended with the paths that it has.
    paths(page, 1000)
    take(page)
    shown(page, "photo.working")
    page.locator('[data-test="photo-stop"]').click()
    shown(page, "!photo.working")
    expect(state).to_contain_text("of 1000 paths")
    expect(page.locator('[data-test="photo-save"]')).to_be_visible()
    page.locator('[data-test="photo-end"]').click()
    expect(photo).to_be_hidden()
