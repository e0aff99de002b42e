"""Numbers and words: exact inches, three figures, a true minus, one line."""

import numpy as np
import pytest

from lightcalc import wording


def test_lengths_in_feet_are_exact_inches():
    # PUBLISHED: international foot 0.3048 m (1959), so an inch is 25.4 mm.
    assert wording.length_text(2.54, units="feet") == "8' 4\""
    assert wording.length_text(0.3048 * 3 - 0.0001, units="feet") == "3' 0\""  # never 2' 12"
    assert wording.length_text(-0.61, units="feet") == "-2' 0\""


def test_numbers_keep_three_figures_and_never_an_exponent():
    # DERIVED: rounding by hand.
    wanted = {123_456.0: "123000", 0.000012345: "0.0000123", 60.0: "60", 1.005: "1", 0.0: "0", -2.345: "-2.35", 1e-30: "0"}
    assert {value: wording.number_text(value) for value in wanted} == wanted
    assert wording.number_text(np.inf) == "–"


def test_stops_have_a_true_minus_and_no_minus_zero():
    # DERIVED: rounding by hand.
    assert [wording.stops_text(v) for v in (-0.04, 0.04, -1.26, np.nan, -np.inf)] == ["0.0", "0.0", "−1.3", "–", "no light"]


@pytest.mark.parametrize("bad", ["ft", "", None])
def test_units_are_named(bad):
    with pytest.raises(ValueError, match="units must be one of metric, feet"):
        wording.length_text(1.0, units=bad)


def test_someones_words_stay_on_one_line():
    assert wording.one_line("a\n b\t\x00c") == "a b c"
