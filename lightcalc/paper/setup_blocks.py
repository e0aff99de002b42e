"""What the page of a setup says: by the tape, lights and power, boards, daylight, readings, blanks for the day, cautions."""

from __future__ import annotations

import numpy as np

from lightcalc import wording
from lightcalc.answers.light_patch import beams, patch_words
from lightcalc.answers.placement import placements
from lightcalc.answers.readings import BLACK
from lightcalc.kit.materials import default_kit
from lightcalc.laws.haze import HAZE_CAUTION, loss_percent_per_m, visibility_from_extinction
from lightcalc.laws.power import CONTINUOUS_SHARE, HEAT_CAUTION, POWER_CAUTION, amps, circuit_amps
from lightcalc.paper.page import LONGEST, Pair, Table, Words
from lightcalc.scene.numbering import call_signs, lit_mark
from lightcalc.scene.parts import Exterior, Room
from lightcalc.sky.clock import clock_time
from lightcalc.sky.positions import events, polar_note
from lightcalc.units import fc_from_lx, stops

HEIGHT_CAUTION = (
    "Height: weight every stand, tie a safety line on everything overhead, keep people out from under; rigging and "
    "work at height are for trained people under local rules."
)
OUTSIDE_CAUTION = (
    "Outside: wind takes frames, boards and stands; guy and weight them, keep lamps and cables dry and the way past clear."
)
SUN_CAUTION = "Sun: never look at it through the lens or a finder; it blinds eyes and burns sensors."
LEAST_STOPS = 0.05  # a board that changes nothing by more gives nothing that a meter shows
NEAR_MARK_M = 0.25  # a head's width
WRITE_MM = 6.0  # a row to write in by hand


# --- what stands where -----------------------------------------------------------------------------


def tape(setup, units="metric", *, both=False, width):
    """
    Where a tape finds each thing, and how it is panned and tilted.

    Parameters
    ----------
    setup : Setup
    units : {"metric", "feet"}
    both : bool, default False
        Lengths in the other unit too.
    width : float
        Of the table. [mm]

    Returns
    -------
    Table
        A row for each light, board, frame, flag and mark, and the camera's.
    """
    signs, rows = call_signs(setup), []
    for placed in placements(setup):
        part = setup.part(placed.name) if placed.kind != "flag" else next(f for f in setup.flags if f.name == placed.name)
        sign = signs.get(("flag", placed.name) if placed.kind == "flag" else placed.name, "") if placed.kind != "mark" else ""
        high = wording.length_text(placed.height_m, units, both=both)
        turned = [f"{wording.signed(placed.pan_deg, sign=False)}°", f"{wording.signed(placed.tilt_deg)}°", _roll(part)]
        rows.append((sign, wording.one_line(placed.name), _aim_text(setup, part), placed.where(units, both), high, *turned))
    kind = "edge of the plan" if isinstance(setup.place, Exterior) else "wall"
    title = f"By the tape (pan: 0° faces the far {kind}, clockwise from above; tilt: plus is up)"
    heads = ("", "What", "Faces", "Where, along the floor", "High", "Pan", "Tilt", "Roll")
    if not any(row[-1] for row in rows):
        heads, rows = heads[:-1], [row[:-1] for row in rows]
    return Table(title, heads, tuple(rows), wraps=(1, 2, 3), right=tuple(range(4, len(heads))), width=width)


def _roll(part):
    """Clockwise from behind; nothing for what is upright or has no face to turn."""
    flat = getattr(part, "face_width_m", 1.0) > 0
    roll = (getattr(part, "roll_deg", 0.0) + 180.0) % 360.0 - 180.0
    return f"{wording.signed(roll)}°" if flat and abs(roll) >= 0.5 else ""


def _aim_text(setup, part):
    """The mark it aims at, if the aim point is within a head's width of one."""
    mark = lit_mark(setup, part)
    near = mark is not None and mark is not part and np.linalg.norm(np.subtract(mark.at, part.aim)) < NEAR_MARK_M
    return wording.one_line(mark.name) if near else wording.DASH


def check_words(placed, units="metric", *, both=False):
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


def lights(shoot, setup, units="metric", *, both=False, width):
    """
    The lamps: kit, dimmer, gel, colour, watts and amps, and the light in front of each alone; under them the circuit.

    Parameters
    ----------
    shoot : Shoot
        Gives mains and breaker.
    setup : Setup
    units : {"metric", "feet"}
    both : bool, default False
        Lengths in the other unit too.
    width : float
        Of the table. [mm]

    Returns
    -------
    Table
    """
    rows, signs = [], call_signs(setup)
    for light, placed in zip(setup.lights, placements(setup)):
        cloth = ", ".join(wording.one_line(p.name) for p in (light.gel, light.diffusion) if p is not None) or wording.DASH
        kelvin = f"{light.kelvin:.0f}" if light.kelvin else wording.DASH
        watts = wording.number_text(light.watts, figures=4) if light.watts else wording.DASH
        drawn = (
            wording.number_text(float(amps(watts=light.watts, volts=shoot.mains_volts)), figures=2) if light.watts else wording.DASH
        )
        far, alone = check_words(placed, units, both=both)
        rows.append(
            (signs[light.name], wording.one_line(light.name), wording.one_line(light.kit) or wording.DASH, wording.dim_text(light.dim),
             cloth, kelvin, watts, drawn, far, alone)
        )  # fmt: skip
    heads = ("", "Light", "Kit", "Dim", "Gel, diffusion", "K", "W", "A", "Alone, in front", "reads")
    foot = power_words(shoot, setup)
    return Table("Lights", heads, tuple(rows), wraps=(1, 2, 4), right=(5, 6, 7, 8, 9), width=width, foot=foot)


def power_words(shoot, setup):
    """
    Total watts and amps, and whether one circuit carries them at 80 percent; "" where nothing draws power.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Returns
    -------
    str
    """
    watts = sum(light.watts for light in setup.lights)
    if not watts:
        return ""
    drawn, most = float(amps(watts=watts, volts=shoot.mains_volts)), float(circuit_amps(breaker_amps=shoot.breaker_amps))
    circuit = f"one {wording.number_text(shoot.breaker_amps)} A circuit at {wording.percent_text(CONTINUOUS_SHARE)} "
    circuit += f"({wording.number_text(most)} A)"
    fits = f"fits {circuit}" if drawn <= most else f"does not fit {circuit}: {int(np.ceil(drawn / most - 1e-9))} or more"
    lamps = wording.count_text(sum(light.watts > 0 for light in setup.lights), "lamp")
    return (
        f"Power: {wording.number_text(watts, figures=5)} W in all, {lamps} undimmed, {wording.number_text(drawn)} A at "
        f"{wording.number_text(shoot.mains_volts)} V (power factor 1): {fits}."
    )


def boards(setup, readings, units="metric", *, both=False, width):
    """
    Boards, frames and flags: how large, of what, and what they give.

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
    groups = (("board", setup.boards, "stuff"), ("frame", setup.frames, "diffusion"), ("flag", setup.flags, ""))
    for kind, group, cover in groups:
        for part in group:
            sign = signs[("flag", part.name) if kind == "flag" else part.name]
            size = wording.size_text(part.width_m, part.height_m, units=units)
            size += f" ({wording.size_text(part.width_m, part.height_m, units='feet' if units == 'metric' else 'metric')})" * both
            made_of = wording.one_line(getattr(part, cover).name) if cover else "black"
            black = kind == "flag" or (kind == "board" and part.stuff.reflectance <= BLACK)
            gives = "takes light away" if black else gives_words(readings, part.name)
            rows.append((sign, kind, wording.one_line(part.name), size, made_of, gives))
    heads = ("", "Kind", "Name", "Width x height", "Of", "Gives")
    return Table("Boards, frames and flags", heads, tuple(rows), wraps=(2, 4, 5), width=width)


def gives_words(readings, name):
    """
    What a board or frame gives the mark that it gives most, or that it gives nothing.

    Parameters
    ----------
    readings : Readings
    name : str
        Of the board or frame.

    Returns
    -------
    str

    Notes
    -----
    Straight from it: a mark's fill, or its whole where it is key, against the same without it. Nothing is under a
    twentieth of a stop at every mark, less than two meters of a kind differ.
    """
    found = []
    for mark in readings.marks:
        given, whole = mark.by_source.get(name, 0.0), mark.illuminance_lx if name in mark.key else mark.fill_lx
        found.append((float(stops(whole / max(whole - given, 1e-12))) if given > 0 else 0.0, mark))
    if not found:
        return wording.DASH
    most, mark = max(found, key=lambda pair: pair[0])
    if most < LEAST_STOPS:
        return "nothing: under 1/20 stop at every mark"
    what = "of its light" if name in mark.key else "of fill"
    less = wording.stops_text(most) if most < 10 else "nearly all"
    return f"{wording.one_line(mark.name)}: {less} {what}"


# --- camera, air, daylight -------------------------------------------------------------------------


def camera_lines(setup, units="metric", *, both=False):
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


def daylight_words(shoot, setup):
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


def when_words(shoot, setup):
    """
    Day, date, time and outlook; what the file leaves open is said.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Returns
    -------
    str
    """
    date = str(shoot.date_of(setup) or "no date")
    rest = (setup.time or "no time", setup.outlook or "no outlook")
    return f"Day {setup.day} of {max(shoot.days, setup.day)}, {date}, {', '.join(rest)}"


def twilight_words(shoot, setup):
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


def air_lines(shoot, setup, units="metric"):
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
        rows.append(("Sky", f"{wording.light_text(float(setup.sky.horizontal_lx), units, both=True)} on open ground"))
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


# --- readings --------------------------------------------------------------------------------------


def _split(mark, signs):
    """What each source gives a mark: the eight largest in the setup's order, the rest in one. [lx]"""
    given = {signs.get(k, k): v for k, v in mark.by_source.items() if v > 0}
    largest = sorted(given, key=given.get, reverse=True)[:8]
    words = [f"{k} {wording.number_text(v)}" for k, v in given.items() if k in largest]
    rest = sum(v for k, v in given.items() if k not in largest)
    return ", ".join(words + [f"rest {wording.number_text(rest)}"] * (rest > 0)) or "none"


def marks(setup, readings, *, width):
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
    signs, rows = call_signs(setup), []
    for mark in readings.marks:
        rows.append(
            (wording.one_line(mark.name), wording.number_text(mark.illuminance_lx), wording.number_text(float(fc_from_lx(mark.illuminance_lx))),
             wording.stops_text(mark.level_stops), wording.ratio_text(mark.ratio, mark.no_ratio, in_stops=True),
             wording.ratio_text(mark.key_to_fill, mark.no_ratio, in_stops=True), wording.percent_text(mark.transmittance),
             wording.reading_text("veil", mark.veil_stops), _split(mark, signs))
        )  # fmt: skip
    heads = ("Mark", "lx", "fc", "Stops", "(Key+fill) : fill", "Key : fill", "Clear", "Veil", "lx by source")
    cheeks = "; on two cheeks lit : far" if any(mark.other_cheek for mark in readings.marks) else ""
    title = f"Expected readings at the marks (stops from middle grey; clear: light left at the lens{cheeks})"
    if not any(np.isfinite(mark.mix_kelvin) for mark in readings.marks):
        return Table(title, heads, tuple(rows), wraps=(0, 8), right=(1, 2, 3, 4, 5, 6, 7), width=width)
    heads = heads[:8] + ("Colour",) + heads[8:]
    colours = [mark.mix.words() if np.isfinite(mark.mix_kelvin) else wording.DASH for mark in readings.marks]
    rows = tuple(row[:8] + (colour,) + row[8:] for row, colour in zip(rows, colours))
    return Table(title, heads, rows, wraps=(0, 8, 9), right=(1, 2, 3, 4, 5, 6, 7), width=width)


def spots_and_targets(readings, *, width):
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
    found = Pair(_spots(readings, half), _targets(readings, half))
    return found if readings.spots and readings.targets else found.left if readings.spots else found.right


def _spots(readings, width):
    levels = [(wording.stops_text(s.level_stops), wording.reading_text("beam_over", s.beam_over_stops)) for s in readings.spots]
    rows = [(wording.one_line(s.name), wording.number_text(s.luminance_cd_m2), *level) for s, level in zip(readings.spots, levels)]
    heads = ("Spot", "cd/m²", "Stops", "Beam over background")
    return Table("Expected spot readings", heads, tuple(rows), wraps=(0,), right=(1, 2, 3), width=width)


def _targets(readings, width):
    rows = []
    for t in readings.targets:
        wanted = f"{wording.stops_text(t.wanted_stops)} ± {wording.number_text(t.within, figures=2)}"
        got = wording.reading_text(t.quantity, t.got_stops)
        rows.append((wording.one_line(t.of), wording.QUANTITIES[t.quantity][0], wanted, got, wording.verdict_text(t)))
    title = "Targets (stops)"
    if rows:
        missed = sum(not t.met for t in readings.targets)
        title += ": all met" if not missed else f": {missed} of {len(rows)} missed"
    return Table(title, ("Of", "What", "Wanted", "Expected", ""), tuple(rows), wraps=(0,), right=(2, 3), width=width)


def day_block(setup, readings, units="metric", *, both=False, width):
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
    rows = tuple((where, expected, "", "", "") for where, expected in rows)
    return Table("Metered on the day", heads, rows, wraps=(0,), width=width, row_mm=WRITE_MM)


# --- words -----------------------------------------------------------------------------------------


def landed(setup, units):
    """
    Where light that comes in at windows lands, a line a lamp; the sun's or moon's where the setup has one.

    Parameters
    ----------
    setup : Setup
    units : {"metric", "feet"}

    Returns
    -------
    list of str
    """
    signs, lines = call_signs(setup), []
    for beam in beams(setup) if isinstance(setup.place, Room) else ():
        lies = patch_words(setup.place, beam.patches, units=units) or (beam.note and f"nowhere: {beam.note}")
        if beam.through_windows and lies:
            name = f"{signs[beam.source]} {beam.source}" if beam.source in signs else f"the {beam.source}"
            lines.append(f"Light of {wording.one_line(name)} lands {wording.one_line(lies, most=400)}.")
    return lines


def notes(setup, units="metric", *, width):
    """
    The setup's own notes, its cut, and where light through windows lands.

    Parameters
    ----------
    setup : Setup
    units : {"metric", "feet"}
    width : float
        [mm]

    Returns
    -------
    Words
    """
    said = [setup.notes] if setup.notes.strip() else []
    said += [f"Must match setup {setup.cuts_to} across the cut."] if setup.cuts_to else []
    return Words("Notes", tuple(wording.one_line(n, most=LONGEST) for n in said + landed(setup, units)), width)


def cautions(setup):
    """
    The usual cautions that apply to a setup, and only those.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    tuple of str
        One sentence or two each; local codes and licensed people decide.
    """
    kit = default_kit().lamp
    stands = setup.lights + setup.boards + setup.flags + setup.frames
    powered = [light for light in setup.lights if light.watts > 0]
    hot = [light for light in powered if light.kit not in kit or kit[light.kit].source != "led"]
    outside = [p for p in stands if isinstance(setup.place, Exterior) or not setup.place.contains(p.at)]
    applies = (
        (setup.haze.extinction_per_m > 0, HAZE_CAUTION),
        (powered, POWER_CAUTION),
        (hot, HEAT_CAUTION),
        (any(p.at[2] > 2.0 for p in stands), HEIGHT_CAUTION),
        (outside, OUTSIDE_CAUTION),
        (_sun_seen(setup), SUN_CAUTION),
    )
    return tuple(words for when, words in applies if when)


def _sun_seen(setup):
    """Whether the sun may get into a lens: it is up, and there is a sky or a window to see it by."""
    there = isinstance(setup.place, Exterior) or setup.place.windows
    return bool(there) and setup.sun is not None and setup.sun.body == "sun" and setup.sun.elevation_deg > -1.0
