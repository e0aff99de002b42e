"""What one builds a setup from on paper: by the tape, lamps and their circuit, boards, notes, cautions."""

from __future__ import annotations

import numpy as np

from lightcalc import wording
from lightcalc.answers.circuits import amps_text, power_words
from lightcalc.answers.light_patch import beams, patch_words
from lightcalc.answers.placement import placements
from lightcalc.answers.readings import BLACK, Readings
from lightcalc.kit.materials import default_kit
from lightcalc.laws.haze import HAZE_CAUTION
from lightcalc.laws.power import HEAT_CAUTION, POWER_CAUTION
from lightcalc.paper import meter_blocks
from lightcalc.paper.blocks import Table, Words
from lightcalc.paper.page import LONGEST
from lightcalc.scene.numbering import call_signs, lit_mark
from lightcalc.scene.parts import DOORS, FOLDED_DEG, Board, Exterior, Light, Room, Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.units import stops

HEIGHT_CAUTION = (
    "Height: weight every stand, tie a safety line on everything overhead, keep people out from under; rigging and "
    "work at height are for trained people under local rules."
)
OUTSIDE_CAUTION = (
    "Outside: wind takes frames, boards and stands; guy and weight them, keep lamps and cables dry and the way past clear."
)
SUN_CAUTION = "Sun: never look at it through the lens or a finder; it blinds eyes and burns sensors."
LEAST_STOPS = 0.05  # a board that changes nothing by more gives nothing that a meter shows
NEAR_MARK_M = 0.25  # a head's width


def tape(setup: Setup, units: str = "metric", *, both: bool = False, width: float) -> Table:
    """
    Where a tape finds each thing, and how it is panned and tilted.

    Parameters
    ----------
    setup : Setup
    units : {"metric", "feet"}
    both : bool, default False
        Lengths in the other unit too.
    width : float
        Of the table. [mm]

    Returns
    -------
    Table
        A row for each light, board, frame, flag, piece of furniture and mark, and the camera's.
    """
    signs, rows = call_signs(setup), []
    parts = setup.lights + setup.boards + setup.frames + setup.flags + setup.pieces + setup.marks + (setup.camera,)
    for placed, part in zip(placements(setup), parts, strict=True):
        sign = (
            ""
            if placed.kind in ("mark", "piece")
            else signs.get(("flag", placed.name) if placed.kind == "flag" else placed.name, "")
        )
        high = wording.length_text(placed.height_m, units, both=both)
        turned = [f"{wording.signed(placed.pan_deg, sign=False)}°", f"{wording.signed(placed.tilt_deg)}°", _roll(part)]
        rows.append((sign, wording.one_line(placed.name), _aim_text(setup, part), placed.where(units, both), high, *turned))
    kind = "edge of the plan" if isinstance(setup.place, Exterior) else "wall"
    title = f"By the tape (pan: 0° faces the far {kind}, clockwise from above; tilt: plus is up)"
    heads: tuple[str, ...] = ("", "What", "Faces", "Where, along the floor", "High", "Pan", "Tilt", "Roll")
    if not any(row[-1] for row in rows):
        heads, rows = heads[:-1], [row[:-1] for row in rows]
    return Table(title, heads, tuple(rows), wraps=(1, 2, 3), right=tuple(range(4, len(heads))), width=width)


def _roll(part):
    """Clockwise from behind; nothing for what is upright or has no face to turn."""
    flat = getattr(part, "face_width_m", 1.0) > 0
    roll = (getattr(part, "roll_deg", 0.0) + 180.0) % 360.0 - 180.0
    return f"{wording.signed(roll)}°" if flat and abs(roll) >= 0.5 else ""


def _aim_text(setup, part):
    """The mark it aims at, if the aim point is within a head's width of one."""
    mark = lit_mark(setup, part)
    near = mark is not None and mark is not part and np.linalg.norm(np.subtract(mark.at, part.aim)) < NEAR_MARK_M
    return wording.one_line(mark.name) if near else wording.DASH


def lights(shoot: Shoot, setup: Setup, units: str = "metric", *, both: bool = False, width: float) -> Table:
    """
    The lamps: kit, dimmer, gel, colour, watts and amps, and the light in front of each alone; under them the circuit.

    Parameters
    ----------
    shoot : Shoot
        Gives mains and breaker.
    setup : Setup
    units : {"metric", "feet"}
    both : bool, default False
        Lengths in the other unit too.
    width : float
        Of the table. [mm]

    Returns
    -------
    Table
    """
    rows, signs, drawn_by = [], call_signs(setup), amps_text(shoot, setup)
    for light, placed in zip(setup.lights, placements(setup)):
        cloth = ", ".join(
            [wording.one_line(p.name) for p in (light.gel, light.diffusion) if p is not None] + door_words(light, units)
        )
        kelvin = f"{light.kelvin_now:.0f}" if light.kelvin else wording.DASH
        watts = wording.number_text(light.watts, figures=4) if light.watts else wording.DASH
        drawn = drawn_by.get(light.name, wording.DASH)
        far, alone = meter_blocks.check_words(placed, units, both=both)
        rows.append(
            (signs[light.name], wording.one_line(light.name), wording.one_line(light.kit) or wording.DASH, wording.dim_text(light.dim, light.scrim_stops),
             cloth or wording.DASH, kelvin, watts, drawn, far, alone)
        )  # fmt: skip
    heads = ("", "Light", "Kit", "Dim", "Gel, diffusion", "K", "W", "A", "Alone, in front", "reads")
    foot = power_words(shoot, setup)
    return Table("Lights", heads, tuple(rows), wraps=(1, 2, 4), right=(5, 6, 7, 8, 9), width=width, foot=foot)


def door_words(light: Light, units: str = "metric") -> list[str]:
    """
    How a lamp is focused, its barn doors that are not folded back, and its snoot: 'top door 20°'.

    Parameters
    ----------
    light : Light
    units : {"metric", "feet"}

    Returns
    -------
    list of str
    """
    opened = {side: getattr(light, f"door_{side}_deg") for side in DOORS}
    words = [f"focus {wording.percent_text(light.focus)} to spot"] * bool(light.focus)
    words += [f"{side} door {wording.number_text(opened[side])}°" for side in DOORS if opened[side] < FOLDED_DEG]
    return words + [f"snoot {wording.distance_text(light.snoot_m, units)}"] * bool(light.snoot_m)


def boards(setup: Setup, readings: Readings, units: str = "metric", *, both: bool = False, width: float) -> Table:
    """
    Boards, frames and flags: how large, of what, and what they give.

    Parameters
    ----------
    setup : Setup
    readings : Readings
    units : {"metric", "feet"}
    both : bool, default False
        Lengths in the other unit too.
    width : float
        Of the table. [mm]

    Returns
    -------
    Table
    """
    signs, rows = call_signs(setup), []
    groups = (("board", setup.boards, "stuff"), ("frame", setup.frames, "diffusion"), ("flag", setup.flags, ""))
    for kind, group, cover in groups:
        for part in group:
            sign = signs[("flag", part.name) if kind == "flag" else part.name]
            size = wording.size_text(part.width_m, part.height_m, units=units)
            size += f" ({wording.size_text(part.width_m, part.height_m, units='feet' if units == 'metric' else 'metric')})" * both
            made_of = wording.one_line(getattr(part, cover).name) if cover else "black"
            black = kind == "flag" or (isinstance(part, Board) and part.stuff.reflectance <= BLACK)
            gives = "takes light away" if black else gives_words(readings, part.name)
            rows.append((sign, kind, wording.one_line(part.name), size, made_of, gives))
    heads = ("", "Kind", "Name", "Width x height", "Of", "Gives")
    return Table("Boards, frames and flags", heads, tuple(rows), wraps=(2, 4, 5), width=width)


def gives_words(readings: Readings, name: str) -> str:
    """
    What a board or frame gives the mark that it gives most, or that it gives nothing.

    Parameters
    ----------
    readings : Readings
    name : str
        Of the board or frame.

    Returns
    -------
    str

    Notes
    -----
    Straight from it: a mark's fill, or its whole where it is key, against the same without it. Nothing is under a
    twentieth of a stop at every mark, less than two meters of a kind differ.
    """
    found = []
    for mark in readings.marks:
        given, whole = mark.by_source.get(name, 0.0), mark.illuminance_lx if name in mark.key else mark.fill_lx
        found.append((float(stops(whole / max(whole - given, 1e-12))) if given > 0 else 0.0, mark))
    if not found:
        return wording.DASH
    most, mark = max(found, key=lambda pair: pair[0])
    if most < LEAST_STOPS:
        return "nothing: under 1/20 stop at every mark"
    what = "of its light" if name in mark.key else "of fill"
    less = wording.stops_text(most) if most < 10 else "nearly all"
    return f"{wording.one_line(mark.name)}: {less} {what}"


def landed(setup: Setup, units: str) -> list[str]:
    """
    Where light that comes in at windows lands, a line a lamp; the sun's or moon's where the setup has one.

    Parameters
    ----------
    setup : Setup
    units : {"metric", "feet"}

    Returns
    -------
    list of str
    """
    signs, lines, room = call_signs(setup), [], setup.place
    if not isinstance(room, Room):
        return []
    for beam in beams(setup):
        lies = patch_words(room, beam.patches, units=units) or (beam.note and f"nowhere: {beam.note}")
        if beam.through_windows and lies:
            name = f"{signs[beam.source]} {beam.source}" if beam.source in signs else f"the {beam.source}"
            lines.append(f"Light of {wording.one_line(name)} lands {wording.one_line(lies, most=400)}.")
    return lines


def notes(setup: Setup, units: str = "metric", *, width: float) -> Words:
    """
    The setup's own notes, its cut, and where light through windows lands.

    Parameters
    ----------
    setup : Setup
    units : {"metric", "feet"}
    width : float
        [mm]

    Returns
    -------
    Words
    """
    said = [setup.notes] if setup.notes.strip() else []
    said += [f"Must match setup {setup.cuts_to} across the cut."] if setup.cuts_to else []
    return Words("Notes", tuple(wording.one_line(n, most=LONGEST) for n in said + landed(setup, units)), width)


def cautions(setup: Setup) -> tuple[str, ...]:
    """
    The usual cautions that apply to a setup, and only those.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    tuple of str
        One sentence or two each; local codes and licensed people decide.
    """
    kit = default_kit().lamp
    stands = setup.lights + setup.boards + setup.flags + setup.frames
    powered = [light for light in setup.lights if light.watts > 0]
    hot = [light for light in powered if light.kit not in kit or kit[light.kit].source != "led"]
    outside = [p for p in stands if isinstance(setup.place, Exterior) or not setup.place.contains(p.at)]
    applies = (
        (setup.haze.extinction_per_m > 0, HAZE_CAUTION),
        (powered, POWER_CAUTION),
        (hot, HEAT_CAUTION),
        (any(p.at[2] > 2.0 for p in stands), HEIGHT_CAUTION),
        (outside, OUTSIDE_CAUTION),
        (_sun_seen(setup), SUN_CAUTION),
    )
    return tuple(words for when, words in applies if when)


def _sun_seen(setup):
    """Whether the sun may get into a lens: it is up, and there is a sky or a window to see it by."""
    there = isinstance(setup.place, Exterior) or setup.place.windows
    return bool(there) and setup.sun is not None and setup.sun.body == "sun" and setup.sun.elevation_deg > -1.0
