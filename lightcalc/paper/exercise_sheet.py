"""
The class on paper: one A4 page of exercises, and one with the key, as PDF.

`python -m lightcalc.paper.exercise_sheet FOLDER [VARIANT]` writes both.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from lightcalc.answers.exercises import exercises
from lightcalc.paper.page import A4, EDGE, PT, Page, pdf_bytes, plain_look, wrap

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SIZE, NAME_SIZE = 10.0, 14.0  # type. [pt]
LINE = 1.3 * SIZE * PT  # [mm]
NUMBER_W, ANSWER_W = 8.0, 52.0  # before the words, and for the answer at the right. [mm]
HINT = "A stop is a doubling of light: stops are log2 of a ratio, and log2 x = log x / log 2. Fill lands on both sides of a face."


def exercise_page(variant: int = 1) -> Figure:
    """
    The page of questions, with room for working.

    Parameters
    ----------
    variant : int, default 1
        As for `exercises.exercises`.

    Returns
    -------
    matplotlib.figure.Figure
        A4 upright.

    Raises
    ------
    ValueError
        If there is no such variant.
    """
    return _page("Stops, falloff, ratio, haze", variant, _ask)


def key_page(variant: int = 1) -> Figure:
    """
    The page of answers, each with its working.

    Parameters
    ----------
    variant : int, default 1
        As for `exercises.exercises`.

    Returns
    -------
    matplotlib.figure.Figure
        A4 upright.

    Raises
    ------
    ValueError
        If there is no such variant.
    """
    return _page("Stops, falloff, ratio, haze: the key", variant, _answer)


def write_exercises(folder: str | Path, *, variant: int = 1) -> tuple[Path, ...]:
    """
    Write both pages, each one PDF.

    Parameters
    ----------
    folder : str or Path
        Made if it is not there.
    variant : int, default 1
        As for `exercises.exercises`.

    Returns
    -------
    (Path, Path)
        Exercises and key.

    Raises
    ------
    ValueError
        If there is no such variant.
    OSError
        If a file cannot be written.
    """
    with plain_look():
        pages = {
            "exercises": pdf_bytes([exercise_page(variant)], f"Exercises {variant}"),
            "key": pdf_bytes([key_page(variant)], f"Key {variant}"),
        }
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in pages.items():
        (folder / f"{name}_{variant}.pdf").write_bytes(data)
    return tuple(folder / f"{name}_{variant}.pdf" for name in pages)


def _page(title, variant, block):
    """Title, hint, and a block for each exercise, spread over the page."""
    asked = exercises(variant)
    page = Page()
    page.text(EDGE, EDGE, title, NAME_SIZE, bold=True)
    page.text(A4.width - EDGE, EDGE + 1.0, f"sheet {variant}      name:                                        ", SIZE, ha="right")
    y = EDGE + 1.6 * NAME_SIZE * PT
    page.rule(EDGE, A4.width - EDGE, y)
    page.text(EDGE, y + 2.0, HINT, SIZE - 1.5, color="#444444")
    y += 4.0 + LINE
    room = (A4.height - EDGE - y) / len(asked)
    for number, one in enumerate(asked, 1):
        page.text(EDGE, y, f"{number}.", SIZE, bold=True)
        block(page, one, y, room)
        y += room
    return page.figure


def _ask(page, one, y, room):
    """The question, and a line for its answer under the room for working."""
    _lines(page, one.question, y, A4.wide - NUMBER_W)
    foot = y + room - 5.0
    page.rule(A4.width - EDGE - ANSWER_W, A4.width - EDGE - 14.0, foot)
    page.text(A4.width - EDGE, foot, ": 1" if one.unit == "to one" else one.unit, SIZE, ha="right", va="baseline")


def _answer(page, one, y, room):
    """The question small, the answer in bold, the working under it."""
    lines = _lines(page, one.question, y, A4.wide - NUMBER_W - ANSWER_W, size=SIZE - 2.0, color="#444444")
    page.text(A4.width - EDGE, y, one.answer_text, SIZE + 1.0, bold=True, ha="right")
    _lines(page, one.working, y + lines + 1.0, A4.wide - NUMBER_W)


def _lines(page, words, y, width_mm, *, size=SIZE, color="black"):
    """Words broken to a width; gives the height they took. [mm]"""
    lines = wrap(words, size, width_mm)
    for row, line in enumerate(lines):
        page.text(EDGE + NUMBER_W, y + row * 1.3 * size * PT, line, size, color=color)
    return len(lines) * 1.3 * size * PT


def main(argv: list[str]) -> int:
    """
    Write the pages from the command line.

    Parameters
    ----------
    argv : list of str
        Folder, and variant if not 1.

    Returns
    -------
    int
        0, or 2 with one sentence on stderr.
    """
    try:
        if not 1 <= len(argv) <= 2 or (not argv[-1].isdigit() and len(argv) == 2):
            raise ValueError("say a folder, and a sheet number if not 1: python -m lightcalc.paper.exercise_sheet out/ 3")
        for path in write_exercises(argv[0], variant=int(argv[1]) if len(argv) == 2 else 1):
            print(path)
    except (ValueError, OSError) as error:
        print(f"lightcalc: {error}", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
