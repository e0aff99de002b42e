"""
What colour light is, and what a mix of lights is: kelvins, mireds, and the distance from the blackbody locus.

Lights are added as tristimulus values, weighted by the illuminance each gives, never as kelvins: 3200 K and
5600 K in equal parts are not 4400 K, and not on the locus either.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from lightcalc.units import Numbers, check_range

DATA = Path(__file__).resolve().parents[2] / "data"
PLANCK_C2_M_K = 1.4388e-2  # second radiation constant as colorimetry takes it (CIE 015:2018, illuminant A)
FILAMENT_MIRED = 1e6 * 560e-9 / PLANCK_C2_M_K  # warmer for each e-fold of light that a dimmer takes from a filament
WARMEST_MIRED, COOLEST_MIRED = 1000.0, 10.0  # 1000 to 100 000 K: what the search looks through
FARTHEST_DUV = 0.05  # CIE 015:2018, 9.5: no correlated colour temperature further from the locus than this


def mired_from_kelvin(*, kelvin: Numbers) -> Numbers:
    r"""
    Reciprocal colour temperature. [mired]

    Parameters
    ----------
    kelvin : float or array
        Colour temperature, > 0. [K]

    Returns
    -------
    float or array
        Millionths of 1/K. [mired]

    Raises
    ------
    ValueError
        If a temperature is not positive.

    Notes
    -----
    .. math:: M = 10^6 / T

    Equal steps in mireds look about equally large; equal steps in kelvins do not.

    References
    ----------
    .. [1] CIE S 017:2020, "reciprocal colour temperature" (1 mired = 1 per MK).

    Examples
    --------
    >>> round(float(mired_from_kelvin(kelvin=3200)), 1)
    312.5
    """
    check_range("kelvin", kelvin, above=0.0, hint="a colour temperature such as 3200 or 5600")
    return np.divide(1e6, kelvin)


def kelvin_from_mired(*, mired: Numbers) -> Numbers:
    r"""
    Colour temperature from its reciprocal. [K]

    Parameters
    ----------
    mired : float or array
        Reciprocal colour temperature, > 0. [mired]

    Returns
    -------
    float or array
        Colour temperature. [K]

    Raises
    ------
    ValueError
        If a number is not positive.

    Notes
    -----
    .. math:: T = 10^6 / M

    References
    ----------
    .. [1] CIE S 017:2020, "reciprocal colour temperature".

    Examples
    --------
    >>> float(kelvin_from_mired(mired=200))
    5000.0
    """
    check_range("mired", mired, above=0.0, hint="a million over the kelvins; 5000 K is 200")
    return np.divide(1e6, mired)


def shift_mired(*, from_kelvin: Numbers, to_kelvin: Numbers) -> Numbers:
    r"""
    What a gel must add to turn one colour temperature into another; plus is warmer. [mired]

    Parameters
    ----------
    from_kelvin, to_kelvin : float or array
        The lamp's colour temperature and the wanted one, > 0. [K]

    Returns
    -------
    float or array
        Shift, the inputs broadcast together. [mired]

    Raises
    ------
    ValueError
        If a temperature is not positive.

    Notes
    -----
    .. math:: \Delta M = 10^6 / T' - 10^6 / T

    A filter adds about the same mireds to any lamp, which is why gels are named by them. It is exact for a filter
    of density proportional to 1/wavelength on a radiator in Wien's range; real gels stray by some 10 mired.

    References
    ----------
    .. [1] I. G. Priest, J. Opt. Soc. Am. 23 (1933) 41, reciprocal temperature as the scale of colour temperature.

    Examples
    --------
    >>> round(float(shift_mired(from_kelvin=5600, to_kelvin=3200)), 1)
    133.9
    """
    check_range("from_kelvin", from_kelvin, above=0.0, hint="a colour temperature such as 5600")
    check_range("to_kelvin", to_kelvin, above=0.0, hint="a colour temperature such as 3200")
    return mired_from_kelvin(kelvin=to_kelvin) - mired_from_kelvin(kelvin=from_kelvin)


def shifted_kelvin(*, kelvin: Numbers, shift_mired: Numbers) -> Numbers:
    r"""
    Colour temperature behind a gel. [K]

    Parameters
    ----------
    kelvin : float or array
        Before the gel, > 0. [K]
    shift_mired : float or array
        What the gel adds; plus is warmer. [mired]

    Returns
    -------
    float or array
        Behind it, the inputs broadcast together. [K]

    Raises
    ------
    ValueError
        If a temperature is not positive, or a cooling gel leaves nothing above 0 mired.

    Notes
    -----
    .. math:: T' = 10^6 / (10^6 / T + \Delta M)

    References
    ----------
    .. [1] `shift_mired`.

    Examples
    --------
    >>> round(float(shifted_kelvin(kelvin=5600, shift_mired=134)))
    3199
    """
    check_range("shift_mired", shift_mired)
    mired = mired_from_kelvin(kelvin=kelvin) + shift_mired
    check_range("mired behind the gel", mired, above=0.0, hint="the light is too blue for so cool a gel")
    return 1e6 / mired


def dimmed_kelvin(*, kelvin: Numbers, share: Numbers) -> Numbers:
    r"""
    Colour temperature of a filament lamp that a dimmer has turned down. [K]

    Parameters
    ----------
    kelvin : float or array
        At full, > 0. [K]
    share : float or array
        Of full light that is left, > 0 and <= 1.

    Returns
    -------
    float or array
        The inputs broadcast together. [K]

    Raises
    ------
    ValueError
        If a temperature is not positive or a share outside its limits.

    Notes
    -----
    .. math:: \Phi \propto e^{-c_2 / (\lambda T)} \Rightarrow
              10^6 / T' = 10^6 / T - (10^6 \lambda / c_2) \ln s

    Wien's law at 560 nm, where light from such filaments has its visible middle: 27 mired warmer for each stop. The whole of
    Planck's law under the eye's sensitivity gives the same within 3 % of the shift over five stops from 3200 K; power laws that
    are printed for lamps near their rated voltage, within 7 %.

    References
    ----------
    .. [1] Arecchi, Messadi & Koshel, Field Guide to Illumination (SPIE, 2007), "Tungsten lamps": flux goes with the 6.5th power of
       the current and colour temperature with the 0.80th.

    Examples
    --------
    >>> round(float(dimmed_kelvin(kelvin=3200, share=0.5)))
    2946
    """
    check_range("share", share, above=0.0, high=1.0, hint="of full light; a stop less is 0.5")
    return 1e6 / (mired_from_kelvin(kelvin=kelvin) - FILAMENT_MIRED * np.log(share))


@lru_cache(maxsize=1)
def observer() -> tuple[np.ndarray, np.ndarray]:
    """
    The CIE 1931 observer, from data/cie_1931_observer.csv.

    Returns
    -------
    wavelength_nm : array, shape (n,)
        380 to 780 in steps of 5. [nm]
    xyz_bar : array, shape (n, 3)
        Colour matching functions; the second is V(lambda). [1]
    """
    table = np.loadtxt(DATA / "cie_1931_observer.csv", delimiter=",", comments=("#", "w"))
    return table[:, 0], table[:, 1:]


def planck_power(*, wavelength_nm: Numbers, kelvin: Numbers) -> Numbers:
    r"""
    Spectral power of a black body, against that at 560 nm. [1]

    Parameters
    ----------
    wavelength_nm : float or array
        Wavelength, > 0. [nm]
    kelvin : float or array
        Temperature, > 0. [K]

    Returns
    -------
    float or array
        Power in a small band, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If an input is not positive.

    Notes
    -----
    .. math:: S(\lambda, T) = \left(\frac{560}{\lambda}\right)^5
        \frac{e^{c_2 / (560\,\mathrm{nm}\; T)} - 1}{e^{c_2/(\lambda T)} - 1}

    References
    ----------
    .. [1] CIE 015:2018, illuminant A and Planck's law with c2 = 1.4388e-2 m K.

    Examples
    --------
    >>> float(planck_power(wavelength_nm=560, kelvin=2856))
    1.0
    """
    check_range("wavelength_nm", wavelength_nm, above=0.0)
    check_range("kelvin", kelvin, above=0.0, hint="a colour temperature such as 3200 or 5600")
    c2_nm = 1e9 * PLANCK_C2_M_K / np.asarray(kelvin, dtype=float)
    here, there = c2_nm / np.asarray(wavelength_nm, dtype=float), c2_nm / 560.0
    # exp(there - here) (1 - exp(-there)) / (1 - exp(-here)) is the same quotient, and cold bodies do not overflow it
    return (560.0 / np.asarray(wavelength_nm, dtype=float)) ** 5 * np.exp(there - here) * np.expm1(-there) / np.expm1(-here)


def planck_xyz(*, kelvin: Numbers) -> Numbers:
    r"""
    Tristimulus values of a black body with Y = 1. [1]

    Parameters
    ----------
    kelvin : float or array of shape (...)
        Temperature, 500 to 1e6. [K]

    Returns
    -------
    array of shape (..., 3)
        X, Y, Z. [1]

    Raises
    ------
    ValueError
        If a temperature is outside its range.

    Notes
    -----
    .. math:: X = \frac{\sum S \bar x}{\sum S \bar y}, \quad Y = 1

    summed every 5 nm from 380 to 780 nm. Cut there and so coarse, it moves 3200 K by less than 0.1 mired.

    References
    ----------
    .. [1] CIE 015:2018, 7.1, tristimulus values by summation at 5 nm.

    Examples
    --------
    >>> x, y, z = planck_xyz(kelvin=2855.54)
    >>> round(float(x / (x + y + z)), 4)
    0.4476
    """
    check_range("kelvin", kelvin, low=500.0, high=1e6, hint="a colour temperature such as 3200 or 5600")
    wavelength, bars = observer()
    xyz = planck_power(wavelength_nm=wavelength, kelvin=np.asarray(kelvin, dtype=float)[..., None]) @ bars
    return xyz / xyz[..., 1:2]


def uv_from_xyz(*, xyz: Numbers) -> Numbers:
    r"""
    CIE 1960 chromaticity: the plane in which the nearest black body is looked for. [1]

    Parameters
    ----------
    xyz : array of shape (..., 3)
        Tristimulus values, not all 0. [any]

    Returns
    -------
    array of shape (..., 2)
        u, v. [1]

    Raises
    ------
    ValueError
        If a value is negative, or a colour has no light.

    Notes
    -----
    .. math:: u = \frac{4X}{X + 15Y + 3Z}, \quad v = \frac{6Y}{X + 15Y + 3Z}

    References
    ----------
    .. [1] CIE 015:2018, 9.5; CIE 1960 UCS, kept for colour temperature alone.

    Examples
    --------
    >>> uv_from_xyz(xyz=[1.0, 1.0, 1.0]).round(4).tolist()
    [0.2105, 0.3158]
    """
    xyz = np.asarray(xyz, dtype=float)
    check_range("xyz", xyz, low=0.0)
    below = xyz @ np.array([1.0, 15.0, 3.0])
    check_range("xyz", below, above=0.0, hint="no light has no colour")
    return np.stack([4.0 * xyz[..., 0], 6.0 * xyz[..., 1]], axis=-1) / below[..., None]


def mix_xyz(*, illuminance_lx: Numbers, kelvin: Numbers) -> Numbers:
    r"""
    Tristimulus values of several lights on one place; Y is the illuminance. [lx]

    Parameters
    ----------
    illuminance_lx : array of shape (..., n)
        What each light gives, >= 0. [lx]
    kelvin : array of shape (..., n)
        Colour temperature of each, taken on the blackbody locus. [K]

    Returns
    -------
    array of shape (..., 3)
        X, Y, Z added up, Y being the total illuminance. [lx]

    Raises
    ------
    ValueError
        If an illuminance is negative or a temperature outside its range.

    Notes
    -----
    .. math:: (X, Y, Z) = \sum_i E_i \left(\frac{x_i}{y_i},\, 1,\, \frac{z_i}{y_i}\right)

    Grassmann's law: lights add, colours do not average. Error: daylight and many LEDs sit about 0.003 above the
    locus, tubes as far below or further; type a measured colour where that shows.

    References
    ----------
    .. [1] CIE 015:2018, 7.1; H. G. Grassmann, Ann. Phys. 165 (1853) 69.

    Examples
    --------
    >>> mix_xyz(illuminance_lx=[300.0, 100.0], kelvin=[3200.0, 5600.0]).round(1).tolist()
    [415.7, 400.0, 231.1]
    """
    illuminance_lx = np.asarray(illuminance_lx, dtype=float)
    check_range("illuminance_lx", illuminance_lx, low=0.0)
    return np.sum(illuminance_lx[..., None] * planck_xyz(kelvin=kelvin), axis=-2)


def cct_duv(*, xyz: Numbers) -> tuple[Numbers, Numbers]:
    r"""
    Correlated colour temperature, and how far the colour lies from the blackbody locus.

    Parameters
    ----------
    xyz : array of shape (..., 3)
        Tristimulus values. [any]

    Returns
    -------
    kelvin : float or array of shape (...)
        The nearest black body; NaN where it is beyond 1000 to 100 000 K or further than 0.05 off. [K]
    duv : float or array of shape (...)
        Distance in CIE 1960 u, v: plus is above the locus (green), minus below (magenta). [1]

    Raises
    ------
    ValueError
        If a value is negative, or a colour has no light.

    Notes
    -----
    .. math:: \min_T \, (u - u_T)^2 + (v - v_T)^2

    Looked for in a row of 1981 black bodies half a mired apart, then by a parabola through the three nearest squared
    distances: good to 1e-3 mired, and no starting guess can go astray.
    About 0.002 of Duv is what a trained eye tells apart beside white; 0.006 shows on faces.

    References
    ----------
    .. [1] CIE 015:2018, 9.5, correlated colour temperature; the sign of Duv as in ANSI C78.377.

    Examples
    --------
    >>> kelvin, duv = cct_duv(xyz=planck_xyz(kelvin=3200.0))
    >>> round(float(kelvin)), round(float(duv), 6) + 0.0
    (3200, 0.0)
    """
    uv = uv_from_xyz(xyz=xyz)
    mired = _nearest_mired(uv)
    away = uv - _locus_uv(mired)
    duv = np.copysign(np.hypot(away[..., 0], away[..., 1]), away[..., 1])
    held = (np.abs(duv) <= FARTHEST_DUV) & (mired < WARMEST_MIRED - 1e-3) & (mired > COOLEST_MIRED + 1e-3)
    return np.where(held, 1e6 / mired, np.nan)[()], duv[()]


def _locus_uv(mired):
    """u, v of black bodies. (..., 2)"""
    return uv_from_xyz(xyz=planck_xyz(kelvin=1e6 / np.asarray(mired)))


@lru_cache(maxsize=1)
def _locus():
    """A row of black bodies, even in mireds, and their u, v."""
    grid = np.linspace(COOLEST_MIRED, WARMEST_MIRED, 1981)
    return grid, _locus_uv(grid)


def _nearest_mired(uv):
    """Where the locus comes nearest to each colour. (...)"""
    grid, locus = _locus()
    gap = np.sum((uv[..., None, :] - locus) ** 2, axis=-1)
    k = np.clip(np.argmin(gap, axis=-1), 1, len(grid) - 2)
    low, here, high = (np.take_along_axis(gap, np.asarray(k + j)[..., None], axis=-1)[..., 0] for j in (-1, 0, 1))
    step = 0.5 * (low - high) / (low - 2.0 * here + high)  # the parabola's foot, in steps from the middle one
    return np.clip(grid[k] + step * (grid[1] - grid[0]), grid[0], grid[-1])


def mix_cct_duv(*, illuminance_lx: Numbers, kelvin: Numbers) -> tuple[Numbers, Numbers]:
    r"""
    Colour of several lights on one place.

    Parameters
    ----------
    illuminance_lx : array of shape (..., n)
        What each light gives, >= 0, not all 0. [lx]
    kelvin : array of shape (..., n)
        Colour temperature of each, on the blackbody locus. [K]

    Returns
    -------
    kelvin : float or array of shape (...)
        Correlated colour temperature of the mix. [K]
    duv : float or array of shape (...)
        Distance from the locus; plus is green. [1]

    Raises
    ------
    ValueError
        If an illuminance is negative, none has light, or a temperature is outside its range.

    Notes
    -----
    `mix_xyz`, then `cct_duv`. The locus is bowed, so two lights on it mix to a colour a little under it.

    References
    ----------
    .. [1] CIE 015:2018, 7.1 and 9.5.

    Examples
    --------
    >>> kelvin, duv = mix_cct_duv(illuminance_lx=[100.0, 100.0], kelvin=[3200.0, 5600.0])
    >>> round(float(kelvin)), round(float(duv), 4)
    (4138, -0.0026)
    """
    return cct_duv(xyz=mix_xyz(illuminance_lx=illuminance_lx, kelvin=kelvin))


def balance_offset_mired(*, kelvin: Numbers, balance_kelvin: Numbers) -> Numbers:
    r"""
    How much warmer a light looks than the camera's white; plus is warmer, minus cooler. [mired]

    Parameters
    ----------
    kelvin : float or array
        The light's correlated colour temperature, > 0. [K]
    balance_kelvin : float or array
        What the camera is balanced to, > 0. [K]

    Returns
    -------
    float or array
        Offset, the inputs broadcast together; a gel of minus this on the light, or the balance moved by it, takes
        it away. [mired]

    Raises
    ------
    ValueError
        If a temperature is not positive.

    Notes
    -----
    .. math:: \Delta M = 10^6/T - 10^6/T_\mathrm{balance}

    References
    ----------
    .. [1] I. G. Priest, J. Opt. Soc. Am. 23 (1933) 41.

    Examples
    --------
    >>> round(float(balance_offset_mired(kelvin=3200, balance_kelvin=5600)), 1)
    133.9
    """
    check_range("kelvin", kelvin, above=0.0, hint="a colour temperature such as 3200 or 5600")
    check_range("balance_kelvin", balance_kelvin, above=0.0, hint="what the camera is set to, such as 5600")
    return shift_mired(from_kelvin=balance_kelvin, to_kelvin=kelvin)
