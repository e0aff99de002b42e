"""A sheet of paper in millimetres: its size, type, lines and boxes on it, and pages as one PDF."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from io import BytesIO
from typing import Any

import matplotlib
from fontTools import subset
from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.ft2font import LoadFlags
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

from lightcalc import wording

EDGE = 11.0  # the margin a home printer keeps. [mm]
PT = 25.4 / 72  # mm
LONGEST = 20_000  # characters of someone's words


@dataclass(frozen=True)
class Paper:
    """A sheet of paper. [mm]"""

    name: str
    width: float
    height: float

    @property
    def wide(self) -> float:
        """Between the margins. [mm]"""
        return self.width - 2 * EDGE

    @property
    def tall(self) -> float:
        """Between the margins. [mm]"""
        return self.height - 2 * EDGE


PAPERS = {"a4": Paper("A4", 210.0, 297.0), "letter": Paper("Letter", 215.9, 279.4)}  # ISO 216; 8.5 x 11 in
A4 = PAPERS["a4"]


def paper_of(name: str) -> Paper:
    """
    The paper of that name.

    Parameters
    ----------
    name : {"a4", "letter"}

    Returns
    -------
    Paper

    Raises
    ------
    ValueError
        If there is none.
    """
    if name not in PAPERS:
        raise ValueError(f"paper must be one of {', '.join(PAPERS)}, got {name!r}")
    return PAPERS[name]


@contextmanager
def plain_look() -> Iterator[None]:
    """The reader's own matplotlib settings must not change what is printed; type measures as the PDF sets it."""
    ours: dict[Any, Any] = {"pdf.fonttype": 42, "font.family": "DejaVu Sans", "text.hinting": "no_hinting"}
    with style.context("default"), matplotlib.rc_context(ours):
        yield


def pdf_bytes(figures: Sequence[Figure], title: str, *, told: Callable[[float], Any] | None = None) -> bytes:
    """
    Figures as one PDF without dates, so that the same pages are the same bytes.

    Parameters
    ----------
    figures : sequence of matplotlib.figure.Figure
        A page each.
    title : str
    told : callable, optional
        Called with the share of the pages that are written.

    Returns
    -------
    bytes
    """
    stream = BytesIO()
    about = {"CreationDate": None, "Creator": "lightcalc", "Producer": None, "Title": title}
    with _fonts_to_draw_with(), PdfPages(stream, metadata=about) as pages:
        for count, figure in enumerate(figures, 1):
            pages.savefig(figure)
            if told is not None:
                told(count / (len(figures) + 1))  # then the fonts
    return stream.getvalue()


@contextmanager
def _fonts_to_draw_with():
    """
    Fonts go into a PDF without their tables for setting type: it says where each character stands, and to cut those tables
    down to the characters of a page took two thirds of the time of all its fonts.
    """

    def load_font(*asked, **how):
        font = whole(*asked, **how)
        for table in {"GDEF", "GPOS", "GSUB", "kern"}.intersection(font.keys()):
            del font[table]
        return font

    whole, subset.load_font = subset.load_font, load_font
    try:
        yield
    finally:
        subset.load_font = whole


# --- type ------------------------------------------------------------------------------------------


@lru_cache(maxsize=20_000)
def width_mm(text: str, size: float, bold: bool = False) -> float:
    """
    Width of a line of type, unhinted, as the PDF sets it. [mm]

    Parameters
    ----------
    text : str
    size : float
        [pt]
    bold : bool, default False
    """
    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=size)
    return text_to_path.get_text_width_height_descent(text, font, ismath=False)[0] * PT if text else 0.0


@cache
def _advance_em(character, bold):
    """How far a character moves the pen. [em]"""
    font = get_font(findfont(FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")))
    return font.load_char(ord(character), flags=LoadFlags.NO_SCALE).horiAdvance / font.units_per_EM


def _most_mm(text, size, bold):
    """No less than `width_mm`, and in a hundredth of its time: the pen's way, without what pairs of characters save."""
    return sum(_advance_em(character, bold) for character in text) * size * PT + 0.002


def fits(text: str, size: float, most_mm: float, bold: bool = False) -> bool:
    """
    Whether a line of type is no wider than that; measured only where it comes near it.

    Parameters
    ----------
    text : str
    size : float
        [pt]
    most_mm : float
        [mm]
    bold : bool, default False
    """
    return _most_mm(text, size, bold) <= most_mm or width_mm(text, size, bold) <= most_mm


def widest_mm(texts: Iterable[str], size: float, bold: bool = False) -> float:
    """
    Width of the widest of some lines, 0 without any; only those that may be it are measured. [mm]

    Parameters
    ----------
    texts : iterable of str
    size : float
        [pt]
    bold : bool, default False
    """
    widest = 0.0
    for most, text in sorted({(_most_mm(text, size, bold), text) for text in texts}, reverse=True):
        if most <= widest:
            break
        widest = max(widest, width_mm(text, size, bold))
    return widest


def wrap(text: str, size: float, most_mm: float, bold: bool = False) -> list[str]:
    """
    Lines no wider than that; a word wider than a line is broken.

    Parameters
    ----------
    text : str
    size : float
        [pt]
    most_mm : float
        [mm]
    bold : bool, default False

    Returns
    -------
    list of str
        At least one, which may be empty.
    """
    return list(_wrapped(text, size, most_mm, bold))


@lru_cache(maxsize=20_000)  # a page is tried in several ways
def _wrapped(text, size, most_mm, bold):
    lines = [""]
    for word in wording.one_line(text, most=LONGEST).split(" "):
        trial = f"{lines[-1]} {word}".strip()
        if fits(trial, size, most_mm, bold):
            lines[-1] = trial
            continue
        while not fits(word, size, most_mm, bold) and len(word) > 1:
            cut = next(n for n in range(len(word) - 1, 0, -1) if n == 1 or fits(word[:n], size, most_mm, bold))
            lines.append(word[:cut])
            word = word[cut:]
        lines.append(word)
    return tuple(line for line in lines if line) or ("",)


def leading(size: float) -> float:
    """From one line of type to the next. [mm]"""
    return 1.2 * size * PT


class Page:
    """
    A figure the size of the paper; x runs right and y down from its upper left corner. [mm]

    Parameters
    ----------
    paper : Paper, default A4
    """

    def __init__(self, paper: Paper = A4) -> None:
        self.paper = paper
        self.figure = Figure(figsize=(paper.width / 25.4, paper.height / 25.4), dpi=144)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        *,
        bold: bool = False,
        ha: str = "left",
        va: str = "top",
        color: str = "black",
        **look: Any,
    ) -> Text:
        """
        Words at a place.

        Parameters
        ----------
        x, y : float
            [mm]
        words : str
        size : float
            [pt]
        bold : bool, default False
        ha, va : str
            Which part of the words stands there.
        color : str, default "black"
        **look
            Further looks of a matplotlib text.
        """
        return self.figure.text(
            x / self.paper.width, 1 - y / self.paper.height, words, fontsize=size, weight="bold" if bold else "normal", ha=ha,
            va=va, color=color, parse_math=False, **look,
        )  # fmt: skip

    def rule(self, x0: float, x1: float, y: float, width: float = 0.4, color: str = "black") -> None:
        """
        A level line.

        Parameters
        ----------
        x0, x1, y : float
            [mm]
        width : float, default 0.4
            [pt]
        color : str, default "black"
        """
        ends = ([x0 / self.paper.width, x1 / self.paper.width], [1 - y / self.paper.height] * 2)
        self.figure.add_artist(Line2D(*ends, lw=width, color=color))

    def box(self, x: float, y: float, width: float, height: float, color: str, edge: str = "black") -> None:
        """
        A filled rectangle.

        Parameters
        ----------
        x, y, width, height : float
            [mm]
        color : str
        edge : str, default "black"
        """
        corner = (x / self.paper.width, 1 - (y + height) / self.paper.height)
        wide, tall, on = width / self.paper.width, height / self.paper.height, self.figure.transFigure
        self.figure.add_artist(Rectangle(corner, wide, tall, facecolor=color, edgecolor=edge, lw=0.4, transform=on))

    def axes(self, x: float, y: float, width: float, height: float, label: str) -> Axes:
        """
        Axes that fill a rectangle.

        Parameters
        ----------
        x, y, width, height : float
            [mm]
        label : str
        """
        across, down = self.paper.width, self.paper.height
        return self.figure.add_axes((x / across, 1 - (y + height) / down, width / across, height / down), label=label)
