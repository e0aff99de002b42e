"""The notebooks without their code, as the crew sees them: served by voila, cut off from the network, and dragged on."""

import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

import pytest

from lab_parts import centre, missing

HOME = Path(__file__).resolve().parents[2]
NOTEBOOK = HOME / "notebooks" / "02_bounce_fill.ipynb"


class Crew:
    """A voila server for one notebook, in a folder of its own."""

    def __init__(self, folder, notebook):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        shutil.copy(notebook, folder / notebook.name)
        names = ["JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "HOME"]
        own = {name: str(folder / name.lower()) for name in names}
        own["XDG_CACHE_HOME"] = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")  # compiled kernels
        self.log = open(folder / "voila.log", "w")
        command = [sys.executable, "-m", "voila", str(folder / notebook.name), "--no-browser", "--Voila.ip=127.0.0.1",
                   f"--port={self.port}", "--port_retries=0"]  # fmt: skip
        self.process = subprocess.Popen(
            command, env=os.environ | own | {"PYTHONPATH": str(HOME)}, stdout=self.log, stderr=subprocess.STDOUT
        )
        self.url = f"http://127.0.0.1:{self.port}/"
        self._wait(folder)

    def _wait(self, folder):
        for _ in range(300):
            try:
                urllib.request.urlopen(f"{self.url}voila/static/", timeout=2)
            except urllib.error.HTTPError:
                return  # it answers
            except OSError:
                if self.process.poll() is not None:
                    break
                time.sleep(0.1)
        raise RuntimeError((folder / "voila.log").read_text()[-2000:])

    def close(self):
        self.process.terminate()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.log.close()


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
    assert "How big, how near, of what, is the board" in body and "key + fill : fill 1.5 : 1" in body


def test_the_stages_and_the_curve_are_there(page):
    assert page.locator(".lc-stage").count() == 3
    curve = page.locator("img.widget-image, .widget-image img, img.jupyter-widgets").first
    assert curve.evaluate("img => img.naturalWidth") > 600


def test_a_drag_changes_a_reading_and_the_curve(page):
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
    page.wait_for_function("([el, was]) => el.innerText !== was", arg=[level.element_handle(), was], timeout=30_000)
    page.wait_for_function("([el, was]) => el.getAttribute('src') !== was", arg=[curve.element_handle(), drawn], timeout=30_000)


def test_it_needs_nothing_from_elsewhere(page):
    # Everything but the server itself was refused, and the page works: what it asked for was an icon font.
    assert all(re.search(r"\.(css|woff2?)\b", url) for url in page.refused), page.refused
    assert page.errors == []
