"""How much light the sun, the sky and the moon give, and how warm a low sun is: closed forms and one small table."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np

from lightcalc.units import Numbers, check_range

DATA = Path(__file__).resolve().parents[2] / "data"
SOLAR_LX = 127_500.0  # above the air, square to the rays, mean distance (IES 1984)
OUTLOOKS = {  # IES 1984: extinction per air mass (None: no disc to be seen), then A, B [lx] and C of the sky
    "clear": (0.21, 800.0, 15_500.0, 0.5),
    "partly": (0.80, 300.0, 45_000.0, 1.0),
    "overcast": (None, 300.0, 21_000.0, 1.0),
}
AIRS = ("curved", "flat")
SUN_CUBICS = (  # Explanatory Supplement: lowest altitude [deg], then log10 lx as a cubic in altitude / 90 deg
    (20.0, 3.74, 3.97, -4.07, 1.47),
    (5.0, 3.05, 13.28, -45.98, 64.33),
    (-0.8, 2.88, 22.26, -207.64, 1034.30),
    (-5.0, 2.88, 21.81, -258.11, -858.36),
    (-12.0, 2.70, 12.17, -431.69, -1899.83),
    (-18.0, 13.84, 262.72, 1447.42, 2797.93),
)
MOON_CUBICS = ((20.0, -1.95, 4.06, -4.24, 1.56), (5.0, -2.58, 12.58, -42.58, 59.06), (-0.8, -2.79, 24.27, -252.95, 1321.29))
JOIN_DEG = (5.0, 10.0)  # a clear sky is the Supplement's under the first, the IES's over the second
NIGHT_LX = 0.000645  # the Supplement's last entry, sun 18 degrees down: starlight and airglow
DAYLIGHT_CAUTION = (
    "Sun: never look at it through a lens or an optical finder, and leave no lens pointed at it. Daylight tables are "
    "means: a real sky may give half or twice as much. Meter it."
)


def moonlight_lx(*, altitude_deg: Numbers, phase_angle_deg: Numbers) -> Numbers:
    r"""
    Illuminance on open level ground from the moon in a clear sky. [lx]

    Parameters
    ----------
    altitude_deg : float or array
        Height of the moon's centre, refraction left out, -90 to 90; under -0.8 it has set and gives 0. [deg]
    phase_angle_deg : float or array
        Sun to moon to here: 0 full, 90 half, 180 new. [deg]

    Returns
    -------
    float or array
        Illuminance, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If an angle is outside its range.

    Notes
    -----
    .. math:: \log_{10} E = l_0 + l_1 x + l_2 x^2 + l_3 x^3 - 0.00868 f - 2.2 \times 10^{-9} f^4, \quad x = h / 90°

    Say 0.1 to 0.3 lx for a full moon; a half moon gives about a tenth of that. Other laws of the phase differ by
    up to 30 %, the moon's distance adds 25 % between its ends, and within a few degrees of full it surges by half again.
    The night sky's own light is not in it (`NIGHT_LX`).

    References
    ----------
    .. [1] P. K. Seidelmann (ed.), "Explanatory Supplement to the Astronomical Almanac" (1992), section 9.3, as
       transcribed in D. A. Vallado, "Fundamentals of Astrodynamics", table 5-1.

    Examples
    --------
    >>> round(float(moonlight_lx(altitude_deg=45, phase_angle_deg=0)), 3)
    0.164
    """
    check_range("altitude_deg", altitude_deg, low=-90.0, high=90.0)
    check_range("phase_angle_deg", phase_angle_deg, low=0.0, high=180.0, hint="0 is full, 180 is new")
    phase = -0.00868 * np.asarray(phase_angle_deg) - 2.2e-9 * np.power(np.asarray(phase_angle_deg, dtype=float), 4)
    return np.where(np.less(altitude_deg, -0.8), 0.0, 10.0 ** (_cubic(MOON_CUBICS, altitude_deg) + phase))[()]


def clear_horizontal_lx(*, altitude_deg: Numbers) -> Numbers:
    r"""
    Illuminance on open level ground from sun and clear sky together, high sun to deep twilight. [lx]

    Parameters
    ----------
    altitude_deg : float or array
        Height of the sun's centre, refraction left out, -90 to 90. [deg]

    Returns
    -------
    float or array
        Illuminance; from 18 degrees under the horizon on it stays at 0.000645 lx. [lx]

    Raises
    ------
    ValueError
        If an altitude is outside its range.

    Notes
    -----
    .. math:: \log_{10} E = l_0 + l_1 x + l_2 x^2 + l_3 x^3, \quad x = h / 90°

    in six pieces, which meet within 2 %. A real sky may give half or twice as much.

    References
    ----------
    .. [1] P. K. Seidelmann (ed.), "Explanatory Supplement to the Astronomical Almanac" (1992), section 9.3, as
       transcribed in D. A. Vallado, "Fundamentals of Astrodynamics", table 5-1.

    Examples
    --------
    >>> round(float(clear_horizontal_lx(altitude_deg=-6)), 2)
    3.41
    """
    check_range("altitude_deg", altitude_deg, low=-90.0, high=90.0)
    night = np.less(altitude_deg, SUN_CUBICS[-1][0])
    return np.where(night, NIGHT_LX, 10.0 ** _cubic(SUN_CUBICS, altitude_deg))[()]


def _cubic(pieces, altitude_deg):
    """log10 of an illuminance from the piece that holds the altitude; below the last, the last one's end."""
    height = np.maximum(np.asarray(altitude_deg, dtype=float), pieces[-1][0])
    x = height / 90.0
    values = [l0 + x * (l1 + x * (l2 + x * l3)) for _, l0, l1, l2, l3 in pieces]
    return np.select([height >= piece[0] for piece in pieces], values)


def air_mass(*, altitude_deg: Numbers) -> Numbers:
    r"""
    Air that the sun's rays cross, with the curve of the earth, as a multiple of straight down. [1]

    Parameters
    ----------
    altitude_deg : float or array
        Apparent height of the sun, refraction in it, 0 to 90. [deg]

    Returns
    -------
    float or array
        Relative optical air mass. [1]

    Raises
    ------
    ValueError
        If an altitude is outside its range.

    Notes
    -----
    .. math:: m = \frac{1}{\sin h + 0.50572 (h + 6.07995)^{-1.6364}}

    References
    ----------
    .. [1] F. Kasten, A. T. Young, Applied Optics 28 (1989) 4735.

    Examples
    --------
    >>> round(float(air_mass(altitude_deg=10)), 3)
    5.586
    """
    check_range("altitude_deg", altitude_deg, low=0.0, high=90.0, hint="the sun is above the horizon")
    height = np.asarray(altitude_deg, dtype=float)
    return 1.0 / (np.sin(np.radians(height)) + 0.50572 * (height + 6.07995) ** -1.6364)


def extraterrestrial_lx(*, day_of_year: Numbers) -> Numbers:
    r"""
    Illuminance above the air, square to the sun, on a day of the year. [lx]

    Parameters
    ----------
    day_of_year : float or array
        1 to 366. [1]

    Returns
    -------
    float or array
        Illuminance. [lx]

    Raises
    ------
    ValueError
        If a day is outside its range.

    Notes
    -----
    .. math:: E = 127.5\,\mathrm{klx}\,(1 + 0.034 \cos(2 \pi (J - 2) / 365))

    References
    ----------
    .. [1] IES, "Recommended practice for the calculation of daylight availability", J. Illum. Eng. Soc. 13(4)
       (1984) 381-392.

    Examples
    --------
    >>> float(extraterrestrial_lx(day_of_year=2))
    131835.0
    """
    check_range("day_of_year", day_of_year, low=1.0, high=366.0)
    return SOLAR_LX * (1.0 + 0.034 * np.cos(2.0 * np.pi * (np.asarray(day_of_year) - 2.0) / 365.0))


def sun_normal_lx(
    *, altitude_deg: Numbers, outlook: str = "clear", above_air_lx: Numbers = SOLAR_LX, air: str = "curved"
) -> Numbers:
    r"""
    Illuminance from the sun's disc, square to its rays. [lx]

    Parameters
    ----------
    altitude_deg : float or array
        Apparent height of the sun, -90 to 90; at 0 and under it gives 0. [deg]
    outlook : {'clear', 'partly', 'overcast'}
        Clear: extinction 0.21 per air mass; partly: 0.80, the mean of a day of broken cloud; overcast: no sun.
    above_air_lx : float or array, default 127 500
        Above the air, see `extraterrestrial_lx`. [lx]
    air : {'curved', 'flat'}
        Air mass of Kasten & Young, or 1 / sin h as the recommended practice prints it.

    Returns
    -------
    float or array
        Illuminance, the inputs broadcast together. [lx]

    Raises
    ------
    ValueError
        If a number is outside its range, or there is no such outlook or air.

    Notes
    -----
    .. math:: E = E_{xt} e^{-c m}

    The practice has m = 1 / sin h. Over a flat earth a low sun comes out too weak: by a fifth at 5 degrees, by 4 %
    at 10; hence Kasten & Young by default. Broken cloud is never its mean: it is clear, or it is overcast.

    References
    ----------
    .. [1] IES, J. Illum. Eng. Soc. 13(4) (1984) 381-392.
    .. [2] F. Kasten, A. T. Young, Applied Optics 28 (1989) 4735.

    Examples
    --------
    >>> round(float(sun_normal_lx(altitude_deg=30, air="flat")))
    83773
    """
    check_range("altitude_deg", altitude_deg, low=-90.0, high=90.0)
    check_range("above_air_lx", above_air_lx, low=0.0, high=200_000.0)
    _choice("outlook", outlook, OUTLOOKS)
    _choice("air", air, AIRS)
    height = np.maximum(np.asarray(altitude_deg, dtype=float), 0.01)
    mass = air_mass(altitude_deg=height) if air == "curved" else 1.0 / np.sin(np.radians(height))
    extinction = OUTLOOKS[outlook][0]
    through = 0.0 * mass if extinction is None else np.exp(-extinction * mass)
    return np.where(np.greater(altitude_deg, 0.0), above_air_lx * through, 0.0)[()]


def sky_horizontal_lx(*, altitude_deg: Numbers, outlook: str = "clear") -> Numbers:
    r"""
    Illuminance on open level ground from the sky without the sun, sun up. [lx]

    Parameters
    ----------
    altitude_deg : float or array
        Height of the sun, 0 to 90. [deg]
    outlook : {'clear', 'partly', 'overcast'}

    Returns
    -------
    float or array
        Illuminance. [lx]

    Raises
    ------
    ValueError
        If an altitude is outside its range, or there is no such outlook.

    Notes
    -----
    .. math:: E = A + B \sin^C h

    References
    ----------
    .. [1] IES, J. Illum. Eng. Soc. 13(4) (1984) 381-392; A and B of the partly cloudy sky as transcribed.

    Examples
    --------
    >>> round(float(sky_horizontal_lx(altitude_deg=30, outlook="overcast")))
    10800
    """
    check_range("altitude_deg", altitude_deg, low=0.0, high=90.0, hint="under the horizon use skylight_lx")
    _choice("outlook", outlook, OUTLOOKS)
    _, base, rise, power = OUTLOOKS[outlook]
    return base + rise * np.sin(np.radians(altitude_deg)) ** power


def skylight_lx(*, altitude_deg: Numbers, outlook: str = "clear") -> Numbers:
    r"""
    Illuminance on open level ground from the sky without the sun, at any hour. [lx]

    Parameters
    ----------
    altitude_deg : float or array
        Height of the sun's centre, refraction left out, -90 to 90. [deg]
    outlook : {'clear', 'partly', 'overcast'}

    Returns
    -------
    float or array
        Illuminance, continuous through sunset. [lx]

    Raises
    ------
    ValueError
        If an altitude is outside its range, or there is no such outlook.

    Notes
    -----
    Two sources, joined by us. Clear: the IES sky from 10 degrees up; at 5 and under, the Supplement's total less
    the sun's own share; between, their logarithms in proportion (at 10 degrees they lie 0.8 stop apart, which is
    the error of either). Partly and overcast: the IES sky while the sun is up; after that it falls as the clear
    twilight does, from 300 lx at the horizon, 1.3 stops under clear.

    References
    ----------
    .. [1] IES, J. Illum. Eng. Soc. 13(4) (1984) 381-392.
    .. [2] P. K. Seidelmann (ed.), "Explanatory Supplement to the Astronomical Almanac" (1992), section 9.3.

    Examples
    --------
    >>> [round(float(skylight_lx(altitude_deg=h)), 1) for h in (30, 4, 0, -4)]
    [11760.2, 2876.4, 758.6, 29.9]
    """
    check_range("altitude_deg", altitude_deg, low=-90.0, high=90.0)
    up = np.clip(altitude_deg, 0.0, 90.0)
    practice = sky_horizontal_lx(altitude_deg=up, outlook=outlook)
    twilight = clear_horizontal_lx(altitude_deg=altitude_deg)
    if outlook != "clear":
        return np.where(np.less(altitude_deg, 0.0), OUTLOOKS[outlook][1] * twilight / 10.0**2.88, practice)[()]
    low = np.minimum(altitude_deg, JOIN_DEG[1])
    disc = sun_normal_lx(altitude_deg=low) * np.sin(np.radians(low))
    share = np.clip((low - JOIN_DEG[0]) / np.subtract(*JOIN_DEG[::-1]), 0.0, 1.0)
    return np.exp(share * np.log(practice) + (1.0 - share) * np.log(clear_horizontal_lx(altitude_deg=low) - disc))[()]


def sun_kelvin(*, altitude_deg: Numbers, aerosol: Numbers = 0.1) -> Numbers:
    r"""
    Colour of the sun's disc through clear air: a model value. [K]

    Parameters
    ----------
    altitude_deg : float or array
        Apparent height of the sun, 1 to 90. [deg]
    aerosol : float or array, default 0.1
        Optical depth of what floats in the air, at 500 nm, 0.1 (clean) to 0.27 (hazy). [1]

    Returns
    -------
    float or array
        Correlated colour temperature. [K]

    Raises
    ------
    ValueError
        If a number is outside its range.

    Notes
    -----
    MODEL VALUE: no published table was found. Bird & Riordan's spectrum of the direct beam at sea level, read between
    the altitudes of `data/low_sun_colour.csv` in log altitude; its head has the script. Salt, smoke and damp move it
    by hundreds of kelvin (clean to hazy is 500 K at 4 degrees); a colour meter decides.

    References
    ----------
    .. [1] R. E. Bird, C. Riordan, J. Climate Appl. Meteor. 25 (1986) 87; Y. Ohno, Leukos 10 (2014) 47 for the
       temperature.

    Examples
    --------
    >>> bool(2300 < sun_kelvin(altitude_deg=3) < 2550)
    True
    """
    check_range("altitude_deg", altitude_deg, low=1.0, high=90.0, hint="the table starts at 1 degree")
    check_range("aerosol", aerosol, low=0.1, high=0.27, hint="0.1 is clean air, 0.27 hazy")
    heights, depths, kelvin = _low_sun_table()
    x = np.log(np.asarray(altitude_deg, dtype=float))
    clean, hazy = (np.interp(x, np.log(heights), row) for row in kelvin)
    share = (np.asarray(aerosol, dtype=float) - depths[0]) / (depths[1] - depths[0])
    return clean + share * (hazy - clean)


@cache
def _low_sun_table():
    """Altitudes (n,) [deg], aerosol depths (2,), colour temperatures (2, n) [K] of `data/low_sun_colour.csv`."""
    with open(DATA / "low_sun_colour.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    heights, depths = (sorted({float(row[key]) for row in rows}) for key in ("altitude_deg", "aerosol_500nm"))
    found = {(float(row["aerosol_500nm"]), float(row["altitude_deg"])): float(row["kelvin"]) for row in rows}
    return np.array(heights), np.array(depths), np.array([[found[d, h] for h in heights] for d in depths])


def _choice(field, value, choices):
    if value not in choices:
        raise ValueError(f"{field} must be one of {', '.join(choices)}, got {value!r}")
