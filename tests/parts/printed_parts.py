"""Printed pages, read back."""

import html
import re
import shutil
import subprocess

import pytest

from lightcalc.paper.page import plain_look

from drawn_words import boxes


def page_boxes(figure):
    """Words and their boxes, type unhinted as in the PDF."""
    with plain_look():
        return boxes(figure)


def tool(name, *arguments):
    """What a poppler tool says; skips where it is not installed."""
    if shutil.which(name) is None:
        pytest.skip(f"{name} (poppler-utils) is not installed")
    return subprocess.run([name, *map(str, arguments)], capture_output=True, check=True, timeout=60).stdout


def page_text(path):
    return " ".join(tool("pdftotext", "-layout", path, "-").decode().split())


def printed_lines(path):
    """Every line of a PDF's pages from the top, as words from the left: [(page, [(x, word), ...]), ...]."""
    found = []
    for number, page in enumerate(tool("pdftotext", "-bbox", path, "-").decode().split("<page ")[1:]):
        words = re.findall(r'<word xMin="([\d.]+)" yMin="([\d.]+)"[^>]*>([^<]*)</word>', page)
        rows = {}
        for x, y, word in words:
            key = next((k for k in rows if abs(k - float(y)) < 1.5), float(y))
            rows.setdefault(key, []).append((float(x), html.unescape(word)))
        found += [(number, sorted(rows[key])) for key in sorted(rows)]
    return found
