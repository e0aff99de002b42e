"""Blur, gaps and depth: against worked tables, by following points through a pinhole, and by the thin lens itself."""

import numpy as np
import pytest

from lightcalc.laws import motion


def test_a_walk_at_three_metres():
    # DERIVED by hand: 50 mm, 1 m/s, 1/48 s, 3 m: f v t/d = .34722 mm, 57.9 pixels of 6 um; with the lens focused
    # at 3 m the image stands f d/(d - f) behind it, so it is 1.0169 of that, .35311 mm.
    got = motion.blur_mm(speed_m_s=1.0, distance_m=3.0, focal_mm=50.0, time_s=1 / 48)
    assert got == pytest.approx(0.35311, rel=1e-4) and got * (3.0 - 0.05) / 3.0 == pytest.approx(0.34722, rel=1e-4)
    assert motion.pixels(length_mm=0.34722, pixel_um=6.0) == pytest.approx(57.87, rel=1e-4)


def test_a_run_at_twenty_metres():
    # DERIVED by hand: 100 mm, 10 m/s, 1/48 s, 20 m: f v t/d = 1.0417 mm; focused there, times 20/19.9.
    got = motion.blur_mm(speed_m_s=10.0, distance_m=20.0, focal_mm=100.0, time_s=1 / 48)
    assert got * 19.9 / 20.0 == pytest.approx(1.0417, rel=1e-4)
    assert motion.percent_of_width(length_mm=got, sensor_width_mm=24.9) == pytest.approx(100 * got / 24.9, rel=1e-12)


def test_a_pan():
    # DERIVED by hand: f omega t, 50 mm, 30 deg/s, 1/48 s: .54542 mm.
    got = motion.pan_blur_mm(pan_deg_s=30.0, focal_mm=50.0, time_s=1 / 48)
    assert got == pytest.approx(0.54542, rel=1e-4)
    # DERIVED: d tan = d phi / cos^2: a third longer at 30 degrees off the axis.
    edge = motion.pan_blur_mm(pan_deg_s=30.0, focal_mm=50.0, time_s=1 / 48, off_axis_deg=30.0)
    assert edge / got == pytest.approx(4 / 3, rel=1e-4)


@pytest.mark.parametrize("direction_deg", [0.0, 25.0, 90.0, 140.0, 180.0])
@pytest.mark.parametrize("offset_m", [0.0, 0.9, -0.4])
def test_a_point_followed_through_a_pinhole(direction_deg, offset_m):
    # INDEPENDENT: the point stepped through the exposure in camera space, each place projected by x = v X/Z with v
    # from the thin-lens equation; the streak is from the first to the last (it keeps one way here).
    d, f, v, t = 4.3, 0.035, 5.2, 1 / 50
    at = np.linspace(-t / 2, t / 2, 501)
    turn = np.radians(direction_deg)
    x, z = offset_m + v * at * np.sin(turn), d - v * at * np.cos(turn)
    image = 1.0 / (1.0 / f - 1.0 / d) * x / z
    got = motion.blur_mm(speed_m_s=v, distance_m=d, focal_mm=35.0, time_s=t, direction_deg=direction_deg, offset_m=offset_m)
    assert got == pytest.approx(1e3 * abs(image[-1] - image[0]), rel=1e-9, abs=1e-12)


def test_coming_straight_at_the_lens():
    # DERIVED: what is on the axis stands still; what is X off it moves by m X v t/d to first order (4e-4 here).
    still = motion.blur_mm(speed_m_s=5.0, distance_m=6.0, focal_mm=50.0, time_s=1 / 48, direction_deg=0.0)
    head = motion.blur_mm(speed_m_s=5.0, distance_m=6.0, focal_mm=50.0, time_s=1 / 48, direction_deg=0.0, offset_m=0.7)
    assert still == pytest.approx(0.0, abs=1e-12)
    assert head == pytest.approx(50.0 / 5.95 * 0.7 * 5.0 / 48 / 6.0, rel=1e-3)
    across = motion.blur_mm(speed_m_s=5.0, distance_m=6.0, focal_mm=50.0, time_s=1 / 48)
    assert head / across == pytest.approx(0.7 / 6.0, rel=1e-3)


def test_blur_goes_with_the_time():
    # DERIVED: half the time, half the streak: 120 fps at 180 degrees draws a fifth of 24 fps.
    long, short = (motion.blur_mm(speed_m_s=3.1, distance_m=7.7, focal_mm=40.0, time_s=t) for t in (1 / 48, 1 / 240))
    assert long / short == pytest.approx(5.0, rel=1e-12)


def test_the_seven_second_rule():
    # COMMON PRACTICE: a picture width in 7 s at 24 fps, 180 degrees. DERIVED: 168 steps of .595 %, half of each a gap.
    width, t = 24.9, 1 / 48
    pan = np.degrees(width / 7.0 / 50.0)  # deg/s in the middle of the picture
    streak = motion.pan_blur_mm(pan_deg_s=pan, focal_mm=50.0, time_s=t)
    step, gap, risk = motion.strobing(blur_mm=streak, shutter_deg=180.0, sensor_width_mm=width)
    assert (step, gap, risk) == (pytest.approx(0.5952, rel=1e-3), pytest.approx(0.2976, rel=1e-3), pytest.approx(1.0, rel=1e-3))
    # DERIVED: twice as fast doubles it; a full-frame shutter leaves no gap; a quarter of the angle leaves 7/8 of the step.
    assert motion.strobing(blur_mm=2 * streak, shutter_deg=180.0, sensor_width_mm=width)[2] == pytest.approx(2.0, rel=1e-3)
    assert motion.strobing(blur_mm=2 * streak, shutter_deg=360.0, sensor_width_mm=width)[1:] == (0.0, 0.0)
    short = motion.strobing(blur_mm=streak / 4, shutter_deg=45.0, sensor_width_mm=width)
    assert (short[0], short[1]) == (pytest.approx(step, rel=1e-12), pytest.approx(step * 7 / 8, rel=1e-12))


@pytest.mark.parametrize(("f", "n", "c", "s", "h", "near", "far"), [
    # DERIVED by hand from the thin lens, and each limit put back below.
    (50.0, 2.8, 0.025, 3.0, 35.764, 2.7711, 3.2701), (35.0, 4.0, 0.025, 5.0, 12.285, 3.5579, 8.4077),
    (25.0, 8.0, 0.025, 3.5, 3.150, 1.6572, np.inf)])  # fmt: skip
def test_depth_of_field(f, n, c, s, h, near, far):
    assert motion.hyperfocal_m(focal_mm=f, f_number=n, circle_mm=c) == pytest.approx(h, rel=1e-4)
    got = motion.depth_of_field_m(distance_m=s, focal_mm=f, f_number=n, circle_mm=c)
    assert got == (pytest.approx(near, rel=1e-4), pytest.approx(far, rel=1e-4))
    # INDEPENDENT: blur circle of each limit by similar triangles: aperture f/n times the gap between image planes.
    image = 1.0 / (1.0 / f - 1.0 / (1000 * s))
    for limit in (x for x in got if np.isfinite(x)):
        behind = 1.0 / (1.0 / f - 1.0 / (1000 * limit))
        assert f / n * abs(behind - image) / behind == pytest.approx(c, rel=1e-6)


def test_focused_at_the_hyperfocal_distance():
    # DERIVED: from H on, half of H to infinity.
    h = motion.hyperfocal_m(focal_mm=32.0, f_number=4.0, circle_mm=0.0249)
    near, far = motion.depth_of_field_m(distance_m=h, focal_mm=32.0, f_number=4.0, circle_mm=0.0249)
    assert near == pytest.approx(h / 2, rel=1e-9) and far == np.inf
    assert motion.usual_circle_mm(sensor_width_mm=24.9) == pytest.approx(0.025, rel=0.01)  # COMMON PRACTICE


def test_arrays_and_scalars():
    grid = motion.blur_mm(speed_m_s=np.array([1.0, 5.0])[:, None], distance_m=3.0, focal_mm=[35.0, 50.0, 85.0], time_s=0.02)
    one = motion.blur_mm(speed_m_s=5.0, distance_m=3.0, focal_mm=85.0, time_s=0.02)
    assert grid.shape == (2, 3) and np.ndim(one) == 0 and grid[1, 2] == pytest.approx(one, rel=1e-12)
    near, far = motion.depth_of_field_m(distance_m=[2.0, 30.0, 40.0], focal_mm=50.0, f_number=2.8, circle_mm=0.025)
    assert near.shape == far.shape == (3,) and np.isinf(far).tolist() == [False, False, True]


@pytest.mark.parametrize(("call", "message"), [
    (lambda: motion.magnification(focal_mm=50, distance_m=0.05), r"distance_m less the focal length must be > 0"),
    (lambda: motion.magnification(focal_mm=0, distance_m=2), r"focal_mm must be > 0, got 0"),
    (lambda: motion.blur_mm(speed_m_s=-1, distance_m=2, focal_mm=50, time_s=0.02), r"speed_m_s must be >= 0, got -1"),
    (lambda: motion.blur_mm(speed_m_s=300, distance_m=2, focal_mm=50, time_s=0.02, direction_deg=0), r"runs into the lens"),
    (lambda: motion.blur_mm(speed_m_s=1, distance_m=2, focal_mm=50, time_s=0), r"time_s must be > 0, got 0"),
    (lambda: motion.blur_mm(speed_m_s=1, distance_m=2, focal_mm=50, time_s=1, direction_deg=200), r"direction_deg must be"),
    (lambda: motion.pan_blur_mm(pan_deg_s=30, focal_mm=50, time_s=0.02, off_axis_deg=85), r"off_axis_deg .* <= 80"),
    (lambda: motion.pan_blur_mm(pan_deg_s=-1, focal_mm=50, time_s=0.02), r"pan_deg_s must be >= 0"),
    (lambda: motion.pixels(length_mm=1, pixel_um=0), r"pixel_um must be > 0, got 0: micrometres"),
    (lambda: motion.percent_of_width(length_mm=1, sensor_width_mm=0), r"sensor_width_mm must be > 0"),
    (lambda: motion.strobing(blur_mm=1, shutter_deg=361, sensor_width_mm=25), r"shutter_deg must be <= 360 and > 0, got 361"),
    (lambda: motion.hyperfocal_m(focal_mm=50, f_number=0, circle_mm=0.025), r"f_number must be > 0, got 0"),
    (lambda: motion.depth_of_field_m(distance_m=0.04, focal_mm=50, f_number=2, circle_mm=0.025), r"distance_m less"),
])  # fmt: skip
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_short_blurs_count_in_pixels():
    # DERIVED: 0.012 mm are two pixels of 6 micrometres; nothing is nothing.
    assert motion.pixels(length_mm=0.012, pixel_um=6.0) == pytest.approx(2.0) and motion.pixels(length_mm=0.0, pixel_um=6.0) == 0.0
