"""Saved notebooks as a page of HTML, for a reader without Python: pictures and readings are in it, code runs nowhere."""

import base64
import html
import re

import nbformat
import pytest

from exported_parts import NOTEBOOKS, exported


@pytest.mark.slow
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_pictures_and_readings_are_in_the_page(path):
    page = exported(path)
    shown = set(re.findall(r'<img[^>]*src="data:image/png;base64,([^"]+)"', page.replace("\n", "")))
    text = html.unescape(re.sub(r"<[^>]+>", "", page))
    for cell in nbformat.read(path, 4).cells:
        for output in cell.get("outputs", []):
            if "image/png" in output.get("data", {}):  # the stage's still, or a curve
                assert output.data["image/png"].replace("\n", "") in shown, cell.id
                assert base64.b64decode(output.data["image/png"]).startswith(b"\x89PNG")
            elif output.output_type == "stream":
                for line in output.text.splitlines():
                    assert line in text, f"{cell.id}: {line}"
    assert not re.search(r'<script[^>]+src="http', page)
