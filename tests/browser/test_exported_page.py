"""An exported notebook in a browser without a network: nothing is cut off, and it prints to PDF with its readings."""

import re
import shutil
import subprocess

import pytest

from exported_parts import NOTEBOOKS, exported
from lab_parts import missing

CUT_OFF = """() => [...document.querySelectorAll('img, pre')].filter(e => e.getBoundingClientRect().right > innerWidth + 1
  || (e.tagName === 'PRE' && e.scrollWidth > e.clientWidth + 1 && e.closest('.jp-OutputArea'))).length"""


@pytest.mark.parametrize("path", NOTEBOOKS[:3], ids=lambda path: path.stem)
def test_it_reads_and_prints_without_a_network(path, browser, tmp_path):
    file = tmp_path / "page.html"
    file.write_text(exported(path), encoding="utf-8")
    context = browser.new_context(viewport={"width": 1180, "height": 820}, offline=True)
    page = context.new_page()
    page.goto(file.as_uri())
    widths = page.locator("img").evaluate_all("all => all.map(img => img.naturalWidth)")
    assert widths and min(widths) > 500 and page.evaluate(CUT_OFF) == 0
    page.pdf(path=str(tmp_path / "page.pdf"), format="A4", print_background=True)
    context.close()
    if shutil.which("pdftotext") is None:
        missing("poppler-utils is not installed")
    text = subprocess.run(
        ["pdftotext", "-layout", str(tmp_path / "page.pdf"), "-"], capture_output=True, text=True, check=True
    ).stdout
    assert re.search(r"(key \+ fill : fill|lit : far cheek) \d", text) and "leaves out" in text
    listed = subprocess.run(["pdfimages", "-list", str(tmp_path / "page.pdf")], capture_output=True, text=True, check=True).stdout
    assert len(listed.splitlines()) - 2 >= len(widths)
