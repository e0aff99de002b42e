"""Pages under one head and over one foot: blocks dealt to as few pages as hold them, in the largest type that does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from lightcalc import __version__
from lightcalc.paper.blocks import flow
from lightcalc.paper.page import EDGE, Page, Paper, fits, leading, wrap
from lightcalc.wording import one_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

HEADER, FOOTER, BETWEEN, APART = 16.0, 4.0, 2.2, 4.0  # [mm]
SIZES = (8.0, 7.5, 7.0, 6.5)  # type, largest that needs no page more. [pt]


@dataclass(frozen=True)
class Head:
    """What stands over every page of a run, and under it."""

    over: str  # small, left: the film
    when: str  # small, right
    title: str
    foot: str = ""


def framed(blocks: Sequence[Any], head: Head, paper: Paper, sizes: Sequence[float] = SIZES) -> list[Figure]:
    """
    Blocks as pages.

    Parameters
    ----------
    blocks : sequence
        As `blocks.flow` takes them.
    head : Head
    paper : Paper
    sizes : sequence of float
        Type sizes that will do, largest first. [pt]

    Returns
    -------
    list of matplotlib.figure.Figure
    """
    tall = paper.tall - HEADER - FOOTER
    trials = [(flow(blocks, size, tall, tall, BETWEEN), size) for size in sizes]
    dealt, size = min(trials, key=lambda trial: (len(trial[0]), -trial[1]))
    return [_page(page_blocks, head, paper, size, (number, len(dealt))) for number, page_blocks in enumerate(dealt, 1)]


def _page(blocks, head, paper, size, number):
    """One page; spare height goes between the blocks, within reason."""
    page = Page(paper)
    _header(page, head)
    spare = paper.tall - HEADER - FOOTER - sum(block.height(size) + BETWEEN for block in blocks)
    apart, y = min(max(spare, 0.0) / max(len(blocks), 1), APART), EDGE + HEADER
    for block in blocks:
        block.draw(page, EDGE, y, size)
        y += block.height(size) + BETWEEN + apart
    _footer(page, head, number)
    return page.figure


def _header(page, head):
    right, wide = page.paper.width - EDGE, page.paper.wide
    page.text(right, EDGE, head.when, 8.0, ha="right", color="#333333")
    page.text(EDGE, EDGE, wrap(one_line(head.over, most=80), 9.0, wide / 2)[0], 9.0, color="#333333")
    title = one_line(head.title, most=200)
    size = next((size for size in (14.0, 12.0, 10.5, 9.0) if fits(title, size, wide, True)), 7.5)
    for k, line in enumerate(wrap(title, size, wide, True)[:2]):
        page.text(EDGE, EDGE + 4.6 + k * leading(size), line, size, bold=True)
    page.rule(EDGE, right, EDGE + 12.8, 1.0)


def _footer(page, head, number):
    foot, look = page.paper.height - EDGE + 1.0, dict(va="bottom", color="#444444")
    page.text(EDGE, foot, head.foot, 5.0, **look)
    said = f"lightcalc {__version__}" + (f", page {number[0]} of {number[1]}" if number[1] > 1 else "")
    page.text(page.paper.width - EDGE, foot, said, 6.0, ha="right", **look)
