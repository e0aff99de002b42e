"""Where the sun and the moon stand over a place: height and bearing, rise, set and twilights, on the place's own clock."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from dataclasses import dataclass

import numpy as np

from lightcalc.sky.clock import YEARS, LocalDay, zone
from lightcalc.units import Numbers, check_range

REFRACTION_DEG = 34.0 / 60.0  # of a ray along the horizon, the almanacs' convention for rise and set
TWILIGHTS = {"civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
STEP_MIN = 5.0  # two passes of the horizon closer than this are not seen
PHASES = {"new": "next_new_moon", "first quarter": "next_first_quarter_moon", "full": "next_full_moon",
          "last quarter": "next_last_quarter_moon"}  # fmt: skip


@dataclass(frozen=True)
class Place:
    """
    A place on earth, its clock, and what stands in the way at its horizon.

    `horizon` is a table of (compass bearing, height) in degrees: the height of hills, trees and houses as seen from
    the set, read in straight lines between its rows and all the way round. Empty means a level horizon.
    """

    latitude_deg: float
    longitude_deg: float  # east is plus
    time_zone: str
    horizon: tuple[tuple[float, float], ...] = ()

    def __post_init__(self):
        check_range("latitude_deg", self.latitude_deg, low=-90.0, high=90.0, hint="north is plus, south minus")
        check_range("longitude_deg", self.longitude_deg, low=-180.0, high=180.0, hint="east is plus, west minus")
        zone(self.time_zone)
        for row in self.horizon:
            if len(row) != 2:
                raise ValueError(f"horizon must be rows of [bearing, height] in degrees, got {list(row)}")
            check_range("horizon bearing", row[0], low=0.0, high=360.0, hint="compass degrees")
            check_range("horizon height", row[1], low=-10.0, high=89.0, hint="degrees over level")

    def horizon_deg(self, bearing_deg: Numbers) -> Numbers:
        """
        Height of the horizon that way.

        Parameters
        ----------
        bearing_deg : float or array
            Compass bearing. [deg]

        Returns
        -------
        float or array
            0 without a table. [deg]
        """
        at_deg, height_deg = np.transpose(sorted(self.horizon) or [(0.0, 0.0)])
        return np.interp(bearing_deg, at_deg, height_deg, period=360.0)


@dataclass(frozen=True)
class Sight:
    """Where a body's centre stands, seen from a place; a moon has a phase as well."""

    altitude_deg: float  # refraction left out
    apparent_deg: float  # refraction in it
    bearing_deg: float  # compass
    radius_deg: float  # of its disc
    phase_angle_deg: float = np.nan  # sun to moon to here: 0 full, 180 new
    lit_share: float = np.nan  # of the disc


@dataclass(frozen=True)
class Event:
    """Something that happens at a minute of the local day."""

    name: str
    minute: float  # since local midnight
    text: str  # on the place's clock, to the nearest minute


def refraction_deg(*, altitude_deg: Numbers, pressure_mbar: Numbers = 1013.25, temperature_c: Numbers = 12.0) -> Numbers:
    r"""
    How much higher the air makes a body appear. [deg]

    Parameters
    ----------
    altitude_deg : float or array
        True height of its centre, -90 to 90. [deg]
    pressure_mbar : float or array, default 1013.25
        Of the air, >= 0. [mbar]
    temperature_c : float or array, default 12
        Of the air, > -100. [deg C]

    Returns
    -------
    float or array
        To be added to the height. [deg]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: \Delta h = \frac{p}{1010} \frac{283}{273 + T} \frac{1.02}{60 \tan(h + 10.3 / (h + 5.11))}

    Below -0.8 degrees, where the body is out of sight, we let it fade to nothing at -3. Near the horizon the real
    air moves it by a tenth of a degree either way.

    References
    ----------
    .. [1] I. Reda, A. Andreas, "Solar position algorithm for solar radiation applications", NREL/TP-560-34302
       (2008), eq. 42.

    Examples
    --------
    >>> round(float(refraction_deg(altitude_deg=39.872046, pressure_mbar=820, temperature_c=11)), 6)
    0.016332
    """
    check_range("altitude_deg", altitude_deg, low=-90.0, high=90.0)
    check_range("pressure_mbar", pressure_mbar, low=0.0, high=1200.0)
    check_range("temperature_c", temperature_c, above=-100.0, high=100.0)
    seen = np.maximum(altitude_deg, -0.8)
    lifted = 1.02 / (60.0 * np.tan(np.radians(seen + 10.3 / (seen + 5.11))))
    fade = np.clip((np.asarray(altitude_deg) + 3.0) / 2.2, 0.0, 1.0)
    return np.divide(pressure_mbar, 1010.0) * 283.0 / np.add(273.0, temperature_c) * lifted * fade


def sun_at(place: Place, when: dt.datetime, *, pressure_mbar: float = 1013.25, temperature_c: float = 12.0) -> Sight:
    """
    Where the sun stands.

    Parameters
    ----------
    place : Place
    when : datetime.datetime
        With a time zone.
    pressure_mbar : float, default 1013.25
        Of the air, for refraction. [mbar]
    temperature_c : float, default 12
        [deg C]

    Returns
    -------
    Sight

    Raises
    ------
    ValueError
        If the moment has no time zone or lies outside 1900 to 2099.

    Notes
    -----
    VSOP87 as in the ephem package, seen from the surface. Within 0.0003 degrees of NREL's solar position algorithm.

    Examples
    --------
    >>> coast = Place(latitude_deg=54.1, longitude_deg=8.6, time_zone="UTC")
    >>> round(sun_at(coast, dt.datetime(2027, 6, 21, 12, 0, tzinfo=dt.UTC)).altitude_deg, 1)
    58.7
    """
    import ephem

    return _sight(ephem.Sun(), place, when, pressure_mbar, temperature_c)


def moon_at(place: Place, when: dt.datetime, *, pressure_mbar: float = 1013.25, temperature_c: float = 12.0) -> Sight:
    """
    Where the moon stands and how much of it is lit.

    Parameters
    ----------
    place : Place
    when : datetime.datetime
        With a time zone.
    pressure_mbar : float, default 1013.25
        Of the air, for refraction. [mbar]
    temperature_c : float, default 12
        [deg C]

    Returns
    -------
    Sight
        With phase angle and lit share.

    Raises
    ------
    ValueError
        If the moment has no time zone or lies outside 1900 to 2099.

    Notes
    -----
    Seen from the surface: the moon is near enough for that to move it by up to a degree. The phase angle f is that
    of the lit share (1 + cos f) / 2.
    """
    import ephem

    moon = ephem.Moon()
    sight = _sight(moon, place, when, pressure_mbar, temperature_c)
    lit = min(max(moon.phase / 100.0, 0.0), 1.0)
    angle = float(np.degrees(np.arccos(2.0 * lit - 1.0)))
    return Sight(sight.altitude_deg, sight.apparent_deg, sight.bearing_deg, sight.radius_deg, angle, lit)


def _sight(body, place, when, pressure_mbar, temperature_c):
    body.compute(_observer(place, when))
    altitude = float(np.degrees(float(body.alt)))
    lift = float(refraction_deg(altitude_deg=altitude, pressure_mbar=pressure_mbar, temperature_c=temperature_c))
    return Sight(altitude, altitude + lift, float(np.degrees(float(body.az))), float(np.degrees(float(body.radius))))


def _observer(place, when):
    """ephem's own observer in airless space: refraction is ours, so that its formula is known."""
    import ephem

    if when.tzinfo is None or when.utcoffset() is None:
        raise ValueError(f"when must have a time zone, got {when.isoformat()} without one")
    utc = when.astimezone(dt.UTC)
    if not YEARS[0] <= utc.year <= YEARS[1]:
        raise ValueError(f"date must be of the years {YEARS[0]} to {YEARS[1] - 1}, got {utc.date().isoformat()}")
    there = ephem.Observer()
    there.lat, there.lon = np.radians(place.latitude_deg), np.radians(place.longitude_deg)
    there.pressure, there.elevation = 0.0, 0.0
    there.date = utc.replace(tzinfo=None)
    return there


def events(place: Place, date: dt.date) -> tuple[Event, ...]:
    """
    What sun and moon do on a date: twilights, rise, noon, set; moonrise and moonset.

    Parameters
    ----------
    place : Place
    date : datetime.date
        On the place's own clock.

    Returns
    -------
    tuple of Event
        In order of time. What does not happen is not there; what happens twice is there twice.

    Raises
    ------
    ValueError
        If the date lies outside 1900 to 2099.

    Notes
    -----
    Rise and set: upper limb on a level horizon, refraction 34 minutes of arc. Twilight ends with the centre 6, 12 and
    18 degrees down. With a horizon table there are also 'sun clears the horizon line' and 'sun goes behind it', of the
    sun's centre. Two passes within five minutes of each other, as on the first day after a polar night, are missed.

    Examples
    --------
    >>> coast = Place(latitude_deg=54.1, longitude_deg=8.6, time_zone="Europe/Berlin")
    >>> [f"{e.name} {e.text}" for e in events(coast, dt.date(2027, 6, 21)) if e.name.startswith("sun")]
    ['sunrise 04:52', 'sunset 22:02']
    """
    day = LocalDay(date, place.time_zone)
    sun, moon = (_Track(at, place, day) for at in (sun_at, moon_at))
    found = sun.passes("sunrise", "sunset", lambda s: s.altitude_deg + s.radius_deg + REFRACTION_DEG)
    found += moon.passes("moonrise", "moonset", lambda s: s.altitude_deg + s.radius_deg + REFRACTION_DEG)
    for name, low in TWILIGHTS.items():
        found += sun.passes(f"{name} dawn", f"{name} dusk", lambda s, low=low: s.altitude_deg - low)
    found += sun.noon()
    if place.horizon:
        over = lambda s: s.apparent_deg - float(place.horizon_deg(s.bearing_deg))  # noqa: E731
        found += sun.passes("sun clears the horizon line", "sun goes behind the horizon line", over)
    return tuple(sorted(found, key=lambda event: event.minute))


def event_minute(found: tuple[Event, ...], name: str) -> float | None:
    """
    When the first event of a name happens.

    Parameters
    ----------
    found : tuple of Event
        From `events`.
    name : str
        'sunset'.

    Returns
    -------
    float or None
        Since local midnight; None where it does not happen. [min]
    """
    return next((event.minute for event in found if event.name == name), None)


def polar_note(place: Place, date: dt.date) -> str:
    """
    What to know of a date on which the sun does not both rise and set.

    Parameters
    ----------
    place : Place
    date : datetime.date

    Returns
    -------
    str
        One sentence; empty on an ordinary day.
    """
    found = events(place, date)
    rises, sets = (event_minute(found, name) is not None for name in ("sunrise", "sunset"))
    if rises and sets:
        return ""
    if rises or sets:
        return f"On {date} the sun {'rises and does not set' if rises else 'sets and does not rise'}."
    day = LocalDay(date, place.time_zone)
    track = _Track(sun_at, place, day)
    high, low = track.extreme(max), track.extreme(min)
    if low.altitude_deg > -1.0:
        return f"On {date} the sun does not set (polar day); it is lowest at {low.altitude_deg:.1f} degrees."
    return f"On {date} the sun does not rise (polar night); it comes to {high.altitude_deg:.1f} degrees at its highest."


def next_moon(*, phase: str, after: dt.datetime) -> dt.datetime:
    """
    When the moon next comes to a phase.

    Parameters
    ----------
    phase : {'new', 'first quarter', 'full', 'last quarter'}
    after : datetime.datetime
        With a time zone.

    Returns
    -------
    datetime.datetime
        In UTC.

    Raises
    ------
    ValueError
        If there is no such phase.

    Examples
    --------
    >>> f"{next_moon(phase='full', after=dt.datetime(2018, 9, 20, tzinfo=dt.UTC)):%d %b %H:%M}"
    '25 Sep 02:52'
    """
    import ephem

    if phase not in PHASES:
        raise ValueError(f"phase must be one of {', '.join(PHASES)}, got {phase!r}")
    found = getattr(ephem, PHASES[phase])(after.astimezone(dt.UTC).replace(tzinfo=None))
    return found.datetime().replace(tzinfo=dt.UTC)


class _Track:
    """A body over a local day, looked at every few minutes and, where something happens, to a second."""

    def __init__(self, body_at, place, day):
        self.day, self.look = day, lambda minute: body_at(place, day.at(minute))
        self.grid = np.append(np.arange(0.0, day.minutes, STEP_MIN), float(day.minutes))
        self.seen = [self.look(minute) for minute in self.grid]

    def extreme(self, which):
        """The sight that is highest (max) or lowest (min)."""
        return which(self.seen, key=lambda sight: sight.altitude_deg)

    def passes(self, up, down, height):
        """Events where a height passes zero."""
        values, found = [height(sight) for sight in self.seen], []
        for i in range(len(values) - 1):
            if (values[i] < 0.0) != (values[i + 1] < 0.0):
                minute = _turn(lambda m: height(self.look(m)), self.grid[i], self.grid[i + 1])
                found.append(Event(up if values[i] < 0.0 else down, minute, self.day.text(minute)))
        return found

    def noon(self):
        """The minute the sun is highest: where its height stops growing, to a second by halving."""
        slope = lambda m: self.look(m + 0.5).altitude_deg - self.look(m - 0.5).altitude_deg  # noqa: E731
        top = int(np.argmax([sight.altitude_deg for sight in self.seen]))
        low, high = self.grid[top] - STEP_MIN, self.grid[top] + STEP_MIN
        if slope(low) <= 0.0 or slope(high) >= 0.0:  # it is highest where the day begins or ends: noon is in the next or the last
            return []
        minute = _turn(slope, low, high)
        return [Event("noon", minute, self.day.text(minute))] if 0.0 <= minute < self.day.minutes else []


def _turn(height, low, high):
    """The minute between two at which a height has changed its sign, to a thousandth, by halving. [min]"""
    steps, below = range(int((high - low) * 1000) + 1), height(low) < 0.0
    return float(low + bisect_left(steps, True, key=lambda step: (height(low + step / 1000) < 0.0) != below) / 1000)
