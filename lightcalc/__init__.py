"""
Plan, try, print, meter, correct and explain the light, haze and exposure of film setups, in stops.

    import lightcalc as lc

    lc.illuminance(intensity_cd=45_000, distance_m=3.7)                       falloff, by the closed form
    lc.fill_ratio(key_lx=300, fill_lx=100)                                    (key + fill) : fill
    lc.beam_over_stops(illuminance_lx=2000, width_m=0.8, extinction_per_m=0.04,
                       background_cd_m2=1.5, angle_deg=60, to_lens_m=4)       a beam over what is behind it

    setup = lc.load("data/salt_ledger.toml").setup("1")                       a shoot file, one of its setups
    seen = lc.readings(setup)                                                 what meters read, all bounces and haze
    seen.mark("clerk").ratio, seen.spot("beam").beam_over_stops
    lc.picture(setup).save("1.png"), lc.setup_sheet(shoot, setup, "1.pdf"), lc.Stage(setup)

The house, a room imports only from rooms below it:

    panels     the stage: what a person sees and touches
    paper      printed pages
    drawing    drawings onto given axes
    answers    questions asked of a lit setup or of the clock: readings, depth, boards, noise, day, haze over hours
    engine     a setup to illuminances, luminances and a picture
    scene      the set as data, to and from a text file
    kit        lamps, boards, cloths, gels, surfaces, haze droplets
    sky        sun, moon and sky over a place, and its clock
    laws       closed forms: exposure, falloff, bounce, haze, ventilation, colour, motion, noise, night sky, power
    wording    numbers in words;  units: feet and foot-candles at the door

Numbers are SI and photometric, keyword-only, with the unit in the name. Names load when first used.
"""

from __future__ import annotations

import importlib

__version__ = "0.1.0"
_ROOMS = ("panels", "paper", "drawing", "answers", "engine", "scene", "kit", "sky", "laws", "wording", "units")
_HOMES = {  # where each public name lives
    "units": "stops ratio_from_stops m_from_ft ft_from_m lx_from_fc fc_from_lx cd_m2_from_fl fl_from_cd_m2",
    "laws.falloff": "illuminance window_patch_m inverse_square_stops distance_for_stops rectangle_factor disc_factor polygon_factor",
    "laws.bounce": "fill_ratio key_fill_ratio ratio_stops fill_for_ratio board_fill_illuminance board_distance_for_fill "
    "lamp_bounce_illuminance sun_bounce_illuminance torch_bounce_illuminance",
    "laws.haze": "beam_over_stops transmittance extinction_from_visibility extinction_from_mor visibility_from_extinction loss_percent_per_m "
    "side_beam_luminance henyey_greenstein",
    "laws.haze_measured": "extinction_from_lamp extinction_from_cards",
    "laws.exposure": "reference_illuminance_lx level_stops shutter_time_s t_stop_from_engraved t_stop_for iso_for nd_stops_for "
    "illuminance_lx_for exposure_value illuminance_from_ev luminance_from_ev luminance_level_stops slow_motion_stops fps_for "
    "shutter_angle_deg exposure_change_stops",
    "laws.colour": "kelvin_from_mired",
    "laws.engraved": "variable_nd_stops variable_nd_turn_deg",
    "laws.motion": "blur_mm depth_of_field_m",
    "laws.ventilation": "hours_between hold_g_per_h",
    "laws.power": "amps cable_drop_v battery_hours",
    "sky.positions": "Place sun_at moon_at events",
    "sky.daylight": "sun_normal_lx skylight_lx moonlight_lx",
    "kit.candela": "Beam Lambert Photometry",
    "kit.lm63": "read_photometry",
    "kit.materials": "lamp stuff diffusion gel surface default_kit",
    "scene.shoot": "Shoot",
    "scene.parts": "Setup Room Exterior Window Circuit Light Board Flag Frame Piece Mark Spot Camera Haze HazeMachine Sun Sky Target SceneError from_kit",
    "scene.solids": "solids",
    "scene.shoot_file": "load loads save new_text demo_path ShootFile ShootError",
    "engine.solve": "light",
    "engine.picture": "picture sight_line",
    "answers.readings": "readings",
    "answers.advice": "advise",
    "answers.correction": "correct",
    "answers.day_report": "day_report",
    "answers.still": "read_places read_still",
    "answers.cut": "compare_setups matched_targets",
    "answers.sensitivity": "sensitivity",
    "scene.meter_log": "read_log log_of",
    "answers.light_response": "light_response",
    "answers.camera_change": "camera_for exposed",
    "answers.placement": "placements",
    "answers.light_patch": "beams",
    "answers.depth": "layers",
    "answers.beam_in_haze": "haze_sweep beam_map",
    "answers.board_choice": "boards_for boards_in",
    "answers.headroom": "reserve answer",
    "answers.noise": "noise",
    "answers.setup_day": "setup_day",
    "answers.circuits": "setup_load",
    "answers.shot_list": "shots",
    "answers.shoot_order": "shoot_order",
    "answers.haze_plan": "air_plan",
    "paper.setup_sheet": "setup_sheet",
    "paper.camera_sheet": "tables_sheet",
    "paper.book": "write_book",
    "paper.phone_page": "write_phone_page",
    "paper.recce_form": "write_recce",
    "panels.stage": "Stage",
    "panels.meter_form": "MeterForm",
    "panels.shoot_board": "ShootBoard",
    "panels.figure_beside": "Beside",
}
_HOME = {name: f"lightcalc.{module}" for module, names in _HOMES.items() for name in names.split()}
_MEANT = {  # what people try first, and what they mean
    "lux": "illuminance", "falloff": "illuminance", "inverse_square": "inverse_square_stops", "footcandles": "fc_from_lx",
    "ratio": "fill_ratio", "contrast_ratio": "fill_ratio", "lighting_ratio": "fill_ratio", "bounce": "board_fill_illuminance",
    "beam": "beam_over_stops", "haze": "transmittance", "visibility": "extinction_from_visibility", "open": "load", "read": "load",
    "load_shoot": "load", "demo": "demo_path", "meter": "readings", "read_setup": "readings", "measure": "readings",
    "view": "picture", "render": "picture", "sheet": "setup_sheet", "pdf": "setup_sheet", "stage": "Stage", "widget": "Stage",
    "stop": "stops", "exposure": "reference_illuminance_lx", "day": "setup_day", "sun": "Sun", "boards": "boards_for",
    "advice": "advise", "fix": "advise", "suggest": "advise",
}  # fmt: skip

__all__ = sorted(_HOME)


def __getattr__(name):
    """A public name or a room, brought in when first asked for."""
    if name in _HOME:
        value = getattr(importlib.import_module(_HOME[name]), name)
    elif name in _ROOMS:
        value = importlib.import_module(f"lightcalc.{name}")
    else:
        raise AttributeError(_unknown(name))
    globals()[name] = value
    return value


def __dir__():
    return [*__all__, *_ROOMS]


def _unknown(name):
    """One sentence with the right name, where one is near."""
    from difflib import get_close_matches

    near = _MEANT.get(name.lower())
    close = [near] if near else get_close_matches(name, [*_HOME, *_ROOMS], n=3, cutoff=0.6)
    said = f"; did you mean {' or '.join(f'lightcalc.{other}' for other in close)}?" if close else "; help(lightcalc) has the map"
    return f"lightcalc has no '{name}'{said}"
