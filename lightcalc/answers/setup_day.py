"""What the day does to a setup: its hour's sun and sky, when its targets can be met, when sun is in its windows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lightcalc.answers import day_course
from lightcalc.answers.readings import MarkReading, readings
from lightcalc.answers.window_sun import sun_through
from lightcalc.scene import sun_and_sky
from lightcalc.scene.parts import Room, Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.scene.sun_and_sky import HourLight
from lightcalc.wording import light_text, percent_text, plain, stops_text

STEP_MIN = 10
RIDE_STOPS = 1.0


@dataclass(frozen=True)
class SetupDay:
    """A setup on its date; spans are minutes since local midnight, texts the clock's."""

    setup: str
    title: str
    date: str
    outlook: str
    light: sun_and_sky.HourLight | None  # at the setup's own time, if it has one
    possible: tuple | None  # targets met, exposure left alone; None where no daylight lights it
    ridden: tuple | None  # with the exposure moved by up to a stop
    windows: tuple  # (name, spans)
    clock: sun_and_sky.Clock
    kept_out: tuple = ()  # of sun and sky: said to be none in the setup
    marks: tuple[MarkReading, ...] = ()  # as a meter reads them at that time, lamps and all; none where no daylight lights it

    def lines(self, units: str = "metric") -> list[str]:
        """The plan as plain text."""
        rows = [f"setup {self.setup}, {self.date}, {self.outlook}: {self.title}"]
        if self.light is not None:
            out = f"; its {' and '.join(self.kept_out)} kept out of this setup" if self.kept_out else ""
            rows.append("  " + light_line(self.light, units) + out)
        if self.marks:
            said = [f"{m.name} {light_text(m.illuminance_lx, units)}, {stops_text(m.level_stops)} stops" for m in self.marks]
            rows.append("  metered then: " + "; ".join(said))
        if self.possible is not None:
            rows.append(
                f"  targets met {self._spans(self.possible)}; with up to {RIDE_STOPS:g} stop of iris {self._spans(self.ridden)}"
            )
        return rows + [f"  sun in window '{name}': {self._spans(found)}" for name, found in self.windows]

    def _spans(self, found):
        texts = [f"{self.clock.text(start)} to {self.clock.text(end)}" for start, end in found]
        return ", ".join(texts) or "at no time"

    def as_json(self) -> dict[str, Any]:
        """The plan as plain data, units in the key names."""
        row: dict[str, Any] = {
            "name": self.setup,
            "date": self.date,
            "outlook": self.outlook,
            "time_zone": self.clock.place.time_zone,
        }
        if self.light is not None:
            light = self.light
            row["at_its_time"] = {
                "time": light.when, "sun_bearing_deg": light.sun.bearing_deg, "sun_elevation_deg": light.sun.elevation_deg,
                "sun_normal_lx": light.sun.normal_lx, "sun_kelvin": light.sun.kelvin, "sky_horizontal_lx": light.sky.horizontal_lx,
                "open_ground_lx": light.open_ground_lx, "ground_stops_per_min": light.stops_per_minute,
                "moon_elevation_deg": light.moon_up_deg, "moon_lit_share": light.moon_lit_share, "moon_lx": light.moon_lx,
                "third_of_a_stop_min": plain(light.third_every_min),
            }  # fmt: skip
        clock = lambda found: [{"from": self.clock.text(a), "to": self.clock.text(b)} for a, b in found]  # noqa: E731
        if self.marks:
            row["metered_then"] = [
                {"name": m.name, "illuminance_lx": plain(m.illuminance_lx), "level_stops": plain(m.level_stops)} for m in self.marks
            ]
        if self.possible is not None:
            row |= {"targets_met": clock(self.possible), "targets_met_within_1_stop_of_iris": clock(self.ridden)}
        return row | {"sun_in_windows": {name: clock(found) for name, found in self.windows}}


def light_line(light: HourLight, units: str = "metric") -> str:
    """
    A minute's light in one line.

    Parameters
    ----------
    light : sun_and_sky.HourLight
    units : {'metric', 'feet'}
    """
    sun = light.sun
    disc = (
        f", {light_text(sun.normal_lx, units)} square on, {sun.kelvin:.0f} K (a model value)" if sun.normal_lx > 0 else ", no disc"
    )
    way = "falling" if light.stops_per_minute < 0 else "rising"
    pace = "steady" if light.third_every_min > 120 else f"{way} a third of a stop every {light.third_every_min:.1f} min"
    night = "" if sun.elevation_deg > -6.0 else (
        f"; moon {light.moon_up_deg:.0f} degrees up, {percent_text(light.moon_lit_share)} lit, {light_text(light.moon_lx, units)}"
        if light.moon_lx > 0 else "; no moon"
    )  # fmt: skip
    return (
        f"{light.when}: sun {sun.elevation_deg:.1f} degrees up at {sun.bearing_deg:.0f}{disc}; sky {light_text(light.sky.horizontal_lx, units)} "
        f"on open ground, {pace}{night}"
    )


def setup_day(shoot: Shoot, setup: Setup, *, outlook: str | None = None) -> SetupDay:
    """
    What the day does to a setup.

    Parameters
    ----------
    shoot : Shoot
        With a place and dates.
    setup : Setup
    outlook : {'clear', 'partly', 'overcast'}, optional
        The setup's own without it, or else clear.

    Returns
    -------
    SetupDay

    Raises
    ------
    ValueError
        If the shoot has no place or no dates, or its time is skipped by the clock on that date.
    """
    clock = sun_and_sky.clock(shoot, setup, step_min=STEP_MIN, outlook=outlook)
    light = None
    if setup.time:
        light = sun_and_sky.light_at(clock.place, clock.day, clock.day.minute(setup.time), outlook=clock.outlook)
    daylit = setup.sun is not None or setup.sky is not None
    now = setup if outlook in (None, setup.outlook) or not setup.time else clock.setup_at(setup, clock.day.minute(setup.time))
    marks = readings(now).marks if setup.time and daylit else ()
    possible = ridden = None
    if daylit and setup.targets:
        curve = day_course.day_curve(setup, clock)
        possible, ridden = curve.possible(), curve.possible(ride_stops=RIDE_STOPS)
    room = setup.place if isinstance(setup.place, Room) else None
    suns = tuple((window.name, sun_through(clock.place, room, window, clock.day)) for window in room.windows) if room else ()
    return SetupDay(
        setup.name, setup.title, str(clock.date), clock.outlook, light, possible, ridden, suns, clock, setup.kept_out, marks
    )  # fmt: skip
