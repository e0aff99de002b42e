"""Thousands of random gestures on the stage: no exception, no number that is none, no memory that only grows."""

import gc
import json
import math
import os
from pathlib import Path

import numpy as np
import pytest

from lightcalc.kit.candela import Beam
from lightcalc.kit.materials import Diffusion, Stuff
from lightcalc.panels.page_values import values_of
from lightcalc.panels.stage import Stage
from lightcalc.scene import shoot_file
from lightcalc.scene.parts import Board, Frame, Light

from stage_parts import Count, Quarters, loft

NONSENSE = [
    None, True, "", "twelve", "1e9", [], {}, [[]], [1], [1, 2], [1, 2, "z"], [1, 2, 3, 4], [None] * 3, math.nan, math.inf, -math.inf,
    1e308, -1e308, 1e-320, -0.0, 10**400, 2**63, "\N{SNOWMAN}", "x" * 5000, {"at": 1}, -1, 0, 1e5,
]  # fmt: skip


class Hand:
    """A hand with a fixed seed: what it does next, as the page would send it."""

    def __init__(self, stage, seed):
        self.stage, self.rng, self.seq, self.gesture = stage, np.random.default_rng(seed), 0, ""

    def act(self):
        kinds = (self.drag, self.turn, self.nudge, self.slide, self.slide_time, self.history, self.units, self.nonsense, self.junk)
        self.rng.choice(kinds, p=(0.3, 0.12, 0.14, 0.12, 0.04, 0.12, 0.02, 0.1, 0.04))()

    def send(self, *ops):
        self.seq += 1
        self.stage._handle_custom_msg({"ops": list(ops), "client": "hand", "seq": self.seq}, [])
        assert self.stage.ack == ["hand", self.seq], "every message is answered"

    def move(self, thing, **fields):
        self.send({"move": {thing: fields}, "gesture": self.gesture})

    def new(self):
        self.gesture = f"g{self.seq}"

    def thing(self, *fields):
        values = self.stage.values
        return str(self.rng.choice([thing for thing in values if set(fields) <= set(values[thing])]))

    def drag(self):
        """A few positions of one drag: sometimes off the plan, through walls and the floor."""
        self.new()
        field = "at" if self.rng.random() < 0.7 or not self.stage.place["windows"] else "centre_m"
        thing = self.thing(field)
        for _ in range(self.rng.integers(1, 4)):
            if field == "at":
                self.move(thing, at=[round(float(v), 2) for v in self.rng.uniform(-1.5, 8.0, 3)])
            else:
                self.move(
                    thing, centre_m=round(float(self.rng.uniform(-1, 6)), 2), sill_m=round(float(self.rng.uniform(-0.5, 3)), 2)
                )

    def turn(self):
        self.new()
        if self.rng.random() < 0.5:
            self.move(self.thing("aim"), aim=[round(float(v), 2) for v in self.rng.uniform(-2.0, 9.0, 3)])
        else:
            self.move(self.thing("roll_deg"), roll_deg=float(self.rng.integers(-180, 180)))

    def nudge(self):
        """Taps on the last gesture: one step to undo."""
        thing = self.thing("at")
        at = list(self.stage.values[thing]["at"])
        axis = self.rng.integers(3)
        at[axis] = round(at[axis] + float(self.rng.choice([-0.5, -0.1, -0.01, 0.01, 0.1, 0.5])), 4)
        self.move(thing, at=at)

    def slide(self):
        self.new()
        if self.rng.random() < 0.5:
            self.move("haze", extinction_per_m=round(float(self.rng.uniform(0.0, 0.2)), 3))
        else:
            self.move(
                self.thing("dim_stops"), dim_stops=None if self.rng.random() < 0.2 else round(float(self.rng.uniform(-6, 0)), 1)
            )

    def slide_time(self):
        self.new()
        self.move("time", minute=int(self.rng.choice(Quarters.minutes)))

    def history(self):
        self.send({"step": int(self.rng.choice([-3, -1, -1, -1, 1, 1, 2, 40, -500]))})

    def units(self):
        self.stage.set_state({"units": str(self.rng.choice(["metric", "feet"]))})

    def nonsense(self):
        """Something typed that is no number, or a good field with a value that cannot be."""
        thing = self.thing()
        fields = list(self.stage.values[thing]) or ["at"]
        self.move(thing, **{str(self.rng.choice(fields)): NONSENSE[self.rng.integers(len(NONSENSE))]})

    def junk(self):
        """What no page sends."""
        odd = NONSENSE[self.rng.integers(len(NONSENSE))]
        self.send({str(self.rng.choice(["move", "step", "save", "jump"])): odd, "gesture": odd})


def plain(stage):
    """Everything that the page is sent, as strict JSON: this raises on a NaN or an infinity."""
    return json.dumps([stage.place, stage.values, stage.shown, stage.ack], allow_nan=False)


def resident_bytes():
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")


def furnished(**changes):
    """The loft with one thing of every kind."""
    white = Stuff(name="white", reflectance=0.8)
    return loft(
        boards=(Board(name="fill", at=(1.0, 2.6, 1.1), aim=(4.1, 2.7, 1.5), width_m=1.2, height_m=1.2, stuff=white),),
        frames=(
            Frame(
                name="silk",
                at=(5.4, 2.6, 1.6),
                aim=(4.1, 2.7, 1.5),
                width_m=1.5,
                height_m=1.5,
                diffusion=Diffusion(name="silk", direct=0.2, diffuse=0.4),
            ),
        ),
        lights=loft().lights
        + (
            Light(
                name="lantern", at=(3.3, 1.2, 1.0), aim=(3.3, 1.2, 0.2), distribution=Beam(peak_cd=40, beam_deg=100, field_deg=160)
            ),
        ),
        **changes,
    )


@pytest.mark.slow
def test_ten_thousand_gestures_leave_a_sound_stage():
    stage = Stage(furnished(), engine=Count().engine(), clock=Quarters(), draft_px=16, final_px=32)
    other = stage.twin(parts=("plan", "ladder"))
    stage._settle_later = lambda: None  # the hand does not rest; it does below, now and then
    hand, before = Hand(stage, 20), None
    stage.engine.light.__self__.asked = Forgets()
    for i in range(10_000):
        hand.act()
        if i % 25 == 0:
            stage.settle()
            plain(stage), plain(other)
            assert stage.values == values_of(stage.setup) | {"time": {"minute": stage.minute}} == other.values
            assert other.shown["marks"] == stage.shown["marks"] and other.shown["undo"] == stage.shown["undo"] <= 200
        if i == 2_000:
            gc.collect()
            before = resident_bytes()
    gc.collect()
    assert hand.seq > 10_000 and resident_bytes() < 1.05 * before


class Forgets(list):
    """A list that keeps nothing: the counting engine would remember every setup it was shown."""

    def append(self, item):
        pass


@pytest.mark.slow
@pytest.mark.parametrize("name", ["1", "8"])
def test_the_packages_own_engine_takes_them_too(name):
    stage = Stage(shoot_file.load(shoot_file.demo_path()).setup(name), draft_px=32, final_px=48)
    stage._settle_later = lambda: None
    hand = Hand(stage, 7)
    for _i in range(75):
        hand.act()
        plain(stage)
        assert np.isfinite(stage._state.picture.luminance_cd_m2).all()
    stage.settle()
    assert stage.shown["quality"] == {"readings": "final", "picture": "final"}
    for mark in stage.readings.marks:
        assert math.isfinite(mark.illuminance_lx) and mark.illuminance_lx >= 0.0
