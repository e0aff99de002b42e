"""Engraved scales against preferred numbers and the arithmetic of a third; a variable filter against Malus' law."""

import numpy as np
import pytest

from lightcalc.laws import engraved


def test_the_speed_dial():
    # PUBLISHED: the R10 series of preferred numbers, ISO 3:1973: 1 1.25 1.6 2 2.5 3.15 4 5 6.3 8; speeds round 3.15 to
    # 3.2 and 6.3 to 6.4 (ISO 12232:2019, table of speeds: 100 125 160 200 250 320 400 500 640 800 ...).
    label, exact, change = engraved.thirds(scale="iso", low=100, high=800)
    assert label.tolist() == [100, 125, 160, 200, 250, 320, 400, 500, 640, 800]
    assert exact[[0, 3, 6, 9]] == pytest.approx([100, 200, 400, 800], rel=1e-12)
    assert np.diff(change) == pytest.approx(np.full(9, 1 / 3), rel=1e-12)
    label, exact, _ = engraved.thirds(scale="iso")
    assert np.max(np.abs(np.log2(label / exact))) < 0.03


def test_the_shutter_dial():
    # COMMON PRACTICE: 48, 60, 80, 96, 120 are what dials say from 180 degrees at 24 fps up. DERIVED: whole stops double.
    label, exact, change = engraved.thirds(scale="shutter")
    assert label[np.isin(engraved.ONE_OVER_STEPS, [0, 1, 2, 3, 4])].tolist() == [48, 60, 80, 96, 120]
    assert 1.0 / exact[[0, 3, 6, 9]] == pytest.approx([24, 48, 96, 192], rel=1e-12)
    assert np.max(np.abs(np.log2(label * exact))) < 0.11 and change[3] == 0.0


def test_the_filters():
    # PUBLISHED: density is -log10 of the transmittance (CIE S 017:2020): 0.3 is 10^-0.3 = .5012, .9966 stop; the trade
    # counts it as one. DERIVED: the two differ by .34 %, .034 stop at 10 stops.
    assert engraved.nd_stops_from_density(density=0.3) == pytest.approx(0.99658, abs=1e-5)
    label, exact, change = engraved.thirds(scale="nd")
    assert dict(zip(label.round(1).tolist(), exact.round(6).tolist()))[1.2] == 4.0 and change[-1] == pytest.approx(-10.0)
    assert engraved.nd_stops_from_density(density=label) == pytest.approx(exact, rel=3.5e-3)


def test_the_t_stop_ring_is_the_exposure_modules():
    label, exact, change = engraved.thirds(scale="t_stop", low=1.4, high=2.8)
    assert label.tolist() == [1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8]
    assert exact[[0, 3, 6]] == pytest.approx(np.sqrt([2, 4, 8]), rel=1e-12) and change[3] == pytest.approx(-2.0)


def test_the_nearest_number():
    # DERIVED: every number is nearest to what it stands for, and to anything within a sixth of a stop of it.
    for scale in engraved.SCALES:
        label, exact, _ = engraved.thirds(scale=scale)
        assert engraved.nearest_third(scale=scale, value=exact).tolist() == label.tolist()
    assert engraved.nearest_third(scale="iso", value=800 * 2**0.16) == 800
    assert engraved.nearest_third(scale="iso", value=800 * 2**0.17) == 1000
    assert engraved.nearest_third(scale="nd", value=[0.1, 2.1]).tolist() == [0.0, 0.6]
    assert np.ndim(engraved.nearest_third(scale="shutter", value=0.02)) == 0


def test_two_polarisers():
    # PUBLISHED: Malus' law. DERIVED: the first halves the light; cos^2 45 = 1/2, cos^2 60 = 1/4, 75 deg .067; crossed
    # only the leak is left: 1 - log2(1/4096) = 13 stops.
    got = engraved.variable_nd_stops(turn_deg=[0, 45, 60, 75, 90], loss_stops=0.0, leak=2.0**-12)
    assert got == pytest.approx([1.0, 2.0, 3.0, 4.8998, 13.0], abs=6e-3)
    for stops in (1.6, 2.0, 5.5, 9.0):
        turn = engraved.variable_nd_turn_deg(nd_stops=stops)
        assert engraved.variable_nd_stops(turn_deg=turn) == pytest.approx(stops, abs=1e-9)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: engraved.thirds(scale="asa"), r"scale must be one of t_stop, iso, shutter, nd, got 'asa'"),
    (lambda: engraved.nearest_third(scale="iso", value=0), r"value must be > 0, got 0"),
    (lambda: engraved.nearest_third(scale="iso", value=10), r"value must lie on the iso scale, 50 to 102400.*got 10"),
    (lambda: engraved.nd_stops_from_density(density=-0.3), r"density must be >= 0, got -0.3: ND 0.9 is 3 stops"),
    (lambda: engraved.variable_nd_stops(turn_deg=95), r"turn_deg must be >= 0 and <= 90, got 95"),
    (lambda: engraved.variable_nd_turn_deg(nd_stops=0.5), r"nd_stops must be >= 1.33333 and <= 13.6.*got 0.5"),
])  # fmt: skip
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()
