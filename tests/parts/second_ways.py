"""Second ways to a number, which only judge the package: the trade's cable formula, the sensor's own exposure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lightcalc.laws.exposure import _check_settings
from lightcalc.units import check_range

if TYPE_CHECKING:
    from lightcalc.units import Numbers

ISO12232_SATURATION = 78.0  # lx s over the ISO speed
COPPER_OHM_CMIL_PER_FT = 12.9  # the K of the trade's circular-mil formula, conductor warm
ISO12232_Q = 0.65  # lens transmittance .9, vignetting .98, 10 deg off axis: .6516, rounded by the standard


def cable_drop_circular_mil_v(*, load_amps: Numbers, length_ft: Numbers, area_cmil: Numbers) -> Numbers:
    r"""
    The same drop by the trade's formula in feet and circular mils. [V]

    Parameters
    ----------
    load_amps : float or array
        Current, >= 0. [A]
    length_ft : float or array
        Cable, one way, >= 0. [ft]
    area_cmil : float or array
        Cross-section of one conductor, > 0: 6530 for no. 12. [cmil]

    Returns
    -------
    float or array
        Drop, the inputs broadcast together. [V]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: \Delta U = 2 K L I / CM, \quad K = 12.9

    That K is copper at about 82 C by `cable_drop_v`: the trade's formula reads 24 % over cold cable.

    References
    ----------
    .. [1] The 2 K I L / CM formula with K = 12.9 for copper, as taught with NFPA 70 (NEC) 210.19(A),
       Informational Note.

    Examples
    --------
    >>> round(float(cable_drop_circular_mil_v(load_amps=20, length_ft=100, area_cmil=6530)), 1)
    7.9
    """
    check_range("load_amps", load_amps, low=0.0)
    check_range("length_ft", length_ft, low=0.0)
    check_range("area_cmil", area_cmil, above=0.0, hint="4110 for no. 14, 6530 for no. 12, 10 380 for no. 10")
    return 2.0 * COPPER_OHM_CMIL_PER_FT * np.multiply(load_amps, length_ft) / area_cmil


def sensor_exposure_lx_s(*, luminance_cd_m2: Numbers, f_number: Numbers, time_s: Numbers, q: Numbers = ISO12232_Q) -> Numbers:
    r"""
    Light landing on the sensor from a surface of known luminance. [lx s]

    Parameters
    ----------
    luminance_cd_m2 : float or array
        Luminance of the surface, >= 0. [cd/m2]
    f_number : float or array
        F-number, > 0; a T-stop with q = pi/4. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    q : float or array, default 0.65
        Lens constant, > 0, at most pi/4. [1]

    Returns
    -------
    float or array
        Exposure at the sensor, the inputs broadcast together. [lx s]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: H = q L t / N^2, \quad q = \tfrac{\pi}{4}\, T\, v \cos^4\theta

    The standard's 0.65 takes transmittance 0.9, vignetting 0.98 and 10 deg off axis. Far subjects only:
    at a magnification m divide by (1 + m)^2.

    References
    ----------
    .. [1] ISO 12232:2006, focal-plane exposure.

    Examples
    --------
    >>> round(float(sensor_exposure_lx_s(luminance_cd_m2=4000, f_number=8, time_s=1 / 250)), 4)
    0.1625
    """
    check_range("luminance_cd_m2", luminance_cd_m2, low=0.0)
    check_range("q", q, above=0.0, high=np.pi / 4.0, hint="pi/4 is a lens that loses nothing")
    _check_settings(f_number=f_number, time_s=time_s)
    return np.multiply(q, luminance_cd_m2) * time_s / np.square(f_number)


def saturation_luminance_cd_m2(*, f_number: Numbers, time_s: Numbers, iso: Numbers) -> Numbers:
    r"""
    Luminance at which a sensor rated by saturation clips. [cd/m2]

    Parameters
    ----------
    f_number : float or array
        F-number, > 0. [1]
    time_s : float or array
        Exposure time, > 0. [s]
    iso : float or array
        Saturation-based ISO speed, > 0. [1]

    Returns
    -------
    float or array
        Luminance, the inputs broadcast together. [cd/m2]

    Raises
    ------
    ValueError
        If an input is not positive.

    Notes
    -----
    .. math:: L = \frac{78}{q}\, \frac{N^2}{S\, t} = 120\, N^2/(S\, t)

    Cameras made for film log curves keep more above middle grey than this; use the maker's figure.

    References
    ----------
    .. [1] ISO 12232:2006, saturation-based speed 78/H, q = 0.65.

    Examples
    --------
    >>> round(float(saturation_luminance_cd_m2(f_number=4, time_s=1 / 48, iso=800)), 6)
    115.2
    """
    _check_settings(f_number=f_number, time_s=time_s, iso=iso)
    return ISO12232_SATURATION / ISO12232_Q * np.square(f_number) / np.multiply(time_s, iso)
