"""Questions that need no shoot file: one line in, one line out, and with --why the equation, its source and its test."""

from __future__ import annotations

import datetime as dt
import importlib
import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lightcalc.laws import bounce, engraved, exposure, falloff, haze, haze_measured, motion, power, ventilation
from lightcalc.units import FT, lx_from_fc, stops
from lightcalc.wording import distance_text, length_text, light_text, number_text, percent_text, ratio_text, stops_text

NUMBER = re.compile(r"\s*([-+−]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)(?:\s*/\s*(\d+\.?\d*))?\s*([a-zA-Zµ°%²³/0-9]*)\s*")
OTHER_UNITS = {  # what else may stand behind a number of a unit, and what it is worth
    "m": {"ft": FT, "cm": 0.01, "mm": 0.001}, "lx": {"fc": float(lx_from_fc(1.0))}, "s": {"ms": 0.001}, "W": {"kW": 1000.0},
    "min": {"h": 60.0}, "m/s": {"km/h": 1 / 3.6},
}  # fmt: skip


class AskError(ValueError):
    """A question that was typed wrongly: one sentence."""


@dataclass(frozen=True)
class Given:
    """A number (or, without a unit, a text) that a question takes."""

    name: str
    unit: str | None
    about: str
    usual: float | str | None = None  # None must be given

    def read(self, typed: str) -> float | str:
        """
        What was typed, as a number in the unit.

        Parameters
        ----------
        typed : str
            "3.7", "12 ft", "1/50", "30fc".

        Returns
        -------
        float or str

        Raises
        ------
        AskError
            If it is no number, has a decimal comma, or another unit.
        """
        if self.unit is None:
            return typed
        found = NUMBER.fullmatch(typed)
        if not found and "," in typed and NUMBER.fullmatch(typed.replace(",", ".", 1)):
            raise AskError(f"--{self.name} {typed}: a decimal comma; write {typed.replace(',', '.', 1)}")
        if not found or (found[2] and float(found[2]) == 0.0):
            raise AskError(f"--{self.name} must be a number [{self.unit}], got {typed!r}: {self.about}")
        value = float(found[1].replace("−", "-")) / (float(found[2]) if found[2] else 1.0)
        if found[3] in ("", self.unit):
            return value
        others = OTHER_UNITS.get(self.unit, {})
        if found[3] not in others:
            raise AskError(f"--{self.name} is in {' or '.join((self.unit, *others))}, got {typed!r}")
        return value * others[found[3]]


@dataclass(frozen=True)
class Question:
    """A question: what it takes, what answers it, and which laws the answer rests on."""

    verb: str
    asks: str
    given: tuple[Given, ...]
    answer: Callable[..., tuple[dict, list[str]]]  # to values, unit in the names, and lines
    equation: str
    laws: tuple[str, ...]
    caution: str = ""

    def why(self) -> list[str]:
        """Equation, and for each law where it stands, what it leaves out, its source and its test."""
        lines = [f"equation: {self.equation}"]
        for law in self.laws:
            module, name = law.rsplit(".", 1)
            text = inspect.getdoc(getattr(importlib.import_module(f"lightcalc.{module}"), name)) or name
            sources = re.search(r"^References\n-+\n(.*?)(?=^\w[^\n]*\n-{3,}\n|\Z)", text, re.S | re.M)
            lines.append(f"{name}: {text.splitlines()[0]}")
            room, file = module.split(".")
            lines.append(f"  lightcalc/{room}/{file}.py, held by tests/{room}/test_{file}.py")
            if sources:
                lines += [f"  source: {part}" for part in re.sub(r"\s*\.\. \[\d+\] ", "\n", sources[1]).split("\n") if part.strip()]
        return lines


CAMERA = (
    Given("iso", "", "speed", 800.0),
    Given("fps", "", "frames a second", 24.0),
    Given("shutter", "deg", "shutter angle; or --time 1/50", 180.0),
    Given("time", "s", "exposure time instead of a shutter angle", 0.0),
    Given("nd", "stops", "filter", 0.0),
)


def _time_s(fps, shutter, time):
    return time or float(exposure.shutter_time_s(shutter_deg=shutter, fps=fps))


def _stop(lux, at, iso, fps, shutter, time, nd):
    time_s = _time_s(fps, shutter, time)
    exact = float(exposure.t_stop_for(illuminance_lx=lux, time_s=time_s, iso=iso, nd_stops=nd, at_stops=at))
    ring = float(engraved.nearest_third(scale="t_stop", value=exact))
    off = float(2 * stops(exposure.t_stop_from_engraved(label=ring) / exact))
    lines = [
        f"T{ring:g}: {light_text(lux, both=True)} sits {stops_text(at - off)} stops from middle grey (exactly T{number_text(exact)})"
    ]
    return {"t_stop": exact, "engraved_t_stop": ring, "off_stops": off}, lines


def _lux(t, at, iso, fps, shutter, time, nd):
    time_s, t_stop = _time_s(fps, shutter, time), float(exposure.t_stop_from_engraved(label=t))
    held = {"t_stop": t_stop, "time_s": time_s, "iso": iso, "nd_stops": nd}
    lux = float(exposure.illuminance_lx_for(**held, at_stops=at))
    card = float(exposure.reference_luminance_cd_m2(**held)) * 2.0**at
    ev = float(exposure.exposure_value(t_stop=t_stop, time_s=time_s, iso=iso)) - nd
    lines = [
        f"{light_text(lux, both=True)} on a face at {stops_text(at)} stops from middle grey; a grey card there is {number_text(card)} cd/m²",
        f"the camera stands at EV {number_text(ev)} (ISO 100)",
    ]
    return {"illuminance_lx": lux, "grey_card_cd_m2": card, "ev100": ev}, lines


def _falloff(lux, at, to, size):
    change = float(falloff.inverse_square_stops(near_m=at, far_m=to))
    there = float(lux) * (at / to) ** 2
    values = {"illuminance_lx": there, "change_stops": change}
    lines = [
        f"{light_text(lux, both=True)} at {length_text(at)} is {light_text(there, both=True)} at {length_text(to)}: {stops_text(change)} stops"
    ]
    if size:
        off = [float(falloff.point_formula_error(distance_m=d, size_m=size)) for d in (at, to)]
        values["soft_change_stops"] = change + float(stops((1 + off[0]) / (1 + off[1])))
        near = abs(values["soft_change_stops"] - change) >= 0.05
        lines.append(
            f"an even face {length_text(size)} across changes {stops_text(values['soft_change_stops'])} stops: "
            + ("so near it is no point" if near else "a point for this purpose")
        )
    return values, lines


def _ratio(lit, shade):
    if shade <= 0:
        raise AskError(f"--shade must be > 0, got {shade:g}: what the meter reads on the shadow side, key shaded off")
    ratio, key = lit / shade, lit - shade
    both = float(bounce.fill_ratio(key_lx=max(key, 0.0), fill_lx=shade)) if key >= 0 else ratio
    values = {"ratio": both, "key_to_fill": max(key, 0.0) / shade, "ratio_stops": float(stops(ratio))}
    if key < 0:
        return values, [
            f"the shade reads more than the lit side, by {stops_text(-stops(ratio), sign=False)} stops: swap the readings?"
        ]
    alone = float(bounce.key_fill_ratio(key_lx=key, fill_lx=shade))
    return values, [f"(key + fill) : fill {ratio_text(both, in_stops=True)}; key : fill {ratio_text(alone)}"]


def _extinction(clear, hazy, path):
    if min(clear, hazy) <= 0:
        raise AskError(f"--clear and --hazy must be > 0, got {min(clear, hazy):g}: the same lamp read before and after")
    read = haze_measured.extinction_from_lamp(clear_stops=stops(clear), hazy_stops=stops(hazy), path_m=path)
    thick, error = float(read.extinction_per_m), float(read.error_per_m)
    values = {"extinction_per_m": thick, "error_per_m": error}
    if thick <= 0:
        return values, [f"no haze to speak of: {number_text(thick)} ± {number_text(error, figures=2)} per metre"]
    values["visibility_m"] = float(haze.visibility_from_extinction(extinction_per_m=thick))
    values["mor_m"] = float(haze.mor_from_extinction(extinction_per_m=thick))
    values["loss_percent_per_m"] = float(haze.loss_percent_per_m(extinction_per_m=thick))
    return values, [
        f"{number_text(thick)} ± {number_text(error, figures=2)} per metre: {number_text(values['loss_percent_per_m'])} % lost in each metre",
        f"sees {distance_text(values['visibility_m'])} (2 % contrast); to 5 % of a beam {distance_text(values['mor_m'])}",
    ]


def _blur(speed, distance, focal, fps, shutter, width, angle, pan):
    time_s = float(exposure.shutter_time_s(shutter_deg=shutter, fps=fps))
    if pan:
        long_mm = float(motion.pan_blur_mm(pan_deg_s=pan, focal_mm=focal, time_s=time_s))
    else:
        long_mm = float(motion.blur_mm(speed_m_s=speed, distance_m=distance, focal_mm=focal, time_s=time_s, direction_deg=angle))
    share = float(motion.percent_of_width(length_mm=long_mm, sensor_width_mm=width))
    step, gap, risk = (float(v) for v in motion.strobing(blur_mm=long_mm, shutter_deg=shutter, sensor_width_mm=width))
    return {"blur_mm": long_mm, "blur_percent": share, "step_percent": step, "gap_percent": gap, "strobing_risk": risk}, [
        f"{number_text(long_mm)} mm on the sensor, {number_text(share)} % of the picture's width, in {number_text(1000 * time_s)} ms",
        f"from image to image {number_text(step)} %, of which {number_text(gap)} % is empty: "
        + ("likely to break up on a hard edge" if risk > 1 else "within the usual rule for panning"),
    ]


def _box(volume, height, changes, extinction, fluid, share, hours):
    from lightcalc.kit.droplets import PRESETS, phase_table

    table, recipe = phase_table("fine glycol haze"), PRESETS["fine glycol haze"]
    mass = float(haze.mass_from_extinction(extinction_per_m=extinction, mass_extinction_m2_g=table.mass_extinction_m2_g))
    sinks = float(ventilation.settling_m_s(diameter_um=recipe.median_um, density_g_cm3=recipe.density_g_cm3))
    loss = float(ventilation.loss_per_h(air_changes_per_h=changes, settling_m_s=sinks, height_m=height))
    full_g_h, rates = 60.0 * fluid * share, {"loss_per_h": loss, "volume_m3": volume}
    most = float(ventilation.steady_mg_m3(source_g_per_h=full_g_h, **rates))
    values = {"mass_mg_m3": mass, "loss_per_h": loss, "steady_mg_m3": most}
    thin = float(haze.extinction_from_mass(mass_mg_m3=most, mass_extinction_m2_g=table.mass_extinction_m2_g))
    if most <= mass:
        return values, [f"never: at full output this machine holds {number_text(thin)} per metre in this room"]
    values["build_min"] = 60.0 * float(ventilation.hours_between(from_mg_m3=0.0, to_mg_m3=mass, source_g_per_h=full_g_h, **rates))
    values["hold_share"] = float(ventilation.hold_g_per_h(mass_mg_m3=mass, **rates)) / full_g_h
    values["tenth_min"] = 60.0 * float(np.log(10.0)) / loss
    values["fluid_g"] = fluid * (values["build_min"] + 60.0 * hours * values["hold_share"])
    return values, [
        f"{number_text(values['build_min'], figures=2)} min to {number_text(extinction)} per metre, then on "
        f"{percent_text(values['hold_share'])} of the time; off, a tenth is left after "
        f"{number_text(values['tenth_min'], figures=2)} min",
        f"{number_text(mass, figures=2)} mg/m³ of droplets in the air; {number_text(values['fluid_g'], figures=2)} g of fluid for "
        f"{number_text(hours)} h (fine glycol haze, evenly mixed; real rooms are streaky)",
    ]


def _amps(watts, volts, pf, breaker, cable, area, battery):
    load = float(power.amps(watts=watts, volts=volts, power_factor=pf))
    may, share = float(power.circuit_amps(breaker_amps=breaker)), float(power.circuit_loading(load_amps=load, breaker_amps=breaker))
    most = float(power.circuit_watts(breaker_amps=breaker, volts=volts, power_factor=pf))
    values = {"load_amps": load, "circuit_amps": may, "circuit_share": share, "circuit_watts": most}
    fits = "fits" if load <= may else f"does NOT fit: {int(np.ceil(load / may))} circuits"
    lines = [
        f"{number_text(load)} A at {number_text(volts)} V: {fits} on {number_text(breaker)} A, which all day carries {number_text(may)} A "
        f"({number_text(most)} W)",
        f"heat {number_text(float(power.heat_btu_h(watts=watts)))} BTU/h",
    ]
    if cable:
        drop = float(power.cable_drop_v(load_amps=load, length_m=cable, area_mm2=area))
        values["drop_v"], values["drop_percent"] = drop, float(power.drop_percent(drop_v=drop, volts=volts))
        lines.append(
            f"{length_text(cable)} of {number_text(area)} mm² lose {number_text(drop)} V, {number_text(values['drop_percent'])} %"
        )
    if battery:
        values["battery_h"] = float(power.battery_hours(capacity_wh=battery, watts=watts))
        lines.append(f"a battery of {number_text(battery)} Wh runs it {number_text(values['battery_h'], figures=2)} h")
    return values, lines


def _patch(out, height, sill, head, width, depth):
    if head <= sill:
        raise AskError(f"--head must be over --sill, got {head:g} and {sill:g}: heights over the floor")
    near, far = (float(falloff.window_patch_m(out_m=out, lamp_height_m=height, edge_height_m=edge)) for edge in (sill, head))
    ends = min(far, depth)
    values = {"near_m": near, "far_m": far, "near_width_m": width * (out + near) / out, "far_width_m": width * (out + ends) / out}
    if not near < depth:
        return values, [f"none on the floor: it goes over to the wall {length_text(depth)} off"]
    floor = f"on the floor from {length_text(near)} to {length_text(ends)} from the window's wall"
    wide = f"{length_text(values['near_width_m'])} wide at the near end, {length_text(values['far_width_m'])} at the far end"
    up = height - (height - head) * (out + depth) / out if far > depth else 0.0
    wall = [f"and up the wall {length_text(depth)} off, to {length_text(up)} over the floor"] if far > depth else []
    return values, [f"{floor}; {wide}", *wall]


def _sun(lat, lon, zone, date, time, outlook):
    from lightcalc.scene.sun_and_sky import sun_and_sky
    from lightcalc.sky import positions
    from lightcalc.sky.clock import LocalDay, clock_time
    from lightcalc.sky.clock import zone as zone_of

    now = dt.datetime.now(zone_of(zone))
    try:
        day = LocalDay(dt.date.fromisoformat(date) if date else now.date(), zone)
    except ValueError as error:
        raise AskError(f"--date must be a date such as 2028-08-20, got {date!r} ({error})") from None
    hour, minute = clock_time(time) if time else (now.hour, now.minute)
    place = positions.Place(lat, lon, zone)
    when = dt.datetime.combine(day.date, dt.time(hour, minute), zone_of(zone))
    seen, (sun, sky) = positions.sun_at(place, when), sun_and_sky(place, when, outlook=outlook)
    normal, ground = float(sun.normal_lx), float(sky.horizontal_lx)
    level = normal * max(float(np.sin(np.radians(seen.apparent_deg))), 0.0) + ground
    full = positions.next_moon(phase="full", after=when).astimezone(zone_of(zone))
    lines = [
        f"{day.date} {hour:02d}:{minute:02d}: sun {number_text(seen.apparent_deg)}° high, bearing {number_text(seen.bearing_deg)}°",
        f"{outlook} sky, model, half to twice: sun {light_text(normal, both=True)} square to it, sky {light_text(ground, both=True)}, "
        f"open ground {light_text(level, both=True)}",
        *(f"{event.name} {event.text}" for event in positions.events(place, day.date) if event.name in ("sunrise", "sunset")),
        f"full moon {full:%Y-%m-%d %H:%M}",
    ]
    return {
        "altitude_deg": seen.apparent_deg, "bearing_deg": seen.bearing_deg, "sun_normal_lx": normal, "sky_lx": ground,
        "ground_lx": level, "sun_kelvin": float(sun.kelvin), "full_moon": full.isoformat(),
    }, lines  # fmt: skip


AT = Given("at", "stops", "where it shall sit, from middle grey", 0.0)
QUESTIONS = {
    question.verb: question
    for question in (
        Question("stop", "which T-stop for a reading", (Given("lux", "lx", "what the meter reads at the face"), AT, *CAMERA),
                 _stop, "T = sqrt(E t S / (C 2^nd 2^at)), C = 250 lx s", ("laws.exposure.t_stop_for", "laws.engraved.nearest_third")),
        Question("lux", "how much light a T-stop needs", (Given("t", "", "T-stop, as engraved"), AT, *CAMERA),
                 _lux, "E = C T^2 2^nd 2^at / (t S), C = 250 lx s", ("laws.exposure.illuminance_lx_for", "laws.exposure.exposure_value")),
        Question("falloff", "what a lamp gives nearer or further", (
                     Given("lux", "lx", "the reading"), Given("at", "m", "lamp to meter"), Given("to", "m", "the new distance"),
                     Given("size", "m", "width of a soft face", 0.0)),
                 _falloff, "E2 = E1 (d1 / d2)^2", ("laws.falloff.inverse_square_stops", "laws.falloff.point_formula_error")),
        Question("ratio", "which ratio two readings make", (
                     Given("lit", "lx", "meter on the lit side: key and fill"), Given("shade", "lx", "meter in the key's shadow: fill")),
                 _ratio, "(key + fill) : fill = lit / shade; stops = log2", ("laws.bounce.fill_ratio", "laws.bounce.key_fill_ratio")),
        Question("extinction", "how thick the haze is, from one lamp read before and after", (
                     Given("clear", "lx", "the lamp before the haze, through a narrow spot or a tube"),
                     Given("hazy", "lx", "the same after"), Given("path", "m", "lamp to meter")),
                 _extinction, "sigma = ln(clear / hazy) / path", ("laws.haze_measured.extinction_from_lamp",
                 "laws.haze.visibility_from_extinction", "laws.haze.mor_from_extinction"), haze.HAZE_CAUTION),
        Question("blur", "how long a moving thing's streak is", (
                     Given("speed", "m/s", "of what moves", 0.0), Given("distance", "m", "lens to it", 3.0),
                     Given("focal", "mm", "focal length", 35.0), Given("fps", "", "frames a second", 24.0),
                     Given("shutter", "deg", "shutter angle", 180.0), Given("width", "mm", "of the sensor", 24.9),
                     Given("angle", "deg", "its way against the sight line", 90.0), Given("pan", "deg/s", "or the camera pans", 0.0)),
                 _blur, "b = f v t sin(angle) / (d - f); panning b = f omega t", ("laws.motion.blur_mm", "laws.motion.pan_blur_mm",
                 "laws.motion.strobing")),
        Question("box", "how long a machine takes to fill a room with haze", (
                     Given("volume", "m³", "of the room"), Given("extinction", "1/m", "wanted"), Given("height", "m", "of the room", 3.0),
                     Given("changes", "1/h", "fresh air, air changes an hour", 0.5), Given("fluid", "g/min", "at full output", 2.0),
                     Given("share", "", "of the fluid that hangs in the air", 0.2), Given("hours", "h", "held so long", 2.0)),
                 _box, "dm/dt = G / V - loss m; sigma = m x mass extinction", ("laws.ventilation.hours_between",
                 "laws.ventilation.hold_g_per_h", "laws.ventilation.settling_m_s"), haze.HAZE_CAUTION),
        Question("amps", "does it fit on the circuit", (
                     Given("watts", "W", "all lamps on it"), Given("volts", "V", "of the mains", 230.0),
                     Given("pf", "", "power factor", 1.0), Given("breaker", "A", "of the circuit", 16.0),
                     Given("cable", "m", "length of the extension", 0.0), Given("area", "mm²", "copper of each wire", 2.5),
                     Given("battery", "Wh", "or from a battery", 0.0)),
                 _amps, "I = P / (U pf), at most 0.8 of the breaker; drop = 2 rho l I / A", ("laws.power.amps", "laws.power.circuit_amps",
                 "laws.power.cable_drop_v", "laws.power.battery_hours"), power.POWER_CAUTION),
        Question("patch", "where a lamp outside a window lands", (
                     Given("out", "m", "lamp out from the wall"), Given("height", "m", "of the lamp over the room's floor"),
                     Given("sill", "m", "of the window over the floor"), Given("head", "m", "upper edge of the window over the floor"),
                     Given("width", "m", "of the window"), Given("depth", "m", "of the room, to the wall across", 6.0)),
                 _patch, "x = D h / (H - h), of sill and of head", ("laws.falloff.window_patch_m",)),
        Question("sun", "where the sun stands and what it gives", (
                     Given("lat", "deg", "latitude, north is plus"), Given("lon", "deg", "longitude, east is plus"),
                     Given("zone", None, "time zone, such as Europe/Berlin", "UTC"), Given("date", None, "such as 2028-08-20; today", ""),
                     Given("time", None, "such as 19:40; now", ""), Given("outlook", None, "clear, partly or overcast", "clear")),
                 _sun, "VSOP87 positions; tabulated daylight against altitude", ("sky.positions.sun_at", "sky.daylight.sun_normal_lx",
                 "sky.daylight.skylight_lx"), "Never look at the sun through a lens, and never leave a lens pointing at it."),
    )
}  # fmt: skip


def ask(verb: str, typed: dict[str, str]) -> tuple[dict, list[str]]:
    """
    The answer to a question.

    Parameters
    ----------
    verb : str
        One of `QUESTIONS`.
    typed : dict of str to str
        What was typed for each thing that is given; what is left out takes its usual value.

    Returns
    -------
    values : dict
        Numbers, units in their names.
    lines : list of str
        The same in words, and a caution where something can hurt.

    Raises
    ------
    AskError, ValueError
        If something is missing, unknown, or outside its range; one sentence.

    Examples
    --------
    >>> ask("ratio", {"lit": "400", "shade": "100"})[1]
    ['(key + fill) : fill 4.0 : 1 (2.0 stops); key : fill 3.0 : 1']
    """
    question = QUESTIONS[verb]
    missing = [given for given in question.given if given.usual is None and typed.get(given.name) is None]
    if missing:
        raise AskError(f"{verb} needs {', '.join(f'--{given.name} ({given.about})' for given in missing)}")
    values = {g.name: g.usual if typed.get(g.name) is None else g.read(typed[g.name]) for g in question.given}
    found, lines = question.answer(**values)
    return found, lines + ([question.caution] if question.caution else [])
