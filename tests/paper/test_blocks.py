"""Blocks on paper: they fit the height they say, and what is cut in two is all there."""

import re

import pytest

from lightcalc.paper.blocks import Pair, Table, Words, _cells, flow
from lightcalc.paper.page import EDGE, Page, plain_look

from drawn_words import clashes
from printed_parts import page_boxes

SIZE = 7.0
ROWS = tuple((str(i), f"thing {i} " + "with more words than a line of its column may ever hold " * (i % 3), "1") for i in range(30))
TABLE = Table("Things", ("", "What", "Count"), ROWS, wraps=(1,), right=(2,), width=90.0, foot="In all: thirty.")
WORDS = Words("Notes", tuple(f"Sentence {i} goes on for a little while." for i in range(40)), 60.0)


@pytest.mark.parametrize("block", [TABLE, WORDS, Pair(TABLE, WORDS)], ids=["table", "words", "pair"])
def test_a_block_is_as_high_as_it_says(block):
    # INDEPENDENT: boxes measured by the renderer.
    with plain_look():
        page = Page()
        block.draw(page, EDGE, 20.0, SIZE)
    words = page_boxes(page.figure)
    low = min(box.y0 for _, box in words) / page.figure.dpi * 25.4
    assert block.height(SIZE) - 3.0 < 297.0 - 20.0 - low <= block.height(SIZE) + 0.5
    assert clashes(words, slack_px=1.0) == []


@pytest.mark.parametrize("room", [12.0, 30.0, 61.0, 100.0])
def test_a_cut_block_fits_and_loses_nothing(room):
    cut = TABLE.split(SIZE, room)
    assert cut is not None or room < 14.0  # a head and two rows
    while cut is not None and cut[1].rows:
        first, rest = cut
        assert first.height(SIZE) <= room and first.rows + rest.rows == TABLE.rows[-len(first.rows + rest.rows) :]
        assert rest.title == "Things (continued)" and (first.foot, rest.foot) == ("", TABLE.foot)
        cut = rest.split(SIZE, room)
    first, rest = WORDS.split(SIZE, max(room, 20.0))
    assert first.lines(SIZE) + rest.lines(SIZE) == WORDS.lines(SIZE) and first.height(SIZE) <= max(room, 20.0)


@pytest.mark.parametrize("first", [0.0, 25.0, 80.0, 250.0])
def test_blocks_flow_over_pages_in_order_and_none_is_lost(first):
    small = Words("Small", ("One line.",), 60.0)
    dealt = flow([small, TABLE, Words("Empty", ()), WORDS, small], SIZE, first, 90.0)
    for page, room in zip(dealt, [first] + [90.0] * 9):
        assert sum(block.height(SIZE) + 2.2 for block in page) <= room + 1e-9
    flat = [block for page in dealt for block in page]
    rows = [row for block in flat if isinstance(block, Table) for row in block.rows]
    lines = [line for block in flat if isinstance(block, Words) and block.title == "Notes" for line in block.lines(SIZE)]
    assert tuple(rows) == ROWS and lines == WORDS.lines(SIZE)
    assert [block.title for block in flat if block.title == "Small"] == ["Small"] * 2 and flat[0] == flat[-1] == small


def test_words_stay_together_where_a_page_can_hold_them():
    few = Words("Few", tuple(f"Sentence {i}." for i in range(8)), 60.0)
    assert flow([few], SIZE, 0.6 * few.height(SIZE), 200.0) == [[], [few]]


def test_what_no_page_holds_stands_on_one_alone_and_the_rest_follows():
    class Rock:
        def height(self, size):
            return 500.0

    rock, small = Rock(), Words("Small", ("One line.",), 60.0)
    assert flow([small, rock, small], SIZE, 90.0, 90.0) == [[small], [rock], [small]]


def test_a_squeezed_table_keeps_its_width():
    # DERIVED: column widths add up to the table's, however much the words ask for.
    for width in (60.0, 90.0, 188.0):
        table = Table("T", ("a", "b"), (("short", "long words " * 30),), wraps=(1,), width=width)
        assert sum(table.column_widths(SIZE)) == pytest.approx(width)
        assert re.sub(r"\s", "", "".join(_cells(table, SIZE)[1][0][1])) == "longwords" * 30
