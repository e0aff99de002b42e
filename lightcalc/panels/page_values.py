"""A setup as the plain numbers that the page draws and changes, and back again."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from matplotlib import colormaps
from matplotlib.colors import to_hex

from lightcalc.answers.light_patch import SOFT_DEG, beams, lamp_beam_deg
from lightcalc.laws import exposure, haze
from lightcalc.scene.parts import Room, SceneError

KINDS = ("light", "board", "frame", "flag", "mark", "spot", "window")
FIELDS = {  # what the page may change, by kind
    "light": ("at", "aim", "dim_stops", "roll_deg"),
    "board": ("at", "aim", "width_m", "height_m", "roll_deg"),
    "frame": ("at", "aim", "width_m", "height_m", "roll_deg"),
    "flag": ("at", "aim", "width_m", "height_m", "roll_deg"),
    "mark": ("at", "aim"),
    "spot": ("at",),
    "window": ("centre_m", "sill_m", "width_m", "height_m"),
    "camera": ("at", "aim", "focal_mm", "t_stop", "iso", "fps", "shutter_deg", "nd_stops"),
    "haze": ("extinction_per_m",),
}
PAGE_CORNERS = 48  # of a round beam, as the page draws it
DARK_STOPS = -6.0  # where a dimming slider ends; below that a light is off
BAND_STOPS = range(-6, 6)  # whole stops told apart in colour; what is under or over takes the end colours
BANDS = [  # one for under, one a stop, one for over: evenly lighter for every eye (Nunez, Anderton & Renslow 2018)
    [BAND_STOPS[0] + i - 1, to_hex(colour)]
    for i, colour in enumerate(colormaps["cividis"](np.linspace(0.0, 1.0, len(BAND_STOPS) + 2)))
]


def things_of(setup):
    """Everything in a setup that can be moved, as (id, kind, part): the id is "kind:name"."""
    yield "camera", "camera", setup.camera
    for kind in KINDS:
        for part in _parts(setup, kind):
            yield f"{kind}:{part.name}", kind, part


def _parts(setup, kind):
    """The parts of one kind; windows are the room's, and open ground has none."""
    return getattr(setup.place, "windows", ()) if kind == "window" else getattr(setup, kind + "s")


def _with_parts(setup, kind, parts):
    """The setup with the parts of one kind exchanged; room and setup check themselves again."""
    if kind == "window":
        return replace(setup, place=replace(setup.place, windows=parts))
    return replace(setup, **{kind + "s": parts})


def values_of(setup):
    """
    What the page needs to draw a setup, by thing and field.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    dict of dict
        Lists of metres, numbers with their unit in the key; `dim_stops` is None for a light that is off.
    """
    values = {"haze": {"extinction_per_m": float(setup.haze.extinction_per_m)}, "sun": _sun(setup), "beams": _beams(setup)}
    for thing, kind, part in things_of(setup):
        values[thing] = {field: _value(part, field) for field in FIELDS[kind]}
        if kind == "light":
            values[thing] |= {"width_m": float(part.face_width_m), "height_m": float(part.face_height_m)}
        if kind == "camera":
            values[thing] |= {"sensor_width_mm": float(part.sensor_width_mm), "sensor_height_mm": float(part.sensor_height_mm)}
    return values


def _beams(setup):
    """Where the beam of each lamp goes and lands, and the sun's through windows: corners of convex pieces, to the millimetre."""
    found = {}
    for beam in beams(setup, corners=PAGE_CORNERS):
        light = None if beam.source == "sun" else setup.part(beam.source)
        wide = not beam.through_windows and (lamp_beam_deg(light) or 360.0) > SOFT_DEG
        lands = [] if wide or not isinstance(setup.place, Room) else beam.patches
        found["sun" if light is None else f"light:{light.name}"] = {
            "of": {} if light is None else {field: _value(light, field) for field in ("at", "aim")},
            "wide": wide,
            "air": [_corners(stretch) for stretch in beam.shaft],
            "approach": [[wall, _corners(stretch)] for wall, stretch in beam.approach],
            "lands": [[patch.surface, _corners(patch.corners_m)] for patch in lands],
        }
    return found


def _corners(points):
    return (np.round(points, 3) + 0.0).tolist()


def _sun(setup):
    """Where the sun stands, as a direction in the room frame and in words; empty without one."""
    if setup.sun is None:
        return {}
    to = [float(v) for v in setup.sun.direction(setup.place.bearing_deg)]
    high = "high" if setup.sun.elevation_deg >= 0.0 else "under the horizon"
    return {"to": to, "words": f"sun {abs(setup.sun.elevation_deg):.0f}\N{DEGREE SIGN} {high}"}


def _value(part, field):
    if field == "dim_stops":
        return math.log2(part.dim) + 0.0 if part.dim > 0.0 else None
    if field == "t_stop":
        return ring_number(part.t_stop)
    value = getattr(part, field)
    return [float(v) for v in value] if field in ("at", "aim") else float(value)


def moved(setup, thing, fields):
    """
    A setup with some numbers of one thing changed.

    Parameters
    ----------
    setup : Setup
    thing : str
        "camera", "haze" or "kind:name", as in `values_of`.
    fields : dict
        New numbers by field; only those of `FIELDS`.

    Returns
    -------
    Setup

    Raises
    ------
    SceneError
        If there is no such thing or field, or the new setup cannot be.
    """
    kind, _, name = str(thing).partition(":")
    if kind not in FIELDS or not isinstance(fields, dict):
        raise SceneError(f"the stage has nothing called {thing!r} to change")
    for field in fields:
        if field not in FIELDS[kind]:
            raise SceneError(f"{kind}: '{field}' cannot be changed on the stage; {', '.join(FIELDS[kind])} can")
    changes = dict(_change(kind, name, field, value) for field, value in fields.items())
    if kind in ("camera", "haze"):
        return replace(setup, **{kind: replace(getattr(setup, kind), **changes)})
    parts = _parts(setup, kind)
    if name not in [part.name for part in parts]:
        raise SceneError(f"setup '{setup.name}': no {kind} here is called '{name}'")
    changed = tuple(replace(part, **changes) if part.name == name else part for part in parts)
    return _with_parts(setup, kind, changed)


def _change(kind, name, field, value):
    """One field from the page as the scene holds it."""
    me = f"{kind} '{name}'" if name else kind
    if field in ("at", "aim"):
        return field, tuple(value) if isinstance(value, (list, tuple)) else value
    if field == "dim_stops" and value is None:
        return "dim", 0.0
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise SceneError(f"{me}: {field} must be a number, got {value!r}")
    if field == "t_stop":
        return field, _t_stop(float(value))
    if field != "dim_stops":
        return field, float(value)
    if not value <= 1e-9:
        raise SceneError(f"{me}: dim must be 0 stops (full) or less, got {value:g}")
    return "dim", min(1.0, 2.0 ** max(float(value), -60.0))


def ring_number(t_stop):
    """
    A T-stop as it is engraved on the ring; as it is, where the ring has no such click.

    Examples
    --------
    >>> ring_number(2.8284271247461903), ring_number(3.0)
    (2.8, 3.0)
    """
    try:
        ring = float(exposure.engraved_t_stop(t_stop=t_stop))
    except ValueError:  # beyond any ring
        return float(t_stop)
    return ring if abs(math.log2(_t_stop(ring) / t_stop)) < 1e-3 else float(t_stop)


def _t_stop(typed):
    """What a number off the ring stands for: 2.8 is 2.8284; any other number is itself."""
    try:
        return float(exposure.t_stop_from_engraved(label=typed))
    except ValueError:
        return typed


def place_of(setup):
    """What does not move: the walls, what is in their windows, and the name and kind of every thing."""
    place, inside = setup.place, isinstance(setup.place, Room)
    return {
        "title": setup.title or setup.name,
        "room": inside,
        "size": [float(s) for s in place.size_m],
        "windows": [_window(w) for w in place.windows] if inside else [],
        "things": [_thing(*thing) for thing in things_of(setup)],
        "dark_stops": DARK_STOPS,
        "bands": BANDS,
        "sight_log": -math.log(haze.CONTRAST_THRESHOLD),
    }  # fmt: skip


def _window(window):
    return {
        "name": window.name,
        "wall": window.wall,
        "bars": [int(window.bars_upright), int(window.bars_across)],
        "bar_m": float(window.bar_m),
    }


def _thing(thing, kind, part):
    return {
        "id": thing,
        "kind": kind,
        "name": getattr(part, "name", "camera"),
        "note": getattr(part, "kit", "") or getattr(getattr(part, "stuff", None), "name", ""),
        "figure": bool(getattr(part, "figure", False)),
        "beam_deg": lamp_beam_deg(part) if kind == "light" else None,
    }
