"""What board gives the ratio: a short list of size, stuff and distance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.answers.board_distance import RULE_STOPS, board_case, in_frame, walked, white_board_lx
from lightcalc.answers.readings import readings
from lightcalc.kit import materials
from lightcalc.kit.materials import Kit
from lightcalc.laws import bounce
from lightcalc.scene.parts import Room, Setup, rectangle_corners
from lightcalc.units import check_range, stops
from lightcalc.wording import distance_text, plain, ratio_text, size_text, stops_text

SIZES_M = ((0.6, 0.9), (1.0, 1.0), (1.2, 1.2), (1.2, 2.4), (2.4, 2.4), (3.6, 3.6))  # width, height: what is carried about
STUFFS = ("white", "muslin", "unbleached muslin", "soft silver")  # in order of liking
NEAREST_M, FURTHEST_M = 0.5, 12.0  # nearer than an arm's length nobody plays a scene; further nobody carries it
PER_SIZE = 2  # lines of the list for one size
STEPS = 24  # places tried along the line
ROUNDS, TAPE_M = 8, 0.05  # times a distance is set right by the engine, and to what
TOO_WEAK, TOO_STRONG, STEPS_PAST = "too weak", "too strong", "the ratio steps past it here"


@dataclass(frozen=True)
class BoardChoice:
    """One line of the list. With a limit, the distance is the nearest to what was wanted that the limit leaves."""

    width_m: float
    height_m: float
    stuff: str
    distance_m: float  # mark to the middle of the board
    ratio: float  # (key + fill) : fill
    miss_stops: float  # from the ratio wanted; plus is more contrast
    level_stops: float  # of the mark, from middle grey; NaN where only numbers were given
    limit: str  # why the ratio is missed, or nothing

    @property
    def key_to_fill(self) -> float:
        """The same ratio counted as key : fill."""
        return self.ratio - 1.0


@dataclass(frozen=True)
class Shortlist:
    """Boards for one ratio at one mark, the smallest first."""

    setup: str
    mark: str
    wanted: float  # (key + fill) : fill
    without: float  # ratio with no board there
    board_is_key: bool
    choices: tuple

    def lines(self, units: str = "metric") -> list[str]:
        """The list as plain text."""
        return [self.head()] + [f"  {choice_text(choice, units)}" for choice in self.choices]

    def head(self) -> str:
        """What was asked, and what is there without a board."""
        kind = "key" if self.board_is_key else "fill"
        at = f" at {self.mark}" if self.mark else ""
        return f"{ratio_text(self.wanted)} (key + fill : fill){at}, board as {kind}; without it {ratio_text(self.without)}"

    def as_json(self) -> dict[str, Any]:
        """The list as plain data, units in the key names."""
        return plain(self)


def choice_text(choice: BoardChoice, units: str = "metric") -> str:
    """
    One line of the list.

    Parameters
    ----------
    choice : BoardChoice
    units : {'metric', 'feet'}

    Examples
    --------
    >>> choice_text(BoardChoice(1.2, 2.4, "muslin", 2.31, 4.1, 0.04, -0.3, ""))
    '1.2 x 2.4 m muslin at 2.3 m: 4.1 : 1, key : fill 3.1 : 1'
    """
    size = f"{size_text(choice.width_m, choice.height_m, units=units)} {choice.stuff}"
    if np.isnan(choice.distance_m):
        return f"{size}: {choice.limit}"
    both = f"{ratio_text(choice.ratio)}, key : fill {ratio_text(choice.key_to_fill)}"
    off = f", {stops_text(choice.miss_stops)} stops off: {choice.limit}" if choice.limit else ""
    return f"{size} at {distance_text(choice.distance_m, units)}: {both}{off}"


def boards_for(
    *, ratio: float, key_lx: float, board_lx: float, other_fill_lx: float=0.0, sizes_m: Sequence[tuple[float, float]]=SIZES_M, stuffs: Sequence[str]=STUFFS, nearest_m: float=NEAREST_M,
    furthest_m: float=FURTHEST_M, kit: Kit | None=None,
) -> Shortlist:  # fmt: skip
    r"""
    Boards that fill to a wanted ratio, from a few meter readings, without a setup.

    Parameters
    ----------
    ratio : float
        Wanted (key + fill) : fill, above 1 to 1000. [1]
    key_lx : float
        The key alone at the subject, > 0. [lx]
    board_lx : float
        Illuminance on the board, the same wherever it stands, > 0: `bounce.sun_on_board_lx`, or the meter. [lx]
    other_fill_lx : float, default 0
        What fills without the board, >= 0. [lx]
    sizes_m : sequence of (float, float)
        Width and height of each board. [m]
    stuffs : sequence of str
        Names from the kit, the one liked best first; taken as matt.
    nearest_m, furthest_m : float
        Limits of the distance: the frame's edge, or the wall. [m]
    kit : materials.Kit, optional
        The package's own by default.

    Returns
    -------
    Shortlist

    Raises
    ------
    ValueError
        If a number is outside its range, or what fills without the board already gives less than the ratio.

    Notes
    -----
    .. math:: \rho E_b F(d) = K / (R - 1) - F_0

    The board faces the subject, one bounce, the near field exact (`lightcalc.laws.bounce.board_distance_for_fill`).

    Examples
    --------
    >>> found = boards_for(ratio=4, key_lx=600, board_lx=1000, sizes_m=[(1.2, 1.2)], stuffs=["white"])
    >>> print(found.lines()[1])
      1.2 x 1.2 m white at 1.2 m: 4.0 : 1, key : fill 3.0 : 1
    """
    check_range("ratio", ratio, above=1.0, high=1000.0, hint="(key + fill) : fill; at 1 the key would be nothing")
    check_range("board_lx", board_lx, above=0.0, hint="an unlit board fills nothing")
    check_range("other_fill_lx", other_fill_lx, low=0.0)
    check_range("furthest_m over nearest_m", furthest_m / _positive("nearest_m", nearest_m), above=1.0)
    wanted_lx = bounce.fill_for_ratio(key_lx=key_lx, ratio=ratio) - other_fill_lx
    without = np.inf if other_fill_lx == 0 else float(bounce.fill_ratio(key_lx=key_lx, fill_lx=other_fill_lx))
    check_range("ratio", ratio, below=without, hint="the rest already fills that much; take light away, with black")
    found = []
    for width, height in _sizes(sizes_m):
        for name in stuffs:
            board = {"board_lx": board_lx, "reflectance": materials.stuff(name, kit=kit).reflectance,
                     "width_m": width, "height_m": height}  # fmt: skip
            far, limit = _within(_distance(wanted_lx, board), nearest_m, furthest_m)
            fill = other_fill_lx + bounce.board_fill_illuminance(subject_m=far, **board)
            got = float(bounce.fill_ratio(key_lx=key_lx, fill_lx=fill))
            found.append(BoardChoice(width, height, name, far, got, float(stops(got / ratio)), np.nan, limit))
    return Shortlist("", "", float(ratio), without, False, _short(found))


def boards_in(
    setup: Setup,
    *,
    board: str,
    mark: str,
    ratio: float,
    sizes_m: Sequence[tuple[float, float]] = SIZES_M,
    stuffs: Sequence[str] = STUFFS,
    nearest_m: float = NEAREST_M,
    furthest_m: float = FURTHEST_M,
    kit: Kit | None = None,
) -> Shortlist:
    r"""
    Boards that give a wanted ratio at a mark of a setup, in place of one that stands there.

    Parameters
    ----------
    setup : Setup
    board : str
        The board to replace. It walks along the line from the mark through its middle, facing as it does now.
    mark : str
        Where the ratio is read.
    ratio : float
        Wanted (key + fill) : fill, above 1 to 1000. [1]
    sizes_m : sequence of (float, float)
        Width and height of each board. [m]
    stuffs : sequence of str
        Names from the kit, the one liked best first.
    nearest_m, furthest_m : float
        Limits of the distance; camera and walls add theirs. [m]
    kit : materials.Kit, optional
        The package's own by default.

    Returns
    -------
    Shortlist
        At most two stuffs of a size; a size that cannot do it comes once, with the reason.

    Raises
    ------
    ValueError
        If the setup has no such board or mark, a number is outside its range, or the key is the board's alone and
        nothing fills.

    Notes
    -----
    Screened with the light that falls on the board's line in the setup without it, each patch of the board lit as
    its middle is and seen exactly (`lightcalc.laws.falloff.polygon_factor`); then each line of the list is set right and read by
    `readings.readings`, shadows, gloss and all bounces counted. Boards in `setup.key` are key, else fill. Where the
    setup names no key, it is the source that gives the mark most without the board.
    """
    check_range("ratio", ratio, above=1.0, high=1000.0, hint="(key + fill) : fill; at 1 the key would be nothing")
    check_range("furthest_m over nearest_m", furthest_m / _positive("nearest_m", nearest_m), above=1.0)
    case = board_case(setup, board=board, mark=mark)
    if not case.board_is_key and case.without <= ratio:
        raise ValueError(
            f"ratio must be < {case.without:.3g} at '{mark}': without '{board}' the rest already fills that much; "
            f"take light away, with a black board or less on the walls"
        )
    found, covers = [], [materials.stuff(name, kit=kit) for name in stuffs]
    for size in _sizes(sizes_m):
        line = _line(case, size, nearest_m, furthest_m)
        tried = [_tried(case, size, stuff, ratio, line) for stuff in covers]
        picked = _short(tried)
        found += [_confirmed(case, stuff, one, line, ratio) for stuff, one in zip(covers, tried) if one in picked]
    return Shortlist(setup.name, mark, float(ratio), case.without, case.board_is_key, tuple(found))


@dataclass(frozen=True)
class _Line:
    """Where a board of one size may stand along its line, and what a perfect white one would send from there."""

    far: np.ndarray  # (n,) [m]
    white_lx: np.ndarray  # (n,) at the mark, reflectance 1
    hindrance: tuple  # (n,) of str, empty where it may stand


def _line(case, size, nearest_m, furthest_m):
    """One board size tried along its line, by the closed form."""
    far = np.geomspace(nearest_m, furthest_m, STEPS)
    there = [_with_board(case, d, size) for d in far]
    return _Line(far, white_board_lx(case, [s.part(case.board) for s in there]), tuple(_hindrance(case, s) for s in there))


def _tried(case, size, stuff, ratio, line):
    """A size and stuff by the closed form."""
    miss = _miss(case, case.key_lx, case.fill_lx, stuff.reflectance * line.white_lx, ratio)
    best, limit = _settled(case, size, line, miss)
    got = float(ratio * np.exp2(np.interp(np.log(best), np.log(line.far), miss)))
    return _choice(size, stuff, best, got, ratio, limit)


def _miss(case, key_lx, fill_lx, board_lx, ratio):
    """The ratio with the board's light on top of what else is key and fill, from the one wanted. [stops]"""
    with np.errstate(divide="ignore"):  # nothing fills: no end of contrast
        return stops((key_lx + fill_lx + board_lx) / (fill_lx + (0.0 if case.board_is_key else board_lx)) / ratio)


def _settled(case, size, line, miss):
    """Where the board should stand, and what keeps it from standing better. [m]"""
    free = np.array([not word for word in line.hindrance])
    if not free.any():
        return np.nan, f"{line.hindrance[0]} wherever it stands"
    crossings = _crossings(line.far, miss)
    for d in crossings:
        if not _hindrance(case, _with_board(case, d, size)):
            return float(d), ""
    best = float(line.far[free][np.argmin(np.abs(miss[free]))])
    return best, _reason(case, size, best, crossings[0]) if len(crossings) else _strength(case, miss[free][0])


def _reason(case, size, here, wanted_m):
    """Why a board that stands here cannot stand where it would do."""
    return f"{'nearer' if wanted_m < here else 'further'} it {_hindrance(case, _with_board(case, wanted_m, size))}"


def _strength(case, miss_stops):
    """A fill board that leaves too much contrast is weak, a key board strong."""
    return TOO_WEAK if (miss_stops > 0) != case.board_is_key else TOO_STRONG


def _crossings(far, miss):
    """Distances at which the miss goes through nothing, nearest first. [m]"""
    at = np.flatnonzero((miss[:-1] > 0) != (miss[1:] > 0))
    share = miss[at] / (miss[at] - miss[at + 1])
    return np.exp(np.log(far[at]) + share * np.log(far[at + 1] / far[at]))


def _confirmed(case, stuff, choice, line, ratio):
    """The choice set right and read by the engine: the closed form goes on from what was read, until it stays."""
    here, size, tried = choice.distance_m, (choice.width_m, choice.height_m), {}
    if np.isnan(here):
        return choice
    while (here := _taped(case, size, here)) not in tried and len(tried) < ROUNDS:
        read = _read(case, here, size, stuff)
        ahead, limit = _settled(case, size, line, _miss_from(case, read, line, here, ratio))
        off = float(_miss(case, read.key_lx, read.fill_lx, 0.0, ratio))
        limit = limit or ("" if abs(off) <= RULE_STOPS else STEPS_PAST)
        got = float(ratio * np.exp2(off))
        tried[here] = replace(choice, distance_m=here, ratio=got, miss_stops=off, level_stops=read.level_stops, limit=limit)
        here = ahead
    return min(tried.values(), key=lambda one: abs(one.miss_stops))


def _miss_from(case, read, line, here, ratio):
    """The miss along the line, had the board's light the closed form's shape and everything else stayed as read. [stops]"""
    board = read.by_source[case.board]
    others = (read.key_lx - board, read.fill_lx) if case.board_is_key else (read.key_lx, read.fill_lx - board)
    white_lx = np.interp(np.log(here), np.log(line.far), line.white_lx)
    return _miss(case, *others, board * line.white_lx / white_lx if white_lx > 0 else 0.0 * line.far, ratio)


def _read(case, distance_m, size, stuff):
    """The mark's reading with such a board there."""
    there = _with_board(case, distance_m, size, stuff=stuff)
    return next(mark for mark in readings(there).marks if mark.name == case.mark.name)


def _taped(case, size, distance_m):
    """To the 5 cm that a tape is held to, where the board may stand there."""
    near = np.round((np.round(distance_m / TAPE_M) + np.array([0, 1, -1])) * TAPE_M, 2)
    return float(next((d for d in near if d > 0 and not _hindrance(case, _with_board(case, d, size))), distance_m))


def _with_board(case, distance_m, size, **changes):
    """The setup with a board of that size at that distance."""
    changes |= {"width_m": size[0], "height_m": size[1]}
    return walked(case.setup, board=case.board, mark=case.mark.name, distance_m=distance_m, **changes)


def _hindrance(case, setup):
    """Why a board cannot stand where it does, or nothing."""
    board = setup.part(case.board)
    corners = rectangle_corners(board.at, board.aim, board.width_m, board.height_m, board.roll_deg)
    if isinstance(setup.place, Room) and not all(setup.place.contains(corner) for corner in corners):
        return "does not fit in the room"
    return "is in frame" if in_frame(setup, board) else ""


def _choice(size, stuff, distance_m, got, ratio, limit):
    return BoardChoice(*size, stuff.name, distance_m, got, float(stops(got / ratio)), np.nan, limit)


def _short(choices):
    """Of each size the first stuffs that do it, or else the one that comes nearest."""
    picked = []
    for size in dict.fromkeys((c.width_m, c.height_m) for c in choices):
        of = [c for c in choices if (c.width_m, c.height_m) == size]
        good = [c for c in of if not c.limit][:PER_SIZE]
        picked += good or [min(of, key=lambda c: np.inf if np.isnan(c.miss_stops) else abs(c.miss_stops))]
    return tuple(picked)


def _distance(wanted_lx, board):
    """How near an even board has to stand; 0 where even touching gives too little. [m]"""
    most_lx = board["board_lx"] * board["reflectance"]
    return float(bounce.board_distance_for_fill(fill_lx=wanted_lx, **board)) if wanted_lx < most_lx else 0.0


def _within(far, nearest_m, furthest_m):
    """A distance held to its limits, and which of them holds it. [m]"""
    if far < nearest_m:
        return nearest_m, TOO_WEAK
    return (furthest_m, TOO_STRONG) if far > furthest_m else (far, "")


def _sizes(sizes_m):
    """The sizes, smallest first."""
    sizes = [tuple(float(side) for side in size) for size in sizes_m]
    for size in sizes:
        if len(size) != 2:
            raise ValueError(f"sizes_m must be pairs of width and height, got {size}")
        check_range("sizes_m", size, above=0.0, high=30.0)
    return sorted(sizes, key=lambda size: size[0] * size[1])


def _positive(name, value):
    check_range(name, value, above=0.0)
    return value
