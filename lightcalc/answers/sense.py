"""
What is legal in a setup but surely not meant: a lamp that no window lets in, a board that gives nothing, a time without a place.

Geometry and the almanac alone tell most of it; readings that were made already tell the rest.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lightcalc.answers.circuits import overfull
from lightcalc.answers.light_patch import lamp_beam, lamp_beam_deg
from lightcalc.kit.materials import BLACK
from lightcalc.scene.openings import WALL_INWARD, walls_before, window_panes
from lightcalc.scene.parts import Exterior, Room, Setup, basis, rectangle_corners
from lightcalc.scene.solids import solids
from lightcalc.scene.sun_and_sky import moon_and_sky, sun_and_sky
from lightcalc.sky.clock import clock_time, zone
from lightcalc.wording import light_text, number_text, percent_text

if TYPE_CHECKING:
    from lightcalc.answers.readings import Readings
    from lightcalc.scene.shoot import Shoot

NEAR_M = 0.05  # a meter or a lens that looks at something closer sees little else
TOUCH_M = 0.02  # in it, whichever way it looks
SAME_M = 0.01  # two things closer are in the same place
BODY_SHARE = 0.1  # of a mark's light, from which on a shadow is worth a word: 0.15 stop
LOOKS = 0.5  # cosine: within 60 degrees of straight at it
LEAST_STOPS = 0.05  # a board that gives the fill less is not seen by a meter
DARK = 1e-6  # of a lamp's peak: no light that way
OFF_DEG, OFF_TIMES = 3.0, 2.0  # from the almanac; its light is a model's, half to twice
FACE_STEPS = 5  # points along each side of a lamp's face or a board
FAR_M = 1e4  # stands for the sun


@dataclass(frozen=True)
class Finding:
    """One thing that is surely not meant: where it stands in the file, what it is, and what would do."""

    setup: str
    path: tuple  # from the setup's own table
    thing: str
    problem: str
    remedy: str

    @property
    def short(self) -> str:
        """The thing and what is the matter."""
        return f"{self.thing}: {self.problem}" if self.thing else self.problem

    @property
    def sentence(self) -> str:
        """With the setup, and with what would do."""
        me = f"setup '{self.setup}'"
        return f"{me}{', ' + self.thing if self.thing else ''}: {self.problem}; {self.remedy}"

    @property
    def brief(self) -> str:
        """In short, with the setup."""
        return f"setup '{self.setup}'{', ' + self.thing if self.thing else ''}: {self.problem}"


def sense(shoot: Shoot, setup: Setup, *, read: Readings | None = None) -> tuple[Finding, ...]:
    """
    What of a setup is surely not meant.

    Parameters
    ----------
    shoot : Shoot
        Whose place and dates count; the setup need not be one of its own.
    setup : Setup
    read : readings.Readings, optional
        The setup's readings, where they were made: they say what a board or a key gives.

    Returns
    -------
    tuple of Finding

    Notes
    -----
    Light is followed in straight lines, from 25 points of a lamp's face or a board: an edge between them may be missed.
    """
    return (*setup_sense(setup, read=read), *_hour(shoot, setup), *_supply(shoot, setup))


def setup_sense(setup: Setup, *, read: Readings | None = None) -> tuple[Finding, ...]:
    """
    The same, of the set alone: without place, dates and almanac.

    Parameters
    ----------
    setup : Setup
    read : readings.Readings, optional

    Returns
    -------
    tuple of Finding
    """
    checks = (
        _lamps(setup),
        _boards(setup, read),
        _buried(setup),
        _key(setup, read),
        _spots(setup),
        _together(setup),
        _unlit(setup),
        _astray(setup),
        _half_outside(setup),
        _in_the_way(setup, read),
    )
    return tuple(Finding(setup.name, *found) for check in checks for found in check)


# lamps ..............................................................................


def _lit_lamps(setup):
    return [(index, light) for index, light in enumerate(setup.lights) if light.dim > 0.0]


def _lamps(setup):
    """Lamps that light nothing: outside without a window, stopped by flags, or aimed into the blue."""
    for index, light in _lit_lamps(setup):
        found = _stray(setup, light)
        if found:
            yield ("lights", index, "aim"), light.called, *found


def _stray(setup, light):
    place, remedy = setup.place, "aim it at what it is to light"
    inside = isinstance(place, Room) and place.contains(light.at)
    if isinstance(place, Room) and not inside:
        walls = walls_before(light.at, place)
        if not any(window.wall in walls and _passes(window) > 0.0 for window in place.windows):
            where = f"the {' or '.join(walls)} wall" if walls else "floor or ceiling"
            problem = f"it stands outside, and no window opens towards it (it is beyond {where}): 0 lx inside"
            return problem, "move it before a window, or into the room"
    beam = lamp_beam(setup, light)
    if beam.patches or _meets_something(setup, light) or "spreads" in beam.note:
        return None
    if setup.cutters and lamp_beam(setup, light, stops=()).patches:
        them, remedy = ("flags", "move a flag") if setup.flags else ("barn doors", "open a door")
        return f"{them} stop all of its beam", f"{remedy}, or take the lamp out"
    if isinstance(place, Room):
        return f"{beam.note or 'its beam lands nowhere'}: only spill comes in", "aim it at a mark through a window"
    return "its beam lands nowhere: neither ground, nor a mark or board is in it", remedy


def _passes(window):
    """Share of light a window passes, straight or spread. [1]"""
    return window.glass * (window.sheer.transmittance if window.sheer else 1.0)


def _meets_something(setup, light):
    """Whether a board or frame is in a lamp's beam; out of doors, a mark or haze will do: it need not meet the ground."""
    open_air, beam_deg = isinstance(setup.place, Exterior), lamp_beam_deg(light)
    if open_air and (setup.haze.extinction_per_m > 0.0 or beam_deg is None):
        return True
    forward = basis(light.at, light.aim)[2]
    facets = setup.boards + setup.frames
    start, end = np.array([light.at], dtype=float), np.add(light.at, FAR_M * forward)
    if any(_crosses(facet, start, end)[0] for facet in facets):
        return True
    points = [mark.at for mark in setup.marks if open_air] + [point for facet in facets for point in _grid(facet)]
    if not points:
        return False
    way = np.subtract(points, light.at)
    cosine = way @ forward / np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    return bool(np.any(cosine >= np.cos(np.radians((beam_deg or 180.0) / 2))))


# boards .............................................................................


def _boards(setup, read):
    """Boards that give nothing; black ones are there to take."""
    for index, board in enumerate(setup.boards):
        if board.stuff.reflectance <= BLACK or not setup.marks:
            continue
        given = None if read is None else _gain_stops(read, board.name)
        found = None if given is not None and given >= LEAST_STOPS else _idle(setup, board)
        if found:
            yield ("boards", index, "aim"), board.called, *found
        elif given is not None and given < LEAST_STOPS:
            problem = f"it lifts the fill by under 1/{1 / LEAST_STOPS:.0f} stop at every mark"
            yield ("boards", index), board.called, problem, "bring it nearer or into the light, or leave it on the truck"


def _gain_stops(read, name):
    """By how much a source lifts the fill, or the light whose key it is, where it lifts it most; None without any. [stops]"""
    pairs = []
    for mark in read.marks:
        rest = mark.illuminance_lx - (0.0 if name in mark.key else mark.key_lx)
        pairs += [(rest, mark.by_source.get(name, 0.0))] if mark.illuminance_lx > 0.0 else []
    return max(
        (np.inf if rest <= own else float(np.log2(rest / (rest - own))) for rest, own in pairs if own > 0.0),
        default=0.0 if pairs else None,
    )


def _idle(setup, board):
    """Why a board can give nothing, by where things stand."""
    normal = basis(board.at, board.aim)[2]
    if all(np.subtract(mark.at, board.at) @ normal <= 1e-6 for mark in setup.marks):
        return "its face is turned away from every mark", f"aim = '{setup.marks[0].name}' turns it"
    if all(not _faces(mark, _grid(board)).any() for mark in setup.marks):
        return "every mark faces away from it", "bring it to a side that a mark can see"
    dark = all(np.subtract(point, board.at) @ normal <= 1e-6 for point in _light_places(setup, board))
    if dark and (setup.sky is None or isinstance(setup.place, Room)):
        return "no light stands before its face", "turn it to a lamp or a window; it sends on what falls on its face"
    return None


def _light_places(setup, board):
    """Where light comes from, as points: lamps, windows, the sun, and other boards and frames."""
    place, found = setup.place, [p for other in setup.boards + setup.frames if other is not board for p in _grid(other)]
    room = isinstance(place, Room)
    found += [p for _, light in _lit_lamps(setup) if not room or place.contains(light.at) for p in _grid(light)]
    sun = setup.sun is not None and setup.sun.normal_lx > 0.0
    if room:
        outside = any(not place.contains(light.at) for _, light in _lit_lamps(setup))
        if sun or setup.sky is not None or outside:
            found += [p for window in place.windows for pane in window_panes(window, place) for p in pane]
    elif sun:
        found.append(np.add(board.at, FAR_M * setup.sun.direction(place.bearing_deg)))
    return found


# marks, camera and spots ............................................................


def _buried(setup):
    """Meters and lenses that are in something, or look at it from next to nothing."""
    places = [(("marks", index, "at"), mark) for index, mark in enumerate(setup.marks)]
    for path, part in [*places, (("camera", "at"), setup.camera)]:
        what = _too_near(setup, part)
        if what:
            yield path, part.called, what, "move it into the open"


def _too_near(setup, part):
    look = basis(part.at, part.aim)[2]
    for name, gap, towards in _walls(setup.place, part.at):
        if gap < NEAR_M and look @ towards > LOOKS:
            return f"it looks at the {name} from less than {100 * NEAR_M:.0f} cm"
    for facet in setup.boards + setup.flags + setup.frames:
        right, up, forward = basis(facet.at, facet.aim, facet.roll_deg)
        away = np.subtract(part.at, facet.at)
        across, high, deep = away @ right, away @ up, away @ forward
        gap = float(np.linalg.norm([max(abs(across) - facet.width_m / 2, 0), max(abs(high) - facet.height_m / 2, 0), deep]))
        if gap < TOUCH_M:
            return f"it is in {facet.called}"
        if gap < NEAR_M and -np.sign(deep) * (look @ forward) > LOOKS:
            return f"it looks at {facet.called} from less than {100 * NEAR_M:.0f} cm"
    return None


def _walls(place, at):
    """Each surface with how far off it is and the way to it."""
    (x, y, z), (width, depth, height) = at, place.size_m
    if isinstance(place, Room):
        gaps = {"left": x, "right": width - x, "near": y, "far": depth - y}
        yield from ((f"{wall} wall", gaps[wall], -np.array(WALL_INWARD[wall], dtype=float)) for wall in gaps)
        yield "ceiling", height - z, np.array([0.0, 0.0, 1.0])
    yield "floor" if isinstance(place, Room) else "ground", z, np.array([0.0, 0.0, -1.0])


def _spots(setup):
    for index, spot in enumerate(setup.spots):
        if np.linalg.norm(np.subtract(spot.at, setup.camera.at)) < NEAR_M:
            problem = "it stands where the camera is, and a spot meter looks from there"
            yield ("spots", index, "at"), spot.called, problem, "put it on what is to be read"


def _together(setup):
    """Two things in one place. Cheeks of a face may share one, and a spot may lie on anything."""
    things = [(("lights", index), light) for index, light in _lit_lamps(setup)]
    things += [((kind, i), part) for kind in ("boards", "frames", "flags", "marks") for i, part in enumerate(getattr(setup, kind))]
    things.append((("camera",), setup.camera))
    for j, (path, part) in enumerate(things):
        for _, other in things[:j]:
            apart = {part.kind, other.kind} == {"mark", "camera"} or _two_cheeks(part, other)
            if not apart and np.linalg.norm(np.subtract(part.at, other.at)) < SAME_M:
                yield (*path, "at"), part.called, f"it is in the same place as {other.called}", "move one of them"
                break
    windows = getattr(setup.place, "windows", ())
    for j, window in enumerate(windows):
        for other in windows[:j]:
            if window.wall == other.wall and _overlap(window, other):
                yield (), window.called, f"it overlaps {other.called}: its light is counted twice", "move one of them"


def _astray(setup):
    """People and furniture half in a wall, under the floor, or round a lamp, a lens or somebody's meter."""
    things = [(("marks", index, "at"), mark) for index, mark in enumerate(setup.marks) if mark.figure]
    things += [(("pieces", index, "at"), piece) for index, piece in enumerate(setup.pieces)]
    made = solids(setup)
    for path, thing in things:
        mine = [solid for solid in made if solid.of == thing.name]
        low, high = (
            end([solid.middle + sign * solid.reach_m for solid in mine], axis=0) for end, sign in ((np.min, -1), (np.max, 1))
        )
        into = _into(setup.place, low, high)
        if into is not None:
            yield path, thing.called, f"it reaches {100 * into[1]:.0f} cm into the {into[0]}", "move or turn it, or make it smaller"
        if any(solid.holds(thing.at) for solid in mine if thing.kind == "mark"):
            yield path, thing.called, "its face is inside its own body", "turn it: who lies looks up or aside, not along themselves"
        for part in (*(light for _, light in _lit_lamps(setup)), setup.camera, *setup.marks):
            if part is not thing and any(solid.holds(part.at) for solid in mine):
                yield path, thing.called, f"{part.called} is inside it", "move one of them"


def _half_outside(setup):
    """Lamps, boards and frames that poke through a wall, floor or ceiling: the engine counts them whole."""
    sizes = {"lights": ("face_width_m", "face_height_m"), "boards": ("width_m", "height_m"), "frames": ("width_m", "height_m")}
    for kind, sides in sizes.items():
        for index, thing in enumerate(getattr(setup, kind)):
            corners = rectangle_corners(thing.at, thing.aim, *(getattr(thing, side) for side in sides), thing.roll_deg)
            into = _into(setup.place, corners.min(axis=0), corners.max(axis=0))
            if into is not None:
                problem = f"it reaches {100 * into[1]:.0f} cm into the {into[0]}, and counts as if all of it were clear of it"
                yield (kind, index, "at"), thing.called, problem, "move or turn it, or make it smaller"


def _into(place, low, high):
    """What a thing between two corners reaches into, and how far; None for one that stands clear, or wholly outside. [m]"""
    size = np.array(place.size_m)
    indoors = isinstance(place, Room)
    if indoors and ((high < 0.0) | (low > size)).any():
        return None
    gaps = {"floor" if indoors else "ground": -low[2]}
    if indoors:
        gaps |= {"left wall": -low[0], "right wall": high[0] - size[0], "near wall": -low[1], "far wall": high[1] - size[1]}
        gaps["ceiling"] = high[2] - size[2]
    name = max(gaps, key=lambda key: gaps[key])
    return (name, gaps[name]) if gaps[name] > TOUCH_M else None


def _in_the_way(setup, read):
    """Who or what stands between a light and what it is read at, where a tenth of the light or more is lost to that."""
    if read is None:
        return
    made = solids(setup)
    for mark, got in zip(setup.marks, read.marks):
        others = [solid for solid in made if solid.of != mark.name]
        for source, start, lux in _straight_lights(setup, mark):
            stopping = next((solid.of for solid in others if solid.stops(start[None], mark.at)[0]), None)
            share = lux / (lux + got.illuminance_lx) if lux > 0.0 else 0.0
            if stopping is None or share < BODY_SHARE:
                continue
            path, thing = next(
                ((kind, index, "at"), part) for kind in ("marks", "pieces") for index, part in enumerate(getattr(setup, kind))
                if part.name == stopping
            )  # fmt: skip
            problem = f"it stands in the way of {source} to {mark.called}, where {percent_text(share)} of the light would be that"
            yield path, thing.called, problem, "the reading is in its shadow: move one of them, or leave it if that is meant"


def _straight_lights(setup, mark):
    """Each lamp and the sun as a mark would have it with nobody in the way: name, place, and about how many lux."""
    look, at = basis(mark.at, mark.aim)[2], np.asarray(mark.at, dtype=float)
    found = [(light.name, np.asarray(light.at, dtype=float), light) for _, light in _lit_lamps(setup)]
    if setup.sun is not None and setup.sun.elevation_deg > 0.0 and setup.sun.normal_lx > 0.0:
        found.append((setup.sun.source, at + FAR_M * setup.sun.direction(setup.place.bearing_deg), None))
    for name, start, light in found:
        if not _way_in(setup.place, start[None], mark)[0]:
            continue
        way = start - at
        distance = max(float(np.linalg.norm(way)), 1e-3)
        cosine = float(way @ look) / distance
        takes = 0.5 * (1.0 + cosine) if mark.receptor == "dome" else max(cosine, 0.0)
        if light is None:
            yield name, start, setup.sun.normal_lx * takes
            continue
        off = float(-way @ basis(light.at, light.aim)[2]) / distance
        cd = float(light.distribution_now.mean_cd(np.arccos(np.clip(off, -1.0, 1.0)))) * light.output
        yield name, start, cd * takes / distance**2


def _two_cheeks(one, other):
    return one.kind == other.kind == "mark" and (
        np.linalg.norm(np.subtract(one.aim, other.aim)) > SAME_M or one.receptor != other.receptor
    )


def _overlap(one, other):
    across = abs(one.centre_m - other.centre_m) < (one.width_m + other.width_m) / 2 - 1e-6
    return across and min(one.sill_m + one.height_m, other.sill_m + other.height_m) - max(one.sill_m, other.sill_m) > 1e-6


# the key ............................................................................


def _key(setup, read):
    """A key that gives the first mark nothing."""
    if not setup.marks or not setup.key:
        return
    mark, name = setup.marks[0], " and ".join(f"'{one}'" for one in setup.key)
    why = [_cut_off(setup, one, mark) for one in setup.key]
    none = all(why) if read is None else read.marks[0].key_lx <= 0.0
    if none:
        problem = f"it gives 0 lx at mark '{mark.name}'" + (f": {why[0]}" if why[0] else "")
        yield ("key",), f"key {name}", problem, "turn one to the other, clear the way, or name another key"


def _cut_off(setup, name, mark):
    """Why no straight light of a source reaches a mark; empty if some may."""
    if name == "sky":
        return ""
    if setup.sun is not None and name == setup.sun.source:
        if setup.sun.normal_lx <= 0.0 or setup.sun.elevation_deg <= 0.0:
            return "it gives no light"
        starts, part = np.add(mark.at, FAR_M * setup.sun.direction(setup.place.bearing_deg))[None], None
    else:
        part = next(one for one in setup.lights + setup.boards + setup.frames if one.name == name)
        starts = _grid(part)
        if part.kind == "light" and part.dim <= 0.0:
            return "it is off"
        sends = _sends(part, starts, mark.at) if part.kind == "light" else np.ones(len(starts), dtype=bool)
        if not sends.any():
            return "it faces away"
        starts = starts[sends]
    starts = starts[_faces(mark, starts)]
    if len(starts) == 0:
        return "the mark faces away from it"
    free, through = np.ones(len(starts), dtype=bool), _way_in(setup.place, starts, mark)
    for facet in setup.cutters + setup.boards + tuple(f for f in setup.frames if f.diffusion.direct <= 0.0):
        free &= (facet is part) | ~_crosses(facet, starts, mark.at)
    for solid in solids(setup):
        free &= ~solid.stops(starts, mark.at)
    if not through.any():
        return "no straight way leads in by a window"
    return "" if (free & through).any() else "what stands between stops it"


def _sends(light, starts, at):
    """From which points of a lamp's face some light goes towards a place."""
    way = np.subtract(at, starts)
    cosine = way @ basis(light.at, light.aim)[2] / np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    straight = light.distribution_now.mean_cd(np.arccos(np.clip(cosine, -1.0, 1.0))) > DARK * light.distribution_now.peak_cd
    spread = light.diffusion is not None and light.diffusion.diffuse > 0.0
    return straight | (spread & (cosine > 0.0))


def _faces(mark, points):
    """Which points a mark's receptor can see; a dome sees all but what is straight behind it."""
    way = np.subtract(points, mark.at)
    cosine = way @ basis(mark.at, mark.aim)[2] / np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    return cosine > (1e-6 if mark.receptor == "flat" else -1.0 + 1e-6)


def _way_in(place, starts, mark):
    """From which places outside a straight line leads to a mark by a window; cloth in it glows, and counts for all."""
    inside = np.array([not isinstance(place, Room) or place.contains(start) for start in starts])
    for window in getattr(place, "windows", ()):
        before = np.array([window.wall in walls_before(start, place) for start in starts])
        panes = window_panes(window, place)
        if window.sheer is not None and window.sheer.diffuse > 0.0 and _faces(mark, panes.reshape(-1, 3)).any():
            inside |= before & (window.glass > 0.0)
        elif _passes(window) > 0.0:
            inside |= before & np.any([_through(pane, starts, mark.at) for pane in panes], axis=0)
    return inside


def _through(pane, starts, end):
    """Which lines to a point go through an upright pane."""
    low, high = pane.min(axis=0), pane.max(axis=0)
    axis = int(np.argmin(high - low))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = ((low - starts) / np.subtract(end, starts))[:, axis]
        met = starts + share[:, None] * np.subtract(end, starts)
    others = [k for k in range(3) if k != axis]
    return (share > 0) & (share <= 1) & np.all((met[:, others] >= low[others]) & (met[:, others] <= high[others]), axis=1)


def _crosses(facet, starts, end):
    """Which lines to a point are stopped by a facet."""
    right, up, forward = basis(facet.at, facet.aim, facet.roll_deg)
    from_, to = (starts - facet.at) @ forward, np.subtract(end, facet.at) @ forward
    with np.errstate(divide="ignore", invalid="ignore"):
        share = from_ / (from_ - to)
        met = starts + share[:, None] * (np.asarray(end) - starts) - facet.at
        inside = (np.abs(met @ right) < facet.width_m / 2) & (np.abs(met @ up) < facet.height_m / 2)
    return (share > 1e-9) & (share < 1 - 1e-9) & inside


def _grid(part):
    """Points spread over a lamp's face or a facet, its corners among them; of a point of light, that one. (n, 3)"""
    width, height = (part.face_width_m, part.face_height_m) if part.kind == "light" else (part.width_m, part.height_m)
    if width <= 0.0:
        return np.array([part.at], dtype=float)
    right, up, _ = basis(part.at, part.aim, part.roll_deg)
    steps = np.linspace(-0.5, 0.5, FACE_STEPS)
    return np.array([np.add(part.at, width * u * right + height * v * up) for u in steps for v in steps])


# light at all, and the hour ..........................................................


def _unlit(setup):
    lamps = _lit_lamps(setup)
    if setup.lights and not lamps:
        yield ("lights", 0, "dim"), "", "every lamp is dimmed to 0", "turn one up, or take them out"
    sun = setup.sun is not None and setup.sun.normal_lx > 0.0
    if setup.haze.extinction_per_m > 0.0 and not setup.lights and not sun and setup.sky is None:
        yield ("haze",), "haze", "nothing lights it", "put up a lamp, or let the day in"


def _supply(shoot, setup):
    """Circuits that are asked for more than they carry for a day."""
    for index, circuit, would in overfull(shoot, setup):
        path = ("place",) if index is None else ("lights", index, "circuit")
        if circuit is None:
            yield Finding(
                setup.name, path, setup.lights[index].called, f"no circuit of '{setup.place.name}' has room for it", would
            )
            continue
        problem = (
            f"circuit '{circuit.name}' is asked for {number_text(circuit.amps)} A, and for a day carries {number_text(circuit.most_amps)} A "
            f"(80 % of {number_text(circuit.breaker_amps)} A)"
        )
        yield Finding(setup.name, path, "" if index is None else setup.lights[index].called, problem, would)


def _hour(shoot, setup):
    """Daylight that is left out without a word, or that the almanac knows otherwise."""
    place, when = setup.place, _when(shoot, setup)
    typed = [kind for kind in ("sun", "sky") if kind in setup.kept_out or getattr(setup, kind) is not None]
    enters = isinstance(place, Exterior) or any(_passes(window) > 0.0 for window in place.windows)
    none = 'or sun = "none" and sky = "none"'
    found = None
    if setup.time and when is None and len(typed) < 2 and enters:
        lacks = "place" if shoot.where is None else "dates"
        gives = "latitude_deg, longitude_deg, time_zone and dates" if lacks == "place" else "dates"
        found = ("time",), "", f"it has a time, but the shoot no {lacks}: no daylight is counted", f"give {gives}, {none}"
    elif isinstance(place, Exterior) and setup.sky is None and "sky" not in setup.kept_out:
        found = ("place",), "", f"{place.name} is open ground without any sky", 'give time, with a place and dates, or sky = "none"'
    elif isinstance(place, Room) and enters and not setup.time and not typed and shoot.where is not None:
        problem = "it has no time: daylight through its windows is not counted"
        found = ("place",), "", problem, f"give time, {none}"
    elif when is not None and setup.sun is not None and not setup.sun.model:
        found = _against_almanac(shoot, setup, when)
    if found:
        yield Finding(setup.name, *found)


def _when(shoot, setup):
    """The moment a setup is shot, or None."""
    dates = shoot.dates if shoot.where is not None else ()
    if not setup.time or not 1 <= setup.day <= len(dates):
        return None
    return dt.datetime.combine(dates[setup.day - 1], dt.time(*clock_time(setup.time)), zone(shoot.time_zone))


def _against_almanac(shoot, setup, when):
    """A typed sun or moon, held against where and how bright it is at that time."""
    typed, outlook = setup.sun, setup.outlook or "clear"
    model = (sun_and_sky if typed.body == "sun" else moon_and_sky)(shoot.where, when, outlook=outlook)[0]
    if model is not None:
        turn = abs((typed.bearing_deg - model.bearing_deg + 180.0) % 360.0 - 180.0)
        off = turn > OFF_DEG or abs(typed.elevation_deg - model.elevation_deg) > OFF_DEG
        low, high = sorted((typed.normal_lx, model.normal_lx))
        if not off and high <= OFF_TIMES * low:
            return None
    there = "not over the horizon" if model is None else _where(model)
    problem = f"it is typed {_where(typed)}; at {when:%H:%M} on {when:%Y-%m-%d} the almanac has it {there} ({outlook})"
    return ("sun",), f"the {typed.body}", problem, 'correct time or sun, or sun = "from time"'


def _where(sun):
    return f"{sun.elevation_deg:.0f} degrees up at {sun.bearing_deg % 360:.0f}, {light_text(sun.normal_lx)}"
