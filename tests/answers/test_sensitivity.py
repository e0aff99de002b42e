"""Small slips: by the inverse square and by arithmetic in a black room, against whole readings of the demo."""

from dataclasses import replace

import numpy as np
import pytest

import lightcalc as lc
from lightcalc import __main__ as command
from lightcalc.answers.sensitivity import sensitivity
from lightcalc.scene.parts import Haze, Mark, Target

from light_parts import lamp, setup

SHOOT = lc.load(lc.demo_path())
FACE = Mark(name="face", at=(3.9, 3.2, 1.3), aim=(2.4, 0.9, 1.6))


def one_lamp(**more):
    return setup(lights=(replace(lamp("key", (1.9, 1.6, 2.6), 2500.0), aim=FACE.at),), marks=(FACE,), **more)


def by_words(found):
    return {slip.said: {(one.of, one.quantity): one.stops for one in slip.effects} for slip in found.slips}


def test_one_lamp_in_a_black_room():
    # DERIVED: a third up is a third up; half a metre further along its own line is the inverse square; the camera moves levels.
    found = by_words(sensitivity(one_lamp()))
    apart = np.linalg.norm(np.subtract((1.9, 1.6, 2.6), FACE.at))
    level = ("face", "level")
    assert found["key 1/3 stop up"][level] == pytest.approx(1 / 3, abs=1e-6)
    assert found["key 0.5 m further off"][level] == pytest.approx(2 * np.log2(apart / (apart + 0.5)), abs=1e-3)
    assert found["the camera 1/3 stop more open"][level] == pytest.approx(1 / 3)
    assert set(found) == {"key 1/3 stop up", "key 0.5 m further off", "the camera 1/3 stop more open"}  # no board, haze or sky


def test_thicker_haze_dims_and_veils():
    # DERIVED: straight light loses exp(-0.1 k d) more; light turned twice is little in haze so thin.
    k = 0.004
    found = by_words(sensitivity(one_lamp(haze=Haze(extinction_per_m=k, g=0.75))))["haze 10 % thicker"]
    apart = np.linalg.norm(np.subtract((1.9, 1.6, 2.6), FACE.at))
    assert found["face", "level"] == pytest.approx(-0.1 * k * apart / np.log(2), abs=2e-3)
    assert found["face", "veil"] == pytest.approx(np.log2(1.1), abs=0.01)


def test_what_cannot_stand_there_is_said():
    # A lamp twenty centimetres from the wall behind it would stand in that wall.
    near = replace(lamp("key", (0.2, 3.2, 1.3), 2500.0), aim=FACE.at)
    (slip,) = [one for one in sensitivity(setup(lights=(near,), marks=(FACE,))).slips if "further off" in one.said]
    assert slip.effects == () and slip.cannot and "not tried" in slip.line()


def test_a_target_on_the_edge_is_lost():
    # DERIVED: the level is its target's upper end less a tenth; a third more is over it, and the ratio's target has none to lose.
    level = lc.readings(one_lamp()).mark("face").level_stops
    held = one_lamp(targets=(Target(of="face", quantity="level", stops=level - 0.2, within=0.3),))
    lost = {slip.said: slip.lost for slip in sensitivity(held).slips}
    assert lost["key 1/3 stop up"] and "face level" in lost["key 1/3 stop up"][0] and lost["key 0.5 m further off"] == ()


@pytest.mark.slow
def test_against_whole_readings_of_the_demo():
    # INDEPENDENT of the drafts: final readings of the same changed setups, worked out here.
    made = SHOOT.setup("1")
    found = by_words(sensitivity(made))
    thicker = replace(made, haze=replace(made.haze, extinction_per_m=1.1 * made.haze.extinction_per_m))
    at, aim = (np.array(getattr(made.part("window lamp"), field)) for field in ("at", "aim"))
    further = made.with_part("window lamp", at=tuple(at + 0.5 * (at - aim) / np.linalg.norm(at - aim)))
    before = lc.readings(made)
    for said, changed in (("haze 10 % thicker", thicker), ("window lamp 0.5 m further off", further)):
        after = lc.readings(changed)
        for part in before.marks + before.spots:
            now = after[part.name]
            assert found[said][part.name, "level"] == pytest.approx(now.level_stops - part.level_stops, abs=0.02), (said, part.name)
        spot = found[said]["beam", "beam_over"]
        assert spot == pytest.approx(after.spot("beam").beam_over_stops - before.spot("beam").beam_over_stops, abs=0.02)


def test_the_verb_and_its_progress(capsys):
    assert command.main(["sensitivity", str(lc.demo_path()), "3"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("3: what a small slip does") and "sun board turned 10 degrees: raker " in said
    shares = []
    sensitivity(one_lamp(), told=shares.append)
    assert shares[0] == 0.0 and shares[-1] == 1.0 and shares == sorted(shares)
