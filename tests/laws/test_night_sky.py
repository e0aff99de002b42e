"""Light at night: against the almanac's table and a second law, sky meters' conversions, and a star drawn in pixels."""

import numpy as np
import pytest

from lightcalc.laws import night_sky
from lightcalc.sky import daylight

LENS = {"focal_mm": 50.0, "t_stop": 1.4, "time_s": 1 / 48}
CATCH = {"quantum_efficiency": 0.2, "photons_per_lx_s_um2": 11_000.0}


def test_the_moon_as_a_star():
    # INDEPENDENT: V = -12.73 overhead through the stars' zero point: .31 lx above the air, 0.25 with a fifth of a magnitude
    # lost in it; between the two published full moons, .269 and .396.
    lx = night_sky.star_illuminance_lx(magnitude=-12.73 + 0.2)
    assert lx == pytest.approx(daylight.moonlight_lx(altitude_deg=90.0, phase_angle_deg=0.0), rel=0.1)


def test_sky_meters():
    # PUBLISHED: sky meters' conversion: 21.31 mag/arcsec2 is 323.16 ucd/m2, 12.59 is 1 cd/m2 (radiometry mailing list).
    assert night_sky.sky_luminance_cd_m2(mag_arcsec2=21.31) == pytest.approx(323.16e-6, rel=1e-4)
    assert night_sky.sky_luminance_cd_m2(mag_arcsec2=12.59) == pytest.approx(1.0, rel=0.01)
    # DERIVED: star and sky share a zero point: a star of magnitude m spread over a square second is a sky of m.
    second_sr = np.radians(1 / 3600) ** 2
    for m in (14.0, 21.7):
        spread = night_sky.star_illuminance_lx(magnitude=m) / second_sr
        assert spread == pytest.approx(night_sky.sky_luminance_cd_m2(mag_arcsec2=m), rel=2e-3)
    # PUBLISHED: USNO Circular 171: .0005 lx of night sky; DERIVED: an even dark sky gives pi L, within a factor of 1.5.
    assert 1 / 1.5 < np.pi * night_sky.sky_luminance_cd_m2(mag_arcsec2=night_sky.DARK_SKY_MAG) / night_sky.NIGHT_SKY_LX < 1.5


def test_five_magnitudes_are_a_hundred():
    # PUBLISHED: Pogson's scale.
    assert night_sky.star_illuminance_lx(magnitude=1.3) / night_sky.star_illuminance_lx(magnitude=6.3) == pytest.approx(
        100.0, rel=1e-12
    )


def test_a_star_through_a_hole():
    # DERIVED by hand: 2.54e-6 x 10^-2.4 lx on a hole of 50/1.4 = 35.71 mm, 1.0018e9 um2, for 1/48 s, 2200 e/(lx s um2).
    hand = 2.54e-6 * 10**-2.4 * np.pi / 4 * (50e3 / 1.4) ** 2 / 48 * 2200
    assert night_sky.star_electrons(magnitude=6.0, **LENS, **CATCH) == pytest.approx(hand, rel=1e-12)
    # DERIVED: twice the focal length at the same stop is four times the light; two stops of iris take it back.
    long = night_sky.star_electrons(magnitude=6.0, focal_mm=100.0, t_stop=2.8, time_s=1 / 48, **CATCH)
    assert long == pytest.approx(hand, rel=1e-12)


def test_the_faintest_star_against_dice():
    # INDEPENDENT: a star of the limiting magnitude drawn a hundred thousand times into its pixels over sky and read noise;
    # its sum stands five deviations over the empty sum. Assumes Poisson and normal noise, light even over the spot.
    rng = np.random.default_rng(1948)
    camera = {"pixel_um": 6.0, "read_noise_e": 3.0, "sky_cd_m2": 0.02, "spot_px": 4.0}
    limit = night_sky.limiting_magnitude(**LENS, **CATCH, **camera)
    n = night_sky.star_electrons(magnitude=limit, **LENS, **CATCH)
    sky = np.pi / 4 * 0.02 / 1.4**2 / 48 * 2200 * 36
    lit = rng.poisson(n / 4 + sky, (100_000, 4)) + rng.normal(0.0, 3.0, (100_000, 4))
    total = lit.sum(axis=1) - 4 * sky
    assert total.mean() / total.std() == pytest.approx(5.0, rel=0.01)


def test_what_costs_stars():
    # DERIVED: where the sky rules, four times the sky is 2.5 log10 2 = .753 magnitudes; a trail spreads the light.
    bright = {"pixel_um": 6.0, "read_noise_e": 0.0, "wanted_snr": 0.01}
    one, four = (night_sky.limiting_magnitude(**LENS, **CATCH, **bright, sky_cd_m2=s) for s in (5.0, 20.0))
    assert one - four == pytest.approx(2.5 * np.log10(2.0), abs=2e-3)
    still, trailed = (night_sky.limiting_magnitude(**LENS, **CATCH, **bright, sky_cd_m2=5.0, trail_px=t) for t in (0.0, 6.0))
    assert still - trailed == pytest.approx(1.25 * np.log10((4 + 2 * 6) / 4), abs=2e-3)


def test_stars_at_twenty_thousand():
    # COMMON PRACTICE: ISO 20 000 is the extreme at which stars still register with a fast lens. At 1/48 s and T1.4 the
    # stars that the eye sees (to magnitude 6) clear the noise and sit no lower than two stops under grey.
    limit = night_sky.limiting_magnitude(**LENS, **CATCH, pixel_um=6.0, read_noise_e=3.0)
    assert 6.0 < limit < 10.0
    level = night_sky.star_level_stops(magnitude=6.0, iso=20_000.0, pixel_um=6.0, **LENS)
    assert level > -2.0
    # DERIVED: ISO moves the level stop for stop; an ordinary stop, T4, takes three from star and from sky alike.
    assert level - night_sky.star_level_stops(magnitude=6.0, iso=5_000.0, pixel_um=6.0, **LENS) == pytest.approx(2.0, rel=1e-9)
    slow = night_sky.star_level_stops(magnitude=6.0, iso=20_000.0, pixel_um=6.0, focal_mm=50.0, t_stop=4.0, time_s=1 / 48)
    assert slow < -1.5


def test_level_by_hand():
    # DERIVED: electrons a pixel over electrons at middle grey, the same catch on both sides.
    from lightcalc.laws.sensor import electrons, grey_lx_s

    star = night_sky.star_electrons(magnitude=4.2, **LENS, **CATCH) / 9.0
    grey = electrons(exposure_lx_s=grey_lx_s(iso=3200.0), pixel_um=5.0, **CATCH)
    got = night_sky.star_level_stops(magnitude=4.2, iso=3200.0, pixel_um=5.0, spot_px=9.0, **LENS)
    assert got == pytest.approx(np.log2(star / grey), abs=1e-9)


def test_trails():
    # PUBLISHED: a sidereal day of 86 164.0905 s, 15.04107 seconds of arc a second; DERIVED: 24 mm, 20 s: 35.00 um at
    # declination 0, 17.50 at 60. COMMON PRACTICE: "500 rule", 20.83 s at 24 mm, yet 36.5 um.
    assert night_sky.trail_um(focal_mm=24.0, time_s=20.0) == pytest.approx(35.00, rel=1e-3)
    assert night_sky.trail_um(focal_mm=24.0, time_s=20.0, declination_deg=[60.0, -60.0]) == pytest.approx([17.50, 17.50], rel=1e-3)
    assert night_sky.trail_um(focal_mm=24.0, time_s=500.0 / 24.0) == pytest.approx(36.46, rel=1e-3)
    assert np.degrees(night_sky.trail_um(focal_mm=1e-3, time_s=1.0)) * 3600 == pytest.approx(15.04107, rel=1e-6)
    assert night_sky.trail_um(focal_mm=50.0, time_s=1 / 48) < 0.1  # a frame of film stops the stars


def test_arrays_and_scalars():
    grid = night_sky.star_electrons(magnitude=np.array([3.0, 6.0]), **LENS, **CATCH)
    one = night_sky.star_electrons(magnitude=6.0, **LENS, **CATCH)
    assert grid.shape == (2,) and np.ndim(one) == 0 and grid[1] == pytest.approx(one, rel=1e-12)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: night_sky.sky_luminance_cd_m2(mag_arcsec2=30), r"mag_arcsec2 must be .* got 30: 22 far from towns"),
    (lambda: night_sky.star_illuminance_lx(magnitude=np.nan), r"magnitude must be a finite number"),
    (lambda: night_sky.star_electrons(magnitude=1, focal_mm=50, t_stop=0, time_s=1, **CATCH), r"t_stop must be > 0, got 0"),
    (lambda: night_sky.limiting_magnitude(**LENS, **CATCH, pixel_um=0, read_noise_e=3), r"pixel_um must be > 0, got 0"),
    (lambda: night_sky.limiting_magnitude(**LENS, **CATCH, pixel_um=6, read_noise_e=3, spot_px=0), r"spot_px must be >= 1"),
    (lambda: night_sky.star_level_stops(magnitude=1, iso=0, pixel_um=6, **LENS), r"iso must be > 0, got 0"),
    (lambda: night_sky.trail_um(focal_mm=24, time_s=0), r"time_s must be > 0, got 0"),
])  # fmt: skip
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()
