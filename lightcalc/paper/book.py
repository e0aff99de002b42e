"""The whole shoot as one bound PDF: contents, day pages, setup sheets in shooting order, carry list, recce forms."""

from __future__ import annotations

import bisect
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lightcalc.answers.ahead import Ahead
from lightcalc.answers.shoot_order import ShootOrder, shoot_order
from lightcalc.answers.shot_list import shots
from lightcalc.paper.carry_list import carry_pages
from lightcalc.paper.day_page import day_pages
from lightcalc.paper.frame import Head, framed
from lightcalc.paper.page import Page, Paper, fits, leading, paper_of, pdf_bytes, plain_look, width_mm
from lightcalc.paper.recce_form import recce_by_place
from lightcalc.paper.setup_sheet import setup_pages
from lightcalc.wording import one_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from lightcalc.kit.materials import Kit
    from lightcalc.scene.shoot import Shoot

WINDOWS, PAGES = 0.37, 0.3  # shares of a long run: when light is there, laying out; the rest is writing
Told = Callable[[float, float], None]  # the share done, and about how many seconds are left


@dataclass(frozen=True)
class Entry:
    """A line of the contents."""

    words: str
    right: str  # where and when, before the number
    page: int
    level: int  # 0 is a part, 1 stands under it


@dataclass(frozen=True)
class Contents:
    """Lines of contents as a block that may be cut."""

    entries: tuple[Entry, ...]
    width: float

    def height(self, size: float) -> float:
        """
        Its height. [mm]

        Parameters
        ----------
        size : float
            [pt]
        """
        return sum(self._line_mm(entry, size) for entry in self.entries)

    def _line_mm(self, entry, size):
        return leading(size) * (1.9 if entry.level == 0 else 1.45)

    def split(self, size: float, room_mm: float) -> tuple[Contents, Contents] | None:
        """
        What of it fits a height, and the rest.

        Parameters
        ----------
        size : float
            [pt]
        room_mm : float
            [mm]
        """
        tall, most = 0.0, 0
        for entry in self.entries:
            tall += self._line_mm(entry, size)
            most += tall <= room_mm
        return (Contents(self.entries[:most], self.width), Contents(self.entries[most:], self.width)) if most > 1 else None

    def draw(self, page: Page, x: float, y: float, size: float) -> None:
        """
        Draw it: words, dots, page number.

        Parameters
        ----------
        page : Page
        x, y : float
            Its upper left corner. [mm]
        size : float
            [pt]
        """
        for entry in self.entries:
            tall = self._line_mm(entry, size)
            self._draw(page, entry, x + 5.0 * entry.level, y + tall - leading(size), size)
            y += tall

    def _draw(self, page, entry, x, y, size):
        bold, end = entry.level == 0, page.paper.width - page.paper.width / 2 + self.width / 2
        number = str(entry.page)
        page.text(end, y, number, size, bold=bold, ha="right")
        wide = end - x - 12.0 - width_mm(entry.right, size)
        words = _cut(entry.words, size, wide, bold)
        page.text(x, y, words, size, bold=bold)
        page.text(end - 10.0, y, entry.right, size, ha="right", color="#444444")
        start, stop = x + width_mm(words, size, bold) + 2.0, end - 12.0 - width_mm(entry.right, size)
        dots = int((stop - start) / width_mm(" .", size)) if stop > start else 0
        page.text(stop, y, " ." * dots, size, ha="right", color="#999999")


def _cut(words, size, most_mm, bold):
    """Words that fit, an ellipsis where some are gone."""
    text = one_line(words, most=200)
    if fits(text, size, most_mm, bold):
        return text
    most = bisect.bisect_left(range(len(text)), True, key=lambda n: not fits(text[:n] + "…", size, most_mm, bold))
    return text[: max(most - 1, 0)].rstrip() + "…"


@dataclass
class _Clock:
    """How far a long run is: parts weighed by what they usually take."""

    told: Told | None
    whole: float
    done: float = 0.0

    def __post_init__(self):
        self.begun = time.perf_counter()

    def more(self, weight):
        self.done += weight
        if self.told is not None:
            share = min(self.done / self.whole, 1.0)
            left = (time.perf_counter() - self.begun) * (1.0 - PAGES * share) / max(PAGES * share, 1e-3)
            self.told(WINDOWS + PAGES * share, left)


def book_figures(
    shoot: Shoot,
    *,
    order: ShootOrder,
    units: str | None = None,
    paper: str = "a4",
    kit: Kit | None = None,
    told: Told | None = None,
) -> list[Figure]:
    """
    The pages of the book as figures, numbered through.

    Parameters
    ----------
    shoot : Shoot
    order : shoot_order.ShootOrder
        The days, in the person's own order.
    units : {"metric", "feet", "both"}, optional
        By default the shoot's.
    paper : {"a4", "letter"}
    kit : materials.Kit, optional
        Where the carry list looks evidence up.
    told : callable, optional
        Is told the share done and the seconds left.

    Returns
    -------
    list of matplotlib.figure.Figure
    """
    area, setups = paper_of(paper), [slot.shot.setup for day in order.days for slot in day.own.slots]
    clock, parts, answers = _Clock(told, len(setups) + len(order.days) + 2.0), [], Ahead(setups)
    for day in order.days:
        parts.append(
            (
                0,
                _day_words(shoot, day),
                f"{len(day.own.slots)} setups" if len(day.own.slots) > 1 else "1 setup",
                day_pages(shoot, day, rests=order.rests_of(day.day), paper=paper),
            )
        )
        clock.more(1.0)
        for slot in day.own.slots:
            setup = slot.shot.setup
            pages = setup_pages(shoot, setup, *answers.get(setup.name), units=units, paper=paper)
            words = f"{one_line(setup.name, most=60)}  {one_line(setup.title, most=200)}"
            parts.append(
                (1, words, f"{one_line(setup.place.name, most=40)}, {slot.start // 60 % 24:02d}:{slot.start % 60:02d}", pages)
            )
            clock.more(1.0)
    parts.append((0, "Carry list", "", carry_pages(shoot, order, kit=kit, paper=paper)))
    clock.more(1.0)
    parts.append((0, "Recce forms", "", []))
    parts += [(1, name, "", pages) for name, pages in recce_by_place(shoot, paper=paper).items()]
    clock.more(1.0)
    return _bound(shoot, parts, area)


def _day_words(shoot, day):
    date = shoot.dates[day.day - 1] if shoot.dates else None
    return f"Day {day.day}" + (f", {date:%A} {date}" if date else "")


def _bound(shoot, parts, area: Paper):
    """Contents first: how many pages they take decides the numbers, so they are laid out until that holds."""
    front = 1
    while True:
        number, entries = front + 1, []
        for level, words, right, pages in parts:
            entries.append(Entry(words, right, number, level))
            number += len(pages)
        head = Head(
            over="",
            when=f"{number - 1} pages",
            title=one_line(shoot.title, most=120),
            foot="Page numbers of the book stand at the foot in bold.",
        )
        contents = framed([Contents(tuple(entries), area.wide)], head, area, (9.0, 8.0, 7.0))
        if len(contents) == front:
            break
        front = len(contents)
    figures = contents + [figure for *_, pages in parts for figure in pages]
    for number, figure in enumerate(figures, 1):
        figure.text(0.7, 9.6 / area.height, str(number), fontsize=9, weight="bold", ha="center", va="bottom")
    return figures


def write_book(
    shoot: Shoot,
    path: str | Path,
    *,
    shot_list: str | Path | None = None,
    units: str | None = None,
    paper: str = "a4",
    kit: Kit | None = None,
    told: Told | None = None,
) -> Path:
    """
    Write the book of a shoot: one PDF, the same bytes for the same file.

    Parameters
    ----------
    shoot : Shoot
    path : str or Path
        The file to write; replaced if it is there.
    shot_list : str or Path, optional
        A CSV, see `shot_list.shots`; without it the file's own order counts.
    units : {"metric", "feet", "both"}, optional
        By default the shoot's.
    paper : {"a4", "letter"}
    kit : materials.Kit, optional
        Where the carry list looks evidence up.
    told : callable, optional
        Is told the share done and the seconds left.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ValueError
        If units, paper or the shot list will not do.
    OSError
        If the file cannot be written.
    """
    paper_of(paper)  # before anything is worked out
    begun = time.perf_counter()

    def first(share):
        if told is not None:
            took = time.perf_counter() - begun
            told(WINDOWS * share, took * (1.0 - WINDOWS * share) / max(WINDOWS * share, 1e-3))

    def last(share):
        done = WINDOWS + PAGES + (1.0 - WINDOWS - PAGES) * share
        if told is not None:
            told(done, (time.perf_counter() - begun) * (1.0 - done) / done)

    order = shoot_order(shoot, shots(shoot, shot_list, told=first))
    with plain_look():
        figures = book_figures(shoot, order=order, units=units, paper=paper, kit=kit, told=told)
        data = pdf_bytes(figures, one_line(shoot.title), told=last)
    if told is not None:
        told(1.0, 0.0)
    path = Path(path)
    path.write_bytes(data)
    return path
