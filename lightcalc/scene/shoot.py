"""A whole shoot: its setups in shooting order, with what they share, each under the sky of its hour."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from lightcalc.scene.fields import MOST, Fault, Part, SceneError, holds, show
from lightcalc.scene.parts import BODIES, HazeMachine, Setup, degrees, refused, unique
from lightcalc.scene.sun_and_sky import daylit
from lightcalc.sky.clock import LocalDay
from lightcalc.sky.positions import Place

if TYPE_CHECKING:
    pass


@dataclass(frozen=True, kw_only=True)
class Shoot(Part):
    """
    A whole shoot: its setups in shooting order, with what they share.

    Latitude, longitude and time zone go together and say where the sun stands; `dates` has one date a day. `horizon` is
    the table of `positions.Place`. Every setup with a time then has the sun (or moon) and the sky of its hour, from the
    almanac and the published tables, where they are neither typed nor kept out.
    """

    kind: ClassVar[str] = "shoot"

    title: str = holds("text")
    units: str = holds("text", "metric", choices=("metric", "feet"))
    kit: str = holds("text", "")  # the crew's own, a file beside this one; `kit.toml` is found by itself
    days: int = holds("whole", 1, low=1, high=MOST)
    notes: str = holds("notes", "")
    latitude_deg: float | None = degrees(None, low=-90.0, high=90.0, hint="north is plus, south minus")
    longitude_deg: float | None = degrees(None, low=-180.0, high=180.0, hint="east is plus, west minus")
    time_zone: str = holds("text", "")
    dates: tuple[dt.date, ...] = holds("dates", ())
    horizon: tuple[tuple[float, float], ...] = holds("rows", ())
    mains_volts: float = holds("number", 230.0, unit="V", low=100.0, high=277.0)
    breaker_amps: float = holds("number", 16.0, unit="A", low=1.0, high=400.0, hint="what the breaker of one circuit is marked")
    cable_mm2: float = holds("number", 1.5, unit="mm2", low=0.5, high=240.0, hint="one conductor of the cables laid to lamps")
    haze_machine: HazeMachine | None = holds("one", None, of=(HazeMachine,))
    setups: tuple[Setup, ...] = holds("many", of=(Setup,))

    @property
    def called(self) -> str:
        """What errors call it."""
        return f"shoot {show(self.title)}"

    def _between(self, me):
        yield from self._placed(me)
        yield from unique(me, "setup", self.setups)
        names = [setup.name for setup in self.setups]
        for index, setup in enumerate(self.setups):
            path, days = ("setups", index), max(1, self.days)
            if setup.cuts_to and setup.cuts_to not in names:
                sentence = f"{setup.called}: cuts_to must be one of {', '.join(names)}, got {show(setup.cuts_to)}"
                yield Fault(sentence, (*path, "cuts_to"), tuple(("setups", i, "name") for i in range(len(names))))
            if not 1 <= setup.day <= days:
                yield Fault(f"{setup.called}: day must be >= 1 and <= {days}, got {setup.day}", (*path, "day"), (("days",),))
        yield from self._daylit()

    def _daylit(self):
        """The setups under the sky of their hour, and what of a key is then not there."""
        try:
            where = self.where if self.latitude_deg is not None and self.longitude_deg is not None and self.time_zone else None
            there = tuple(daylit(s, where, self.dates[s.day - 1] if len(self.dates) >= s.day else None) for s in self.setups)
        except ValueError:
            return  # a place, a date or a time that cannot be; that was said where it stands
        object.__setattr__(self, "setups", there)
        for index, setup in enumerate(there):
            dark = {"sun"} if setup.sun and setup.sun.model and setup.sun.normal_lx <= 0.0 else set()
            for name in [name for name in setup.key if name in BODIES and (name not in setup.source_names or name in dark)]:
                why = f"it gives no light at {setup.time}" if where and self.dates else "without a place and dates no hour has one"
                sentence = f"{setup.called}: key names the {name}, and {why}"
                yield Fault(sentence, ("setups", index, "key"), (("latitude_deg",), ("dates",), ("time_zone",)))

    def _placed(self, me):
        """All of a place or nothing of it; a date for every day or none."""
        trio = {"latitude_deg": self.latitude_deg, "longitude_deg": self.longitude_deg, "time_zone": self.time_zone or None}
        given, rests = [n for n, value in trio.items() if value is not None], tuple((name,) for name in trio)
        if given and len(given) < 3:
            missing = ", ".join(name for name in trio if name not in given)
            sentence = f"{me}: a place needs latitude_deg, longitude_deg and time_zone, got none for {missing}"
            yield Fault(sentence, (given[0],), rests)
        elif self.horizon and not given:
            yield Fault(f"{me}: horizon needs a place: latitude_deg, longitude_deg and time_zone", ("horizon",), rests)
        else:
            yield from refused(me, None, lambda: self.where)
        if len(self.horizon) > 360:
            yield Fault(f"{me}: horizon must have at most 360 rows, got {len(self.horizon)}", ("horizon",))
        if self.dates and len(self.dates) != self.days:
            sentence = f"{me}: dates must be one for each of {self.days} days, got {len(self.dates)}"
            yield Fault(sentence, ("dates",), (("days",),))
        for index, date in enumerate(self.dates):
            yield from refused(me, ("dates", index), LocalDay, date, "UTC")

    @property
    def where(self) -> Place | None:
        """The place on earth and its clock, or None where the shoot has none."""
        if self.latitude_deg is None or self.longitude_deg is None:
            return None
        return Place(self.latitude_deg, self.longitude_deg, self.time_zone, self.horizon)

    def date_of(self, setup: Setup) -> dt.date | None:
        """
        The date a setup is shot on.

        Parameters
        ----------
        setup : Setup

        Returns
        -------
        datetime.date or None
            None where the shoot has no dates.
        """
        return self.dates[setup.day - 1] if self.dates else None

    def setup(self, name: str) -> Setup:
        """The setup of that name."""
        for setup in self.setups:
            if setup.name == name:
                return setup
        raise SceneError(f"no setup {show(name)} in this shoot; it has {', '.join(s.name for s in self.setups)}")
