"""What marks take straight from lamps, sun and sky: first readings, while the engine that knows the rest is being compiled."""

from __future__ import annotations

import math

import numpy as np

from lightcalc.answers.readings import MarkReading, Readings
from lightcalc.engine import ready
from lightcalc.engine.solve import straight_lx
from lightcalc.laws.haze import transmittance
from lightcalc.scene.parts import Setup
from lightcalc.units import stops
from lightcalc.wording import light_text, stops_text

SAID = (
    "straight light only, until the light engine is compiled; what boards, cloth, surfaces, people and haze send is still missing"
)
NOT_YET = "not yet"


def straight_readings(setup: Setup) -> Readings:
    """
    The marks of a setup by straight light alone, without waiting for the engine.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    Readings
        Marks without ratio and veil; no spots, and no targets judged. Open ground counts as if nothing shaded it.
    """
    camera = setup.camera
    return Readings(
        setup=setup.name, reference_lx=camera.reference_lx, reference_cd_m2=camera.reference_cd_m2, marks=_marks(setup),
        spots=(), targets=(), balance_kelvin=camera.balance_kelvin, daylight=setup.daylight_said,
    )  # fmt: skip


def straight_lines(setups: tuple[Setup, ...], units: str = "metric") -> list[str]:
    """
    The same as plain text.

    Parameters
    ----------
    setups : tuple of Setup
    units : {"metric", "feet"}

    Returns
    -------
    list of str
        A line for each mark under one that says what is left out; empty where the engine is compiled already.
    """
    if not ready.missing():
        return []
    lines = [f"{SAID}:"]
    for setup in setups:
        for mark in straight_readings(setup).marks:
            light = f"{light_text(mark.illuminance_lx, units)}, {stops_text(mark.level_stops, unit=' stops')}"
            lines.append(f"  {setup.name}, {mark.name}: {light if mark.by_source else 'none'}")
    return lines


def _marks(setup):
    if not setup.marks:
        return ()
    ways = [np.subtract(mark.aim, mark.at) for mark in setup.marks]
    lux = straight_lx(setup, [mark.at for mark in setup.marks], ways, [mark.receptor == "dome" for mark in setup.marks])
    return tuple(_mark(setup, mark, row) for mark, row in zip(setup.marks, lux.tolist()))


def _mark(setup, mark, row):
    names = (*setup.source_names, setup.place.sends_back)
    by_source, total = {name: lux for name, lux in zip(names, row) if lux > 0.0}, sum(row)
    distance = math.dist(mark.at, setup.camera.at)
    through = transmittance(extinction_per_m=setup.haze.extinction_per_m, path_m=distance)
    return MarkReading(
        name=mark.name, illuminance_lx=total, by_source=by_source,
        level_stops=float(stops(total / setup.camera.reference_lx)) if by_source else np.nan,
        key=tuple(setup.key), key_lx=np.nan, fill_lx=np.nan, ratio=np.nan, key_to_fill=np.nan, ratio_stops=np.nan,
        fill_under_stops=np.nan, transmittance=float(through), veil_cd_m2=np.nan, veil_stops=np.nan, veil_share=np.nan,
        no_ratio=NOT_YET,
    )  # fmt: skip
