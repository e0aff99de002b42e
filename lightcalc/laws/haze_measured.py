"""How thick the air is, from meter readings: a lamp across the room, or a dark and a light card at two distances."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightcalc.units import Numbers, check_range

NINETY = 1.6448536269514722  # standard deviations either side of the mean that hold 90 % of a normal law


@dataclass(frozen=True)
class Estimate:
    """An extinction with its error bar; the interval holds the truth nine times in ten. Arrays where readings were."""

    extinction_per_m: float
    error_per_m: float  # one standard deviation

    @property
    def low_per_m(self) -> float:
        """Lower end of the 90 % interval; it may be under 0, where the reading cannot tell air from clear air."""
        return self.extinction_per_m - NINETY * self.error_per_m

    @property
    def high_per_m(self) -> float:
        """Upper end of the 90 % interval. [1/m]"""
        return self.extinction_per_m + NINETY * self.error_per_m


def extinction_from_lamp(*, clear_stops: Numbers, hazy_stops: Numbers, path_m: Numbers, error_stops: Numbers = 0.1) -> Estimate:
    r"""
    Extinction from one lamp read across the room before and after the haze. [1/m]

    Parameters
    ----------
    clear_stops, hazy_stops : float or array
        The lamp's luminance through a narrow spot meter, or its illuminance with a tube on the receptor, as stops
        from any one level. [stops]
    path_m : float or array
        Lamp to meter, > 0, the same both times. [m]
    error_stops : float or array, default 0.1
        Standard error of one reading, > 0. [stops]

    Returns
    -------
    Estimate

    Raises
    ------
    ValueError
        If a number is not finite or outside its range.

    Notes
    -----
    .. math:: \sigma = \frac{\ln 2\,(a - b)}{d}, \quad s_\sigma = \frac{\ln 2\,\sqrt 2\, s}{d}

    Long paths pay: at 0.1 stop the error is 0.010 /m over 10 m and 0.005 over 20. A wide receptor also gathers light
    scattered a little aside and takes the air for thinner than it is. The lamp must not drift.

    References
    ----------
    .. [1] Beer-Lambert law; errors added in squares.

    Examples
    --------
    >>> read = extinction_from_lamp(clear_stops=6.3, hazy_stops=5.8, path_m=9.0)
    >>> round(float(read.extinction_per_m), 4), round(float(read.error_per_m), 4)
    (0.0385, 0.0109)
    """
    check_range("clear_stops", clear_stops)
    check_range("hazy_stops", hazy_stops)
    check_range("path_m", path_m, above=0.0, hint="metres from the lamp to the meter")
    check_range("error_stops", error_stops, above=0.0, hint="a spot meter repeats to 0.1")
    per_stop = np.log(2.0) / np.asarray(path_m, dtype=float)
    return Estimate(per_stop * np.subtract(clear_stops, hazy_stops), per_stop * np.sqrt(2.0) * error_stops)


def extinction_from_cards(
    *,
    near_dark_stops: Numbers,
    near_light_stops: Numbers,
    far_dark_stops: Numbers,
    far_light_stops: Numbers,
    near_m: Numbers,
    far_m: Numbers,
    light_stops: Numbers = 0.0,
    error_stops: Numbers = 0.1,
) -> Estimate:
    r"""
    Extinction from how a dark and a light card close up with distance. [1/m]

    Parameters
    ----------
    near_dark_stops, near_light_stops, far_dark_stops, far_light_stops : float or array
        Spot readings of both cards, side by side, near and far, as stops from any one level. [stops]
    near_m, far_m : float or array
        Cards to meter, far beyond near. [m]
    light_stops : float or array, default 0
        Light on the far cards over light on the near ones, by an incident meter. [stops]
    error_stops : float or array, default 0.1
        Standard error of one spot reading, > 0. [stops]

    Returns
    -------
    Estimate

    Raises
    ------
    ValueError
        If a light card does not read above the dark one, or a number is outside its range.

    Notes
    -----
    .. math:: \sigma = \frac{\ln (\Delta L_1 / \Delta L_2) + \ln 2\, e}{d_2 - d_1}, \quad \Delta L = L_l - L_d

    Both cards at one distance see the same veil, so it falls out of the difference, however the air is lit. Errors add in
    squares, each weighed by its own luminance over the difference: cards that read a stop apart weigh an error twice as
    much as cards five stops apart, cards half a stop apart four times, and closer than that the bar is too short.

    References
    ----------
    .. [1] DERIVED: L(d) = L T + veil for both cards (Koschmieder 1924), subtracted.

    Examples
    --------
    >>> read = extinction_from_cards(near_dark_stops=-3.0, near_light_stops=1.9, far_dark_stops=-1.0, far_light_stops=1.4,
    ...                              near_m=2.0, far_m=14.0)
    >>> round(float(read.extinction_per_m), 4), round(float(read.error_per_m), 4)
    (0.0435, 0.0094)
    """
    check_range("near_m", near_m, low=0.0)
    check_range("far_m - near_m", np.subtract(far_m, near_m), above=0.0, hint="far cards stand beyond the near ones")
    check_range("light_stops", light_stops)
    check_range("error_stops", error_stops, above=0.0, hint="a spot meter repeats to 0.1")
    near, near_share = _difference("near", near_dark_stops, near_light_stops)
    far, far_share = _difference("far", far_dark_stops, far_light_stops)
    apart_m = np.subtract(far_m, near_m)
    spread = np.log(2.0) * error_stops * np.sqrt(near_share + far_share)
    return Estimate((np.log(near / far) + np.log(2.0) * np.asarray(light_stops)) / apart_m, spread / apart_m)


def _difference(which, dark_stops, light_stops):
    """Luminance between two cards, and the squares of what a reading's error weighs in its logarithm."""
    check_range(f"{which}_dark_stops", dark_stops)
    check_range(f"{which}_light_stops", light_stops)
    dark, light = np.exp2(dark_stops), np.exp2(light_stops)
    check_range(f"{which}_light_stops - {which}_dark_stops", np.subtract(light_stops, dark_stops), above=0.0,
                hint="the light card must read over the dark one")  # fmt: skip
    between = light - dark
    return between, (np.square(dark) + np.square(light)) / np.square(between)
