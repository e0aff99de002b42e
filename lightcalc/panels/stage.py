"""
The stage: a plan to drag on, the camera picture, the stop ladder and the readings, in one widget.

    page                                       kernel
    hand moves a light  --- ops, seq 7 --->    new Setup -> light -> readings, picture (draft)
    (drawn at once)     <-- all of it, ack 7 --
    next position only when 7 has come back    0.15 s of quiet -> the same again, final

The page sends where things are, never a reading; every reading it shows was made and worded here, so
page, printed readings and saved notebook cannot differ. Its own are only tape distances and how far
one sees at a haze setting, which must follow the hand.
"""

from __future__ import annotations

import asyncio
import base64
import io
import math
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Callable

import anywidget
import numpy as np
import traitlets
from matplotlib import colormaps
from matplotlib.colors import to_hex

from lightcalc import exposure, figures, haze
from lightcalc.figures import number_text, stops_text
from lightcalc.scene import Room, SceneError, Setup
from lightcalc.units import fc_from_lx, fl_from_cd_m2

PARTS = ("plan", "picture", "ladder", "readings")
UNITS = ("metric", "feet")
KINDS = ("light", "board", "frame", "flag", "mark", "spot")
FIELDS = {  # what the page may change, by kind
    "light": ("at", "aim", "dim_stops", "roll_deg"),
    "board": ("at", "aim", "width_m", "height_m", "roll_deg"),
    "frame": ("at", "aim", "width_m", "height_m", "roll_deg"),
    "flag": ("at", "aim", "width_m", "height_m", "roll_deg"),
    "mark": ("at", "aim"),
    "spot": ("at",),
    "camera": ("at", "aim", "focal_mm", "t_stop", "iso", "fps", "shutter_deg", "nd_stops"),
    "haze": ("extinction_per_m",),
}
QUANTITY_WORDS = {"level": "level", "fill_under": "fill under", "beam_over": "over background", "veil": "veil"}
DARK_STOPS = -6.0  # where a dimming slider ends; below that a light is off
REST_S = 0.15  # quiet time after the last message before the final pass
BREATH_S = (0.02, 0.6)  # and between its readings and its picture: half as long as the last picture took, within these
MOST_OPS = 200  # changes in one message
MOST_STEPS = 200  # undo steps kept
NO_LEVEL = -32768  # a pixel without light, in the level map
BAND_STOPS = range(-6, 6)  # whole stops told apart in colour; what is under or over takes the end colours
BANDS = [  # one for under, one a stop, one for over: evenly lighter for every eye (Nunez, Anderton & Renslow 2018)
    [BAND_STOPS[0] + i - 1, to_hex(colour)]
    for i, colour in enumerate(colormaps["cividis"](np.linspace(0.0, 1.0, len(BAND_STOPS) + 2)))
]


@dataclass(frozen=True)
class Engine:
    """What the stage computes with: `light(setup)`, `readings(setup)`, `picture(setup)` and their options."""

    light: Callable
    readings: Callable
    picture: Callable

    @classmethod
    def default(cls):
        """The package's own; brought in late so that the compiled parts load when first used."""
        from lightcalc import lit, meter, view

        return cls(light=lit.light, readings=meter.readings, picture=view.picture)


class Stage(anywidget.AnyWidget):
    """
    A setup to look at and to move about in.

    Parameters
    ----------
    setup : scene.Setup
        What to show; `stage.setup` is what it has become.
    shoot_file : shootfile.ShootFile, optional
        The file that the setup came from; gives the page a button that writes it back.
    parts : sequence of str, default ("plan", "picture", "ladder", "readings")
        What to show.
    sliders : sequence of str, optional
        "haze" and names of lights; all of them when not given.
    units : {"metric", "feet"}, default "metric"
        Lengths and light as a person reads them; the page can switch.
    snap_m : float, default 0.0
        Step that dragged things keep to, 0 to 5; 0 leaves a centimetre. [m]
    draft_px, final_px : int, default 320 and 640
        Width of the picture while something moves, and at rest. [pixels]
    engine : Engine, optional
        What computes; the package's own when not given.

    Raises
    ------
    ValueError
        If a part, slider, unit, step or width is not one of those accepted.

    Notes
    -----
    Numbers seen while something moves are drafts and marked "settling"; anything read from Python
    (`readings`, `print_readings`, `save`) waits for the final pass.
    """

    _esm = Path(__file__).with_name("stage.js")
    _css = Path(__file__).with_name("stage.css")
    place = traitlets.Dict().tag(sync=True)  # what stays: walls, windows, names, options
    values = traitlets.Dict().tag(sync=True)  # what moves: numbers by thing
    shown = traitlets.Dict().tag(sync=True)  # what came out, in words
    frame = traitlets.Bytes().tag(sync=True)  # the picture, RGBA
    levels = traitlets.Bytes().tag(sync=True)  # its levels at rest, int16, hundredths of a stop
    ack = traitlets.List().tag(sync=True)  # [client, seq] of the message answered
    units = traitlets.Enum(UNITS, "metric").tag(sync=True)

    def __init__(
        self, setup, *, shoot_file=None, parts=PARTS, sliders=None, units="metric", snap_m=0.0,
        draft_px=320, final_px=640, engine=None,
    ):  # fmt: skip
        if not isinstance(setup, Setup):
            raise ValueError(f"setup must be a scene.Setup, got {type(setup).__name__}")
        _choose("parts", parts, PARTS)
        _choose("units", (units,), UNITS)
        _between("snap_m", snap_m, 0.0, 5.0)
        _between("draft_px", draft_px, 16, 1920)
        _between("final_px", final_px, 16, 1920)
        _choose("sliders", sliders or (), _sliders(setup))
        super().__init__(units=units)
        self.shoot_file, self.engine = shoot_file, engine
        self._options = {"parts": list(parts), "snap_m": float(snap_m)}
        self._sliders = None if sliders is None else tuple(sliders)
        self._px = {"draft": int(draft_px), "final": int(final_px)}
        self._past, self._future, self._gesture = [], [], None
        self._picture_s = 0.0  # what the last final picture took
        self._notice, self._timer, self._shown_at = "", None, {"readings": "", "picture": ""}
        self._setup, self._readings, self._picture, self._lit = setup, None, None, None
        self._renew("final")
        self.on_msg(self._from_page)

    def __repr__(self):
        counts = [(len(getattr(self._setup, kind + "s")), kind) for kind in ("light", "board", "mark")]
        return f"Stage('{self._setup.name}': {', '.join(f'{n} {kind}' + 's' * (n != 1) for n, kind in counts)})"

    # ---- what Python sees -------------------------------------------------------------------

    @property
    def setup(self):
        """The setup as it stands; set it to show another."""
        return self._setup

    @setup.setter
    def setup(self, setup):
        if not isinstance(setup, Setup):
            raise ValueError(f"setup must be a scene.Setup, got {type(setup).__name__}")
        before = (self._setup, list(self._past), list(self._future))
        self._remember(None)
        self._setup = setup
        try:
            self._renew("final")
        except Exception:
            self._setup, self._past, self._future = before
            raise

    @property
    def readings(self):
        """The final readings of the setup as it stands, `meter.Readings`."""
        self._settle_numbers()
        return self._readings

    @property
    def picture(self):
        """The final picture of the setup as it stands, `view.Picture`."""
        self.settle()
        return self._picture

    @property
    def lit(self):
        """The light of the setup as it stands, `lit.Lit`."""
        self._settle_numbers()
        return self._lit

    def print_readings(self):
        """Print the final readings, stops to a tenth."""
        print("\n".join(self.readings.lines(units=self.units)))

    def settle(self):
        """Make the final pass now, where what is shown is a draft."""
        self._stop_timer()
        self._settle_numbers()
        self._settle_picture()

    def undo(self, steps=1):
        """Go back so many changes."""
        self._step(-abs(int(steps)))
        self._renew("final")

    def redo(self, steps=1):
        """Take back so many undos."""
        self._step(abs(int(steps)))
        self._renew("final")

    def save(self):
        """
        Write the setup back to its shoot file.

        Returns
        -------
        str
            What was written, in words.

        Raises
        ------
        ValueError
            If the stage was made without `shoot_file`, or the file cannot take it: see `shootfile.ShootFile.save`.
        """
        if self.shoot_file is None:
            raise ValueError("this stage has no shoot_file to save to; make it with Stage(setup, shoot_file=...)")
        shoot = self.shoot_file.shoot
        shoot.setup(self._setup.name)  # says so if the file has no setup of this name
        setups = tuple(self._setup if one.name == self._setup.name else one for one in shoot.setups)
        self.shoot_file = self.shoot_file.save(replace(shoot, setups=setups))
        self._say(f"Saved to {self.shoot_file.path.name}.")
        return self._notice

    # ---- what the page sends ------------------------------------------------------------------

    def _from_page(self, _, message, buffers):
        """One message: a list of changes. Whatever it holds, answer it and keep the last good state."""
        client, seq = _sender(message)
        if client is None:
            return  # not ours
        before = (self._setup, list(self._past), list(self._future))
        self._notice = ""
        with self.hold_sync():  # one update message, so the page never shows half of one
            for op in _ops(message):
                self._try(op)
            if self._setup is not before[0]:
                self._draft(before)
            self._say(self._notice)
            self.ack = [client, seq]
        self._settle_later()

    def _try(self, op):
        """Apply one change, or keep the sentence that says why not."""
        try:
            if "step" in op:
                self._step(int(op["step"]))
            elif "save" in op:
                self.save()
            elif "move" not in op:
                raise SceneError(f"the stage can move, step and save, not {', '.join(map(str, op))[:60] or 'nothing'}")
            else:
                self._move(op["move"], str(op.get("gesture", ""))[:80])
        except SceneError as error:
            self._notice = str(error)
        except (ValueError, TypeError, KeyError, OverflowError, AttributeError, OSError) as error:
            self._notice = f"Not done: {error}"

    def _move(self, changes, gesture):
        setup = self._setup
        for thing, fields in list(changes.items())[:MOST_OPS]:
            setup = moved(setup, thing, fields)
        if values_of(setup) == self._values_now:
            return  # a nudge that changes nothing is no step to undo
        self._remember(gesture)
        self._setup, self._values_now = setup, values_of(setup)

    def _remember(self, gesture):
        """One gesture, one undo step: a drag of a hundred positions comes back at once."""
        if not gesture or gesture != self._gesture:
            self._past = (self._past + [self._setup])[-MOST_STEPS:]
        self._future, self._gesture = [], gesture

    def _step(self, steps):
        """Walk the history, as far as it goes."""
        source, sink = (self._past, self._future) if steps < 0 else (self._future, self._past)
        for _ in range(min(abs(steps), len(source))):
            sink.append(self._setup)
            self._setup = source.pop()
        self._gesture, self._values_now = None, values_of(self._setup)

    # ---- computing and showing --------------------------------------------------------------------

    def _draft(self, before):
        """Show the new setup as a draft; if it cannot be computed, go back to the one before."""
        try:
            self._renew("draft")
        except Exception as error:  # the engine's own: the page must go on with the last good state
            self._setup, self._past, self._future = before
            self._values_now, self._gesture, self._notice = values_of(self._setup), None, f"Not done: {error}"

    def _renew(self, quality):
        """Compute, then show: nothing changes on the page unless everything came out."""
        self._stop_timer()
        lit, readings = self._read(quality)
        picture = self._look(lit, quality)
        with self.hold_sync():
            there = _sliders(self._setup)
            sliders = [name for name in there if self._sliders is None or name in self._sliders]
            self.place = self._options | {"sliders": sliders} | place_of(self._setup)
            self.values = self._values_now = values_of(self._setup)
            self._show_readings(lit, readings, quality)
            self._show_picture(picture, quality)

    def _settle_numbers(self):
        if self._shown_at["readings"] != "final":
            self._show_readings(*self._read("final"), "final")

    def _settle_picture(self):
        if self._shown_at["picture"] != "final":
            self._show_picture(self._look(self._lit, "final"), "final")

    def _engine(self):
        return self.engine if self.engine is not None else Engine.default()

    def _read(self, quality):
        engine = self._engine()
        lit = engine.light(self._setup, quality=quality)
        return lit, engine.readings(self._setup, lit=lit, quality=quality)

    def _look(self, lit, quality):
        start = time.perf_counter()
        picture = self._engine().picture(self._setup, width=self._px[quality], lit=lit, quality=quality)
        if quality == "final":
            self._picture_s = time.perf_counter() - start
        return picture

    def _show_readings(self, lit, readings, quality):
        self._lit, self._readings, self._shown_at["readings"] = lit, readings, quality
        self.shown = self.shown | shown_of(self._setup, readings) | self._state()

    def _show_picture(self, picture, quality):
        self._picture, self._shown_at["picture"] = picture, quality
        rgba = picture.rgba()
        with self.hold_sync():
            self.frame = rgba.tobytes()
            self.levels = level_map(picture.level_stops) if quality == "final" else b""
            self.shown = self.shown | self._state() | {"size": [rgba.shape[1], rgba.shape[0]]}

    def _state(self):
        return {
            "quality": dict(self._shown_at),
            "notice": self._notice,
            "undo": len(self._past),
            "redo": len(self._future),
            "save": self.shoot_file is not None,
        }

    def _say(self, notice):
        self._notice = notice
        self.shown = self.shown | self._state()

    def _settle_later(self):
        """Final pass once the hand has rested; at once where no event loop runs."""
        self._stop_timer()
        if set(self._shown_at.values()) == {"final"}:
            return
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            return self._quietly(self.settle)
        self._timer = loop.call_later(REST_S, self._settle_in_turn, loop)

    def _settle_in_turn(self, loop):
        """Readings first, for they are what is read; then, unless the hand moved again meanwhile, the picture."""
        self._quietly(self._settle_numbers)
        # a new move waits until a picture is done: the longer one takes, the surer the hand must have rested
        self._timer = loop.call_later(min(max(0.5 * self._picture_s, BREATH_S[0]), BREATH_S[1]), self._quietly, self._settle_picture)

    def _quietly(self, settle):
        try:
            settle()
        except Exception as error:  # nobody is there to catch it: the draft stays, and stays marked
            self._say(f"The final pass failed: {error}")

    def _stop_timer(self):
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    # ---- the static twin --------------------------------------------------------------------------

    def _repr_mimebundle_(self, **kwargs):
        """The widget, and beside it a still of the same stage for readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        data = {k: v for k, v in data.items() if k != "text/html"}
        data["text/plain"] = repr(self)
        data["image/png"] = base64.b64encode(self.still()).decode("ascii")
        return data, metadata

    def still(self):
        """
        The stage as a still picture.

        Returns
        -------
        bytes
            A PNG of plan, picture and ladder.
        """
        self.settle()
        out = io.BytesIO()
        figures.stage_twin(self._setup, self._readings, self._picture, units=self.units).savefig(out, format="png")
        return out.getvalue()


def _sliders(setup):
    """Everything that may have a slider: the haze, and every light's dim."""
    return ("haze",) + tuple(light.name for light in setup.lights)


def _choose(name, given, choices):
    for one in given:
        if one not in choices:
            raise ValueError(f"{name} must be of {', '.join(choices)}, got {one!r}")


def _between(name, value, low, high):
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise ValueError(f"{name} must be {low:g} to {high:g}, got {value!r}")


def _sender(message):
    """Who asks, and which message it is: (None, 0) if it is not one of the page's."""
    if not isinstance(message, dict) or not isinstance(message.get("client"), str):
        return None, 0
    seq = message.get("seq")
    return message["client"][:40], seq if isinstance(seq, int) else 0


def _ops(message):
    """The changes in a message that are changes at all."""
    ops = message.get("ops")
    return [op for op in ops[:MOST_OPS] if isinstance(op, dict)] if isinstance(ops, list) else []


# ---- a setup as plain numbers, and back --------------------------------------------------------


def things_of(setup):
    """Everything in a setup that can be moved, as (id, kind, part): the id is "kind:name"."""
    yield "camera", "camera", setup.camera
    for kind in KINDS:
        for part in getattr(setup, kind + "s"):
            yield f"{kind}:{part.name}", kind, part


def values_of(setup):
    """
    What the page needs to draw a setup, by thing and field.

    Parameters
    ----------
    setup : scene.Setup

    Returns
    -------
    dict of dict
        Lists of metres, numbers with their unit in the key; `dim_stops` is None for a light that is off.
    """
    values = {"haze": {"extinction_per_m": float(setup.haze.extinction_per_m)}}
    for thing, kind, part in things_of(setup):
        values[thing] = {field: _value(part, field) for field in FIELDS[kind]}
        if kind == "light":
            values[thing] |= {"width_m": float(part.face_width_m), "height_m": float(part.face_height_m)}
        if kind == "camera":
            values[thing]["sensor_width_mm"] = float(part.sensor_width_mm)
    return values


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
    setup : scene.Setup
    thing : str
        "camera", "haze" or "kind:name", as in `values_of`.
    fields : dict
        New numbers by field; only those of `FIELDS`.

    Returns
    -------
    scene.Setup

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
    parts = getattr(setup, kind + "s")
    if name not in [part.name for part in parts]:
        raise SceneError(f"setup '{setup.name}': no {kind} here is called '{name}'")
    changed = tuple(replace(part, **changes) if part.name == name else part for part in parts)
    return replace(setup, **{kind + "s": changed})


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
    """What does not move: the walls with their windows, the sun, and the name and kind of every thing."""
    place, inside = setup.place, isinstance(setup.place, Room)
    sun = setup.sun
    return {
        "title": setup.title or setup.name,
        "room": inside,
        "size": [float(s) for s in place.size_m],
        "windows": [_window(w) for w in place.windows] if inside else [],
        "sun": sun and {
            "to": [float(v) for v in sun.direction(place.bearing_deg)],
            "words": f"sun {sun.elevation_deg:.0f}\N{DEGREE SIGN} high",
        },
        "things": [_thing(*thing) for thing in things_of(setup)],
        "dark_stops": DARK_STOPS,
        "bands": BANDS,
        "sight_log": -math.log(haze.CONTRAST_THRESHOLD),
    }  # fmt: skip


def _window(window):
    return {
        "name": window.name,
        "wall": window.wall,
        "centre_m": float(window.centre_m),
        "sill_m": float(window.sill_m),
        "width_m": float(window.width_m),
        "height_m": float(window.height_m),
        "bars": int(window.bars_upright),
        "bar_m": float(window.bar_m),
    }


def _thing(thing, kind, part):
    beam_deg = figures.beam_angle_deg(part.distribution) if kind == "light" else 180.0
    return {
        "id": thing,
        "kind": kind,
        "name": getattr(part, "name", "camera"),
        "note": getattr(part, "kit", "") or getattr(getattr(part, "stuff", None), "name", ""),
        "figure": bool(getattr(part, "figure", False)),
        "beam_deg": beam_deg if beam_deg < 170.0 else None,  # wider than that is no cone to draw
    }


# ---- answers in words ----------------------------------------------------------------------------


def level_map(level_stops):
    """
    A picture's levels as the page holds them.

    Parameters
    ----------
    level_stops : array of shape (h, w)
        Stops from middle grey; minus infinity where no light is.

    Returns
    -------
    bytes
        Little-endian int16 in hundredths of a stop, row by row; -32768 where no light is.
    """
    hundredths = np.where(np.isfinite(level_stops), np.clip(level_stops, -300.0, 300.0) * 100.0, NO_LEVEL)
    return np.rint(hundredths).astype("<i2").tobytes()


def _lux(lux):
    return {"metric": f"{number_text(lux)} lx", "feet": f"{number_text(float(fc_from_lx(lux)))} fc"}


def _nits(cd_m2):
    return {"metric": f"{number_text(cd_m2)} cd/m\N{SUPERSCRIPT TWO}", "feet": f"{number_text(float(fl_from_cd_m2(cd_m2)))} fL"}


def _percent(share):
    return f"{100.0 * share:.0f} %" if math.isfinite(share) else "\N{EN DASH}"


def _ratio(ratio):
    if ratio is None or math.isnan(ratio):
        return "\N{EN DASH}"
    return "no fill" if math.isinf(ratio) or ratio > 9999.0 else f"{ratio:.1f} : 1"


def shown_of(setup, readings):
    """
    Readings in words, in both unit systems, with what the ladder draws.

    Parameters
    ----------
    setup : scene.Setup
    readings : meter.Readings

    Returns
    -------
    dict
        Strings and finite numbers only: what JSON can carry and a page can show as it is.
    """
    camera = setup.camera
    return {
        "exposure": _exposure(camera),
        "reference": _lux(readings.reference_lx),
        "marks": [_mark(mark) for mark in readings.marks],
        "spots": [_spot(spot) for spot in readings.spots],
        "targets": [_target(target) for target in readings.targets],
        "ladder": [
            {"label": tick.label, "kind": tick.kind, "stops": float(tick.stops), "words": stops_text(tick.stops)}
            for tick in readings.ladder()
            if math.isfinite(tick.stops)
        ],
        "brackets": [b for b in (_bracket(target, readings) for target in readings.targets) if b],
        "range": [-float(camera.range_under_stops), float(camera.range_over_stops)],
    }


def _exposure(camera):
    nd = f", ND {camera.nd_stops:.3g} stops" if camera.nd_stops else ""
    return f"T{ring_number(camera.t_stop):.3g}, ISO {camera.iso:.0f}, 1/{1.0 / camera.time_s:.4g} s, {camera.fps:.4g} fps{nd}"


def _mark(mark):
    total = mark.illuminance_lx
    return {
        "name": mark.name,
        "lux": _lux(total),
        "level": stops_text(mark.level_stops),
        "ratio": _ratio(mark.ratio),
        "key_to_fill": _ratio(mark.key_to_fill),
        "ratio_stops": "no fill" if mark.ratio_stops == math.inf else stops_text(mark.ratio_stops, sign=False),
        "veil": stops_text(mark.veil_stops),
        "veil_share": _percent(mark.veil_share),
        "key": ", ".join(mark.key),
        "sources": [
            {"name": name, "lux": _lux(lux), "share": _percent(lux / total if total > 0.0 else math.nan)}
            for name, lux in mark.by_source.items()
        ],
    }


def _spot(spot):
    return {
        "name": spot.name,
        "luminance": _nits(spot.luminance_cd_m2),
        "level": stops_text(spot.level_stops),
        "source": spot.source,
        "beam_over": stops_text(spot.beam_over_stops) if spot.source else "",
    }


def _target(target):
    if target.met:
        verdict = "met"
    elif not math.isfinite(target.miss_stops):
        verdict = "missed: no light"
    else:
        side = "over" if target.got_stops > target.wanted_stops else "under"
        verdict = f"missed, {stops_text(abs(target.miss_stops), sign=False)} {side}"
    return {
        "of": target.of,
        "quantity": QUANTITY_WORDS.get(target.quantity, target.quantity),
        "wanted": stops_text(target.wanted_stops),
        "within": f"{target.within:.2g}",
        "got": stops_text(target.got_stops),
        "met": bool(target.met),
        "verdict": verdict,
    }


def _bracket(target, readings):
    """Where a target lies on the ladder; None for one without light to start from."""
    marks = {mark.name: mark.level_stops for mark in readings.marks}
    spots = {spot.name: spot for spot in readings.spots}
    centre = math.nan
    if target.quantity in ("level", "veil"):
        centre = target.wanted_stops
    elif target.quantity == "fill_under":  # typed as -2 or, by some, as 2: under either way
        centre = marks.get(target.of, math.nan) - abs(target.wanted_stops)
    elif target.of in spots and spots[target.of].background_cd_m2 > 0.0:
        centre = target.wanted_stops + math.log2(spots[target.of].background_cd_m2 / readings.reference_cd_m2)
    if not math.isfinite(centre):
        return None
    return {
        "label": f"{target.of} {QUANTITY_WORDS[target.quantity]}",
        "low": centre - target.within,
        "high": centre + target.within,
        "met": bool(target.met),
    }
