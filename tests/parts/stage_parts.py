"""A setup and a stand-in engine for the stage's own tests: what is tested there is the widget, not the light."""

import math
import time
from dataclasses import dataclass, field, replace

import numpy as np

from lightcalc.answers.colour_mix import Mix
from lightcalc.kit.candela import Beam
from lightcalc.panels.compute import Engine
from lightcalc.scene.parts import Camera, Flag, Haze, Light, Mark, Room, Setup, Sky, Spot, Sun, Target, Window


def loft(**changes):
    """The drying loft: a lamp outside a barred window, a soft lamp inside, a packer and a door."""
    window = Window(name="loading door", wall="right", centre_m=2.6, sill_m=0.9, width_m=1.1, height_m=1.4, bars_upright=2)
    parts = dict(
        name="loft_day",
        title="Drying loft, day",
        place=Room(name="loft", width_m=6.3, depth_m=4.7, height_m=3.1, windows=(window,)),
        camera=Camera(at=(1.1, 0.6, 1.5), aim=(4.3, 3.1, 1.4), t_stop=4.0, iso=800),
        lights=(
            Light(
                name="key",
                at=(9.4, 2.9, 3.3),
                aim=(4.4, 2.5, 0.8),
                distribution=Beam(peak_cd=60_000, beam_deg=24, field_deg=40),
                kit="2 kW spot",
            ),
            Light(
                name="soft",
                at=(2.2, 3.9, 2.1),
                aim=(3.9, 2.9, 1.4),
                distribution=Beam(peak_cd=900, beam_deg=80, field_deg=120),
                face_width_m=0.6,
                face_height_m=0.6,
                dim=0.5,
            ),
        ),
        flags=(Flag(name="cutter", at=(3.1, 3.6, 1.9), aim=(3.9, 2.9, 1.4), width_m=0.9, height_m=0.6),),
        marks=(
            Mark(name="packer", at=(4.1, 2.7, 1.5), aim=(1.1, 0.6, 1.5), figure=True),
            Mark(name="door", at=(1.3, 3.9, 1.4), aim=(3.0, 2.0, 1.4)),
        ),
        spots=(Spot(name="back wall", at=(4.4, 4.7, 1.6)), Spot(name="beam", at=(5.0, 2.6, 1.3), source="key")),
        haze=Haze(extinction_per_m=0.05),
        targets=(
            Target(of="packer", quantity="level", stops=-0.3),
            Target(of="packer", quantity="fill_under", stops=-2.0),
            Target(of="beam", quantity="beam_over", stops=1.5),
        ),
    )
    return Setup(**(parts | changes))


@dataclass(frozen=True)
class MarkRow:
    name: str
    illuminance_lx: float
    by_source: dict
    level_stops: float
    key: tuple
    key_lx: float
    fill_lx: float
    ratio: float
    key_to_fill: float
    ratio_stops: float
    fill_under_stops: float
    transmittance: float
    veil_cd_m2: float
    veil_stops: float
    veil_share: float
    mix_kelvin: float = 3200.0
    no_ratio: str = ""
    other_cheek: str = ""
    cheeks_lx: tuple = ()

    @property
    def mix(self):
        return Mix(self.mix_kelvin, 0.0)


@dataclass(frozen=True)
class SpotRow:
    name: str
    luminance_cd_m2: float
    level_stops: float
    air_cd_m2: float
    source: str
    background_cd_m2: float
    beam_over_stops: float


@dataclass(frozen=True)
class TargetRow:
    of: str
    quantity: str
    wanted_stops: float
    within: float
    got_stops: float
    met: bool
    miss_stops: float
    bound: str = "about"

    @property
    def low_stops(self):
        return self.wanted_stops - self.within

    @property
    def high_stops(self):
        return self.wanted_stops + self.within


@dataclass(frozen=True)
class Tick:
    label: str
    stops: float
    kind: str


@dataclass(frozen=True)
class Rows:
    setup: str
    reference_lx: float
    reference_cd_m2: float
    marks: tuple
    spots: tuple
    targets: tuple

    def ladder(self):
        ticks = [Tick(m.name, m.level_stops, "mark") for m in self.marks]
        return tuple(ticks + [Tick(s.name, s.level_stops, "beam" if s.source else "spot") for s in self.spots])

    def lines(self, units="metric"):
        return [f"{m.name} {m.level_stops:+.1f}" for m in self.marks]


@dataclass(frozen=True)
class Seen:
    luminance_cd_m2: np.ndarray
    reference_cd_m2: float

    @property
    def level_stops(self):
        with np.errstate(divide="ignore"):
            return np.log2(self.luminance_cd_m2 / self.reference_cd_m2)

    def rgba(self):
        grey = np.uint8(np.clip(118 + 20 * np.nan_to_num(self.level_stops, neginf=-10), 0, 255))
        return np.dstack([grey, grey, grey, np.full_like(grey, 255)])


def log2(value):
    return math.log2(value) if value > 0 else -math.inf


@dataclass
class Count:
    """An engine that counts and remembers what it was asked: inverse square and nothing else."""

    asked: list = field(default_factory=list)
    slow_s: float = 0.0
    fails: bool = False

    def engine(self):
        return Engine(light=self.light, readings=self.readings, picture=self.picture)

    def light(self, setup, quality):
        if self.fails:
            raise RuntimeError("the lamp is not in its case")
        self.asked.append((setup, quality))
        time.sleep(self.slow_s)
        return setup

    def readings(self, setup, lit, quality):
        reference = setup.camera.reference_lx
        marks = tuple(self._mark(setup, mark, reference) for mark in setup.marks)
        spots = tuple(
            SpotRow(s.name, 3.0, -1.04, 0.5, s.source, 1.5 if s.source else math.nan, 1.0 if s.source else math.nan)
            for s in setup.spots
        )
        levels = {m.name: m.level_stops for m in marks} | {s.name: s.level_stops for s in spots}
        targets = tuple(
            TargetRow(
                t.of, t.quantity, t.stops, t.within, levels[t.of], abs(levels[t.of] - t.stops) <= t.within, levels[t.of] - t.stops
            )
            for t in setup.targets
        )
        return Rows(setup.name, reference, setup.camera.reference_cd_m2, marks, spots, targets)

    def _mark(self, setup, mark, reference):
        by = {light.name: 4e3 * light.dim / np.sum(np.square(np.subtract(light.at, mark.at))) for light in setup.lights}
        by["room"] = 100.0 * setup.haze.extinction_per_m
        total, key = sum(by.values()), max(by, key=by.get)
        fill = total - by[key]
        ratio = total / fill if fill > 0 else math.inf
        return MarkRow(
            mark.name, total, by, log2(total / reference), (key,), by[key], fill, ratio, ratio - 1, log2(ratio), log2(ratio),
            0.9, 0.1, -5.0, 0.07,
        )  # fmt: skip

    def picture(self, setup, width, lit, quality):
        height = round(width * setup.camera.sensor_height_mm / setup.camera.sensor_width_mm)
        u, v = np.meshgrid(np.linspace(0, 1, width), np.linspace(0, 1, height))
        key = setup.lights[0] if setup.lights else None
        glow = 0.0 if key is None else 8.0 * key.dim * np.exp(-8 * ((u - key.at[0] / 12) ** 2 + (v - 1 + key.at[1] / 5) ** 2))
        return Seen(np.float32(0.01 + glow + setup.haze.extinction_per_m), 1.0)


class Quarters:
    """A clock of quarter hours from noon to four: the sun falls a degree a quarter, the sky dims with it."""

    minutes = tuple(range(720, 960, 15))

    def text(self, minute):
        return f"{minute // 60:02d}:{minute % 60:02d}"

    def setup_at(self, setup, minute):
        step = self.minutes.index(minute)
        sky = Sky(zenith_cd_m2=4000.0 - 100.0 * step, horizon_cd_m2=2000.0 - 50.0 * step)
        return replace(
            setup,
            title="not for the stage",
            sun=Sun(bearing_deg=180.0 + 4.0 * step, elevation_deg=30.0 - step, normal_lx=60_000.0),
            sky=sky,
        )
