"""A setup as the plain numbers that the page draws and changes, and back again."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from matplotlib import colormaps
from matplotlib.colors import to_hex

from lightcalc.answers.light_patch import SOFT_DEG, beams, lamp_beam_deg
from lightcalc.laws import haze
from lightcalc.laws.engraved import ring_number, t_stop_as_typed
from lightcalc.scene.fields import SceneError, is_number, quantities, show
from lightcalc.scene.parts import BODIES, Aim, Board, Camera, Flag, Frame, Haze, Light, Mark, Piece, Room, Setup, Spot, Window
from lightcalc.scene.solids import Solid, furniture, person

KINDS = ("light", "board", "frame", "flag", "piece", "mark", "spot", "window")
FIELDS = {  # what the page may change, by kind: field or, of a dim, its stops, to the field's quantity
    part.kind: {"dim_stops" if about.kind == "dim" else name: about for name, about in quantities(part).items() if about.on_stage}
    for part in (Light, Board, Frame, Flag, Piece, Mark, Spot, Window, Camera, Haze)
}
SIDES = ("width_m", "depth_m", "height_m")  # of a piece
PAGE_CORNERS = 48  # of a round beam, as the page draws it
DARK_STOPS = -6.0  # where a dimming slider ends; below that a light is off
BAND_STOPS = range(-6, 6)  # whole stops told apart in colour; what is under or over takes the end colours
BANDS = [  # one for under, one a stop, one for over: evenly lighter for every eye (Nunez, Anderton & Renslow 2018)
    [BAND_STOPS[0] + i - 1, to_hex(colour)]
    for i, colour in enumerate(colormaps["cividis"](np.linspace(0.0, 1.0, len(BAND_STOPS) + 2)))
]


def things_of(setup: Setup) -> Iterator[tuple]:
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


def values_of(setup: Setup) -> dict[str, dict[str, Any]]:
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
    values = {
        "haze": {"extinction_per_m": float(setup.haze.extinction_per_m)},
        "sun": _sun(setup),
        "beams": _beams(setup),
        "solids": _solids(setup),
    }
    for thing, kind, part in things_of(setup):
        values[thing] = {field: _value(part, field, about) for field, about in FIELDS[kind].items()}
        if kind == "light":
            values[thing] |= {"width_m": float(part.face_width_m), "height_m": float(part.face_height_m)}
        if kind == "camera":
            values[thing] |= {"sensor_width_mm": float(part.sensor_width_mm), "sensor_height_mm": float(part.sensor_height_mm)}
    return values


def _beams(setup):
    """Where the beam of each lamp goes and lands, and the sun's through windows: corners of convex pieces, to the millimetre."""
    found = {}
    for beam in beams(setup, corners=PAGE_CORNERS):
        light = None if beam.source in BODIES else setup.part(beam.source)
        wide = not beam.through_windows and (lamp_beam_deg(light) or 360.0) > SOFT_DEG
        lands = [] if wide or not isinstance(setup.place, Room) else beam.patches
        found["sun" if light is None else f"light:{light.name}"] = {
            "of": {} if light is None else {field: _value(light, field, FIELDS["light"][field]) for field in ("at", "aim")},
            "wide": wide,
            "air": [_corners(stretch) for stretch in beam.shaft],
            "approach": [[wall, _corners(stretch)] for wall, stretch in beam.approach],
            "lands": [[patch.surface, _corners(patch.corners_m)] for patch in lands],
            "dark": [[patch.surface, _corners(patch.corners_m)] for patch in (beam.shadows if lands else ())],
        }
    return found


def _solids(setup):
    """What people and furniture are made of, for the drawing: where a thing stood, and its pieces' middles and half sides. [m]"""
    found = {f"mark:{mark.name}": (mark, person(mark)) for mark in setup.marks if mark.figure}
    found |= {f"piece:{piece.name}": (piece, furniture(piece)) for piece in setup.pieces}
    return {
        thing: {"at": [float(v) for v in part.at], "parts": [_solid(solid) for solid in solids]}
        for thing, (part, solids) in found.items()
    }


def _solid(solid: Solid):
    return {"ball": solid.shape == "ball", "middle": _corners(solid.middle), "half": _corners(solid.axes * solid.half[:, None])}


def _corners(points):
    return (np.round(points, 3) + 0.0).tolist()


def _sun(setup):
    """Where the sun stands, as a direction in the room frame and in words; empty without one."""
    if setup.sun is None:
        return {}
    to = [float(v) for v in setup.sun.direction(setup.place.bearing_deg)]
    high = "high" if setup.sun.elevation_deg >= 0.0 else "under the horizon"
    return {"to": to, "words": f"sun {abs(setup.sun.elevation_deg):.0f}\N{DEGREE SIGN} {high}"}


def _value(part, field, about):
    if about.kind == "dim":
        return math.log2(part.dim) + 0.0 if part.dim > 0.0 else None
    value = getattr(part, field)
    if field == "focus" and part.narrow is None:
        return None  # the page shows none
    if isinstance(part, Piece) and field in SIDES:
        return float(part.size_m[SIDES.index(field)])  # the usual one where none is given
    if about.kind == "t_stop":
        return ring_number(t_stop=value)
    return [float(v) for v in value] if about.kind in ("point", "aim") else float(value)


def moved(setup: Setup, thing: str, fields: dict) -> Setup:
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
        raise SceneError(f"the stage has nothing called {show(thing)} to change")
    for field in fields:
        if field not in FIELDS[kind]:
            raise SceneError(f"{kind}: '{field}' cannot be changed on the stage; {', '.join(FIELDS[kind])} can")
    me = f"{kind} '{name}'" if name else kind
    changes = dict(_change(me, field, FIELDS[kind][field], value) for field, value in fields.items())
    if kind in ("camera", "haze"):
        return replace(setup, **{kind: replace(getattr(setup, kind), **changes)})
    parts = _parts(setup, kind)
    if name not in [part.name for part in parts]:
        raise SceneError(f"setup '{setup.name}': no {kind} here is called '{name}'")
    return _with_parts(setup, kind, tuple(_changed(part, changes) if part.name == name else part for part in parts))


def _changed(part, changes):
    """A part with new values; one that is panned and tilted stays so, with other angles."""
    aim = getattr(part, "aim", None)
    if (
        "aim" in changes
        and isinstance(aim, Aim)
        and isinstance(aim.said, tuple)
        and not FIELDS[part.kind]["aim"].wrong("aim", changes["aim"])
    ):
        changes = changes | {"aim": Aim(changes["aim"], aim.said)}
    return replace(part, **changes)


def _change(me, field, about, value):
    """One field from the page as the scene holds it; what is no such value is left for the part to refuse."""
    number = is_number(value) and abs(value) < 1e15
    if about.kind != "dim":
        return field, (t_stop_as_typed(number=float(value)) if about.kind == "t_stop" else float(value)) if number else value
    if value is None:
        return "dim", 0.0
    if not number or not value <= 1e-9:
        raise SceneError(f"{me}: dim must be a number of stops, 0 (full) or less, got {show(value)}")
    return "dim", min(1.0, 2.0 ** max(float(value), -60.0))


def place_of(setup: Setup) -> dict[str, Any]:
    """What does not move: the walls, what is in their windows, and the name and kind of every thing."""
    place = setup.place
    return {
        "title": setup.title or setup.name,
        "room": isinstance(place, Room),
        "size": [float(s) for s in place.size_m],
        "windows": [_window(w) for w in place.windows] if isinstance(place, Room) else [],
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
