"""How many stops a setup's lights can still give, and whether that pays for a late change of camera."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.answers.camera_change import after_words, exposed
from lightcalc.answers.readings import Readings, readings
from lightcalc.laws.engraved import nearest_third
from lightcalc.scene.parts import BODIES, SceneError, Setup
from lightcalc.units import check_range, stops
from lightcalc.wording import nd_text, number_text, percent_text, plain, stops_text, t_stop_text

PAYERS = ("t_stop", "iso", "nd_stops", "shutter_deg")
WIDEST_T, HIGHEST_ISO = 1.4, 25_600.0  # what a package is taken to have when nobody says


@dataclass(frozen=True)
class LightReserve:
    """One light: how far it is from full."""

    name: str
    dim: float
    reserve_stops: float  # infinite for a light that is off


@dataclass(frozen=True)
class MarkReserve:
    """One mark: what it gains when every light that is on goes up together, until the first is at full."""

    name: str
    level_stops: float  # as planned
    lamp_share: float  # of its light, bounced light included, that comes from lamps and not from sun or sky
    gain_stops: float


@dataclass(frozen=True)
class Reserve:
    """The reserve of a setup. Ratios between lamps hold while they go up together; sun and sky do not follow."""

    setup: str
    lights: tuple
    marks: tuple
    reserve_stops: float  # all together, until the first is at full; 0 where no lamp is on
    first_at_full: str

    def lines(self) -> list[str]:
        """The reserve as plain text, stops to a tenth."""
        if not self.first_at_full:
            return [f"{self.setup}: no lamp is on, so there is no reserve in the lights"]
        first = f"{self.first_at_full} is at full first"
        rows = [f"{self.setup}: {stops_text(self.reserve_stops, sign=False)} stops in hand, all lamps together; {first}"]
        for light in self.lights:
            left = f"{stops_text(light.reserve_stops, sign=False)} stops to full" if light.dim > 0 else "off"
            rows.append(f"  {light.name}: {percent_text(light.dim)}, {left}")
        for mark in self.marks:
            gain, share = stops_text(mark.gain_stops, sign=False), percent_text(mark.lamp_share)
            rows.append(f"  {mark.name}: {stops_text(mark.level_stops)}, gains {gain}; {share} lamps")
        return rows

    def as_json(self) -> dict[str, Any]:
        """The reserve as plain data, units in the key names; a light that is off has None."""
        return plain(self)


@dataclass(frozen=True)
class Answer:
    """A late change of camera, answered."""

    setup: str
    asked: str
    cost_stops: float  # what the change takes from the picture; a minus gives
    reserve_stops: float  # what the lamps can give at the mark that gains least
    short_stops: float  # what is missing then; 0 if the lamps pay
    raise_stops: float  # how far every lamp goes up, if they are to pay as much as they can
    ways: tuple  # of (field, from, to, stops it pays): what else would pay, each alone
    then: Readings  # what is read after the change, the lamps as they are

    @property
    def on_target(self) -> bool:
        """Whether, after the change, every target is met with the lamps as they are."""
        return bool(self.then.targets) and self.then.met

    @property
    def paid(self) -> bool:
        """Whether there is nothing to pay, or the lamps alone pay for it."""
        return self.on_target or self.short_stops < 0.05

    def lines(self) -> list[str]:
        """The answer as plain text, stops to a tenth."""
        then = f"  then, lamps as they are: {after_words(self.then)}"
        if self.on_target:
            takes = "gives" if self.cost_stops < 0 else "takes"
            return [
                f"{self.setup}: {self.asked} {takes} {stops_text(abs(self.cost_stops), sign=False)} stops and is on target",
                then,
            ]
        if self.cost_stops <= 0.05:
            return [f"{self.setup}: {self.asked} costs nothing ({stops_text(-self.cost_stops)} stops)", then]
        told = (self.cost_stops, self.reserve_stops, self.raise_stops, self.short_stops)
        cost, give, up, short = (stops_text(value, sign=False) for value in told)
        head = f"{self.setup}: {self.asked} costs {cost} stops; the lamps can give {give}"
        if self.paid:
            return [f"{head}: every lamp up by {up}", then]
        rows = [f"{head}, short by {short}", then]
        for field, old, new, pays in self.ways:
            name = {"t_stop": "T", "iso": "ISO", "nd_stops": "ND stops", "shutter_deg": "shutter"}[field]
            left = self.short_stops - pays
            part = f"pays {stops_text(pays, sign=False)}, still short by {stops_text(left, sign=False)}"
            turn = f"{number_text(old, figures=4)} to {number_text(new, figures=4)}"
            rows.append(f"  {name} {turn} {'pays for it' if left < 0.17 else part}")
        return rows if self.ways else rows + ["  nothing on the camera is left to pay with: more light, or fewer frames"]

    def as_json(self) -> dict[str, Any]:
        """The answer as plain data, units in the key names."""
        row = plain(replace(self, then=None)) | {"paid": self.paid, "then": self.then.as_json()}  # type: ignore[arg-type]
        row["ways"] = [{"field": field, "from": old, "to": new, "pays_stops": pays} for field, old, new, pays in self.ways]
        return row


def reserve(setup: Setup, *, read: Readings | None = None, quality: str = "final") -> Reserve:
    r"""
    What a setup's lights can still give.

    Parameters
    ----------
    setup : Setup
    read : readings.Readings, optional
        The setup's readings, where they are already worked out.
    quality : {'final', 'draft'}
        Used for what has to be read.

    Returns
    -------
    Reserve

    Notes
    -----
    .. math:: r_i = -\log_2 d_i, \quad r = \min_i r_i, \quad
              g = \log_2\left(1 + s\,(2^r - 1)\right)

    d is a lamp's dim, s the share of a mark's light that comes from lamps, bounced light included. Where there is sun
    or sky the lamps are read once more alone; light adds, so nothing else needs to be. `dim` is a share of light: a
    scrim out counts as well as a dimmer up. Hot lamps shift in colour as they are dimmed, by some 100 K a stop of
    tungsten near full, which is not followed.
    """
    lights = tuple(LightReserve(light.name, light.dim, -float(stops(light.dim))) for light in setup.lights)
    burning = [light for light in lights if light.dim > 0]
    first = min(burning, key=lambda light: light.reserve_stops, default=None)
    most = max(first.reserve_stops, 0.0) if first else 0.0
    read = read or readings(setup, quality=quality)
    lamps = _lamps_alone_lx(setup, read, quality) if burning else dict.fromkeys((m.name for m in read.marks), 0.0)
    marks = tuple(_mark(mark, lamps[mark.name], most) for mark in read.marks)
    return Reserve(setup.name, lights, marks, most, first.name if first else "")


def _lamps_alone_lx(setup, read, quality):
    """What the lamps give each mark, straight and bounced. [lx]"""
    if setup.sun is None and setup.sky is None:
        return {mark.name: mark.illuminance_lx for mark in read.marks}
    key = tuple(name for name in setup.key if name not in BODIES)
    alone = replace(setup, sun=None, sky=None, key=key, targets=(), spots=())
    return {mark.name: mark.illuminance_lx for mark in readings(alone, quality=quality).marks}


def _mark(mark, lamps_lx, most):
    share = min(lamps_lx / mark.illuminance_lx, 1.0) if mark.illuminance_lx > 0 else 0.0
    return MarkReserve(mark.name, mark.level_stops, share, float(stops(1.0 + share * (2.0**most - 1.0))))


def raised(setup: Setup, change_stops: float) -> Setup:
    """
    The setup with every lamp up or down by so many stops.

    Parameters
    ----------
    setup : Setup
    change_stops : float
        Plus is brighter. [stops]

    Returns
    -------
    Setup

    Raises
    ------
    SceneError
        If a lamp would have to give more than it has.
    """
    check_range("change_stops", change_stops)
    factor = 2.0 ** float(change_stops)
    for light in setup.lights:
        if light.dim * factor > 1.0 + 1e-9:
            over = float(stops(light.dim * factor))
            raise SceneError(f"light '{light.name}': {change_stops:.1f} stops up is {over:.1f} stops more than it has at full")
    return replace(setup, lights=tuple(replace(light, dim=min(light.dim * factor, 1.0)) for light in setup.lights))


def lamps_for(setup: Setup, *, mark: str, at_stops: float, read: Readings | None = None, quality: str = "final") -> float:
    r"""
    How far every lamp must go up, or down, for a mark to sit at a level. [stops]

    Parameters
    ----------
    setup : Setup
    mark : str
        Name of the mark.
    at_stops : float
        Wanted level from middle grey. [stops]
    read : readings.Readings, optional
        The setup's readings, where they are already worked out.
    quality : {'final', 'draft'}
        Used for what has to be read.

    Returns
    -------
    float
        Change of every lamp; hand it to `raised`. [stops]

    Raises
    ------
    SceneError
        If there is no such mark, no lamp lights it, or sun and sky alone give it more than is wanted.

    Notes
    -----
    .. math:: c = \log_2 \frac{2^{\ell} E_\mathrm{ref} - E_\mathrm{day}}{E_\mathrm{lamps}}

    Light adds, so one reading is enough and the answer is exact.
    """
    check_range("at_stops", at_stops)
    read = read or readings(setup, quality=quality)
    there = {one.name: one for one in read.marks}
    if mark not in there:
        raise SceneError(f"setup '{setup.name}': mark must be one of {', '.join(there) or 'none'}, got '{mark}'")
    lamps = _lamps_alone_lx(setup, read, quality)[mark]
    if lamps <= 0:
        raise SceneError(f"setup '{setup.name}', mark '{mark}': no lamp lights it")
    wanted = 2.0 ** float(at_stops) * read.reference_lx - (there[mark].illuminance_lx - lamps)
    if wanted <= 0:
        raise SceneError(f"setup '{setup.name}', mark '{mark}': sun and sky alone give it more than {stops_text(at_stops)}")
    return float(stops(wanted / lamps))


def answer(
    setup: Setup, *, fps: float | None=None, shutter_deg: float | None=None, t_stop: float | None=None, iso: float | None=None, nd_stops: float | None=None, widest_t: float=WIDEST_T, highest_iso: float=HIGHEST_ISO,
    read: Readings | None=None, quality: str="final",
) -> Answer:  # fmt: skip
    """
    What a late change of camera costs, whether the lamps can pay, and what else would.

    Parameters
    ----------
    setup : Setup
    fps : float, optional
        New frame rate; the shutter angle stays unless it is given too. [1/s]
    shutter_deg : float, optional
        New shutter angle. [deg]
    t_stop, iso, nd_stops : float, optional
        New stop, speed and density in stops.
    widest_t : float, default 1.4
        The widest stop of the lens. [1]
    highest_iso : float, default 25 600
        The highest speed one will use; `noise.iso_table` says what it costs. [1]
    read : readings.Readings, optional
        The setup's readings, where they are already worked out.
    quality : {'final', 'draft'}
        Used for what has to be read.

    Returns
    -------
    Answer

    Raises
    ------
    ValueError
        If nothing is asked, or a number is outside its range.

    Notes
    -----
    The cost is the old reference illuminance against the new. The lamps' part is the gain of the mark that gains least;
    a setup without marks counts its lamps alone. Each way pays by itself, as far as the package goes, T and ISO by the
    next third of a stop that is enough; what was asked for is not offered back. A shutter on lamps of the mains keeps to
    the angles of `exposure.flicker_free_angles_deg`. Where the setup's targets are all met after the change, there is
    nothing to pay.
    """
    given = dict(fps=fps, shutter_deg=shutter_deg, t_stop=t_stop, iso=iso, nd_stops=nd_stops)
    asked = {name: value for name, value in given.items() if value is not None}
    if not asked:
        raise ValueError("nothing is asked; give one or more of fps, shutter_deg, t_stop, iso, nd_stops")
    check_range("widest_t", widest_t, above=0.0, hint="the widest stop of the lens, such as 1.4")
    check_range("highest_iso", highest_iso, above=0.0, hint="such as 6400")
    changes: dict[str, Any] = {name: float(value) for name, value in asked.items()}
    camera = replace(setup.camera, **changes)
    cost = float(stops(camera.reference_lx / setup.camera.reference_lx))
    read = read or readings(setup, quality=quality)
    held = reserve(setup, read=read, quality=quality)
    gain = min((mark.gain_stops for mark in held.marks), default=held.reserve_stops)
    short = max(cost - gain, 0.0)
    ways = _ways(camera, short, widest_t, highest_iso, taken=set(asked)) if short >= 0.05 else ()
    return Answer(
        setup.name, _asked_words(asked), cost, gain, short, _raise_for(held, cost, gain), ways, exposed(read, setup, camera)
    )


def _asked_words(asked):
    plain_words = {"fps": "{} fps", "shutter_deg": "{} degrees", "iso": "ISO {}"}
    ring = {"t_stop": t_stop_text, "nd_stops": nd_text}
    return ", ".join(
        ring[name](value) if name in ring else plain_words[name].format(number_text(value, figures=4))
        for name, value in asked.items()
    )


def _raise_for(held, cost, gain):
    """How far the lamps go up to give as much of the cost as they can, at the mark that gains least. [stops]"""
    if cost <= 0.0 or held.reserve_stops <= 0.0:
        return 0.0
    if cost >= gain:
        return held.reserve_stops
    share = min((mark.lamp_share for mark in held.marks), default=1.0)
    return float(stops(1.0 + (2.0**cost - 1.0) / share))


def _ways(camera, short, widest_t, highest_iso, taken):
    """What on the camera would pay for what is short, each alone. Tuples (field, from, to, stops)."""
    clicks = np.ceil(3.0 * short - 0.1) / 3.0  # rings and dials go in thirds: the next one that is enough, to a thirtieth
    wide = max(camera.t_stop / 2.0 ** (clicks / 2.0), widest_t)
    fast = min(camera.iso * 2.0**clicks, highest_iso)
    clear, open_deg = max(camera.nd_stops - short, 0.0), min(camera.shutter_deg * 2.0**short, 360.0)
    found = (
        ("t_stop", camera.t_stop, wide, 2.0 * float(stops(camera.t_stop / wide))),
        ("iso", camera.iso, fast, float(stops(fast / camera.iso))),
        ("nd_stops", camera.nd_stops, clear, camera.nd_stops - clear),
        ("shutter_deg", camera.shutter_deg, open_deg, float(stops(open_deg / camera.shutter_deg))),
    )
    return tuple((f, _shown(f, a), _shown(f, b), pays) for f, a, b, pays in found if f not in taken and pays > 0.05)


def _shown(field, value):
    """As the ring or dial says it, in thirds of a stop; the rest to a tenth."""
    if field in ("t_stop", "iso"):
        try:
            return float(nearest_third(scale=field, value=value))
        except ValueError:  # beyond any ring
            return float(value)
    return round(float(value), 1)
