"""In which order a day's setups go: the person's own, checked, and beside it the best, with what it saves."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from lightcalc.answers.shot_list import DAY_MIN, Shot, clock_text, csv_text
from lightcalc.laws import ventilation
from lightcalc.scene.parts import Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.wording import count_text, one_line, plain

MOVE_MIN, CAMERA_MIN, LAMP_MIN, BOARD_MIN = 30, 5, 10, 5  # to another place; a camera, a lamp, a board put up or moved
CALL_MIN = 480  # 8:00, where nobody says
REST_MIN = 660  # eleven hours: what a day's rest customarily is
BAND = 0.25  # of the haze wanted, either way, that still does
CLEAR_PER_M = 0.004  # haze that no longer shows: 0.4 % lost a metre
EXACT = 10  # setups a day up to which every order is weighed
ORDER_WRONG_MIN = DAY_MIN  # a setup before one that must come first weighs as a day's lateness
MOST_STEPS = 1_500_000  # of the search, then it stops and says so
ASSUMED = (
    f"Assumed, common practice: {MOVE_MIN} min to another place, {LAMP_MIN} min a lamp put up or moved, {BOARD_MIN} min a board, flag or frame, "
    f"{CAMERA_MIN} min the camera; what stands as before costs nothing. The haze machine starts when rigging starts, airing is with doors "
    "open (8 air changes an hour). Windows allow a stop of iris. Meals, make-up, travel and weather are not in it."
)


@dataclass(frozen=True)
class Slot:
    """One setup in an order; minutes since local midnight."""

    shot: Shot
    prepare: int  # the crew turns to it
    ready: int
    start: int
    late_min: int  # of its shooting that falls outside what is open to it; and so much too late for a time that was typed
    work_min: int  # moves and rigging, or the air where that takes longer
    air_min: int
    what: str  # of the changeover, in words

    @property
    def end(self) -> int:
        """When it is shot."""
        return self.start + self.shot.minutes

    @property
    def idle_min(self) -> int:
        """Ready, and waiting for its light or its time."""
        return self.start - self.ready


@dataclass(frozen=True)
class Clash:
    """Something that cannot be as it stands: by how many minutes, and what would free it."""

    setup: str
    kind: str  # window, time, order, light, haze, rest
    minutes: int
    sentence: str
    free: str
    days: tuple[int, ...] = ()  # of a rest: the two days

    @property
    def line(self) -> str:
        """Both in one line."""
        return f"{self.sentence}; {self.free}" if self.free else self.sentence


@dataclass(frozen=True)
class Course:
    """A day in one order."""

    slots: tuple[Slot, ...]
    clashes: tuple[Clash, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The setups in their order."""
        return tuple(slot.shot.name for slot in self.slots)

    @property
    def wrap(self) -> int:
        """When the last is shot."""
        return self.slots[-1].end

    @property
    def work_min(self) -> int:
        """Moves, rigging and air."""
        return sum(slot.work_min for slot in self.slots)

    @property
    def idle_min(self) -> int:
        """Waiting for light or a time."""
        return sum(slot.idle_min for slot in self.slots)


@dataclass(frozen=True)
class DayOrder:
    """One day: the person's order checked, and the best."""

    day: int
    date: str
    call: int
    own: Course
    best: Course
    exact: bool
    notes: tuple[str, ...]

    @property
    def saves(self) -> str:
        """What the best order saves, in words."""
        gains = [
            (sum(c.minutes for c in self.own.clashes) - sum(c.minutes for c in self.best.clashes), "min of clashes"),
            (self.own.wrap - self.best.wrap, "min to the wrap"),
            (self.own.work_min - self.best.work_min, "min of moves, rigging and air"),
        ]
        said = [f"{gain} {what}" for gain, what in gains if gain > 0]
        costs = [f"{-gain} {what}" for gain, what in gains if gain < 0]
        return (", ".join(said) or "nothing") + (f"; it costs {', '.join(costs)}" if said and costs else "")

    def lines(self) -> list[str]:
        """The day as plain text."""
        rows = [
            f"day {self.day}{', ' + self.date if self.date else ''}: call {clock_text(self.call)}, wrap {clock_text(self.own.wrap)}"
        ]
        rows += [f"  {slot_line(slot)}" for slot in self.own.slots]
        rows += [f"  CLASH: {clash.line}" for clash in self.own.clashes] or ["  no clashes"]
        sure = "of all orders" if self.exact else f"found (more than {EXACT} setups: a good one, not proven the best)"
        if self.best.names == self.own.names and self.best.wrap >= self.own.wrap:
            return [*rows, f"  best {sure}: this one", *(f"  {note}" for note in self.notes)]
        rows.append(f"  best {sure}: {', '.join(self.best.names)}; wrap {clock_text(self.best.wrap)}, saves {self.saves}")
        rows += [f"    {slot_line(slot)}" for slot in self.best.slots]
        rows += [f"    still: {clash.line}" for clash in self.best.clashes]
        return rows + [f"  {note}" for note in self.notes]

    def as_json(self) -> dict[str, Any]:
        """The day as plain data."""
        course = lambda c: {  # noqa: E731
            "setups": [slot_row(slot) for slot in c.slots], "clashes": [plain(clash) for clash in c.clashes],
            "wrap": clock_text(c.wrap), "work_min": c.work_min, "idle_min": c.idle_min,
        }  # fmt: skip
        row = {
            "day": self.day,
            "date": self.date,
            "call": clock_text(self.call),
            "own": course(self.own),
            "best": course(self.best),
        }
        return row | {"best_is_exact": self.exact, "best_saves": self.saves, "notes": list(self.notes)}


@dataclass(frozen=True)
class ShootOrder:
    """All days."""

    days: tuple[DayOrder, ...]
    rests: tuple[Clash, ...]

    def rests_of(self, day: int) -> tuple[Clash, ...]:
        """The nights next to a day that are too short."""
        return tuple(clash for clash in self.rests if day in clash.days)

    @property
    def clean(self) -> bool:
        """Whether the person's order has no clash."""
        return not self.rests and not any(day.own.clashes for day in self.days)

    def lines(self) -> list[str]:
        """The answer as plain text."""
        rows = [line for day in self.days for line in day.lines()]
        return rows + [f"CLASH: {clash.line}" for clash in self.rests] + [ASSUMED]

    def as_json(self) -> dict[str, Any]:
        """The answer as plain data."""
        return {"days": [day.as_json() for day in self.days], "rests": [plain(clash) for clash in self.rests], "assumed": ASSUMED}

    def csv(self, *, best: bool = False) -> str:
        """
        The table, as a shot list that can be read in again.

        Parameters
        ----------
        best : bool, default False
            In the best order instead of the person's.

        Returns
        -------
        str
        """
        return csv_text([slot_row(slot) for day in self.days for slot in (day.best if best else day.own).slots])


def slot_row(slot: Slot) -> dict[str, Any]:
    """
    A slot as the row of a table.

    Examples
    --------
    >>> from lightcalc.answers.shot_list import Shot
    >>> from lightcalc.scene.shoot_file import demo_path, load
    >>> shot = Shot(load(demo_path()).setup("8"), 2, 40, True, None, 0, 2880, None)
    >>> row = slot_row(day_course([shot], 870).slots[0])  # two lamps and the camera: 25 min
    >>> row["start"], row["end"]
    ('14:55', '15:35')
    """
    shot = slot.shot
    row: dict[str, Any] = {"setup": shot.name, "prepare": slot.prepare, "ready": slot.ready, "start": slot.start, "end": slot.end}
    row = {key: value if key == "setup" else _plain_clock(value) for key, value in row.items()}
    row |= {"minutes": shot.minutes, "after": ";".join(shot.after), "day": shot.day}
    row["earliest"] = _plain_clock(shot.earliest) if shot.earliest else ""
    row["latest"] = _plain_clock(shot.latest) if shot.latest < 2 * DAY_MIN else ""
    return row | {"place": shot.setup.place.name, "title": shot.setup.title}


def _plain_clock(minute):
    """25:30 for half past one at night, as a shot list takes it."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def slot_line(slot: Slot) -> str:
    """A slot in one line of text."""
    title = one_line(slot.shot.setup.title or slot.shot.setup.place.name, most=60)
    idle = f", waits {slot.idle_min} min" if slot.idle_min else ""
    return (
        f"{clock_text(slot.start)} to {clock_text(slot.end)}  {one_line(slot.shot.name, most=60)}  {title}: from {clock_text(slot.prepare)} "
        f"{slot.what}, ready {clock_text(slot.ready)}{idle}"
    )


# a day in one order ...................................................................


@dataclass(frozen=True)
class _State:
    """Where the day stands between two setups."""

    now: int
    last: Shot | None = None
    air: tuple[tuple[Any, ...], ...] = ()  # place, mg/m3, since when, loss per hour, the last haze asked for
    bad: int = 0  # minutes of clashes so far
    work: int = 0


def prepare_min(before: Setup | None, after: Setup) -> tuple[int, str]:
    """
    How long the crew takes from one setup to the next, without the air, and what it does.

    Parameters
    ----------
    before : Setup or None
        None at the start of the day.
    after : Setup

    Returns
    -------
    minutes : int
    what : str
    """
    same = before is not None and before.place.name == after.place.name
    old = {
        kind: {part.name: part for part in getattr(before, kind)} if same else {}
        for kind in ("lights", "boards", "frames", "flags")
    }

    def stands(kind, part):
        was = old[kind].get(part.name)
        return was is not None and (was.at, was.aim) == (part.at, part.aim)

    lamps = sum(not stands("lights", part) for part in after.lights)
    flat = sum(not stands(kind, part) for kind in ("boards", "frames", "flags") for part in getattr(after, kind))
    camera = not same or before is None or (before.camera.at, before.camera.aim) != (after.camera.at, after.camera.aim)
    move = MOVE_MIN * (before is not None and not same)
    said = [f"move to {one_line(after.place.name, most=60)}"] * bool(move) + [count_text(lamps, "lamp")] * bool(lamps)
    said += [count_text(flat, "board")] * bool(flat)
    said += ["camera"] * camera
    return move + LAMP_MIN * lamps + BOARD_MIN * flat + CAMERA_MIN * camera, ", ".join(said) or "as it stands"


@lru_cache(maxsize=100_000)
def _air_min(from_mg, low_mg, to_mg, high_mg, source, volume, loss, open_loss):
    """Minutes from one thickness to where another does, and what it then is."""
    rates = {"volume_m3": volume}
    if from_mg < low_mg:
        most = source * 1000.0 / (volume * loss) if loss else math.inf  # mg/m3
        to = min(to_mg, 0.95 * most)
        hours = (
            0.0
            if from_mg >= to
            else float(ventilation.hours_between(from_mg_m3=from_mg, to_mg_m3=to, source_g_per_h=source, loss_per_h=loss, **rates))
        )
        return math.ceil(60.0 * hours), to
    if from_mg > high_mg:
        hours = float(
            ventilation.hours_between(from_mg_m3=from_mg, to_mg_m3=high_mg, source_g_per_h=0.0, loss_per_h=open_loss, **rates)
        )
        return math.ceil(60.0 * hours), high_mg
    return 0, from_mg


def _aired(state, shot, at):
    """Minutes the air needs from `at` on, and the air of all rooms once the setup is ready."""
    place, want = shot.setup.place.name, shot.air
    if want is None:
        return 0, state.air
    was = next((row for row in state.air if row[0] == place), None)
    if was is None and want.mass_mg_m3 == 0.0:
        return 0, state.air
    _, mass, since, loss, box = was or (place, 0.0, at, 0.0, want)
    mass = round(mass * math.exp(-loss * (at - since) / 60.0), 3)
    box = want if want.mass_mg_m3 else box
    clear = box.mass_mg_m3 * CLEAR_PER_M / box.extinction_per_m
    low, high = (want.mass_mg_m3 * (1 - BAND), want.mass_mg_m3 * (1 + BAND)) if want.mass_mg_m3 else (0.0, clear)
    minutes, now = _air_min(
        mass, low, want.mass_mg_m3, high, box.source_g_per_h, box.volume_m3, box.loss_per_h, box.open_loss_per_h
    )
    rest = tuple(row for row in state.air if row[0] != place)
    return minutes, (*rest, (place, now, at + minutes, box.loss_per_h, box))


def _step(state: _State, shot: Shot, own: bool) -> tuple[_State, Slot]:
    """The next setup: prepared, aired, and shot as early as its light and its times let it."""
    rig, what = _prepared(state.last.setup if state.last else None, shot.setup)
    air, rooms = _aired(state, shot, state.now)
    work = max(rig, air)
    ready = state.now + work
    wanted = max(ready, shot.at) if own and shot.at is not None else ready
    start, late = _placed(shot, wanted)
    if own and shot.at is not None:
        late = max(late, start - shot.at)
    what += f" ({'haze' if shot.air and shot.air.mass_mg_m3 else 'airing'} {air} min)" if air else ""
    slot = Slot(shot, state.now, ready, start, late, work, air, what)
    end = start + shot.minutes
    held = tuple(
        row if row[0] != shot.setup.place.name or not (shot.air and shot.air.mass_mg_m3) else (row[0], row[1], end, *row[3:])
        for row in rooms
    )
    return _State(end, shot, held, state.bad + late, state.work + work), slot


_prepared = lru_cache(maxsize=20_000)(lambda before, after: prepare_min(before, after))


def _placed(shot, ready):
    """When it starts, and how much of it is then outside what is open: the least, then the earliest."""
    found = []
    for a, b in shot.open:
        start = max(ready, a)
        found.append((max(0, start + shot.minutes - b), start))
    late, start = min(found)
    return start, late


def day_course(shots: Sequence[Shot], call: int, *, own: bool = True) -> Course:
    """
    A day in the order given.

    Parameters
    ----------
    shots : sequence of Shot
    call : int
        When the crew begins. [min]
    own : bool, default True
        Whether setups wait for the times that the file gives them.

    Returns
    -------
    Course
        With every clash, and what would free it.
    """
    slots = _run(shots, call, own)
    return Course(tuple(slots), tuple(_clashes(slots, call, own)))


def _clashes(slots, call, own) -> Iterator[Clash]:
    done: set[str] = set()
    names = [slot.shot.name for slot in slots]
    for slot in slots:
        shot, me = slot.shot, f"setup {one_line(slot.shot.name, most=60)}"
        for name in shot.after:
            if name in names and name not in done:
                yield Clash(
                    shot.name, "order", 0, f"{me} stands before {one_line(name, most=60)}, and must come after it", "swap them"
                )
        done.add(shot.name)
        if shot.windows == ():
            yield Clash(
                shot.name,
                "light",
                0,
                f"{me}: daylight meets its targets at no time of this day, even with a stop of iris",
                "change its light or its targets",
            )
        elif shot.windows and not any(max(a, shot.earliest) < min(b, shot.latest) for a, b in shot.windows):
            yield Clash(
                shot.name,
                "light",
                0,
                f"{me}: between its earliest and latest nothing is left of its light ({_spans(shot.windows)})",
                "widen them",
            )
        if shot.air and shot.air.mass_mg_m3 and 0.95 * _most_mg(shot.air) < shot.air.mass_mg_m3 * (1 - BAND):
            yield Clash(
                shot.name, "haze", 0, f"{me}: the machine never gets its room so thick", "close the room or bring a second machine"
            )
        if slot.late_min:
            yield _late(slots, slot, call, own)


def _most_mg(air):
    return air.source_g_per_h * 1000.0 / (air.volume_m3 * air.loss_per_h) if air.loss_per_h else math.inf


def _spans(spans):
    return ", ".join(f"{clock_text(a)} to {clock_text(b)}" for a, b in spans)


def _late(slots, slot, call, own):
    """A setup that is late: for its light, or for its time."""
    shot, late = slot.shot, slot.late_min
    me = f"setup {one_line(shot.name, most=60)}"
    outside = _placed(shot, slot.start)[1] > 0
    longest = max(b - a for a, b in shot.open)
    if outside and longest < shot.minutes:
        said = f"{me}: {shot.minutes} min of shooting, and its window is {longest} min ({_spans(shot.open)}): {late} min too many"
        return Clash(shot.name, "window", late, said, f"shoot it in {longest} min, or on two days")
    if outside:
        said = f"{me}: ready {clock_text(slot.ready)}, starts {clock_text(slot.start)} for {shot.minutes} min, open {_spans(shot.open)}: {late} min over"
        return Clash(shot.name, "window", late, said, _freed(slots, slot, call, own))
    if slot.start > max(slot.ready, shot.at):
        said = (
            f"{me}: its own time is {clock_text(shot.at)}, and its light is there from {clock_text(slot.start)}: {late} min later"
        )
        return Clash(shot.name, "light", late, said, "give it that time, or other light")
    said = f"{me}: ready {clock_text(slot.ready)}, {late} min after its own time {clock_text(shot.at)}"
    return Clash(shot.name, "time", late, said, _freed(slots, slot, call, own))


def shot_waits(slot: Slot) -> int:
    """Minutes that a setup stands ready and waits only for the time its file gives it."""
    return slot.start - _placed(slot.shot, slot.ready)[0]


def _freed(slots, slot, call, own):
    """What frees a late setup, each tried: an earlier call, less shooting, an earlier place in the order."""
    shots, at, late = [s.shot for s in slots], slots.index(slot), slot.late_min
    said = [f"starting it {late} min before its own time"] if own and shot_waits(slot) >= late else []
    tried = lambda row, early: _run(row, call - early, own)  # noqa: E731
    if call - late >= 0 and not tried(shots, late)[at].late_min:
        said.append(f"a call {late} min earlier")
    short = max((s for s in slots[: at + 1]), key=lambda s: s.shot.minutes).shot
    less = [replace(s, minutes=s.minutes - late) if s is short and s.minutes > late else s for s in shots]
    if short.minutes - late >= 5 and not tried(less, 0)[at].late_min:
        said.append(f"{late} min less shooting of {one_line(short.name, most=60)}")
    for k in range(at - 1, -1, -1):
        row = [*shots[:k], shots[at], *shots[k:at], *shots[at + 1 :]]
        if all(name not in [s.name for s in shots[k:at]] for name in shots[at].after) and not tried(row, 0)[k].late_min:
            said.append(f"shooting it before {one_line(shots[k].name, most=60)}")
            break
    return f"{', or '.join(said)} frees it" if said else "nothing single frees it: see the best order"


def _run(shots, call, own):
    state, slots = _State(call), []
    for shot in shots:
        state, slot = _step(state, shot, own)
        slots.append(slot)
    return slots


# the best order ......................................................................


def best_order(shots: Sequence[Shot], call: int) -> tuple[tuple[Shot, ...], bool]:
    """
    The order of a day with the fewest minutes of clashes, then the earliest wrap, then the least moving and rigging.

    Parameters
    ----------
    shots : sequence of Shot
        In the person's own order, which wins where another is only as good.
    call : int
        [min]

    Returns
    -------
    order : tuple of Shot
    exact : bool
        Whether no order is better.

    Notes
    -----
    Up to ten setups every order is weighed, branch and bound: a beginning is left as soon as what it has cost, with the
    shooting still to come, is no better than the best order found. Above, the best of several beginnings is bettered by
    taking one setup, or a run of up to three, elsewhere until nothing gains.
    """
    start = _bettered(tuple(shots), call)
    if len(shots) > EXACT:
        return start, False
    return _searched(tuple(shots), call, start)


def order_cost(order: Sequence[Shot], call: int) -> tuple[int, int, int]:
    """
    What an order costs: minutes of clashes, when it wraps, minutes of moving, rigging and air; less is better, in that order.

    Parameters
    ----------
    order : sequence of Shot
    call : int
        [min]

    Returns
    -------
    tuple of int
    """
    state, done, wrong = _State(call), set(), 0
    names = {shot.name for shot in order}
    for shot in order:
        wrong += sum(name not in done for name in shot.after if name in names)
        done.add(shot.name)
        state, _ = _step(state, shot, False)
    return (state.bad + ORDER_WRONG_MIN * wrong, state.now, state.work)


def _bettered(shots, call):
    """Insertions into the person's order and two others, until nothing gains."""
    by_window = tuple(sorted(shots, key=lambda s: (s.open[0][0] if s.windows else CALL_MIN, shots.index(s))))
    by_place = tuple(
        sorted(by_window, key=lambda s: min(by_window.index(o) for o in shots if o.setup.place.name == s.setup.place.name))
    )
    found = []
    for order in (shots, by_window, by_place):
        cost, gained = order_cost(order, call), True
        while gained:
            gained = False
            for trial in _near(order):
                price = order_cost(trial, call)
                if price < cost:
                    order, cost, gained = trial, price, True
                    break
        found.append((cost, order))
    return min(found, key=lambda pair: pair[0])[1]


def _near(order):
    """Orders with one setup, or a run of up to three, elsewhere."""
    for size in (1, 2, 3):
        for i in range(len(order) - size + 1):
            run, rest = order[i : i + size], order[:i] + order[i + size :]
            for j in range(len(rest) + 1):
                if j != i:
                    yield rest[:j] + run + rest[j:]


def _searched(shots, call, start):
    own = order_cost(shots, call)
    best = [min(own, order_cost(start, call)), shots if own <= order_cost(start, call) else start]
    steps, names = 0, {shot.name for shot in shots}

    def further(state, left, done, chosen):
        nonlocal steps
        if not left:
            cost = (state.bad, state.now, state.work)
            if cost < best[0]:
                best[:] = [cost, chosen]
            return
        for k, shot in enumerate(left):
            if any(name in names and name not in done for name in shot.after):
                continue
            steps += 1
            if steps > MOST_STEPS:
                return
            after, _ = _step(state, shot, False)
            rest = left[:k] + left[k + 1 :]
            if (after.bad, after.now + sum(s.minutes for s in rest), after.work) < best[0]:
                further(after, rest, done | {shot.name}, (*chosen, shot))

    further(_State(call), shots, frozenset(), ())
    return best[1], steps <= MOST_STEPS


# the shoot .........................................................................


def call_of(shots: Sequence[Shot]) -> int:
    """
    When a day begins, from the times the person gave: early enough for the first of them to be ready.

    Parameters
    ----------
    shots : sequence of Shot
        Of one day, in the person's order.

    Returns
    -------
    int
        Minutes since local midnight, on a five of the clock; 8:00 where no setup has a time.
    """
    timed = [(shot.at, shot) for shot in shots if shot.at is not None]
    if not timed:
        return CALL_MIN
    at, first = min(timed, key=lambda pair: pair[0])
    work = _step(_State(0), first, False)[1].work_min
    return max(0, 5 * ((at - work) // 5))


def shoot_order(shoot: Shoot, shots: Sequence[Shot], *, call: int | None = None) -> ShootOrder:
    """
    Every day of a shoot: the person's order checked, and the best beside it.

    Parameters
    ----------
    shoot : Shoot
    shots : sequence of Shot
        From `shot_list.shots`.
    call : int, optional
        When every day begins, minutes since midnight; from the person's own times without it. [min]

    Returns
    -------
    ShootOrder
    """
    days = []
    for day in sorted({shot.day for shot in shots}):
        of_day = [shot for shot in shots if shot.day == day]
        begins = call_of(of_day) if call is None else call
        own = day_course(of_day, begins)
        order, exact = best_order(of_day, begins)
        date = str(shoot.dates[day - 1]) if shoot.dates else ""
        notes = tuple(dict.fromkeys(shot.note for shot in of_day if shot.note))
        days.append(DayOrder(day, date, begins, own, day_course(order, begins, own=False), exact, notes))
    return ShootOrder(tuple(days), tuple(_rests(days)))


def _rests(days):
    """Nights that are shorter than a day's rest customarily is."""
    for one, other in zip(days, days[1:]):
        if other.day != one.day + 1:
            continue
        rest = other.call + DAY_MIN - one.own.wrap
        if rest < REST_MIN:
            said = f"day {one.day} wraps {clock_text(one.own.wrap)}, day {other.day} calls {clock_text(other.call)}: "
            hours = f"{abs(rest) // 60} h {abs(rest) % 60:02d} min"
            short = f"{REST_MIN - rest} min under the customary {REST_MIN // 60} h"
            said += f"{hours} of rest, {short}" if rest >= 0 else f"the second begins {hours} before the first is over"
            yield Clash(
                "",
                "rest",
                REST_MIN - rest,
                said,
                "wrap earlier, call later, or put a day between them; local law and agreements decide",
                (one.day, other.day),
            )
