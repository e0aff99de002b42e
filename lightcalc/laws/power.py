"""What the lights draw: amps, circuits, cable, batteries, heat. Arithmetic only, see `POWER_CAUTION`."""

from __future__ import annotations

import numpy as np

from lightcalc.units import Numbers, check_range

POWER_CAUTION = (
    "Power: this is arithmetic only. The local code and a licensed electrician decide; tie-ins, distribution and "
    "generators are theirs. Keep cables and connectors dry and off the walkways, and every outdoor circuit behind a "
    "residual-current device."
)
HEAT_CAUTION = (
    "Lamps: keep the maker's distance for heat and ultraviolet, keep filters, glass and guards fitted, and let them "
    "cool before moving them. Nothing that burns within that distance."
)
CONTINUOUS_SHARE = 0.8  # 1/1.25: NEC 210.19(A)(1), 210.20(A), loads of three hours or more (Article 100)
COPPER_OHM_MM2_PER_M = 0.017241  # IEC 60028:1925, annealed copper at 20 C
COPPER_PER_K = 0.00393  # IEC 60028:1925, change of resistance from 20 C
BTU_PER_H_PER_W = 3600.0 / 1055.05585262  # International Table BTU; 1 kW is 3412


def amps(*, watts: Numbers, volts: Numbers, power_factor: Numbers = 1.0) -> Numbers:
    r"""
    Current a load draws on one phase. [A]

    Parameters
    ----------
    watts : float or array
        Power drawn, >= 0; for LED and discharge lamps the input, not the name. [W]
    volts : float or array
        Voltage at the load, > 0. [V]
    power_factor : float or array, default 1
        Above 0 to 1; tungsten is 1, a ballast without correction may be 0.5. [1]

    Returns
    -------
    float or array
        Current, the inputs broadcast together. [A]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: I = P / (U \cos\varphi)

    Arithmetic only: local code and a licensed electrician decide. Switching on draws more for a moment,
    cold tungsten up to some ten times.

    References
    ----------
    .. [1] Definition of the power factor, IEC 60050-131.

    Examples
    --------
    >>> round(float(amps(watts=2000, volts=230)), 2)
    8.7
    """
    check_range("watts", watts, low=0.0)
    check_range("volts", volts, above=0.0)
    check_range("power_factor", power_factor, above=0.0, high=1.0)
    return np.divide(watts, np.multiply(volts, power_factor))


def circuit_amps(*, breaker_amps: Numbers, continuous: bool = True) -> Numbers:
    r"""
    Current a circuit may be asked for. [A]

    Parameters
    ----------
    breaker_amps : float or array
        What the breaker or fuse is marked, > 0. [A]
    continuous : bool, default True
        Whether the load runs three hours or more; a shooting day does.

    Returns
    -------
    float or array
        Most current. [A]

    Raises
    ------
    ValueError
        If a breaker is not positive.

    Notes
    -----
    .. math:: I = 0.8\, I_n

    80 % loading is 125 % sizing read backwards. It is the North American rule; elsewhere the local code
    has its own. Other loads on the same circuit count too. A licensed electrician decides.

    References
    ----------
    .. [1] NFPA 70 (NEC) 210.19(A)(1), 210.20(A), Article 100 "continuous load".

    Examples
    --------
    >>> float(circuit_amps(breaker_amps=20))
    16.0
    """
    check_range("breaker_amps", breaker_amps, above=0.0)
    return np.multiply(breaker_amps, CONTINUOUS_SHARE if continuous else 1.0)


def circuit_watts(*, breaker_amps: Numbers, volts: Numbers, power_factor: Numbers = 1.0, continuous: bool = True) -> Numbers:
    r"""
    Power a circuit may be asked for. [W]

    Parameters
    ----------
    breaker_amps : float or array
        What the breaker or fuse is marked, > 0. [A]
    volts : float or array
        Voltage, > 0. [V]
    power_factor : float or array, default 1
        Above 0 to 1. [1]
    continuous : bool, default True
        Whether the load runs three hours or more.

    Returns
    -------
    float or array
        Most power, the inputs broadcast together. [W]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: P = 0.8\, I_n U \cos\varphi

    References
    ----------
    .. [1] `circuit_amps`.

    Examples
    --------
    >>> float(circuit_watts(breaker_amps=15, volts=120))
    1440.0
    """
    check_range("volts", volts, above=0.0)
    check_range("power_factor", power_factor, above=0.0, high=1.0)
    most_amps = circuit_amps(breaker_amps=breaker_amps, continuous=continuous)
    return most_amps * np.multiply(volts, power_factor)


def circuit_loading(*, load_amps: Numbers, breaker_amps: Numbers) -> Numbers:
    r"""
    Share of the breaker that a load takes; above 0.8 is too much for a day. [1]

    Parameters
    ----------
    load_amps : float or array
        All the load on the circuit, >= 0. [A]
    breaker_amps : float or array
        What the breaker or fuse is marked, > 0. [A]

    Returns
    -------
    float or array
        Loading, the inputs broadcast together. [1]

    Raises
    ------
    ValueError
        If a load is negative or a breaker not positive.

    Notes
    -----
    .. math:: x = I / I_n

    References
    ----------
    .. [1] `circuit_amps`, against `CONTINUOUS_SHARE`.

    Examples
    --------
    >>> round(float(circuit_loading(load_amps=amps(watts=1650, volts=120), breaker_amps=20)), 4)
    0.6875
    """
    check_range("load_amps", load_amps, low=0.0)
    check_range("breaker_amps", breaker_amps, above=0.0)
    return np.divide(load_amps, breaker_amps)


def cable_drop_v(*, load_amps: Numbers, length_m: Numbers, area_mm2: Numbers, conductor_c: Numbers = 20.0) -> Numbers:
    r"""
    Voltage lost in a single-phase copper cable, out and back. [V]

    Parameters
    ----------
    load_amps : float or array
        Current, >= 0. [A]
    length_m : float or array
        Cable, one way, >= 0. [m]
    area_mm2 : float or array
        Cross-section of one conductor, > 0. [mm2]
    conductor_c : float or array, default 20
        Temperature of the copper, -40 to 120; loaded cable runs warm, 60 to 75. [C]

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
    .. math:: \Delta U = 2 \rho L I / A, \quad \rho = 0.017241\,(1 + 0.00393\,(T - 20))

    Resistance only: connectors, and reactance in heavy cable, come on top.

    References
    ----------
    .. [1] IEC 60028:1925, "International standard of resistance for copper".

    Examples
    --------
    >>> round(float(cable_drop_v(load_amps=16, length_m=25, area_mm2=2.5)), 3)
    5.517
    """
    check_range("load_amps", load_amps, low=0.0)
    check_range("length_m", length_m, low=0.0)
    check_range("area_mm2", area_mm2, above=0.0, hint="1.5 or 2.5 for most cable")
    check_range("conductor_c", conductor_c, low=-40.0, high=120.0)
    warm = COPPER_OHM_MM2_PER_M * (1.0 + COPPER_PER_K * np.subtract(conductor_c, 20.0))
    return 2.0 * warm * np.multiply(load_amps, length_m) / area_mm2


def drop_percent(*, drop_v: Numbers, volts: Numbers) -> Numbers:
    r"""
    A voltage drop as a percentage of the supply. [percent]

    Parameters
    ----------
    drop_v : float or array
        Voltage lost, >= 0. [V]
    volts : float or array
        Supply, > 0. [V]

    Returns
    -------
    float or array
        Drop, the inputs broadcast together. [percent]

    Raises
    ------
    ValueError
        If a drop is negative or a supply not positive.

    Notes
    -----
    .. math:: p = 100\, \Delta U / U

    3 % on the branch and 5 % in all are advice, not law. Tungsten loses about 3.4 % of its light for
    each percent, and its colour warms.

    References
    ----------
    .. [1] NFPA 70 (NEC) 210.19(A), Informational Note 4; light against voltage: A. V. Arecchi, T. Messadi,
       R. J. Koshel, "Field Guide to Illumination" (2007), tungsten lamps: flux I^6.5, voltage I^1.9.

    Examples
    --------
    >>> round(float(drop_percent(drop_v=7.9, volts=120)), 1)
    6.6
    """
    check_range("drop_v", drop_v, low=0.0)
    check_range("volts", volts, above=0.0)
    return 100.0 * np.divide(drop_v, volts)


def battery_hours(*, capacity_wh: Numbers, watts: Numbers, usable: Numbers = 0.8, efficiency: Numbers = 0.9) -> Numbers:
    r"""
    How long a battery runs a load. [h]

    Parameters
    ----------
    capacity_wh : float or array
        What it says on the battery, > 0; amp-hours times volts. [W h]
    watts : float or array
        Load, > 0. [W]
    usable : float or array, default 0.8
        Share left after age, cold and not running flat, above 0 to 1. [1]
    efficiency : float or array, default 0.9
        Of what is between battery and load, above 0 to 1; 1 with nothing between. [1]

    Returns
    -------
    float or array
        Time, the inputs broadcast together. [h]

    Raises
    ------
    ValueError
        If an input is outside its range.

    Notes
    -----
    .. math:: t = C\, u\, \eta / P

    The two defaults are common practice, not physics: time one battery on the day before.

    References
    ----------
    .. [1] Energy over power.

    Examples
    --------
    >>> round(float(battery_hours(capacity_wh=98, watts=45)), 2)
    1.57
    """
    check_range("capacity_wh", capacity_wh, above=0.0, hint="watt-hours: amp-hours times volts")
    check_range("watts", watts, above=0.0)
    check_range("usable", usable, above=0.0, high=1.0)
    check_range("efficiency", efficiency, above=0.0, high=1.0)
    return np.multiply(capacity_wh, np.multiply(usable, efficiency)) / watts


def heat_btu_h(*, watts: Numbers) -> Numbers:
    r"""
    Heat a load puts into the room, in the unit air conditioners are sold by. [BTU/h]

    Parameters
    ----------
    watts : float or array
        Power drawn, >= 0. [W]

    Returns
    -------
    float or array
        Heat; nearly all of a lamp's power ends as heat, its light too. [BTU/h]

    Raises
    ------
    ValueError
        If a power is negative.

    Notes
    -----
    .. math:: Q = P \times 3600 / 1055.05585262

    References
    ----------
    .. [1] NIST SP 811, appendix B: International Table British thermal unit, 1055.05585262 J.

    Examples
    --------
    >>> round(float(heat_btu_h(watts=1000)))
    3412
    """
    check_range("watts", watts, low=0.0)
    return np.multiply(watts, BTU_PER_H_PER_W)
