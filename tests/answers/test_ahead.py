"""One setup ahead: the same numbers, each worked out once, whoever asks and in whatever order."""

import dataclasses

import numpy as np
import pytest

import lightcalc as lc
from lightcalc.answers import ahead

SHOOT = lc.load(lc.demo_path())
TWO = [SHOOT.setup(name) for name in ("5", "8")]


@pytest.mark.slow
def test_answers_are_those_of_the_setup_alone():
    found = ahead.Ahead(TWO)
    found.begin("5")
    for setup in TWO:
        readings, picture = found.get(setup.name)
        alone = lc.readings(setup)
        assert [mark.illuminance_lx for mark in readings.marks] == [mark.illuminance_lx for mark in alone.marks]
        np.testing.assert_array_equal(picture.luminance_cd_m2, lc.picture(setup).luminance_cd_m2)


def test_what_is_known_is_not_asked_again(monkeypatch):
    asked = []
    monkeypatch.setattr(ahead, "answers_of", lambda setup, *known: asked.append((setup.name, known)) or known)
    known = {"5": ("read", "seen")}
    found = ahead.Ahead(TWO, {**known, "8": ("read too", "seen too")})
    assert found.get("5") == known["5"] and found.get("8") == ("read too", "seen too")
    assert [name for name, _ in asked] == ["5", "8"]  # each once, though the second was begun with the first
    assert ahead.answers_of.__name__ == "<lambda>"


def test_a_setup_that_cannot_be_lit_says_so_where_it_is_asked_for(monkeypatch):
    def fails(setup, *known):
        raise ValueError(f"no light in {setup.name}")

    monkeypatch.setattr(ahead, "answers_of", fails)
    found = ahead.Ahead([dataclasses.replace(TWO[0], name="a")], {"a": ("read", "seen")})
    with pytest.raises(ValueError, match="no light in a"):
        found.get("a")
