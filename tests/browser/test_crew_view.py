"""The notebooks without their code, as the crew sees them: served by voila, cut off from the network, and dragged on."""

import re
import tempfile
from pathlib import Path

import pytest

from crew_parts import Crew
from lab_parts import centre, missing

HOME = Path(__file__).resolve().parents[2]
NOTEBOOK = HOME / "notebooks" / "02_bounce_fill.ipynb"


@pytest.fixture(scope="module")
def page(browser):
    try:
        import voila  # noqa: F401
    except ModuleNotFoundError:
        missing("voila is not installed")
    context = browser.new_context(viewport={"width": 1366, "height": 900})
    page = context.new_page()
    page.errors, page.refused = [], []
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    with tempfile.TemporaryDirectory(prefix="crew", ignore_cleanup_errors=True) as name:
        crew = Crew(Path(name), NOTEBOOK)

        def gate(route):
            if route.request.url.startswith((crew.url, "data:", "blob:")):
                return route.continue_()
            page.refused.append(route.request.url)
            return route.abort()

        page.route("**/*", gate)
        try:
            page.goto(crew.url, timeout=240_000, wait_until="commit")
            page.locator(".lc-stage[data-settled=true]").first.wait_for(timeout=240_000)
            yield page
        finally:
            crew.close()
            context.close()


def test_readme_says_how():
    readme = (HOME / "README.md").read_text(encoding="utf-8")
    (line,) = re.findall(r"^\.venv/bin/voila notebooks/(\S+)$", readme, re.M)
    assert (HOME / "notebooks" / line).exists()


def test_no_code_is_on_the_page(page):
    # DERIVED: words that stand in the notebook's code and nowhere else; the prose and the printed readings are there.
    body = page.locator("body").inner_text()
    assert "import numpy" not in body and "NBVAL_CHECK_OUTPUT" not in body and "stage = Stage(" not in body
    assert page.locator(".jp-InputArea-editor:visible, .jp-CodeMirrorEditor:visible, .highlight:visible").count() == 0
    assert "How big, how near, of what, is the board" in body and "key + fill : fill 1.7 : 1" in body


def test_the_stages_and_the_curve_are_there(page):
    assert page.locator(".lc-stage").count() == 3
    curve = page.locator("img.widget-image, .widget-image img, img.jupyter-widgets").first
    assert curve.evaluate("img => img.naturalWidth") > 600


def test_a_drag_changes_a_reading_and_the_curve(page):
    from playwright.sync_api import expect  # the page is there, so this is

    stage = page.locator(".lc-stage").first
    stage.scroll_into_view_if_needed()
    level = stage.locator(".lc-marks tbody tr td").nth(1)
    curve = page.locator("img.widget-image, .widget-image img, img.jupyter-widgets").first
    was, drawn = level.inner_text(), curve.get_attribute("src")
    x, y = centre(stage.locator('.lc-item[data-name="sun board"]').first)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 30, y + 25, steps=10)
    page.mouse.up()
    expect(level).not_to_have_text(was, timeout=30_000)  # asked anew each time: the row may have been made again meanwhile
    expect(curve).not_to_have_attribute("src", drawn, timeout=30_000)


def test_it_needs_nothing_from_elsewhere(page):
    # Everything but the server itself was refused, and the page works: what it asked for was an icon font.
    assert all(re.search(r"\.(css|woff2?)\b", url) for url in page.refused), page.refused
    assert page.errors == []
