"""Readings in the words that the page shows, in both unit systems."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from lightcalc import wording
from lightcalc.answers.readings import cheek_words
from lightcalc.drawing.ladder import place_of_target
from lightcalc.units import Numbers, stops

if TYPE_CHECKING:
    from lightcalc.answers.readings import Readings, Tick
    from lightcalc.answers.sense import Finding
    from lightcalc.scene.parts import Setup

OPEN_STOPS = 0.5  # how long a target without an end is drawn
NO_LEVEL = -32768  # a pixel without light, in the level map


def level_map(level_stops: Numbers) -> bytes:
    """
    A picture's levels as the page holds them.

    Parameters
    ----------
    level_stops : array of shape (h, w)
        Stops from middle grey; minus infinity where no light is.

    Returns
    -------
    bytes
        Little-endian int16 in hundredths of a stop, row by row; -32768 where no light is.
    """
    hundredths = np.where(np.isfinite(level_stops), np.clip(level_stops, -300.0, 300.0) * 100.0, NO_LEVEL)
    return np.rint(hundredths).astype("<i2").tobytes()


def _both(text, value):
    """A light in both unit systems."""
    return {units: text(value, units) for units in wording.UNITS}


def shown_of(setup: Setup, readings: Readings, veils: Sequence[Tick] = ()) -> dict[str, Any]:
    """
    Readings in words, in both unit systems, with what the ladder draws.

    Parameters
    ----------
    setup : Setup
    readings : readings.Readings
    veils : sequence of readings.Tick, optional
        More ticks for the ladder.

    Returns
    -------
    dict
        Strings and finite numbers only: what JSON can carry and a page can show as it is.
    """
    camera = setup.camera
    return {
        "exposure": _exposure(camera),
        "reference": _both(wording.light_text, readings.reference_lx),
        "marks": [_mark(mark, camera.balance_kelvin) for mark in readings.marks],
        "spots": [_spot(spot) for spot in readings.spots],
        "targets": [_target(target) for target in readings.targets],
        "ladder": [
            {"label": tick.label, "kind": tick.kind, "stops": float(tick.stops), "words": wording.stops_text(tick.stops)}
            for tick in (*readings.ladder(), *veils)
            if math.isfinite(tick.stops)
        ]
        + _sky(setup),
        "brackets": [b for b in (_bracket(target, readings) for target in readings.targets) if b],
        "range": [-float(camera.range_under_stops), float(camera.range_over_stops)],
    }


def sense_words(found: Sequence[Finding]) -> dict[str, str]:
    """
    What of a setup is surely not meant, in one quiet line and in full.

    Parameters
    ----------
    found : sequence of sense.Finding

    Returns
    -------
    dict
        `line`, empty without any, and `all`, a sentence each with what would do.
    """
    more = f" ({len(found) - 1} more)" if len(found) > 1 else ""
    return {"line": f"But {found[0].short}{more}" if found else "", "all": "\n".join(f"{one.short}; {one.remedy}" for one in found)}


def _sky(setup):
    """The sky's tick: its luminance at the horizon that the camera faces, where most pictures meet it."""
    x, y, _ = np.subtract(setup.camera.aim, setup.camera.at)
    seen = setup.sky.towards(np.degrees(np.arctan2(x, y)) + setup.place.bearing_deg, 0.0) if setup.sky else 0.0
    if seen <= 0.0:
        return []
    level = float(stops(seen / setup.camera.reference_cd_m2))
    return [{"label": "sky at the horizon", "kind": "sky", "stops": level, "words": wording.stops_text(level)}]


def _exposure(camera):
    nd = f", {wording.nd_text(camera.nd_stops)}" if camera.nd_stops else ""
    iso, fps = (wording.number_text(value, figures=4) for value in (camera.iso, camera.fps))
    return f"{wording.t_stop_text(camera.t_stop)}, ISO {iso}, {wording.shutter_text(camera.time_s)}, {fps} fps{nd}"


def _mark(mark, balance_kelvin):
    total = mark.illuminance_lx
    return {
        "name": mark.name,
        "lux": _both(wording.light_text, total),
        "level": wording.stops_text(mark.level_stops),
        "ratio": wording.ratio_text(mark.ratio, mark.no_ratio),
        "key_to_fill": wording.ratio_text(mark.key_to_fill, mark.no_ratio),
        "ratio_stops": mark.no_ratio or wording.stops_text(mark.ratio_stops, sign=False),
        "ratio_from": f"ratio: lit over far cheek, with {mark.other_cheek}" if mark.other_cheek else "".join(cheek_words(mark)),
        "veil": wording.reading_text("veil", mark.veil_stops),
        "veil_share": wording.percent_text(mark.veil_share),
        "key": ", ".join(mark.key),
        "colour": mark.mix.words(balance_kelvin) if math.isfinite(mark.mix_kelvin) else "",
        "sources": [
            {
                "name": name,
                "lux": _both(wording.light_text, lux),
                "share": wording.percent_text(lux / total if total > 0.0 else math.nan),
            }
            for name, lux in mark.by_source.items()
        ],
    }


def _spot(spot):
    return {
        "name": spot.name,
        "luminance": _both(wording.luminance_text, spot.luminance_cd_m2),
        "level": wording.stops_text(spot.level_stops),
        "source": spot.source,
        "beam_over": wording.reading_text("beam_over", spot.beam_over_stops) if spot.source else "",
    }


def _target(target):
    return {
        "of": target.of,
        "quantity": wording.QUANTITIES[target.quantity][0],
        "wanted": wording.stops_text(target.wanted_stops),
        "said": wording.wanted_text(target),
        "got": wording.reading_text(target.quantity, target.got_stops),
        "met": bool(target.met),
        "verdict": wording.verdict_text(target),
    }


def _bracket(target, readings):
    """Where a target lies on the ladder; None for one without light to start from."""
    centre = place_of_target(target, readings)
    if not math.isfinite(centre):
        return None
    return {
        "label": f"{target.of} {wording.QUANTITIES[target.quantity][0]}",
        "low": max(centre + target.low_stops - target.wanted_stops, centre - OPEN_STOPS),
        "high": min(centre + target.high_stops - target.wanted_stops, centre + OPEN_STOPS),
        "bound": target.bound,
        "met": bool(target.met),
    }
