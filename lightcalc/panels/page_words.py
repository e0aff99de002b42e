"""Readings in the words that the page shows, in both unit systems."""

from __future__ import annotations

import math

import numpy as np

from lightcalc.panels.page_values import ring_number
from lightcalc.units import fc_from_lx, fl_from_cd_m2
from lightcalc.wording import number_text, stops_text

QUANTITY_WORDS = {"level": "level", "fill_under": "fill under", "beam_over": "over background", "veil": "veil"}
NO_LEVEL = -32768  # a pixel without light, in the level map


def level_map(level_stops):
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


def _lux(lux):
    return {"metric": f"{number_text(lux)} lx", "feet": f"{number_text(float(fc_from_lx(lux)))} fc"}


def _nits(cd_m2):
    return {"metric": f"{number_text(cd_m2)} cd/m\N{SUPERSCRIPT TWO}", "feet": f"{number_text(float(fl_from_cd_m2(cd_m2)))} fL"}


def _percent(share):
    return f"{100.0 * share:.0f} %" if math.isfinite(share) else "\N{EN DASH}"


def _ratio(ratio):
    if ratio is None or math.isnan(ratio):
        return "\N{EN DASH}"
    return "no fill" if math.isinf(ratio) or ratio > 9999.0 else f"{ratio:.1f} : 1"


def shown_of(setup, readings, veils=()):
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
        "reference": _lux(readings.reference_lx),
        "marks": [_mark(mark, camera.balance_kelvin) for mark in readings.marks],
        "spots": [_spot(spot) for spot in readings.spots],
        "targets": [_target(target) for target in readings.targets],
        "ladder": [
            {"label": tick.label, "kind": tick.kind, "stops": float(tick.stops), "words": stops_text(tick.stops)}
            for tick in (*readings.ladder(), *veils)
            if math.isfinite(tick.stops)
        ]
        + _sky(setup),
        "brackets": [b for b in (_bracket(target, readings) for target in readings.targets) if b],
        "range": [-float(camera.range_under_stops), float(camera.range_over_stops)],
    }


def _sky(setup):
    """The sky's tick: its luminance at the horizon, where most pictures meet it."""
    if setup.sky is None or setup.sky.horizon_cd_m2 <= 0.0:
        return []
    level = math.log2(setup.sky.horizon_cd_m2 / setup.camera.reference_cd_m2)
    return [{"label": "sky at the horizon", "kind": "sky", "stops": level, "words": stops_text(level)}]


def _exposure(camera):
    nd = f", ND {camera.nd_stops:.3g} stops" if camera.nd_stops else ""
    return f"T{ring_number(camera.t_stop):.3g}, ISO {camera.iso:.0f}, 1/{1.0 / camera.time_s:.4g} s, {camera.fps:.4g} fps{nd}"


def _mark(mark, balance_kelvin):
    total = mark.illuminance_lx
    return {
        "name": mark.name,
        "lux": _lux(total),
        "level": stops_text(mark.level_stops),
        "ratio": _ratio(mark.ratio),
        "key_to_fill": _ratio(mark.key_to_fill),
        "ratio_stops": "no fill" if mark.ratio_stops == math.inf else stops_text(mark.ratio_stops, sign=False),
        "veil": stops_text(mark.veil_stops),
        "veil_share": _percent(mark.veil_share),
        "key": ", ".join(mark.key),
        "colour": mark.mix.words(balance_kelvin).replace("-", "\N{MINUS SIGN}") if math.isfinite(mark.mix_kelvin) else "",
        "sources": [
            {"name": name, "lux": _lux(lux), "share": _percent(lux / total if total > 0.0 else math.nan)}
            for name, lux in mark.by_source.items()
        ],
    }


def _spot(spot):
    return {
        "name": spot.name,
        "luminance": _nits(spot.luminance_cd_m2),
        "level": stops_text(spot.level_stops),
        "source": spot.source,
        "beam_over": stops_text(spot.beam_over_stops) if spot.source else "",
    }


def _target(target):
    if target.met:
        verdict = "met"
    elif not math.isfinite(target.miss_stops):
        verdict = "missed: no light"
    else:
        side = "over" if target.got_stops > target.wanted_stops else "under"
        verdict = f"missed, {stops_text(abs(target.miss_stops), sign=False)} {side}"
    return {
        "of": target.of,
        "quantity": QUANTITY_WORDS.get(target.quantity, target.quantity),
        "wanted": stops_text(target.wanted_stops),
        "within": f"{target.within:.2g}",
        "got": stops_text(target.got_stops),
        "met": bool(target.met),
        "verdict": verdict,
    }


def _bracket(target, readings):
    """Where a target lies on the ladder; None for one without light to start from."""
    marks = {mark.name: mark.level_stops for mark in readings.marks}
    spots = {spot.name: spot for spot in readings.spots}
    centre = math.nan
    if target.quantity in ("level", "veil"):
        centre = target.wanted_stops
    elif target.quantity == "fill_under":  # typed as -2 or, by some, as 2: under either way
        centre = marks.get(target.of, math.nan) - abs(target.wanted_stops)
    elif target.of in spots and spots[target.of].background_cd_m2 > 0.0:
        centre = target.wanted_stops + math.log2(spots[target.of].background_cd_m2 / readings.reference_cd_m2)
    if not math.isfinite(centre):
        return None
    return {
        "label": f"{target.of} {QUANTITY_WORDS[target.quantity]}",
        "low": centre - target.within,
        "high": centre + target.within,
        "met": bool(target.met),
    }
