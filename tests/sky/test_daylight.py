"""Light of sun, sky and moon: against the recommended practice, the almanac's supplement and a spectral model."""

import numpy as np
import pytest

from lightcalc.sky import daylight

# PUBLISHED: IES recommended practice (J. Illum. Eng. Soc. 13(4), 1984, 381-392), E_xt 127.5 klx, m = 1/sin h, evaluated
# to four figures [klx]: altitude, clear sky, disc, total, partly sky, disc, total, overcast.
PRACTICE = [
    (5, 5.38, 11.46, 6.37, 4.22, 0.01, 4.22, 2.13), (10, 7.26, 38.05, 13.87, 8.11, 1.27, 8.34, 3.95),
    (20, 9.86, 69.00, 33.46, 15.69, 12.29, 19.90, 7.48), (30, 11.76, 83.77, 53.65, 22.80, 25.74, 35.67, 10.80),
    (45, 13.83, 94.74, 80.82, 32.12, 41.13, 61.20, 15.15), (60, 15.22, 100.05, 101.87, 39.27, 50.62, 83.11, 18.49),
    (90, 16.30, 103.35, 119.65, 45.30, 57.29, 102.59, 21.30),
]  # fmt: skip


@pytest.mark.parametrize("row", PRACTICE, ids=lambda row: f"{row[0]} degrees")
def test_recommended_practice_row_by_row(row):
    # PUBLISHED, above; 1e-3, or half the last printed digit where that is more.
    height, *wanted = row
    got = []
    for outlook in ("clear", "partly"):
        sky = daylight.sky_horizontal_lx(altitude_deg=height, outlook=outlook)
        disc = daylight.sun_normal_lx(altitude_deg=height, outlook=outlook, air="flat")
        got += [sky, disc, sky + disc * np.sin(np.radians(height))]
    got.append(daylight.sky_horizontal_lx(altitude_deg=height, outlook="overcast"))
    assert np.array(got) / 1000 == pytest.approx(np.array(wanted), rel=1e-3, abs=0.005)
    assert daylight.sun_normal_lx(altitude_deg=height, outlook="overcast") == 0.0


def test_disc_through_curved_air():
    # INDEPENDENT: 127.5 klx exp(-0.21 m) with Kasten & Young's air mass, evaluated outside this project, four figures.
    heights = np.array([5, 10, 20, 30, 45, 60, 90])
    wanted = [14.64, 39.45, 69.30, 83.87, 94.77, 100.06, 103.36]
    assert daylight.sun_normal_lx(altitude_deg=heights) / 1000 == pytest.approx(wanted, rel=1e-3)
    low = daylight.sun_normal_lx(altitude_deg=5.0, air="flat") / daylight.sun_normal_lx(altitude_deg=5.0)
    assert low == pytest.approx(0.78, abs=0.01)  # the docstring's fifth
    assert daylight.sun_normal_lx(altitude_deg=np.array([0.0, -3.0])).tolist() == [0.0, 0.0]


def test_air_mass_printed_and_by_another_package():
    # PUBLISHED: Kasten & Young, Applied Optics 28 (1989) 4735, evaluated. INDEPENDENT: pvlib's own coding of it.
    from pvlib.atmosphere import get_relative_airmass

    heights = np.array([90, 60, 30, 20, 10, 5, 2, 1, 0])
    wanted = [0.9997, 1.1540, 1.9943, 2.9031, 5.5860, 10.306, 19.433, 26.311, 37.920]
    got = daylight.air_mass(altitude_deg=heights)
    assert got == pytest.approx(wanted, rel=1e-4)
    assert got == pytest.approx(get_relative_airmass(90.0 - heights, model="kastenyoung1989"), rel=1e-6)


def test_earth_is_nearest_in_january():
    # PUBLISHED: IES 1984, E_xt on days 2 and 185, six figures.
    assert daylight.extraterrestrial_lx(day_of_year=np.array([2, 185])) == pytest.approx([131_835, 123_165], rel=1e-5)


def test_clear_light_from_high_sun_to_deep_twilight():
    # PUBLISHED: Explanatory Supplement section 9.3, coefficients evaluated; 2 % as the pieces' joints.
    heights = np.array([20, 10, 5, 0, -0.8, -2, -4, -6, -8, -10, -12, -15, -18])
    supplement = [27380, 11120, 4540, 759, 462, 189, 29.9, 3.41, 0.348, 0.0421, 0.00806, 0.00202, 0.000645]
    got = daylight.clear_horizontal_lx(altitude_deg=heights)
    assert got == pytest.approx(supplement, rel=0.02)
    # INDEPENDENT: USNO Circular 171 (Janiczek & DeYoung 1987), down to -10 degrees; the laws differ by up to a fifth.
    circular = [30500, 11080, 4085, 757, 449, 169, 24.4, 2.99, 0.345, 0.0389]
    assert got[:10] == pytest.approx(circular, rel=0.25)
    # PUBLISHED: AMS Glossary of Meteorology, civil twilight: 585 to 410 lx at its start, 3.5 to 2 at its end.
    assert 410 < got[4] < 585 and 2 < got[7] < 3.5
    assert daylight.clear_horizontal_lx(altitude_deg=-40.0) == pytest.approx(daylight.NIGHT_LX)


@pytest.mark.parametrize(
    ("altitude_deg", "printed"),
    [
        (-4.99, (2.88, 21.81, -258.11, -858.36)),
        (-5.01, (2.70, 12.17, -431.69, -1899.83)),
        (-11.99, (2.70, 12.17, -431.69, -1899.83)),
        (-12.01, (13.84, 262.72, 1447.42, 2797.93)),
        (-14.0, (13.84, 262.72, 1447.42, 2797.93)),
        (-16.5, (13.84, 262.72, 1447.42, 2797.93)),
    ],
)
def test_twilight_pieces_as_printed(altitude_deg, printed):
    # PUBLISHED: the Supplement's cubics, typed here once more; each holds down to -5, -12 and -18 degrees, to the last digit.
    x = altitude_deg / 90.0
    wanted = sum(c * x**k for k, c in enumerate(printed))
    assert np.log10(daylight.clear_horizontal_lx(altitude_deg=altitude_deg)) == pytest.approx(wanted, abs=1e-9)


def test_pieces_meet():
    # DERIVED: a sky has no steps; at each joint the pieces agree within 4 % (the copies' rounding).
    for pieces, law in ((daylight.SUN_CUBICS, daylight.clear_horizontal_lx), (daylight.MOON_CUBICS, daylight.moonlight_lx)):
        for low, *_ in pieces[:-1]:
            rest = {"phase_angle_deg": 0.0} if law is daylight.moonlight_lx else {}
            under, over = (law(altitude_deg=low + step, **rest) for step in (-1e-6, 1e-6))
            assert under == pytest.approx(over, rel=0.04), low


@pytest.mark.parametrize("outlook", daylight.OUTLOOKS)
def test_skylight_runs_through_sunset_without_a_step(outlook):
    # DERIVED: more sun, more sky; no jump over 0.01 degree anywhere above the flat night.
    heights = np.arange(-17.9, 90.0, 0.01)
    light = daylight.skylight_lx(altitude_deg=heights, outlook=outlook)
    steps = np.diff(np.log2(light))
    assert steps.min() > -0.06 and steps.max() < 0.06  # 0.05: the cubics' joint at -0.8 and -5 degrees
    assert light[-1] == pytest.approx(daylight.sky_horizontal_lx(altitude_deg=heights[-1], outlook=outlook))


def test_from_ten_degrees_on_a_clear_sky_is_the_recommended_practice_s():
    # PUBLISHED: IES 1984, clear sky on level ground, 800 + 15,500 sin(h)^.5 lx; checked row by row above.
    for height in (10.0, 10.4, 25.0):
        assert daylight.skylight_lx(altitude_deg=height) == pytest.approx(800 + 15500 * np.sin(np.radians(height)) ** 0.5, rel=1e-6)
    assert daylight.skylight_lx(altitude_deg=9.5) < 0.999 * (800 + 15500 * np.sin(np.radians(9.5)) ** 0.5)


def test_low_clear_sky_and_sun_add_up_to_the_supplement():
    # PUBLISHED: Explanatory Supplement, total on level ground at 4 degrees: 3548 lx from its second cubic, by hand:
    # x = 4/90; 2.88 + .98933 - .41015 + .09081 = 3.54999.
    total = daylight.skylight_lx(altitude_deg=4.0) + daylight.sun_normal_lx(altitude_deg=4.0) * np.sin(np.radians(4.0))
    assert total == pytest.approx(10**3.54999, rel=1e-4)
    overcast = daylight.skylight_lx(altitude_deg=-3.0, outlook="overcast")
    assert np.log2(daylight.skylight_lx(altitude_deg=-3.0) / overcast) == pytest.approx(1.34, abs=0.01)


def test_moon_by_height_and_phase():
    # PUBLISHED: Explanatory Supplement section 9.3, full moon at 90, 45, 30 degrees, evaluated to three figures.
    full = daylight.moonlight_lx(altitude_deg=np.array([90, 45, 30]), phase_angle_deg=0.0)
    assert full == pytest.approx([0.269, 0.164, 0.0977], rel=3e-3)
    # PUBLISHED: the same, phase factor at 30, 60, 90, 120 degrees.
    phases = np.array([30, 60, 90, 120])
    share = daylight.moonlight_lx(altitude_deg=45.0, phase_angle_deg=phases) / full[1]
    assert share == pytest.approx([0.547, 0.282, 0.119, 0.032], abs=6e-4)
    # INDEPENDENT: V = -12.73 + .026 f + 4e-9 f^4 (Allen; Krisciunas & Schaefer 1991), within 30 % of ours.
    assert 10 ** (-0.4 * (0.026 * phases + 4e-9 * phases**4.0)) == pytest.approx(share, rel=0.3)
    # COMMON PRACTICE: a half moon is a tenth of a full one, where half of its disc is lit.
    assert 0.08 < share[2] < 0.14
    # PUBLISHED: USNO Circular 171 (1987) with the surge at full: .396 .254 .162, half as much again.
    assert (np.array([0.396, 0.254, 0.162]) / full > 1.3).all() and (np.array([0.396, 0.254, 0.162]) / full < 1.75).all()
    # DERIVED: at 20 and 5 degrees two of the three polynomials hold; they were fitted to one curve.
    for meet in (20.0, 5.0):
        above, under = daylight.moonlight_lx(altitude_deg=np.array([meet, meet - 1e-9]), phase_angle_deg=0.0)
        assert above / under == pytest.approx(1.0, rel=0.03)
    assert (np.diff(daylight.moonlight_lx(altitude_deg=np.linspace(-0.8, 90.0, 500), phase_angle_deg=0.0)) > 0).all()
    assert daylight.moonlight_lx(altitude_deg=-1.0, phase_angle_deg=0.0) == 0.0


def test_low_sun_table_is_the_model():
    # INDEPENDENT: pvlib's spectrl2 and colour-science's temperature, run again; 1 K is the table's rounding.
    from make_low_sun import kelvin

    for height, aerosol in ((2, 0.1), (10, 0.27), (60, 0.1)):
        assert daylight.sun_kelvin(altitude_deg=height, aerosol=aerosol) == pytest.approx(kelvin(height, aerosol), abs=1.0)
    # INDEPENDENT: the same call made outside this project; 100 K.
    heights = np.array([60, 30, 20, 10, 5, 3])
    assert daylight.sun_kelvin(altitude_deg=heights) == pytest.approx([5336, 4966, 4629, 3875, 3010, 2428], abs=100)
    hazy = daylight.sun_kelvin(altitude_deg=heights, aerosol=0.27)
    assert hazy == pytest.approx([5128, 4668, 4264, 3412, 2509, 1952], abs=100)
    # between rows the model itself is the judge: 8.3 degrees is in no row.
    assert daylight.sun_kelvin(altitude_deg=8.3) == pytest.approx(kelvin(8.3, 0.1), abs=30)


def test_maker_of_the_table_on_the_standard_s_own_spectra():
    # PUBLISHED: ASTM G173: extraterrestrial 5933 K, global tilt 5505 K, direct 5232 K; 0.5 %.
    from make_low_sun import cct
    from pvlib.spectrum import get_reference_spectra

    spectra = get_reference_spectra(standard="ASTM G173-03")
    got = [cct(spectra.index.to_numpy(), spectra[part].to_numpy()) for part in ("extraterrestrial", "global", "direct")]
    assert got == pytest.approx([5933, 5505, 5232], rel=5e-3)


def test_grids_and_cells():
    heights, phases = np.array([-5.0, 2.3, 41.0]), np.array([[0.0], [77.0]])
    grid = daylight.moonlight_lx(altitude_deg=heights, phase_angle_deg=phases)
    assert grid.shape == (2, 3) and grid[1, 2] == pytest.approx(
        daylight.moonlight_lx(altitude_deg=41.0, phase_angle_deg=77.0), rel=1e-12
    )
    assert isinstance(daylight.skylight_lx(altitude_deg=3.0), float) and isinstance(daylight.sun_kelvin(altitude_deg=3.0), float)
    assert daylight.skylight_lx(altitude_deg=heights)[1] == pytest.approx(daylight.skylight_lx(altitude_deg=2.3), rel=1e-12)


@pytest.mark.parametrize(("call", "sentence"), [
    (lambda: daylight.sky_horizontal_lx(altitude_deg=30, outlook="fog"), "outlook must be one of clear, partly, overcast, got 'fog'"),
    (lambda: daylight.sun_normal_lx(altitude_deg=30, air="thick"), "air must be one of curved, flat, got 'thick'"),
    (lambda: daylight.moonlight_lx(altitude_deg=30, phase_angle_deg=-4), "phase_angle_deg must be >= 0 and <= 180, got -4: 0 is full"),
    (lambda: daylight.sun_kelvin(altitude_deg=0.2), "altitude_deg must be >= 1 and <= 90, got 0.2: the table starts at 1 degree"),
    (lambda: daylight.sky_horizontal_lx(altitude_deg=-2), "altitude_deg must be >= 0 and <= 90, got -2: under the horizon use skylight_lx"),
])  # fmt: skip
def test_refusals_are_one_sentence(call, sentence):
    with pytest.raises(ValueError) as refused:
        call()
    assert str(refused.value).startswith(sentence) and "\n" not in str(refused.value)


def test_the_night_begins_at_eighteen_degrees():
    # PUBLISHED: the Supplement's table ends at -18 degrees with 0.000645 lx; from there on it is night, however deep.
    assert daylight.clear_horizontal_lx(altitude_deg=np.array([-18.5, -19.5, -40.0])).tolist() == [0.000645] * 3
    assert daylight.clear_horizontal_lx(altitude_deg=-17.9) > 0.000645
