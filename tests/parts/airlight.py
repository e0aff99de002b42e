"""The veil of one small light in even haze, single scattering: judges of the light engine that share no code with it."""

import numpy as np
from scipy.special import exp1

from lightcalc.laws.haze import henyey_greenstein
from lightcalc.units import check_range


def henyey_greenstein_backward_share(*, g):
    r"""
    Share of scattered light that turns back by more than a right angle. [1]

    Parameters
    ----------
    g : float or array
        Mean cosine of scattering, above -1 and below 1. [1]

    Returns
    -------
    float or array
        Share, 0 to 1; half for g = 0. [1]

    Raises
    ------
    ValueError
        If g is not inside (-1, 1).

    Notes
    -----
    .. math:: b = \frac{1-g}{2g}\left(\frac{1+g}{\sqrt{1+g^2}} - 1\right) = \frac{1-g}{s (1+g+s)}, \quad
        s = \sqrt{1+g^2}

    The second form, used here, has no hole at g = 0.

    References
    ----------
    .. [1] Integral of Henyey & Greenstein 1941 over the backward half.

    Examples
    --------
    >>> float(henyey_greenstein_backward_share(g=0.0))
    0.5
    """
    check_range("g", g, above=-1.0, below=1.0)
    root = np.sqrt(1.0 + np.square(g))
    return np.subtract(1.0, g) / (root * (np.add(1.0, g) + root))


def point_airlight(*, intensity_cd, extinction_per_m, distance_m, angle_deg, length_m=np.inf):
    r"""
    Veil that one small light adds to a sight line, air that scatters evenly all round. [cd/m2]

    Parameters
    ----------
    intensity_cd : float or array
        Luminous intensity, the same every way, >= 0. [cd]
    extinction_per_m : float or array
        Extinction coefficient, nothing absorbed, > 0. [1/m]
    distance_m : float or array
        Lens to light, > 0. [m]
    angle_deg : float or array
        Between the sight line and the direction of the light, 0 to 180, ends left out. [deg]
    length_m : float or array, default endless
        Sight line from the lens to where it ends, >= 0. [m]

    Returns
    -------
    float or array
        Luminance added, the inputs broadcast together. [cd/m2]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: L = \frac{\sigma I e^{-T\cos\gamma}}{2 \pi D \sin\gamma}
        \int_{\gamma/2}^{x_1} e^{-T \sin\gamma \tan x}\, dx, \quad T = \sigma D

    The end is :math:`x_1 = \pi/2` for an endless ray. The original tabulates the integral; we write it by
    complex exponential integrals. Single scattering: in a room the light that scatters again adds to it.

    References
    ----------
    .. [1] B. Sun, R. Ramamoorthi, S. Narasimhan, S. Nayar, ACM Trans. Graph. 24(3) 1040 (2005).

    Examples
    --------
    >>> round(float(point_airlight(intensity_cd=1000, extinction_per_m=0.05, distance_m=5, angle_deg=30)), 6)
    2.536094
    """
    along_m, aside_m = _light_offset(intensity_cd, extinction_per_m, distance_m, angle_deg, length_m)
    depth = np.multiply(extinction_per_m, aside_m)
    start = np.tan(np.radians(angle_deg) / 2.0)
    with np.errstate(invalid="ignore"):  # an endless line gives inf - inf, replaced below
        end = (np.hypot(aside_m, length_m - along_m) + (length_m - along_m)) / aside_m
    tail = np.where(np.isinf(length_m), 0.0, _decay_integral(depth, np.where(np.isinf(length_m), 1.0, end)))
    scale = np.multiply(extinction_per_m, intensity_cd) / (2.0 * np.pi * aside_m)
    return (scale * np.exp(-np.multiply(extinction_per_m, along_m)) * (_decay_integral(depth, start) - tail))[()]


def airlight_quadrature(*, intensity_cd, extinction_per_m, distance_m, angle_deg, g=0.0, length_m=np.inf, nodes=64):
    r"""
    Veil that one small light adds to a sight line, for any Henyey-Greenstein air. [cd/m2]

    Parameters
    ----------
    intensity_cd : float or array
        Luminous intensity, the same every way, >= 0. [cd]
    extinction_per_m : float or array
        Extinction coefficient, nothing absorbed, > 0. [1/m]
    distance_m : float or array
        Lens to light, > 0. [m]
    angle_deg : float or array
        Between the sight line and the direction of the light, 0 to 180, ends left out. [deg]
    g : float or array, default 0
        Mean cosine of scattering, above -1 and below 1. [1]
    length_m : float or array, default endless
        Sight line from the lens to where it ends, >= 0. [m]
    nodes : int, default 64
        Gauss-Legendre nodes along the line, at least 1.

    Returns
    -------
    float or array
        Luminance added, the inputs broadcast together. [cd/m2]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: L = \frac{\sigma I}{D \sin\gamma} \int p(-\sin\theta)\, e^{-\sigma (r + s)}\, d\theta

    with the equi-angular variable :math:`s = D\cos\gamma + D\sin\gamma\tan\theta`, r from the light to the
    point and s from there to the lens: the inverse square law drops out. Error of 64 nodes against the
    closed form, endless lines, 5 m, 2 to 178 deg, g = 0: 2e-5 from 0.01 to 3 per metre.

    References
    ----------
    .. [1] C. Kulla, M. Fajardo, Comput. Graph. Forum 31(4) 1519 (2012).

    Examples
    --------
    >>> round(float(airlight_quadrature(intensity_cd=1000, extinction_per_m=0.05, distance_m=5, angle_deg=60,
    ...                                 g=0.7)), 5)
    0.2722
    """
    check_range("nodes", nodes, low=1)
    along_m, aside_m = (v[..., None] for v in _light_offset(intensity_cd, extinction_per_m, distance_m, angle_deg, length_m))
    x, weight = np.polynomial.legendre.leggauss(int(nodes))
    first = -np.arctan2(along_m, aside_m)
    last = np.arctan2(np.asarray(length_m, dtype=float)[..., None] - along_m, aside_m)
    theta = first + (last - first) * (x + 1.0) / 2.0  # equi-angular: ds / r^2 = dtheta / aside
    path_m = along_m + aside_m * (1.0 / np.cos(theta) + np.tan(theta))  # light to point to lens
    phase = henyey_greenstein(g=np.asarray(g, dtype=float)[..., None], cosine=-np.sin(theta))
    spread = phase * np.exp(-np.asarray(extinction_per_m, dtype=float)[..., None] * path_m) * weight
    total = np.sum(spread * (last - first) / (2.0 * aside_m), axis=-1)
    return np.multiply(extinction_per_m, intensity_cd) * total


def _light_offset(intensity_cd, extinction_per_m, distance_m, angle_deg, length_m):
    """Checks shared by both airlights; where the light sits along the sight line, and how far aside. [m, m]"""
    check_range("intensity_cd", intensity_cd, low=0.0)
    check_range("extinction_per_m", extinction_per_m, above=0.0, hint="clear air adds no veil")
    check_range("distance_m", distance_m, above=0.0, hint="metres from lens to light")
    check_range("angle_deg", angle_deg, above=0.0, below=180.0, hint="straight at the light the veil has no limit")
    check_range(
        "extinction_per_m times distance_m",
        np.multiply(extinction_per_m, distance_m),
        high=600.0,
        hint="no light comes through that much air",
    )
    check_range("length_m", np.where(np.isposinf(length_m), 0.0, length_m), low=0.0)
    angle = np.radians(angle_deg)
    return np.multiply(distance_m, np.cos(angle)), np.multiply(distance_m, np.sin(angle))


def _decay_integral(u, tangent):
    r"""Integral of exp(-u tan x) from x = atan(tangent) to pi/2. [1]"""
    # DERIVED: t = tan x gives int e^{-ut}/(1+t^2) dt; 1/(1+t^2) = Im 1/(t-i); so Im[e^{-iu} E1(u (t - i))]

    return np.imag(np.exp(-1j * np.asarray(u)) * exp1(u * (tangent - 1j)))
