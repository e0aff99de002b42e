"""Haze in a room from a timeline: a machine's cues and pulses, doors, the room next door; thickness and mass by the minute."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lightcalc.answers.day_course import spans
from lightcalc.kit.droplets import PRESETS, Droplets, phase_table
from lightcalc.laws import haze, ventilation
from lightcalc.scene.parts import Exterior, HazeMachine, Room
from lightcalc.units import check_range

SHIFT_H = 8.0  # the working day that averages are taken over
STEP_MIN = 1.0
MOST_STEPS = 20_000  # a bound: two weeks by the minute
DEFAULT_DROPLETS = "fine glycol haze"


class AirError(ValueError):
    """A question about the air that cannot be answered: one sentence with what is missing and where it goes."""


@dataclass(frozen=True)
class Box:
    """The air of a room, taken as evenly mixed."""

    volume_m3: float
    height_m: float
    air_changes_per_h: float
    wall_per_h: float = 0.0  # onto walls and people, by drying, into a filter

    def __post_init__(self):
        check_range("volume_m3", self.volume_m3, above=0.0, high=1e6)
        check_range("height_m", self.height_m, above=0.0, high=200.0)
        check_range("air_changes_per_h", self.air_changes_per_h, low=0.0, high=200.0, hint="a closed old room is 0.3 to 1")
        check_range("wall_per_h", self.wall_per_h, low=0.0, high=200.0)


@dataclass(frozen=True)
class Cue:
    """The machine running, or pulsing: from a minute, for so long, at a share of full output."""

    at_min: float
    for_min: float
    share: float = 1.0
    on_min: float = 0.0  # with off_min, on and off by turns, on first
    off_min: float = 0.0

    def __post_init__(self):
        check_range("cue at_min", self.at_min, low=0.0)
        check_range("cue for_min", self.for_min, above=0.0)
        check_range("cue share", self.share, low=0.0, high=1.0, hint="share of full output, 1 is full")
        check_range("cue on_min and off_min", (self.on_min, self.off_min), low=0.0)
        if self.off_min and not self.on_min:
            raise AirError(f"cue at {self.at_min:g} min: off_min needs on_min, got {self.off_min:g} and none")

    def pulses(self) -> list[tuple[float, float]]:
        """
        Start and end of every stretch that the machine runs.

        Returns
        -------
        list of (start, end)
            [min]
        """
        end = self.at_min + self.for_min
        if not self.off_min:
            return [(self.at_min, end)]
        turn = self.on_min + self.off_min
        if self.for_min / turn > MOST_STEPS:
            raise AirError(f"cue at {self.at_min:g} min: at most {MOST_STEPS} pulses, got {self.for_min / turn:.0f}")
        starts = self.at_min + turn * np.arange(int(np.ceil(self.for_min / turn - 1e-9)))
        return [(float(start), float(min(start + self.on_min, end))) for start in starts]


@dataclass(frozen=True)
class Door:
    """A door or a window open for a while: more fresh air, or air exchanged with the room next door."""

    at_min: float
    for_min: float
    air_changes_per_h: float = 0.0  # on top of the room's own
    exchange_m3_h: float = 0.0  # each way, with the other room

    def __post_init__(self):
        check_range("door at_min", self.at_min, low=0.0)
        check_range("door for_min", self.for_min, above=0.0)
        check_range("door air_changes_per_h", self.air_changes_per_h, low=0.0, high=200.0)
        check_range("door exchange_m3_h", self.exchange_m3_h, low=0.0, high=1e6)


@dataclass(frozen=True)
class Course:
    """The air of a room over hours; arrays have a row a minute or less."""

    minutes: np.ndarray  # (n,)
    mass_mg_m3: np.ndarray  # (n,)
    other_mg_m3: np.ndarray  # (n,) the room next door; zeros without one
    fluid_g: np.ndarray  # (n,) drunk by the machine so far
    mean_mg_m3: np.ndarray  # (n - 1,) over each step
    mass_extinction_m2_g: float

    @property
    def extinction_per_m(self) -> np.ndarray:
        """Extinction coefficient, (n,). [1/m]"""
        return haze.extinction_from_mass(mass_mg_m3=self.mass_mg_m3, mass_extinction_m2_g=self.mass_extinction_m2_g)

    @property
    def loss_percent_per_m(self) -> np.ndarray:
        """Share of a beam lost in each metre, (n,). [percent]"""
        return haze.loss_percent_per_m(extinction_per_m=self.extinction_per_m)

    @property
    def visibility_m(self) -> np.ndarray:
        """How far a black target is seen, (n,); infinite in clear air. [m]"""
        thick = np.maximum(self.extinction_per_m, 1e-12)
        return np.where(self.extinction_per_m > 1e-9, haze.visibility_from_extinction(extinction_per_m=thick), np.inf)

    @property
    def peak_mg_m3(self) -> float:
        """Highest mass concentration. [mg/m3]"""
        return float(self.mass_mg_m3.max())

    @property
    def shift_mg_m3(self) -> float:
        """Average over eight hours, the worst eight of a longer course; hours not in it count as clear air. [mg/m3]"""
        dose = np.append(0.0, np.cumsum(self.mean_mg_m3 * np.diff(self.minutes)))
        later = np.interp(self.minutes + 60.0 * SHIFT_H, self.minutes, dose)
        return float((later - dose).max() / (60.0 * SHIFT_H))

    def reached(self, extinction_per_m: float) -> float:
        """
        When the air first is so thick.

        Parameters
        ----------
        extinction_per_m : float
            [1/m]

        Returns
        -------
        float
            Infinite where it never is. [min]
        """
        found = self.within(extinction_per_m, np.inf)
        return found[0][0] if found else np.inf

    def within(self, low_per_m: float, high_per_m: float) -> tuple[tuple[float, float], ...]:
        """
        When the air stays inside a band.

        Parameters
        ----------
        low_per_m, high_per_m : float
            Extinction coefficients. [1/m]

        Returns
        -------
        tuple of (start, end)
            [min]
        """
        thick = self.extinction_per_m
        return spans(self.minutes, np.minimum(thick - low_per_m, np.minimum(high_per_m, 1e9) - thick))


def box_of(room: Room | Exterior, *, air_changes_per_h: float | None = None) -> Box:
    """
    The air of a scene's room.

    Parameters
    ----------
    room : Room or Exterior
    air_changes_per_h : float, optional
        Instead of the room's own. [1/h]

    Returns
    -------
    Box

    Raises
    ------
    ValueError
        If the place is no room, or nobody says how its air changes.
    """
    if not isinstance(room, Room):
        raise AirError(f"'{room.name}' is open ground: its air is the wind's")
    changes = room.air_changes_per_h if air_changes_per_h is None else air_changes_per_h
    if changes is None:
        raise AirError(
            f"room '{room.name}' has no air_changes_per_h: add it under [rooms.{room.name}]; a closed old room is 0.3 to 1"
        )
    return Box(room.width_m * room.depth_m * room.height_m, room.height_m, float(changes))


def settling_of(droplets: Droplets) -> float:
    r"""
    Mean speed at which a haze's mass sinks through still air. [m/s]

    Parameters
    ----------
    droplets : droplets.Droplets

    Returns
    -------
    float

    Notes
    -----
    .. math:: \bar v = \int v(d)\, m(\ln d)\, d\ln d

    over the mass, lognormal round the mass median; large drops weigh most and go first, so haze that has hung for an
    hour sinks more slowly than this.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(40)
    sizes = droplets.mass_median_um * droplets.geometric_sd**nodes
    speeds = ventilation.settling_m_s(diameter_um=np.clip(sizes, 0.01, 50.0), density_g_cm3=droplets.density_g_cm3)
    return float(weights @ speeds / weights.sum())


def loss_of(box: Box, droplets: str) -> float:
    """
    Rate at which a haze leaves the air of a room.

    Parameters
    ----------
    box : Box
    droplets : str
        Name of a preset of `droplets`.

    Returns
    -------
    float
        [1/h]
    """
    return float(ventilation.loss_per_h(
        air_changes_per_h=box.air_changes_per_h, settling_m_s=settling_of(_preset(droplets)), height_m=box.height_m,
        wall_per_h=box.wall_per_h,
    ))  # fmt: skip


def _preset(droplets):
    if droplets not in PRESETS:
        raise AirError(f"droplets must be one of {', '.join(PRESETS)}, got {droplets!r}")
    return PRESETS[droplets]


def course(
    box: Box,
    machine: HazeMachine,
    cues: Sequence[Cue],
    *,
    droplets: str = DEFAULT_DROPLETS,
    minutes: float = 480.0,
    doors: Sequence[Door] = (),
    other: Box | None = None,
    start_per_m: float = 0.0,
) -> Course:
    """
    The air of a room over hours, from a timeline of cues and doors.

    Parameters
    ----------
    box : Box
    machine : HazeMachine
    cues : sequence of Cue
        When it runs; cues that overlap are one machine each.
    droplets : str, default 'fine glycol haze'
        A preset of `droplets`.
    minutes : float, default 480
        How long to follow it, > 0. [min]
    doors : sequence of Door
        What is open when.
    other : Box, optional
        The room next door, clear at the start; what doors exchange air with.
    start_per_m : float, default 0
        Extinction of the air at the start. [1/m]

    Returns
    -------
    Course

    Raises
    ------
    ValueError
        If a number is outside its range, there are no such droplets, or a door leads to a room that is not given.

    Notes
    -----
    Cues and doors cut the time into steps of at most a minute with nothing changing inside; each is solved exactly
    (`ventilation.box_mg_m3`, `ventilation.two_rooms_mg_m3`), its mean by Simpson's rule on exact values.
    """
    check_range("minutes", minutes, above=0.0, high=MOST_STEPS * STEP_MIN)
    check_range("start_per_m", start_per_m, low=0.0, high=10.0)
    if other is None and any(door.exchange_m3_h for door in doors):
        raise AirError("a door with exchange_m3_h leads to another room: give it as other")
    thickness = float(phase_table(_preset(droplets).name).mass_extinction_m2_g)
    pulses = [(start, end, cue.share) for cue in cues for start, end in cue.pulses()]
    edges = _edges(minutes, [p[:2] for p in pulses] + [(d.at_min, d.at_min + d.for_min) for d in doors])
    losses = loss_of(box, droplets), loss_of(other, droplets) if other else 0.0
    start_mg_m3 = haze.mass_from_extinction(extinction_per_m=start_per_m, mass_extinction_m2_g=thickness)
    state, fluid = np.array([start_mg_m3, 0.0]), 0.0
    rows = [(state, fluid, 0.0)]
    for start, end in zip(edges[:-1], edges[1:]):
        output = sum(share for a, b, share in pulses if a <= (start + end) / 2 < b)
        half, state = _step(box, other, machine, losses, output, [d for d in doors if _open(d, start, end)], state, end - start)
        fluid += output * machine.fluid_g_per_min * (end - start)
        rows.append((state, fluid, float(rows[-1][0][0] + 4.0 * half[0] + state[0]) / 6.0))
    mass, drunk, mean = (np.array(column) for column in zip(*rows))
    return Course(np.array(edges), mass[:, 0], mass[:, 1], drunk, mean[1:], thickness)


def _edges(minutes, stretches):
    """Where steps begin and end: every minute, and every change."""
    edges = np.concatenate([np.arange(0.0, minutes, STEP_MIN), [minutes], np.ravel(stretches)])
    edges = np.unique(np.round(edges[edges <= minutes], 9))
    if len(edges) > MOST_STEPS:
        raise AirError(f"cues and doors must make at most {MOST_STEPS} steps, got {len(edges)}")
    return edges


def _open(door, start, end):
    return door.at_min <= (start + end) / 2 < door.at_min + door.for_min


def _step(box, other, machine, losses, output, doors, state, long_min):
    """Both rooms half-way through a step and at its end, (2, 2). [mg/m3]"""
    loss = losses[0] + sum(door.air_changes_per_h for door in doors)
    source_g_per_h = 60.0 * output * machine.fluid_g_per_min * machine.droplet_share
    hours = np.array([0.5, 1.0]) * long_min / 60.0
    if other is None:
        one = ventilation.box_mg_m3(time_h=hours, loss_per_h=loss, start_mg_m3=state[0], source_g_per_h=source_g_per_h,
                               volume_m3=box.volume_m3)  # fmt: skip
        return np.stack([one, np.zeros(2)], axis=1)
    return ventilation.two_rooms_mg_m3(
        time_h=hours, volumes_m3=(box.volume_m3, other.volume_m3), losses_per_h=(loss, losses[1]),
        exchange_m3_h=sum(door.exchange_m3_h for door in doors), starts_mg_m3=np.maximum(state, 0.0),
        sources_g_per_h=(source_g_per_h, 0.0),
    )  # fmt: skip
