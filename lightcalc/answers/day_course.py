"""The sun over the day: how fast a setup changes, which stop at which minute, and when it can be shot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from lightcalc.answers.readings import readings
from lightcalc.laws import exposure
from lightcalc.scene.parts import Exterior, Setup
from lightcalc.scene.sun_and_sky import STEP_STOPS, Clock, DayError  # fmt: skip
from lightcalc.units import Numbers, check_range, stops


@dataclass(frozen=True)
class DayCurve:
    """Readings of one setup through a day, its exposure left alone; arrays have a row a minute."""

    setup: Setup
    clock: Clock
    sun_deg: np.ndarray  # (n,) apparent height
    names: tuple[str, ...]  # marks, then spots
    level_stops: np.ndarray  # (n, names), from middle grey
    read: tuple  # (n,) readings.Readings

    @property
    def minutes(self) -> np.ndarray:
        """Minutes since local midnight, (n,). [min]"""
        return np.array(self.clock.minutes, dtype=float)

    def of(self, name: str) -> Numbers:
        """
        Level of a mark or spot by minute.

        Parameters
        ----------
        name : str

        Returns
        -------
        array (n,)
            From middle grey. [stops]

        Raises
        ------
        ValueError
            If the setup has no such mark or spot.
        """
        if name not in self.names:
            raise DayError(f"setup '{self.setup.name}': name must be one of {', '.join(self.names) or 'none'}, got {name!r}")
        return self.level_stops[:, self.names.index(name)]

    def stops_per_minute(self, name: str) -> Numbers:
        """
        How fast a level changes.

        Parameters
        ----------
        name : str

        Returns
        -------
        array (n,)
            Minus falls. [stops/min]
        """
        return np.gradient(self.of(name), self.minutes)

    def within(self, name: str, low_stops: float, high_stops: float) -> tuple[tuple[float, float], ...]:
        """
        When a level stays inside a band.

        Parameters
        ----------
        name : str
        low_stops, high_stops : float
            From middle grey. [stops]

        Returns
        -------
        tuple of (start, end)
            Minutes since local midnight, read in straight lines between the clock's. [min]
        """
        if not low_stops < high_stops:
            raise DayError(f"low_stops must be under high_stops, got {low_stops:g} and {high_stops:g}")
        level = self.of(name)
        return spans(self.minutes, np.minimum(level - low_stops, high_stops - level))

    def ride(
        self,
        name: str,
        *,
        at_stops: float,
        from_minute: float | None = None,
        to_minute: float | None = None,
        widest_t_stop: float = 0.7,
    ) -> tuple[Ride, ...]:
        """
        Which stop at which minute, to keep a level while the light goes.

        Parameters
        ----------
        name : str
        at_stops : float
            Level to keep, from middle grey. [stops]
        from_minute, to_minute : float, optional
            While the shot runs; all of the clock without them. [min]
        widest_t_stop : float, default 0.7
            The lens opens no further, and closes to T64 at most; what would need more has no turn.

        Returns
        -------
        tuple of Ride
            One for each third of a stop, the first at the start; the level is never off by more than a sixth.
        """
        minutes = self.minutes
        low = minutes[0] if from_minute is None else from_minute
        high = minutes[-1] if to_minute is None else to_minute
        fine = np.arange(low, high + 1e-9, 1.0 / 60.0)
        closed = np.interp(fine, minutes, self.of(name)) - at_stops  # stops to close the lens by, from what is set
        thirds = np.round(np.clip(closed, -60.0, 60.0) / STEP_STOPS).astype(int)  # no light at all is minus infinity
        turns = np.flatnonzero(np.diff(thirds, prepend=thirds[0] - 1))
        t_stops = self.setup.camera.t_stop * 2.0 ** (thirds * STEP_STOPS / 2.0)
        reach = (t_stops >= widest_t_stop * 2.0 ** (-1 / 12)) & (t_stops <= 64.0 * 2.0 ** (1 / 12))  # half a third over
        return tuple(self._step(fine[i], t_stops[i], thirds[i] * STEP_STOPS) for i in turns if reach[i])

    def _step(self, minute, t_stop, closed_stops):
        label = float(exposure.engraved_t_stop(t_stop=t_stop))
        return Ride(float(minute), self.clock.day.text(minute), float(t_stop), label, float(closed_stops))

    def possible(self, *, ride_stops: float = 0.0) -> tuple[tuple[float, float], ...]:
        """
        When every target of the setup is met.

        Parameters
        ----------
        ride_stops : float, default 0
            How far the exposure may be moved for it, either way, >= 0. [stops]

        Returns
        -------
        tuple of (start, end)
            Minutes since local midnight. A setup without targets is possible all day. [min]
        """
        check_range("ride_stops", ride_stops, low=0.0, high=20.0)
        return spans(self.minutes, np.array([_room_left(read.targets, ride_stops) for read in self.read]))


@dataclass(frozen=True)
class Ride:
    """A turn of the iris in an exposure ride."""

    minute: float  # since local midnight
    text: str  # on the clock
    t_stop: float
    label: float  # as engraved
    closed_stops: float  # from the setup's own stop; minus opens


def _room_left(targets, ride_stops):
    """Stops by which targets are met at the best exposure within reach; minus where one is missed."""
    shifted = [t for t in targets if t.quantity in ("level", "veil")]
    fixed = [min(t.got_stops - t.low_stops, t.high_stops - t.got_stops) for t in targets if t.quantity not in ("level", "veil")]
    low = max([t.got_stops - t.high_stops for t in shifted], default=-np.inf)  # stops to close by, at least
    high = min([t.got_stops - t.low_stops for t in shifted], default=np.inf)  # and at most
    room = min([(high - low) / 2.0, ride_stops - low, high + ride_stops, *fixed])
    return float(np.nan_to_num(room, nan=-99.0, posinf=99.0, neginf=-99.0))


def spans(minutes: Numbers, room: Numbers) -> tuple[tuple[float, float], ...]:
    """
    Where a quantity is at least zero, read in straight lines between its rows.

    Parameters
    ----------
    minutes, room : arrays (n,)
        Rising minutes, and the quantity.

    Returns
    -------
    tuple of (start, end)
        [min]

    Examples
    --------
    >>> spans(np.array([0.0, 10.0, 20.0, 30.0]), np.array([-1.0, 1.0, 1.0, -3.0]))
    ((5.0, 22.5),)
    """
    found: list[tuple[float, float]] = []
    start = 0.0
    for i, (minute, here) in enumerate(zip(minutes, room)):
        before = room[i - 1] if i else -1.0
        if (here >= 0) != (before >= 0):
            turn = minute if i == 0 else float(np.interp(0.0, *_rising(before, here, minutes[i - 1], minute)))
            if here >= 0:
                start = float(turn)
            else:
                found.append((start, float(turn)))
    if len(room) and room[-1] >= 0:
        found.append((start, float(minutes[-1])))
    return tuple(found)


def _rising(before, here, earlier, later):
    return ((before, here), (earlier, later)) if before < here else ((here, before), (later, earlier))


def day_curve(setup: Setup, clock: Clock, *, quality: str = "draft") -> DayCurve:
    """
    Read a setup at every minute of a clock, its lamps and its exposure left alone.

    Parameters
    ----------
    setup : Setup
    clock : Clock
    quality : {'draft', 'final'}
        As for `readings.readings`.

    Returns
    -------
    DayCurve
    """
    names = tuple(part.name for part in setup.marks + setup.spots)
    lit = [clock.setup_at(setup, minute) for minute in clock.minutes]
    read = tuple(readings(each, quality=quality) for each in lit)
    levels = [[part.level_stops for part in each.marks + each.spots] for each in read]
    heights = np.array([clock.sun_at(minute).elevation_deg for minute in clock.minutes])
    return DayCurve(setup, clock, heights, names, np.array(levels, dtype=float).reshape(len(read), len(names)), read)


@dataclass(frozen=True)
class Silhouette:
    """A figure against the sky behind it, by minute; arrays (n,)."""

    minutes: np.ndarray
    sky_stops: np.ndarray  # from middle grey
    face_stops: np.ndarray
    body_stops: np.ndarray

    @property
    def face_under_sky_stops(self) -> np.ndarray:
        """Sky over face. [stops]"""
        return self.sky_stops - self.face_stops

    def spans_at_least(self, under_stops: float) -> tuple[tuple[float, float], ...]:
        """
        When the face is at least so far under the sky.

        Parameters
        ----------
        under_stops : float
            [stops]

        Returns
        -------
        tuple of (start, end)
            Minutes since local midnight. [min]
        """
        return spans(self.minutes, self.face_under_sky_stops - under_stops)


def silhouette(curve: DayCurve, name: str) -> Silhouette:
    r"""
    How a figure stands against the sky behind it, through a day.

    Parameters
    ----------
    curve : DayCurve
        Of an exterior.
    name : str
        A mark of its setup; its own reflectances count.

    Returns
    -------
    Silhouette

    Raises
    ------
    ValueError
        If the setup is in a room, or has no such mark.

    Notes
    -----
    .. math:: \log_2 \frac{\rho E / \pi}{L_{ref}}, \quad L_{sky} = L(\text{bearing}, h)

    The sky is taken behind the mark's own height, at the horizon where the camera looks down on it (`Sky.towards`). A real
    one, linear in direction only by and large, is up to two stops brighter close to where the sun has just gone (FROM MEMORY).
    """
    setup = curve.setup
    if not isinstance(setup.place, Exterior):
        raise DayError(f"setup '{setup.name}': a silhouette needs the sky behind it; {setup.place.name} is a room")
    if name not in [mark.name for mark in setup.marks]:
        raise DayError(
            f"setup '{setup.name}': name must be one of {', '.join(m.name for m in setup.marks) or 'none'}, got {name!r}"
        )
    mark, camera = setup.part(name), setup.camera
    away = np.subtract(mark.at, camera.at)
    rise_deg = float(np.degrees(np.arcsin(away[2] / np.linalg.norm(away))))
    skies: list[Any] = [curve.clock.setup_at(setup, minute).sky for minute in curve.clock.minutes]
    bearing = np.degrees(np.arctan2(away[0], away[1])) + setup.place.bearing_deg
    behind = np.array([sky.towards(bearing, rise_deg) for sky in skies])
    lux = np.array([m.illuminance_lx for read in curve.read for m in read.marks if m.name == name])
    level = lambda cd_m2: stops(cd_m2 / camera.reference_cd_m2)  # noqa: E731
    face, body = (level(share * lux / np.pi) for share in (mark.reflectance, mark.body))
    return Silhouette(curve.minutes, level(behind), face, body)
