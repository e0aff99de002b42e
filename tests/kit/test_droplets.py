"""Droplets: Mie values against published cases and limits; the stored tables against what they must add up to."""

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from lightcalc.kit import droplets
from lightcalc.kit.droplets import (
    PRESETS,
    Droplets,
    PhaseTable,
    asymmetry,
    make_table,
    mass_extinction_m2_g,
    mixture_index,
    phase_table,
)

GREEN_UM = 0.55
LIQUIDS = {"water": (1.33, 1.00), "glycol": (1.43, 1.04), "oil": (1.47, 0.85)}  # index, g/cm3
# INDEPENDENT: two Mie codes with no shared source agreed in every digit. One of them also supplies our
# coefficients, so the published cases further down stand beside it. Columns: um, then Q, g, m2/g each.
SINGLE = """
0.3   .4563 .5737 2.281   .8078 .6002 3.884   .9893 .6077 5.820
0.5  1.5729 .7645 4.719  2.6031 .7560 7.509  3.0323 .7470 10.702
0.7  2.8181 .8272 6.039  3.7990 .7930 7.828  3.9800 .7720 10.034
1.0  3.9264 .8556 5.890  3.6683 .7573 5.291  3.3198 .6895 5.858
1.5  2.9169 .7857 2.917  1.9304 .5530 1.856  1.8444 .5580 2.170
2.0  1.8009 .6172 1.351  2.5834 .7576 1.863  2.8416 .7966 2.507
3.0  2.7021 .8175 1.351  1.9560 .7822 .940   2.4651 .7702 1.450
5.0  2.3066 .7892 .692   2.4162 .7855 .697   2.0405 .7702 .720
"""


def _alike(size_parameter, index):
    """Droplets all of one size parameter at 0.55 um, density 1."""
    return Droplets("all alike", size_parameter * GREEN_UM / np.pi, 1.0, index, 1.0)


def _efficiency(drops):
    """Q back from the mass extinction: k = 1.5 Q / (rho d)."""
    return mass_extinction_m2_g(drops, wavelength_um=GREEN_UM) * drops.density_g_cm3 * drops.median_um / 1.5


@pytest.mark.parametrize("line", SINGLE.strip().splitlines())
def test_single_sizes(line):
    diameter_um, *cells = map(float, line.split())
    for (index, density), (q, g, k) in zip(LIQUIDS.values(), np.reshape(cells, (3, 3))):
        drops = Droplets("all alike", diameter_um, 1.0, index, density)
        assert _efficiency(drops) == pytest.approx(q, rel=1e-3)
        assert asymmetry(drops, wavelength_um=GREEN_UM) == pytest.approx(g, rel=1e-3)
        assert mass_extinction_m2_g(drops, wavelength_um=GREEN_UM) == pytest.approx(k, rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize(
    "liquid, median_um, spread, k, g",
    [("glycol", 0.5, 1.6, 5.05, 0.747), ("glycol", 1.0, 1.5, 2.63, 0.712), ("oil", 0.5, 1.5, 7.51, 0.727)],
)
def test_lognormal_sizes(liquid, median_um, spread, k, g):
    # INDEPENDENT: summed over diameters beforehand by other code, 0.55 um, printed to three digits: 1 %.
    drops = Droplets(liquid, median_um, spread, *LIQUIDS[liquid])
    assert mass_extinction_m2_g(drops, wavelength_um=GREEN_UM) == pytest.approx(k, rel=1e-2)
    assert asymmetry(drops, wavelength_um=GREEN_UM) == pytest.approx(g, rel=1e-2)


def test_half_the_mass_is_above_the_mass_median():
    # DERIVED: a lognormal weighted by d^3 is a lognormal 3 s^2 further up (Hatch & Choate 1929). Summed here.
    drops = Droplets("haze", 0.5, 1.6, 1.43, 1.04)
    log_d = np.linspace(np.log(0.5) - 5, np.log(0.5) + 5, 200_001)
    mass = np.exp(-0.5 * ((log_d - np.log(0.5)) / np.log(1.6)) ** 2 + 3 * log_d)
    share_above = mass[log_d > np.log(drops.mass_median_um)].sum() / mass.sum()
    assert share_above == pytest.approx(0.5, abs=1e-4)
    assert drops.mass_median_um == pytest.approx(0.970, abs=5e-4)


def test_bohren_huffman_case():
    # PUBLISHED: the sample case of Bohren & Huffman 1983, m = 1.55, x = 5.21282: Qext 3.10543, Qback 2.92534, and
    # g .63314, as quoted in miepython's own tests. Qback = 4 |S(180)|^2 / x^2 = 4 pi Q p(180).
    drops = _alike(5.21282, 1.55)
    table = make_table(drops, wavelength_um=GREEN_UM)
    assert _efficiency(drops) == pytest.approx(3.10543, rel=1e-5)
    assert 4 * np.pi * _efficiency(drops) * table.phase_per_sr[-1] == pytest.approx(2.92534, rel=1e-5)
    assert table.g == pytest.approx(0.63314, rel=1e-5)


@pytest.mark.parametrize("size, q", [(10.0, 2.8820), (100.0, 2.0944)])
def test_wiscombe_cases(size, q):
    # PUBLISHED: Wiscombe's test cases, older set, m = 1.5, Q to four decimals, as quoted in miepython's own tests.
    assert _efficiency(_alike(size, 1.5)) == pytest.approx(q, abs=6e-5)


@pytest.mark.parametrize("size, q, g, tolerance", [(1.0, 0.093923, 0.184517, 1e-4), (100.0, 2.096594, 0.868959, 3e-3)])
def test_wiscombe_water_cases(size, q, g, tolerance):
    # PUBLISHED: Wiscombe's MIEV0 cases 9 and 10, m = 1.33 - 0.00001i, Qsca and g, quoted likewise. Our droplets
    # absorb nothing: at x = 100 theirs lose Qabs .0047, 0.22 % of the light, hence the wider limit there.
    drops = _alike(size, 1.33)
    assert _efficiency(drops) == pytest.approx(q, rel=tolerance)
    assert asymmetry(drops, wavelength_um=GREEN_UM) == pytest.approx(g, rel=tolerance)


def test_tiny_droplets_scatter_like_air():
    # DERIVED: Rayleigh's limit, Q = 8/3 x^4 ((n^2-1)/(n^2+2))^2 and p = 3 (1 + cos^2) / 16 pi; next term x^2 = 2e-4.
    drops = Droplets("tiny", 0.01, 1.0, 1.43, 1.04)
    table = make_table(drops, wavelength_um=2.0)
    x = np.pi * 0.01 / 2.0
    q = 8 / 3 * x**4 * ((1.43**2 - 1) / (1.43**2 + 2)) ** 2
    assert table.mass_extinction_m2_g == pytest.approx(1.5 * q / (1.04 * 0.01), rel=1e-3)
    assert table.phase_per_sr == pytest.approx(3 / (16 * np.pi) * (1 + table.cosine**2), rel=1e-3)
    assert table.legendre[:3] == pytest.approx([1.0, 0.0, 0.1], abs=1e-3)


def test_big_droplets_take_twice_their_shadow():
    # DERIVED: Q tends to 2, half of it diffraction (next term 1.84 x^(-2/3) is 2 % of it); by the optical theorem
    # S(0) = x^2 Q / 4, so p(0) = |S|^2 / (pi x^2 Q) = x^2 Q / 16 pi, the out-of-phase part being small.
    x = 250.0
    drops = _alike(x, 1.333)
    q = _efficiency(drops)
    assert q == pytest.approx(2 + 1.84 * x ** (-2 / 3), rel=2e-2)
    assert make_table(drops, wavelength_um=GREEN_UM).phase_per_sr[0] == pytest.approx(x**2 * q / (16 * np.pi), rel=1e-2)


def test_phase_of_one_size_against_the_library():
    # INDEPENDENT: miepython sums the amplitudes by itself (same coefficients), normalised by itself.
    miepython = pytest.importorskip("miepython")
    table = make_table(_alike(23.7, 1.43), wavelength_um=GREEN_UM)
    theirs = miepython.i_unpolarized(1.43, 23.7, table.cosine, norm="one")
    assert table.phase_per_sr == pytest.approx(theirs, rel=1e-6)


@pytest.mark.slow
def test_mixed_sizes_against_a_plain_sum():
    # INDEPENDENT: diameters summed one by one with the library's own phase functions; no shared size grid.
    miepython = pytest.importorskip("miepython")
    drops, angles = Droplets("haze", 0.6, 1.3, 1.44, 1.1), np.array([0, 7, 45, 90, 151, 180])
    log_d = np.log(0.6) + np.log(1.3) * np.linspace(-5, 6, 331)
    section, total = 0.0, np.zeros(angles.size)
    for d in np.exp(log_d):
        number = np.exp(-0.5 * (np.log(d / 0.6) / np.log(1.3)) ** 2)
        scattered = number * d**2 * miepython.efficiencies_mx(1.44, np.pi * d / GREEN_UM)[1]
        phase = miepython.i_unpolarized(1.44, np.pi * d / GREEN_UM, np.cos(np.radians(angles)), norm="one")
        section, total = section + scattered, total + scattered * phase
    table = make_table(drops, wavelength_um=GREEN_UM)
    assert table.phase_per_sr[angles * 10] == pytest.approx(total / section, rel=1e-3)


def test_ten_milligrams_of_one_micrometre():
    # DERIVED: 10 mg/m3 times Q 3.6683 * 1.5 / (1.04 * 1 um) is .05291 per metre, a 74 m view.
    drops = Droplets("all alike", 1.0, 1.0, 1.43, 1.04)
    assert 10e-3 * mass_extinction_m2_g(drops, wavelength_um=GREEN_UM) == pytest.approx(0.05291, rel=1e-3)


@pytest.mark.parametrize("name", PRESETS)
@pytest.mark.slow
def test_stored_phase_adds_up(name):
    # DERIVED: every scattered photon goes somewhere. Read as the light engine reads it, linear in angle, with
    # Gauss-Legendre nodes that know nothing of the table's own; moments likewise.
    table = phase_table(name)
    cosine, weight = np.polynomial.legendre.leggauss(900)
    phase = table.at(cosine=cosine)
    for order in range(9):
        polynomial = np.polynomial.legendre.Legendre.basis(order)(cosine)
        assert 2 * np.pi * np.sum(weight * phase * polynomial) == pytest.approx(table.legendre[order], abs=1e-4)
    assert table.legendre[0] == pytest.approx(1.0, abs=1e-9)  # nothing was rescaled to make it so
    assert np.trapezoid(2 * np.pi * table.phase_per_sr * np.sin(table.theta_rad), table.theta_rad) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("name", PRESETS)
def test_stored_numbers_by_a_second_route(name):
    # INDEPENDENT: g and k from the library's efficiencies; the table has them from the angular sum.
    table = phase_table(name)
    assert asymmetry(PRESETS[name]) == pytest.approx(table.g, rel=1e-9)
    assert mass_extinction_m2_g(PRESETS[name]) == pytest.approx(table.mass_extinction_m2_g, rel=1e-9)


@pytest.mark.parametrize("table", [*PRESETS, 0.0, 0.5, 0.95, -0.8], ids=str)
def test_draws_have_the_right_mean(table):
    # DERIVED: the mean of many draws is g, the mean of P2 is the second moment. Draws evenly spread, so no noise.
    table = phase_table(table) if isinstance(table, str) else PhaseTable.henyey_greenstein(table)
    at = (np.arange(200_000) + 0.5) / 200_000 * 1023
    cosine = np.interp(at, np.arange(1024), table.inverse_cosine)
    assert np.mean(cosine) == pytest.approx(table.g, abs=1e-4)
    assert np.mean(1.5 * cosine**2 - 0.5) == pytest.approx(table.legendre[2], abs=1e-4)
    assert np.all(np.diff(table.inverse_cosine) > 0)
    assert table.inverse_cosine[[0, -1]] == pytest.approx([-1.0, 1.0], abs=1e-12)


@pytest.mark.slow
def test_stored_table_is_what_the_code_makes():
    # PINNED against the same code; what it pins is that data/ was remade after the last change.
    for name in ("oil haze", "coarse glycol fog"):
        fresh, stored = make_table(PRESETS[name]), phase_table(name)
        for key in ("phase_per_sr", "legendre", "inverse_cosine", "mass_extinction_m2_g", "theta_rad"):
            assert getattr(stored, key) == pytest.approx(getattr(fresh, key), rel=1e-9, abs=1e-9), key


@pytest.mark.slow
def test_coarse_size_steps_agree():
    # DERIVED: the sum over sizes has converged; five times coarser costs under 2 % of the phase anywhere.
    coarse, stored = make_table(PRESETS["fine glycol haze"], log_size_step=0.01), phase_table("fine glycol haze")
    assert coarse.g == pytest.approx(stored.g, rel=1e-4)
    assert coarse.phase_per_sr == pytest.approx(stored.phase_per_sr, rel=2e-2)


@pytest.mark.slow
def test_make_writes_what_phase_table_reads(tmp_path, monkeypatch):
    few = {"oil haze": PRESETS["oil haze"]}
    monkeypatch.setattr(droplets, "PRESETS", few)
    droplets.make(tmp_path / "droplets.npz")
    monkeypatch.setattr(droplets, "DATA", tmp_path)
    read = phase_table.__wrapped__("oil haze")
    # another machine may add the sizes up in another order
    assert np.allclose(read.phase_per_sr, phase_table("oil haze").phase_per_sr, rtol=1e-10, atol=0)


def test_henyey_greenstein_table():
    # DERIVED: p = (1-g^2) / 4 pi (1 + g^2 - 2 g cos)^1.5 (Henyey & Greenstein 1941), worked at 0, 30 ... 180 degrees.
    printed = {
        0.5: [0.477465, 0.250841, 0.091888, 0.042706, 0.019390, 0.017684],
        0.7: [1.503130, 0.277533, 0.057799, 0.022314, 0.009135, 0.008261],
        0.85: [6.543037, 0.176390, 0.027096, 0.009768, 0.003867, 0.003488],
    }
    for g, row in printed.items():
        table = PhaseTable.henyey_greenstein(g)
        assert table.phase_per_sr[[0, 300, 600, 900, 1500, 1800]] == pytest.approx(row, abs=6e-7)
        assert table.legendre == pytest.approx(g ** np.arange(9), rel=1e-12)


@pytest.mark.parametrize("g", [-0.8, 0.0, 1e-9, 0.5, 0.7, 0.95])
def test_henyey_greenstein_by_the_way_of_the_droplets(g):
    # INDEPENDENT: moments and inverse worked out numerically, as for Mie, against the closed forms.
    closed = PhaseTable.henyey_greenstein(g)
    worked = PhaseTable.from_phase("worked", closed.phase_per_sr)
    assert worked.legendre == pytest.approx(closed.legendre, abs=1e-12)
    assert worked.inverse_cosine == pytest.approx(closed.inverse_cosine, abs=3e-6)


def test_table_between_entries():
    # DERIVED: half way between two entries, linear in angle, against the formula itself: 2e-4 for g = 0.95.
    table, half = PhaseTable.henyey_greenstein(0.95), np.cos(np.radians([0.05, 1.05, 90.05, 179.95]))
    exact = (1 - 0.95**2) / (4 * np.pi * (1 + 0.95**2 - 2 * 0.95 * half) ** 1.5)
    assert table.at(cosine=half) == pytest.approx(exact, rel=2e-3)
    grid = table.at(cosine=half.reshape(2, 2))
    assert grid.shape == (2, 2) and grid[1, 0] == table.at(cosine=half[2])


def test_eye_weights_as_published():
    # PUBLISHED: CIE 1924 V(lambda), every 10 nm, by the copy in colour-science; peak 1 between 550 and 560 nm.
    colour = pytest.importorskip("colour")
    eye = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
    wave_um, share = droplets._sight(None)
    theirs = np.array([float(eye[nm]) for nm in np.rint(wave_um * 1000)])
    assert share == pytest.approx(theirs / theirs.sum(), rel=1e-6)
    assert wave_um[[0, -1]] == pytest.approx([0.38, 0.78])
    # ten nanometres are fine enough: the luminous mean wavelength against the 1 nm table
    fine = np.arange(380.0, 781.0)
    weight = np.array([float(eye[nm]) for nm in fine])
    assert 1000 * np.sum(wave_um * share) == pytest.approx(np.sum(fine * weight) / weight.sum(), abs=0.01)


@pytest.mark.slow
@pytest.mark.parametrize("light, g_off, k_off, phase_off", [("D65", 6e-4, 4e-3, 0.015), ("A", 2e-3, 1e-2, 0.045)])
def test_colour_of_the_light_hardly_matters(light, g_off, k_off, phase_off, monkeypatch):
    # INDEPENDENT: the same sums under published illuminants; the limits are those the docstring of make_table gives.
    colour = pytest.importorskip("colour")
    wave_um, share = droplets._sight(None)
    lamp = np.array([float(colour.SDS_ILLUMINANTS[light][nm]) for nm in np.rint(wave_um * 1000)])
    monkeypatch.setattr(droplets, "_sight", lambda _: (wave_um, share * lamp / np.sum(share * lamp)))
    for name in ("coarse glycol fog", "oil haze"):
        tinted, even = make_table(PRESETS[name]), phase_table(name)
        assert tinted.g == pytest.approx(even.g, abs=g_off)
        assert tinted.mass_extinction_m2_g == pytest.approx(even.mass_extinction_m2_g, rel=k_off)
        assert tinted.phase_per_sr == pytest.approx(even.phase_per_sr, rel=phase_off)
        assert np.max(np.abs(tinted.phase_per_sr / even.phase_per_sr - 1)) > 1e-3  # the light was really changed


@pytest.mark.parametrize(
    "name, index, molar_g, density", [("coarse glycol fog", 1.432, 76.09, 1.036), ("glycerol haze", 1.473, 92.09, 1.261)]
)
def test_preset_indices_hold_half_humid_water(name, index, molar_g, density):
    # DERIVED: Raoult at 50 % humidity, one water molecule to each of the other: 18 cm3 to molar_g / density. PUBLISHED
    # indices: water 1.333, glycerol 1.473 (Int. Tables for Crystallography C, table 3.3.2.1), propylene glycol 1.432.
    volumes = np.array([molar_g / density, 18.02 / 0.998])
    assert PRESETS[name].index == pytest.approx(mixture_index(indices=[index, 1.333], volume_shares=volumes), abs=3e-3)
    mass = (molar_g + 18.02) / volumes.sum()
    assert PRESETS[name].density_g_cm3 == pytest.approx(mass, rel=5e-3)


def test_mixture_ends_and_zero():
    # DERIVED: one liquid alone keeps its index; scaling the shares changes nothing.
    assert mixture_index(indices=[1.4321, 1.333], volume_shares=[1, 0]) == pytest.approx(1.4321, rel=1e-12)
    assert mixture_index(indices=[1.47, 1.33], volume_shares=[2, 6]) == pytest.approx(
        mixture_index(indices=[1.47, 1.33], volume_shares=[0.25, 0.75]), rel=1e-12
    )
    with pytest.raises(ValueError, match="sum of volume_shares must be > 0, got 0"):
        mixture_index(indices=[1.47, 1.33], volume_shares=[0, 0])


def test_presets_differ_and_say_where_they_come_from():
    # DERIVED: per gram, oil droplets dim most (fine and light), mist least; mist throws most light forward.
    k = {name: phase_table(name).mass_extinction_m2_g for name in PRESETS}
    assert k["oil haze"] > k["fine glycol haze"] > k["glycerol haze"] > k["coarse glycol fog"] > k["water mist"]
    assert max(PRESETS, key=lambda name: phase_table(name).g) == "water mist"
    assert all(name == drops.name and drops.note and "Index" in drops.evidence for name, drops in PRESETS.items())


def test_reading_a_table_loads_no_mie():
    code = "import sys; from lightcalc.kit.droplets import phase_table; phase_table('oil haze'); print(*sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=droplets.DATA.parent)
    assert "numpy" in run.stdout.split()
    assert not {"miepython", "scipy", "numba"} & set(run.stdout.split())


def test_tables_cannot_be_written_on():
    with pytest.raises(ValueError, match="read-only"):
        phase_table("oil haze").phase_per_sr[0] = 0.0


@pytest.mark.parametrize(
    "field, value, words",
    [
        ("median_um", 0.0, "median_um must be >= 0.01 and <= 50, got 0"),
        ("geometric_sd", 0.9, "geometric_sd must be >= 1"),
        ("index", 1.0, "index must be >= 1.01"),
        ("density_g_cm3", float("nan"), "density_g_cm3 must be a finite number"),
    ],
)
def test_bad_droplets_say_so(field, value, words):
    with pytest.raises(ValueError, match=words):
        replace(PRESETS["oil haze"], **{field: value})


def test_other_bad_input_says_so(monkeypatch):
    with pytest.raises(ValueError, match="droplets must be one of 'fine glycol haze', .*, got 'smoke'"):
        phase_table("smoke")
    with pytest.raises(ValueError, match="wavelength_um must be >= 0.2 and <= 2, got 550: micrometres; green is 0.55"):
        asymmetry(PRESETS["oil haze"], wavelength_um=550)
    with pytest.raises(ValueError, match="log_size_step must be <= 0.1 and > 0, got 0"):
        make_table(PRESETS["oil haze"], log_size_step=0.0)
    with pytest.raises(ValueError, match="g must be > -1 and < 1, got 1"):
        PhaseTable.henyey_greenstein(1.0)
    with pytest.raises(ValueError, match="integral of phase_per_sr must be >= 0.9999"):
        PhaseTable.from_phase("half", PhaseTable.henyey_greenstein(0.7).phase_per_sr / 2)
    with pytest.raises(ValueError, match="cosine must be >= -1 and <= 1, got 1.2"):
        phase_table("oil haze").at(cosine=[0.0, 1.2])
    monkeypatch.setitem(PRESETS, "oil haze", replace(PRESETS["oil haze"], index=1.46))
    with pytest.raises(ValueError, match="run python -m lightcalc.kit.droplets --make"):
        phase_table.__wrapped__("oil haze")
