"""Colour of light: against CIE tables, against an independent library on random mixes, and by hand."""

import csv

import numpy as np
import pytest

from lightcalc.laws.colour import (
    DATA,
    _locus_uv,
    balance_offset_mired,
    cct_duv,
    dimmed_kelvin,
    kelvin_from_mired,
    mired_from_kelvin,
    mix_cct_duv,
    mix_xyz,
    observer,
    planck_power,
    planck_xyz,
    shift_mired,
    shifted_kelvin,
    uv_from_xyz,
)

colour = pytest.importorskip("colour")


def xyz_of(x, y):
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def test_the_table_is_the_published_observer():
    # PUBLISHED: CIE 015:2018, 2 degree observer: rows 450 and 600 nm and the peak of y, digits as printed.
    wavelength, bars = observer()
    assert wavelength.tolist() == list(range(380, 785, 5)) and bars.shape == (81, 3)
    rows = dict(zip(wavelength, bars.tolist()))
    assert rows[450] == [0.3362, 0.038, 1.77211] and rows[600] == [1.0622, 0.631, 0.0008] and rows[555][1] == 1.0
    # INDEPENDENT: V(lambda) of the separate table of CIE 018, transcribed elsewhere.
    with (DATA / "cie_photopic_1924.csv").open() as file:
        table = csv.DictReader(line for line in file if not line.startswith("#"))
        photopic = {float(r["wavelength_nm"]): float(r["v_lambda"]) for r in table}
    for nm in range(390, 781, 10):
        assert rows[nm][1] == pytest.approx(photopic[nm], rel=2e-3, abs=1e-6)


@pytest.mark.parametrize(("kelvin", "mired"), [(3200, 312.5), (5600, 178.5714), (2000, 500.0), (6500, 153.8462)])
def test_mireds(kelvin, mired):
    # DERIVED: a million over the kelvins.
    assert mired_from_kelvin(kelvin=kelvin) == pytest.approx(mired, rel=1e-6)
    assert kelvin_from_mired(mired=mired) == pytest.approx(kelvin, rel=1e-6)


def test_gels_by_their_mireds():
    # COMMON PRACTICE: the full warming gel is named for 5600 to 3200 K; 133.9 mired is the arithmetic of it.
    assert shift_mired(from_kelvin=5600, to_kelvin=3200) == pytest.approx(133.93, abs=0.01)
    assert shifted_kelvin(kelvin=5600, shift_mired=133.93) == pytest.approx(3200, abs=0.2)
    # DERIVED: two gels on one lamp add their mireds, in any order, and the opposite gel takes it back.
    once = shifted_kelvin(kelvin=6300.0, shift_mired=47.0)
    assert shifted_kelvin(kelvin=once, shift_mired=33.0) == pytest.approx(1e6 / (1e6 / 6300 + 80), rel=1e-12)
    assert shifted_kelvin(kelvin=once, shift_mired=-47.0) == pytest.approx(6300.0, rel=1e-12)


def test_illuminant_a():
    # PUBLISHED: CIE 015:2018: illuminant A x .44758, y .40745, a black body of 2848 K x 1.4388/1.435.
    x, y, z = planck_xyz(kelvin=2848.0 * 1.4388 / 1.435)
    assert (x / (x + y + z), y / (x + y + z)) == (pytest.approx(0.44758, abs=4e-5), pytest.approx(0.40745, abs=4e-5))
    wavelength = np.array([380.0, 480.0, 560.0, 780.0])  # PUBLISHED: its table: 9.795100, 48.242300, 100, 241.675000
    power = 100.0 * planck_power(wavelength_nm=wavelength, kelvin=2848.0 * 1.4388 / 1.435)
    assert power == pytest.approx([9.7951, 48.2423, 100.0, 241.675], rel=3e-5)


@pytest.mark.parametrize(("name", "x", "y", "kelvin", "within"), [
    # PUBLISHED: CIE 015:2018, chromaticities and correlated colour temperatures of D50, D55, D65, D75 (c2 1.4388).
    ("D50", 0.34567, 0.35851, 5003, 5), ("D55", 0.33243, 0.34744, 5503, 5), ("D65", 0.31272, 0.32903, 6504, 6),
    ("D75", 0.29903, 0.31488, 7504, 8),
    # PUBLISHED: the same, fluorescent tubes FL2, FL7, FL11, FL12: 4230, 6500, 4000, 3000 K as rounded there.
    ("FL2", 0.37208, 0.37529, 4230, 12), ("FL7", 0.31292, 0.32933, 6500, 15), ("FL11", 0.38052, 0.37713, 4000, 12),
    ("FL12", 0.43695, 0.40441, 3000, 8)])  # fmt: skip
def test_published_illuminants(name, x, y, kelvin, within):
    got, duv = cct_duv(xyz=xyz_of(x, y))
    assert got == pytest.approx(kelvin, abs=within), name
    if name.startswith("D"):  # PUBLISHED: ANSI C78.377: the daylight locus lies .0032 above the black bodies at 6500 K
        assert duv == pytest.approx(0.0032, abs=4e-4)


def test_a_black_body_finds_itself():
    # DERIVED: the nearest point of the locus to a point on it, over all the range; in mireds to 1e-3.
    kelvin = np.geomspace(1010.0, 90_000.0, 211)
    got, duv = cct_duv(xyz=planck_xyz(kelvin=kelvin))
    assert np.max(np.abs(1e6 / got - 1e6 / kelvin)) < 1e-3 and np.max(np.abs(duv)) < 5e-7


def test_the_foot_of_the_perpendicular():
    # DERIVED: a colour put off the locus along its normal comes back with that temperature and that distance.
    mired = np.array([420.0, 333.0, 178.6, 120.0])
    uv, ahead = _locus_uv(mired), _locus_uv(mired + 0.01)
    along = (ahead - uv) / np.linalg.norm(ahead - uv, axis=-1)[:, None]
    for away in (-0.012, 0.004, 0.01):
        u, v = (uv + away * np.stack([-along[:, 1], along[:, 0]], axis=-1)).T
        xyz = np.stack([3 * u / (2 * v), np.ones(4), (4 - u - 10 * v) / (2 * v)], axis=-1)  # inverse of the UCS
        assert uv_from_xyz(xyz=xyz) == pytest.approx(np.stack([u, v], axis=-1), rel=1e-12)
        kelvin, duv = cct_duv(xyz=xyz)
        assert 1e6 / kelvin == pytest.approx(mired, abs=0.02) and np.abs(duv) == pytest.approx(abs(away), rel=1e-4)
        assert np.all(np.sign(duv) == np.sign(away * along[:, 0]))  # above the locus is plus


def test_fifty_random_mixes_against_a_library():
    # INDEPENDENT: colour-science: black bodies as spectra at 1 nm, scaled to their illuminances, added as spectra, then its
    # tristimulus integration and Ohno's 2013 search of the locus. It assumes the same observer (its 1 nm table). Its search
    # is good to about 1 K, and c2 is CODATA's, which moves kelvins by 2e-5.
    rng = np.random.default_rng(20_1931)
    shape = colour.SpectralShape(380, 780, 1)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    for _ in range(50):
        n = rng.integers(2, 6)
        kelvin, lux = rng.uniform(1900.0, 9000.0, n), rng.uniform(5.0, 800.0, n)
        spectra = [colour.sd_blackbody(k, shape).values for k in kelvin]
        powers = [e * s / (s @ cmfs.values[:, 1]) for e, s in zip(lux, spectra)]
        xyz = np.sum(powers, axis=0) @ cmfs.values
        assert mix_xyz(illuminance_lx=lux, kelvin=kelvin) == pytest.approx(xyz, rel=4e-4)
        uv = colour.UCS_to_uv(colour.XYZ_to_UCS(xyz))
        theirs, their_duv = colour.temperature.uv_to_CCT_Ohno2013(uv, cmfs=cmfs)
        got, duv = mix_cct_duv(illuminance_lx=lux, kelvin=kelvin)
        assert 1e6 / got == pytest.approx(1e6 / theirs, abs=0.15)  # mired; the eye's step is 5
        assert duv == pytest.approx(their_duv, abs=3e-5)


def test_fifty_random_gels_against_a_library():
    # INDEPENDENT: colour-science's own mired arithmetic.
    rng = np.random.default_rng(78)
    for kelvin, shift in zip(rng.uniform(2500, 7500, 50), rng.uniform(-90, 150, 50)):
        theirs = colour.temperature.mired_to_CCT(colour.temperature.CCT_to_mired(kelvin) + shift)
        assert shifted_kelvin(kelvin=kelvin, shift_mired=shift) == pytest.approx(theirs, rel=1e-12)


def test_kelvins_do_not_average():
    # DERIVED: equal parts of 3200 and 5600 K: the mean of kelvins is 4400, of mireds 4073; the mix lies between and
    # under the locus, for the locus is bowed upwards.
    kelvin, duv = mix_cct_duv(illuminance_lx=[70.0, 70.0], kelvin=[3200.0, 5600.0])
    assert 4073 < kelvin < 4400 and -0.008 < duv < -0.002
    # DERIVED: how much there is of it makes no difference to its colour; a light of nothing adds nothing.
    again = mix_cct_duv(illuminance_lx=[7000.0, 7000.0, 0.0], kelvin=[3200.0, 5600.0, 1500.0])
    assert again == (pytest.approx(kelvin, rel=1e-9), pytest.approx(duv, rel=1e-6))
    assert mix_xyz(illuminance_lx=[70.0, 30.0], kelvin=[3200.0, 5600.0])[1] == pytest.approx(100.0, rel=1e-12)


def test_far_from_white_has_no_colour_temperature():
    # PUBLISHED: CIE 015:2018, 9.5: none further than .05 from the locus. sRGB green (x .30, y .60), u .125 v .375.
    kelvin, duv = cct_duv(xyz=xyz_of(0.30, 0.60))
    assert np.isnan(kelvin) and duv > 0.05
    assert np.isnan(cct_duv(xyz=xyz_of(0.64, 0.33))[0])  # and sRGB red, past the warm end


def test_balance():
    # DERIVED: a tungsten lamp on a daylight balance is 133.9 mired warm, the daylight on tungsten as much cool.
    assert balance_offset_mired(kelvin=3200, balance_kelvin=5600) == pytest.approx(133.93, abs=0.01)
    assert balance_offset_mired(kelvin=5600, balance_kelvin=3200) == pytest.approx(-133.93, abs=0.01)


def test_arrays_and_scalars():
    grid = mix_cct_duv(illuminance_lx=np.full((2, 3, 2), 50.0), kelvin=np.array([3000.0, 5000.0]))[0]
    one = mix_cct_duv(illuminance_lx=[50.0, 50.0], kelvin=[3000.0, 5000.0])[0]
    assert grid.shape == (2, 3) and np.ndim(one) == 0 and grid[1, 2] == pytest.approx(one, rel=1e-12)
    assert planck_xyz(kelvin=3200.0).shape == (3,) and planck_xyz(kelvin=[[3200.0]]).shape == (1, 1, 3)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: mired_from_kelvin(kelvin=-3200), r"kelvin must be > 0, got -3200: a colour temperature"),
    (lambda: kelvin_from_mired(mired=0), r"mired must be > 0, got 0"),
    (lambda: shift_mired(from_kelvin=5600, to_kelvin=0), r"to_kelvin must be > 0, got 0"),
    (lambda: shifted_kelvin(kelvin=9000, shift_mired=-134), r"mired behind the gel must be > 0.*too blue"),
    (lambda: planck_xyz(kelvin=-1), r"kelvin must be <= 1e\+06 and >= 500|kelvin must be >= 500.*got -1"),
    (lambda: planck_power(wavelength_nm=0, kelvin=3000), r"wavelength_nm must be > 0"),
    (lambda: uv_from_xyz(xyz=[0.0, 0.0, 0.0]), r"xyz must be > 0, got 0: no light has no colour"),
    (lambda: mix_xyz(illuminance_lx=[-1.0], kelvin=[3200.0]), r"illuminance_lx must be >= 0, got -1"),
    (lambda: balance_offset_mired(kelvin=3200, balance_kelvin=-5600), r"balance_kelvin must be > 0, got -5600"),
])  # fmt: skip
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_a_dimmed_filament_is_planck_under_the_eye():
    # INDEPENDENT: the colour library's Planck radiator and its table of V(lambda): how far a radiator must cool to give so much
    # less visible light (assumes one emissivity at all wavelengths and temperatures). Wien at one wavelength is within 3 % of the shift.
    eye = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
    nm = np.arange(380.0, 781.0, 5.0)
    light = lambda kelvin: np.sum(colour.colorimetry.planck_law(nm * 1e-9, kelvin) * eye[nm])
    temperatures = np.linspace(1500.0, 3200.0, 3401)
    given = np.array([light(kelvin) for kelvin in temperatures])
    for less in (0.5, 1.3, 2.0, 3.7, 5.0):
        cooled = np.interp(2.0**-less, given / given[-1], temperatures)
        wanted, got = (1e6 / kelvin - 1e6 / 3200 for kelvin in (cooled, dimmed_kelvin(kelvin=3200, share=2.0**-less)))
        assert got == pytest.approx(wanted, rel=0.03)


def test_a_dimmed_filament_is_the_printed_power_law_near_full():
    # PUBLISHED: Arecchi, Messadi & Koshel, Field Guide to Illumination (SPIE, 2007), "Tungsten lamps": for 5 % more current flux
    # times 1.05^6.5 and 2900 K becomes 3015 K. Turned round: from 3015 K down. Theirs holds for 5 % about the rated current.
    shift = 1e6 / 2900 - 1e6 / 3015
    got = 1e6 / dimmed_kelvin(kelvin=3015, share=1.05**-6.5) - 1e6 / 3015
    assert got == pytest.approx(shift, rel=0.07)
    # DERIVED: the shift is the same for each stop, whatever it starts from, and nothing at full.
    assert dimmed_kelvin(kelvin=np.array([2800.0, 3200.0]), share=1.0) == pytest.approx([2800.0, 3200.0])
    steps = np.diff(1e6 / dimmed_kelvin(kelvin=3200, share=2.0 ** -np.arange(6.0)))
    assert steps == pytest.approx(np.full(5, np.log(2) * 1e6 * 560e-9 / 1.4388e-2))


@pytest.mark.parametrize("share", [0.0, -0.5, 1.2, np.nan])
def test_a_share_of_full_light_is_one(share):
    with pytest.raises(ValueError, match="share must be"):
        dimmed_kelvin(kelvin=3200, share=share)
