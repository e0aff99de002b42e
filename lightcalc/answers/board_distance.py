"""A board walked nearer and further: what it sends to a mark, exactly and by rule of thumb, and the ratio both ways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.answers.readings import readings
from lightcalc.engine.solve import Lit, light
from lightcalc.laws import bounce, falloff
from lightcalc.scene.parts import Board, Mark, Setup, basis, rectangle_corners
from lightcalc.units import Numbers, Row, check_range, stops

RULE_STOPS = 1 / 3  # how far a rule of thumb may be out
PATCHES = 4  # each way on an unevenly lit board
CLEAR_M = 0.02  # a board's lower edge over the floor


@dataclass(frozen=True)
class RatioCurve:
    """Ratio against the board's distance; every array has shape (n,)."""

    distance_m: np.ndarray
    key_lx: np.ndarray
    fill_lx: np.ndarray
    board_lx: np.ndarray  # from the board, at the mark
    point_lx: np.ndarray  # the same by the inverse square law
    board_is_key: bool

    @property
    def ratio(self) -> np.ndarray:
        """(key + fill) : fill."""
        return (self.key_lx + self.fill_lx) / self.fill_lx

    @property
    def key_to_fill(self) -> np.ndarray:
        """key : fill, always one less."""
        return self.key_lx / self.fill_lx

    @property
    def point_ratio(self) -> np.ndarray:
        """(key + fill) : fill, had the board been a point."""
        extra = self.point_lx - self.board_lx
        key, fill = (self.key_lx + extra, self.fill_lx) if self.board_is_key else (self.key_lx, self.fill_lx + extra)
        return (key + fill) / fill

    @property
    def point_error_stops(self) -> np.ndarray:
        """What the point formula reads too high, of the board's light. [stops]"""
        return stops(self.point_lx / self.board_lx)

    @property
    def rule_good_from_m(self) -> float:
        """From here on the point formula is within a third of a stop; 0 if it is everywhere, inf if nowhere. [m]"""
        bad = np.flatnonzero(np.abs(self.point_error_stops) > RULE_STOPS)
        if not bad.size:
            return 0.0
        if bad[-1] == len(self.distance_m) - 1:
            return np.inf
        pair = slice(bad[-1], bad[-1] + 2)
        error, far = np.abs(self.point_error_stops[pair]), np.log(self.distance_m[pair])
        return float(np.exp(np.interp(-RULE_STOPS, -error, far)))


def rule_of_thumb_m(*, width_m: float, height_m: float, error_stops: float = RULE_STOPS) -> float:
    r"""
    Distance from which the point formula is good enough, opposite the middle of an even matt board. [m]

    Parameters
    ----------
    width_m, height_m : float
        Board, > 0. [m]
    error_stops : float, default 1/3
        How much too high it may read, above 0 to 3. [stops]

    Returns
    -------
    float

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    Solves :math:`w h / (\pi d^2 F(d)) = 2^\epsilon` by halving the logarithm of the distance 60 times. A square board
    is a third of a stop out at 1.13 times its side; the same board at five sides is 1.3 % out.

    References
    ----------
    .. [1] `lightcalc.laws.falloff.rectangle_factor`, centred; IES Lighting Definitions, 9.1.1, for the five sides.

    Examples
    --------
    >>> round(rule_of_thumb_m(width_m=1.2, height_m=1.2), 2)
    1.35
    """
    check_range("error_stops", error_stops, above=0.0, high=3.0)
    board: dict[str, Any] = {"width_m": width_m, "height_m": height_m}
    falloff.rectangle_factor(distance_m=1.0, **board)  # refuses a board without a size
    size = np.sqrt(width_m * height_m)
    low, high = np.log(size) - 12.0, np.log(max(width_m, height_m)) + 12.0
    for _ in range(60):
        middle = (low + high) / 2.0
        far = np.exp(middle)
        excess = width_m * height_m / (np.pi * far**2 * falloff.rectangle_factor(distance_m=far, **board))
        low, high = (middle, high) if stops(excess) > error_stops else (low, middle)
    return float(np.exp((low + high) / 2.0))


def ratio_curve(setup: Setup, distance_m: Row, *, board: str, mark: str, quality: str = "final") -> RatioCurve:
    """
    Read a setup with one board walked nearer and further, beside what the point formula says.

    Parameters
    ----------
    setup : Setup
    distance_m : sequence of float, shape (n,)
        Mark to the middle of the board, rising, > 0. [m]
    board : str
        It walks along the line from the mark through its middle, facing as it does now.
    mark : str
        Where the ratio is read.
    quality : {'final', 'draft'}
        As for `readings.readings`.

    Returns
    -------
    RatioCurve

    Raises
    ------
    ValueError
        If the setup has no such board or mark, the distances do not rise, or a part would leave the room.

    Notes
    -----
    The point formula takes the light on the board's middle and sends it on as intensity over distance squared.
    """
    far = np.asarray(distance_m, dtype=float)
    check_range("distance_m", far, above=0.0)
    check_range("steps of distance_m", np.diff(far), above=0.0, hint="nearest first")
    case = board_case(setup, board=board, mark=mark)
    rows = []
    for d in far:
        there = walked(case.setup, board=board, mark=mark, distance_m=d)
        read = next(m for m in readings(there, quality=quality).marks if m.name == mark)
        rows.append((read.key_lx, read.fill_lx, read.by_source[board], _point_lx(case, there.part(board))))
    key, fill, from_board, point = np.array(rows).T
    return RatioCurve(far, key, fill, from_board, point, case.board_is_key)


def walked(setup: Setup, *, board: str, mark: str, distance_m: float, **changes: Any) -> Setup:
    """
    The setup with a board walked to a distance from a mark.

    Parameters
    ----------
    setup : Setup
    board, mark : str
        Names of a board and of a mark.
    distance_m : float
        Mark to the middle of the board, > 0. [m]
    **changes
        Other fields of the board, its size say.

    Returns
    -------
    Setup
        The board stands on the line from the mark through its old middle and faces the way it did; where its
        lower edge would go under the floor it is lifted, the distance kept.

    Raises
    ------
    ValueError
        If there is no such board or mark, or a value does not do.
    """
    check_range("distance_m", distance_m, above=0.0)
    part, at = replace(setup.part(board), **changes), np.asarray(setup.part(mark).at)
    away, facing = np.subtract(part.at, at), np.subtract(part.aim, part.at)
    reach = float(np.linalg.norm(away))
    if reach < 1e-6:
        raise ValueError(f"board '{board}' must stand apart from mark '{mark}', both are at {list(part.at)}")
    corners = rectangle_corners((0, 0, 0), facing, part.width_m, part.height_m, part.roll_deg)
    rise = max(away[2] / reach * distance_m, float(corners[:, 2].max()) + CLEAR_M - at[2])
    level, along = np.sqrt(max(distance_m**2 - rise**2, 0.0)), np.hypot(*away[:2])
    if along > 1e-9 and level > 0:
        place = at + np.array([*(level * away[:2] / along), rise])
    else:
        place = at + distance_m * away / reach
    return setup.with_part(board, at=tuple(place), aim=tuple(place + facing), **changes)


def in_frame(setup: Setup, board: Board) -> bool:
    """
    Whether the camera sees any of a board, were nothing in front of it.

    Parameters
    ----------
    setup : Setup
    board : Board

    Returns
    -------
    bool
    """
    camera = setup.camera
    right, up, forward = basis(camera.at, camera.aim)
    wide = 0.5 * camera.sensor_width_mm / camera.focal_mm
    high = 0.5 * camera.sensor_height_mm / camera.focal_mm
    corners = rectangle_corners(board.at, board.aim, board.width_m, board.height_m, board.roll_deg) - np.asarray(camera.at)
    walls = [wide * forward + right, wide * forward - right, high * forward + up, high * forward - up]  # normals inwards
    for normal in walls:
        corners = _clipped(corners, normal)
    return len(corners) > 0


def _clipped(corners, normal):
    """What is left of a convex polygon in front of a plane through the origin, shape (n, 3)."""
    kept = []
    for a, b in zip(np.roll(corners, 1, axis=0), corners):
        ha, hb = a @ normal, b @ normal
        if (ha > 0) != (hb > 0):
            kept.append(a + (b - a) * ha / (ha - hb))
        if hb > 0:
            kept.append(b)
    return np.array(kept).reshape(-1, 3)


@dataclass(frozen=True)
class BoardCase:
    """A setup to try boards in: its key named, and what the mark and the board's line get without the board."""

    setup: Setup
    board: str
    mark: Mark
    bare: Lit  # of the setup without the board
    key_lx: float
    fill_lx: float
    board_is_key: bool

    @property
    def without(self) -> float:
        """Ratio without the board."""
        return (self.key_lx + self.fill_lx) / self.fill_lx if self.fill_lx > 0 else np.inf


def board_case(setup: Setup, *, board: str, mark: str) -> BoardCase:
    """
    What there is at a mark without a board, and whether that board is key.

    Parameters
    ----------
    setup : Setup
    board, mark : str
        Names of a board and of a mark.

    Returns
    -------
    BoardCase

    Raises
    ------
    ValueError
        If the setup has no such board or mark, the key does not reach the mark, or the board is the only key and
        nothing fills.

    Notes
    -----
    Where the setup names no key, it is the source that gives the mark most without the board.
    """
    for kind, name in (("board", board), ("mark", mark)):
        known = [part.name for part in getattr(setup, kind + "s")]
        if name not in known:
            raise ValueError(f"{kind} must be one of {', '.join(known) or 'none'}, got {name!r}")
    others = tuple(part for part in setup.boards if part.name != board)
    spots = tuple(spot for spot in setup.spots if spot.source != board)
    bare = light(replace(setup, boards=others, spots=spots, targets=(), key=()))
    at = setup.part(mark)
    lux = bare.illuminance_lx([at.at], [np.subtract(at.aim, at.at)], dome=at.receptor == "dome")[0]
    by_source = dict(zip(bare.setup.source_names + (bare.setup.place.sends_back,), lux.tolist()))
    key = setup.key or tuple(sorted(bare.setup.source_names, key=lambda name: -by_source[name])[:1]) or (board,)
    key_lx = sum(by_source.get(name, 0.0) for name in key)
    fill_lx = sum(by_source.values()) - key_lx
    if board not in key and key_lx <= 0:
        raise ValueError(f"mark '{mark}' gets nothing from its key ({', '.join(key)}): there is no ratio to fill to")
    if board in key and fill_lx <= 0:
        raise ValueError(f"mark '{mark}' has no fill: with board '{board}' as key there is no ratio to reach")
    named = replace(setup, key=key, spots=spots, targets=())
    return BoardCase(named, board, at, bare, key_lx, fill_lx, board in key)


def white_board_lx(case: BoardCase, boards: Sequence[Board]) -> Numbers:
    """
    What each of some boards would send a mark, were it perfectly white. [lx]

    Parameters
    ----------
    case : BoardCase
    boards : sequence of Board, length n
        Of one size.

    Returns
    -------
    array, shape (n,)
        One bounce; each of 4 x 4 patches lit as its middle is in the setup without the board, and seen exactly by a
        flat receptor. The air's own light is left out.
    """
    at, look = np.asarray(case.mark.at, dtype=float), np.subtract(case.mark.aim, case.mark.at)
    patches = np.array([_patches(board) for board in boards])  # (n, k, 4, 3)
    middles = patches.mean(axis=2)
    facing = np.array([np.subtract(board.aim, board.at) for board in boards])
    lux = _falls_on_lx(case.bare, middles, np.repeat(facing[:, None], middles.shape[1], axis=1))
    normal, weight = look, 1.0
    if case.mark.receptor == "dome":  # small patches: what a flat receptor turned to them gets, weighed as a dome does
        normal = (middles - at) / np.linalg.norm(middles - at, axis=-1)[..., None]
        weight = (1.0 + normal @ look / np.linalg.norm(look)) / 2.0
    seen = weight * falloff.polygon_factor(vertices=patches, point=at, normal=normal)
    front = np.einsum("ni,ni->n", at - middles.mean(axis=1), facing) > 0  # else the mark is behind it
    return np.where(front, np.sum(lux * seen, axis=1), 0.0)


def _falls_on_lx(lit, points, normals):
    """Illuminance on flat patches, any leading shape: sources, surfaces, but not the air. [lx]"""
    lux = lit.illuminance_lx(points.reshape(-1, 3), normals.reshape(-1, 3), air=False)
    return lux.sum(axis=1).reshape(points.shape[:-1])


def _patches(board):
    """A board cut into equal rectangles, shape (PATCHES^2, 4, 3). [m]"""
    corners = rectangle_corners(board.at, board.aim, board.width_m, board.height_m, board.roll_deg)
    across, up = (corners[1] - corners[0]) / PATCHES, (corners[3] - corners[0]) / PATCHES
    cells = [corners[0] + i * across + j * up for i in range(PATCHES) for j in range(PATCHES)]
    return np.array([[c, c + across, c + across + up, c + up] for c in cells])


def _point_lx(case, board):
    """The board's light at the mark by the inverse square law. [lx]"""
    at, middle = np.asarray(case.mark.at, dtype=float), np.asarray(board.at, dtype=float)
    facing, look = np.subtract(board.aim, board.at), np.subtract(case.mark.aim, case.mark.at)
    d = float(np.linalg.norm(at - middle))
    leaves = max((at - middle) @ facing / d / np.linalg.norm(facing), 0.0)
    lands = (middle - at) @ look / d / np.linalg.norm(look)
    lands = (1 + lands) / 2 if case.mark.receptor == "dome" else max(lands, 0.0)
    lux = float(_falls_on_lx(case.bare, middle, facing))
    luminance = bounce.board_luminance(reflectance=board.stuff.reflectance, illuminance_lx=lux)
    return float(luminance * board.width_m * board.height_m * leaves * lands / d**2)
