"""The form for a recce: for each place what the file says, empty without a file, and nothing leaves the page."""

import pytest

from lightcalc import __main__ as command
from lightcalc.paper.page import plain_look
from lightcalc.paper.recce_form import recce_by_place, recce_pages, write_recce
from lightcalc.scene.shoot_file import demo_path, load

import drawn_parts as parts
from drawn_words import clashes, outside
from printed_parts import page_boxes, page_text, tool


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("shoot", [None, parts.shoot(parts.loft(), parts.pans())], ids=["empty", "filled"])
def test_nothing_leaves_the_page(shoot, paper):
    with plain_look():
        pages = recce_pages(shoot, paper=paper)
    assert len(pages) == (2 if shoot is None else 4)
    for page in pages:
        words = page_boxes(page)
        assert outside(words, page.bbox) == [] and clashes(words) == []


@pytest.mark.slow
def test_what_the_file_says_is_filled_in(tmp_path):
    demo = load(demo_path())
    assert list(recce_by_place(demo)) == ["loft", "pans", "meadow", "dyke", "loft, curtained", "counting-room"]
    text = page_text(write_recce(tmp_path / "r.pdf", demo))
    for said in ("6.4 m", "barred", "stair", "0.8 an hour", "Never test or cover a detector", "Horizon"):
        assert said in text
    again = write_recce(tmp_path / "again.pdf", demo).read_bytes()
    assert again == (tmp_path / "r.pdf").read_bytes()


def test_the_verb(tmp_path, capsys):
    assert command.main(["recce", "-o", str(tmp_path / "empty.pdf"), "--paper", "letter"]) == 0
    assert "612 x 792" in tool("pdfinfo", tmp_path / "empty.pdf").decode()
    assert command.main(["recce", "-o", str(tmp_path / "empty.txt")]) == 2
    assert "-o must end in .pdf" in capsys.readouterr().err
