"""
Numbers in words, the same wherever they are printed: light, stops, ratios, shares, rings, lengths, and plain data for JSON.

Three figures, never an exponent; stops to a tenth, with a true minus sign; what is not there is said in words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

import numpy as np

from lightcalc.laws.engraved import ring_number
from lightcalc.laws.exposure import engraved_t_stop
from lightcalc.units import FT, fc_from_lx, fl_from_cd_m2, ft_from_m, stops

if TYPE_CHECKING:
    from lightcalc.answers.readings import TargetReading

UNITS = ("metric", "feet")
DASH = "–"
QUANTITIES = {  # of a reading: what it is called, and what is said where there is none
    "level": ("level", "no light"),
    "fill_under": ("fill under", "no measurable fill"),
    "beam_over": ("over background", "black behind it"),
    "veil": ("veil", "no veil"),
}
PLAIN_SIGNS = str.maketrans({"−": "-", "–": "-", "…": ".", "×": "x", "²": "2", "³": "3"})


def number_text(value: float, *, figures: int = 3) -> str:
    """
    A number to so many significant figures, never with an exponent; trailing zeros go.

    Parameters
    ----------
    value : float
        NaN and infinities become a dash.
    figures : int, default 3

    Examples
    --------
    >>> number_text(12345.6), number_text(-0.012345), number_text(float("nan"))
    ('12300', '−0.0123', '–')
    """
    if not np.isfinite(value):
        return DASH
    if value == 0:
        return "0"
    places = figures - 1 - int(np.floor(np.log10(abs(value))))
    return _trim(f"{round(float(value), places):.{min(max(places, 0), 12)}f}")


def stops_text(value: float, *, sign: bool = True, unit: str = "") -> str:
    """
    Stops to a tenth with a true minus sign; no light at all is said in words.

    Parameters
    ----------
    value : float
        [stops]
    sign : bool, default True
        Whether a plus is written.
    unit : str, default ""
        Written after a number, not after words.

    Examples
    --------
    >>> stops_text(0.31), stops_text(-2.04), stops_text(float("-inf")), stops_text(-0.01), stops_text(1.5, unit=" stops")
    ('+0.3', '−2.0', 'no light', '0.0', '+1.5 stops')
    """
    if np.isnan(value):
        return DASH
    if np.isinf(value):
        return "no light" if value < 0 else "no end"
    return signed(value, places=1, sign=sign) + unit


def signed(value: float, *, places: int = 0, sign: bool = True) -> str:
    """
    A number with its sign, what rounds to nothing bare.

    Parameters
    ----------
    value : float
    places : int, default 0
        After the point.
    sign : bool, default True
        Whether a plus is written.

    Examples
    --------
    >>> signed(2.0), signed(-3), signed(-0.4), signed(-0.0026, places=3)
    ('+2', '−3', '0', '−0.003')
    """
    text = f"{value:{'+' if sign else ''}.{places}f}"
    return text.lstrip("+-") if float(text) == 0 else text.replace("-", "−")


def percent_text(share: float) -> str:
    """
    A share (1 is all) in percent: whole from ten on, two figures under it.

    Examples
    --------
    >>> [percent_text(share) for share in (1.0, 0.153, 0.016, 0.0, 1e-5, float("nan"))]
    ['100 %', '15 %', '1.6 %', '0 %', 'under 0.1 %', '–']
    """
    percent = 100.0 * share
    if 0.0 < percent < 0.1:
        return "under 0.1 %"
    digits = number_text(percent, figures=2) if percent < 9.95 else f"{percent:.0f}"
    return f"{digits} %" if np.isfinite(percent) else DASH


def count_text(number: float, thing: str) -> str:
    """
    So many of a thing.

    Parameters
    ----------
    number : float
    thing : str
        Its name for one.

    Examples
    --------
    >>> count_text(1, "light"), count_text(0, "board"), count_text(2.5, "stop")
    ('1 light', '0 boards', '2.5 stops')
    """
    return f"{number_text(number, figures=6)} {thing}{'' if number == 1 else 's'}"


def light_text(illuminance_lx: float, units: str = "metric", *, both: bool = False) -> str:
    """
    Illuminance in the reader's unit.

    Parameters
    ----------
    illuminance_lx : float
    units : {"metric", "feet"}
        Lux, or foot-candles.
    both : bool, default False
        The other unit in brackets behind it.

    Examples
    --------
    >>> light_text(512), light_text(0.0034, "feet"), light_text(512, "feet", both=True)
    ('512 lx', '0.000316 fc', '47.6 fc (512 lx)')
    """
    texts = [f"{number_text(illuminance_lx)} lx", f"{number_text(float(fc_from_lx(illuminance_lx)))} fc"]
    first, other = texts if check_units(units) == "metric" else reversed(texts)
    return f"{first} ({other})" if both else first


def luminance_text(luminance_cd_m2: float, units: str = "metric") -> str:
    """
    Luminance in the reader's unit.

    Parameters
    ----------
    luminance_cd_m2 : float
    units : {"metric", "feet"}
        Candelas per square metre, or foot-lamberts.

    Examples
    --------
    >>> luminance_text(9.734), luminance_text(9.734, "feet")
    ('9.73 cd/m²', '2.84 fL')
    """
    if check_units(units) == "metric":
        return f"{number_text(luminance_cd_m2)} cd/m²"
    return f"{number_text(float(fl_from_cd_m2(luminance_cd_m2)))} fL"


def ratio_text(ratio: float, why_none: str = "", *, in_stops: bool = False) -> str:
    """
    A lighting ratio, to one.

    Parameters
    ----------
    ratio : float
        Infinite without fill, 0 without key. [1]
    why_none : str, default ""
        Why there is none to print, as `readings.MarkReading.no_ratio` says it.
    in_stops : bool, default False
        Also in stops, in brackets behind it.

    Examples
    --------
    >>> ratio_text(4.0), ratio_text(0.4, in_stops=True), ratio_text(150.6), ratio_text(float("inf")), ratio_text(0.0)
    ('4.0 : 1', '0.4 : 1 (−1.3 stops)', '151 : 1', 'no fill', 'no key')
    >>> ratio_text(float("inf"), "no measurable fill")
    'no measurable fill'
    """
    if why_none or np.isnan(ratio):
        return why_none or DASH
    if np.isinf(ratio) or ratio <= 0:
        return "no key" if ratio <= 0 else "no fill"
    digits = number_text(ratio, figures=2) if ratio < 0.95 else f"{ratio:.{1 if ratio < 99.95 else 0}f}"
    return f"{digits} : 1" + (f" ({stops_text(float(stops(ratio)), sign=False)} stops)" if in_stops else "")


def reading_text(quantity: str, value_stops: float) -> str:
    """
    A reading of a target's quantity.

    Parameters
    ----------
    quantity : {"level", "fill_under", "beam_over", "veil"}
    value_stops : float
        [stops]

    Examples
    --------
    >>> reading_text("fill_under", -2.0), reading_text("fill_under", float("-inf")), reading_text("beam_over", float("inf"))
    ('−2.0', 'no measurable fill', 'black behind it')
    """
    return QUANTITIES[quantity][1] if np.isinf(value_stops) else stops_text(value_stops)


def wanted_text(target: TargetReading) -> str:
    """
    The value that a target wants, as a table has it: "−3.5 ± 0.7", "at least +1.5".

    Parameters
    ----------
    target : readings.TargetReading
    """
    if target.bound != "about":
        return f"{target.bound} {stops_text(target.wanted_stops)}"
    return f"{stops_text(target.wanted_stops)} ± {number_text(target.within, figures=2)}"


def target_text(target: TargetReading, *, most: int = 60, within: bool = False) -> str:
    """
    What a target wants: "clerk fill under −3.5", "beam over background at least +1.5".

    Parameters
    ----------
    target : readings.TargetReading
    most : int, default 60
        A longer name is cut.
    within : bool, default False
        Say how near is near enough, too.
    """
    bound = "" if target.bound == "about" else f"{target.bound} "
    near_enough = f" within {number_text(target.within, figures=2)}" if within and not bound else ""
    return (
        f"{one_line(target.of, most=most)} {QUANTITIES[target.quantity][0]} {bound}{stops_text(target.wanted_stops)}{near_enough}"
    )


def verdict_text(target: TargetReading) -> str:
    """How a target (`readings.TargetReading`) fared: "met", "missed by −0.5", or "missed: no light"."""
    if target.met:
        return "met"
    if not np.isfinite(target.miss_stops):
        return f"missed: {reading_text(target.quantity, target.got_stops)}"
    return "missed by " + (stops_text(target.miss_stops) if abs(target.miss_stops) >= 0.05 else "under 0.1")


def t_stop_text(t_stop: float) -> str:
    """
    A T-stop as the ring is engraved; where the ring has no such click, itself and the nearest.

    Examples
    --------
    >>> t_stop_text(8**0.5), t_stop_text(2.7), t_stop_text(100.0)
    ('T2.8', 'T2.7 (nearest click T2.8)', 'T100')
    """
    shown = f"T{number_text(ring_number(t_stop=t_stop))}"
    try:
        nearest = f"T{float(engraved_t_stop(t_stop=t_stop)):g}"
    except ValueError:  # beyond any ring
        return shown
    return shown if shown == nearest else f"{shown} (nearest click {nearest})"


def shutter_text(time_s: float) -> str:
    """
    An exposure time in seconds.

    Examples
    --------
    >>> shutter_text(1 / 48), shutter_text(2.5)
    ('1/48 s', '2.5 s')
    """
    return f"1/{number_text(1 / time_s)} s" if time_s < 0.4 else f"{number_text(time_s)} s"


def nd_text(nd_stops: float) -> str:
    """
    A neutral filter of so many stops, by its density.

    Examples
    --------
    >>> nd_text(2), nd_text(1), nd_text(0)
    ('ND 0.6 (2 stops)', 'ND 0.3 (1 stop)', 'no ND')
    """
    return f"ND {number_text(0.3 * nd_stops, figures=2)} ({count_text(nd_stops, 'stop')})" if nd_stops else "no ND"


def dim_text(dim: float, scrim_stops: float = 0.0) -> str:
    """
    How far a lamp is dimmed, and what a scrim takes: 'full', '−2.0 (25 %)', 'off', 'full, scrim −1.0'.

    Parameters
    ----------
    dim : float
        Share of its light.
    scrim_stops : float, default 0.0
        [stops]
    """
    dimmed = "full" if dim >= 1.0 else f"{stops_text(float(stops(dim)))} ({percent_text(dim)})" if dim > 0 else "off"
    return dimmed + (f", scrim {stops_text(-scrim_stops)}" if scrim_stops else "")


def length_text(length_m: float, units: str = "metric", *, both: bool = False) -> str:
    """
    A length for paper: metres to the centimetre, or feet and inches.

    Parameters
    ----------
    length_m : float
    units : {"metric", "feet"}
    both : bool, default False
        The other unit in brackets behind it.

    Examples
    --------
    >>> length_text(2.4), length_text(2.4, units="feet"), length_text(2.4, both=True)
    ('2.4 m', '7\\' 10"', '2.4 m (7\\' 10")')
    """
    inches = round(abs(length_m) / FT * 12)
    texts = [f"{_trim(f'{length_m:.2f}')} m", f"{'−' if length_m < 0 and inches else ''}{inches // 12}' {inches % 12}\""]
    first, other = texts if check_units(units) == "metric" else reversed(texts)
    return f"{first} ({other})" if both else first


def size_text(*sides_m: float, units: str = "metric") -> str:
    """
    The sides of a thing.

    Parameters
    ----------
    *sides_m : float
    units : {"metric", "feet"}

    Examples
    --------
    >>> size_text(1.2, 2.4), size_text(1.2, 2.4, units="feet")
    ('1.2 x 2.4 m', '3\\' 11" x 7\\' 10"')
    """
    sides = [length_text(side, units) for side in sides_m]
    return " x ".join(sides) if units == "feet" else f"{' x '.join(side.removesuffix(' m') for side in sides)} m"


def distance_text(distance_m: float, units: str = "metric") -> str:
    """
    A distance that nobody tapes to the centimetre: to a tenth, from a hundred on to three figures.

    Parameters
    ----------
    distance_m : float
    units : {"metric", "feet"}

    Examples
    --------
    >>> distance_text(2.44), distance_text(2.44, "feet"), distance_text(97.8)
    ('2.4 m', '8.0 ft', '97.8 m')
    """
    metric = check_units(units) == "metric"
    value = float(distance_m if metric else ft_from_m(distance_m))
    return f"{f'{value:.1f}' if value < 99.95 else number_text(value)} {'m' if metric else 'ft'}"


def one_line(text: str, *, most: int = 200) -> str:
    """
    Someone's words on one line, without control characters.

    Parameters
    ----------
    text : str
    most : int, default 200
        Longer text is cut with an ellipsis.

    Examples
    --------
    >>> one_line(" rake the\\nsalt "), one_line("rake the salt", most=6)
    ('rake the salt', 'rake…')
    """
    words = " ".join("".join(c if c.isprintable() else " " for c in str(text)).split())
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def file_words(names: Sequence[str]) -> list[str]:
    """
    Names as parts of file names, each its own: letters, figures, underscores and hyphens only, so that none leaves its folder.

    Parameters
    ----------
    names : sequence of str

    Returns
    -------
    list of str
        Where two would fall together, also on a disk that takes A for a, all carry their place in the list.

    Examples
    --------
    >>> file_words(["1/b", "../x", "2A"]), file_words(["1/b", "1 B", "2"])
    (['1_b', 'x', '2A'], ['1_1_b', '2_1_B', '3_2'])
    """
    words = ["".join(c if c.isalnum() or c in "_-" else "_" for c in name)[:60] or "setup" for name in names]
    words = ["_".join(filter(None, word.split("_"))) or "setup" for word in words]
    apart = len({word.casefold() for word in words}) == len(words)
    return words if apart else [f"{i}_{word}" for i, word in enumerate(words, 1)]


def nearest(wrong: str, known: Sequence[str]) -> str | None:
    """
    The name that was meant by a near miss.

    Parameters
    ----------
    wrong : str
        What was typed.
    known : sequence of str
        What there is.

    Returns
    -------
    str or None
    """
    wrong = str(wrong)[:60]
    close = get_close_matches(wrong, known, n=1, cutoff=0.7) or [name for name in known if name.startswith(wrong + "_")]
    return close[0] if close else None


def near(wrong: str, known: Sequence[str], there: str = "it takes") -> str:
    """
    A near miss answered with the right name, anything else with the names there are.

    Parameters
    ----------
    wrong : str
        What was typed.
    known : sequence of str
        What there is.
    there : str, default "it takes"
        What stands before the list.

    Returns
    -------
    str
        The end of a sentence.

    Examples
    --------
    >>> near("titel", ["title", "units"]), near("doors", ["floor", "far"]), near("pan", ["at", "pan_deg"])
    ("; did you mean 'title'?", '; it takes floor, far', "; did you mean 'pan_deg'?")
    """
    meant = nearest(wrong, known)
    return f"; did you mean '{meant}'?" if meant else f"; {there} {', '.join(known) or 'none'}"


def for_terminal(text: str, encoding: str | None) -> str:
    """
    Text for a terminal that may lack a sign: a true minus becomes a hyphen there, never a question mark.

    Parameters
    ----------
    text : str
    encoding : str or None
        Of the terminal.

    Examples
    --------
    >>> for_terminal("−0.3 stops", "utf-8"), for_terminal("−0.3 stops, 9 cd/m²", "ascii")
    ('−0.3 stops', '-0.3 stops, 9 cd/m2')
    """
    try:
        text.encode(encoding or "ascii")
        return text
    except UnicodeEncodeError:
        return text.translate(PLAIN_SIGNS)


def plain(value: Any) -> Any:
    """
    Anything, dataclasses included, as plain data for JSON, which has no NaN and no infinity: null.

    Examples
    --------
    >>> plain({"stops": np.array([1.5, -np.inf]), "names": ("a",), 2: np.float64(3)})
    {'stops': [1.5, None], 'names': ['a'], '2': 3.0}
    """
    if isinstance(value, (np.ndarray, np.generic)):
        value = value.tolist()
    if is_dataclass(value):
        value = {field.name: getattr(value, field.name) for field in fields(value)}
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    return None if isinstance(value, float) and not np.isfinite(value) else value


def check_units(units: str) -> str:
    """The unit system, if there is one of that name; a ValueError if not."""
    if units not in UNITS:
        raise ValueError(f"units must be one of {', '.join(UNITS)}, got {units!r}")
    return units


def _trim(digits):
    trimmed = digits.rstrip("0").rstrip(".") if "." in digits else digits
    return "0" if trimmed == "-0" else trimmed.replace("-", "−")
