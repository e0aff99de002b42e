"""What each setup asks of the clock: minutes, when its light is there, what must come first; from the file or a CSV of shots."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from lightcalc.answers.day_course import day_curve
from lightcalc.answers.haze_course import AirError
from lightcalc.answers.haze_plan import air_plan
from lightcalc.answers.setup_day import RIDE_STOPS
from lightcalc.scene.parts import Exterior, Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.scene.sun_and_sky import Clock
from lightcalc.sky.clock import LocalDay, clock_time
from lightcalc.sky.positions import Place, sun_at
from lightcalc.wording import near, number_text, one_line

SHOOT_MIN = 45  # of a setup for which nobody said how long
LEAST_MIN = 5
DAY_MIN = 1440
LOW_SUN = (-18.0, 20.0)  # degrees: light changes fast between
NIGHT_MIN = 2 * DAY_MIN  # a night runs on past midnight
NEAR_MIN = 120  # a window that its own time misses by no more is the one that is meant
COLUMNS = ("setup", "minutes", "after", "before", "day", "earliest", "latest")
MADE = ("prepare", "ready", "start", "end", "place", "title")  # of a table that was written here, read over
MOST_BYTES, MOST_ROWS = 1_000_000, 64


class ListError(ValueError):
    """A shot list that cannot be read: one sentence with line, column, value and what would be accepted."""


@dataclass(frozen=True)
class Air:
    """What a setup's haze asks of its room, as the plan has it; masses count from clear air."""

    mass_mg_m3: float  # 0 for clear air
    volume_m3: float
    loss_per_h: float
    open_loss_per_h: float  # doors and windows open
    source_g_per_h: float
    extinction_per_m: float


@dataclass(frozen=True)
class Shot:
    """A setup as the clock on the wall sees it; minutes since midnight, those after 1440 are the next morning's."""

    setup: Setup
    day: int
    minutes: int  # of shooting, all of it in a window
    minutes_typed: bool
    windows: tuple[tuple[int, int], ...] | None  # when targets are met, iris ridden; None where no daylight lights it
    earliest: int
    latest: int
    at: int | None  # when the file says it is shot
    after: tuple[str, ...] = ()  # setups that come first
    air: Air | None = None  # None where the air is not counted
    note: str = ""

    @property
    def name(self) -> str:
        """The setup's."""
        return self.setup.name

    @property
    def open(self) -> tuple[tuple[int, int], ...]:
        """When it may be shot: its windows within earliest and latest; those two alone where nothing of them is left."""
        spans = self.windows if self.windows else ((0, NIGHT_MIN),)
        cut = tuple((max(a, self.earliest), min(b, self.latest)) for a, b in spans)
        return tuple((a, b) for a, b in cut if a < b) or ((self.earliest, self.latest),)


def clock_text(minute: float) -> str:
    """
    A minute of the day on the clock; of the next day with a mark.

    Examples
    --------
    >>> clock_text(605), clock_text(1455)
    ('10:05', '00:15 (+1)')
    """
    whole = round(minute)
    return f"{whole % DAY_MIN // 60:02d}:{whole % 60:02d}" + (f" (+{whole // DAY_MIN})" if whole >= DAY_MIN else "")


def shots(shoot: Shoot, path: str | Path | None = None, *, told: Callable[[float], None] | None = None) -> tuple[Shot, ...]:
    """
    The shots of a shoot in the person's own order.

    Parameters
    ----------
    shoot : Shoot
    path : str or Path, optional
        A CSV of at most 1 MB with the column setup, and any of minutes (of shooting), after and before (names of setups,
        with ; between them), day, earliest and latest (such as 7:30; 24:00 and more is after midnight). Its rows are the
        person's order. Without it, the setups of the file in theirs.
    told : callable, optional
        Is told the share done: reading a day at many hours takes a second or two a setup.

    Returns
    -------
    tuple of Shot

    Raises
    ------
    ValueError
        If the list holds anything unknown or impossible.

    Notes
    -----
    Windows are as `setup_day` finds them, the exposure moved by up to a stop, in whole minutes and inside. A night that runs to
    midnight goes on as the same night began: the small hours of the next day are taken for those of this one. Where a
    setup's own time falls into a window, or within two hours of one, only that window counts. Without minutes a setup takes 45, or what its window has
    from its own time on, if that is less.
    """
    rows = _rows(shoot, path) if path is not None else [{"setup": setup.name} for setup in shoot.setups]
    first = _first(shoot, rows)
    found = []
    for row in rows:
        found.append(_shot(shoot, shoot.setup(row["setup"]), row, first.get(row["setup"], ())))
        if told is not None:
            told(len(found) / len(rows))
    return tuple(found)


def _rows(shoot, path):
    """The table's rows as texts by column, each checked; `line` is where it stands."""
    path, names = Path(path), [setup.name for setup in shoot.setups]
    raw = path.read_bytes()[: MOST_BYTES + 1]
    if len(raw) > MOST_BYTES:
        raise ListError(f"{path.name}: a shot list may have {MOST_BYTES:,} bytes, got more")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ListError(f"{path.name}: not UTF-8 text; save it as UTF-8") from None
    head = text.split("\n", 1)[0]
    reader = csv.DictReader(io.StringIO(text), delimiter=max(",;\t", key=head.count))
    heads = [(name or "").strip().lower() for name in reader.fieldnames or ()]
    for name in heads:
        if name not in COLUMNS + MADE:
            raise ListError(f"{path.name}, line 1: no column '{one_line(name, most=40)}'{near(name, COLUMNS)}")
    if "setup" not in heads:
        raise ListError(f"{path.name}, line 1: needs a column 'setup'; it may have {', '.join(COLUMNS[1:])} too")
    reader.fieldnames = heads
    rows: list[dict] = []
    for row in reader:
        where = f"{path.name}, line {reader.line_num}"
        if None in row:
            raise ListError(f"{where}: more cells than columns; quote what holds a comma")
        kept = {key: _cell(value) for key, value in row.items() if key in COLUMNS}
        if not any(kept.values()):
            continue
        if kept["setup"] not in names:
            raise ListError(
                f"{where}: no setup '{one_line(kept['setup'], most=40)}' in this shoot{near(kept['setup'], names, 'it has')}"
            )
        if kept["setup"] in [other["setup"] for other in rows]:
            raise ListError(f"{where}: setup '{kept['setup']}' stands here twice")
        rows.append(kept | {"where": where})
    if not 1 <= len(rows) <= MOST_ROWS:
        raise ListError(f"{path.name}: needs 1 to {MOST_ROWS} rows under its head, got {len(rows)}")
    return rows


def _cell(text):
    """A cell without the sign that keeps a spreadsheet from reckoning with it."""
    text = (text or "").strip()
    return text[1:] if text[:1] == "'" and text[1:2] in tuple("=+-@") else text


def _first(shoot, rows):
    """For each setup those that must come before it, from both columns."""
    names, first = [row["setup"] for row in rows], {row["setup"]: set() for row in rows}
    for row in rows:
        for column in ("after", "before"):
            for other in filter(None, (part.strip() for part in row.get(column, "").split(";"))):
                if other not in names or other == row["setup"]:
                    rest = [name for name in names if name != row["setup"]]
                    raise ListError(
                        f"{row['where']}: {column} must name other setups of the list, got '{one_line(other, most=40)}'{near(other, rest, 'it has')}"
                    )
                late, early = (row["setup"], other) if column == "after" else (other, row["setup"])
                first[late].add(early)
    ring = _ring(first)
    if ring:
        raise ListError(f"after and before go round in a ring: {' after '.join([*ring, ring[0]])}; take one of them out")
    return {name: tuple(sorted(first[name], key=names.index)) for name in names}


def _ring(first):
    """Setups that wait for each other, or None."""
    left = dict(first)
    while left:
        free = [name for name, wait in left.items() if not wait & left.keys()]
        if not free:
            ring, name = [], next(iter(left))
            while name not in ring:
                ring.append(name)
                name = min(left[name] & left.keys())
            return ring[ring.index(name) :]
        left = {name: wait for name, wait in left.items() if name not in free}
    return None


def _shot(shoot, setup, row, first):
    where = row.get("where", f"setup '{setup.name}'")
    day = _number(row, "day", where, setup.day, 1, shoot.days)
    at = _own_time(setup)
    windows = _meant(_windows(shoot, setup, day), at)
    minutes = _number(row, "minutes", where, _usual_min(windows, at), 1, DAY_MIN)
    earliest, latest = _clock(row, "earliest", where, 0), _clock(row, "latest", where, NIGHT_MIN)
    if not earliest < latest:
        raise ListError(
            f"{where}: earliest must be before latest, got {row['earliest']} and {row['latest']}; after midnight is 24:00 and more"
        )
    air, note = _air(shoot, setup)
    return Shot(setup, day, minutes, bool(row.get("minutes")), windows, earliest, latest, at, first, air, note)


def _own_time(setup):
    """The minute at which the file says it is shot."""
    if not setup.time:
        return None
    hour, minute = clock_time(setup.time)
    return 60 * hour + minute


def _meant(windows, at):
    """The window that holds its own time or is near it, where one is: who types dawn does not mean dusk."""
    away = [(max(a - at, at - b, 0), (a, b)) for a, b in windows or () if at is not None]
    near = min(away, default=(NEAR_MIN + 1, None))
    return (near[1],) if near[0] <= NEAR_MIN else windows


def _usual_min(windows, at):
    """Minutes of a setup for which nobody said how long: no more than its window has, from its own time on."""
    left = [b - at if at is not None and a <= at < b else b - a for a, b in windows or ()]
    return max(LEAST_MIN, min(SHOOT_MIN, max(left, default=SHOOT_MIN)))


def _number(row, column, where, usual, low, high):
    text = row.get(column, "")
    if not text:
        return usual
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not (low <= number <= high and number == int(number)):
        raise ListError(f"{where}: {column} must be a whole number of {low} to {high}, got '{one_line(text, most=40)}'")
    return int(number)


def _clock(row, column, where, usual):
    """A time as minutes; 24:00 to 47:59 are of the next day."""
    text = row.get(column, "")
    if not text:
        return usual
    hour, _, minute = text.partition(":")
    fine = hour.isascii() and minute.isascii() and hour.isdigit() and minute.isdigit() and len(minute) == 2 and len(hour) <= 2
    if not (fine and int(hour) < 48 and int(minute) < 60):
        raise ListError(
            f"{where}: {column} must be a time such as 7:30, or 25:30 for half past one at night, got '{one_line(text, most=40)}'"
        )
    return 60 * int(hour) + int(minute)


def _windows(shoot, setup, day):
    """When its targets are met by daylight, in whole minutes; None where daylight does not light it or nobody knows the date."""
    if shoot.where is None or not shoot.dates or not setup.targets or (setup.sun is None and setup.sky is None):
        return None
    place = cast(Place, shoot.where)
    local = LocalDay(shoot.dates[day - 1], shoot.time_zone)
    clock = Clock(place, local.date, _worth_reading(place, local), setup.outlook or "clear")
    found = [(on_wall(local, a), on_wall(local, b)) for a, b in day_curve(setup, clock).possible(ride_stops=RIDE_STOPS)]
    spans = [(math.ceil(a), math.floor(b)) for a, b in found if math.floor(b) > math.ceil(a)]
    if spans and spans[0][0] == 0 and spans[-1][1] >= DAY_MIN - 1 and len(spans) > 1:
        spans[-1] = (spans[-1][0], DAY_MIN + spans[0][1])  # the night goes on
    return tuple(spans)


def on_wall(day: LocalDay, minute: float) -> float:
    """
    What the clock on the wall shows at a minute that passes, as minutes since its midnight; they differ where it is changed.

    Parameters
    ----------
    day : clock.LocalDay
    minute : float
        Since local midnight. [min]

    Returns
    -------
    float
        [min]

    Examples
    --------
    >>> import datetime as dt
    >>> on_wall(LocalDay(dt.date(2028, 3, 26), "Europe/Berlin"), 600.0)  # put forward in the night
    660.0
    """
    at = day.at(minute)
    return DAY_MIN * (at.date() - day.date).days + 60.0 * at.hour + at.minute + at.second / 60.0


def _worth_reading(place, day):
    """Minutes at which a day is read: every ten while the sun is low and the light goes fast, else every half hour."""
    sun = lambda minute: sun_at(place, day.at(minute)).altitude_deg  # noqa: E731
    fine = range(0, day.minutes + 1, 10)
    return tuple(minute for minute in fine if minute % 30 == 0 or minute == fine[-1] or LOW_SUN[0] < sun(minute) < LOW_SUN[1])


def _air(shoot, setup):
    """What its air asks, and why it is not counted where it is not."""
    if isinstance(setup.place, Exterior):
        return None, ""
    try:
        hazed = setup if setup.haze.extinction_per_m > 0 else None
        if hazed is None:
            return Air(0.0, 0.0, 0.0, 0.0, 0.0, 0.0), ""
        plan = air_plan(shoot, setup)
    except AirError as error:
        return None, f"haze of setup {one_line(setup.name, most=60)} is not counted: {error}"
    machine, volume = plan.machine, plan.box.volume_m3
    opened = plan.loss_per_h + max(0.0, 8.0 - plan.box.air_changes_per_h)
    source = 60.0 * machine.fluid_g_per_min * machine.droplet_share
    return Air(plan.mass_mg_m3, volume, plan.loss_per_h, opened, source, plan.extinction_per_m), ""


def csv_text(rows: Sequence[dict[str, object]]) -> str:
    """
    Rows as a CSV that a spreadsheet opens and `shots` reads back.

    Parameters
    ----------
    rows : sequence of dict
        With the columns of a shot list, and those that an order adds.

    Returns
    -------
    str
    """
    stream = io.StringIO()
    writer = csv.DictWriter(stream, ("setup", *MADE[:4], *COLUMNS[1:], *MADE[4:]), lineterminator="\n", restval="")
    writer.writeheader()
    for row in rows:
        writer.writerow({key: _guarded(value) for key, value in row.items()})
    return stream.getvalue()


def _guarded(value):
    """A cell that a spreadsheet would take for a formula stays words."""
    text = number_text(value, figures=6) if isinstance(value, float) else one_line(str(value), most=300)
    return f"'{text}" if text[:1] in tuple("=+-@") else text
