"""What one meters a setup by on paper: camera, daylight and air, expected readings, blanks for the day's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lightcalc import wording
from lightcalc.answers.placement import Placed, placements
from lightcalc.laws.haze import loss_percent_per_m, visibility_from_extinction
from lightcalc.paper.blocks import Pair, Table
from lightcalc.scene.numbering import call_signs, lit_mark
from lightcalc.scene.openings import outward_bearing_deg
from lightcalc.scene.parts import Exterior, Room, Setup
from lightcalc.sky.clock import clock_time
from lightcalc.sky.positions import events, polar_note
from lightcalc.units import fc_from_lx

if TYPE_CHECKING:
    from lightcalc.answers.readings import Readings
    from lightcalc.scene.shoot import Shoot

WRITE_MM = 6.0  # a row to write in by hand


def check_words(placed: Placed, units: str = "metric", *, both: bool = False) -> tuple[str, str]:
    """
    Where a meter is held before a bare lamp, and what it reads there.

    Parameters
    ----------
    placed : placement.Placed
        Of a lamp.
    units : {"metric", "feet"}
    both : bool, default False
        The length in the other unit too; light always is.

    Returns
    -------
    (str, str)
        Distance and light.
    """
    far = wording.length_text(placed.check_m, units, both=both)
    return far, wording.light_text(placed.check_lx, units, both=True)


def camera_lines(setup: Setup, units: str = "metric", *, both: bool = False) -> list[tuple[str, str]]:
    """
    The camera, in pairs of a name and words.

    Parameters
    ----------
    setup : Setup
    units : {"metric", "feet"}
    both : bool, default False
        Lengths in the other unit too.

    Returns
    -------
    list of (str, str)
    """
    cam = setup.camera
    angle = 2 * np.degrees(np.arctan(cam.sensor_width_mm / 2 / cam.focal_mm))
    mark = lit_mark(setup, cam)
    rows = [
        ("Lens", f"{cam.focal_mm:g} mm ({angle:.0f}° across) at {wording.t_stop_text(cam.t_stop)}"),
        ("Sensor", f"{cam.sensor_width_mm:g} x {cam.sensor_height_mm:g} mm, ISO {wording.number_text(cam.iso, figures=4)}"),
        ("Shutter", f"{cam.fps:g} fps, {cam.shutter_deg:g}°, {wording.shutter_text(cam.time_s)}"),
        ("Filter", wording.nd_text(cam.nd_stops)),
        ("Middle grey", wording.light_text(cam.reference_lx, units, both=True)),
        ("Holds", f"{wording.number_text(cam.range_over_stops)} stops over, {wording.number_text(cam.range_under_stops)} under"),
        *([("Balance", f"{cam.balance_kelvin:.0f} K")] if cam.balance_kelvin else []),
    ]
    if mark is not None:
        away = wording.length_text(float(np.linalg.norm(np.subtract(cam.at, mark.at))), units, both=both)
        rows.append(("Focus", f"{away}, {wording.one_line(mark.name, most=30)}"))
    return rows


def daylight_words(shoot: Shoot, setup: Setup) -> str:
    """
    Where sun and sky come from: the hour, what was typed, or that they are kept out.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Returns
    -------
    str
    """
    out = [name for name in ("sun", "sky") if name in setup.kept_out]
    said = [setup.daylight_said] if setup.daylight_said else []
    said += ["kept out" if len(out) == 2 else f"{out[0]} kept out"] if out else []
    if said:
        return "; ".join(said)
    wants = (("a place", shoot.where), ("dates", shoot.dates), ("a time", setup.time))
    return f"none: without {' and '.join(name for name, there in wants if not there)} no hour has one"


def when_words(shoot: Shoot, setup: Setup) -> str:
    """
    Day, date, time and, where the sky matters, outlook; what the file leaves open is said.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Returns
    -------
    str
    """
    date = str(shoot.date_of(setup) or "no date")
    assumed = "clear sky assumed" if any(part and part.model for part in (setup.sun, setup.sky)) else ""
    rest = [setup.time or "no time", *filter(None, [setup.outlook or assumed])]
    return f"Day {setup.day} of {max(shoot.days, setup.day)}, {date}, {', '.join(rest)}"


def twilight_words(shoot: Shoot, setup: Setup) -> str:
    """
    Sunrise or sunset, whichever is nearer to the setup's time; both where it has none, "" without a place or a date.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Returns
    -------
    str
    """
    where, date = shoot.where, shoot.date_of(setup)
    if where is None or date is None:
        return ""
    found = [event for event in events(where, date) if event.name in ("sunrise", "sunset")]
    if found and setup.time:
        hour, minute = clock_time(setup.time)
        found = [min(found, key=lambda event: abs(event.minute - 60 * hour - minute))]
    return ", ".join(f"{event.name} {event.text}" for event in found) or polar_note(where, date)


def air_lines(shoot: Shoot, setup: Setup, units: str = "metric") -> list[tuple[str, str]]:
    """
    Day, light, haze and place, in pairs of a name and words.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup
    units : {"metric", "feet"}

    Returns
    -------
    list of (str, str)
    """
    rows, place, sun = [("Daylight", daylight_words(shoot, setup))], setup.place, setup.sun
    if sun is not None:
        up = f"{abs(sun.elevation_deg):.1f}° {'up' if sun.elevation_deg >= 0 else 'under the horizon'}"
        lit = f", {wording.light_text(sun.normal_lx, units, both=True)} square on" if sun.normal_lx > 0 else ", gives no light"
        rows.append((sun.body.capitalize(), f"from {sun.bearing_deg % 360:.0f}°, {up}{lit}"))
    if setup.sky is not None:
        lux, where = setup.sky.horizontal_lx, "on open ground"
        if isinstance(place, Room) and place.windows:
            widest = max(place.windows, key=lambda window: window.width_m * window.height_m)
            lux, where = setup.sky.wall_lx(outward_bearing_deg(widest, place)), "on its wall outside"
        rows.append(("Sky", f"{wording.light_text(float(lux), units, both=True)} {where}"))
    if (sun is not None or setup.sky is not None) and twilight_words(shoot, setup):
        name, _, time = twilight_words(shoot, setup).partition(" ")
        rows.append(
            (name.capitalize(), time) if name in ("sunrise", "sunset") and "," not in time else ("Sun's day", f"{name} {time}")
        )
    k = setup.haze.extinction_per_m
    if k > 0:
        seen, loss = float(visibility_from_extinction(extinction_per_m=k)), float(loss_percent_per_m(extinction_per_m=k))
        rows.append(("Haze", f"{wording.number_text(k)} /m, {wording.percent_text(loss / 100)} lost a metre"))
        rows.append(("Visibility", wording.distance_text(seen, units)))
    else:
        rows.append(("Haze", "none"))
    size = wording.size_text(*place.size_m[: 2 if isinstance(place, Exterior) else 3], units=units)
    rows.append(("Place", f"{wording.one_line(place.name, most=40)}, {size}"))
    if isinstance(place, Room):
        sides = ", ".join(f"{s} {getattr(place, s):g}" for s in ("floor", "ceiling", "left", "right", "near", "far"))
        rows.append(("Reflects", sides))
    return rows


def _split(mark, signs):
    """What each source gives a mark: the eight largest in the setup's order, the rest in one. [lx]"""
    given = {signs.get(k, k): v for k, v in mark.by_source.items() if v > 0}
    largest = sorted(given, key=given.get, reverse=True)[:8]
    words = [f"{k} {wording.number_text(v)}" for k, v in given.items() if k in largest]
    rest = sum(v for k, v in given.items() if k not in largest)
    return ", ".join(words + [f"rest {wording.number_text(rest)}"] * (rest > 0)) or "none"


def _cheeks(mark):
    """The rows of a person's own cheeks under that of the face; the lit one has the ratio."""
    rows, lit = [], max(mark.cheeks_lx, default=0.0)
    for side, lux, level in zip(("left", "right"), mark.cheeks_lx, mark.cheeks_stops):
        ratio = wording.ratio_text(mark.cheek_ratio, mark.no_cheeks, in_stops=True) if lux == lit else ""
        numbers = wording.number_text(lux), wording.number_text(float(fc_from_lx(lux))), wording.stops_text(level)
        rows.append((f"{wording.one_line(mark.name)}, {side} cheek", *numbers, ratio, "", "", "", ""))
    return rows


def marks(setup: Setup, readings: Readings, *, width: float) -> Table:
    """
    Expected readings at the marks.

    Parameters
    ----------
    setup : Setup
    readings : Readings
    width : float
        Of the table. [mm]

    Returns
    -------
    Table
    """
    signs = call_signs(setup)
    rows: list[tuple[str, ...]] = []
    for mark in readings.marks:
        rows.append(
            (wording.one_line(mark.name), wording.number_text(mark.illuminance_lx), wording.number_text(float(fc_from_lx(mark.illuminance_lx))),
             wording.stops_text(mark.level_stops), wording.ratio_text(mark.ratio, mark.no_ratio, in_stops=True),
             wording.ratio_text(mark.key_to_fill, mark.no_ratio, in_stops=True), wording.percent_text(mark.transmittance),
             wording.reading_text("veil", mark.veil_stops), _split(mark, signs))
        )  # fmt: skip
        rows += _cheeks(mark)
    heads: tuple[str, ...] = ("Mark", "lx", "fc", "Stops", "(Key+fill) : fill", "Key : fill", "Clear", "Veil", "lx by source")
    cheeks = "; on two cheeks lit : far" if any(mark.other_cheek or mark.cheeks_lx for mark in readings.marks) else ""
    title = f"Expected readings at the marks (stops from middle grey; clear: light left at the lens{cheeks})"
    if not any(np.isfinite(mark.mix_kelvin) for mark in readings.marks):
        return Table(title, heads, tuple(rows), wraps=(0, 8), right=(1, 2, 3, 4, 5, 6, 7), width=width)
    heads = heads[:8] + ("Colour",) + heads[8:]
    colours = []
    for mark in readings.marks:
        colours += [mark.mix.words() if np.isfinite(mark.mix_kelvin) else wording.DASH] + [""] * len(mark.cheeks_lx)
    rows = [row[:8] + (colour,) + row[8:] for row, colour in zip(rows, colours)]
    return Table(title, heads, tuple(rows), wraps=(0, 8, 9), right=(1, 2, 3, 4, 5, 6, 7), width=width)


def spots_and_targets(readings: Readings, *, width: float) -> Pair | Table:
    """
    Expected spot readings and the targets, side by side where there are both.

    Parameters
    ----------
    readings : Readings
    width : float
        Of all. [mm]

    Returns
    -------
    Pair or Table
    """
    half = (width - 4.0) / 2 if readings.spots and readings.targets else width
    spots, targets = _spots(readings, half), _targets(readings, half)
    return Pair(spots, targets) if readings.spots and readings.targets else spots if readings.spots else targets


def _spots(readings, width):
    levels = [(wording.stops_text(s.level_stops), wording.reading_text("beam_over", s.beam_over_stops)) for s in readings.spots]
    rows = [(wording.one_line(s.name), wording.number_text(s.luminance_cd_m2), *level) for s, level in zip(readings.spots, levels)]
    heads = ("Spot", "cd/m²", "Stops", "Beam over background")
    return Table("Expected spot readings", heads, tuple(rows), wraps=(0,), right=(1, 2, 3), width=width)


def _targets(readings, width):
    rows = []
    for t in readings.targets:
        wanted = wording.wanted_text(t)
        got = wording.reading_text(t.quantity, t.got_stops)
        rows.append((wording.one_line(t.of), wording.QUANTITIES[t.quantity][0], wanted, got, wording.verdict_text(t)))
    title = "Targets (stops)"
    if rows:
        missed = sum(not t.met for t in readings.targets)
        title += ": all met" if not missed else f": {missed} of {len(rows)} missed"
    return Table(title, ("Of", "What", "Wanted", "Expected", ""), tuple(rows), wraps=(0,), right=(2, 3), width=width)


def day_block(setup: Setup, readings: Readings, units: str = "metric", *, both: bool = False, width: float) -> Table:
    """
    Blanks for the meter's readings, the expected value beside each: every lamp alone, every mark, every spot.

    Parameters
    ----------
    setup : Setup
    readings : Readings
    units : {"metric", "feet"}
    both : bool, default False
        Lengths in the other unit too.
    width : float
        Of the table. [mm]

    Returns
    -------
    Table
    """
    signs, rows = call_signs(setup), []
    for light, placed in zip(setup.lights, placements(setup)):
        far, alone = check_words(placed, units, both=both)
        rows.append((f"{signs[light.name]} {wording.one_line(light.name)} alone, {far} in front", alone))
    for mark in readings.marks:
        level = wording.stops_text(mark.level_stops)
        rows.append((wording.one_line(mark.name), f"{wording.light_text(mark.illuminance_lx, units, both=True)}, {level}"))
    for spot in readings.spots:
        seen, level = wording.luminance_text(spot.luminance_cd_m2, units), wording.stops_text(spot.level_stops)
        rows.append((f"{wording.one_line(spot.name)}, spot", f"{seen}, {level}"))
    heads = ("Metered where", "Expected", "Metered", "Stops off", "What was moved")
    blank = tuple((where, expected, "", "", "") for where, expected in rows)
    return Table("Metered on the day", heads, blank, wraps=(0,), width=width, row_mm=WRITE_MM)
