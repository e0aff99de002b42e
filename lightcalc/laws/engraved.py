"""What rings, dials and filters are engraved with, in thirds of a stop, and what a turned pair of polarisers takes."""

from __future__ import annotations

import numpy as np

from lightcalc.laws.exposure import ENGRAVED_STEPS, ENGRAVED_T_STOPS
from lightcalc.units import Numbers, check_range, stops

ENGRAVED_ISO = np.array(
    [50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400,
     8000, 10_000, 12_800, 16_000, 20_000, 25_600, 32_000, 40_000, 51_200, 64_000, 80_000, 102_400]
)  # fmt: skip  # speed dials: R10 preferred numbers (ISO 3), from 12 800 doubled
ISO_STEPS = np.arange(-3, 31)  # thirds of a stop from 100
ENGRAVED_ONE_OVER = np.array(
    [24, 30, 40, 48, 60, 80, 96, 120, 160, 192, 240, 320, 384, 480, 640, 768, 960, 1280, 1536, 1920]
)  # shutter times 1/n s: 180 degrees at 24 fps and thirds of a stop from it, as dials round them
ONE_OVER_STEPS = np.arange(-3, 17)  # thirds of a stop from 1/48 s; more is shorter
ND_DENSITY = np.arange(1, 31) / 10.0  # filters are engraved with their density, a tenth a third of a stop
ND_STOPS_PER_DENSITY = float(np.log2(10.0))  # 3.32; the trade says 3 1/3: ND 0.3 is 0.997 stop
SCALES = ("t_stop", "iso", "shutter", "nd")


def thirds(*, scale: str, low: float | None = None, high: float | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    A scale in thirds of a stop: what is engraved, what it stands for, and its place in stops.

    Parameters
    ----------
    scale : {"t_stop", "iso", "shutter", "nd"}
        T-stops; ISO speeds; shutter times as 1/n s; densities of neutral filters.
    low, high : float, optional
        Keep what is engraved from here to here.

    Returns
    -------
    label : array, shape (n,)
        As engraved: 2.8, 320, 48 (of 1/48 s), 0.6. [1]
    exact : array, shape (n,)
        What it stands for: 2.8284, 317.48, 1/48 s, 2 stops. [1, 1, s, stops]
    change_stops : array, shape (n,)
        What setting it does to the picture, from T1, ISO 100, 1/48 s or no filter; minus is darker. [stops]

    Raises
    ------
    ValueError
        If the scale is not known.

    Notes
    -----
    A third of a stop is 2^(1/3) of light. Labels are rounded: no T-stop label is more than 0.15 stop off what it
    stands for, no ISO 0.03, no time 0.11, no density 0.01 for each stop of it. Compute with what they stand for.

    References
    ----------
    .. [1] ISO 517:2008, apertures; ISO 12232:2019, table of speeds; ISO 3:1973, preferred numbers R10.

    Examples
    --------
    >>> label, exact, change = thirds(scale="iso", low=400, high=800)
    >>> label.tolist(), change.round(2).tolist()
    ([400, 500, 640, 800], [2.0, 2.33, 2.67, 3.0])
    """
    tables = {
        "t_stop": lambda: (ENGRAVED_T_STOPS, np.exp2(ENGRAVED_STEPS / 6.0), -ENGRAVED_STEPS / 3.0),
        "iso": lambda: (ENGRAVED_ISO, 100.0 * np.exp2(ISO_STEPS / 3.0), ISO_STEPS / 3.0),
        "shutter": lambda: (ENGRAVED_ONE_OVER, np.exp2(-ONE_OVER_STEPS / 3.0) / 48.0, -ONE_OVER_STEPS / 3.0),
        "nd": lambda: (ND_DENSITY, ND_DENSITY / 0.3, -ND_DENSITY / 0.3),
    }
    if scale not in tables:
        raise ValueError(f"scale must be one of {', '.join(SCALES)}, got {scale!r}")
    label, exact, change = tables[scale]()
    held = (label >= (-np.inf if low is None else low)) & (label <= (np.inf if high is None else high))
    return label[held], exact[held], change[held]


def nearest_third(*, scale: str, value: Numbers) -> Numbers:
    """
    The engraved number nearest a value, in stops. [1]

    Parameters
    ----------
    scale : {"t_stop", "iso", "shutter", "nd"}
        As for `thirds`.
    value : float or array
        T-stop [1], ISO [1], time [s], or neutral density in stops; > 0, but a density may be 0.

    Returns
    -------
    float or array
        What the ring, dial or filter says: 0 for a filter too thin to be one. [1]

    Raises
    ------
    ValueError
        If the scale is not known, or a value is more than a sixth of a stop beyond it.

    Examples
    --------
    >>> float(nearest_third(scale="iso", value=730)), float(nearest_third(scale="shutter", value=1 / 50))
    (800.0, 48.0)
    """
    label, exact, _ = thirds(scale=scale)
    check_range("value", value, low=0.0 if scale == "nd" else None, above=None if scale == "nd" else 0.0)
    if scale == "nd":
        label, exact = np.append(0.0, label), np.append(0.0, exact)
        place, at = exact, np.asarray(value, dtype=float)
    else:
        weight = 2.0 if scale == "t_stop" else 1.0  # a T-stop counts twice: light goes as its square
        place, at = weight * np.log2(exact), weight * np.log2(np.asarray(value, dtype=float))
    gap = np.abs(at[..., None] - place)
    if np.any(np.min(gap, axis=-1) > 1.0 / 6.0 + 1e-9):
        raise ValueError(f"value must lie on the {scale} scale, {label.min():g} to {label.max():g} as engraved, got {value!r}")
    return label[np.argmin(gap, axis=-1)]


def ring_number(*, t_stop: float) -> float:
    """
    A T-stop as it is engraved on the ring; as it is, where the ring has no such click. [1]

    Examples
    --------
    >>> ring_number(t_stop=2.8284271247461903), ring_number(t_stop=3.0)
    (2.8, 3.0)
    """
    same = np.isclose(np.exp2(ENGRAVED_STEPS / 6.0), t_stop, rtol=1e-9, atol=0.0)
    return float(ENGRAVED_T_STOPS[same][0]) if same.any() else float(t_stop)


def t_stop_as_typed(*, number: float) -> float:
    """
    What a T-stop typed by a person stands for: 2.8 is 2.8284, as on the ring; a number no ring has is itself. [1]

    Examples
    --------
    >>> round(t_stop_as_typed(number=2.8), 4), t_stop_as_typed(number=3.0)
    (2.8284, 3.0)
    """
    same = np.isclose(ENGRAVED_T_STOPS, number, rtol=0.0, atol=1e-9)
    return float(np.exp2(ENGRAVED_STEPS[same][0] / 6.0)) if same.any() else float(number)


def nd_stops_from_density(*, density: Numbers) -> Numbers:
    r"""
    Stops that a neutral filter of an engraved density takes. [stops]

    Parameters
    ----------
    density : float or array
        Optical density, >= 0: ND 0.9 is 0.9. [1]

    Returns
    -------
    float or array
        Stops. [stops]

    Raises
    ------
    ValueError
        If a density is negative.

    Notes
    -----
    .. math:: n = D \log_2 10

    Exact: ND 0.9 takes 2.99 stops, ND 1.8 5.98. Strong filters also let infrared by and turn blacks brown: use an
    infrared-cut with them.

    References
    ----------
    .. [1] CIE S 017:2020, "transmission density": D = -log10 of the transmittance.

    Examples
    --------
    >>> round(float(nd_stops_from_density(density=0.9)), 2)
    2.99
    """
    check_range("density", density, low=0.0, hint="ND 0.9 is 3 stops")
    return np.multiply(density, ND_STOPS_PER_DENSITY)


def variable_nd_stops(*, turn_deg: Numbers, loss_stops: float = 1.0 / 3.0, leak: float = 2e-4) -> Numbers:
    r"""
    Stops that a variable neutral filter takes, from the turn between its two polarisers. [stops]

    Parameters
    ----------
    turn_deg : float or array
        Angle between the two, 0 open to 90 crossed. [deg]
    loss_stops : float, default 1/3
        What the glass of the two takes besides, >= 0. [stops]
    leak : float, default 2e-4
        Share of the open light that still comes through crossed, above 0, below 1. [1]

    Returns
    -------
    float or array
        Stops taken, of light that is not polarised itself. [stops]

    Raises
    ------
    ValueError
        If an angle or a share is outside its range.

    Notes
    -----
    .. math:: n = 1 + n_0 - \log_2\!\left[(1 - \epsilon)\cos^2\theta + \epsilon\right]

    Malus' law; the first sheet halves unpolarised light. It goes slowly at first (0.4 stop at 30 deg) and then runs
    away: 4.9 stops at 75, and the last degrees are not to be trusted; wide lenses show a dark cross there, and skies
    and water darken by themselves. Work from its own marks, metered.

    References
    ----------
    .. [1] E. L. Malus (1809), in E. Hecht, Optics, 8.2.

    Examples
    --------
    >>> variable_nd_stops(turn_deg=[0, 45, 60], loss_stops=0.0).round(2).tolist()
    [1.0, 2.0, 3.0]
    """
    check_range("turn_deg", turn_deg, low=0.0, high=90.0, hint="0 open, 90 crossed")
    check_range("loss_stops", loss_stops, low=0.0)
    check_range("leak", leak, above=0.0, below=1.0)
    open_share = (1.0 - leak) * np.cos(np.radians(turn_deg)) ** 2 + leak
    return 1.0 + loss_stops - stops(open_share)


def variable_nd_turn_deg(*, nd_stops: Numbers, loss_stops: float = 1.0 / 3.0, leak: float = 2e-4) -> Numbers:
    r"""
    Turn of a variable neutral filter that takes so many stops. [deg]

    Parameters
    ----------
    nd_stops : float or array
        Stops wanted, from what it takes open to what it takes crossed. [stops]
    loss_stops : float, default 1/3
        What the glass of the two polarisers takes besides, >= 0. [stops]
    leak : float, default 2e-4
        Share of the open light that still comes through crossed, above 0, below 1. [1]

    Returns
    -------
    float or array
        Angle between the polarisers. [deg]

    Raises
    ------
    ValueError
        If the filter cannot take so much or so little.

    Notes
    -----
    .. math:: \cos^2\theta = \frac{2^{1 + n_0 - n} - \epsilon}{1 - \epsilon}

    References
    ----------
    .. [1] `variable_nd_stops`.

    Examples
    --------
    >>> round(float(variable_nd_turn_deg(nd_stops=3.0, loss_stops=0.0)), 1)
    60.0
    """
    check_range("loss_stops", loss_stops, low=0.0)
    check_range("leak", leak, above=0.0, below=1.0)
    least, most = 1.0 + loss_stops, float(variable_nd_stops(turn_deg=90.0, loss_stops=loss_stops, leak=leak))
    check_range("nd_stops", nd_stops, low=least - 1e-9, high=most + 1e-9, hint="what two polarisers take, open to crossed")
    share = (np.exp2(1.0 + loss_stops - np.asarray(nd_stops, dtype=float)) - leak) / (1.0 - leak)
    return np.degrees(np.arccos(np.sqrt(np.clip(share, 0.0, 1.0))))
