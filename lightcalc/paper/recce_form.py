"""The form for a recce: walls, windows, bearing, horizon, sockets, detectors, air, and squared paper for a sketch."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.collections import LineCollection

from lightcalc.paper.blocks import Pair, Table, Words
from lightcalc.paper.frame import Head, framed
from lightcalc.paper.page import Page, leading, paper_of, pdf_bytes, plain_look
from lightcalc.scene.parts import Exterior, Room, Setup
from lightcalc.wording import length_text, number_text, one_line, percent_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from lightcalc.scene.shoot import Shoot

WRITE_MM = 7.2
GRID_MM, BOLD_EVERY = 5.0, 5
FOOT = "Under File stands what the shoot file says so far. Measure it again; what is written by hand wins."
PEOPLE = (
    "Whoever looks after the building says, in writing: which circuits may be used and by whom; who isolates a detector, if anyone, and who "
    "keeps the fire watch; what floors, beams and gratings bear; which doors must stay free. Never test or cover a detector yourself."
)


@dataclass(frozen=True)
class Grid:
    """Squared paper as a block."""

    width: float
    tall: float
    words: str

    def height(self, size: float) -> float:
        """
        Its height. [mm]

        Parameters
        ----------
        size : float
            [pt]
        """
        return 1.2 * leading(size) + self.tall

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
        page.text(x, y, self.words, size + 0.5, bold=True)
        y, paper = y + 1.2 * leading(size), page.paper
        across, down = int(self.width // GRID_MM), int(self.tall // GRID_MM)
        wide, tall = across * GRID_MM, down * GRID_MM
        for bold in (False, True):
            level = [[(x, y + k * GRID_MM), (x + wide, y + k * GRID_MM)] for k in range(down + 1) if (k % BOLD_EVERY == 0) == bold]
            upright = [
                [(x + k * GRID_MM, y), (x + k * GRID_MM, y + tall)] for k in range(across + 1) if (k % BOLD_EVERY == 0) == bold
            ]
            lines = np.array(level + upright) / (paper.width, paper.height)
            lines[..., 1] = 1.0 - lines[..., 1]
            drawn = LineCollection(list(lines), lw=0.5 if bold else 0.25, color="#9A9A9A" if bold else "#C4C4C4")
            drawn.set_transform(page.figure.transFigure)
            page.figure.add_artist(drawn)


def recce_pages(shoot: Shoot | None = None, *, paper: str = "a4") -> list[Figure]:
    """
    The form for each place of a shoot, what the file says filled in; without a shoot, once and empty.

    Parameters
    ----------
    shoot : Shoot, optional
    paper : {"a4", "letter"}

    Returns
    -------
    list of matplotlib.figure.Figure
    """
    if shoot is None:
        return _pages("", None, "", (), "metric", paper)
    return [page for pages in recce_by_place(shoot, paper=paper).values() for page in pages]


def recce_by_place(shoot: Shoot, *, paper: str = "a4") -> dict[str, list[Figure]]:
    """
    The form's pages by the name of the place.

    Parameters
    ----------
    shoot : Shoot
    paper : {"a4", "letter"}

    Returns
    -------
    dict of list of matplotlib.figure.Figure
    """
    places = {setup.place.name: setup.place for setup in shoot.setups}
    at = lambda name: tuple(setup for setup in shoot.setups if setup.place.name == name)  # noqa: E731
    return {name: _pages(shoot.title, place, name, at(name), shoot.units, paper) for name, place in places.items()}


def write_recce(path: str | Path, shoot: Shoot | None = None, *, paper: str = "a4") -> Path:
    """
    Write the form as one PDF.

    Parameters
    ----------
    path : str or Path
        Replaced if it is there.
    shoot : Shoot, optional
        See `recce_pages`.
    paper : {"a4", "letter"}

    Returns
    -------
    Path
    """
    with plain_look():
        title = one_line(shoot.title) if shoot else "lightcalc"
        data = pdf_bytes(recce_pages(shoot, paper=paper), f"{title}: recce")
    path = Path(path)
    path.write_bytes(data)
    return path


def _pages(over, place, name, setups: tuple[Setup, ...], units, paper):
    area = paper_of(paper)
    used = (
        f"setups {', '.join(one_line(setup.name, most=20) for setup in setups)}"
        if setups
        else "date:                      by:                      "
    )
    head = Head(
        over=over,
        when=used,
        title=f"Recce: {name}" if name else "Recce: place ________________________",
        foot=FOOT if place else "",
    )
    half = (area.wide - 4.0) / 2
    length = lambda metres: length_text(metres, units)  # noqa: E731
    outside = isinstance(place, Exterior)
    blocks = [
        Pair(_size(place, length, half), _walls(place, half)) if not outside else _size(place, length, area.wide),
        _windows(place, length, area.wide) if not outside else Table("", (), ()),
        Pair(_sockets(place, half), _horizon(half)),
        Pair(_air(place, half), _asked(half)),
        Words("Who decides", (PEOPLE,), area.wide),
        Grid(area.wide, 150.0, "Plan (a square = ______ m; north arrow, windows, sockets, detectors, what cannot be moved)"),
        Grid(area.wide, 70.0, "Side view, or the view from the camera"),
    ]
    return framed(blocks, head, area, (8.0,))


def _form(title, heads, rows, width):
    return Table(title, heads, tuple(rows), wraps=(0,), width=width, row_mm=WRITE_MM)


def _size(place, length, width):
    known = dict.fromkeys(("width", "depth", "height"), "")
    bearing = ""
    if place is not None:
        known |= {"width": length(place.width_m), "depth": length(place.depth_m)}
        known["height"] = length(place.height_m) if isinstance(place, Room) else ""
        bearing = f"{number_text(place.bearing_deg)}°"
    rows = [(f"{key.capitalize()} inside", known[key], "") for key in known if key != "height" or not isinstance(place, Exterior)]
    rows += [("Plan's up, compass (far from iron)", bearing, ""), ("Stairs, lift, door widths; way for a stand", "", "")]
    return _form("Size and bearing", ("What", "File", "Measured"), rows, width)


def _walls(place, width):
    sides = ("floor", "ceiling", "left", "right", "near", "far")
    known = {side: percent_text(getattr(place, side)) if place is not None else "" for side in sides}
    return _form(
        "Walls (spot on wall over spot on grey card, x 18 %)",
        ("Side", "File", "Reflects", "Colour, gloss"),
        [(side.capitalize(), known[side], "", "") for side in sides],
        width,
    )


def _windows(place, length, width):
    rows = []
    for window in getattr(place, "windows", ()):
        size = f"{length(window.width_m)} x {length(window.height_m)}"
        rows.append(
            (
                one_line(window.name, most=30),
                window.wall,
                length(window.centre_m),
                length(window.sill_m),
                size,
                percent_text(window.glass),
                "",
            )
        )
    rows += [("",) * 7 for _ in range(max(2, 4 - len(rows)))]
    heads = ("Window", "Wall", "Centre along wall", "Sill", "Width x height", "Glass", "Bars, sheer; opens? Outside it")
    return Table("Windows and doors", heads, tuple(rows), wraps=(0, 6), width=width, row_mm=WRITE_MM)


def _sockets(place, width):
    rows = []
    for circuit in getattr(place, "circuits", ()):
        amps = "" if circuit.breaker_amps is None else number_text(circuit.breaker_amps)
        taken = number_text(circuit.taken_amps) if circuit.taken_amps else ""
        rows.append((one_line(circuit.name, most=30), amps, taken, ""))
    rows += [("",) * 4 for _ in range(max(2, 5 - len(rows)))]
    heads = ("Circuit", "Breaker, A", "Stays on, A", "Sockets: where, RCD?")
    return _form("Sockets and circuits (the electrician traces them)", heads, rows, width)


def _horizon(width):
    rows = [(f"{bearing}°", "", f"{bearing + 180}°", "") for bearing in range(0, 180, 30)]
    return _form("Horizon: how high roofs, trees and hills stand", ("Bearing", "Degrees", "Bearing", "Degrees"), rows, width)


def _air(place, width):
    changes = getattr(place, "air_changes_per_h", None)
    known = "" if changes is None else f"{number_text(changes)} an hour"
    rows = [("Smoke, heat detectors: where, kind", "", ""), ("Sprinklers, alarm to whom", "", ""),
            ("Air changes, fans; can they be stopped?", known, ""), ("Doors and windows that open, for airing", "", "")]  # fmt: skip
    return _form("Detectors and air", ("What", "File", "Found"), rows, width)


def _asked(width):
    rows = [
        (what, "")
        for what in (
            "Floor bears; beams to rig from",
            "Light of others: streets, signs, neighbours",
            "Noise, traffic, tide, opening hours",
            "Keys, parking, toilets, first aid, signal",
        )
    ]
    return _form("And", ("What", "Found"), rows, width)
