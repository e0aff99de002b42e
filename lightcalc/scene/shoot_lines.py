"""
The text of a shoot file as TOML: its tables, what is wrong with its form, and the line on which each key stands.

A line that is no TOML is reported and taken out of the way, as far as that is safe, so that one run finds what else is wrong.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Sequence
from typing import Any

LIMIT_BYTES = 1_000_000  # the demo shoot is 20 kB
LIMIT_LINE = 2_000  # characters in a line; the reader's time grows with the square of a line of dots
MOST_FAULTS = 40  # lines of wrong form after which reading stops
UNREAD = "\ue000unread\ue000"  # stands for a value that could not be read; its line has been reported

_TOKEN = re.compile(
    r"(?P<end>\n)|(?P<space>[ \t\r]+|\#[^\n]*)"
    r'|(?P<text>"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\')'
    r"|(?P<mark>[\[\]{}=,])|(?P<bare>[^\s\[\]{}=,#\"']+)",
    re.S,
)
_PAIR = re.compile(r"""\s*(?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*\s*=""")
_COMMA = re.compile(r"(=\s*[-+]?\d+),(\d+)(?=\s*(?:[,}#]|$))")
_CURLY = dict.fromkeys("“”„‟«»", '"') | dict.fromkeys("‘’‚‛", "'")


class Unreadable(ValueError):
    """Text that is no TOML and cannot be read on: `faults`, pairs of line (or None) and sentence."""

    def __init__(self, faults: Sequence[tuple[int | None, str]]) -> None:
        super().__init__(faults[0][1])
        self.faults = faults


def tables(text: str) -> tuple[dict[str, Any], list[tuple[int | None, str]], str]:
    """
    Bounded TOML as plain dicts, and the faults of its form.

    Parameters
    ----------
    text : str
        At most `LIMIT_BYTES` characters.

    Returns
    -------
    tables : dict
        Values that could not be read are `UNREAD`.
    faults : list of (int, str)
        Line and sentence.
    text : str
        The text as it could be read: line for line the same, without those faults.

    Raises
    ------
    Unreadable
        If there is no reading on.
    """
    if len(text) > LIMIT_BYTES:
        raise Unreadable([(None, f"a shoot file may have {LIMIT_BYTES:,} characters, got {len(text):,}")])
    lines = text.split("\n")
    faults: list[tuple[int | None, str]] = []
    long = [
        (n, f"a line may have {LIMIT_LINE:,} characters, got {len(s):,}") for n, s in enumerate(lines, 1) if len(s) > LIMIT_LINE
    ]
    if long:
        raise Unreadable(long)
    while True:
        try:
            return tomllib.loads("\n".join(lines)), faults, "\n".join(lines)
        except RecursionError:
            raise Unreadable([*faults, (None, "nested too deeply; a shoot file needs four levels")]) from None
        except ValueError as error:
            number, sentence, mended = _syntax(str(error), lines)
            faults.append((number, sentence))
            if mended is None or len(faults) >= MOST_FAULTS:
                raise Unreadable(faults) from None
            lines[number - 1] = mended


def _syntax(said, lines):
    """The TOML reader's complaint as line and sentence, and that line mended, or None if it cannot be."""
    found = re.search(r" \(at line (\d+), column (\d+)\)$", said)
    number = int(found[1]) if found else len("\n".join(lines).rstrip("\n").split("\n"))
    said = re.sub(r" \(at [^()]*\)$", "", said)
    said = said.replace(r"Illegal character '\n'", "a text must be closed on its line")
    said = re.sub(r"'(\\.[^']*)'", lambda c: _character(c[1].encode().decode("unicode_escape")), said)
    column = f" (column {found[2]})" if found else " (the text ends too early)"
    line = lines[number - 1]
    sentence, mended = f"not TOML: {said[:1].lower() + said[1:]}{column}", None
    if said.startswith("Cannot overwrite a value") and _PAIR.match(line) and _stands(line):
        return number, sentence, "#"
    if _PAIR.match(line) and not _stands(line):
        mended = f'{_PAIR.match(line)[0]} "{UNREAD}"'
        curly, comma = [c for c in line if c in _CURLY], _COMMA.search(line)
        straight = "".join(_CURLY.get(c, c) for c in line)
        if curly and _stands(straight):
            sentence, mended = f"{curly[0]} is a curly quote; TOML takes straight ones, \" or '", straight
        elif comma and _stands(_COMMA.sub(r"\1.\2", line)):
            typed = comma[0].lstrip("= ")
            sentence = f"{typed} has a decimal comma; TOML takes a point, {typed.replace(',', '.')}"
            mended = _COMMA.sub(r"\1.\2", line)
    return number, sentence, mended if mended is not None and _stands(mended) else None


def _stands(line):
    """Whether a line is TOML by itself."""
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        return False
    return True


def _character(c):
    """A character that has no print, by its number."""
    return f"U+{ord(c[:1]):04X} {unicodedata.name(c[:1], '')}".rstrip()


# lines ..............................................................................


def line_numbers(text: str) -> dict[tuple, int]:
    """
    The line of every key of a TOML text.

    Parameters
    ----------
    text : str
        TOML. Of a text that is none, some lines are missing.

    Returns
    -------
    dict of tuple to int
        By path, keys and places in lists from the top: ``("setups", 0, "lights", 1, "dim")``. A table is where its header is.

    Examples
    --------
    >>> found = line_numbers("[rooms.loft]\\nwidth_m = 3\\n[[rooms.loft.windows]]\\nname = 'a'\\n")
    >>> found["rooms", "loft", "width_m"], found["rooms", "loft", "windows", 0, "name"]
    (2, 4)
    """
    scan = _Scan(text)
    scan.whole()
    return scan.found


class _Scan:
    """One pass over the tokens of a TOML text."""

    def __init__(self, text):
        self.tokens, line = [], 1
        for token in _TOKEN.finditer(text):
            if token.lastgroup != "space":
                self.tokens.append((token.lastgroup, token[0], line))
            line += token[0].count("\n")
        self.tokens.append(("over", "", line))
        self.at, self.found, self.counts = 0, {}, {}

    def peek(self, *wanted):
        """Whether the next token is one of these marks, or of these kinds."""
        return self.tokens[self.at][1] in wanted or self.tokens[self.at][0] in wanted

    def take(self):
        token = self.tokens[self.at]
        self.at = min(self.at + 1, len(self.tokens) - 1)
        return token

    def whole(self):
        base = ()
        while not self.peek("over"):
            if self.peek("end", "]"):
                self.take()
            elif self.peek("["):
                base = self.header()
            else:
                self.pair(base)

    def header(self):
        """[table] or [[list of tables]]: the path that the keys below it belong to."""
        line, many = self.take()[2], self.peek("[")
        *above, last = self.key("]") or [""]
        path = ()
        for key in above:
            path += (key,)
            self.found.setdefault(path, line)
            path += (self.counts[path] - 1,) if path in self.counts else ()
        path += (last,)
        self.found.setdefault(path, line)
        if many or path in self.counts:
            self.counts[path] = self.counts.get(path, 0) + many
            path += (self.counts[path] - 1,)
            self.found.setdefault(path, line)
        return path

    def key(self, *until):
        """The parts of a dotted key; its end is left."""
        parts = []
        while not self.peek(*until, "end", "over"):
            kind, word, _ = self.take()
            if kind == "text":
                parts.append(tomllib.loads(f"k = {word}")["k"] if _stands(f"k = {word}") else word)
            elif kind == "bare":
                parts += [part for part in word.split(".") if part]
        return parts

    def pair(self, base):
        """key = value."""
        start, line = self.at, self.tokens[self.at][2]
        for part in self.key("=", ",", "}", "]"):
            base += (part,)
            self.found.setdefault(base, line)
        if self.peek("="):
            self.take()
            self.value(base)
        elif self.at == start:
            self.take()

    def value(self, path):
        """A value: in lists each item by its place, in inline tables each key."""
        if self.peek("[", "{"):
            close, place = {"[": "]", "{": "}"}[self.take()[1]], 0
            while not self.peek(close, "over"):
                if self.peek("end", ","):
                    self.take()
                elif close == "}":
                    self.pair(path)
                else:
                    self.found.setdefault((*path, place), self.tokens[self.at][2])
                    self.value((*path, place))
                    place += 1
            self.take()
            return
        while not self.peek("end", "over", ",", "]", "}"):
            self.take()


def line_of(lines: dict, path: tuple) -> int | None:
    """
    The line of a path, or of the innermost thing round it that has one.

    Parameters
    ----------
    lines : dict
        From `line_numbers`.
    path : tuple

    Returns
    -------
    int or None
    """
    return next((lines[path[:size]] for size in range(len(path), 0, -1) if path[:size] in lines), None)
