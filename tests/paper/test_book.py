"""The bound book: contents whose numbers hold, the same bytes twice, progress told."""

import re
from dataclasses import replace

import pytest

from lightcalc.paper import book
from lightcalc.paper.page import A4, plain_look
from lightcalc.scene import shoot_file, shoot_read

import drawn_parts as parts
from drawn_words import clashes, outside
from printed_parts import page_boxes, tool


def small():
    """Two setups over two days, without haze: quick to work out."""
    shoot = shoot_read.loads(shoot_file.new_text("Low Tide"))
    setup = replace(shoot.setups[0], haze=replace(shoot.setups[0].haze, extinction_per_m=0.0), targets=())
    return replace(shoot, setups=(setup, replace(setup, name="2 $x$", title="<i>Ebb</i>", day=2)), days=2)


def page_of(path, number):
    return " ".join(tool("pdftotext", "-layout", "-f", number, "-l", number, path, "-").decode().split())


@pytest.mark.slow
def test_contents_lead_where_they_say(tmp_path):
    # INDEPENDENT: poppler opens the page whose number the contents give.
    told = []
    path = book.write_book(small(), tmp_path / "book.pdf", told=lambda share, left: told.append((share, left)))
    first = page_of(path, 1)
    numbers = {
        words: int(re.search(re.escape(words) + r".*? (\d+)(?= |$)", first).group(1)) for words in ("Carry list", "Recce forms")
    }
    assert "Carry list" in page_of(path, numbers["Carry list"]) and "Recce: room" in page_of(path, numbers["Recce forms"])
    days = [int(n) for n in re.findall(r"1 setup (\d+)", first)]
    assert [f"Day {k} of 2" in page_of(path, n) for k, n in enumerate(days, 1)] == [True, True]
    assert "<i>Ebb</i>" in first and "2 $x$ <i>Ebb</i>" in page_of(path, days[1] + 1)
    pages = int(re.search(r"Pages: +(\d+)", tool("pdfinfo", path).decode()).group(1))
    assert f"{pages} pages" in first
    shares = [share for share, _ in told]
    assert shares == sorted(shares) and shares[-1] == 1.0 and len(told) > 5
    again = book.write_book(small(), tmp_path / "again.pdf")
    assert again.read_bytes() == path.read_bytes()


@pytest.mark.slow
def test_long_contents_are_cut_and_still_lead_right():
    entries = [(1, f"{k}  a setup with a long title " * 6, "loft, 10:00", [f"page {k}"] * 2) for k in range(90)]
    shoot = parts.shoot(parts.bare())

    class Sheet:
        """Stands for a figure: takes the number and keeps it."""

        def text(self, *_, **__):
            self.number = _[2]

    made = [(level, words, right, [Sheet(), Sheet()]) for level, words, right, _ in entries]
    with plain_look():
        figures = book._bound(shoot, made, A4)
    front = len(figures) - 180
    assert front > 1 and made[0][3][0].number == str(front + 1) and made[89][3][1].number == str(front + 180)
    for page in figures[:front]:
        words = page_boxes(page)
        assert outside(words, page.bbox) == [] and clashes(words) == []


def test_a_wrong_paper_is_refused_before_any_light_is_worked_out(tmp_path):
    with pytest.raises(ValueError, match="paper must be one of a4, letter, got 'a3'"):
        book.write_book(small(), tmp_path / "x.pdf", paper="a3")
