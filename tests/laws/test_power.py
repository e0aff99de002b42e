"""What the lights draw: against the code's worked figures, two cable formulas that must agree, and energy."""

import numpy as np
import pytest

from lightcalc.laws import power

import second_ways


@pytest.mark.parametrize(("watts", "volts", "amps"), [(2000, 120, 16.67), (2000, 230, 8.70), (650, 230, 2.826)])
def test_amps(watts, volts, amps):
    # DERIVED: P/V; half the last digit of 8.70 is 6e-4.
    assert power.amps(watts=watts, volts=volts) == pytest.approx(amps, rel=6e-4)
    # DERIVED: half the power factor, twice the current; back to watts.
    doubled = power.amps(watts=watts, volts=volts, power_factor=0.5)
    assert doubled * volts * 0.5 == pytest.approx(watts, rel=1e-12)


@pytest.mark.parametrize(("breaker", "amps", "watts"), [(15, 12, 1440), (20, 16, 1920)])
def test_continuous_loading(breaker, amps, watts):
    # PUBLISHED: NEC 210.19(A)(1), 210.20(A): 125 % of a continuous load, so 80 % of the breaker; 120 V.
    assert power.circuit_amps(breaker_amps=breaker) == pytest.approx(amps, rel=1e-12)
    assert power.circuit_watts(breaker_amps=breaker, volts=120.0) == pytest.approx(watts, rel=1e-12)
    assert 1.25 * power.circuit_amps(breaker_amps=breaker) == pytest.approx(breaker, rel=1e-12)
    assert power.circuit_amps(breaker_amps=breaker, continuous=False) == breaker


def test_circuit_loading_meets_its_limit():
    # DERIVED: the continuous watts of a circuit load it to exactly 0.8, whatever the power factor.
    circuit = {"breaker_amps": 16.0}
    watts = power.circuit_watts(volts=230.0, power_factor=0.93, **circuit)
    draws = power.amps(watts=watts, volts=230.0, power_factor=0.93)
    assert power.circuit_loading(load_amps=draws, **circuit) == pytest.approx(power.CONTINUOUS_SHARE, rel=1e-12)
    assert power.CONTINUOUS_SHARE == 0.8


@pytest.mark.parametrize(("amps", "volts", "percent"), [(20, 7.9, 6.6), (16, 6.32, 5.27)])
def test_cable_drop_in_feet(amps, volts, percent):
    # PUBLISHED: worked example of 2 K I L/CM, K 12.9, no. 12 = 6530 CM, 100 ft, 20 A: 7.9 V, 6.6 % of 120 (two
    # figures); 16 A by the same, three figures.
    drop = second_ways.cable_drop_circular_mil_v(load_amps=amps, length_ft=100.0, area_cmil=6530.0)
    assert drop == pytest.approx(volts, rel=1e-3)
    assert power.drop_percent(drop_v=drop, volts=120.0) == pytest.approx(percent, rel=3e-3)


@pytest.mark.parametrize(("celsius", "volts"), [(20.0, 5.517), (75.0, 6.710)])
def test_cable_drop_in_metres(celsius, volts):
    # DERIVED: 2 rho L I/A, 2.5 mm2, 16 A, 25 m, with IEC 60028:1925 copper (.017241 at 20 C, .00393 per K; also NBS
    # Handbook 100). Four figures.
    drop = power.cable_drop_v(load_amps=16.0, length_m=25.0, area_mm2=2.5, conductor_c=celsius)
    assert drop == pytest.approx(volts, rel=1e-4)


def test_copper_is_58_siemens():
    # PUBLISHED: IEC 60028:1925 defines the standard as 1/58 ohm mm2/m at 20 C; .017241 is that to five figures, 3e-5.
    assert pytest.approx(1.0 / 58.0, rel=3e-5) == power.COPPER_OHM_MM2_PER_M


def test_the_two_cable_formulas_are_one():
    # INDEPENDENT: constants from two trades, feet and mils against metres. No. 12 is 80.81 mil: 6530 CM, 3.309 mm2.
    # K 12.9 is copper at 82 C; there the two agree within 0.3 %, at 20 C the trade's is 24 % over.
    area_mm2 = 6530.0 * np.pi / 4.0 * 0.0254**2
    trade = second_ways.cable_drop_circular_mil_v(load_amps=16.0, length_ft=82.0, area_cmil=6530.0)
    ours = power.cable_drop_v(load_amps=16.0, length_m=82.0 * 0.3048, area_mm2=area_mm2, conductor_c=np.array([82.0, 20.0]))
    assert trade / ours == pytest.approx([1.0, 1.244], rel=3e-3)


def test_drop_is_ohms_law():
    # INDEPENDENT: ten one-metre lengths in series, both conductors, each with its own resistance.
    ohm = power.COPPER_OHM_MM2_PER_M / 1.5
    summed = sum(13.0 * ohm for _ in range(10) for _ in ("out", "back"))
    assert power.cable_drop_v(load_amps=13.0, length_m=10.0, area_mm2=1.5) == pytest.approx(summed, rel=1e-12)


def test_battery_hours():
    # DERIVED: 98 W h x .8 x .9 / 45 W = 1.568 h; energy out of a perfect one is all of it.
    assert power.battery_hours(capacity_wh=98.0, watts=45.0) == pytest.approx(1.568, rel=1e-12)
    hours = power.battery_hours(capacity_wh=26.0 * 14.4, watts=np.array([31.0, 310.0]), usable=1.0, efficiency=1.0)
    assert hours * np.array([31.0, 310.0]) == pytest.approx(np.full(2, 374.4), rel=1e-12)


def test_heat():
    # PUBLISHED: 1 kW is 3412 BTU/h (International Table BTU, 1055.05585262 J). DERIVED: 12 000 BTU/h, one ton of
    # cooling, is 3.5169 kW.
    assert power.heat_btu_h(watts=1000.0) == pytest.approx(3412.0, rel=1e-4)
    assert 12_000.0 / power.heat_btu_h(watts=1.0) == pytest.approx(3516.9, rel=2e-5)


def test_cautions_defer_to_people_who_may_decide():
    # The words a reader must see beside any number from this module.
    for word in ("arithmetic only", "local code", "licensed electrician", "generators"):
        assert word in power.POWER_CAUTION
    for word in ("heat", "ultraviolet", "filters"):
        assert word in power.HEAT_CAUTION


def test_arrays_broadcast_and_scalars_stay_scalars():
    length_m, area = np.array([10.0, 25.0, 50.0])[:, None], np.array([1.5, 2.5])
    grid = power.cable_drop_v(load_amps=16.0, length_m=length_m, area_mm2=area)
    one = power.cable_drop_v(load_amps=16.0, length_m=25.0, area_mm2=2.5)
    assert grid.shape == (3, 2) and np.ndim(one) == 0 and grid[1, 1] == pytest.approx(one, rel=1e-15)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: power.amps(watts=-1, volts=230), r"watts must be >= 0, got -1"),
        (lambda: power.amps(watts=650, volts=0), r"volts must be > 0, got 0"),
        (lambda: power.amps(watts=650, volts=230, power_factor=1.2), r"power_factor must be .*, got 1.2"),
        (lambda: power.circuit_amps(breaker_amps=0), r"breaker_amps must be > 0, got 0"),
        (lambda: power.cable_drop_v(load_amps=16, length_m=25, area_mm2=0), r"area_mm2 must be > 0, got 0: 1.5 or 2.5"),
        (lambda: power.cable_drop_v(load_amps=16, length_m=25, area_mm2=2.5, conductor_c=np.nan), r"conductor_c must be a finite"),
        (lambda: power.battery_hours(capacity_wh=98, watts=0), r"watts must be > 0, got 0"),
        (lambda: power.battery_hours(capacity_wh=98, watts=10, usable=80), r"usable must be .*, got 80"),
        (lambda: power.heat_btu_h(watts=[100, -5]), r"watts must be >= 0, got -5"),
    ],
)
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()


CABLE = {"load_amps": 16.0, "length_m": 25.0, "area_mm2": 2.5, "conductor_c": 20.0}
LIMITS = [  # function, inputs that pass, inputs that must each be refused
    (power.amps, {"watts": 1.0, "volts": 230.0, "power_factor": 0.9}, {"watts": -1.0, "volts": 0.0, "power_factor": 0.0}),
    (power.circuit_amps, {"breaker_amps": 16.0}, {"breaker_amps": -1.0}),
    (
        power.circuit_watts,
        {"breaker_amps": 16.0, "volts": 230.0, "power_factor": 0.9},
        {"breaker_amps": 0.0, "volts": 0.0, "power_factor": 1.1},
    ),
    (power.circuit_loading, {"load_amps": 5.0, "breaker_amps": 16.0}, {"load_amps": -1.0, "breaker_amps": 0.0}),
    (power.cable_drop_v, CABLE, {"load_amps": -1.0, "length_m": -1.0, "area_mm2": -1.0, "conductor_c": 121.0}),
    (
        second_ways.cable_drop_circular_mil_v,
        {"load_amps": 16.0, "length_ft": 80.0, "area_cmil": 6530.0},
        {"load_amps": -1.0, "length_ft": -1.0, "area_cmil": 0.0},
    ),
    (power.drop_percent, {"drop_v": 3.0, "volts": 230.0}, {"drop_v": -1.0, "volts": 0.0}),
    (
        power.battery_hours,
        {"capacity_wh": 98.0, "watts": 45.0, "usable": 0.8, "efficiency": 0.9},
        {"capacity_wh": 0.0, "watts": -1.0, "usable": 0.0, "efficiency": 1.1},
    ),
    (power.heat_btu_h, {"watts": 1.0}, {"watts": np.nan}),
]


@pytest.mark.parametrize(("function", "good", "bad"), LIMITS, ids=[row[0].__name__ for row in LIMITS])
def test_every_limit_is_kept(function, good, bad):
    assert np.isfinite(function(**good))
    for name, value in bad.items():
        with pytest.raises(ValueError, match=r"must be"):
            function(**(good | {name: value}))


def test_an_idle_circuit_has_all_its_room():
    # DERIVED: nothing drawn, nothing loaded; a twentieth of an amp is a load like any other.
    assert power.circuit_loading(load_amps=0.0, breaker_amps=16.0) == 0.0
    assert power.circuit_loading(load_amps=0.05, breaker_amps=16.0) == pytest.approx(
        0.05 / 16.0 * power.circuit_loading(load_amps=16.0, breaker_amps=16.0)
    )
