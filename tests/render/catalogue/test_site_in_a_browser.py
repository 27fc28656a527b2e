"""The pages in a real browser, from disk: seen, walked by keyboard, and free of axe's findings."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, expect

from scenes.files import samples
from tests.render.catalogue.test_catalogue import HOSTILE, made, private
from tests.waiting import WITHIN

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [360, 1200])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_are_seen_and_walked(
    browser: Browser, tmp_path: Path, width: int, scheme: str
) -> None:
    design = tmp_path / "half-scale.toml"
    design.write_text(samples.text("half-scale"), encoding="utf-8")
    private(tmp_path / "b.toml", HOSTILE)
    made(tmp_path / "site", design, tmp_path / "b.toml", title=HOSTILE)
    context = browser.new_context(
        viewport={"width": width, "height": 800},
        color_scheme=scheme,  # type: ignore[arg-type]
        offline=True,
    )
    context.set_default_timeout(1000 * WITHIN)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("dialog", lambda dialog: said.append(dialog.message))
    page.goto((tmp_path / "site" / "index.html").as_uri())
    expect(page).to_have_title(HOSTILE)
    for _ in range(2):
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        # Pictures of the site's own are admitted by its policy.
        page.wait_for_function(
            "[...document.images].filter(i => i.loading != 'lazy').every(i => i.naturalWidth > 0)"
        )
        if "index" in page.url:
            page.keyboard.press("Tab")
            page.keyboard.press("Enter")
            page.wait_for_url("**/designs/half-scale.html")
            page.wait_for_load_state()
    variant = samples.load("half-scale").variants[0].name
    page.get_by_role("link", name=variant).click()
    page.wait_for_url("**/files/*.html")
    context.close()
    assert said == []
