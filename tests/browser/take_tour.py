"""
Take the pictures of README's tour: `python tests/browser/take_tour.py`; with names (`bounce paper`) only those.

Each notebook is opened in a real JupyterLab in headless Chromium, run, and photographed; in the first a lamp is dragged
between two pictures. Pages of paper are printed by the package and read back by poppler.
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


def bounce_pictures(page, lab):
    """The stage of the bounce and the curve under it, as they stand below each other."""
    from PIL import Image

    from lab_parts import clear_and_run, index_of, open_notebook

    open_notebook(lab, page, HOME / "notebooks" / "02_bounce_fill.ipynb")
    clear_and_run(page)
    stage = lab.show(page, index_of(page, "stage = Stage(")).locator(".lc-stage")
    settle(page, stage)
    shots = [stage.screenshot(), lab.show(page, index_of(page, "Beside(stage")).locator("img").screenshot()]
    above, below = (Image.open(io.BytesIO(shot)).convert("RGB") for shot in shots)
    both = Image.new("RGB", (max(above.width, below.width), above.height + 8 + below.height), "white")
    both.paste(above, (0, 0))
    both.paste(below, (0, above.height + 8))
    out = io.BytesIO()
    both.save(out, format="png")
    keep(out.getvalue(), "bounce.png")


def window_pictures(page, lab):
    from lab_parts import centre, clear_and_run, index_of, open_notebook

    open_notebook(lab, page, HOME / "notebooks" / "01_window_beam.ipynb")
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
    page.wait_for_function("el => el.dataset.settled === 'true'", arg=stage.element_handle(), timeout=120_000, polling=200)
    page.wait_for_timeout(300)  # the picture at rest replaces the draft in the frame after


def printed_pages(folder):
    from lightcalc.paper import setup_sheet
    from lightcalc.paper.exercise_sheet import write_exercises
    from lightcalc.scene import shoot_file

    shoot = shoot_file.load(shoot_file.demo_path())
    pages = {"sheet.png": (setup_sheet.setup_sheet(shoot, shoot.setup("1"), folder / "one.pdf"), 100)}
    pages["exercises.png"] = (write_exercises(folder)[0], 70)
    for name, (pdf, dpi) in pages.items():
        command = ["pdftoppm", "-png", "-r", str(dpi), "-singlefile", str(pdf), str(folder / "page")]
        subprocess.run(command, check=True)
        keep((folder / "page.png").read_bytes(), name)


NOTEBOOK_PICTURES = {"window": window_pictures, "bounce": bounce_pictures}


def beam_picture():
    """What a lens sees of the first setup from a step further into the light: the beam, and the clerk's shadow in it."""
    import numpy as np
    from PIL import Image

    import lightcalc as lc

    setup = lc.load(lc.demo_path()).setup("1")
    setup = setup.with_part("camera", at=(1.2, 2.0, 1.7), aim=(3.6, 5.0, 1.35), focal_mm=26, t_stop=2.8)
    grey = lc.picture(setup, width=1200).rgba()[..., 0]
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(grey)).save(out, format="png")
    keep(out.getvalue(), "beam.png")


def main():
    sys.path[:0] = [str(HOME), str(HOME / "tests" / "parts")]
    from playwright.sync_api import sync_playwright

    from lab_parts import CHROMIUM_FLAGS, Lab

    TOUR.mkdir(parents=True, exist_ok=True)
    asked = sys.argv[1:] or ["beam", *NOTEBOOK_PICTURES, "paper"]
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name)
        if "beam" in asked:
            beam_picture()
        if "paper" in asked:
            printed_pages(folder)
        browser = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM_FLAGS)
        lab = Lab(folder)
        try:
            for name in asked:
                if name in NOTEBOOK_PICTURES:
                    page = browser.new_context(viewport={"width": 1366, "height": 1400}).new_page()
                    NOTEBOOK_PICTURES[name](page, lab)
                    page.context.close()
        finally:
            lab.close()
            browser.close()


if __name__ == "__main__":
    main()
