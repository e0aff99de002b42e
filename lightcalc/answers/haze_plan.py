"""The air over hours: how long haze takes, how long it holds, what it drinks, and whether it is too much to breathe."""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from lightcalc.answers.haze_course import DEFAULT_DROPLETS, AirError, Box, box_of, loss_of  # fmt: skip
from lightcalc.kit.droplets import phase_table
from lightcalc.laws import haze, ventilation
from lightcalc.scene.parts import HazeMachine, Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.units import check_range
from lightcalc.wording import distance_text, number_text, percent_text, plain

DATA = Path(__file__).resolve().parents[2] / "data"
AIR_CAUTION = (
    haze.HAZE_CAUTION + " Limits printed here were read in secondary texts; local rules and the safety sheet of the fluid "
    "win. This is arithmetic for an evenly mixed room: near the machine it is thicker. What people breathe has to be "
    "measured, and whoever coughs goes out."
)


@dataclass(frozen=True)
class Limit:
    """A published limit for what is breathed, and where it was read."""

    fluid: str
    measure: str  # '8 h average' or 'peak'
    mg_m3: float
    document: str
    read_in: str
    evidence: str


@dataclass(frozen=True)
class Held:
    """A limit against the air."""

    limit: Limit
    got_mg_m3: float

    @property
    def over(self) -> bool:
        """Whether the air is above it."""
        return self.got_mg_m3 > self.limit.mg_m3

    def line(self) -> str:
        """One line of text."""
        verdict = "OVER" if self.over else f"{percent_text(self.got_mg_m3 / self.limit.mg_m3)} of it"
        return (
            f"{self.limit.measure} {number_text(self.got_mg_m3, figures=2)} mg/m³ against {number_text(self.limit.mg_m3)}: {verdict} "
            f"({self.limit.document.split(',')[0]}, {self.limit.evidence.lower()})"
        )


@cache
def limits(fluid: str) -> tuple[Limit, ...]:
    """
    Published limits for a fluid, from `data/air_limits.csv`.

    Parameters
    ----------
    fluid : {'glycol', 'mineral oil'}

    Returns
    -------
    tuple of Limit
    """
    with open(DATA / "air_limits.csv", encoding="utf-8", newline="") as file:
        rows: list[dict[str, Any]] = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return tuple(Limit(**{**row, "mg_m3": float(row["mg_m3"])}) for row in rows if row["fluid"] == fluid)


def held_against(fluid: str, *, shift_mg_m3: float, peak_mg_m3: float) -> tuple[Held, ...]:
    """
    What is breathed against every published limit for the fluid.

    Parameters
    ----------
    fluid : {'glycol', 'mineral oil'}
    shift_mg_m3, peak_mg_m3 : float
        Eight-hour average and highest concentration. [mg/m3]

    Returns
    -------
    tuple of Held
    """
    got = {"8 h average": shift_mg_m3, "peak": peak_mg_m3}
    return tuple(Held(limit, float(got[limit.measure])) for limit in limits(fluid))


@dataclass(frozen=True)
class AirPlan:
    """What the haze of a setup asks of its room and its machine."""

    setup: str
    room: str
    box: Box
    machine: HazeMachine
    droplets: str
    loss_per_h: float
    extinction_per_m: float  # wanted
    mass_mg_m3: float
    band: float  # share either way that still does
    build_min: float  # from clear air, machine full on; infinite where it cannot
    build_fluid_g: float
    hold_share: float  # of full output, to keep it there
    hold_fluid_g_per_h: float
    coast_min: float  # from the top of the band to its bottom, machine off
    purge_min: float  # from the level wanted to a tenth of it, doors shut
    open_purge_min: float  # and with doors and windows open
    held: tuple[Held, ...]  # kept there for a whole shift

    def lines(self) -> list[str]:
        """The plan as plain text."""
        air = {"extinction_per_m": self.extinction_per_m}
        seen, lost = float(haze.visibility_from_extinction(**air)), float(haze.loss_percent_per_m(**air)) / 100
        over = percent_text(self.band)
        rows = [
            f"setup {self.setup}, {self.room}: {number_text(self.box.volume_m3)} m³, {number_text(self.box.air_changes_per_h)} air changes an hour; "
            f"haze goes at {self.loss_per_h:.2f} an hour in all",
            f"  wanted {number_text(self.extinction_per_m)} /m: {percent_text(lost)} lost a metre, sees {distance_text(seen)}, "
            f"{number_text(self.mass_mg_m3)} mg/m³ of {self.droplets}",
        ]
        if np.isfinite(self.build_min):
            rows.append(f"  build up: {self.build_min:.0f} min at full output, {self.build_fluid_g:.0f} g of fluid")
            rows.append(f"  hold: {percent_text(self.hold_share)} of full output, {self.hold_fluid_g_per_h:.0f} g of fluid an hour")
        else:
            rows.append(f"  build up: never; this machine holds {percent_text(1 / self.hold_share)} of it at full output")
        rows.append(
            f"  machine off: {self.coast_min:.0f} min from {over} over to {over} under; a tenth is "
            f"left after {self.purge_min:.0f} min, doors open {self.open_purge_min:.0f} min"
        )
        return rows + ["  kept up for 8 h: " + held.line() for held in self.held]

    def as_json(self) -> dict[str, Any]:
        """The plan as plain data, units in the key names; what never happens is None."""
        row = {name: plain(float(getattr(self, name))) for name in (
            "loss_per_h", "extinction_per_m", "mass_mg_m3", "build_min", "build_fluid_g", "hold_share", "hold_fluid_g_per_h",
            "coast_min", "purge_min", "open_purge_min")}  # fmt: skip
        row |= {"name": self.setup, "room": self.room, "droplets": self.droplets, "volume_m3": self.box.volume_m3,
                "air_changes_per_h": self.box.air_changes_per_h, "fluid_g_per_min": self.machine.fluid_g_per_min,
                "droplet_share": self.machine.droplet_share}  # fmt: skip
        return row | {"limits": [
            {"measure": h.limit.measure, "limit_mg_m3": h.limit.mg_m3, "got_mg_m3": h.got_mg_m3, "over": h.over,
             "document": h.limit.document, "evidence": h.limit.evidence} for h in self.held]}  # fmt: skip


def air_plan(
    shoot: Shoot, setup: Setup, *, air_changes_per_h: float | None = None, band: float = 0.25, open_air_changes_per_h: float = 8.0
) -> AirPlan:
    """
    What the haze of a setup asks of its room and its machine.

    Parameters
    ----------
    shoot : Shoot
        With a haze machine.
    setup : Setup
        In a room, with haze.
    air_changes_per_h : float, optional
        Instead of the room's own. [1/h]
    band : float, default 0.25
        Share over and under the level wanted that still does, 0 to below 1.
    open_air_changes_per_h : float, default 8
        With doors and windows open, for airing. COMMON PRACTICE, 5 to 20. [1/h]

    Returns
    -------
    AirPlan

    Raises
    ------
    ValueError
        If the setup has no haze or is out of doors, the shoot has no machine, or nobody says how the air changes.
    """
    check_range("band", band, above=0.0, below=1.0)
    box = box_of(setup.place, air_changes_per_h=air_changes_per_h)
    machine, name = shoot.haze_machine, setup.haze.droplets or DEFAULT_DROPLETS
    if machine is None:
        raise AirError(f"shoot '{shoot.title}' has no [haze_machine]: give fluid_g_per_min and droplet_share")
    if setup.haze.extinction_per_m <= 0:
        raise AirError(f"setup '{setup.name}' has no haze: its extinction_per_m is 0")
    aired = replace(box, air_changes_per_h=max(box.air_changes_per_h, open_air_changes_per_h))
    return _plan(setup, box, aired, machine, name, band)


def _plan(setup, box, aired, machine, name, band):
    thick = setup.haze.extinction_per_m
    mass = float(haze.mass_from_extinction(extinction_per_m=thick, mass_extinction_m2_g=phase_table(name).mass_extinction_m2_g))
    loss, airing = loss_of(box, name), loss_of(aired, name)
    full = 60.0 * machine.fluid_g_per_min * machine.droplet_share  # g of droplets an hour
    rates = {"loss_per_h": loss, "volume_m3": box.volume_m3}
    build = 60.0 * float(ventilation.hours_between(from_mg_m3=0.0, to_mg_m3=mass, source_g_per_h=full, **rates))
    share = float(ventilation.hold_g_per_h(mass_mg_m3=mass, **rates)) / full
    gone = lambda rate, ratio: 60.0 * float(np.log(ratio)) / rate  # noqa: E731
    return AirPlan(
        setup=setup.name, room=setup.place.name, box=box, machine=machine, droplets=name, loss_per_h=loss,
        extinction_per_m=thick, mass_mg_m3=mass, band=band, build_min=build, build_fluid_g=build * machine.fluid_g_per_min,
        hold_share=share, hold_fluid_g_per_h=60.0 * share * machine.fluid_g_per_min,
        coast_min=gone(loss, (1 + band) / (1 - band)), purge_min=gone(loss, 10.0), open_purge_min=gone(airing, 10.0),
        held=held_against(machine.fluid, shift_mg_m3=mass, peak_mg_m3=mass),
    )  # fmt: skip
