"""What hazy air takes and what it gives: against published limits of sight, closed forms and plain quadrature."""

import numpy as np
import pytest
from scipy.integrate import quad

from lightcalc.laws import haze

import airlight


@pytest.mark.parametrize(
    ("sigma", "visibility_m", "mor_m"), [(0.01, 391.2, 299.6), (0.02, 195.6, 149.8), (0.05, 78.24, 59.91), (0.1, 39.12, 29.96)]
)
def test_limits_of_sight(sigma, visibility_m, mor_m):
    # PUBLISHED: AMS Glossary "meteorological range" (contrast .02, V = 3.912/sigma); CIE e-ILV 17-31-018 = IEC
    # 845-11-20 (5 % of the beam, MOR = 2.996/sigma). Evaluated to four figures, hence 2e-4.
    assert haze.visibility_from_extinction(extinction_per_m=sigma) == pytest.approx(visibility_m, rel=2e-4)
    assert haze.mor_from_extinction(extinction_per_m=sigma) == pytest.approx(mor_m, rel=2e-4)
    assert haze.extinction_from_visibility(visibility_m=visibility_m) == pytest.approx(sigma, rel=2e-4)
    assert haze.extinction_from_mor(mor_m=mor_m) == pytest.approx(sigma, rel=2e-4)


def test_what_is_left_at_the_limits():
    # DERIVED from the definitions themselves: 5 % of a beam at the MOR; contrast 0.02 of a black target at the
    # visibility, the far air being the background.
    sigma, bright = 0.037, 84.0
    mor_m = haze.mor_from_extinction(extinction_per_m=sigma)
    assert haze.transmittance(extinction_per_m=sigma, path_m=mor_m) == pytest.approx(0.05, rel=1e-12)
    far_m = haze.visibility_from_extinction(extinction_per_m=sigma)
    veil = bright * haze.airlight_fraction(extinction_per_m=sigma, path_m=far_m)
    left = haze.contrast_through_haze(
        target_cd_m2=0.0, background_cd_m2=bright, extinction_per_m=sigma, path_m=far_m, airlight_cd_m2=veil
    )
    assert left == pytest.approx(-0.02, rel=1e-12)


def test_percent_per_metre_is_one_metre_of_the_same_law():
    # DERIVED: Beer-Lambert over 1 m, and the same air over 7 m by repeated multiplication.
    sigma = haze.extinction_from_loss_per_m(loss_percent=5.0)
    assert haze.transmittance(extinction_per_m=sigma, path_m=1.0) == pytest.approx(0.95, rel=1e-12)
    assert haze.transmittance(extinction_per_m=sigma, path_m=7.0) == pytest.approx(0.95**7, rel=1e-12)
    assert haze.loss_percent_per_m(extinction_per_m=sigma) == pytest.approx(5.0, rel=1e-12)
    assert haze.extinction_from_loss_per_m(loss_percent=0.0) == 0.0


@pytest.mark.parametrize(("tau", "fraction"), [(0.1, 0.0952), (0.5, 0.3935), (1.0, 0.6321), (2.0, 0.8647)])
def test_airlight_fraction(tau, fraction):
    # DERIVED: 1 - exp(-tau), Koschmieder's horizon; four decimals.
    assert haze.airlight_fraction(extinction_per_m=tau / 4.7, path_m=4.7) == pytest.approx(fraction, abs=5e-5)


def test_air_takes_what_it_veils():
    # DERIVED: looked at through any length, a thing as bright as the far air does not change.
    path_m = np.array([0.0, 0.3, 4.7, 90.0])
    veil = 12.5 * haze.airlight_fraction(extinction_per_m=0.08, path_m=path_m)
    seen = haze.luminance_through_haze(luminance_cd_m2=12.5, extinction_per_m=0.08, path_m=path_m, airlight_cd_m2=veil)
    assert seen == pytest.approx(np.full(4, 12.5), rel=1e-12)


def test_separation_is_log2_of_the_two_luminances():
    # DERIVED by hand: T = e^-0.5 = .606531; (2 T + 1.5)/(8 T + 1.5) = 2.713061/6.352245; log2 = -1.227357.
    air = {"extinction_per_m": 0.05, "path_m": 10.0, "airlight_cd_m2": 1.5}
    apart = haze.separation_stops_through_haze(target_cd_m2=2.0, background_cd_m2=8.0, **air)
    assert apart == pytest.approx(-1.227357, rel=1e-5)
    clear = air | {"extinction_per_m": 0.0, "airlight_cd_m2": 0.0}
    assert haze.separation_stops_through_haze(target_cd_m2=2.0, background_cd_m2=8.0, **clear) == pytest.approx(-2.0)


@pytest.mark.parametrize(("mass_mg_m3", "through_10_m"), [(1.0, 0.949), (5.0, 0.768), (10.0, 0.589), (40.0, 0.120)])
def test_so_much_fluid_so_much_light(mass_mg_m3, through_10_m):
    # INDEPENDENT: droplets 1 um, index 1.43, 1.04 g/cm3: miepython 3.3.0 gives Q 3.6683 at 0.55 um, so
    # k = 1.5 Q/(rho d) = 5.291 m2/g (PyMieScatt agreed to four digits). Three decimals.
    sigma = haze.extinction_from_mass(mass_mg_m3=mass_mg_m3, mass_extinction_m2_g=1.5 * 3.6683 / 1.04)
    assert haze.transmittance(extinction_per_m=sigma, path_m=10.0) == pytest.approx(through_10_m, abs=6e-4)
    back = haze.mass_from_extinction(extinction_per_m=sigma, mass_extinction_m2_g=1.5 * 3.6683 / 1.04)
    assert back == pytest.approx(mass_mg_m3, rel=1e-12)


PHASE_TABLE = {  # Henyey & Greenstein 1941 evaluated at 0, 30, 60, 90, 150, 180 deg; last: the backward half
    0.5: ([0.477465, 0.250841, 0.091888, 0.042706, 0.019390, 0.017684], 0.170820),
    0.7: ([1.503130, 0.277533, 0.057799, 0.022314, 0.009135, 0.008261], 0.084149),
    0.85: ([6.543037, 0.176390, 0.027096, 0.009768, 0.003867, 0.003488], 0.036140),
}


@pytest.mark.parametrize("g", PHASE_TABLE)
def test_henyey_greenstein(g):
    # DERIVED: the closed form at six angles, six decimals printed; half a digit of the smallest is 1.5e-4.
    values, backward = PHASE_TABLE[g]
    cosine = np.cos(np.radians([0.0, 30.0, 60.0, 90.0, 150.0, 180.0]))
    assert haze.henyey_greenstein(g=g, cosine=cosine) == pytest.approx(values, rel=1.5e-4)
    assert airlight.henyey_greenstein_backward_share(g=g) == pytest.approx(backward, rel=2e-5)


@pytest.mark.parametrize("g", [-0.4, 0.0, 0.3, 0.85])
def test_phase_moments_are_powers_of_g(g):
    # DERIVED: Henyey & Greenstein 1941: integral 1 over the sphere, Legendre moment l is g^l. INDEPENDENT:
    # 200-node Gauss-Legendre in the cosine, and plain quadrature for the backward half.
    mu, weight = np.polynomial.legendre.leggauss(200)
    p = 2.0 * np.pi * weight * haze.henyey_greenstein(g=g, cosine=mu)
    for order in range(5):
        legendre = np.polynomial.legendre.Legendre.basis(order)(mu)
        assert np.sum(p * legendre) == pytest.approx(g**order, rel=1e-9, abs=1e-12)
    backward, _ = quad(lambda m: 2.0 * np.pi * haze.henyey_greenstein(g=g, cosine=m), -1.0, 0.0)
    assert airlight.henyey_greenstein_backward_share(g=g) == pytest.approx(backward, rel=1e-9)


@pytest.mark.parametrize(
    ("g", "angle_deg", "luminance"), [(0.0, 90.0, 4.7746), (0.7, 90.0, 1.3389), (0.7, 30.0, 33.304), (0.7, 150.0, 1.0962)]
)
def test_beam_from_the_side(g, angle_deg, luminance):
    # DERIVED: sigma p E w / sin(theta) by hand for 10 000 lx, 0.3 m, 0.02 /m; isotropic is 60/(4 pi). 30 deg is
    # back-lit and 30 times the front-lit 150. Five figures printed.
    phase = haze.henyey_greenstein(g=g, cosine=np.cos(np.radians(angle_deg)))
    seen = haze.side_beam_luminance(
        illuminance_lx=10_000, width_m=0.3, scattering_per_m=0.02, phase_per_sr=phase, angle_deg=angle_deg
    )
    assert seen == pytest.approx(luminance, rel=5e-5)


def test_beam_is_dimmed_again_on_its_way_to_the_lens():
    # DERIVED: Beer-Lambert over the way back; 6 m of 0.05 /m is exp(-0.3).
    beam = {"illuminance_lx": 4100.0, "width_m": 0.23, "scattering_per_m": 0.05, "phase_per_sr": 0.0223}
    ratio = haze.side_beam_luminance(**beam, to_lens_m=6.0) / haze.side_beam_luminance(**beam)
    assert ratio == pytest.approx(np.exp(-0.3), rel=1e-12)


def test_beam_over_what_is_behind_it():
    # DERIVED: by hand, p(60 deg) of g .75 is .4375 / (4 pi .8125^1.5) = .047538; .04 x p x 2000 x .8 / sin 60 x exp(-.16)
    # = 2.9939 over 1.5 is log2(2.9959) stops. No haze shows nothing, twice the light behind it a little less than a stop less.
    beam = {"illuminance_lx": 2000.0, "width_m": 0.8, "extinction_per_m": 0.04, "angle_deg": 60.0, "to_lens_m": 4.0}
    assert haze.beam_over_stops(**beam, background_cd_m2=1.5) == pytest.approx(np.log2(2.9959), rel=1e-4)
    assert haze.beam_over_stops(**beam | {"extinction_per_m": 0.0}, background_cd_m2=1.5) == 0.0
    near, far = haze.beam_over_stops(**beam, background_cd_m2=np.array([0.01, 0.02]))
    assert near - far == pytest.approx(1.0, abs=0.01)
    # INDEPENDENT: the same sight line marched through a slab of light with the beam's own loss left in, back-lit at 30 degrees;
    # that loss is sigma w / (2 sin) = 1 %.
    sigma, inside_m = 0.02, 0.5 / np.sin(np.radians(30.0))
    phase = (1 - 0.8**2) / (4 * np.pi * (1 + 0.8**2 - 2 * 0.8 * np.cos(np.radians(30.0))) ** 1.5)
    marched, _ = quad(lambda s: sigma * phase * 900.0 * np.exp(-sigma * (2.0 + s)), 0.0, inside_m)
    over = haze.beam_over_stops(
        illuminance_lx=900.0, width_m=0.5, extinction_per_m=sigma, angle_deg=30.0, to_lens_m=2.0, g=0.8, background_cd_m2=0.3
    )
    assert 2**over - 1 == pytest.approx(marched / 0.3, rel=0.011)


def test_thin_beam_error_is_as_stated():
    # INDEPENDENT: the same beam with its own extinction left in, integrated across the beam: the stated error is
    # sigma w / (2 sin theta), first order, so to a few percent of itself.
    sigma, width_m, angle = 0.05, 0.3, np.radians(40.0)
    inside_m = width_m / np.sin(angle)
    exact, _ = quad(lambda s: sigma * 0.08 * 5000.0 * np.exp(-sigma * s), 0.0, inside_m)
    thin = haze.side_beam_luminance(
        illuminance_lx=5000.0, width_m=width_m, scattering_per_m=sigma, phase_per_sr=0.08, angle_deg=40.0
    )
    assert thin / exact - 1.0 == pytest.approx(sigma * inside_m / 2.0, rel=0.02)


POINT_CASES = [  # sigma, distance, angle, length, cd/m2 for 1000 cd
    (0.02, 5.0, 30.0, np.inf, 1.328654),
    (0.05, 5.0, 30.0, np.inf, 2.536094),
    (0.05, 5.0, 60.0, np.inf, 1.009302),
    (0.1, 5.0, 90.0, np.inf, 0.714608),
    (0.05, 5.0, 30.0, 8.0, 2.244753),
]


@pytest.mark.parametrize("veil", [airlight.point_airlight, airlight.airlight_quadrature])
@pytest.mark.parametrize(("sigma", "distance_m", "angle_deg", "length_m", "luminance"), POINT_CASES)
def test_veil_of_a_point_light(veil, sigma, distance_m, angle_deg, length_m, luminance):
    # INDEPENDENT: the form of Sun, Ramamoorthi, Narasimhan & Nayar 2005 with its F integral done by adaptive
    # quadrature, equal to the direct line integral to 1e-6. Single scattering, even air.
    got = veil(intensity_cd=1000.0, extinction_per_m=sigma, distance_m=distance_m, angle_deg=angle_deg, length_m=length_m)
    assert got == pytest.approx(luminance, rel=1e-6)


def line_integral(sigma, distance_m, angle_deg, g, length_m):
    """Plain sum along the sight line: inverse square, Beer-Lambert both legs, Henyey-Greenstein. [cd/m2 per cd]"""
    along_m = distance_m * np.cos(np.radians(angle_deg))

    def per_metre(s):
        r = np.sqrt(distance_m**2 + s**2 - 2.0 * s * along_m)
        towards_lens = (along_m - s) / r
        phase = (1.0 - g**2) / (4.0 * np.pi * (1.0 + g**2 - 2.0 * g * towards_lens) ** 1.5)
        return sigma * phase * np.exp(-sigma * (r + s)) / r**2

    edge = max(along_m, 0.0)
    near, _ = quad(per_metre, 0.0, min(edge, length_m), epsabs=0.0, epsrel=1e-11) if edge > 0.0 else (0.0, 0.0)
    beyond, _ = quad(per_metre, edge, length_m, epsabs=0.0, epsrel=1e-11) if length_m > edge else (0.0, 0.0)
    return near + beyond


@pytest.mark.parametrize(
    ("sigma", "distance_m", "angle_deg", "g", "length_m"),
    [
        (0.05, 5.0, 30.0, 0.0, np.inf),
        (0.05, 5.0, 30.0, 0.0, 3.1),
        (0.3, 2.3, 140.0, 0.0, 7.7),
        (0.05, 5.0, 30.0, 0.7, np.inf),
        (0.05, 5.0, 60.0, 0.7, np.inf),
        (0.02, 7.1, 12.0, 0.85, 11.3),
        (0.11, 3.7, 90.0, -0.4, 2.0),
    ],
)
def test_veil_against_the_plain_line_integral(sigma, distance_m, angle_deg, g, length_m):
    # INDEPENDENT: adaptive quadrature in metres, own phase function and geometry; it still assumes single
    # scattering and even air. 2e-6: what 64 nodes reach here.
    expected = line_integral(sigma, distance_m, angle_deg, g, length_m)
    line = {"intensity_cd": 1.0, "extinction_per_m": sigma, "distance_m": distance_m, "angle_deg": angle_deg, "length_m": length_m}
    assert airlight.airlight_quadrature(**line, g=g) == pytest.approx(expected, rel=2e-6)
    if g == 0.0:
        assert airlight.point_airlight(**line) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("sigma", "angle_deg", "luminance"), [(0.05, 30.0, 1.542822), (0.05, 60.0, 0.272199), (0.02, 30.0, 0.743226)]
)
def test_veil_with_forward_scatter(sigma, angle_deg, luminance):
    # INDEPENDENT: adaptive quadrature of the line integral, g = .7, 5 m, 1000 cd, endless; seven figures.
    got = airlight.airlight_quadrature(intensity_cd=1000.0, extinction_per_m=sigma, distance_m=5.0, angle_deg=angle_deg, g=0.7)
    assert got == pytest.approx(luminance, rel=2e-6)


def test_veil_of_very_thin_air():
    # DERIVED: without attenuation the equi-angular integrand is constant: sigma I (pi - gamma)/(4 pi D sin gamma),
    # 4.166667 cd/m2 at .05 per metre, 5 m, 30 deg, 1000 cd.
    thin = 1e-8
    got = airlight.point_airlight(intensity_cd=1000.0, extinction_per_m=thin, distance_m=5.0, angle_deg=30.0)
    assert got / thin * 0.05 == pytest.approx(4.166667, rel=1e-6)


def test_quadrature_error_is_as_stated():
    # DERIVED: the closed form is the reference. 2e-5 is the figure its docstring gives for 64 nodes.
    line = {
        "intensity_cd": 1.0,
        "extinction_per_m": np.geomspace(0.01, 3.0, 12)[:, None],
        "distance_m": 5.0,
        "angle_deg": np.array([2.0, 30.0, 90.0, 150.0, 178.0]),
    }
    worst = np.max(np.abs(airlight.airlight_quadrature(**line) / airlight.point_airlight(**line) - 1.0))
    assert worst < 2e-5
    coarse = np.max(np.abs(airlight.airlight_quadrature(**line, nodes=8) / airlight.point_airlight(**line) - 1.0))
    assert coarse > 1e-3  # the bound above can fail


def test_arrays_broadcast_and_scalars_stay_scalars():
    sigma, angle = np.array([0.02, 0.07, 0.2])[:, None], np.array([25.0, 80.0])
    line = {"intensity_cd": 700.0, "distance_m": 4.3}
    for veil, extra in (
        (airlight.point_airlight, {"length_m": np.array([3.0, np.inf])}),
        (airlight.airlight_quadrature, {"length_m": np.array([3.0, np.inf]), "g": 0.6}),
    ):
        grid = veil(extinction_per_m=sigma, angle_deg=angle, **extra, **line)
        assert grid.shape == (3, 2)
        one = veil(extinction_per_m=0.07, angle_deg=80.0, **(extra | {"length_m": np.inf}), **line)
        assert np.ndim(one) == 0 and grid[1, 1] == pytest.approx(one, rel=1e-12)
    assert haze.transmittance(extinction_per_m=sigma, path_m=angle).shape == (3, 2)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: haze.extinction_from_visibility(visibility_m=0.0), r"visibility_m must be > 0, got 0: metres"),
        (lambda: haze.extinction_from_mor(mor_m=-3.0), r"mor_m must be > 0, got -3"),
        (lambda: haze.extinction_from_loss_per_m(loss_percent=100.0), r"loss_percent must be >= 0 and < 100, got 100"),
        (lambda: haze.transmittance(extinction_per_m=-0.1, path_m=1.0), r"extinction_per_m must be >= 0, got -0.1"),
        (lambda: haze.transmittance(extinction_per_m=0.1, path_m=np.nan), r"path_m must be a finite number, got nan"),
        (lambda: haze.henyey_greenstein(g=1.0, cosine=0.0), r"g must be > -1 and < 1, got 1"),
        (lambda: haze.henyey_greenstein(g=0.5, cosine=1.5), r"cosine must be >= -1 and <= 1, got 1.5: \+1 is straight on"),
        (
            lambda: airlight.point_airlight(intensity_cd=1.0, extinction_per_m=0.1, distance_m=2.0, angle_deg=0.0),
            r"angle_deg must be > 0 and < 180, got 0: straight at the light",
        ),
        (
            lambda: airlight.point_airlight(intensity_cd=1.0, extinction_per_m=0.0, distance_m=2.0, angle_deg=9.0),
            r"extinction_per_m must be > 0, got 0: clear air adds no veil",
        ),
        (
            lambda: airlight.airlight_quadrature(intensity_cd=1.0, extinction_per_m=0.1, distance_m=2.0, angle_deg=9.0, nodes=0),
            r"nodes must be >= 1, got 0",
        ),
    ],
)
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()


LINE = {"intensity_cd": 1.0, "extinction_per_m": 0.1, "distance_m": 2.0, "angle_deg": 20.0, "length_m": 3.0}
SEEN = {"extinction_per_m": 0.1, "path_m": 2.0, "airlight_cd_m2": 1.0}
PAIR = {"target_cd_m2": 1.0, "background_cd_m2": 2.0, **SEEN}
LIMITS = [  # function, inputs that pass, inputs that must each be refused
    (haze.extinction_from_visibility, {"visibility_m": 9.0}, {"visibility_m": -1.0}),
    (haze.visibility_from_extinction, {"extinction_per_m": 0.1}, {"extinction_per_m": 0.0}),
    (haze.extinction_from_mor, {"mor_m": 9.0}, {"mor_m": 0.0}),
    (haze.mor_from_extinction, {"extinction_per_m": 0.1}, {"extinction_per_m": 0.0}),
    (haze.extinction_from_loss_per_m, {"loss_percent": 5.0}, {"loss_percent": -1.0}),
    (haze.loss_percent_per_m, {"extinction_per_m": 0.1}, {"extinction_per_m": -0.1}),
    (
        haze.extinction_from_mass,
        {"mass_mg_m3": 5.0, "mass_extinction_m2_g": 4.0},
        {"mass_mg_m3": -1.0, "mass_extinction_m2_g": -1.0},
    ),
    (
        haze.mass_from_extinction,
        {"extinction_per_m": 0.1, "mass_extinction_m2_g": 4.0},
        {"extinction_per_m": -0.1, "mass_extinction_m2_g": 0.0},
    ),
    (haze.transmittance, {"extinction_per_m": 0.1, "path_m": 2.0}, {"extinction_per_m": -0.1, "path_m": -1.0}),
    (haze.airlight_fraction, {"extinction_per_m": 0.1, "path_m": 2.0}, {"extinction_per_m": -0.1, "path_m": -1.0}),
    (haze.luminance_through_haze, {"luminance_cd_m2": 1.0, **SEEN}, {"luminance_cd_m2": -1.0, "airlight_cd_m2": -1.0}),
    (haze.contrast_through_haze, PAIR, {"target_cd_m2": -1.0, "background_cd_m2": 0.0, "airlight_cd_m2": -1.0}),
    (haze.separation_stops_through_haze, PAIR, {"target_cd_m2": -1.0, "background_cd_m2": 0.0}),
    (haze.henyey_greenstein, {"g": 0.5, "cosine": 0.2}, {"g": -1.0, "cosine": -1.1}),
    (airlight.henyey_greenstein_backward_share, {"g": 0.5}, {"g": 1.0}),
    (
        haze.side_beam_luminance,
        {"illuminance_lx": 1.0, "width_m": 0.3, "scattering_per_m": 0.1, "phase_per_sr": 0.1, "angle_deg": 90.0, "to_lens_m": 1.0},
        {
            "illuminance_lx": -1.0,
            "width_m": -1.0,
            "scattering_per_m": -1.0,
            "phase_per_sr": -1.0,
            "angle_deg": 180.0,
            "to_lens_m": -1.0,
        },
    ),
    (
        haze.beam_over_stops,
        {"illuminance_lx": 1.0, "width_m": 0.3, "extinction_per_m": 0.1, "background_cd_m2": 1.0, "angle_deg": 90.0, "g": 0.5},
        {"illuminance_lx": -1.0, "width_m": -1.0, "extinction_per_m": -1.0, "background_cd_m2": 0.0, "angle_deg": 0.0, "g": 1.0},
    ),
    (
        airlight.point_airlight,
        LINE,
        {"intensity_cd": -1.0, "extinction_per_m": 301.0, "distance_m": 0.0, "angle_deg": 180.0, "length_m": -1.0},
    ),
    (
        airlight.airlight_quadrature,
        {"g": 0.5, "nodes": 8, **LINE},
        {
            "intensity_cd": -1.0,
            "extinction_per_m": 0.0,
            "distance_m": 0.0,
            "angle_deg": 0.0,
            "length_m": np.nan,
            "g": 1.0,
            "nodes": 0,
        },
    ),
]


@pytest.mark.parametrize(("function", "good", "bad"), LIMITS, ids=[row[0].__name__ for row in LIMITS])
def test_every_limit_is_kept(function, good, bad):
    assert np.isfinite(function(**good))
    for name, value in bad.items():
        for wrong in (value, np.array([good[name], value])) if name != "nodes" else (value,):
            with pytest.raises(ValueError, match=r"must be"):
                function(**(good | {name: wrong}))


def test_caution_defers_to_people_who_may_decide():
    # The words a reader must see beside any haze number.
    for word in ("smoke detector", "fire authority", "ventilate", "lowest level", "Local limits"):
        assert word in haze.HAZE_CAUTION
