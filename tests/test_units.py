"""The edges of the unit system: against the exact definitions of foot and foot-candle."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightcalc import units


def test_factors_are_the_definitions():
    # PUBLISHED: international foot 0.3048 m, exact (1959); NIST SP 811, appendix B: foot-candle 10.76391 lx,
    # foot-lambert 3.426259 cd/m2, both as printed.
    assert units.FT == 0.3048
    assert pytest.approx(10.76391, rel=1e-7) == units.FC
    assert pytest.approx(3.426259, rel=2e-7) == units.FL


def test_conversions_go_the_right_way():
    # DERIVED: 12 ft = 3.6576 m; 100 fc = 1076.391 lx; a matt white surface under 1 fc is 1 fL: L = E/pi.
    assert units.m_from_ft(12) == pytest.approx(3.6576, rel=1e-12)
    assert units.lx_from_fc(100) == pytest.approx(1076.391, rel=1e-6)
    assert units.cd_m2_from_fl(1.0) == pytest.approx(units.lx_from_fc(1.0) / np.pi, rel=1e-12)


@given(st.floats(min_value=1e-6, max_value=1e9))
def test_there_and_back(value):
    # DERIVED: each pair is its own inverse; 1e-12 is rounding.
    for there, back in (
        (units.m_from_ft, units.ft_from_m),
        (units.lx_from_fc, units.fc_from_lx),
        (units.cd_m2_from_fl, units.fl_from_cd_m2),
        (units.ratio_from_stops, units.stops),
    ):
        start = np.log(value) if there is units.ratio_from_stops else value  # 2^value would overflow
        assert back(there(start)) == pytest.approx(start, rel=1e-12, abs=1e-12)


def test_lux_times_area_is_the_same_light_in_feet():
    # DERIVED: the inverse square law holds in either system: 45 000 cd at 12 ft is 312.5 fc.
    assert units.fc_from_lx(45_000 / units.m_from_ft(12) ** 2) == pytest.approx(312.5, rel=1e-12)


def test_stops():
    # DERIVED: log2: 1, 2, 1/3; a third of a stop is 1.26, ten times is 3.32.
    assert units.stops(np.array([1.0, 2.0, 0.125, 10.0])) == pytest.approx([0.0, 1.0, -3.0, 3.321928], rel=1e-6)
    assert units.ratio_from_stops(1 / 3) == pytest.approx(1.259921, rel=1e-6)
    assert units.stops(0.0) == -np.inf


def test_arrays_keep_their_shape():
    grid = units.m_from_ft(np.array([[1.0, 2.0], [3.0, 4.0]]))
    assert grid.shape == (2, 2) and grid[1, 0] == pytest.approx(units.m_from_ft(3.0), rel=1e-15)
    assert np.ndim(units.stops(8)) == 0


@pytest.mark.parametrize("limits", [{"low": 0.0}, {"high": 4.0}, {"above": 0.0, "below": 4.0}, {}])
def test_what_lies_inside_passes(limits):
    units.check_range("x", np.array([0.5, 3.9]), **limits)
    units.check_range("x", [], **limits)


@pytest.mark.parametrize(
    ("value", "limits", "message"),
    [
        (-0.1, {"low": 0.0}, r"^x must be >= 0, got -0\.1$"),
        (4.1, {"high": 4.0}, r"^x must be <= 4, got 4\.1$"),
        (0.0, {"above": 0.0, "hint": "metres"}, r"^x must be > 0, got 0: metres$"),
        (4.0, {"below": 4.0}, r"^x must be < 4, got 4$"),
        (np.nan, {}, r"^x must be a finite number, got nan$"),
        (-np.inf, {"high": 4.0}, r"^x must be a finite number, got -inf$"),
        ([1.0, 7.0, 9.0], {"low": 0.0, "high": 4.0}, r"^x must be >= 0 and <= 4, got 7$"),
    ],
)
def test_what_lies_outside_is_refused(value, limits, message):
    with pytest.raises(ValueError, match=message):
        units.check_range("x", value, **limits)


def test_a_word_is_refused():
    with pytest.raises(ValueError):
        units.check_range("x", "bright")
