"""Printed pages, read back."""

import shutil
import subprocess

import pytest

from lightcalc.paper import setup_sheet

from drawn_words import boxes


def page_boxes(figure):
    """Words and their boxes, type unhinted as in the PDF."""
    with setup_sheet._plain_look():
        return boxes(figure)


def tool(name, *arguments):
    """What a poppler tool says; skips where it is not installed."""
    if shutil.which(name) is None:
        pytest.skip(f"{name} (poppler-utils) is not installed")
    return subprocess.run([name, *map(str, arguments)], capture_output=True, check=True, timeout=60).stdout


def page_text(path):
    return " ".join(tool("pdftotext", "-layout", path, "-").decode().split())
