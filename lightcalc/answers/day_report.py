"""After the day: hours, readings, fluid, and what the lamps really gave, as own kit for the next shoot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from lightcalc.answers.correction import NINETY, Correction, correct
from lightcalc.answers.haze_plan import air_plan
from lightcalc.kit.candela import Beam
from lightcalc.kit.materials import Kit, default_kit, shape_of
from lightcalc.scene.meter_log import LogError, Metered, of_setup
from lightcalc.scene.shoot import Shoot
from lightcalc.sky.clock import clock_time
from lightcalc.wording import count_text, number_text, one_line, plain, signed, stops_text, target_text, verdict_text

MOST_NAME = 60  # as a kit file takes
HELD_HOURS = 1.0  # least that a level of haze is counted as held, where a setup's readings lie nearer together


@dataclass(frozen=True)
class OwnLamp:
    """A lamp of the kit as the day's meter found it: stops over the kit's, with the ends of the 90 percent interval."""

    name: str
    kit: str
    stops: float
    low: float
    high: float
    setups: tuple[str, ...]

    def words(self) -> str:
        """In words."""
        said = f"{stops_text(self.stops)} of the kit's light ({stops_text(self.low)} to {stops_text(self.high)})"
        return f"{one_line(self.name)} ({one_line(self.kit)}): {said}, by setup {', '.join(map(one_line, self.setups))}"


@dataclass(frozen=True)
class SetupReport:
    """What was read of one setup, and what that says."""

    name: str
    readings: int
    wild: tuple[str, ...]  # what of them to throw away
    hours: tuple[str, str] | None  # first and last reading
    extinction_per_m: tuple[float, float]  # planned, and found
    fluid_g: tuple[float, float] | None  # for the planned haze and for that found; None where nobody says how the air changes
    missed: tuple[str, ...]  # targets that the corrected plan misses

    def line(self) -> str:
        """In words."""
        said = [count_text(self.readings, "reading")]
        if self.hours:
            said[0] += f", {self.hours[0]} to {self.hours[1]}"
        said += [f"thrown away: {', '.join(self.wild)}"] if self.wild else []
        planned, found = self.extinction_per_m
        if planned > 0.0:
            said.append(f"haze {number_text(found)} /m for {number_text(planned)} planned")
        if self.fluid_g:
            said.append(f"{self.fluid_g[1]:.0f} g of fluid for {self.fluid_g[0]:.0f}")
        said += list(self.missed)
        return f"  setup {one_line(self.name)}: {'; '.join(said)}"


@dataclass(frozen=True)
class DayReport:
    """A day's log, put together."""

    title: str
    setups: tuple[SetupReport, ...]
    lamps: tuple[OwnLamp, ...]

    def lines(self) -> list[str]:
        """As plain text."""
        rows = [f"{one_line(self.title)}: {count_text(sum(one.readings for one in self.setups), 'reading')}"]
        rows += [one.line() for one in self.setups]
        rows += ["  lamps:"] + [f"    {lamp.words()}" for lamp in self.lamps] if self.lamps else []
        return rows

    def as_json(self) -> dict[str, Any]:
        """As plain data, units in the key names."""
        return {"title": self.title, "setups": plain(self.setups), "lamps": plain(self.lamps)}


def day_report(shoot: Shoot, log: Sequence[Metered], *, name: str = "log", told: Callable[[float], Any] | None = None) -> DayReport:
    """
    What a day's log says of hours, haze, fluid and lamps.

    Parameters
    ----------
    shoot : Shoot
    log : sequence of Metered
        Each with its setup, where the shoot has more than one.
    name : str
        What errors call the log.
    told : callable, optional
        Called with the share that is done, now and then.

    Returns
    -------
    DayReport
        Fluid is that of building the haze up and holding it for the time between a setup's first and last reading, an hour at
        the least. A lamp of one name and kit in several setups is one lamp: their findings are weighed by how sure they are.

    Raises
    ------
    LogError
        If a reading names no setup of the shoot, or something that is not in its setup.
    """
    names = [setup.name for setup in shoot.setups]
    if len(names) > 1:
        faults = [
            f"{name}, line {one.line}: setup must be one of {', '.join(names)}, got {one.setup or 'nothing'}"
            for one in log
            if one.setup not in names
        ]
        if faults:
            raise LogError("\n".join(faults))
    used = [setup for setup in shoot.setups if any(one.setup in ("", setup.name) for one in log)]
    reports, found = [], []
    for done, setup in enumerate(used):
        step = lambda share, done=done: told((done + share) / len(used)) if told else None  # noqa: E731
        mine = of_setup(log, setup, name)
        correction = correct(setup, mine, told=step)
        reports.append(_setup_report(shoot, setup, mine, correction))
        found.append(correction)
    return DayReport(shoot.title, tuple(reports), _lamps(found))


def _setup_report(shoot, setup, log, correction):
    times = sorted(one.time for one in log if one.time)
    planned, now = setup.haze.extinction_per_m, correction.corrected.haze.extinction_per_m
    hours = max(_hours(times), HELD_HOURS)
    fluid = tuple(_fluid_g(shoot, one, hours) for one in (setup, correction.corrected)) if planned > 0.0 else (None, None)
    missed = tuple(f"{target_text(t)} {verdict_text(t)}" for t in correction.after.targets if not t.met)
    return SetupReport(
        setup.name, len(log), tuple(one_line(one.where) for one in correction.wild), (times[0], times[-1]) if times else None,
        (planned, now), None if None in fluid else fluid, missed,
    )  # fmt: skip


def _hours(times):
    """Between the first and the last reading; 0 without times that can be read."""
    try:
        minutes = [60 * hour + minute for hour, minute in map(clock_time, times)]
    except ValueError:
        return 0.0
    return (max(minutes) - min(minutes)) / 60.0 if minutes else 0.0


def _fluid_g(shoot, setup, hours):
    try:
        plan = air_plan(shoot, setup)
    except ValueError:
        return None
    grams = plan.build_fluid_g + plan.hold_fluid_g_per_h * hours
    return float(grams) if np.isfinite(grams) else None


def _lamps(corrections: Sequence[Correction]) -> tuple[OwnLamp, ...]:
    """Lamps of the kit that the readings tell something of, each once."""
    told: dict[tuple[str, str], list[tuple[float, float, str]]] = {}
    for correction in corrections:
        for one in correction.found:
            light = next((light for light in correction.setup.lights if light.name == one.name and one.kind == "lamp"), None)
            if light is not None and light.kit and one.told:
                sd = (one.high - one.low) / (2.0 * NINETY)
                told.setdefault((light.name, light.kit), []).append((light.metered_stops + one.stops, sd, correction.setup.name))
    lamps = []
    for (name, kit), rows in told.items():
        weights = np.array([sd**-2.0 for _, sd, _ in rows])
        mean = float(np.dot(weights, [stops for stops, _, _ in rows]) / weights.sum())
        by = NINETY * float(weights.sum() ** -0.5)
        lamps.append(OwnLamp(name, kit, mean, mean - by, mean + by, tuple(setup for _, _, setup in rows)))
    return tuple(lamps)


def kit_text(report: DayReport, *, kit: Kit | None = None, when: str = "") -> str:
    """
    The day's lamps as entries of a kit file.

    Parameters
    ----------
    report : DayReport
    kit : materials.Kit, optional
        Where the lamps stand that they are; the package's without it.
    when : str, optional
        The date, for the notes.

    Returns
    -------
    str
        TOML to put into the `kit.toml` beside the next shoot file. A lamp with a measured table is left out.
    """
    known = (kit or default_kit()).lamp
    tables = []
    for lamp in report.lamps:
        base = next((one for name, one in known.items() if name.casefold() == lamp.kit.casefold()), None)
        shape = shape_of(base.beam) if base is not None else None
        if base is None or shape is None:
            continue
        lamp_name = _quoted(f"{lamp.kit}, our {lamp.name}"[:MOST_NAME])
        rows = [
            f"[lamp.{lamp_name}]",
            f'shape = "{shape}"',
            f"peak_cd = {number_text(base.beam.peak_cd * 2.0**lamp.stops, figures=4)}",
        ]
        if isinstance(base.beam, Beam):
            rows += [f"beam_deg = {base.beam.beam_deg:g}", f"field_deg = {base.beam.field_deg:g}"]
        rows += [f"watts = {base.watts:g}", f"kelvin = {base.kelvin:g}", f'source = "{base.source}"']
        if base.face_width_m > 0.0:
            rows += [f"face_width_m = {base.face_width_m:g}", f"face_height_m = {base.face_height_m:g}"]
        by = f"{signed(lamp.stops, places=2)} stops of '{lamp.kit}'"
        between = f"90 % between {signed(lamp.low, places=2)} and {signed(lamp.high, places=2)}"
        note = f"{report.title}{', ' + when if when else ''}: {by}, {between}"
        rows += ['evidence = "measured"', f"note = {_quoted(one_line(note))}"]
        tables.append("\n".join(rows))
    return "\n\n".join(tables) + ("\n" if tables else "")


def _quoted(text):
    """A TOML string."""
    return '"' + one_line(text).replace("\\", "\\\\").replace('"', '\\"') + '"'
