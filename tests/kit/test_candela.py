"""What a light sends where: held against closed forms, scipy's quadrature and a hand-made table."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad

from lightcalc.kit.candela import Beam, Lambert, Photometry, as_table, resample

COSINE = Photometry(
    vertical_deg=range(0, 91, 10),
    horizontal_deg=(0,),
    candela=((1000.0, 984.8, 939.7, 866.0, 766.0, 642.8, 500.0, 342.0, 173.6, 0.0),),
)


def four_quarters(step_deg=22.5):
    """I = 1000 cos(theta) (0.75 + 0.25 cos 2 phi), by 15 degrees down."""
    v, h = np.arange(0, 91, 15.0), np.arange(0, 90.1, step_deg)
    cd = 1000 * np.cos(np.radians(v)) * (0.75 + 0.25 * np.cos(2 * np.radians(h[:, None])))
    return Photometry(vertical_deg=v, horizontal_deg=h, candela=np.maximum(cd, 0.0))


def test_half_and_tenth_peak_fall_on_the_given_angles():
    # DERIVED: the definition, exp(-ln 2) = 1/2 and exp(-ln 10) = 1/10, at awkward angles.
    lamp = Beam(peak_cd=8_700, beam_deg=37.3, field_deg=58.9)
    assert lamp.intensity_cd(np.radians(37.3 / 2)) == pytest.approx(4_350, rel=1e-12)
    assert lamp.intensity_cd(np.radians(58.9 / 2)) == pytest.approx(870, rel=1e-12)
    assert lamp.intensity_cd(0.0) == 8_700


def test_a_bell_has_exponent_two():
    # DERIVED: for a Gaussian, field / beam = sqrt(ln 10 / ln 2) = 1.82262.
    assert Beam(peak_cd=1, beam_deg=20, field_deg=20 * 1.8226156).exponent == pytest.approx(2.0, rel=1e-6)


def test_a_narrow_bell_in_closed_form():
    # DERIVED: small angles, I0 exp(-a t^2) with a = ln 2 / tb^2 sends pi I0 / a. The next term, from
    # sin t = t - t^3/6, lowers it by the share 1 / (6 a) = 1.832e-5 at tb = 0.5 degrees.
    half = np.radians(0.5)
    bell = Beam(peak_cd=52_000, beam_deg=1.0, field_deg=np.sqrt(np.log(10) / np.log(2)))
    expected = np.pi * 52_000 * half**2 / np.log(2) * (1 - half**2 / (6 * np.log(2)))
    assert bell.lumens() == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("beam, field", [(4, 7), (10, 60), (5, 170), (50, 62), (60, 60.6), (120, 170), (178, 180)])
def test_lumens_against_adaptive_quadrature(beam, field):
    # INDEPENDENT: scipy's adaptive quadrature of the formula as written (shares no code, assumes the law).
    lamp = Beam(peak_cd=3.7, beam_deg=beam, field_deg=field)
    p = np.log(np.log(10) / np.log(2)) / np.log(field / beam)
    law = lambda t: np.exp(-np.log(2) * (t / np.radians(beam / 2)) ** p) * np.sin(t)
    points = [np.radians(beam / 2) * m for m in (0.1, 0.5, 0.9, 1, 1.1, 1.5, 3) if beam / 2 * m < 90]
    with np.errstate(over="ignore"):
        flux, _ = quad(law, 0, np.pi / 2, points=points, limit=400, epsrel=1e-11)
    assert lamp.lumens() == pytest.approx(3.7 * 2 * np.pi * flux, rel=1e-8)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.5, 1e6), st.floats(1, 120), st.floats(1.02, 1.49))
def test_lumens_go_in_and_come_out(lumens, beam, wider):
    lamp = Beam.from_lumens(lumens=lumens, beam_deg=beam, field_deg=beam * wider)
    assert lamp.lumens() == pytest.approx(lumens, rel=1e-9)
    theta = np.linspace(0, np.pi, 301)
    cd = lamp.intensity_cd(theta)
    assert np.all(np.diff(cd) <= 0) and np.all(cd[theta > np.pi / 2] == 0) and cd[0] == lamp.peak_cd


def test_lux_at_metres_is_inverse_square():
    # DERIVED: E = I / d^2 with d = 2.3 m: 437 lx is 437 x 5.29 = 2311.73 cd.
    assert Beam.from_lux(lux=437, at_m=2.3, beam_deg=20, field_deg=35).peak_cd == pytest.approx(2311.73, rel=1e-12)
    assert Lambert.from_lux(lux=437, at_m=2.3).peak_cd == pytest.approx(2311.73, rel=1e-12)


def test_lambert_is_pi_times_its_peak():
    # DERIVED: 2 pi int cos sin = pi. The table of the same law is the independent sum.
    assert Beam.lambert(peak_cd=730).lumens() == pytest.approx(np.pi * 730, rel=1e-12)
    assert Beam.lambert(lumens=5_100).peak_cd == pytest.approx(5_100 / np.pi, rel=1e-12)
    assert Lambert(peak_cd=730).intensity_cd(np.radians(60)) == pytest.approx(365, rel=1e-12)
    assert Lambert(peak_cd=730).intensity_cd(np.radians(91)) == 0.0
    with pytest.raises(ValueError, match="lambert needs one of peak_cd and lumens, got None and None"):
        Beam.lambert()


def test_a_table_of_a_cosine():
    # DERIVED: I = 1000 cos(theta), so 1000 pi lm, half peak at 60 and tenth peak at 84.261 degrees;
    # 0.3 % covers the table's four digits and its 10 degree steps.
    assert COSINE.lumens() == pytest.approx(1000 * np.pi, rel=3e-3)
    # DERIVED: by zones, mean of the edges x 2 pi (cos a - cos b), worked apart: 3141.487 lm.
    assert COSINE.lumens() == pytest.approx(3141.487, rel=1e-6)
    assert COSINE.intensity_cd(np.radians(60)) == pytest.approx(500, rel=1e-9)
    assert COSINE.intensity_cd(np.radians(84.261)) == pytest.approx(100, rel=1e-3)
    # Between rows the table follows the cosine, which a straight line in the angle would miss by 0.4 %.
    for angle in (5, 33, 47, 71):
        assert COSINE.intensity_cd(np.radians(angle)) == pytest.approx(1000 * np.cos(np.radians(angle)), rel=5e-4)
    assert COSINE.intensity_cd(np.radians(95)) == 0.0


def test_lumens_are_the_integral_of_the_intensity():
    # INDEPENDENT: scipy adds up intensity_cd zone by zone over the circle; lumens() sums zones in closed form.
    table, total = four_quarters(), 0.0
    for a, b in zip(range(0, 90, 15), range(15, 91, 15), strict=True):
        for p in np.arange(0, 90, 22.5):
            cell, _ = dblquad(lambda t, f: table.intensity_cd(t, f) * np.sin(t),
                              *np.radians([p, p + 22.5]), *np.radians([a, b]), epsrel=1e-8)  # fmt: skip
            total += 4 * cell
    assert table.lumens() == pytest.approx(total, rel=1e-6)


def test_four_quarters():
    # DERIVED: the mean of 0.75 + 0.25 cos 2 phi is 0.75: 750 pi = 2356.194 lm.
    table = four_quarters()
    assert table.lumens() == pytest.approx(750 * np.pi, rel=3e-3)
    assert table.intensity_cd(0.0, 1.1) == pytest.approx(1000 * (0.75 + 0.25 * np.cos(2.2)), rel=0.03)
    for phi in (22.5, 157.5, 202.5, 337.5):  # the same ray in each quarter
        expected = 1000 * np.cos(np.pi / 6) * (0.75 + 0.25 * np.cos(np.pi / 4))
        assert table.intensity_cd(np.pi / 6, np.radians(phi)) == pytest.approx(expected, rel=1e-9)


def one_lobe(horizontal_deg):
    """I = 100 + 40 cos(phi) at every vertical angle: mirrored in the 0-180 plane, and nothing more."""
    h = np.asarray(horizontal_deg, float)
    cd = np.repeat(100 + 40 * np.cos(np.radians(h))[:, None], 3, axis=1)
    return Photometry(vertical_deg=(0, 45, 90), horizontal_deg=h, candela=cd)


def test_symmetries_unfold_to_the_same_lamp():
    # DERIVED: the lobe is mirrored, so half the planes, all the planes, and all but the closing one agree.
    half, whole = one_lobe(range(0, 181, 10)), one_lobe(range(0, 361, 10))
    open_end = one_lobe(range(0, 351, 10))
    phi = np.radians(np.arange(-20, 400, 7.0))
    for other in (whole, open_end):
        assert other.intensity_cd(0.7, phi) == pytest.approx(half.intensity_cd(0.7, phi), rel=1e-9)
        assert other.lumens() == pytest.approx(half.lumens(), rel=1e-12)
    assert half.intensity_cd(0.7, 0.0) == pytest.approx(140, rel=1e-12)
    assert half.intensity_cd(0.7, np.pi) == pytest.approx(60, rel=1e-12)
    assert half.lumens() == pytest.approx(200 * np.pi, rel=1e-9)  # the mean is 100 cd over 2 pi sr


def test_mirrored_in_the_upright_plane():
    # DERIVED: with sin in place of cos the lobe is mirrored in the 90-270 plane.
    h = np.arange(90, 271, 10.0)
    cd = np.repeat(100 + 40 * np.sin(np.radians(h))[:, None], 2, axis=1)
    table = Photometry(vertical_deg=(0, 90), horizontal_deg=h, candela=cd)
    phi = np.radians(np.arange(0, 360, 10.0))
    assert table.intensity_cd(0.4, phi) == pytest.approx(100 + 40 * np.sin(phi), rel=1e-9)


def test_even_all_round_is_four_pi():
    # DERIVED: I cd in every direction is 4 pi I lm.
    bulb = Photometry(vertical_deg=(0, 90, 180), horizontal_deg=(0,), candela=((57.3, 57.3, 57.3),))
    assert bulb.lumens() == pytest.approx(4 * np.pi * 57.3, rel=1e-12)
    assert bulb.intensity_cd(np.pi, 2.0) == pytest.approx(57.3, rel=1e-12)


@pytest.mark.parametrize(
    "light, tolerance",
    [
        (Beam(peak_cd=900, beam_deg=20, field_deg=40), 2e-3),  # straight lines between 1 degree rows: +0.1 %
        (Lambert(peak_cd=900), 1e-3),
        (COSINE, 2e-3),  # 4-digit table
        (four_quarters(), 2e-3),
        (one_lobe(range(0, 181, 10)), 9e-3),  # full at 90: half of the next 1 degree row adds 0.5 pi/180 = 0.87 %
    ],
)
def test_the_table_carries_the_lumens(light, tolerance):
    # INDEPENDENT: the trapezoid over the sphere of the table against each light's own closed sum.
    for n_phi in (None, 1, 37):
        table = as_table(light, n_phi=n_phi)
        mean = table[:, 0] if table.shape[1] == 1 else table[:, :-1].mean(axis=1)
        theta = np.linspace(0, np.pi, 181)
        assert 2 * np.pi * np.trapezoid(mean * np.sin(theta), theta) == pytest.approx(light.lumens(), rel=tolerance)
    assert as_table(light, n_theta=91, n_phi=37).shape == (91, 37)
    assert as_table(light, n_phi=37)[:, 0] == pytest.approx(as_table(light, n_phi=37)[:, -1], rel=1e-9, abs=1e-9)


def test_a_resampled_row_is_the_mean_round_the_axis():
    # DERIVED: at 30 degrees the mean of 0.75 + 0.25 cos 2 phi over the circle is 0.75.
    row = resample(four_quarters(), np.radians([0.0, 30.0, 120.0]))
    assert row.shape == (3,)
    assert row == pytest.approx([750.0, 750 * np.cos(np.pi / 6), 0.0], rel=1e-9)


@pytest.mark.parametrize("light", [Beam(peak_cd=900, beam_deg=20, field_deg=40), Lambert(peak_cd=900), four_quarters()])
def test_scalars_and_arrays_agree(light):
    theta, phi = np.linspace(0, np.pi, 7)[:, None], np.linspace(0, 6, 5)[None, :]
    grid = light.intensity_cd(theta, phi)
    assert grid.shape == (7, 5)
    assert isinstance(light.intensity_cd(0.3), float) and isinstance(light.mean_cd(0.3), float)
    assert grid[1, 2] == pytest.approx(light.intensity_cd(float(theta[1, 0]), float(phi[0, 2])), rel=1e-12)


def test_lights_are_values():
    # Equal numbers are equal lights, and may key a cache.
    assert four_quarters() == four_quarters() and hash(COSINE) == hash(COSINE)
    assert four_quarters() != four_quarters(45.0)


@pytest.mark.parametrize(
    "make, said",
    [
        (lambda: Beam(peak_cd=0, beam_deg=20, field_deg=40), "peak_cd must be > 0, got 0: candela on the axis"),
        (lambda: Beam(peak_cd=float("nan"), beam_deg=20, field_deg=40), "peak_cd must be a finite number, got nan"),
        (lambda: Beam(peak_cd=1, beam_deg=0, field_deg=40), "beam_deg must be > 0 and < 180, got 0"),
        (lambda: Beam(peak_cd=1, beam_deg=40, field_deg=40), "field_deg must be <= 180 and > 40, got 40"),
        (lambda: Beam(peak_cd=1, beam_deg=40, field_deg=181), "field_deg must be <= 180 and > 40, got 181"),
        (lambda: Beam.from_lumens(lumens=-5, beam_deg=20, field_deg=40), "lumens must be > 0, got -5"),
        (lambda: Beam.from_lux(lux=500, at_m=0, beam_deg=20, field_deg=40), "at_m must be > 0, got 0"),
        (lambda: Lambert(peak_cd=-1), "peak_cd must be > 0, got -1"),
        (lambda: Photometry(vertical_deg=(0,), horizontal_deg=(0,), candela=((1,),)), "vertical_deg must have 2 to"),
        (lambda: Photometry(vertical_deg=(0, 50, 40), horizontal_deg=(0,), candela=((1, 1, 1),)),
         "vertical_deg must rise from each angle to the next, got 40 after 50"),
        (lambda: Photometry(vertical_deg=(0, 200), horizontal_deg=(0,), candela=((1, 1),)),
         "vertical_deg must be >= 0 and <= 180, got 200"),
        (lambda: Photometry(vertical_deg=(0, 90), horizontal_deg=(0, 45), candela=((1, 1), (1, 1))),
         "horizontal_deg must be 0 alone, or run 0 to 90.* got 0 to 45"),
        (lambda: Photometry(vertical_deg=(0, 90), horizontal_deg=(0,), candela=((1, 1, 1),)),
         "candela must be 1 rows of 2, one row a horizontal angle"),
        (lambda: Photometry(vertical_deg=(0, 90), horizontal_deg=(0,), candela=((1, -1),)),
         "candela must be >= 0, got -1"),
        (lambda: Photometry(vertical_deg=(0, 90), horizontal_deg=(0,), candela=(("x", 1),)),
         "candela must be a sequence of numbers"),
        (lambda: Photometry(vertical_deg=(0, 90), horizontal_deg=(0,), candela=7), "candela must be rows of numbers"),
        (lambda: as_table(COSINE, n_phi=2), "n_phi must be >= 3, got 2: or 1"),
    ],
)  # fmt: skip
def test_a_wrong_number_is_one_sentence(make, said):
    with pytest.raises(ValueError, match=said) as caught:
        make()
    assert "\n" not in str(caught.value)


def test_directions_past_a_full_turn_are_the_same_directions():
    # DERIVED: the candela of a table go round the axis: 370 degrees is 10, -50 is 310, whatever symmetry the table was given in.
    vertical, quarter = (0.0, 45.0, 90.0), ((9.0, 6.0, 1.0), (9.0, 4.0, 0.5), (9.0, 2.0, 0.2))
    for horizontal in ((0.0, 45.0, 90.0), (0.0, 90.0, 180.0), (90.0, 180.0, 270.0)):
        table = Photometry(vertical_deg=vertical, horizontal_deg=horizontal, candela=quarter)
        for phi in (10.0, 130.0, 200.0, 310.0):
            once = table.intensity_cd(45.0, phi)
            assert (
                table.intensity_cd(45.0, phi + 360.0) == pytest.approx(once) == pytest.approx(table.intensity_cd(45.0, phi - 360.0))
            )


def test_a_page_may_give_a_tiny_lamp():
    # DERIVED: an indicator of 0.05 W and a face of 5 mm is a lamp like any other.
    tiny = Photometry(vertical_deg=(0, 90), horizontal_deg=(0,), candela=((1, 1),), watts=0.05, width_m=0.005)
    assert tiny.watts == 0.05 and tiny.width_m == 0.005
