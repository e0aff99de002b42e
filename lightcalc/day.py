"""The sun over the day: the sun and sky of any minute, how fast a setup changes, and when it can be shot."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np

from lightcalc import exposure, sun
from lightcalc.almanac import LocalDay, Place, event_minute, events, moon_at, polar_note, sun_at
from lightcalc.meter import readings
from lightcalc.scene import Exterior, Setup, Sky, Sun
from lightcalc.units import check_range, stops

# Horizon over zenith, averaged round the sky. PUBLISHED: overcast 1/3 (ISO 15469:2004 type 1 as Moon & Spencer put it),
# clear 1 / (1 - exp(-0.32)) (type 12, its gradation). Broken cloud: even. Twilight's rim: FROM MEMORY.
GRADIENTS = {"clear": 1.0 / -np.expm1(-0.32), "partly": 1.0, "overcast": 1.0 / 3.0}
RIM = 6.0  # of a clear sky, sun 4 to 9 degrees down
# COMMON PRACTICE. Bird & Riordan's diffuse light is 10 400 to 12 000 K in clean air, 7 500 to 10 000 in hazy; cloud 6000 to 7000.
SKY_KELVIN = {"clear": 10_000.0, "partly": 8_000.0, "overcast": 6_500.0}
STEP_STOPS = 1.0 / 3.0


class DayError(ValueError):
    """A question about the day that cannot be answered: one sentence with what is missing and where it goes."""


def sun_and_sky(place, when, *, outlook="clear"):
    """
    The sun and the sky over a place at a moment, as sources for a setup.

    Parameters
    ----------
    place : almanac.Place
    when : datetime.datetime
        With a time zone.
    outlook : {'clear', 'partly', 'overcast'}

    Returns
    -------
    sun : scene.Sun
        Refraction in its height; no light once it is behind the horizon line or under it, or under cloud.
    sky : scene.Sky
        Its illuminance is `sun.skylight_lx`; its gradient is the same all round.

    Raises
    ------
    ValueError
        If there is no such outlook, or the moment has no time zone or lies outside 1900 to 2099.

    Notes
    -----
    The real sky is brightest round the sun, and a twilight's rim is brightest over the place where it set; ours is a
    mean round the compass. The moon is left out: `sun.moonlight_lx` says what it gives.
    """
    seen = sun_at(place, when)
    above = sun.extraterrestrial_lx(day_of_year=when.timetuple().tm_yday)
    up = seen.apparent_deg > max(0.0, float(place.horizon_deg(seen.bearing_deg)))
    normal = sun.sun_normal_lx(altitude_deg=seen.apparent_deg, outlook=outlook, above_air_lx=above) if up else 0.0
    warmth = float(sun.sun_kelvin(altitude_deg=max(1.0, seen.apparent_deg))) if normal > 0 else 0.0
    whole = float(sun.skylight_lx(altitude_deg=seen.altitude_deg, outlook=outlook))
    zenith = 3.0 * whole / (np.pi * (_gradient(seen.altitude_deg, outlook) + 2.0))  # of Sky.horizontal_lx
    height = float(np.clip(seen.apparent_deg, -18.0, 90.0))
    disc = Sun(bearing_deg=seen.bearing_deg, elevation_deg=height, normal_lx=float(normal), kelvin=warmth)
    blue = SKY_KELVIN[outlook] if seen.altitude_deg > -12.0 else 0.0  # starlight and airglow have none to give
    return disc, Sky(zenith, zenith * _gradient(seen.altitude_deg, outlook), kelvin=blue)


def _gradient(altitude_deg, outlook):
    """Horizon over zenith; a clear one steepens as the sun goes under and is even again by night."""
    if outlook != "clear":
        return GRADIENTS[outlook]
    return float(np.interp(-altitude_deg, [0.0, 4.0, 9.0, 18.0], [GRADIENTS["clear"], RIM, RIM, 1.0]))


@dataclass(frozen=True)
class Clock:
    """
    The minutes of one day over one place: what a time slider runs along.

    `minutes` count from local midnight; where the clock changes that day they are minutes that pass.
    """

    place: Place
    date: dt.date
    minutes: tuple[int, ...]
    outlook: str = "clear"

    def __post_init__(self):
        day = LocalDay(self.date, self.place.time_zone)
        minutes = tuple(int(minute) for minute in self.minutes)
        object.__setattr__(self, "minutes", minutes)
        if not minutes or list(minutes) != sorted(set(minutes)):
            raise DayError(f"minutes must be at least one, each later than the one before, got {len(minutes)}")
        check_range("minutes", minutes, low=0, high=day.minutes, hint=f"since local midnight of {self.date}")
        if self.outlook not in sun.OUTLOOKS:
            raise DayError(f"outlook must be one of {', '.join(sun.OUTLOOKS)}, got {self.outlook!r}")

    @property
    def day(self):
        """The date on the place's own clock."""
        return LocalDay(self.date, self.place.time_zone)

    def text(self, minute):
        """
        What the clock on the wall shows.

        Parameters
        ----------
        minute : int
            Since local midnight. [min]

        Returns
        -------
        str
            '19:40'.
        """
        return self.day.text(minute)

    def setup_at(self, setup, minute):
        """
        A setup with the sun and the sky of a minute.

        Parameters
        ----------
        setup : scene.Setup
        minute : float
            Since local midnight. [min]

        Returns
        -------
        scene.Setup
            All else as it was.
        """
        disc, sky = sun_and_sky(self.place, self.day.at(minute), outlook=self.outlook)
        return replace(setup, sun=disc, sky=sky)


def clock(shoot, setup, *, start=None, end=None, step_min=5, outlook=None):
    """
    The clock of the day that a setup is shot on.

    Parameters
    ----------
    shoot : scene.Shoot
        With a place and dates.
    setup : scene.Setup
    start, end : str, optional
        '17:00', on the place's clock; the whole day without them.
    step_min : int, default 5
        Minutes from one to the next, >= 1. [min]
    outlook : {'clear', 'partly', 'overcast'}, optional
        The setup's own without it, or else clear.

    Returns
    -------
    Clock

    Raises
    ------
    ValueError
        If the shoot has no place or no dates, or a time or an outlook cannot be.
    """
    day = local_day(shoot, setup)
    check_range("step_min", step_min, low=1, high=720)
    first = 0 if start is None else day.minute(start)
    last = day.minutes if end is None else day.minute(end)
    if first > last:
        raise DayError(f"start must be before end on {day.date}, got {start} and {end}")
    minutes = tuple(range(first, last + 1, int(step_min)))
    return Clock(shoot.where, day.date, minutes, outlook or setup.outlook or "clear")


def local_day(shoot, setup):
    """
    The date of a setup on the clock of the shoot's place.

    Parameters
    ----------
    shoot : scene.Shoot
    setup : scene.Setup

    Returns
    -------
    almanac.LocalDay

    Raises
    ------
    ValueError
        If the shoot has no place or no dates.
    """
    if shoot.where is None:
        raise DayError(f"shoot '{shoot.title}' has no place: give it latitude_deg, longitude_deg and time_zone")
    if shoot.date_of(setup) is None:
        raise DayError(f"shoot '{shoot.title}' has no dates: give it one for each day, dates = [2028-08-20]")
    return LocalDay(shoot.date_of(setup), shoot.time_zone)


@dataclass(frozen=True)
class DayCurve:
    """Readings of one setup through a day, its exposure left alone; arrays have a row a minute."""

    setup: Setup
    clock: Clock
    sun_deg: np.ndarray  # (n,) apparent height
    names: tuple[str, ...]  # marks, then spots
    level_stops: np.ndarray  # (n, names), from middle grey
    read: tuple  # (n,) meter.Readings

    @property
    def minutes(self):
        """Minutes since local midnight, (n,). [min]"""
        return np.array(self.clock.minutes, dtype=float)

    def of(self, name):
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

    def stops_per_minute(self, name):
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

    def within(self, name, low_stops, high_stops):
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

    def ride(self, name, *, at_stops, from_minute=None, to_minute=None, widest_t_stop=0.7):
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

    def possible(self, *, ride_stops=0.0):
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
    shifts = [(t.got_stops - t.wanted_stops, t.within) for t in targets if t.quantity in ("level", "veil")]
    fixed = [t.within - abs(t.got_stops - t.wanted_stops) for t in targets if t.quantity not in ("level", "veil")]
    low = max([miss - within for miss, within in shifts], default=-np.inf)  # stops to close by, at least
    high = min([miss + within for miss, within in shifts], default=np.inf)  # and at most
    room = min([(high - low) / 2.0, ride_stops - low, high + ride_stops, *fixed])
    return float(np.nan_to_num(room, nan=-99.0, posinf=99.0, neginf=-99.0))


def spans(minutes, room):
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
    found, start = [], None
    for i, (minute, here) in enumerate(zip(minutes, room)):
        before = room[i - 1] if i else -1.0
        if (here >= 0) != (before >= 0):
            turn = minute if i == 0 else float(np.interp(0.0, *_rising(before, here, minutes[i - 1], minute)))
            if here >= 0:
                start = float(turn)
            else:
                found.append((start, float(turn)))
    if start is not None and room[-1] >= 0:
        found.append((start, float(minutes[-1])))
    return tuple(found)


def _rising(before, here, earlier, later):
    return ((before, here), (earlier, later)) if before < here else ((here, before), (later, earlier))


def day_curve(setup, clock, *, quality="draft"):
    """
    Read a setup at every minute of a clock, its lamps and its exposure left alone.

    Parameters
    ----------
    setup : scene.Setup
    clock : Clock
    quality : {'draft', 'final'}
        As for `meter.readings`.

    Returns
    -------
    DayCurve
    """
    names = tuple(part.name for part in setup.marks + setup.spots)
    lit = [clock.setup_at(setup, minute) for minute in clock.minutes]
    read = tuple(readings(each, quality=quality) for each in lit)
    levels = [[part.level_stops for part in each.marks + each.spots] for each in read]
    heights = np.array([each.sun.elevation_deg for each in lit])
    return DayCurve(setup, clock, heights, names, np.array(levels, dtype=float).reshape(len(read), len(names)), read)


@dataclass(frozen=True)
class Silhouette:
    """A figure against the sky behind it, by minute; arrays (n,)."""

    minutes: np.ndarray
    sky_stops: np.ndarray  # from middle grey
    face_stops: np.ndarray
    body_stops: np.ndarray

    @property
    def face_under_sky_stops(self):
        """Sky over face. [stops]"""
        return self.sky_stops - self.face_stops

    def spans_at_least(self, under_stops):
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


def silhouette(curve, name):
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
    .. math:: \log_2 \frac{\rho E / \pi}{L_{ref}}, \quad L_{sky} = L_h + (L_z - L_h) \sin h

    The sky is taken behind the mark's own height, at the horizon where the camera looks down on it, and as a mean round
    the compass: where the sun has just gone it is up to two stops brighter (FROM MEMORY).
    """
    setup = curve.setup
    if not isinstance(setup.place, Exterior):
        raise DayError(f"setup '{setup.name}': a silhouette needs the sky behind it; {setup.place.name} is a room")
    if name not in [mark.name for mark in setup.marks]:
        raise DayError(f"setup '{setup.name}': name must be one of {', '.join(m.name for m in setup.marks) or 'none'}, got {name!r}")
    mark, camera = setup.part(name), setup.camera
    away = np.subtract(mark.at, camera.at)
    rise = max(0.0, float(away[2] / np.linalg.norm(away)))
    skies = [curve.clock.setup_at(setup, minute).sky for minute in curve.clock.minutes]
    behind = np.array([sky.horizon_cd_m2 + (sky.zenith_cd_m2 - sky.horizon_cd_m2) * rise for sky in skies])
    lux = np.array([m.illuminance_lx for read in curve.read for m in read.marks if m.name == name])
    level = lambda cd_m2: stops(cd_m2 / camera.reference_cd_m2)  # noqa: E731
    face, body = (level(share * lux / np.pi) for share in (mark.reflectance, mark.body))
    return Silhouette(curve.minutes, level(behind), face, body)


@dataclass(frozen=True)
class Light:
    """What a setup's own hour brings, in words and numbers."""

    when: str
    sun: Sun
    sky: Sky
    open_ground_lx: float
    stops_per_minute: float  # of open ground
    third_every_min: float  # minutes a third of a stop takes; infinite at noon
    moon_up_deg: float  # apparent height
    moon_lit_share: float
    moon_lx: float  # on open ground, clear; 0 while it is down


def light_at(place, day, minute, *, outlook="clear"):
    """
    The light of a minute on open ground, and how fast it goes.

    Parameters
    ----------
    place : almanac.Place
    day : almanac.LocalDay
    minute : float
        Since local midnight. [min]
    outlook : {'clear', 'partly', 'overcast'}

    Returns
    -------
    Light
    """
    ground = lambda m: _ground_lx(*sun_and_sky(place, day.at(m), outlook=outlook))  # noqa: E731
    disc, sky = sun_and_sky(place, day.at(minute), outlook=outlook)
    rate = float(stops(ground(minute + 1.0) / ground(minute - 1.0))) / 2.0
    third = STEP_STOPS / abs(rate) if abs(rate) > 1e-6 else np.inf
    moon = moon_at(place, day.at(minute))
    moon_lx = float(sun.moonlight_lx(altitude_deg=moon.altitude_deg, phase_angle_deg=moon.phase_angle_deg))
    return Light(day.text(minute), disc, sky, ground(minute), rate, third, moon.apparent_deg, moon.lit_share, moon_lx)


def _ground_lx(disc, sky):
    return sky.horizontal_lx + disc.normal_lx * max(0.0, float(np.sin(np.radians(disc.elevation_deg))))


def day_lines(place, date):
    """
    A date as plain text: twilights, sun and moon.

    Parameters
    ----------
    place : almanac.Place
    date : datetime.date

    Returns
    -------
    list of str
    """
    day, found = LocalDay(date, place.time_zone), events(place, date)
    rows = [f"{date:%a} {date}, {place.latitude_deg:.2f}, {place.longitude_deg:.2f}, clock of {place.time_zone}"]
    rows += [f"  {polar_note(place, date)}"] if polar_note(place, date) else []
    for event in found:
        seen = (moon_at if event.name.startswith("moon") else sun_at)(place, day.at(event.minute))
        where = f", {seen.altitude_deg:.1f} degrees up" if event.name == "noon" else ""
        rows.append(f"  {event.text}  {event.name}, bearing {seen.bearing_deg:.0f}{where}")
    night = event_minute(found, "sunset")
    moon = moon_at(place, day.at(day.minutes if night is None else night))
    rows.append(f"  moon {100 * moon.lit_share:.0f} % lit")
    return rows + ([f"  clock changes: this day has {day.minutes // 60} hours"] if day.minutes != 1440 else [])
