"""Counting light: photons against two libraries' spectra, noise against dice, margins against the closed form."""

import numpy as np
import pytest

from lightcalc.laws import sensor

CAMERA = {"pixel_um": 6.0, "quantum_efficiency": 0.2, "read_noise_e": 3.0, "photons_per_lx_s_um2": 11_000.0}


@pytest.mark.parametrize(("name", "narrow", "wide"), [("D55", 10_724, 14_050), ("D65", 10_851, 13_887), ("A", 11_983, 21_005)])
def test_photons_of_published_illuminants(name, narrow, wide):
    # INDEPENDENT: spectra of the CIE illuminants from colour-science at 1 nm; the counts were made with that library's own V,
    # and luxpy gives the same to the last digit: 400-700 and 380-780 nm.
    colour = pytest.importorskip("colour")
    spectrum = colour.SDS_ILLUMINANTS[name].copy().align(colour.SpectralShape(380, 780, 1))
    given = {"wavelength_nm": spectrum.wavelengths, "power": spectrum.values}
    assert sensor.photons_of_spectrum(**given) == pytest.approx(narrow, rel=1e-3)
    assert sensor.photons_of_spectrum(**given, low_nm=380, high_nm=780) == pytest.approx(wide, rel=1e-3)


def test_photons_of_a_black_body_and_of_a_line():
    # INDEPENDENT: 3200 K by colour-science: 11 474 (400-700), 18 747 (380-780). PUBLISHED: SI 2019: 683 lm/W at 555 nm
    # is 1/(683 h c/555 nm) = 4.0907e15 photons a lm s: 4090.7 per lx s um2.
    assert sensor.photons_per_lx_s_um2(kelvin=3200) == pytest.approx(11_474, rel=1e-3)
    assert sensor.photons_per_lx_s_um2(kelvin=3200, low_nm=380, high_nm=780) == pytest.approx(18_747, rel=2e-3)
    assert sensor.photons_of_spectrum(wavelength_nm=[555.0], power=[3.7]) == pytest.approx(4090.7, rel=1e-4)


def test_the_band_moves_it():
    # DERIVED from the counts above: 28 % in daylight (D65), 75 % under illuminant A.
    for kelvin, more in ((6504, 1.28), (2856, 1.75)):
        wide = sensor.photons_per_lx_s_um2(kelvin=kelvin, low_nm=380, high_nm=780)
        assert wide / sensor.photons_per_lx_s_um2(kelvin=kelvin) == pytest.approx(more, rel=0.02)


def test_the_mid_tone_of_iso_800():
    # DERIVED: H = 10/S = .0125 lx s of D65 is 135.6 photons/um2, 400-700 nm.
    got = sensor.electrons(exposure_lx_s=0.0125, pixel_um=1.0, quantum_efficiency=1.0, photons_per_lx_s_um2=10_851)
    assert got == pytest.approx(135.6, rel=1e-3)


def test_light_on_the_sensor():
    # PUBLISHED: ISO 12232: H = q L t/N^2; a T-stop has q = pi/4. INDEPENDENT of the function: the cone of a lens of
    # T-stop N, H = pi L sin^2 u with sin u = 1/(2N).
    lx, rho, n, t = 317.0, 0.42, 2.3, 0.017
    cone = np.pi * (rho * lx / np.pi) * (1.0 / (2.0 * n)) ** 2 * t
    got = sensor.focal_plane_lx_s(illuminance_lx=lx, reflectance=rho, t_stop=n, time_s=t)
    assert got == pytest.approx(cone, rel=1e-12)
    assert sensor.focal_plane_lx_s(illuminance_lx=lx, reflectance=rho, t_stop=n, time_s=t, nd_stops=2) == pytest.approx(cone / 4)


def test_grey_needs_only_the_iso():
    # DERIVED: .18 x 250/(4 S) whatever the stop and the time; .17 stop over ISO 12232's 10/S.
    from lightcalc.laws.exposure import reference_illuminance_lx

    for t_stop, time_s in ((1.4, 1 / 48), (5.6, 1 / 240)):
        lx = reference_illuminance_lx(t_stop=t_stop, time_s=time_s, iso=20_000.0)
        got = sensor.focal_plane_lx_s(illuminance_lx=lx, reflectance=0.18, t_stop=t_stop, time_s=time_s)
        assert got == pytest.approx(11.25 / 20_000, rel=1e-12)
    assert np.log2(sensor.grey_lx_s(iso=320.0) * 320.0 / 10.0) == pytest.approx(0.170, abs=1e-3)


def test_noise_against_dice():
    # INDEPENDENT: a million pixels drawn from Poisson and normal laws; the standard deviation is good to .1 %.
    rng = np.random.default_rng(1288)
    for mean, read in ((16.0, 3.0), (240.0, 4.0)):
        drawn = rng.poisson(mean, 1_000_000) + rng.normal(0.0, read, 1_000_000)
        got = sensor.snr(electrons=mean, read_noise_e=read)
        assert got == pytest.approx(drawn.mean() / drawn.std(), rel=4e-3)
        four = drawn.reshape(-1, 4).mean(axis=1)
        assert sensor.snr(electrons=mean, read_noise_e=read, pixels=4) == pytest.approx(four.mean() / four.std(), rel=8e-3)


def test_limits_of_the_noise():
    # DERIVED: only photons: the root of n; only read noise: n over it, so a stop of light is a stop of SNR there, half
    # a stop in the bright.
    assert sensor.snr(electrons=400.0, read_noise_e=0.0) == pytest.approx(20.0, rel=1e-12)
    assert sensor.snr(electrons=0.01, read_noise_e=5.0) == pytest.approx(0.002, rel=1e-3)
    assert sensor.snr(electrons=0.0, read_noise_e=0.0) == 0.0
    n = sensor.electrons_for_snr(wanted_snr=[0.5, 10.0, 40.0], read_noise_e=3.7, pixels=2.6)
    assert sensor.snr(electrons=n, read_noise_e=3.7, pixels=2.6) == pytest.approx([0.5, 10.0, 40.0], rel=1e-12)


def test_common_practice_at_night():
    # COMMON PRACTICE: on night exteriors with a large-sensor camera ISO 6400 passes as clean, 20 000 is the extreme.
    # PUBLISHED: ISO 12232:2019, 6.3.2 note 3: SNR 10 is acceptable, 40 excellent. So 6400 must lie well over the first,
    # 20 000 not far from it but not under; a 36 mm sensor (8.25 um) must do better than a 24.9 mm one (6 um).
    for width, pitch in ((24.9, 6.0), (36.0, 8.25)):
        camera = CAMERA | {"pixel_um": pitch}
        k = sensor.pixels_seen_as_one(sensor_width_mm=width, pixel_um=pitch)
        clean, extreme = (
            sensor.margin_stops(exposure_lx_s=sensor.grey_lx_s(iso=iso), floor_snr=10.0, pixels=k, **camera)
            for iso in (6400.0, 20_000.0))  # fmt: skip
        assert clean > 1.5 and -0.3 < extreme < clean - 1.4
    n = sensor.electrons(exposure_lx_s=sensor.grey_lx_s(iso=6400.0), **{x: camera[x] for x in camera if x != "read_noise_e"})
    assert sensor.snr(electrons=n, read_noise_e=3.0, pixels=k) > 0.7 * sensor.EXCELLENT_SNR


def test_margin_is_stops_of_iso():
    # DERIVED: at the ISO that many stops up, the SNR is the floor.
    margin = sensor.margin_stops(exposure_lx_s=sensor.grey_lx_s(iso=1600.0), floor_snr=10.0, pixels=2.0, **CAMERA)
    n = sensor.electrons(exposure_lx_s=sensor.grey_lx_s(iso=1600.0 * 2**margin), pixel_um=6.0, quantum_efficiency=0.2,
                          photons_per_lx_s_um2=11_000.0)  # fmt: skip
    assert sensor.snr(electrons=n, read_noise_e=3.0, pixels=2.0) == pytest.approx(10.0, rel=1e-9)


def test_error_bar_against_dice():
    # INDEPENDENT: 40 000 cameras drawn with the stated spreads; the closed differences leave out only curvature.
    rng = np.random.default_rng(100_2008)
    given = {"exposure_lx_s": float(sensor.grey_lx_s(iso=20_000.0)), "floor_snr": 10.0, "pixels": 4.0}
    total, by_cause = sensor.margin_error_stops(**given, **CAMERA, spread=(0.10, 0.15, 0.05, 0.08))
    qe, read, through, band = (1.0 + s * rng.normal(size=40_000) for s in (0.10, 0.15, 0.05, 0.08))
    drawn = sensor.margin_stops(
        exposure_lx_s=given["exposure_lx_s"] * through, floor_snr=10.0, pixels=4.0, pixel_um=6.0, quantum_efficiency=0.2 * qe,
        read_noise_e=3.0 * read, photons_per_lx_s_um2=11_000.0 * band)  # fmt: skip
    assert total == pytest.approx(np.std(drawn), rel=0.03)
    # DERIVED: light counts in full: 10 % of it is log2(1.1/.9)/2 = .1448 stop; no spread, no error.
    assert by_cause["quantum efficiency"] == pytest.approx(0.1448, rel=1e-3)
    assert sensor.margin_error_stops(**given, **CAMERA, spread=(0.0, 0.0, 0.0, 0.0))[0] == 0.0


def test_arrays_and_scalars():
    iso = np.array([800.0, 6400.0, 20_000.0])
    row = sensor.margin_stops(exposure_lx_s=sensor.grey_lx_s(iso=iso), floor_snr=np.array([[10.0], [40.0]]), **CAMERA)
    one = sensor.margin_stops(exposure_lx_s=sensor.grey_lx_s(iso=6400.0), floor_snr=40.0, **CAMERA)
    assert row.shape == (2, 3) and np.ndim(one) == 0 and row[1, 1] == pytest.approx(one, rel=1e-12)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: sensor.photons_per_lx_s_um2(kelvin=-3200), r"kelvin must be >= 1000 and <= 100000, got -3200"),
    (lambda: sensor.photons_of_spectrum(wavelength_nm=[900.0], power=[1.0]), r"luminous part of the power must be > 0"),
    (lambda: sensor.photons_of_spectrum(wavelength_nm=[555.0], power=[-1.0]), r"power must be >= 0"),
    (lambda: sensor.focal_plane_lx_s(illuminance_lx=1, reflectance=0.18, t_stop=0, time_s=0.02), r"t_stop must be > 0, got 0"),
    (lambda: sensor.focal_plane_lx_s(illuminance_lx=1, reflectance=1.2, t_stop=2, time_s=0.02), r"reflectance must be"),
    (lambda: sensor.grey_lx_s(iso=0), r"iso must be > 0, got 0: 100 to 25 600"),
    (lambda: sensor.electrons(exposure_lx_s=1, pixel_um=0, quantum_efficiency=0.2, photons_per_lx_s_um2=1e4),
     r"pixel_um must be > 0, got 0: micrometres"),
    (lambda: sensor.electrons(exposure_lx_s=1, pixel_um=6, quantum_efficiency=1.2, photons_per_lx_s_um2=1e4),
     r"quantum_efficiency must be <= 1 and > 0, got 1.2"),
    (lambda: sensor.snr(electrons=1, read_noise_e=-1), r"read_noise_e must be >= 0, got -1"),
    (lambda: sensor.snr(electrons=1, read_noise_e=1, pixels=0.5), r"pixels must be >= 1, got 0.5"),
    (lambda: sensor.electrons_for_snr(wanted_snr=0, read_noise_e=1), r"wanted_snr must be > 0, got 0: 10 is acceptable"),
    (lambda: sensor.pixels_seen_as_one(sensor_width_mm=25, pixel_um=0), r"pixel_um must be > 0, got 0"),
    (lambda: sensor.margin_stops(exposure_lx_s=0, floor_snr=10, **CAMERA), r"exposure_lx_s must be > 0, got 0: no light"),
    (lambda: sensor.margin_error_stops(exposure_lx_s=1, floor_snr=10, spread=(2, 0, 0, 0), **CAMERA), r"spread must be"),
])  # fmt: skip
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()
