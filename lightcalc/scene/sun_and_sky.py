"""The light of any minute: sun and sky over a place as sources for a setup, and the clock that a time slider runs along."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from lightcalc.scene.openings import outward_bearing_deg
from lightcalc.scene.parts import Exterior, Room, Setup, Sky, Sun
from lightcalc.sky import daylight
from lightcalc.sky.clock import LocalDay, clock_time, zone
from lightcalc.sky.distribution import SKIES, sided_sky
from lightcalc.sky.positions import Place, event_minute, events, moon_at, polar_note, sun_at
from lightcalc.units import check_range, stops

if TYPE_CHECKING:
    from lightcalc.scene.shoot import Shoot

# Horizon over zenith, averaged round the sky. PUBLISHED: overcast 1/3 (ISO 15469:2004 type 1 as Moon & Spencer put it),
# clear 1 / (1 - exp(-0.32)) (type 12, its gradation). Broken cloud: even. Twilight's rim: B. E. Schaefer, Sky & Telescope 95 (5), 57
# (1998), his formula averaged round the sky at 0.3 mag of extinction, as a straight line of the same illuminance and zenith.
GRADIENTS = {"clear": 1.0 / -np.expm1(-0.32), "partly": 1.0, "overcast": 1.0 / 3.0}
RIM = 7.5  # of a clear sky, sun 4 to 9 degrees down
# COMMON PRACTICE. Bird & Riordan's diffuse light is 10 400 to 12 000 K in clean air, 7 500 to 10 000 in hazy; cloud 6000 to 7000.
SKY_KELVIN = {"clear": 10_000.0, "partly": 8_000.0, "overcast": 6_500.0}
MOON_KELVIN = 4_100.0  # COMMON PRACTICE: the moon's face is a little redder than the sun's, measured 4100 to 4150 K
STEP_STOPS = 1.0 / 3.0
EVEN_BELOW_DEG = 12.0  # the sun under the horizon, and no side of the sky is held brighter (a real one still is)


class DayError(ValueError):
    """A question about the day that cannot be answered: one sentence with what is missing and where it goes."""


def sun_and_sky(place: Place, when: dt.datetime, *, outlook: str = "clear") -> tuple[Sun, Sky]:
    """
    The sun and the sky over a place at a moment, as sources for a setup.

    Parameters
    ----------
    place : positions.Place
    when : datetime.datetime
        With a time zone.
    outlook : {'clear', 'partly', 'overcast'}

    Returns
    -------
    sun : Sun
        Refraction in its height; no light once it is behind the horizon line or under it, or under cloud.
    sky : Sky
        Its illuminance is `daylight.skylight_lx`; its gradient is the same all round.

    Raises
    ------
    ValueError
        If there is no such outlook, or the moment has no time zone or lies outside 1900 to 2099.

    Notes
    -----
    This sky is a mean round the compass; `lit_from` gives it its bright side. The moon is left out: `moon_and_sky` has it.
    """
    seen = sun_at(place, when)
    above = daylight.extraterrestrial_lx(day_of_year=when.timetuple().tm_yday)
    up = seen.apparent_deg > max(0.0, float(place.horizon_deg(seen.bearing_deg)))
    normal = daylight.sun_normal_lx(altitude_deg=seen.apparent_deg, outlook=outlook, above_air_lx=above) if up else 0.0
    warmth = float(daylight.sun_kelvin(altitude_deg=max(1.0, seen.apparent_deg))) if normal > 0 else 0.0
    whole = float(daylight.skylight_lx(altitude_deg=seen.altitude_deg, outlook=outlook))
    zenith = 3.0 * whole / (np.pi * (_gradient(seen.altitude_deg, outlook) + 2.0))  # of Sky.horizontal_lx
    height = float(np.clip(seen.apparent_deg, -18.0, 90.0))
    disc = Sun(bearing_deg=seen.bearing_deg, elevation_deg=height, normal_lx=float(normal), kelvin=warmth)
    blue = SKY_KELVIN[outlook] if seen.altitude_deg > -12.0 else 0.0  # starlight and airglow have none to give
    return disc, Sky(zenith_cd_m2=zenith, horizon_cd_m2=zenith * _gradient(seen.altitude_deg, outlook), kelvin=blue)


def moon_and_sky(place: Place, when: dt.datetime, *, outlook: str = "clear") -> tuple[Sun | None, float]:
    """
    The moon and the sky that it lights, as sources for a setup at night.

    Parameters
    ----------
    place : positions.Place
    when : datetime.datetime
        With a time zone.
    outlook : {'clear', 'partly', 'overcast'}

    Returns
    -------
    moon : Sun or None
        None while it is behind the horizon line, or under cloud.
    sky_lx : float
        What the sky it lights adds to that of the stars, on open ground. [lx]

    Raises
    ------
    ValueError
        As for `sun_and_sky`.

    Notes
    -----
    `daylight.moonlight_lx` is disc and sky together. They are shared out as sun and clear sky of that height are, for the
    same air turns both, and an outlook takes of each what it takes of the sun's. Colour: MOON_KELVIN.
    """
    seen = moon_at(place, when)
    height = seen.apparent_deg
    if height <= max(0.0, float(place.horizon_deg(seen.bearing_deg))):
        return None, 0.0
    whole = float(daylight.moonlight_lx(altitude_deg=seen.altitude_deg, phase_angle_deg=seen.phase_angle_deg))
    disc, sky = (
        (
            float(daylight.sun_normal_lx(altitude_deg=height, outlook=one)),
            float(daylight.sky_horizontal_lx(altitude_deg=height, outlook=one)),
        )
        for one in ("clear", outlook)
    )
    level = np.sin(np.radians(height))
    scale = whole / (disc[0] * level + disc[1])
    normal = scale * sky[0]
    moon = (
        Sun(bearing_deg=seen.bearing_deg, elevation_deg=height, normal_lx=normal, kelvin=MOON_KELVIN, body="moon")
        if normal > 0
        else None
    )
    return moon, scale * sky[1]


def daylit(setup: Setup, place: Place | None, date: dt.date | None) -> Setup:
    """
    A setup under the sky of its hour: sun, or by night the moon, and sky, where they are neither typed nor kept out.

    Parameters
    ----------
    setup : Setup
    place : positions.Place or None
    date : datetime.date or None

    Returns
    -------
    Setup
        As it was, but without what another hour gave it, where place, date or time is missing.

    Notes
    -----
    Sources say what they were worked out from in `model`. A sun behind the horizon line or under cloud gives 0 lx; by night
    it makes room for the moon, if that is up.
    """
    own = [
        name
        for name in ("sun", "sky")
        if name not in setup.kept_out and (getattr(setup, name) is None or getattr(setup, name).model)
    ]
    found = dict.fromkeys(("sun", "sky"))
    if own and setup.time and place is not None and date is not None:
        when = dt.datetime.combine(date, dt.time(*clock_time(setup.time)), zone(place.time_zone))
        found = _of_the_hour(setup, place, when, setup.outlook or "clear")
    changes: dict[str, Any] = {name: found[name] for name in own if found[name] != getattr(setup, name)}
    return replace(setup, **changes) if changes else setup


def lit_from(sky: Sky, body: Sun, outlook: str, place: Room | Exterior | None = None) -> Sky:
    """
    A sky brighter towards the sun, or towards the moon that lights it, and darker away from it.

    Parameters
    ----------
    sky : Sky
        The same all round.
    body : Sun
    outlook : {'clear', 'partly', 'overcast'}
    place : Room or Exterior, optional
        A room's windows see what `distribution.sided_sky` makes for them.

    Returns
    -------
    Sky
        Of the same light on open ground, or in a room the same within a third, as the CIE's standard sky of that outlook has
        it; under cloud as it was. As the sun goes under it becomes even again.
    """
    share = float(np.clip(1.0 + body.elevation_deg / EVEN_BELOW_DEG, 0.0, 1.0))
    if outlook not in SKIES or share <= 0.0:
        return sky
    room = place if isinstance(place, Room) else None
    glass = [(w, w.width_m * w.height_m * w.glass) for w in (room.windows if room else ()) if w.glass > 0.0]
    whole = sum(area for _, area in glass)
    windows = tuple((outward_bearing_deg(w, room) - body.bearing_deg, area / whole) for w, area in glass) if room else ()
    height = float(np.clip(body.elevation_deg, 0.0, 90.0))
    even, right, sunward, up = share * sky.horizontal_lx * sided_sky(sun_elevation_deg=height, outlook=outlook, windows=windows)
    horizon = even + (1.0 - share) * sky.horizon_cd_m2
    return replace(
        sky,
        zenith_cd_m2=float(max(0.0, even + up + (1.0 - share) * sky.zenith_cd_m2)),
        horizon_cd_m2=float(horizon),
        side_cd_m2=float(np.hypot(right, sunward)),
        side_bearing_deg=float(body.bearing_deg + np.degrees(np.arctan2(right, sunward))) % 360.0,
    )


def _of_the_hour(setup, place, when, outlook):
    sun, sky = sun_and_sky(place, when, outlook=outlook)
    sky = lit_from(sky, sun, outlook, setup.place)
    said = f"{outlook if outlook != 'partly' else 'partly cloudy'} sky of {when:%H:%M} on {when:%Y-%m-%d}, model: half to twice"
    if sun.elevation_deg < 0.0:
        moon, more_lx = moon_and_sky(place, when, outlook=outlook)
        sky = sky.times(1.0 + more_lx / sky.horizontal_lx)
        sun = moon or sun
    return {"sun": replace(sun, model=said), "sky": replace(sky, model=said)}


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
        if self.outlook not in daylight.OUTLOOKS:
            raise DayError(f"outlook must be one of {', '.join(daylight.OUTLOOKS)}, got {self.outlook!r}")

    @property
    def day(self) -> LocalDay:
        """The date on the place's own clock."""
        return LocalDay(self.date, self.place.time_zone)

    def text(self, minute: int) -> str:
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

    def sun_at(self, minute: float) -> Sun:
        """
        The sun of a minute, up or down.

        Parameters
        ----------
        minute : float
            Since local midnight. [min]

        Returns
        -------
        Sun
        """
        return sun_and_sky(self.place, self.day.at(minute), outlook=self.outlook)[0]

    def setup_at(self, setup: Setup, minute: float) -> Setup:
        """
        A setup with the sun and the sky of a minute.

        Parameters
        ----------
        setup : Setup
        minute : float
            Since local midnight. [min]

        Returns
        -------
        Setup
            All else as it was.
        """
        at = self.day.at(minute)
        found = _of_the_hour(setup, self.place, at, self.outlook)
        found = {name: found[name] for name in found if name not in setup.kept_out}
        return replace(setup, **found, time=f"{at:%H:%M}", outlook=self.outlook)


def clock(
    shoot: Shoot, setup: Setup, *, start: str | None = None, end: str | None = None, step_min: int = 5, outlook: str | None = None
) -> Clock:
    """
    The clock of the day that a setup is shot on.

    Parameters
    ----------
    shoot : Shoot
        With a place and dates.
    setup : Setup
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
    return Clock(_place_of(shoot), day.date, minutes, outlook or setup.outlook or "clear")


def local_day(shoot: Shoot, setup: Setup) -> LocalDay:
    """
    The date of a setup on the clock of the shoot's place.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Returns
    -------
    positions.LocalDay

    Raises
    ------
    ValueError
        If the shoot has no place or no dates.
    """
    _place_of(shoot)
    date = shoot.date_of(setup)
    if date is None:
        raise DayError(f"shoot '{shoot.title}' has no dates: give it one for each day, dates = [2028-08-20]")
    return LocalDay(date, shoot.time_zone)


def _place_of(shoot: Shoot) -> Place:
    if shoot.where is None:
        raise DayError(f"shoot '{shoot.title}' has no place: give it latitude_deg, longitude_deg and time_zone")
    return shoot.where


@dataclass(frozen=True)
class HourLight:
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


def light_at(place: Place, day: LocalDay, minute: float, *, outlook: str = "clear") -> HourLight:
    """
    The light of a minute on open ground, and how fast it goes.

    Parameters
    ----------
    place : positions.Place
    day : positions.LocalDay
    minute : float
        Since local midnight. [min]
    outlook : {'clear', 'partly', 'overcast'}

    Returns
    -------
    HourLight
    """
    ground = lambda m: _ground_lx(*sun_and_sky(place, day.at(m), outlook=outlook))  # noqa: E731
    disc, sky = sun_and_sky(place, day.at(minute), outlook=outlook)
    rate = float(stops(ground(minute + 1.0) / ground(minute - 1.0))) / 2.0
    third = STEP_STOPS / abs(rate) if abs(rate) > 1e-6 else np.inf
    moon = moon_at(place, day.at(minute))
    moon_lx = float(daylight.moonlight_lx(altitude_deg=moon.altitude_deg, phase_angle_deg=moon.phase_angle_deg))
    return HourLight(day.text(minute), disc, sky, ground(minute), rate, third, moon.apparent_deg, moon.lit_share, moon_lx)


def _ground_lx(disc, sky):
    return sky.horizontal_lx + disc.normal_lx * max(0.0, float(np.sin(np.radians(disc.elevation_deg))))


def day_lines(place: Place, date: dt.date) -> list[str]:
    """
    A date as plain text: twilights, sun and moon.

    Parameters
    ----------
    place : positions.Place
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
