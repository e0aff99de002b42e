"""What a lit board gives back: against quadrature over the board, its lumens, and how crews count ratios."""

import numpy as np
import pytest
from scipy.integrate import dblquad

from lightcalc.laws import bounce, falloff

BOARD = {"reflectance": 0.85, "width_m": 1.2, "height_m": 0.9}


def fill_by_quadrature(light, *, reflectance, width_m, height_m, subject_m, board_angle_deg=0.0, receptor_angle_deg=0.0):
    """Fill from a board lit by light(x, y) lx, by scipy dblquad over its face in four parts. [lx]"""
    turn, look = np.radians(board_angle_deg), np.radians(board_angle_deg + receptor_angle_deg)
    subject = subject_m * np.array([np.sin(turn), 0.0, np.cos(turn)])
    normal = -np.array([np.sin(look), 0.0, np.cos(look)])

    def patch(y, x):
        ray = np.array([x, y, 0.0]) - subject
        return reflectance / np.pi * light(x, y) * max(ray @ normal, 0.0) * subject[2] / (ray @ ray) ** 2

    parts = [(x, y) for x in (-1, 1) for y in (-1, 1)]
    return sum(abs(dblquad(patch, 0.0, x * width_m / 2, 0.0, y * height_m / 2, epsabs=1e-9, epsrel=1e-8)[0]) for x, y in parts)


def lamp_light(intensity, lamp_m, lamp_angle_deg):
    """Illuminance on the board at (x, y) from a lamp aimed at its middle; intensity is cd of the off-axis angle."""
    turn = np.radians(lamp_angle_deg)
    lamp = lamp_m * np.array([np.sin(turn), 0.0, np.cos(turn)])

    def light(x, y):
        ray = np.array([x, y, 0.0]) - lamp
        r = np.sqrt(ray @ ray)
        return intensity(np.arccos(min(1.0, -(ray @ lamp) / (r * lamp_m)))) * lamp[2] / r**3

    return light


def test_board_luminance_sends_back_its_share():
    # DERIVED: Lambert: pi L = rho E.
    luminance = bounce.board_luminance(reflectance=0.62, illuminance_lx=1430.0)
    assert np.pi * luminance == pytest.approx(0.62 * 1430.0, rel=1e-12)


@pytest.mark.parametrize(("side_m", "subject_m", "factor"), [(1.0, 1.0, 0.239456), (1.2, 2.0, 0.102372), (2.4, 3.0, 0.168154)])
def test_even_board_straight_on(side_m, subject_m, factor):
    # DERIVED: Hamilton & Morgan 1952, centred rectangle, which scipy dblquad matched to 1e-6: E = rho E_b F.
    lx = bounce.board_fill_illuminance(board_lx=1000.0, reflectance=0.85, width_m=side_m, height_m=side_m, subject_m=subject_m)
    assert lx == pytest.approx(850.0 * factor, rel=1e-5)


@pytest.mark.parametrize(
    ("subject_m", "board_angle_deg", "receptor_angle_deg"),
    [(1.6, -35.0, 20.0), (0.5, 40.0, -50.0), (2.7, 0.0, 60.0), (0.4, 0.0, 75.0)],
)
def test_even_board_at_any_angle(subject_m, board_angle_deg, receptor_angle_deg):
    # INDEPENDENT: dblquad over the board, the inverse square law for each patch; the last two cut the board at the
    # receptor's horizon or nearly so. 1e-6, quadrature.
    place = {"subject_m": subject_m, "board_angle_deg": board_angle_deg, "receptor_angle_deg": receptor_angle_deg}
    expected = fill_by_quadrature(lambda x, y: 730.0, **BOARD, **place)
    assert bounce.board_fill_illuminance(board_lx=730.0, **BOARD, **place) == pytest.approx(expected, rel=1e-6)


def test_point_formula_is_high_by_the_known_error():
    # INDEPENDENT: square of 0.6 m at 1, 2, 5 sides: 32.9, 8.30, 1.33 % high (dblquad, three figures).
    place = {"board_lx": 900.0, "reflectance": 0.8, "width_m": 0.6, "height_m": 0.6, "subject_m": np.array([0.6, 1.2, 3.0])}
    high = bounce.board_point_illuminance(**place) / bounce.board_fill_illuminance(**place) - 1.0
    assert 100.0 * high == pytest.approx([32.9, 8.30, 1.33], rel=4e-3)
    # DERIVED: far off, at any angle, the two meet: error of order (size/distance)^2.
    far = place | {"subject_m": 60.0, "board_angle_deg": 33.0, "receptor_angle_deg": -41.0}
    assert bounce.board_point_illuminance(**far) == pytest.approx(bounce.board_fill_illuminance(**far), rel=3e-4)


def test_all_the_light_a_board_sends_arrives():
    # DERIVED: summed over a far hemisphere of receptors that look at it, a matt board gives rho E A lumens.
    # In the board's width plane the intensity is that of any plane (Lambert), so int E d^2 2 pi sin a da.
    angle, weight = np.polynomial.legendre.leggauss(40)
    angle = (angle + 1.0) * np.pi / 4.0
    lx = bounce.board_fill_illuminance(board_lx=1000.0, **BOARD, subject_m=200.0, board_angle_deg=np.degrees(angle))
    lumens = np.sum(lx * 200.0**2 * 2.0 * np.pi * np.sin(angle) * weight) * np.pi / 4.0
    assert lumens == pytest.approx(0.85 * 1000.0 * 1.2 * 0.9, rel=1e-4)


def test_low_sun():
    # DERIVED: 38 klx at 60 deg to the board is 19 klx on it, and nothing from behind.
    sun = {"normal_lx": 38_000.0, "subject_m": 1.9, **BOARD}
    got = bounce.sun_bounce_illuminance(incidence_deg=60.0, **sun)
    assert got == pytest.approx(bounce.board_fill_illuminance(board_lx=19_000.0, subject_m=1.9, **BOARD), rel=1e-12)
    assert bounce.sun_bounce_illuminance(incidence_deg=95.0, **sun) == 0.0
    slant_lx = bounce.sun_on_board_lx(normal_lx=38_000.0, incidence_deg=45.0)
    assert slant_lx == pytest.approx(38_000 / np.sqrt(2.0), rel=1e-12)


@pytest.mark.parametrize(
    ("lamp_m", "lamp_angle_deg", "subject_m", "board_angle_deg", "receptor_angle_deg"),
    [(2.5, 40.0, 1.6, -35.0, 20.0), (1.2, 0.0, 2.0, 0.0, 0.0), (0.4, 0.0, 2.0, 10.0, 0.0), (1.7, -20.0, 0.3, 0.0, 0.0)],
)
def test_board_lit_by_a_lamp(lamp_m, lamp_angle_deg, subject_m, board_angle_deg, receptor_angle_deg):
    # INDEPENDENT: dblquad over the board, both legs by the inverse square law. 2e-4 is what the docstring states.
    place = {"subject_m": subject_m, "board_angle_deg": board_angle_deg, "receptor_angle_deg": receptor_angle_deg}
    expected = fill_by_quadrature(lamp_light(lambda off: 9000.0, lamp_m, lamp_angle_deg), **BOARD, **place)
    got = bounce.lamp_bounce_illuminance(intensity_cd=9000.0, lamp_m=lamp_m, lamp_angle_deg=lamp_angle_deg, **BOARD, **place)
    assert got == pytest.approx(expected, rel=2e-4)


def test_far_lamp_lights_the_board_evenly():
    # DERIVED: from 80 m the board is even to (0.75/80)^2: the even board's fill.
    got = bounce.lamp_bounce_illuminance(intensity_cd=3.2e6, lamp_m=80.0, lamp_angle_deg=25.0, subject_m=1.4, **BOARD)
    even = falloff.illuminance(intensity_cd=3.2e6, distance_m=80.0, incidence_deg=25.0)
    assert got == pytest.approx(bounce.board_fill_illuminance(board_lx=even, subject_m=1.4, **BOARD), rel=2e-3)


TORCHES = [  # beam, field, lamp_m, lamp angle, subject_m, board angle, tolerance
    (9.0, 16.0, 1.8, 0.0, 1.6, 0.0, 2e-4),
    (9.0, 16.0, 1.8, 40.0, 1.6, -30.0, 2e-4),
    (9.0, 10.8, 1.8, 0.0, 1.6, 0.0, 2e-4),
    (40.0, 50.0, 1.8, 0.0, 1.6, 0.0, 2e-4),
    (9.0, 16.0, 1.8, 40.0, 0.3, 0.0, 4e-3),
]


@pytest.mark.parametrize("case", TORCHES)
@pytest.mark.slow
def test_board_lit_by_a_torch(case):
    # INDEPENDENT: dblquad over the whole board, the torch's own law of half and tenth peak; tolerances as stated.
    beam_deg, field_deg, lamp_m, lamp_angle_deg, subject_m, board_angle_deg, tol = case
    half, power = np.radians(beam_deg / 2), np.log(np.log(10.0) / np.log(2.0)) / np.log(field_deg / beam_deg)
    light = lamp_light(lambda off: 12_000.0 * 0.5 ** ((off / half) ** power), lamp_m, lamp_angle_deg)
    place = {"subject_m": subject_m, "board_angle_deg": board_angle_deg}
    sail = {"reflectance": 0.7, "width_m": 2.0, "height_m": 1.5}
    expected = fill_by_quadrature(light, **sail, **place)
    got = bounce.torch_bounce_illuminance(
        intensity_cd=12_000.0, beam_deg=beam_deg, field_deg=field_deg, lamp_m=lamp_m, lamp_angle_deg=lamp_angle_deg, **sail, **place
    )
    assert got == pytest.approx(expected, rel=tol)


def test_small_patch_counts_lumens_not_distance():
    # DERIVED: a narrow bell beam (p = 2 when field/beam = sqrt(ln 10/ln 2) = 1.8226) carries pi I0 b^2/ln 2 lumens,
    # b half the beam in rad; from 20 m the patch is a point of rho Phi/pi candela. 2e-3: sin b against b, the cut
    # at 1/10 000 and the far leg.
    torch = {"intensity_cd": 12_000.0, "beam_deg": 4.0, "field_deg": 4.0 * np.sqrt(np.log(10.0) / np.log(2.0))}
    lumens = np.pi * 12_000.0 * np.radians(2.0) ** 2 / np.log(2.0)
    fill = bounce.torch_bounce_illuminance(
        **torch, lamp_m=np.array([0.9, 1.8, 3.6]), reflectance=0.7, width_m=2.0, height_m=1.5, subject_m=20.0
    )
    assert fill == pytest.approx(np.full(3, 0.7 * lumens / (np.pi * 20.0**2)), rel=2e-3)


def test_patch_larger_than_the_board_is_a_plain_lamp():
    # DERIVED: with a flat top wider than the board both are the same lamp; 2^-(x^p) is 1 to 1e-6 inside.
    place = {"lamp_m": 2.2, "subject_m": 1.7, **BOARD, "intensity_cd": 8000.0}
    wide = bounce.torch_bounce_illuminance(**place, beam_deg=120.0, field_deg=132.0)
    assert wide == pytest.approx(bounce.lamp_bounce_illuminance(**place), rel=1e-6)
    # and what goes past a small board is lost: a tenth of the area gives about a tenth
    small = place | {"width_m": 0.12, "height_m": 0.9}
    assert bounce.torch_bounce_illuminance(**small, beam_deg=120.0, field_deg=132.0) < 0.12 * wide


def test_torch_patch():
    # DERIVED: 2 d tan(half the beam); at its rim the lamp sends half.
    width_m = bounce.torch_patch_m(beam_deg=9.0, lamp_m=1.8)
    assert np.degrees(2.0 * np.arctan(width_m / 2.0 / 1.8)) == pytest.approx(9.0, rel=1e-12)


def test_how_near_for_the_fill():
    # DERIVED: put back, the distance gives the fill asked for; far off it is the point formula's sqrt.
    fill = np.array([700.0, 87.0, 9.1, 0.4])
    near_m = bounce.board_distance_for_fill(fill_lx=fill, board_lx=1000.0, **BOARD)
    assert bounce.board_fill_illuminance(board_lx=1000.0, subject_m=near_m, **BOARD) == pytest.approx(fill, rel=1e-9)
    assert near_m[3] == pytest.approx(np.sqrt(850.0 * 1.08 / (np.pi * 0.4)), rel=1e-3)


def test_ratios_are_counted_both_ways():
    # COMMON PRACTICE: fill lands on the key side too: 300 and 100 lx are 4:1, two stops; key to fill alone is 3:1.
    pair = {"key_lx": 300.0, "fill_lx": 100.0}
    assert bounce.fill_ratio(**pair) == 4.0 and bounce.key_fill_ratio(**pair) == 3.0
    assert bounce.ratio_stops(**pair) == 2.0
    # COMMON PRACTICE: 2:1 is one stop, 8:1 three. DERIVED: log2; the two counts always differ by one.
    key = np.array([100.0, 700.0, 61.0])
    assert bounce.ratio_stops(key_lx=key, fill_lx=100.0) == pytest.approx([1.0, 3.0, np.log2(1.61)], rel=1e-12)
    both = bounce.fill_ratio(key_lx=key, fill_lx=37.0) - bounce.key_fill_ratio(key_lx=key, fill_lx=37.0)
    assert both == pytest.approx(np.ones(3), rel=1e-12)
    fill = bounce.fill_for_ratio(key_lx=430.0, ratio=2.7)
    assert bounce.fill_ratio(key_lx=430.0, fill_lx=fill) == pytest.approx(2.7, rel=1e-12)


def test_arrays_broadcast_and_scalars_stay_scalars():
    d_m, lamp = np.array([0.9, 1.6, 2.4])[:, None], np.array([1.1, 2.0])
    for call, extra in (
        (bounce.lamp_bounce_illuminance, {}),
        (bounce.torch_bounce_illuminance, {"beam_deg": 9.0, "field_deg": 16.0}),
    ):
        place = {"intensity_cd": 5000.0, "lamp_angle_deg": np.array([0.0, 30.0]), **BOARD, **extra}
        grid = call(lamp_m=lamp, subject_m=d_m, **place)
        one = call(lamp_m=2.0, subject_m=1.6, **(place | {"lamp_angle_deg": 30.0}))
        assert grid.shape == (3, 2) and np.ndim(one) == 0 and grid[1, 1] == pytest.approx(one, rel=1e-12)
    even = bounce.board_fill_illuminance(board_lx=1.0, reflectance=0.8, width_m=lamp, height_m=0.7, subject_m=d_m)
    assert even.shape == (3, 2)
    assert np.ndim(bounce.board_distance_for_fill(fill_lx=5.0, board_lx=1000.0, **BOARD)) == 0


PLACE = {"subject_m": 2.0, **BOARD}


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: bounce.board_luminance(reflectance=1.2, illuminance_lx=10), r"reflectance must be >= 0 and <= 1, got 1.2"),
        (lambda: bounce.board_factor(width_m=0, height_m=1, subject_m=1), r"width_m must be > 0, got 0"),
        (lambda: bounce.board_fill_illuminance(board_lx=10, **(PLACE | {"subject_m": 0})), r"subject_m must be > 0, got 0: metres"),
        (
            lambda: bounce.board_fill_illuminance(board_lx=10, board_angle_deg=90, **PLACE),
            r"board_angle_deg must be > -90 and < 90, got 90: behind the board",
        ),
        (lambda: bounce.board_point_illuminance(board_lx=-1, **PLACE), r"illuminance_lx must be >= 0, got -1"),
        (lambda: bounce.lamp_bounce_illuminance(intensity_cd=1, lamp_m=0, **PLACE), r"lamp_m must be > 0, got 0"),
        (
            lambda: bounce.lamp_bounce_illuminance(intensity_cd=1, lamp_m=1, lamp_angle_deg=120, **PLACE),
            r"lamp_angle_deg .* got 120: the lamp lights the back of the board",
        ),
        (
            lambda: bounce.torch_bounce_illuminance(intensity_cd=1, lamp_m=1, beam_deg=20, field_deg=15, **PLACE),
            r"field_deg over beam_deg must be > 1, got 0.75: a tenth of the peak",
        ),
        (
            lambda: bounce.board_distance_for_fill(fill_lx=900, board_lx=1000, **BOARD),
            r"fill_lx over reflectance times board_lx must be < 1, got 1.05882: even touching",
        ),
        (
            lambda: bounce.lamp_bounce_illuminance(intensity_cd=1, lamp_m=1, **(PLACE | {"reflectance": 1.05})),
            r"reflectance must be >= 0 and <= 1, got 1.05",
        ),
        (lambda: bounce.fill_ratio(key_lx=300, fill_lx=0), r"fill_lx must be > 0, got 0: no fill has no ratio"),
        (lambda: bounce.fill_for_ratio(key_lx=300, ratio=1), r"ratio must be > 1, got 1"),
        (lambda: bounce.sun_on_board_lx(normal_lx=np.inf, incidence_deg=0), r"normal_lx must be a finite number, got inf"),
    ],
)
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()


EVEN = {"board_lx": 10.0, "board_angle_deg": 5.0, "receptor_angle_deg": 5.0, **PLACE}
REFUSED = {
    "board_lx": -1.0,
    "board_angle_deg": -90.0,
    "receptor_angle_deg": 181.0,
    "subject_m": 0.0,
    "reflectance": -0.1,
    "width_m": 0.0,
    "height_m": 0.0,
    "intensity_cd": -1.0,
    "lamp_m": 0.0,
    "lamp_angle_deg": -90.0,
    "cells": 0,
    "beam_deg": 0.0,
    "field_deg": 171.0,
    "normal_lx": -1.0,
    "incidence_deg": np.nan,
    "fill_lx": 0.0,
}
LAMP = {"intensity_cd": 9.0, "lamp_m": 1.0, "lamp_angle_deg": 5.0, "cells": 4, **PLACE}
LIMITS = [  # function, inputs that pass; each is then replaced by the one in REFUSED, or here
    (bounce.board_luminance, {"reflectance": 0.5, "illuminance_lx": 1.0}, {"illuminance_lx": -1.0}),
    (bounce.sun_on_board_lx, {"normal_lx": 1.0, "incidence_deg": 5.0}, {}),
    (bounce.board_factor, {"width_m": 1.0, "height_m": 1.0, "subject_m": 1.0, "board_angle_deg": 5.0}, {}),
    (bounce.board_fill_illuminance, EVEN, {}),
    (bounce.board_point_illuminance, EVEN, {}),
    (bounce.sun_bounce_illuminance, {"normal_lx": 1.0, "incidence_deg": 5.0, **PLACE}, {}),
    (bounce.lamp_bounce_illuminance, LAMP, {}),
    (bounce.torch_bounce_illuminance, {"beam_deg": 20.0, "field_deg": 30.0, **LAMP}, {}),
    (bounce.torch_patch_m, {"beam_deg": 20.0, "lamp_m": 1.0}, {"beam_deg": 180.0}),
    (bounce.board_distance_for_fill, {"fill_lx": 5.0, "board_lx": 100.0, **BOARD}, {"board_lx": 0.0}),
    (bounce.fill_ratio, {"key_lx": 1.0, "fill_lx": 1.0}, {"key_lx": -1.0}),
    (bounce.key_fill_ratio, {"key_lx": 1.0, "fill_lx": 1.0}, {"key_lx": -1.0}),
    (bounce.ratio_stops, {"key_lx": 1.0, "fill_lx": 1.0}, {"key_lx": -1.0}),
    (bounce.fill_for_ratio, {"key_lx": 1.0, "ratio": 2.0}, {"key_lx": 0.0, "ratio": 1.0}),
]


def test_leaning_torch_on_a_long_board():
    # INDEPENDENT: dblquad over a board so long that only part of it is lit, the torch leaning 50 deg either way: where
    # the board is cut into patches follows the lit part. 1e-3 at this lean.
    board = {"reflectance": 0.7, "width_m": 6.0, "height_m": 4.0, "subject_m": 2.3}
    half, power = np.radians(5.5), np.log(np.log(10.0) / np.log(2.0)) / np.log(1.6)
    light = lamp_light(lambda off: 12_000.0 * 0.5 ** ((off / half) ** power), 1.8, 50.0)
    expected = fill_by_quadrature(light, **board)
    for lean, board_angle in ((50.0, 0.0), (-50.0, 0.0)):  # straight on, left and right are alike
        got = bounce.torch_bounce_illuminance(
            intensity_cd=12_000.0,
            beam_deg=11.0,
            field_deg=17.6,
            lamp_m=1.8,
            lamp_angle_deg=lean,
            board_angle_deg=board_angle,
            **board,
        )
        assert got == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("function", "good", "bad"), LIMITS, ids=[row[0].__name__ for row in LIMITS])
def test_every_limit_is_kept(function, good, bad):
    assert np.isfinite(function(**good))
    for name in good:
        with pytest.raises(ValueError, match=r"must be"):
            function(**(good | {name: (REFUSED | bad)[name]}))


def test_a_needle_of_light_has_a_patch_too():
    # DERIVED: 2 d tan(b / 2), for a twentieth of a degree at 40 m: 35 mm.
    assert bounce.torch_patch_m(beam_deg=0.05, lamp_m=40.0) == pytest.approx(2 * 40 * np.tan(np.radians(0.025)))
