"""
Measured lamps from photometric files: ANSI/IES LM-63, editions 1986 to 2019, type C.

    IESNA:LM-63-2002              edition; none at all is 1986
    [TEST] LC-0001                keywords, [MORE] goes on with the one before; free text in 1986
    TILT=NONE                     or INCLUDE, then lamp geometry, count, angles, factors
    1 -1 1.0 10 1 1 2 .2 .2 0     lamps, lumens each, multiplier, counts, type, units, opening
    1.0 1.0 40                    ballast factor, future use, watts
    0 10 20 ...                   vertical angles, horizontal angles, candela by horizontal angle

After TILT the numbers may be broken into lines anywhere, parted by spaces or commas.
"""

from __future__ import annotations

import re
import warnings
from pathlib import Path
from typing import Any

from lightcalc.kit.candela import MOST_ANGLES, MOST_PLANES, Photometry
from lightcalc.units import FT

MOST_BYTES = 8_000_000  # a file of the most angles and planes, eight characters a number
MOST_LINE = 4_096  # the standard says 132 (256 from 2002); some writers put a whole row on one line
MOST_KEYWORDS = 500
MOST_TILTS = 361
EDITIONS = {"IESNA86": 1986, "IESNA91": 1991, "IESNA:LM-63-1986": 1986, "IESNA:LM-63-1991": 1991,
            "IESNA:LM-63-1995": 1995, "IESNA:LM-63-2002": 2002, "IES:LM-63-2019": 2019}  # fmt: skip
UNITS_M = {1: FT, 2: 1.0}  # feet, metres
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eEdD][+-]?\d+)?")


class PhotofileError(ValueError):
    """A photometric file that cannot be read: one sentence with the file, the line, what was found and wanted."""


def read_photometry(source: Any) -> Photometry:
    """
    A measured lamp from an LM-63 file.

    Parameters
    ----------
    source : path or str
        A file, or the text of one: a str with a line break in it is text.

    Returns
    -------
    Photometry
        Candela with the multiplier and the ballast factor applied, lengths in metres.

    Raises
    ------
    PhotofileError
        If the file is missing, too large, not LM-63, not type C, or says something impossible. One
        sentence names the file, the line, what was found and what would be accepted.

    Notes
    -----
    .. math:: I = I_{file} \\times multiplier \\times ballast\\ factor

    Editions 1986 and 1991 have a further factor where later ones keep "future use"; it is applied for
    those two only. Lumens per lamp are not a factor: they say what the bare lamp was taken to give, and -1
    says absolute photometry. Factors of TILT=INCLUDE are kept, not applied: they belong to a hanging angle.

    References
    ----------
    .. [1] ANSI/IESNA LM-63-2002, Standard File Format for the Electronic Transfer of Photometric Data.
    .. [2] IES LM-63-1986, -1991, -1995 and ANSI/IES LM-63-2019, the other editions.
    """
    name, text = _text(source)
    page = _Page(name, text)
    edition = _edition(page)
    keywords, tilt = _keywords(page, edition)
    numbers = _Numbers(page)
    tilt_deg, tilt_factor = _tilt(numbers, tilt)
    head = _head(numbers, edition)
    vertical = _angles(numbers, "vertical angle", head["n_v"], high=180.0)
    horizontal = _angles(numbers, "horizontal angle", head["n_h"], high=360.0)
    _check_ranges(numbers, vertical, horizontal)
    candela = tuple(tuple(numbers.take("candela value", low=0.0)[0] * head["factor"] for _ in vertical) for _ in horizontal)
    numbers.finish()
    numbers.line = numbers.last_line
    if max(map(max, candela)) == 0.0:
        numbers.refuse("every candela value is 0", "a lamp that sends light somewhere")
    lamp = Photometry(vertical_deg=vertical, horizontal_deg=horizontal, candela=candela, tilt_deg=tilt_deg,
                      tilt_factor=tilt_factor, keywords=keywords, name=name, width_m=head["width_m"],
                      length_m=head["length_m"], height_m=head["height_m"], watts=head["watts"],
                      rated_lumens=head["rated_lumens"])  # fmt: skip
    if lamp.rated_lumens and lamp.lumens() > 1.05 * lamp.rated_lumens:
        warnings.warn(f"{name}: the candela values add up to {lamp.lumens():.0f} lm, the bare lamps to "
                      f"{lamp.rated_lumens:.0f} lm; check the candela multiplier", stacklevel=2)  # fmt: skip
    return lamp


class _Page:
    """The lines of a file, the one being read, and how to refuse it."""

    def __init__(self, name, text):
        self.name, self.line = name, 0
        self.lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")

    def next(self):
        """The next line without its outer spaces; None after the last."""
        if self.line >= len(self.lines):
            return None
        self.line += 1
        said = self.lines[self.line - 1]
        if len(said) > MOST_LINE:
            self.refuse(f"a line of {len(said)} characters", f"lines of at most {MOST_LINE}")
        return said.strip(" \t\x1a")  # 0x1a: the end-of-file mark of old disks

    def refuse(self, found, wanted):
        raise PhotofileError(f"{self.name}, line {self.line}: found {found}; would accept {wanted}")


class _Numbers:
    """The numbers after TILT, one by one, each with the line it stands on."""

    def __init__(self, page):
        self.page, self.waiting, self.line, self.last_line = page, [], page.line, page.line

    def refuse(self, found, wanted):
        self.page.line = self.line
        self.page.refuse(found, wanted)

    def _word(self):
        while not self.waiting:
            said = self.page.next()
            if said is None:
                self.line = max(self.last_line, 1)
                return None
            self.line = self.page.line
            self.waiting = [word for word in re.split(r"[,\s]+", said) if word][::-1]
        self.last_line = self.line
        return self.waiting.pop()

    def take(self, what, *, low=-1e9, high=1e9):
        """The next number and the line it is on."""
        word = self._word()
        if word is None:
            self.refuse(f"the end of the file where {what} should be", "as many numbers as the counts promise")
        if not _NUMBER.fullmatch(word):
            self.refuse(f"{word[:40]!r} as {what}", "a plain decimal number")
        value = float(re.sub("[dD]", "e", word))
        if not low <= value <= high:
            self.refuse(f"{value:g} as {what}", f"a number from {low:g} to {high:g}")
        return value, self.line

    def count(self, what, *, low, high):
        """The next number, which must be whole."""
        value, _ = self.take(what, low=low, high=high)
        if value != int(value):
            self.refuse(f"{value:g} as {what}", f"a whole number from {low:g} to {high:g}")
        return int(value)

    def choice(self, what, choices):
        """The next number, which must be one of a few."""
        value, _ = self.take(what)
        if value not in choices:
            self.refuse(f"{value:g} as {what}", " or ".join(f"{key} ({said})" for key, said in choices.items()))
        return int(value)

    def finish(self):
        """Nothing may follow: a number too many means that a count is wrong."""
        word = self._word()
        if word is not None:
            self.refuse(f"{word[:40]!r} after the last candela value", "as many numbers as the counts promise")


def _text(source):
    """A name for the messages, and the text; refuse what is not there, too large or not text."""
    if isinstance(source, str) and ("\n" in source or "\r" in source):
        if len(source) > MOST_BYTES:
            raise PhotofileError(f"text, line 1: found {len(source)} characters; would accept at most {MOST_BYTES}")
        return "text", source
    path = Path(source)
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise PhotofileError(f"{path.name or path}, line 0: found no readable file ({reason}); "
                             "would accept an LM-63 file") from None  # fmt: skip
    if len(data) > MOST_BYTES:
        raise PhotofileError(f"{path.name}, line 1: found more than {MOST_BYTES} bytes; would accept at most that")
    if b"\0" in data:
        raise PhotofileError(f"{path.name}, line 1: found a zero byte; would accept plain text")
    return path.name, data.decode("utf-8-sig", errors="replace")  # old files: makers' names in any code page


def _edition(page):
    """The year in the first line; a first line that names none is a label of 1986 and is read again."""
    first = page.next()
    if not first and len(page.lines) <= 1:
        page.refuse("an empty file", "an LM-63 file")
    named = re.sub(r"\s+", "", first).upper()
    if named in EDITIONS:
        return EDITIONS[named]
    if named.startswith(("IESNA", "IES:")):
        page.refuse(f"edition {first[:40]!r}", ", ".join(EDITIONS) + ", or a first line that names none (1986)")
    page.line = 0
    return 1986


def _keywords(page, edition):
    """The lines before TILT as (keyword, value) pairs, [MORE] joined on, and what TILT says."""
    pairs: list[tuple[str, str]] = []
    while (said := page.next()) is not None:
        if re.match(r"TILT\s*=", said, re.IGNORECASE):
            return pairs, said.split("=", 1)[1].strip()
        if len(pairs) >= MOST_KEYWORDS:
            page.refuse(f"more than {MOST_KEYWORDS} lines before TILT", f"at most {MOST_KEYWORDS}")
        marked = re.match(r"\[([^\]\[]{1,40})\]\s*(.*)", said)
        if marked and marked[1].upper() == "MORE":
            if not pairs:
                page.refuse("[MORE] with no keyword before it", "[MORE] below the keyword that it continues")
            pairs[-1] = (pairs[-1][0], f"{pairs[-1][1]} {marked[2]}".strip())
        elif marked:
            pairs.append((marked[1].upper(), marked[2].strip()))
        elif said and edition > 1991:
            page.refuse(f"{said[:40]!r} before TILT", "[KEYWORD] lines, then TILT=NONE or TILT=INCLUDE")
        elif said:
            pairs.append(("LABEL", said))
    page.line = len(page.lines) - (page.lines[-1] == "")
    page.refuse("no TILT line", "TILT=NONE or TILT=INCLUDE before the numbers")


def _tilt(numbers, tilt):
    """Angles and factors of TILT=INCLUDE; none for TILT=NONE. Another file is never opened."""
    if tilt.upper() == "NONE":
        return (), ()
    if tilt.upper() != "INCLUDE":
        numbers.refuse(f"TILT={tilt[:40]}", "TILT=NONE, or TILT=INCLUDE with the angles and factors in this file")
    numbers.choice("lamp geometry", {1: "lamp upright", 2: "lamp level, stays level", 3: "lamp level, tilts"})
    count = numbers.count("count of tilt angles", low=1, high=MOST_TILTS)
    angles = _angles(numbers, "tilt angle", count, high=180.0)
    return angles, tuple(numbers.take("tilt factor", low=0.0, high=10.0)[0] for _ in angles)


def _head(numbers, edition):
    """The thirteen numbers that say how to read the rest."""
    lamps = numbers.count("count of lamps", low=1, high=1000)
    lumens, _ = numbers.take("lumens per lamp")
    if lumens != -1 and not lumens > 0:
        numbers.refuse(f"{lumens:g} for the lumens per lamp", "a number above 0, or -1 for absolute photometry")
    factor = _factor(numbers, "candela multiplier")
    n_v = numbers.count("count of vertical angles", low=2, high=MOST_ANGLES)
    n_h = numbers.count("count of horizontal angles", low=1, high=MOST_PLANES)
    kind, _ = numbers.take("photometric type")
    if kind != 1:
        numbers.refuse(f"photometric type {kind:g}", "1 (type C); 2 (type B) and 3 (type A) must be converted first")
    metre = UNITS_M[numbers.choice("kind of units", {1: "feet", 2: "metres"})]
    # Below 0 stands for a round opening of that diameter (1995 on).
    sides = [abs(numbers.take(f"{side} of the opening", low=-300.0, high=300.0)[0]) * metre
             for side in ("width", "length", "height")]  # fmt: skip
    ballast = _factor(numbers, "ballast factor")
    further = _factor(numbers, "ballast-lamp factor") if edition <= 1991 else 1.0
    if edition > 1991:
        numbers.take("number kept for future use")
    watts, _ = numbers.take("input power in watts", low=0.0, high=1e6)
    return {"n_v": n_v, "n_h": n_h, "factor": factor * ballast * further, "watts": watts,
            "width_m": sides[0], "length_m": sides[1], "height_m": sides[2],
            "rated_lumens": None if lumens == -1 else lamps * lumens}  # fmt: skip


def _factor(numbers, what):
    """A factor, which must be above 0: a zero would put the lamp out without a word."""
    value, _ = numbers.take(what)
    if not 0.0 < value <= 1e6:
        numbers.refuse(f"{value:g} for the {what}", "a number above 0")
    return value


def _angles(numbers, what, count, *, high):
    """So many angles, each above the one before."""
    angles: list[float] = []
    for _ in range(count):
        angle, _ = numbers.take(what, low=0.0, high=high)
        if angles and angle <= angles[-1]:
            numbers.refuse(f"{what} {angle:g} after {angles[-1]:g}", "angles that rise")
        angles.append(angle)
    return tuple(angles)


def _check_ranges(numbers, vertical, horizontal):
    """Type C angles must cover one of the ranges that the standard names."""
    found = f"{vertical[0]:g} to {vertical[-1]:g}"
    if (vertical[0], vertical[-1]) not in {(0.0, 90.0), (90.0, 180.0), (0.0, 180.0)}:
        numbers.refuse(f"vertical angles from {found}", "0 to 90, 90 to 180 or 0 to 180")
    first, last = horizontal[0], horizontal[-1]
    named = (first, last) in {(0.0, 0.0), (0.0, 90.0), (0.0, 180.0), (90.0, 270.0)}
    if not named and not (first == 0.0 and last > 180.0):
        numbers.refuse(f"horizontal angles from {first:g} to {last:g}",
                       "0 alone, 0 to 90, 0 to 180, 90 to 270, or 0 to 360")  # fmt: skip
