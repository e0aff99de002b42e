"""The edges of the unit system: SI and photometric units inside, feet and foot-candles at the door."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite
from typing import Any

import numpy as np

Numbers = Any  # a float, or an array of them: scalars in give scalars out, arrays broadcast
Row = Sequence[float] | np.ndarray  # numbers one after the other
FT = 0.3048  # m, exact (international foot, 1959)
FC = 1.0 / FT**2  # lx in one foot-candle: one lumen per square foot, exact
FL = FC / np.pi  # cd/m2 in one foot-lambert, exact


def check_range(
    name: str,
    value: Numbers,
    *,
    low: float | None = None,
    high: float | None = None,
    above: float | None = None,
    below: float | None = None,
    hint: str = "",
) -> None:
    """
    Refuse a number outside its limits, in one sentence.

    Parameters
    ----------
    name : str
        What the number is called where the person typed it.
    value : float or array
        The number or numbers to test; NaN and infinity never pass.
    low, high : float, optional
        Closed limits: ``low <= value <= high``.
    above, below : float, optional
        Open limits: ``above < value < below``.
    hint : str, optional
        The way out, added after the limit.

    Raises
    ------
    ValueError
        If any number is not finite or lies outside the limits.

    Examples
    --------
    >>> check_range("distance_m", -2, above=0.0, hint="metres from the lamp face")
    Traceback (most recent call last):
        ...
    ValueError: distance_m must be > 0, got -2: metres from the lamp face
    """
    if isinstance(value, float | int) and isfinite(value):  # one plain number that does, the usual case, is let through at once
        least, most = -inf if low is None else low, inf if high is None else high
        if least <= value <= most and (above is None or value > above) and (below is None or value < below):
            return
    numbers = np.asarray(value, dtype=float)
    limits = [
        (low, numbers >= (low if low is not None else -np.inf), ">="),
        (high, numbers <= (high if high is not None else np.inf), "<="),
        (above, numbers > (above if above is not None else -np.inf), ">"),
        (below, numbers < (below if below is not None else np.inf), "<"),
    ]
    tail = f": {hint}" if hint else ""
    if not np.all(np.isfinite(numbers)):
        raise ValueError(f"{name} must be a finite number, got {_first(numbers, np.isfinite(numbers))}{tail}")
    wanted = " and ".join(f"{sign} {limit:g}" for limit, _, sign in limits if limit is not None)
    for _, passed, _ in limits:
        if not np.all(passed):
            raise ValueError(f"{name} must be {wanted}, got {_first(numbers, passed)}{tail}")


def _first(numbers, passed):
    """The first number that did not pass, as a person would write it."""
    return f"{numbers[~passed].flat[0]:g}" if numbers.ndim else f"{float(numbers):g}"


def m_from_ft(length_ft: Numbers) -> Numbers:
    """Metres from feet. [m]"""
    return np.multiply(length_ft, FT)


def ft_from_m(length_m: Numbers) -> Numbers:
    """Feet from metres. [ft]"""
    return np.divide(length_m, FT)


def lx_from_fc(illuminance_fc: Numbers) -> Numbers:
    """Lux from foot-candles. [lx]"""
    return np.multiply(illuminance_fc, FC)


def fc_from_lx(illuminance_lx: Numbers) -> Numbers:
    """Foot-candles from lux. [fc]"""
    return np.divide(illuminance_lx, FC)


def cd_m2_from_fl(luminance_fl: Numbers) -> Numbers:
    """Candelas per square metre from foot-lamberts. [cd/m2]"""
    return np.multiply(luminance_fl, FL)


def fl_from_cd_m2(luminance_cd_m2: Numbers) -> Numbers:
    """Foot-lamberts from candelas per square metre. [fL]"""
    return np.divide(luminance_cd_m2, FL)


def stops(ratio: Numbers) -> Numbers:
    """
    A ratio as stops: log2. Zero gives minus infinity, without a warning. [stops]

    Examples
    --------
    >>> float(stops(8))
    3.0
    """
    with np.errstate(divide="ignore"):
        return np.log2(ratio)


def ratio_from_stops(difference_stops: Numbers) -> Numbers:
    """The ratio that is so many stops. [1]"""
    return np.exp2(difference_stops)
