"""The notebooks of the camera as a person opens them: 05 and 07 run from the top in a real JupyterLab, at two sizes."""

from pathlib import Path

import pytest

from lab_parts import clear_and_run, index_of, open_notebook

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
WIDTHS = """() => { const n = document.querySelector('.jp-WindowedPanel-outer') || document.querySelector('.jp-Notebook');
  return [n.scrollWidth, n.clientWidth]; }"""
FAILED = """() => window.jupyterapp.shell.currentWidget.content.widgets.filter(c => c.model.type === 'code'
  && c.model.sharedModel.outputs.some(o => o.output_type === 'error' || o.name === 'stderr')).map(c => c.model.sharedModel.source)"""


@pytest.fixture(scope="module", params=["05_exposure_motion", "07_night"])
def page(request, lab, browser):
    context = browser.new_context(viewport={"width": 1366, "height": 768})
    page = context.new_page()
    page.errors = []
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    open_notebook(lab, page, NOTEBOOKS / f"{request.param}.ipynb")
    clear_and_run(page)
    yield page
    context.close()


def test_it_runs_without_an_error(page):
    assert page.evaluate(FAILED) == [] and page.errors == []


@pytest.mark.parametrize("size", [(1366, 768), (1920, 1080)], ids=str)
def test_no_sideways_scrolling(page, size):
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.wait_for_timeout(300)
    whole, seen = page.evaluate(WIDTHS)
    assert whole == seen


def test_page_and_package_agree_to_the_last_digit(lab, page):
    # DERIVED: page and printed readings are the same numbers; the page writes a true minus sign.
    out = lab.show(page, index_of(page, "stage = Stage("))
    out.locator(".lc-stage[data-settled=true]").wait_for(timeout=180_000)
    said = lab.ask(page, "print(f'{stage.readings.marks[0].level_stops:+.1f}')").replace("-", "\N{MINUS SIGN}")
    assert out.locator(".lc-marks tbody tr td").nth(1).inner_text() == said


def test_what_was_drawn_is_there(lab, page):
    drawn = lab.show(page, index_of(page, "plt.show()")).locator("img")
    assert drawn.evaluate("img => img.naturalWidth") > 600


def test_a_stop_of_iso_moves_the_level_by_one(lab, page):
    # DERIVED: the light stays, the level goes up one stop; the page follows the program.
    out = lab.show(page, index_of(page, "stage = Stage("))
    before = float(lab.ask(page, "print(stage.readings.marks[0].level_stops)"))
    lab.ask(page, "stage.setup = stage.setup.with_part('camera', iso=2 * stage.setup.camera.iso)")
    after = float(lab.ask(page, "print(stage.readings.marks[0].level_stops)"))
    assert after - before == pytest.approx(1.0, abs=1e-6)
    shown = f"{after:+.1f}".replace("-", "\N{MINUS SIGN}")
    page.wait_for_function("([cell, text]) => cell.innerText === text",
                           arg=[out.locator(".lc-marks tbody tr td").nth(1).element_handle(), shown], timeout=30_000)  # fmt: skip
