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
HELD = 100.0  # weight of the light on open ground out of doors, beside 1 for a wall
HELD_INSIDE = 0.1  # beside a room's windows


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


def sided_sky(*, sun_elevation_deg: float, outlook: str = "clear", windows: tuple[tuple[float, float], ...] = ()) -> np.ndarray:
    r"""
    The sky whose luminance is linear in direction and that gives faces, or a window's room, what the standard sky gives them.

    Parameters
    ----------
    sun_elevation_deg : float
        0 to 90. [deg]
    outlook : {'clear', 'partly'}
    windows : sequence of (float, float)
        Which way each faces, clockwise from the sun's bearing, and its share of the glass; none out of doors. [deg, 1]

    Returns
    -------
    array (4,)
        H and G of L(w) = H + G . w over the horizon, for one lux on open ground from all the sky; x to the right of the sun's
        bearing, y towards it, z up. Nowhere over the horizon below 0. [cd/m2]

    Raises
    ------
    ValueError
        If there is no such outlook, or the sun is under the horizon or beyond the zenith.

    Notes
    -----
    Out of doors the light on walls facing every bearing is held, each in its own share, and the light on the ground to the
    digit. Of a window it is what comes in weighted by :math:`\cos^2\theta` from its normal (marks in a room see the sky mostly
    straight ahead): from how high, and how much from the right and from the left.

    Error, of the sky's light alone. On faces tilted 0 to 90 degrees any way round, sun 2 to 80 degrees up: clear 0.13 stop rms
    and 0.5 at most, partly cloudy 0.04 and 0.1 (a sky even all round: 0.40 and 0.9). At marks 1 to 3 m before a window of
    1.4 x 1.3 m, sun 15 to 60 degrees up: 0.18 stop rms, nine in ten within a third; a stop low straight before a low sun, whose
    own light is then in the window (even all round: 0.69 rms, 2.4 at most).

    Examples
    --------
    >>> horizon, right, sunward, up = sided_sky(sun_elevation_deg=40)
    >>> bool(sunward > 0.2 and abs(right) < 1e-9)
    True
    """
    check_range("sun_elevation_deg", sun_elevation_deg, low=0.0, high=90.0)
    ways, share = _dome()
    sun = np.array([0.0, np.cos(np.radians(sun_elevation_deg)), np.sin(np.radians(sun_elevation_deg))])
    away = np.degrees(np.arccos(np.clip(ways @ sun, -1.0, 1.0)))
    seen = relative_luminance(zenith_deg=np.degrees(np.arccos(np.clip(ways[:, 2], 0.0, 1.0))), from_sun_deg=away, outlook=outlook)
    seen = share * seen / np.sum(share * seen * ways[:, 2])
    takes, weights = [ways[:, 2]], [HELD_INSIDE if windows else HELD]
    for faces_deg, part in windows or [(15.0 * k, 1.0) for k in range(24)]:
        turn = np.radians(faces_deg)
        ahead = np.maximum(ways @ np.array([np.sin(turn), np.cos(turn), 0.0]), 0.0)
        right = ways @ np.array([np.cos(turn), -np.sin(turn), 0.0])
        takes += [ahead**2 * ways[:, 2], ahead**2 * (1.0 + right), ahead**2 * (1.0 - right)] if windows else [ahead]
        weights += [part] * (3 if windows else 1)
    wanted = np.array(takes) @ seen
    shapes = _never_dark()
    basis = np.concatenate([np.ones((len(ways), 1)), ways], axis=1)
    got = (np.array(takes) * share) @ basis @ shapes.T
    rows = np.sqrt(weights)[:, None] * got / wanted[:, None]
    linear = _least_squares(rows, np.sqrt(weights)) @ shapes
    return linear / (np.pi * linear[0] + 2.0 * np.pi / 3.0 * linear[3]) if not windows else linear


@cache
def _never_dark():
    """The linear skies from which all that are nowhere negative add up, as H and G: rising from 0, or 0 in one direction, (n, 4)."""
    heights, bearings = (part.ravel() for part in np.meshgrid(np.radians(np.arange(0, 90, 10)), np.radians(np.arange(0, 360, 15))))
    away = -np.stack([np.cos(heights) * np.sin(bearings), np.cos(heights) * np.cos(bearings), np.sin(heights)], axis=1)
    touching = np.concatenate([np.ones((len(away), 1)), away], axis=1)
    return np.concatenate([touching, [[1.0, 0.0, 0.0, -1.0], [0.0, 0.0, 0.0, 1.0]]])


def _least_squares(rows, wanted):
    """
    The sum of columns nearest to what is wanted with none taken negatively, (n,).

    C. L. Lawson and R. J. Hanson, Solving Least Squares Problems (1974), chapter 23. scipy has it too, and takes a quarter of a
    second to be read.
    """
    taken, held = np.zeros(rows.shape[1]), np.zeros(rows.shape[1], dtype=bool)
    for _ in range(3 * len(held)):
        gain = np.where(held, -np.inf, rows.T @ (wanted - rows @ taken))
        if gain.max() <= 1e-9:
            break
        held[gain.argmax()] = True
        while held.any():
            best = np.zeros_like(taken)
            best[held] = np.linalg.lstsq(rows[:, held], wanted, rcond=None)[0]
            below = held & (best <= 0.0)
            if not below.any():
                taken = best
                break
            taken = taken + np.min(taken[below] / (taken[below] - best[below])) * (best - taken)
            held &= taken > 1e-12
    return taken


@cache
def _dome():
    """Directions all over the sky, (n, 3), and the solid angle that each stands for. [sr]"""
    nodes, weights = np.polynomial.legendre.leggauss(NODES // 2)
    heights, by_height = 0.25 * np.pi * (nodes + 1.0), 0.25 * np.pi * weights
    bearings = (np.arange(4 * NODES) + 0.5) * 2.0 * np.pi / (4 * NODES)
    bearing, height = (part.ravel() for part in np.meshgrid(bearings, heights, indexing="ij"))
    ways = np.stack([np.sin(bearing) * np.cos(height), np.cos(bearing) * np.cos(height), np.sin(height)], axis=1)
    return ways, np.cos(height) * np.tile(by_height, 4 * NODES) * (2.0 * np.pi / (4 * NODES))
