"""
Take the pictures of README's tour: `python tests/browser/take_tour.py`.

The first notebook is opened in a real JupyterLab in headless Chromium, run, photographed, a lamp dragged, and
photographed again; the page for the set is printed by the package and read back by poppler.
"""

import io
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HOME = Path(__file__).resolve().parents[2]
TOUR = HOME / "data" / "tour"
DRAG_M = (0.6, 1.9)  # where the lamp is dragged to, from where it stands: out of the clerk's face


def keep(png, name):
    """Write a picture as small as it goes without loss; a palette would band the grey of the camera's picture."""
    from PIL import Image

    image = Image.open(io.BytesIO(png)).convert("RGB")
    image.save(TOUR / name, optimize=True)
    print(f"{name}: {image.width} x {image.height}, {(TOUR / name).stat().st_size / 1024:.0f} kB")


def notebook_pictures(page, lab):
    from conftest import centre
    from test_notebook_lab import NOTEBOOK, clear_and_run, index_of, open_notebook

    open_notebook(lab, page, NOTEBOOK)
    lab.show(page, index_of(page, "stage.print_readings()"))
    page.evaluate("() => { window.jupyterapp.commands.execute('notebook:run-all-above'); }")
    stage = lab.show(page, index_of(page, "stage = Stage(")).locator(".lc-stage")
    stage.wait_for(timeout=600_000)
    settle(page, stage)
    keep(stage.screenshot(), "stage.png")
    x, y = centre(stage.locator('.lc-item[data-name="window lamp"]'))
    scale = float(stage.locator(".lc-floor").get_attribute("width")) / float(lab.ask(page, "print(setup.place.width_m)"))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + DRAG_M[0] * scale, y - DRAG_M[1] * scale, steps=12)
    page.mouse.up()
    settle(page, stage)
    keep(stage.screenshot(), "moved.png")
    clear_and_run(page)
    keep(lab.show(page, index_of(page, "figures.beam_against_haze")).locator("img").screenshot(), "curve.png")


def settle(page, stage):
    page.wait_for_function(
        "el => el.dataset.settled === 'true'", arg=stage.element_handle(), timeout=120_000, polling=200
    )
    page.wait_for_timeout(300)  # the picture at rest replaces the draft in the frame after


def printed_page(folder):
    from lightcalc import sheet, shootfile

    shoot = shootfile.load(shootfile.demo_path())
    pdf = sheet.setup_sheet(shoot, shoot.setup("1"), folder / "one.pdf")
    command = ["pdftoppm", "-png", "-r", "100", "-singlefile", str(pdf), str(folder / "one")]
    subprocess.run(command, check=True)
    keep((folder / "one.png").read_bytes(), "sheet.png")


def main():
    sys.path[:0] = [str(HOME), str(Path(__file__).parent)]
    from conftest import CHROMIUM_FLAGS, Lab
    from playwright.sync_api import sync_playwright

    TOUR.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name)
        printed_page(folder)
        browser = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM_FLAGS)
        lab = Lab(folder)
        try:
            page = browser.new_context(viewport={"width": 1366, "height": 1400}).new_page()
            notebook_pictures(page, lab)
        finally:
            lab.close()
            browser.close()


if __name__ == "__main__":
    main()
