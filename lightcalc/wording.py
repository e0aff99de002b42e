"""Numbers, lengths, light and other people's words, as a person reads them on a page or a drawing."""

from __future__ import annotations

from difflib import get_close_matches

import numpy as np

from lightcalc.units import FT, fc_from_lx

UNITS = ("metric", "feet")


def length_text(length_m, *, units="metric"):
    """
    A length for paper: metres to the centimetre, or feet and inches.

    Parameters
    ----------
    length_m : float
        The length. [m]
    units : {"metric", "feet"}
        What the reader works in.

    Returns
    -------
    str

    Examples
    --------
    >>> length_text(2.4), length_text(2.4, units="feet")
    ('2.4 m', '7\\' 10"')
    """
    if check_units(units) == "metric":
        return f"{_trim(f'{length_m:.2f}')} m"
    inches = round(abs(length_m) / FT * 12)
    return f"{'-' if length_m < 0 and inches else ''}{inches // 12}' {inches % 12}\""


def number_text(value, *, figures=3):
    """
    A number to so many significant figures, never with an exponent; trailing zeros go.

    Parameters
    ----------
    value : float
        Any number; NaN and infinities become a dash.
    figures : int, default 3
        Significant figures kept.

    Returns
    -------
    str

    Examples
    --------
    >>> number_text(12345.6), number_text(0.012345), number_text(float("nan"))
    ('12300', '0.0123', '–')
    """
    if not np.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    places = figures - 1 - int(np.floor(np.log10(abs(value))))
    rounded = round(float(value), places)
    return _trim(f"{rounded:.{min(max(places, 0), 12)}f}")


def stops_text(value, *, sign=True):
    """
    Stops to a tenth with a true minus sign; no light at all is said in words.

    Parameters
    ----------
    value : float
        Stops. [stops]
    sign : bool, default True
        Whether a plus is written.

    Returns
    -------
    str

    Examples
    --------
    >>> stops_text(0.31), stops_text(-2.04), stops_text(float("-inf")), stops_text(-0.01)
    ('+0.3', '−2.0', 'no light', '0.0')
    """
    if np.isnan(value):
        return "–"
    if np.isinf(value):
        return "no light" if value < 0 else "no end"
    text = f"{value:+.1f}" if sign else f"{value:.1f}"
    if float(text) == 0:
        return "0.0"
    return text.replace("-", "−")


def signed(value):
    """
    A whole number with its sign, 0 bare.

    Parameters
    ----------
    value : float
        Rounded here.

    Returns
    -------
    str

    Examples
    --------
    >>> signed(2.0), signed(-3), signed(-0.4)
    ('+2', '−3', '0')
    """
    return f"{value:+.0f}".replace("-", "−") if round(value) else "0"


def light_text(illuminance_lx, *, units="metric"):
    """
    Illuminance in the reader's unit first, the other in brackets.

    Parameters
    ----------
    illuminance_lx : float
        Illuminance. [lx]
    units : {"metric", "feet"}
        What the reader works in.

    Returns
    -------
    str

    Examples
    --------
    >>> light_text(512), light_text(512, units="feet")
    ('512 lx (47.6 fc)', '47.6 fc (512 lx)')
    """
    lx, fc = f"{number_text(illuminance_lx)} lx", f"{number_text(float(fc_from_lx(illuminance_lx)))} fc"
    return f"{lx} ({fc})" if check_units(units) == "metric" else f"{fc} ({lx})"


def one_line(text, *, most=200):
    """
    Someone's words on one line, without control characters.

    Parameters
    ----------
    text : str
        Any text.
    most : int, default 200
        Longer text is cut with an ellipsis.

    Returns
    -------
    str

    Examples
    --------
    >>> one_line(" rake the\\nsalt "), one_line("rake the salt", most=6)
    ('rake the salt', 'rake…')
    """
    words = " ".join("".join(c if c.isprintable() else " " for c in str(text)).split())
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def near_miss(wrong, known):
    """
    The end of a sentence that refuses a name: the one that was meant, or what there is.

    Parameters
    ----------
    wrong : str
        What was asked for.
    known : sequence of str
        What there is.

    Returns
    -------
    str

    Examples
    --------
    >>> near_miss("clark", ["clerk", "far cheek"]), near_miss("oar", ["clerk"]), near_miss("oar", [])
    ("; did you mean 'clerk'?", '; there is clerk', '; there is none')
    """
    close = get_close_matches(str(wrong)[:60], known, n=1, cutoff=0.6)
    return f"; did you mean '{close[0]}'?" if close else f"; there is {', '.join(known) or 'none'}"


def check_units(units):
    """
    The unit system, if there is one of that name.

    Parameters
    ----------
    units : {"metric", "feet"}
        What the reader works in.

    Returns
    -------
    str
        The same.

    Raises
    ------
    ValueError
        If it is neither.
    """
    if units not in UNITS:
        raise ValueError(f"units must be one of {', '.join(UNITS)}, got {units!r}")
    return units


def _trim(digits):
    trimmed = digits.rstrip("0").rstrip(".") if "." in digits else digits
    return "0" if trimmed == "-0" else trimmed
