"""The first notebook as a person opens it: in a real JupyterLab, run from the top, and then something is dragged."""

import hashlib
from pathlib import Path

import pytest

from lightcalc.scene import shoot_file

from lab_parts import RAN, centre, clear_and_run, index_of, open_notebook

NOTEBOOK = Path(__file__).resolve().parents[2] / "notebooks" / "01_window_beam.ipynb"
PIXELS = """async (c) => { const px = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
  return [...new Uint8Array(await crypto.subtle.digest("SHA-256", px))].join(" "); }"""


@pytest.fixture(scope="module")
def page(lab, browser):
    context = browser.new_context(viewport={"width": 1366, "height": 768})
    page = context.new_page()
    page.errors = []
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    open_notebook(lab, page, NOTEBOOK)
    yield page
    context.close()


@pytest.fixture
def stage(lab, page):
    out = lab.show(page, index_of(page, "stage = Stage("))
    out.locator(".lc-stage[data-settled=true]").wait_for(timeout=180_000)
    return out


def test_before_it_is_run_a_still_is_there(lab, page):
    still = lab.show(page, index_of(page, "stage = Stage(")).locator("img")
    assert still.evaluate("img => img.naturalWidth") >= 900


def test_it_runs_without_an_error(page):
    clear_and_run(page)
    assert page.locator(".jp-Notebook [data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert page.locator(".jp-RenderedText[data-mime-type*=error]").count() == 0
    failed = page.evaluate(
        """() => window.jupyterapp.shell.currentWidget.content.widgets.filter(c => c.model.type === 'code'
          && c.model.sharedModel.outputs.some(o => o.output_type === 'error')).map(c => c.model.sharedModel.source)"""
    )
    assert failed == [] and page.errors == []


def test_dragging_the_lamp_changes_picture_and_readings(lab, page, stage):
    canvas, level = stage.locator("canvas").first, stage.locator(".lc-marks tbody tr td").nth(1)
    picture, was, lamp = canvas.evaluate(PIXELS), level.inner_text(), lab.ask(page, "print(stage.setup.part('window lamp').at)")
    x, y = centre(stage.locator('.lc-item[data-name="window lamp"]'))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 20, y + 60, steps=12)
    page.mouse.up()
    stage.locator(".lc-stage[data-settled=true]").wait_for(timeout=180_000)
    assert lab.ask(page, "print(stage.setup.part('window lamp').at)") != lamp
    assert canvas.evaluate(PIXELS) != picture and level.inner_text() != was
    # DERIVED: page and printed readings are the same numbers; the page writes a true minus sign.
    said = lab.ask(page, "print(f'{stage.readings.marks[0].level_stops:+.1f}')").replace("-", "\N{MINUS SIGN}")
    assert level.inner_text() == said


def test_the_text_below_follows_when_its_cell_is_run_again(lab, page, stage):
    index = index_of(page, "stage.print_readings()")
    old = lab.show(page, index).inner_text()
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-cell')")
    page.wait_for_function(RAN, timeout=180_000)
    assert lab.show(page, index).inner_text() not in ("", old)


def test_the_saved_setup_is_in_the_copy_and_not_in_the_demo(lab, page, stage):
    demo = hashlib.sha256(shoot_file.demo_path().read_bytes()).hexdigest()
    stage.get_by_role("button", name="Save").click()
    page.wait_for_function(
        "(el) => el.querySelector('.lc-notice').textContent.includes('Saved')", arg=stage.locator(".lc-stage").element_handle()
    )
    same = lab.ask(page, "import lightcalc as lc; print(lc.load(path).setup('1') == stage.setup)")
    assert same == "True" and hashlib.sha256(shoot_file.demo_path().read_bytes()).hexdigest() == demo
