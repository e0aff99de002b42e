"""Droplets in the air of a room with ventilation: how they build up, hold, settle and go, as a well-mixed box."""

from __future__ import annotations

import numpy as np

from lightcalc.units import Numbers, Row, check_range

GRAVITY_M_S2 = 9.80665
AIR_PA_S = 1.81e-5  # viscosity of air at 20 C
FREE_PATH_UM = 0.066  # mean free path in air at 20 C, 1 atm


def settling_m_s(*, diameter_um: Numbers, density_g_cm3: Numbers = 1.04) -> Numbers:
    r"""
    Speed at which a droplet sinks through still air. [m/s]

    Parameters
    ----------
    diameter_um : float or array
        0.01 to 50. [um]
    density_g_cm3 : float or array, default 1.04
        Of the liquid, > 0. [g/cm3]

    Returns
    -------
    float or array
        Settling velocity. [m/s]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: v = \frac{\rho g d^2}{18 \mu} C, \quad C = 1 + Kn (1.257 + 0.4 e^{-1.1 / Kn}), \quad Kn = 2 \lambda / d

    Stokes's law with slip. Above 50 um droplets fall too fast for it.

    References
    ----------
    .. [1] C. N. Davies, Proc. Phys. Soc. 57 (1945) 259, for the slip; W. C. Hinds, "Aerosol Technology" (1999), ch. 3.

    Examples
    --------
    >>> f"{float(settling_m_s(diameter_um=2.0)):.2e}"
    '1.36e-04'
    """
    check_range("diameter_um", diameter_um, low=0.01, high=50.0, hint="micrometres; stage haze is 0.3 to 3")
    check_range("density_g_cm3", density_g_cm3, above=0.0, high=20.0)
    knudsen = 2.0 * FREE_PATH_UM / np.asarray(diameter_um, dtype=float)
    slip = 1.0 + knudsen * (1.257 + 0.4 * np.exp(-1.1 / knudsen))
    stokes = 1000.0 * np.asarray(density_g_cm3) * GRAVITY_M_S2 * (1e-6 * np.asarray(diameter_um)) ** 2 / (18.0 * AIR_PA_S)
    return stokes * slip


def loss_per_h(
    *, air_changes_per_h: Numbers, settling_m_s: Numbers = 0.0, height_m: Numbers = 3.0, wall_per_h: Numbers = 0.0
) -> Numbers:
    r"""
    Rate at which droplets leave the air of a room. [1/h]

    Parameters
    ----------
    air_changes_per_h : float or array
        Volumes of fresh air an hour, leaks and doors included, >= 0. [1/h]
    settling_m_s : float or array, default 0
        See `settling_m_s`, >= 0. [m/s]
    height_m : float or array, default 3
        Of the room, > 0. [m]
    wall_per_h : float or array, default 0
        What else goes: onto walls and people, into a filter, by drying, >= 0. [1/h]

    Returns
    -------
    float or array
        Sum of the rates. [1/h]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: \lambda = n + v / H + k

    Stirred settling: the air is mixed all the time, and what touches the floor stays there.

    References
    ----------
    .. [1] W. C. Hinds, "Aerosol Technology" (1999), section 3.8, stirred settling.

    Examples
    --------
    >>> round(float(loss_per_h(air_changes_per_h=2.0, settling_m_s=1.36e-4, height_m=3.4)), 3)
    2.144
    """
    check_range("air_changes_per_h", air_changes_per_h, low=0.0, hint="a closed old room is 0.3 to 1, doors open 5 to 20")
    check_range("settling_m_s", settling_m_s, low=0.0)
    check_range("height_m", height_m, above=0.0)
    check_range("wall_per_h", wall_per_h, low=0.0)
    return np.add(air_changes_per_h, 3600.0 * np.divide(settling_m_s, height_m)) + wall_per_h


def box_mg_m3(
    *, time_h: Numbers, loss_per_h: Numbers, start_mg_m3: Numbers = 0.0, source_g_per_h: Numbers = 0.0, volume_m3: Numbers = 1.0
) -> Numbers:
    r"""
    Droplet mass in the air after a while of steady running. [mg/m3]

    Parameters
    ----------
    time_h : float or array
        Since the start, >= 0. [h]
    loss_per_h : float or array
        See `loss_per_h`, >= 0. [1/h]
    start_mg_m3 : float or array, default 0
        In the air at the start, >= 0. [mg/m3]
    source_g_per_h : float or array, default 0
        Droplets that reach the air, >= 0. [g/h]
    volume_m3 : float or array, default 1
        Of the room, > 0. [m3]

    Returns
    -------
    float or array
        Mass concentration, the inputs broadcast together. [mg/m3]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: \dot c = S / V - \lambda c, \quad c = c_0 e^{-\lambda t} + \frac{S}{V} \frac{1 - e^{-\lambda t}}{\lambda}

    The whole room is one even mixture at every moment. Real air is not: see `worst_place_factor`.

    References
    ----------
    .. [1] DERIVED: a linear balance of mass; worked in notebooks/04_haze_air.ipynb.

    Examples
    --------
    >>> round(float(box_mg_m3(time_h=1.0, loss_per_h=1.0, source_g_per_h=10.0, volume_m3=300.0)), 2)
    21.07
    """
    check_range("time_h", time_h, low=0.0)
    check_range("loss_per_h", loss_per_h, low=0.0)
    check_range("start_mg_m3", start_mg_m3, low=0.0)
    check_range("source_g_per_h", source_g_per_h, low=0.0)
    check_range("volume_m3", volume_m3, above=0.0)
    spent = np.multiply(loss_per_h, time_h)
    safe = np.where(np.equal(loss_per_h, 0.0), 1.0, loss_per_h)
    filled_h = np.where(np.equal(loss_per_h, 0.0), time_h, -np.expm1(-spent) / safe)  # without loss it just adds up
    return start_mg_m3 * np.exp(-spent) + 1000.0 * np.divide(source_g_per_h, volume_m3) * filled_h


def steady_mg_m3(*, source_g_per_h: Numbers, volume_m3: Numbers, loss_per_h: Numbers) -> Numbers:
    r"""
    Droplet mass at which as much goes as comes. [mg/m3]

    Parameters
    ----------
    source_g_per_h : float or array
        Droplets that reach the air, >= 0. [g/h]
    volume_m3 : float or array
        Of the room, > 0. [m3]
    loss_per_h : float or array
        See `loss_per_h`, > 0. [1/h]

    Returns
    -------
    float or array
        Mass concentration. [mg/m3]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: c_\infty = \frac{S}{V \lambda}

    References
    ----------
    .. [1] DERIVED: `box_mg_m3` after a long time.

    Examples
    --------
    >>> round(float(steady_mg_m3(source_g_per_h=10.0, volume_m3=300.0, loss_per_h=1.0)), 2)
    33.33
    """
    check_range("source_g_per_h", source_g_per_h, low=0.0)
    check_range("volume_m3", volume_m3, above=0.0)
    check_range("loss_per_h", loss_per_h, above=0.0, hint="air that loses nothing has no steady level")
    return 1000.0 * np.divide(source_g_per_h, volume_m3) / loss_per_h


def hold_g_per_h(*, mass_mg_m3: Numbers, volume_m3: Numbers, loss_per_h: Numbers) -> Numbers:
    r"""
    Droplets that must reach the air to keep a level. [g/h]

    Parameters
    ----------
    mass_mg_m3 : float or array
        The level, >= 0. [mg/m3]
    volume_m3 : float or array
        Of the room, > 0. [m3]
    loss_per_h : float or array
        See `loss_per_h`, >= 0. [1/h]

    Returns
    -------
    float or array
        [g/h]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: S = c V \lambda

    References
    ----------
    .. [1] DERIVED: `steady_mg_m3` turned round.

    Examples
    --------
    >>> round(float(hold_g_per_h(mass_mg_m3=7.6, volume_m3=200.0, loss_per_h=1.2)), 2)
    1.82
    """
    check_range("mass_mg_m3", mass_mg_m3, low=0.0)
    check_range("volume_m3", volume_m3, above=0.0)
    check_range("loss_per_h", loss_per_h, low=0.0)
    return np.multiply(mass_mg_m3, volume_m3) * loss_per_h / 1000.0


def hours_between(
    *, from_mg_m3: Numbers, to_mg_m3: Numbers, loss_per_h: Numbers, source_g_per_h: Numbers = 0.0, volume_m3: Numbers = 1.0
) -> Numbers:
    r"""
    How long the air takes from one level to another, building or thinning. [h]

    Parameters
    ----------
    from_mg_m3, to_mg_m3 : float or array
        Levels, >= 0. [mg/m3]
    loss_per_h : float or array
        See `loss_per_h`, > 0. [1/h]
    source_g_per_h : float or array, default 0
        Droplets that reach the air, >= 0. [g/h]
    volume_m3 : float or array, default 1
        Of the room, > 0. [m3]

    Returns
    -------
    float or array
        Infinite where the level is never reached; 0 where it is there already. [h]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: t = \frac{1}{\lambda} \ln \frac{c_\infty - c_0}{c_\infty - c_1}

    References
    ----------
    .. [1] DERIVED: `box_mg_m3` solved for the time.

    Examples
    --------
    >>> round(float(hours_between(from_mg_m3=20.0, to_mg_m3=2.0, loss_per_h=2.0)), 4)
    1.1513
    """
    check_range("from_mg_m3", from_mg_m3, low=0.0)
    check_range("to_mg_m3", to_mg_m3, low=0.0)
    end = steady_mg_m3(source_g_per_h=source_g_per_h, volume_m3=volume_m3, loss_per_h=loss_per_h)
    ahead, left = np.subtract(end, from_mg_m3), np.subtract(end, to_mg_m3)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(np.equal(ahead, left), 1.0, np.divide(ahead, left))
        reached = (ratio >= 1.0) & np.isfinite(ratio)
        return np.where(reached, np.log(np.where(reached, ratio, 1.0)) / loss_per_h, np.inf)[()]


def two_rooms_mg_m3(
    *,
    time_h: Numbers,
    volumes_m3: Row,
    losses_per_h: Row,
    exchange_m3_h: float,
    starts_mg_m3: Row = (0.0, 0.0),
    sources_g_per_h: Row = (0.0, 0.0),
) -> Numbers:
    r"""
    Droplet mass in two rooms with a door open between them. [mg/m3]

    Parameters
    ----------
    time_h : float or array
        Since the door was opened, >= 0, shape (...). [h]
    volumes_m3 : sequence of 2 floats
        > 0. [m3]
    losses_per_h : sequence of 2 floats
        See `loss_per_h`, >= 0; what goes through the door is not in them. [1/h]
    exchange_m3_h : float
        Air that passes the door each way, >= 0. [m3/h]
    starts_mg_m3, sources_g_per_h : sequences of 2 floats, default 0
        In the air at the start [mg/m3]; droplets that reach it [g/h]; >= 0.

    Returns
    -------
    array of shape (..., 2)
        Mass concentration in each room. [mg/m3]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    .. math:: \dot c_1 = S_1 / V_1 - (\lambda_1 + q / V_1) c_1 + (q / V_1) c_2

    and the same with 1 and 2 changed over: solved by the exponential of the matrix, with the sources as a third row.
    A doorway passes 500 to 2000 m3/h each way for a few degrees between the rooms (a rule of thumb, FROM MEMORY).

    References
    ----------
    .. [1] DERIVED: balance of mass in both rooms; scipy.linalg.expm does the exponential.

    Examples
    --------
    >>> pair = two_rooms_mg_m3(time_h=50.0, volumes_m3=(200, 50), losses_per_h=(0, 0), exchange_m3_h=900,
    ...                        starts_mg_m3=(10, 0))
    >>> pair.round(3).tolist()
    [8.0, 8.0]
    """
    from scipy.linalg import expm

    check_range("time_h", time_h, low=0.0)
    check_range("volumes_m3", volumes_m3, above=0.0)
    for name, values in (("losses_per_h", losses_per_h), ("exchange_m3_h", exchange_m3_h), ("starts_mg_m3", starts_mg_m3),
                         ("sources_g_per_h", sources_g_per_h)):  # fmt: skip
        check_range(name, values, low=0.0)
    through = exchange_m3_h / np.asarray(volumes_m3, dtype=float)
    rates = np.zeros((3, 3))
    rates[:2, :2] = np.diag(through)[:, ::-1] - np.diag(np.asarray(losses_per_h) + through)
    rates[:2, 2] = 1000.0 * np.asarray(sources_g_per_h) / np.asarray(volumes_m3)
    return (expm(np.asarray(time_h, dtype=float)[..., None, None] * rates) @ np.append(starts_mg_m3, 1.0))[..., :2]


def worst_place_factor(*, readings: Row) -> tuple[float, float]:
    r"""
    How much thicker the thickest place read is than the mean, and how much of the room that can speak for.

    Parameters
    ----------
    readings : sequence of float, shape (n,)
        Extinction or mass at n places picked at random, n >= 2, >= 0, not all 0; any one unit.

    Returns
    -------
    factor : float
        Largest over mean, >= 1. [1]
    share : float
        Of the room that is thinner than the largest reading, at least, in nine cases of ten. [1]

    Raises
    ------
    ValueError
        If there are too few readings, or they are not numbers of at least 0.

    Notes
    -----
    .. math:: f = \max c_i / \bar c, \quad p = 0.1^{1/n}

    A first bound, no more. p holds whatever the air does, if the places are picked at random: the largest of n draws is
    under the p-th part of the room with probability :math:`p^n`. Six places speak for 68 % of the room, 22 for 90 %.
    In the plume in front of the machine nothing here holds; keep people out of it.

    References
    ----------
    .. [1] S. S. Wilks, Ann. Math. Statist. 12 (1941) 91: tolerance limits without a distribution.

    Examples
    --------
    >>> factor, share = worst_place_factor(readings=[0.03, 0.04, 0.05, 0.04, 0.06, 0.02])
    >>> round(factor, 2), round(share, 2)
    (1.5, 0.68)
    """
    check_range("readings", readings, low=0.0, hint="extinction or mass at places picked at random")
    values = np.asarray(readings, dtype=float).ravel()
    if len(values) < 2 or not values.any():
        raise ValueError(f"readings must be at least two, and not all 0, got {list(map(float, values))}")
    return float(values.max() / values.mean()), float(0.1 ** (1.0 / len(values)))
