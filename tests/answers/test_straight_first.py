"""First readings while the engine is compiled: straight light, and beside it what it leaves out."""

import math

import pytest

from lightcalc.answers import readings
from lightcalc.answers.straight_first import SAID, straight_lines, straight_readings
from lightcalc.engine import ready
from lightcalc.scene import shoot_file

SETUPS = shoot_file.load(shoot_file.demo_path()).setups


@pytest.mark.slow
@pytest.mark.parametrize("setup", SETUPS, ids=[setup.name for setup in SETUPS])
def test_each_source_gives_what_it_gives_in_the_whole(setup):
    # The whole has, beside the same straight light, what boards, rooms and haze send; what shade takes of open ground it counts
    # under the sky.
    first, whole = straight_readings(setup), readings.readings(setup, quality="draft")
    assert [mark.name for mark in first.marks] == [mark.name for mark in whole.marks]
    for straight, mark in zip(first.marks, whole.marks):
        for name, lux in straight.by_source.items():
            shaded = 0.8 if name == "sky" else 1.0
            assert shaded * lux * (1 - 1e-6) <= mark.by_source[name] <= lux * (1 + 1e-6)
        assert straight.transmittance == pytest.approx(mark.transmittance, rel=1e-9)
        assert straight.no_ratio == "not yet" and math.isnan(straight.ratio) and math.isnan(straight.veil_stops)


def test_a_mark_without_straight_light_has_no_level_and_nothing_is_judged():
    first = straight_readings(SETUPS[0])
    far = first.mark("clerk, far cheek")
    assert far.by_source == {} and far.illuminance_lx == 0.0 and math.isnan(far.level_stops)
    assert first.spots == () and first.targets == () and [tick.label for tick in first.ladder()] == ["clerk"]


def test_lines_say_what_is_left_out_and_only_while_it_is(monkeypatch):
    assert straight_lines(SETUPS) == []
    monkeypatch.setattr(ready, "missing", lambda: ["one"])
    lines = straight_lines(SETUPS[:1])
    lux = straight_readings(SETUPS[0]).mark("clerk").illuminance_lx
    assert lines == [f"{SAID}:", f"  1, clerk: {lux:.0f} lx, −0.4 stops", "  1, clerk, far cheek: none"]
    assert "fc" in straight_lines(SETUPS[:1], "feet")[1]
