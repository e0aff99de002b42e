"""A date on the clock of a place: minutes since local midnight, time zones, the days on which the clock changes."""

from __future__ import annotations

import datetime as dt
import difflib
import re
import zoneinfo
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    pass

YEARS = (1900, 2100)  # time zones have no rules before, and how the earth slows is a guess after


@dataclass(frozen=True)
class LocalDay:
    """
    A date on the clock of a time zone, counted in minutes since local midnight.

    The minutes are ones that pass: a day on which the clock is put forward has 1380 of them, one on which it is put
    back 1500, and `text` says what the clock on the wall shows.
    """

    date: dt.date
    time_zone: str

    def __post_init__(self):
        zone(self.time_zone)
        if not YEARS[0] <= self.date.year < YEARS[1]:
            raise ValueError(f"date must be of the years {YEARS[0]} to {YEARS[1] - 1}, got {self.date.isoformat()}")

    @property
    def minutes(self) -> int:
        """Minutes in this day: 1440, save where the clock changes."""
        return round((_midnight(self.date + dt.timedelta(days=1), self.time_zone) - self._start).total_seconds() / 60)

    @property
    def _start(self):
        return _midnight(self.date, self.time_zone)

    def at(self, minute: float) -> dt.datetime:
        """
        The moment a minute stands for.

        Parameters
        ----------
        minute : float
            Since local midnight; one outside the day belongs to the day before or after. [min]

        Returns
        -------
        datetime.datetime
            In the place's time zone.
        """
        return (self._start + dt.timedelta(minutes=float(minute))).astimezone(zone(self.time_zone))

    def text(self, minute: float) -> str:
        """
        What the clock on the wall shows.

        Parameters
        ----------
        minute : float
            Since local midnight. [min]

        Returns
        -------
        str
            Hours and minutes, nearest minute: '19:40'.
        """
        return f"{self.at(round(minute)):%H:%M}"

    def minute(self, text: str) -> int:
        """
        The minute at which the clock on the wall shows a time.

        Parameters
        ----------
        text : str
            '19:40'.

        Returns
        -------
        int
            Since local midnight; the first of two where the clock is put back over it.

        Raises
        ------
        ValueError
            If it is no time of day, or the clock is put forward over it.
        """
        hour, minute = clock_time(text)
        wall = dt.datetime.combine(self.date, dt.time(hour, minute), tzinfo=zone(self.time_zone))
        passed = round((wall.astimezone(dt.UTC) - self._start).total_seconds() / 60)
        if self.text(passed) != f"{hour:02d}:{minute:02d}":
            raise ValueError(f"time must be one that the clock shows on {self.date}, got {text!r}: it is put forward over it")
        return passed


def clock_time(text: str) -> tuple[int, int]:
    """
    Hours and minutes of a time as a person writes it.

    Parameters
    ----------
    text : str
        '19:40' or '7:05'.

    Returns
    -------
    hour, minute : int

    Raises
    ------
    ValueError
        If it is no time of day.

    Examples
    --------
    >>> clock_time("19:40")
    (19, 40)
    """
    found = re.fullmatch(r"(\d{1,2}):(\d{2})", text, re.ASCII) if isinstance(text, str) else None
    if not found or int(found[1]) > 23 or int(found[2]) > 59:
        raise ValueError(f"time must be a time of day such as '19:40', got {text!r}")
    return int(found[1]), int(found[2])


def zone(name: str) -> zoneinfo.ZoneInfo:
    """
    A time zone by its name in the IANA list.

    Parameters
    ----------
    name : str
        'Europe/Berlin'.

    Returns
    -------
    zoneinfo.ZoneInfo

    Raises
    ------
    ValueError
        If there is none of that name.

    Examples
    --------
    >>> zone("Europe/Berlin").key
    'Europe/Berlin'
    """
    if not name:
        raise ValueError("time_zone is missing: give a name of the IANA list, such as 'Europe/Berlin' or 'UTC'")
    try:
        return zoneinfo.ZoneInfo(name)
    except (KeyError, ValueError, TypeError, OSError):  # not there; no name at all; a folder of names
        close = difflib.get_close_matches(str(name)[:60], zoneinfo.available_timezones(), n=1)
        way_out = f"did you mean '{close[0]}'?" if close else "such as 'Europe/Berlin' or 'UTC'"
        raise ValueError(f"time_zone must be a name of the IANA list, got {str(name)[:60]!r}; {way_out}") from None


def _midnight(date, time_zone):
    """When a local day begins, in UTC. Where the clock skips midnight, at the skip: what datetime does by itself."""
    return dt.datetime.combine(date, dt.time(), tzinfo=zone(time_zone)).astimezone(dt.UTC)
