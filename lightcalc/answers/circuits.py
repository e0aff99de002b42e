"""Which lamp of a setup goes on which circuit, whether each carries its load for a day, and what cable and battery make of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lightcalc.laws import power
from lightcalc.scene.parts import Circuit, Light, Setup
from lightcalc.scene.shoot import Shoot
from lightcalc.wording import count_text, distance_text, number_text, one_line, percent_text, plain

SLACK_M = 2.0  # of a cable: at the socket and under the stand
LONG_DROP = 3.0  # percent on a branch: advice, NEC 210.19(A) Informational Note 4
MOST_TRIES = 50_000  # placings looked at, where the largest lamp first does not do
EPS_A = 1e-9
ASSUMED = (
    "Lamps count undimmed. Cable, where no length is typed, runs square along floor and stand from the nearest socket, "
    f"{SLACK_M:g} m to spare, and carries one lamp; copper at 60 °C."
)
WARM_C = 60.0


@dataclass(frozen=True)
class Plug:
    """One lamp: what it draws, where from, and what its cable or its battery makes of that."""

    light: str
    watts: float
    amps: float  # from the mains; 0 on a battery
    circuit: str  # "" where none carries it, or it runs on a battery
    typed: bool  # whether the file says the circuit
    cable_m: float  # NaN where nobody knows
    cable_typed: bool
    drop_percent: float  # NaN likewise
    battery_h: float  # NaN on the mains


@dataclass(frozen=True)
class CircuitLoad:
    """One circuit and what is on it."""

    name: str
    volts: float
    breaker_amps: float
    most_amps: float  # for a day: 80 percent of the breaker
    taken_amps: float
    amps: float  # all of it, what was taken already too
    lights: tuple[str, ...]

    @property
    def over_amps(self) -> float:
        """By how much it is over what it may be asked for; minus is room left. [A]"""
        return self.amps - self.most_amps

    @property
    def over(self) -> bool:
        """Whether it is asked for more than the practice allows."""
        return self.over_amps > EPS_A

    def line(self) -> str:
        """One line of text."""
        on = ", ".join(one_line(name, most=60) for name in self.lights) or "nothing"
        taken = f" and {number_text(self.taken_amps)} A that stays on it" if self.taken_amps else ""
        said = f"OVER by {number_text(self.over_amps)} A" if self.over else f"{number_text(-self.over_amps)} A left"
        return (
            f"{one_line(self.name, most=60)} ({number_text(self.breaker_amps)} A, {number_text(self.volts)} V): {on}{taken}: "
            f"{number_text(self.amps)} A of {number_text(self.most_amps)} A, {said}"
        )


@dataclass(frozen=True)
class SetupLoad:
    """The lamps of a setup on the circuits of its place."""

    setup: str
    place: str
    declared: bool  # whether the file says which circuits there are
    circuits: tuple[CircuitLoad, ...]
    plugs: tuple[Plug, ...]
    homeless: tuple[str, ...]  # lamps for which no circuit has room
    would: str  # what would carry them
    exact: bool  # whether every placing was looked at before that was said

    @property
    def fits(self) -> bool:
        """Whether every lamp has a circuit and none is asked for too much."""
        return not self.homeless and not any(circuit.over for circuit in self.circuits)

    @property
    def watts(self) -> float:
        """All lamps on the mains, undimmed. [W]"""
        return sum(plug.watts for plug in self.plugs if plug.amps)

    @property
    def verdict(self) -> str:
        """Whether it fits, in a sentence."""
        if not self.plugs:
            return "nothing draws power"
        over = [f"circuit '{one_line(c.name, most=60)}' is over by {number_text(c.over_amps)} A" for c in self.circuits if c.over]
        if self.homeless:
            names = ", ".join(one_line(name, most=60) for name in self.homeless)
            over.append(f"no circuit has room for {names}")
        fine = "fits" if any(plug.amps for plug in self.plugs) else "runs on batteries"
        return f"does not fit: {'; '.join(over)}; {self.would}" if over else fine

    def lines(self) -> list[str]:
        """The answer as plain text."""
        rows = [f"setup {self.setup}, {self.place}: {number_text(self.watts, figures=5)} W on the mains; {self.verdict}"]
        if not self.declared and self.circuits:
            rows.append("  the file names no circuits here; these are the fewest of the shoot's own size that carry it:")
        rows += [f"  {circuit.line()}" for circuit in self.circuits if circuit.lights or self.declared]
        return rows + [f"  {plug_line(plug)}" for plug in self.plugs]

    def as_json(self) -> dict[str, Any]:
        """The answer as plain data, units in the key names."""
        row = plain(self)
        row["name"] = row.pop("setup")
        row["circuits"] = [plain(c) | {"over_amps": c.over_amps, "over": c.over} for c in self.circuits]
        return row | {"fits": self.fits, "verdict": self.verdict, "watts": self.watts}


def plug_line(plug: Plug) -> str:
    """A lamp's supply in one line of text."""
    name = f"{one_line(plug.light, most=60)}: {number_text(plug.watts, figures=5)} W"
    if np.isfinite(plug.battery_h):
        return f"{name}, on its battery about {number_text(plug.battery_h, figures=2)} h at full (time one the day before)"
    where = f", on {one_line(plug.circuit, most=60)}{' (as typed)' if plug.typed else ''}" if plug.circuit else ", on no circuit"
    if not np.isfinite(plug.cable_m):
        return f"{name}, {number_text(plug.amps)} A{where}; cable not known: no sockets typed"
    about, long = "" if plug.cable_typed else "about ", " (long: thicker cable)" if plug.drop_percent > LONG_DROP else ""
    lost = f"{about}{distance_text(plug.cable_m)} of cable loses {percent_text(plug.drop_percent / 100)}{long}"
    return f"{name}, {number_text(plug.amps, figures=2)} A{where}; {lost}"


def setup_load(shoot: Shoot, setup: Setup) -> SetupLoad:
    """
    Which lamp of a setup goes on which circuit of its place, and whether that lasts for a day.

    Parameters
    ----------
    shoot : Shoot
        Gives mains, breaker and cable where the place or the lamp says nothing.
    setup : Setup
        What a lamp's `circuit` says stands, also where it is too much.

    Returns
    -------
    SetupLoad

    Notes
    -----
    The other lamps are dealt out largest first, each onto the first circuit that has room (first fit decreasing). Where
    that leaves one over, every other placing is tried, up to a bound; so "does not fit" means that none does. Where the
    file names no circuits, as many of the shoot's own size are opened as the same rule needs.
    """
    declared = bool(setup.place.circuits)
    there = [_whole(shoot, circuit) for circuit in setup.place.circuits]
    powered = [light for light in setup.lights if light.watts > 0.0]
    mains = [light for light in powered if not light.battery_wh]
    placed, exact = _dealt(mains, there)
    if not declared:
        there, placed, exact = _fewest(shoot, mains)
    loads = _loads(there, mains, placed)
    homeless = tuple(light.name for light in mains if placed[light.name] is None)
    loads = loads if declared else tuple(load for load in loads if load.lights)
    would = _would(shoot, mains, there, placed, loads)
    plugs = tuple(_plug(shoot, light, there, placed.get(light.name)) for light in powered)
    return SetupLoad(setup.name, setup.place.name, declared, loads, plugs, homeless, would, exact)


def _whole(shoot, circuit):
    """A circuit with the shoot's volts and breaker where it has none of its own."""
    return replace(
        circuit,
        volts=shoot.mains_volts if circuit.volts is None else circuit.volts,
        breaker_amps=shoot.breaker_amps if circuit.breaker_amps is None else circuit.breaker_amps,
    )


def _amps(light, volts):
    return float(power.amps(watts=light.watts, volts=volts, power_factor=light.power_factor))


def _most(circuit):
    return float(power.circuit_amps(breaker_amps=circuit.breaker_amps))


def _room_left(there, lights, placed):
    """What each circuit may still be asked for. [A]"""
    room = [_most(circuit) - circuit.taken_amps for circuit in there]
    for light in lights:
        at = placed.get(light.name)
        if at is not None:
            room[at] -= _amps(light, there[at].volts)
    return room


def _dealt(lights, there):
    """Each lamp's circuit by its place in the list, or None; and whether nothing better was left untried."""
    names = [circuit.name for circuit in there]
    placed = {light.name: names.index(light.circuit) for light in lights if light.circuit}
    free = sorted((light for light in lights if not light.circuit), key=lambda light: -light.watts / light.power_factor)
    room = _room_left(there, lights, placed)
    first = first_fit([[_amps(light, c.volts) for c in there] for light in free], room)
    exact = True
    if None in first and there:
        first, exact = _any_fit([[_amps(light, c.volts) for c in there] for light in free], room, first)
    return placed | {light.name: at for light, at in zip(free, first)}, exact


def first_fit(amps: Sequence[Sequence[float]], room_amps: Sequence[float]) -> list[int | None]:
    """
    Loads, in their order, each onto the first circuit that has room.

    Parameters
    ----------
    amps : sequence of sequences of float
        What each load draws on each circuit, whose volts may differ. [A]
    room_amps : sequence of float
        What each circuit may still be asked for. [A]

    Returns
    -------
    list of int or None
        The circuit of each load; None where none has room.

    Examples
    --------
    >>> first_fit([[9.0, 9.0], [5.0, 5.0], [4.0, 4.0]], [12.8, 12.8])
    [0, 1, 1]
    """
    room, found = list(room_amps), []
    for draws in amps:
        at = next((k for k, left in enumerate(room) if draws[k] <= left + EPS_A), None)
        if at is not None:
            room[at] -= draws[at]
        found.append(at)
    return found


def _any_fit(amps, room_amps, else_first):
    """Every placing, largest first, until one carries all of it; what first fit gave where none does, and whether all were seen."""
    tries, room, found = 0, list(room_amps), [None] * len(amps)

    def placed_from(k):
        nonlocal tries
        if k == len(amps):
            return True
        for at in range(len(room)):
            tries += 1
            if tries > MOST_TRIES:
                return False
            if amps[k][at] <= room[at] + EPS_A:
                room[at] -= amps[k][at]
                found[k] = at
                if placed_from(k + 1):
                    return True
                room[at] += amps[k][at]
        return False

    return (list(found), True) if placed_from(0) else (else_first, tries <= MOST_TRIES)


def _fewest(shoot, lights):
    """As many circuits of the shoot's own size as carry the lamps, no more; those that none can carry are left."""
    of = lambda count: [_whole(shoot, Circuit(name=f"circuit {n}")) for n in range(1, count + 1)]  # noqa: E731
    placed, _ = _dealt(lights, of(len(lights)))
    carried = [light for light in lights if placed[light.name] is not None]
    count, exact = len({at for at in placed.values() if at is not None}), True
    while count > 1:
        fewer, seen = _dealt(carried, of(count - 1))
        if None in fewer.values():
            exact = seen
            break
        placed, count = {**placed, **fewer}, count - 1
    return of(count), placed, exact


def _loads(there, lights, placed):
    found = []
    for at, circuit in enumerate(there):
        on = [light for light in lights if placed[light.name] == at]
        amps = circuit.taken_amps + sum(_amps(light, circuit.volts) for light in on)
        names = tuple(light.name for light in on)
        found.append(
            CircuitLoad(circuit.name, circuit.volts, circuit.breaker_amps, _most(circuit), circuit.taken_amps, amps, names)
        )
    return tuple(found)


def _would(shoot, lights, there, placed, loads):
    """What would carry what does not fit, in words; "" where all fits."""
    left = [light for light in lights if placed[light.name] is None]
    said = []
    typed = [load.name for load in loads if load.over and any(light.circuit == load.name for light in lights)]
    if typed:
        said.append(f"move a lamp off '{one_line(typed[0], most=60)}'")
    own = _whole(shoot, Circuit(name="more"))
    large = [light for light in left if _amps(light, own.volts) > _most(own) + EPS_A]
    for light in large:
        need = _amps(light, own.volts) / power.CONTINUOUS_SHARE
        said.append(
            f"{one_line(light.name, most=60)} alone needs a breaker of {number_text(np.ceil(need))} A or more at {number_text(own.volts)} V"
        )
    rest = sorted((light for light in left if light not in large), key=lambda light: -light.watts / light.power_factor)
    if rest:
        draws = [[_amps(light, own.volts)] * len(rest) for light in rest]
        more = len(set(first_fit(draws, [_most(own)] * len(rest))))
        said.append(
            f"{count_text(more, 'more circuit')} of {number_text(own.breaker_amps)} A would carry {'it' if len(rest) == 1 else 'them'}"
        )
    return (
        ", and ".join(said) + ": ask the electrician, or take less"
        if said
        else ""
        if all(not c.over for c in loads)
        else "take something off it"
    )


def _plug(shoot, light, there, at):
    if light.battery_wh:
        hours = float(power.battery_hours(capacity_wh=light.battery_wh, watts=light.watts))
        return Plug(light.name, light.watts, 0.0, "", False, np.nan, False, np.nan, hours)
    circuit = there[at] if at is not None else _whole(shoot, Circuit(name="none"))
    amps, length = _amps(light, circuit.volts), light.cable_m or _cable_m(light, circuit)
    drop = (
        float(power.cable_drop_v(load_amps=amps, length_m=length, area_mm2=shoot.cable_mm2, conductor_c=WARM_C))
        if length == length
        else np.nan
    )
    percent = float(power.drop_percent(drop_v=drop, volts=circuit.volts)) if drop == drop else np.nan
    name = circuit.name if at is not None else ""
    return Plug(light.name, light.watts, amps, name, bool(light.circuit), length, bool(light.cable_m), percent, np.nan)


def _cable_m(light: Light, circuit: Circuit) -> float:
    """Square along floor and stand from the nearest socket, with some to spare; NaN without sockets. [m]"""
    runs = [float(np.abs(np.subtract(light.at, socket)).sum()) + SLACK_M for socket in circuit.sockets]
    return min(runs, default=np.nan)


def overfull(shoot: Shoot, setup: Setup) -> Iterator[tuple[int | None, CircuitLoad | None, str]]:
    """
    What of a setup's supply cannot be meant, where its place has circuits.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Yields
    ------
    (index, CircuitLoad, would)
        The light it hangs on, the circuit that is over, or None where no circuit is left; and what would do.
    """
    if not setup.place.circuits:
        return
    load, names = setup_load(shoot, setup), [light.name for light in setup.lights]
    for circuit in load.circuits:
        if circuit.over:
            yield (names.index(circuit.lights[-1]) if circuit.lights else None), circuit, load.would
    for name in load.homeless:
        yield names.index(name), None, load.would


def amps_text(shoot: Shoot, setup: Setup) -> dict[str, str]:
    """
    What each lamp of a setup draws, for a column of amps: two figures, or "batt." for one on its battery.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Returns
    -------
    dict
        By the lamp's name; lamps without watts are not in it.
    """
    plugs = setup_load(shoot, setup).plugs
    return {p.light: "batt." if np.isfinite(p.battery_h) else number_text(p.amps, figures=2) for p in plugs}


def power_words(shoot: Shoot, setup: Setup) -> str:
    """
    The supply of a setup on paper: watts, amps, which circuits carry them, batteries; "" where nothing draws power.

    Parameters
    ----------
    shoot : Shoot
    setup : Setup

    Returns
    -------
    str
    """
    load = setup_load(shoot, setup)
    if not load.plugs:
        return ""
    mains = [plug for plug in load.plugs if not np.isfinite(plug.battery_h)]
    said = []
    if mains:
        factor = "power factor 1" if all(light.power_factor == 1.0 for light in setup.lights) else "power factors as typed"
        said.append(
            f"{number_text(load.watts, figures=5)} W in all, {count_text(len(mains), 'lamp')} undimmed, "
            f"{number_text(sum(plug.amps for plug in mains))} A ({factor}): {_on_paper(shoot, load)}"
        )
    said += [
        f"{one_line(plug.light, most=60)} on its battery, about {number_text(plug.battery_h, figures=2)} h"
        for plug in load.plugs if np.isfinite(plug.battery_h)
    ]  # fmt: skip
    return f"Power: {'; '.join(said)}."


def _on_paper(shoot, load):
    """Which circuits carry it at 80 percent."""
    share = percent_text(power.CONTINUOUS_SHARE)
    if not load.fits:
        return f"{load.verdict} ({share} of each breaker)"
    if load.declared:
        used = [c for c in load.circuits if c.lights]
        on = "; ".join(
            f"{one_line(c.name, most=60)}: {', '.join(one_line(name, most=60) for name in c.lights)}, {number_text(c.amps)} of {number_text(c.most_amps)} A"
            for c in used
        )
        return f"fits at {share} of each breaker; {on}"
    one, most = number_text(shoot.breaker_amps), number_text(load.circuits[0].most_amps)
    many = len(load.circuits)
    fewest = "no fewer do" if load.exact else "fewer were not found"
    how = f"one {one} A circuit" if many == 1 else f"{many} circuits of {one} A, {fewest},"
    return f"fits {how} at {share} ({most} A) and {number_text(shoot.mains_volts)} V"
