"""What a camera setting needs in light: against ISO 2720 and ISO 12232, by an independent library and by hand."""

import numpy as np
import pytest

from lightcalc.laws import exposure

import second_ways


def test_constants_lie_in_the_standards_ranges():
    # PUBLISHED: ISO 2720:1974 as quoted in colour-hdri 0.2.6: C 240-400 flat, 320-540 dome, K 10.6-13.4.
    assert exposure.ISO2720_C_FLAT_RANGE == (240.0, 400.0) and exposure.ISO2720_C_DOME_RANGE == (320.0, 540.0)
    assert exposure.ISO2720_K_RANGE == (10.6, 13.4)
    assert 240.0 <= exposure.ISO2720_C_FLAT <= 400.0 and 10.6 <= exposure.ISO2720_K <= 13.4


@pytest.mark.parametrize(
    ("label", "lx", "fc"),
    [
        (1.4, 240, 22.30),
        (2, 480, 44.59),
        (2.8, 960, 89.19),
        (4, 1920, 178.4),
        (5.6, 3840, 356.8),
        (8, 7680, 713.5),
        (11, 15360, 1427),
        (16, 30720, 2854),
    ],
)
def test_light_for_a_stop_at_iso_100(label, lx, fc):
    # INDEPENDENT: colour-hdri 0.2.6 average_illuminance, C = 250, 1/48 s, ISO 100; four figures in foot-candles.
    # PUBLISHED equation: ISO 2720:1974. An engraved number stands for its power of sqrt 2.
    time_s = exposure.shutter_time_s(shutter_deg=180.0, fps=24.0)
    t_stop = exposure.t_stop_from_engraved(label=label)
    got = exposure.reference_illuminance_lx(t_stop=t_stop, time_s=time_s, iso=100.0)
    assert got == pytest.approx(lx, rel=1e-9)
    assert got * 0.3048**2 == pytest.approx(fc, rel=4e-4)
    # COMMON PRACTICE: fc = 25 T^2/(S t), a practitioner's text: "T4, ISO 800, 1/48: 25 fc"; that is C 269, .106 stop.
    rule_lx = 25.0 * t_stop**2 / (100.0 * time_s) / 0.3048**2
    assert np.log2(rule_lx / got) == pytest.approx(0.106, abs=2e-3)


@pytest.mark.parametrize(("ev", "lx", "cd_m2"), [(0, 2.5, 0.125), (5, 80, 4), (10, 2560, 128), (15, 81920, 4096)])
def test_exposure_values(ev, lx, cd_m2):
    # INDEPENDENT: colour-hdri 0.2.6, illuminance_to_exposure_value(81920, 100) = 15 and the rest by 2^EV.
    assert exposure.illuminance_from_ev(ev=ev) == pytest.approx(lx, rel=1e-12)
    assert exposure.luminance_from_ev(ev=ev) == pytest.approx(cd_m2, rel=1e-12)


def test_library_examples():
    # INDEPENDENT: colour-hdri 0.2.6 docstrings: 160 lx and, at K 12.5, 8 cd/m2 for N 8, 1 s, ISO 100;
    # EV100(8, 1/250, 400) = 11.96578.
    assert exposure.reference_illuminance_lx(t_stop=8.0, time_s=1.0, iso=100.0) == pytest.approx(160.0, rel=1e-12)
    assert exposure.exposure_value(t_stop=8.0, time_s=1 / 250, iso=400.0) == pytest.approx(11.96578, rel=1e-6)
    ev = exposure.exposure_value(t_stop=8.0, time_s=1.0)
    assert exposure.luminance_from_ev(ev=ev) == pytest.approx(8.0, rel=1e-12)
    assert exposure.illuminance_from_ev(ev=ev) == pytest.approx(160.0, rel=1e-12)


def test_sunny_sixteen():
    # DERIVED from ISO 2720: N 16, t = 1/S: C 256 = 64 000 lx, K 256 = 3200 cd/m2, at any speed.
    for iso in (50.0, 320.0):
        lx = exposure.reference_illuminance_lx(t_stop=16.0, time_s=1 / iso, iso=iso)
        assert lx == pytest.approx(64_000, rel=1e-12)
        ev = exposure.exposure_value(t_stop=16.0, time_s=1 / iso, iso=iso)
        assert exposure.luminance_from_ev(ev=ev) == pytest.approx(3200.0, rel=1e-12)


def test_grey_card_reads_alike_incident_and_spot():
    # DERIVED: a matt card gives L = rho E/pi, so .18 E_ref/pi is level 0 both ways; K = .18 C/pi = 14.324, which
    # lies .096 stop above the top of ISO 2720's range and .196 above 12.5.
    camera = {"t_stop": 3.7, "time_s": 0.013, "iso": 640.0, "nd_stops": 1.7}
    e_lx, l_cd = exposure.reference_illuminance_lx(**camera), exposure.reference_luminance_cd_m2(**camera)
    card_cd = 0.18 * (e_lx * 3.0) / np.pi
    incident = exposure.level_stops(illuminance_lx=e_lx * 3.0, reference_lx=e_lx)
    spot = exposure.luminance_level_stops(luminance_cd_m2=card_cd, reference_cd_m2=l_cd)
    assert incident == pytest.approx(np.log2(3.0), rel=1e-12) and spot == pytest.approx(incident, rel=1e-12)
    k = l_cd * 0.013 * 640.0 / (3.7**2 * 2.0**1.7)
    assert k == pytest.approx(14.3239, rel=1e-5)
    assert np.log2(k / exposure.ISO2720_K_RANGE[1]) == pytest.approx(0.0962, abs=1e-4)
    assert np.log2(k / exposure.ISO2720_K) == pytest.approx(0.1965, abs=1e-4)


def test_dark_is_minus_infinity_not_a_crash():
    # DERIVED: log2 0.
    assert exposure.level_stops(illuminance_lx=0.0, reference_lx=480.0) == -np.inf
    assert exposure.luminance_level_stops(luminance_cd_m2=0.0, reference_cd_m2=48.0) == -np.inf


@pytest.mark.parametrize(
    ("shutter_deg", "fps", "one_over"),
    [(180, 24, 48), (180, 25, 50), (180, 30, 60), (172.8, 24, 50), (144, 24, 60), (180, 60, 120), (240, 60, 90)],
)
def test_shutter_angles_and_times(shutter_deg, fps, one_over):
    # DERIVED: angle/(360 fps). 60 fps at 1/120, 1/90 s is how crews shoot slow motion (COMMON PRACTICE).
    time_s = exposure.shutter_time_s(shutter_deg=shutter_deg, fps=fps)
    assert 1.0 / time_s == pytest.approx(one_over, rel=1e-12)
    assert exposure.shutter_angle_deg(time_s=1.0 / one_over, fps=fps) == pytest.approx(shutter_deg, rel=1e-12)


def test_broadcast_frame_rate():
    # DERIVED: 180 deg at 24000/1001 fps is 1001/48000 s.
    got = exposure.shutter_time_s(shutter_deg=180.0, fps=24_000 / 1001)
    assert got == pytest.approx(0.0208542, rel=2e-6)


@pytest.mark.parametrize(
    ("fps", "mains_hz", "angles"),
    [
        (24, 50, [86.4, 172.8, 259.2, 345.6]),
        (24, 60, [72, 144, 216, 288, 360]),
        (25, 60, [75, 150, 225, 300]),
        (30, 50, [108, 216, 324]),
        (25, 50, [90, 180, 270, 360]),
        (120, 50, []),
    ],
)
def test_flicker_free_angles(fps, mains_hz, angles):
    # DERIVED: whole pulses in the open time; 172.8 deg at 24 fps on 50 Hz and 144 on 60 Hz are the ones crews
    # quote. Each is put back into pulses: time x 2 f must be whole.
    got = exposure.flicker_free_angles_deg(fps=fps, mains_hz=mains_hz)
    assert got == pytest.approx(angles, rel=1e-12)
    if angles:
        pulses = exposure.shutter_time_s(shutter_deg=got, fps=fps) * 2.0 * mains_hz
        assert pulses == pytest.approx(np.arange(1, len(angles) + 1), rel=1e-12)


@pytest.mark.parametrize(
    ("pairs", "change"),
    [
        ({"old_fps": 24, "new_fps": 60}, -1.3219281),
        ({"old_t_stop": 2.0, "new_t_stop": 4.0}, -2.0),
        ({"old_iso": 800, "new_iso": 3200}, 2.0),
        ({"old_shutter_deg": 180, "new_shutter_deg": 240}, 0.4150375),
        ({"old_shutter_deg": 180, "new_shutter_deg": 360}, 1.0),
        ({"old_nd_stops": 0.0, "new_nd_stops": 2.7}, -2.7),
        ({"old_fps": 24, "new_fps": 48, "old_iso": 400, "new_iso": 800}, 0.0),
        ({}, 0.0),
    ],
)
def test_what_a_change_costs(pairs, change):
    # DERIVED: log2 of 24/60, (2/4)^2, 4, 4/3, 2; a stop of speed pays for a doubled frame rate.
    assert exposure.exposure_change_stops(**pairs) == pytest.approx(change, rel=1e-6, abs=1e-12)


def test_change_agrees_with_the_level_it_moves():
    # DERIVED: the level of one mark before and after, through the reference illuminance.
    old = {"t_stop": 2.3, "iso": 500.0, "nd_stops": 0.9}, {"shutter_deg": 172.8, "fps": 24.0}
    new = {"t_stop": 3.1, "iso": 1280.0, "nd_stops": 0.3}, {"shutter_deg": 140.0, "fps": 48.0}
    levels = [
        exposure.level_stops(
            illuminance_lx=317.0,
            reference_lx=exposure.reference_illuminance_lx(**camera, time_s=exposure.shutter_time_s(**shutter)),
        )
        for camera, shutter in (old, new)
    ]
    pairs = {
        f"{when}_{name}": value for when, parts in (("old", old), ("new", new)) for part in parts for name, value in part.items()
    }
    assert exposure.exposure_change_stops(**pairs) == pytest.approx(levels[1] - levels[0], rel=1e-12)


def test_each_setting_can_be_solved_for():
    # DERIVED: put back, the solved setting places the mark where it was asked for.
    lx, camera = 317.0, {"t_stop": 2.3, "time_s": 0.017, "iso": 500.0, "nd_stops": 0.9}
    wanted = {"illuminance_lx": lx, "at_stops": -1 / 3}
    solvers = {
        "t_stop": exposure.t_stop_for,
        "iso": exposure.iso_for,
        "time_s": exposure.time_s_for,
        "nd_stops": exposure.nd_stops_for,
    }
    for name, solve in solvers.items():
        found = solve(**wanted, **{key: value for key, value in camera.items() if key != name})
        reference_lx = exposure.reference_illuminance_lx(**(camera | {name: found}))
        level = exposure.level_stops(illuminance_lx=lx, reference_lx=reference_lx)
        assert level == pytest.approx(-1 / 3, rel=1e-10)


def test_neutral_density_for_noon():
    # DERIVED by hand: 64 000 lx (sunny 16) at T4, 1/48 s, ISO 800: T16 to T4 is 4 stops, 1/800 to 1/48 s log2(800/48).
    nd = exposure.nd_stops_for(illuminance_lx=64_000.0, t_stop=4.0, time_s=1 / 48, iso=800.0)
    assert nd == pytest.approx(4.0 + np.log2(800 / 48), rel=1e-12)


def test_engraved_whole_stops_are_powers_of_root_two():
    # PUBLISHED series: 1 1.4 2 2.8 4 5.6 8 11 16 22 (ISO 517), powers of sqrt 2; computed here by repeated sqrt 2.
    labels = np.array([1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22])
    exact = np.sqrt(2.0) ** np.arange(10)
    assert exposure.t_stop_from_engraved(label=labels) == pytest.approx(exact, rel=1e-12)
    assert exposure.engraved_t_stop(t_stop=exact).tolist() == labels.tolist()
    assert 1.0 - (2.8 / exposure.t_stop_from_engraved(label=2.8)) ** 2 == pytest.approx(0.02, rel=1e-9)


def test_engraved_numbers_stay_near_their_stops():
    # DERIVED: every number on the ring is within 0.15 stop of the T-stop it stands for (1.2 and 0.9 the worst), and
    # comes back as itself; the nearest number is never more than a sixth of a stop off.
    ring = exposure.ENGRAVED_T_STOPS
    exact = exposure.t_stop_from_engraved(label=ring)
    assert np.max(np.abs(2.0 * np.log2(ring / exact))) < 0.15
    assert np.diff(2.0 * np.log2(exact)) == pytest.approx(np.full(len(ring) - 1, 1 / 3), rel=1e-12)
    assert exposure.engraved_t_stop(t_stop=exact).tolist() == ring.tolist()
    any_stop = np.geomspace(0.7, 60.0, 997)
    near = exposure.t_stop_from_engraved(label=exposure.engraved_t_stop(t_stop=any_stop))
    assert np.max(np.abs(2.0 * np.log2(near / any_stop))) <= 1 / 6 + 1e-12


def test_sensor_exposure():
    # PUBLISHED: ISO 12232:2006: q = (pi/4) T v cos^4, .9, .98, 10 deg; the standard rounds to .65. INDEPENDENT:
    # colour-hdri 0.2.6: L 4000, N 8, 1/250 s gives H .1628937 lx s with q .65157, EI 10/H = 61.38973.
    q = np.pi / 4.0 * 0.9 * 0.98 * np.cos(np.radians(10.0)) ** 4
    assert q == pytest.approx(0.65157, rel=1e-5)
    assert pytest.approx(q, rel=3e-3) == second_ways.ISO12232_Q
    lx_s = second_ways.sensor_exposure_lx_s(luminance_cd_m2=4000.0, f_number=8.0, time_s=1 / 250, q=q)
    assert lx_s == pytest.approx(0.1628937, rel=1e-6)
    assert exposure.ISO12232_MIDTONE / lx_s == pytest.approx(61.38973, rel=1e-6)


def test_sensor_exposure_at_a_metered_mid_tone():
    # DERIVED: K N^2/(t S) through q: .65 x 12.5/S = 8.125/S lx s.
    luminance = 12.5 * 5.6**2 / (0.02 * 320.0)
    lx_s = second_ways.sensor_exposure_lx_s(luminance_cd_m2=luminance, f_number=5.6, time_s=0.02)
    assert lx_s == pytest.approx(8.125 / 320.0, rel=1e-12)


def test_saturation():
    # DERIVED: 78/.65 = 120, so 120 N^2/(S t) = 1.2 x 2^EV100. PUBLISHED: ISO 12232:2006, 78 and 10: 7.8 times,
    # 2.963 stops; .18 x 7.8 = 1.404, the "141 %" of its half stop of headroom to within 1 %.
    got = second_ways.saturation_luminance_cd_m2(f_number=2.3, time_s=0.017, iso=640.0)
    assert got == pytest.approx(120.0 * 2.3**2 / (640.0 * 0.017), rel=1e-12)
    ev = exposure.exposure_value(t_stop=2.3, time_s=0.017, iso=640.0)
    assert got == pytest.approx(1.2 * 2.0**ev, rel=1e-12)
    headroom = second_ways.ISO12232_SATURATION / exposure.ISO12232_MIDTONE
    assert np.log2(headroom) == pytest.approx(2.963, rel=1e-3) and 0.18 * headroom == pytest.approx(1.41, rel=0.01)


def test_arrays_broadcast_and_scalars_stay_scalars():
    t_stop, iso = np.array([2.0, 2.8, 4.0])[:, None], np.array([400.0, 800.0])
    grid = exposure.reference_illuminance_lx(t_stop=t_stop, time_s=1 / 50, iso=iso)
    one = exposure.reference_illuminance_lx(t_stop=2.8, time_s=1 / 50, iso=800.0)
    assert grid.shape == (3, 2) and np.ndim(one) == 0 and grid[1, 1] == pytest.approx(one, rel=1e-15)
    ring = exposure.engraved_t_stop(t_stop=np.array([[2.1, 2.7], [3.9, 9.3]]))
    assert ring.tolist() == [[2.0, 2.8], [4.0, 9.0]] and np.ndim(exposure.engraved_t_stop(t_stop=2.7)) == 0
    assert np.ndim(exposure.t_stop_from_engraved(label=2.8)) == 0
    change = exposure.exposure_change_stops(old_iso=400.0, new_iso=iso, old_t_stop=2.0, new_t_stop=t_stop)
    assert change.shape == (3, 2) and change[2, 1] == pytest.approx(-1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: exposure.shutter_time_s(shutter_deg=400, fps=24), r"shutter_deg must be <= 360 and > 0, got 400"),
        (lambda: exposure.shutter_time_s(shutter_deg=180, fps=0), r"fps must be > 0, got 0: frames per second"),
        (lambda: exposure.shutter_angle_deg(time_s=0.1, fps=24), r"shutter angle must be <= 360, got 864: the time is longer"),
        (lambda: exposure.reference_illuminance_lx(t_stop=0, time_s=0.02, iso=800), r"t_stop must be > 0, got 0: 2.8 or 5.6"),
        (lambda: exposure.reference_illuminance_lx(t_stop=2, time_s=0.02, iso=np.nan), r"iso must be a finite number"),
        (
            lambda: exposure.reference_illuminance_lx(t_stop=2, time_s=0.02, iso=800, nd_stops=-1),
            r"nd_stops must be >= 0, got -1: stops of density",
        ),
        (lambda: exposure.exposure_change_stops(new_iso=800), r"old_iso and new_iso must be given together, got only the new one"),
        (lambda: exposure.exposure_change_stops(old_shutter_deg=180, new_shutter_deg=500), r"new_shutter_deg must be"),
        (lambda: exposure.t_stop_from_engraved(label=2.9), r"label must be one of 0.7, 0.8, .* 64, got 2.9"),
        (lambda: exposure.engraved_t_stop(t_stop=0.3), r"t_stop must be >= 0.667.*T0.7 to T64"),
        (lambda: exposure.iso_for(illuminance_lx=0, t_stop=2, time_s=0.02), r"illuminance_lx must be > 0, got 0: no light"),
        (lambda: exposure.level_stops(illuminance_lx=-3, reference_lx=10), r"illuminance_lx must be >= 0, got -3"),
        (lambda: second_ways.sensor_exposure_lx_s(luminance_cd_m2=1, f_number=2, time_s=1, q=1), r"q must be"),
    ],
)
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_the_ring_says_what_rings_say():
    # PUBLISHED: the usual third-stop scale from 1 to 22, as in public tables of f-numbers; beyond it the number that
    # stands for each third is the whole number nearest it, from 25 to 64.
    usual = [1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20, 22]
    ring = exposure.ENGRAVED_T_STOPS.tolist()
    assert ring[3 : 3 + len(usual)] == usual and ring[:3] == [0.7, 0.8, 0.9]
    beyond = [round(2.0 ** (step / 6)) for step in range(28, 37)]
    assert ring[31:] == beyond


def test_light_and_frame_rate_can_be_solved_for():
    # DERIVED: put back, each places the mark where it was asked for; ISO 2720 by hand: 250 x 16 x 48/800 = 240 lx.
    assert exposure.illuminance_lx_for(t_stop=4.0, time_s=1 / 48, iso=800.0) == pytest.approx(240.0, rel=1e-12)
    camera = {"t_stop": 2.3, "iso": 500.0, "nd_stops": 0.9}
    fps = exposure.fps_for(illuminance_lx=317.0, shutter_deg=144.0, at_stops=-1 / 3, **camera)
    time_s = exposure.shutter_time_s(shutter_deg=144.0, fps=fps)
    lx = exposure.illuminance_lx_for(time_s=time_s, at_stops=-1 / 3, **camera)
    assert lx == pytest.approx(317.0, rel=1e-12)
    assert exposure.time_s_for(illuminance_lx=317.0, at_stops=-1 / 3, **camera) == pytest.approx(time_s, rel=1e-12)


@pytest.mark.parametrize(
    ("new_fps", "angle", "time"),
    [(24, 0.0, 0.0), (48, -1.0, 0.0), (60, -1.3219281, -0.3219281), (120, -2.3219281, -1.3219281), (12, 1.0, 0.0)],
)
def test_slow_motion_at_constant_angle_and_time(new_fps, angle, time):
    # DERIVED: log2(24/f); at a constant time free until 180 deg has opened to 360, at twice the rate. 24 to 60 fps at
    # 1.3 stops and to 120 at 2.3 is what crews reckon (COMMON PRACTICE).
    assert exposure.slow_motion_stops(old_fps=24, new_fps=new_fps) == pytest.approx(angle, abs=1e-6)
    got = exposure.slow_motion_stops(old_fps=24, new_fps=new_fps, keep="time")
    assert got == pytest.approx(time, abs=1e-6)


def test_slow_motion_is_what_the_settings_say():
    # INDEPENDENT of the new function: `exposure_change_stops` with the angle that holds 1/90 s at 60 fps (240 deg).
    both = exposure.exposure_change_stops(old_fps=30, new_fps=60, old_shutter_deg=120, new_shutter_deg=240)
    assert exposure.slow_motion_stops(old_fps=30, new_fps=60, shutter_deg=120, keep="time") == pytest.approx(both, abs=1e-12)
    with pytest.raises(ValueError, match="keep must be 'angle' or 'time', got 'blur'"):
        exposure.slow_motion_stops(old_fps=24, new_fps=60, keep="blur")


CAMERA = {"t_stop": 2.0, "time_s": 0.02, "iso": 800.0, "nd_stops": 0.3}
MARK = {"illuminance_lx": 300.0, "at_stops": 0.5}
REFUSED = {"t_stop": 0.0, "time_s": 0.0, "iso": 0.0, "nd_stops": -0.1, "illuminance_lx": 0.0, "at_stops": np.nan}


def without(name):
    """A camera with one setting left to solve for, and a mark."""
    return {key: value for key, value in (CAMERA | MARK).items() if key != name}


LIMITS = [  # function, inputs that pass, inputs that must each be refused
    (exposure.shutter_time_s, {"shutter_deg": 180.0, "fps": 24.0}, {"shutter_deg": 0.0, "fps": 0.0}),
    (exposure.shutter_angle_deg, {"time_s": 0.02, "fps": 24.0}, {"time_s": 0.0, "fps": 0.0}),
    (exposure.flicker_free_angles_deg, {"fps": 24.0, "mains_hz": 50.0}, {"fps": 0.0, "mains_hz": -1.0}),
    (exposure.reference_illuminance_lx, CAMERA, REFUSED),
    (exposure.reference_luminance_cd_m2, CAMERA, REFUSED),
    (exposure.level_stops, {"illuminance_lx": 1.0, "reference_lx": 2.0}, {"illuminance_lx": -1.0, "reference_lx": 0.0}),
    (
        exposure.luminance_level_stops,
        {"luminance_cd_m2": 1.0, "reference_cd_m2": 2.0},
        {"luminance_cd_m2": -1.0, "reference_cd_m2": 0.0},
    ),
    (exposure.t_stop_for, without("t_stop"), REFUSED),
    (exposure.iso_for, without("iso"), REFUSED),
    (exposure.time_s_for, without("time_s"), REFUSED),
    (exposure.nd_stops_for, without("nd_stops"), REFUSED),
    (exposure.illuminance_lx_for, {**CAMERA, "at_stops": 0.5}, REFUSED),
    (exposure.fps_for, {**without("time_s"), "shutter_deg": 180.0}, REFUSED | {"shutter_deg": 0.0}),
    (
        exposure.slow_motion_stops,
        {"old_fps": 24.0, "new_fps": 60.0, "shutter_deg": 180.0},
        {"old_fps": 0.0, "new_fps": -1.0, "shutter_deg": 361.0},
    ),
    (
        exposure.exposure_change_stops,
        {
            "old_iso": 400.0,
            "new_iso": 800.0,
            "old_nd_stops": 0.0,
            "new_nd_stops": 1.0,
            "old_shutter_deg": 180.0,
            "new_shutter_deg": 90.0,
        },
        {"old_iso": 0.0, "new_iso": -1.0, "old_nd_stops": -1.0, "new_nd_stops": -1.0, "old_shutter_deg": 361.0},
    ),
    (exposure.engraved_t_stop, {"t_stop": 2.7}, {"t_stop": 70.0}),
    (exposure.t_stop_from_engraved, {"label": 2.8}, {"label": 2.805}),
    (exposure.exposure_value, {"t_stop": 2.0, "time_s": 0.02, "iso": 800.0}, REFUSED),
    (exposure.illuminance_from_ev, {"ev": 3.0}, {"ev": np.nan}),
    (exposure.luminance_from_ev, {"ev": 3.0}, {"ev": np.inf}),
    (
        second_ways.sensor_exposure_lx_s,
        {"luminance_cd_m2": 1.0, "f_number": 2.0, "time_s": 0.02, "q": 0.65},
        {"luminance_cd_m2": -1.0, "f_number": 0.0, "time_s": 0.0, "q": 0.0},
    ),
    (
        second_ways.saturation_luminance_cd_m2,
        {"f_number": 2.0, "time_s": 0.02, "iso": 800.0},
        {"f_number": 0.0, "time_s": 0.0, "iso": 0.0},
    ),
]


@pytest.mark.parametrize(("function", "good", "bad"), LIMITS, ids=[row[0].__name__ for row in LIMITS])
def test_every_limit_is_kept(function, good, bad):
    assert np.all(np.isfinite(function(**good)))
    for name in set(bad) & set(good):
        with pytest.raises(ValueError, match=r"must be"):
            function(**(good | {name: bad[name]}))
