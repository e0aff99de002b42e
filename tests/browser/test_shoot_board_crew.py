"""The board of the whole shoot as the crew sees it: served by voila without code, a stage opened, the order checked, paper written."""

import re
import tempfile
from pathlib import Path

import pytest

from crew_parts import HOME, Crew
from lab_parts import missing

NOTEBOOK = HOME / "notebooks" / "08_shoot_plan.ipynb"


@pytest.fixture(scope="module")
def page(browser):
    try:
        import voila  # noqa: F401
    except ModuleNotFoundError:
        missing("voila is not installed")
    context = browser.new_context(viewport={"width": 1200, "height": 900})
    page, errors = context.new_page(), []
    page.on("pageerror", lambda error: errors.append(str(error)))
    with tempfile.TemporaryDirectory(prefix="crew", ignore_cleanup_errors=True) as name:
        crew = Crew(Path(name), NOTEBOOK)
        try:
            page.goto(crew.url, timeout=240_000, wait_until="commit")
            page.locator(".lc-board").first.wait_for(timeout=240_000)
            yield page
            assert errors == []
        finally:
            crew.close()
            context.close()


def test_a_stage_opens_under_the_table(page):
    assert page.locator(".lc-board table tr").count() == 9 and page.locator(".lc-board .missed").count() == 0
    page.get_by_label("setup", exact=True).select_option(label="8  Two books, one lantern")
    page.get_by_role("button", name="Open its stage").click()
    page.locator(".lc-stage[data-settled=true]").wait_for(timeout=180_000)
    assert page.locator(".lc-board tr.here").inner_text().startswith("8") and page.locator(".lc-stage").count() == 1


def test_the_order_is_checked_and_what_is_written_is_said(page):
    page.get_by_role("button", name="Check the order").click()
    page.get_by_text("best of all orders").first.wait_for(timeout=180_000)
    page.get_by_role("tab", name="Carry").click()
    assert page.get_by_text("1 x 1.2 kW daylight spot").first.is_visible()
    page.get_by_role("tab", name="Paper").click()
    page.get_by_role("button", name="Write the recce forms").click()
    said = page.get_by_text(re.compile(r"Written: .*salt_ledger_recce\.pdf"))
    said.wait_for(timeout=180_000)
    assert Path(said.inner_text().split("Written: ")[1].split("\n")[0]).exists()
