"""Tables and words on paper: each knows its height at a type size, may be cut in two, and flows from page to page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, ClassVar

import numpy as np

from lightcalc.paper.page import A4, Page, leading, widest_mm, width_mm, wrap


def _air(size):
    """Clear space in a table's row, beside the words. [mm]"""
    return 0.11 * size


@dataclass(frozen=True)
class Table:
    """A titled table. Columns in `wraps` may break their words; `right` ones are set to the right."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    wraps: tuple[int, ...] = ()
    right: tuple[int, ...] = ()
    width: float = A4.wide
    foot: str = ""  # a line under it
    row_mm: float = 0.0  # least height of a row, where there is something to be written by hand

    def column_widths(self, size: float) -> list[float]:
        """
        Column widths: what the words ask for, the wrapping ones squeezed evenly if that is too much. [mm]

        Parameters
        ----------
        size : float
            [pt]
        """
        ask = [max(width_mm(h, size, True), widest_mm((row[i] for row in self.rows), size)) + 2.2 for i, h in enumerate(self.heads)]
        spare = self.width - sum(ask)
        if spare < 0 and self.wraps:
            fixed = sum(a for i, a in enumerate(ask) if i not in self.wraps)
            share = max(self.width - fixed, 11.0 * len(self.wraps))
            level = _level([ask[i] for i in self.wraps], share)
            ask = [min(a, level) if i in self.wraps else a for i, a in enumerate(ask)]
        elif spare > 0:
            ask = [a + spare / (len(ask) - 1) if i else a for i, a in enumerate(ask)]
        return ask

    def _row_heights(self, size):
        return [max(leading(size) * max(map(len, row)) + _air(size), self.row_mm) for row in _cells(self, size)[1]]

    def height(self, size: float) -> float:
        """
        Its height; nothing for a table without rows. [mm]

        Parameters
        ----------
        size : float
            [pt]
        """
        if not self.rows:
            return 0.0
        feet = len(wrap(self.foot, size, self.width)) if self.foot else 0
        return leading(size) * (2.2 + feet) + sum(self._row_heights(size)) + 1.0 + 0.5 * bool(feet)

    def split(self, size: float, room_mm: float) -> Any:
        """
        What of it fits a height, and the rest under the same heads.

        Parameters
        ----------
        size : float
            [pt]
        room_mm : float
            [mm]

        Returns
        -------
        (Table, Table) or None
            None where not even two rows fit.
        """
        if self.height(size) <= room_mm:
            return self, replace(self, rows=())
        tops = np.cumsum(self._row_heights(size)) + 2.2 * leading(size) + 1.0
        most = int(np.count_nonzero(tops <= room_mm))
        if most < min(2, len(self.rows)):
            return None
        title = self.title if self.title.endswith(" (continued)") else f"{self.title} (continued)"
        return replace(self, rows=self.rows[:most], foot=""), replace(self, rows=self.rows[most:], title=title)

    def draw(self, page: Page, x: float, y: float, size: float) -> None:
        """
        Draw it.

        Parameters
        ----------
        page : Page
        x, y : float
            Its upper left corner. [mm]
        size : float
            [pt]
        """
        if not self.rows:
            return
        widths, cells = _cells(self, size)
        lefts, step = x + np.concatenate([[0.0], np.cumsum(widths)]), leading(size)
        page.text(x, y, self.title, size + 0.5, bold=True)
        y += 1.15 * step
        for i, head in enumerate(self.heads):
            self._cell(page, lefts, i, y, head, size, True)
        y += step + 0.3
        page.rule(x, x + self.width, y, 0.6)
        for row, height in zip(cells, self._row_heights(size)):
            inset = 0.75 * _air(size) if not self.row_mm else (height - step * max(map(len, row))) / 2
            for i, lines in enumerate(row):
                for k, line in enumerate(lines):
                    self._cell(page, lefts, i, y + inset + k * step, line, size, False)
            y += height
            page.rule(x, x + self.width, y, 0.2, "#999999")
        for k, line in enumerate(wrap(self.foot, size, self.width) if self.foot else ()):
            page.text(x, y + 1.0 + k * step, line, size)

    def _cell(self, page, lefts, i, y, text, size, bold):
        if i in self.right:
            page.text(lefts[i + 1] - 2.2, y, text, size, bold=bold, ha="right")
        else:
            page.text(lefts[i], y, text, size, bold=bold)


@lru_cache(maxsize=2_000)  # a page is tried in several ways
def _cells(table, size):
    """Column widths of a table, and the lines of each cell of each row."""
    widths = table.column_widths(size)
    wrapped = [
        [wrap(text, size, widths[i] - 2.0) if i in table.wraps else [text] for i, text in enumerate(row)] for row in table.rows
    ]
    return widths, wrapped


def _level(asks, share):
    """The common ceiling at which the asks add up to the share (water filling)."""
    asks = sorted(asks)
    for i, ask in enumerate(asks):
        if ask * (len(asks) - i) >= share:
            return share / (len(asks) - i)
        share -= ask
    return asks[-1]


@dataclass(frozen=True)
class Words:
    """A titled run of paragraphs, kept together where a page can hold it."""

    whole: ClassVar[bool] = True

    title: str
    paragraphs: tuple[str, ...]
    width: float = A4.wide

    def lines(self, size: float) -> list[str]:
        """
        All its lines.

        Parameters
        ----------
        size : float
            [pt]
        """
        return [line for text in self.paragraphs for line in wrap(text, size, self.width)]

    def height(self, size: float) -> float:
        """
        Its height; nothing where there is nothing to say. [mm]

        Parameters
        ----------
        size : float
            [pt]
        """
        return leading(size) * (len(self.lines(size)) + 1.15) + 0.8 if self.paragraphs else 0.0

    def split(self, size: float, room_mm: float) -> Any:
        """
        What of it fits a height, and the rest.

        Parameters
        ----------
        size : float
            [pt]
        room_mm : float
            [mm]

        Returns
        -------
        (Words, Words) or None
            None where not even two lines fit.
        """
        lines, most = self.lines(size), int((room_mm - 0.8) / leading(size) - 1.15)
        if most < min(2, len(lines)):
            return None
        return tuple(replace(self, paragraphs=tuple(part)) for part in (lines[:most], lines[most:]))

    def draw(self, page: Page, x: float, y: float, size: float) -> None:
        """
        Draw it.

        Parameters
        ----------
        page : Page
        x, y : float
            Its upper left corner. [mm]
        size : float
            [pt]
        """
        if not self.paragraphs:
            return
        page.text(x, y, self.title, size + 0.5, bold=True)
        for k, line in enumerate(self.lines(size)):
            page.text(x, y + leading(size) * (1.15 + k), line, size)


@dataclass(frozen=True)
class Pair:
    """Two blocks side by side."""

    left: Table | Words
    right: Table | Words
    gap: float = 4.0

    def height(self, size: float) -> float:
        """
        Of the higher of the two. [mm]

        Parameters
        ----------
        size : float
            [pt]
        """
        return max(self.left.height(size), self.right.height(size))

    def split(self, size: float, room_mm: float) -> Any:
        """
        What of both fits a height, and the rest.

        Parameters
        ----------
        size : float
            [pt]
        room_mm : float
            [mm]

        Returns
        -------
        (Pair, Pair) or None
        """
        left, right = (block.split(size, room_mm) for block in (self.left, self.right))
        if left is None or right is None:
            return None
        return Pair(left[0], right[0], self.gap), Pair(left[1], right[1], self.gap)

    def draw(self, page: Page, x: float, y: float, size: float) -> None:
        """
        Draw both.

        Parameters
        ----------
        page : Page
        x, y : float
            Their upper left corner. [mm]
        size : float
            [pt]
        """
        self.left.draw(page, x, y, size)
        self.right.draw(page, x + self.left.width + self.gap, y, size)


def flow(blocks: Sequence, size: float, first_mm: float, later_mm: float, gap_mm: float = 2.2) -> list[list]:
    """
    Blocks dealt to pages in their order: whole where they fit, cut in two where they may be, else begun on a new page.

    Parameters
    ----------
    blocks : sequence
        Each with `height` and `draw`, and perhaps `split`; those that are `whole` are cut only if no page holds them.
    size : float
        [pt]
    first_mm, later_mm : float
        Height free on the first page, and on those after it. [mm]
    gap_mm : float, default 2.2
        From block to block. [mm]

    Returns
    -------
    list of list
        The blocks of each page; nothing is left out.
    """
    pages: list[list[Any]] = [[]]
    queue, left = [block for block in blocks if block.height(size)], first_mm
    while queue:
        block = queue.pop(0)
        if block.height(size) + gap_mm <= left:
            pages[-1].append(block)
            left -= block.height(size) + gap_mm
            continue
        may = hasattr(block, "split") and not (getattr(block, "whole", False) and block.height(size) + gap_mm <= later_mm)
        cut = block.split(size, left - gap_mm) if may else None
        fresh = left == later_mm
        if cut or fresh:  # what is too high for any page stands on one alone
            pages[-1].append(cut[0] if cut else block)
        queue = [rest for rest in (cut[1] if cut else block,) if rest.height(size) and (cut or not fresh)] + queue
        if queue:
            pages.append([])
            left = later_mm
    return pages
