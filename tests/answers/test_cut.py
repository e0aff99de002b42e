"""Two setups across a cut: differences made by hand, and the second brought to the first."""

import json
from dataclasses import replace

import numpy as np
import pytest

import lightcalc as lc
from lightcalc import __main__ as command
from lightcalc.answers.advice import advise
from lightcalc.answers.cut import TOLERANCE_MIRED, compare_setups, matched_targets
from lightcalc.scene.parts import Mark, Spot

from light_parts import lamp, setup

SHOOT = lc.load(lc.demo_path())
FACE = Mark(name="face", at=(3.9, 3.2, 1.3), aim=(2.4, 0.9, 1.6))


def one_lamp(**more):
    return setup(lights=(lamp("key", (1.9, 1.6, 2.6), 2500.0, kelvin=3200.0),), marks=(FACE,), **more)


def by(found):
    return {(row.of, row.quantity): row for row in found.differences}


def test_a_setup_matches_itself():
    found = compare_setups(SHOOT.setup("1"), SHOOT.setup("1"))
    assert found.matches and all(row.difference == 0.0 or np.isnan(row.difference) for row in found.differences)
    assert "they match" in found.lines()[0]


def test_differences_by_hand_and_their_signs():
    # DERIVED: a lamp half a stop down is half a stop less; a shutter of 90 for 180 degrees is a stop less light and of blur; 3200 to
    # 4300 K is 1e6 / 4300 - 1e6 / 3200 = -79.9 mired. The other way round every sign turns.
    first = one_lamp()
    second = first.with_part("key", dim=2.0**-0.5, kelvin=4300.0).with_part("camera", shutter_deg=90.0)
    there, back = by(compare_setups(first, second)), by(compare_setups(second, first))
    wanted = {("face", "level"): -1.5, ("camera", "blur"): -1.0, ("face", "colour"): 1e6 / 4300 - 1e6 / 3200}
    for key, value in wanted.items():
        assert there[key].difference == pytest.approx(value, abs=2e-2 if key[1] == "colour" else 2e-3) and there[key].flagged
        assert back[key].difference == pytest.approx(-there[key].difference, abs=1e-9)
    assert "face level: " in there["face", "level"].line() and "−1.5 stops, DOES NOT MATCH" in there["face", "level"].line()


@pytest.mark.parametrize("by_stops, flagged", [(0.30, False), (0.36, True), (-0.36, True)])
def test_a_third_of_a_stop_is_let_pass(by_stops, flagged):
    first = one_lamp()
    found = by(compare_setups(first, first.with_part("key", metered_stops=by_stops)))
    assert found["face", "level"].flagged == flagged and found["face", "colour"].flagged is False
    assert abs(1e6 / 3200 - 1e6 / 3400) < TOLERANCE_MIRED < abs(1e6 / 3200 - 1e6 / 3450)


def test_what_one_of_them_does_not_give_is_a_difference():
    # The black room has no fill: neither gives a ratio, and nothing is compared; light on the wall behind is in one alone.
    wall = Spot(name="wall", at=(3.1, 4.7, 1.5))
    dark, lit = one_lamp(spots=(wall,)), one_lamp(spots=(wall,))
    lit = replace(lit, place=replace(lit.place, far=0.3))
    rows = by(compare_setups(dark, lit))
    assert rows["wall", "level"].flagged and rows["wall", "level"].line().endswith("DOES NOT MATCH")
    same = by(compare_setups(dark, dark))["face", "ratio"]
    assert not same.flagged and same.line().endswith("not compared")


def test_nothing_shared_is_one_sentence():
    with pytest.raises(ValueError, match="setups '1' and '3' share no mark or spot: give what is compared the same name in both"):
        compare_setups(SHOOT.setup("1"), SHOOT.setup("3"))


@pytest.mark.slow
def test_matching_by_advice_holds_by_a_full_reading():
    # INDEPENDENT of the advice: the advised setup is read anew, and compared again.
    first = SHOOT.setup("1")
    second = first.with_part("window lamp", dim=0.9 * first.part("window lamp").dim).with_part("camera", t_stop=2.8)
    assert not compare_setups(first, second).matches
    advised = advise(matched_targets(first, second)).apply()
    after = by(compare_setups(first, advised))
    assert not any(after[of, what].flagged for of, what in after if what in ("level", "ratio", "beam_over"))


def test_the_verb(capsys):
    assert command.main(["cut", str(lc.demo_path()), "1", "7"]) == 1
    said = capsys.readouterr().out
    assert said.startswith("cut from 1 to 7, within a third of a stop: 2 of 5 do not match") and "camera blur" in said
    assert command.main(["cut", str(lc.demo_path()), "1", "1", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["cuts"][0]["matches"] is True
    assert command.main(["cut", str(lc.demo_path()), "3"]) == 2
    assert "cut needs two setups: cut FILE FIRST THEN" in capsys.readouterr().err
    assert command.main(["cut", str(lc.demo_path()), "1", "9x"]) == 2
