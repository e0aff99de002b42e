"""Haze in a ventilated room: against printed settling speeds, hand-worked decay, and plain integration in time."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from lightcalc.laws import ventilation


def test_settling_speeds():
    # PUBLISHED: Stokes's law with Davies' slip (Hinds, Aerosol Technology, ch. 3), evaluated for 1.04 g/cm3 at 20 C: 1 %.
    wanted = [1.04e-5, 3.65e-5, 1.36e-4, 8.09e-4, 3.18e-3]
    assert ventilation.settling_m_s(diameter_um=np.array([0.5, 1, 2, 5, 10])) == pytest.approx(wanted, rel=0.01)
    # DERIVED: slip 1 + 1.257 Kn + .4 Kn e^(-1.1/Kn) at 1 um: Kn .132, 1.1659 on rho g d^2 / 18 mu = 3.1304e-5.
    assert ventilation.settling_m_s(diameter_um=1.0) == pytest.approx(3.6500e-5, rel=1e-4)


def test_decay_of_a_well_mixed_room():
    # DERIVED: 20 mg/m3 at 2 changes an hour: 20 exp(-2 t), worked to five figures; a tenth after ln 10 / 2 h.
    left = ventilation.box_mg_m3(time_h=np.array([0.25, 0.5, 1, 2]), loss_per_h=2.0, start_mg_m3=20.0)
    assert left == pytest.approx([12.131, 7.3576, 2.7067, 0.36631], rel=5e-5)
    assert ventilation.hours_between(from_mg_m3=20.0, to_mg_m3=2.0, loss_per_h=2.0) == pytest.approx(1.1513, abs=5e-5)


def test_build_up_to_a_steady_level():
    # DERIVED: 10 g/h into 300 m3 at 1 change an hour: 10 000 / 300 = 33.33, after 1 h times 1 - 1/e: 21.07 mg/m3.
    room = {"loss_per_h": 1.0, "source_g_per_h": 10.0, "volume_m3": 300.0}
    assert ventilation.steady_mg_m3(**room) == pytest.approx(33.333, rel=1e-4)
    assert ventilation.box_mg_m3(time_h=1.0, **room) == pytest.approx(21.07, abs=0.005)
    assert ventilation.hours_between(from_mg_m3=0.0, to_mg_m3=21.0707, **room) == pytest.approx(1.0, rel=1e-5)
    assert ventilation.hours_between(from_mg_m3=0.0, to_mg_m3=33.4, **room) == np.inf
    assert ventilation.hours_between(from_mg_m3=5.0, to_mg_m3=5.0, **room) == 0.0
    assert ventilation.hours_between(from_mg_m3=20.0, to_mg_m3=10.0, **room) == np.inf  # it is filling, not emptying
    assert ventilation.hold_g_per_h(mass_mg_m3=33.3333, volume_m3=300.0, loss_per_h=1.0) == pytest.approx(10.0, rel=1e-5)


def test_box_against_plain_integration():
    # INDEPENDENT: the balance of mass stepped through time by Runge-Kutta; it assumes the same balance.
    loss, source, volume = 1.83, 23.0, 171.0
    ran = solve_ivp(lambda t, c: 1000 * source / volume - loss * c, (0, 2.3), [7.0], rtol=1e-10, atol=1e-10)
    box = ventilation.box_mg_m3(time_h=2.3, loss_per_h=loss, start_mg_m3=7.0, source_g_per_h=source, volume_m3=volume)
    assert box == pytest.approx(ran.y[0, -1], rel=1e-8)


def test_without_loss_it_adds_up():
    # DERIVED: limit of the law: 10 g/h into 300 m3 for 3 h is 100 mg/m3; and the limit is approached from above 0.
    assert ventilation.box_mg_m3(time_h=3.0, loss_per_h=0.0, source_g_per_h=10.0, volume_m3=300.0) == pytest.approx(100.0)
    near = ventilation.box_mg_m3(time_h=3.0, loss_per_h=1e-9, source_g_per_h=10.0, volume_m3=300.0)
    assert near == pytest.approx(100.0, rel=1e-8)


def test_losses_add():
    # DERIVED: 3600 x 1.36e-4 / 3.4 = .144 an hour by settling.
    got = ventilation.loss_per_h(air_changes_per_h=2.0, settling_m_s=1.36e-4, height_m=3.4, wall_per_h=0.3)
    assert got == pytest.approx(2.444, rel=1e-6)
    assert ventilation.loss_per_h(air_changes_per_h=2.0) == 2.0  # nothing settles or stays on walls unless it is said


def test_two_rooms_against_plain_integration():
    # INDEPENDENT: both balances stepped through time; 1e-6.
    volumes, losses, through, starts, sources = np.array([200.0, 61.0]), np.array([0.7, 2.9]), 740.0, [12.0, 0.5], [6.0, 0.0]

    def balance(t, c):
        flow = through * (c[::-1] - c)
        return (1000 * np.array(sources) + flow) / volumes - losses * c

    times = np.array([0.0, 0.013, 0.4, 1.7])
    ran = solve_ivp(balance, (0, 1.7), starts, t_eval=times, rtol=1e-11, atol=1e-11, method="DOP853")
    got = ventilation.two_rooms_mg_m3(time_h=times, volumes_m3=volumes, losses_per_h=losses, exchange_m3_h=through,
                                 starts_mg_m3=starts, sources_g_per_h=sources)  # fmt: skip
    assert got.shape == (4, 2) and got == pytest.approx(ran.y.T, rel=1e-6)


def test_a_shut_door_leaves_two_boxes_and_a_wide_one_leaves_one():
    # DERIVED: no exchange: each room is the box above. Much exchange, equal loss: one box of both volumes.
    rest = {"volumes_m3": (200.0, 50.0), "losses_per_h": (1.3, 1.3), "starts_mg_m3": (10.0, 0.0)}
    shut = ventilation.two_rooms_mg_m3(time_h=0.6, exchange_m3_h=0.0, **rest)
    assert shut == pytest.approx([ventilation.box_mg_m3(time_h=0.6, loss_per_h=1.3, start_mg_m3=10.0), 0.0], rel=1e-12)
    wide = ventilation.two_rooms_mg_m3(time_h=0.6, exchange_m3_h=1e7, **rest)
    assert wide == pytest.approx([8.0 * np.exp(-0.78)] * 2, rel=1e-4)


def test_worst_place_of_random_places():
    # DERIVED: mean .04, largest .06. The share by trial: in nine of ten trials the largest of six draws from any spread
    # lies above the p-th part of it; 20,000 seeded trials, so 0.9 to a standard error of .002.
    factor, share = ventilation.worst_place_factor(readings=[0.03, 0.04, 0.05, 0.04, 0.06, 0.02])
    assert factor == pytest.approx(1.5)
    rng = np.random.default_rng(6)
    below = rng.lognormal(0.0, 0.7, (20_000, 6)).max(axis=1) > np.quantile(rng.lognormal(0.0, 0.7, 2_000_000), share)
    assert below.mean() == pytest.approx(0.9, abs=0.01)


@pytest.mark.parametrize(("call", "sentence"), [
    (lambda: ventilation.settling_m_s(diameter_um=80), "diameter_um must be >= 0.01 and <= 50, got 80: micrometres"),
    (lambda: ventilation.settling_m_s(diameter_um=1, density_g_cm3=21), "density_g_cm3 must be <= 20 and > 0, got 21"),
    (lambda: ventilation.loss_per_h(air_changes_per_h=-1), "air_changes_per_h must be >= 0, got -1: a closed old room is 0.3 to 1"),
    (lambda: ventilation.steady_mg_m3(source_g_per_h=1, volume_m3=9, loss_per_h=0), "loss_per_h must be > 0, got 0: air that loses nothing"),
    (lambda: ventilation.box_mg_m3(time_h=1, loss_per_h=1, volume_m3=0), "volume_m3 must be > 0, got 0"),
    (lambda: ventilation.two_rooms_mg_m3(time_h=1, volumes_m3=(1, 0), losses_per_h=(0, 0), exchange_m3_h=1), "volumes_m3 must be > 0, got 0"),
    (lambda: ventilation.worst_place_factor(readings=[0.04]), "readings must be at least two, and not all 0, got [0.04]"),
])  # fmt: skip
def test_refusals_are_one_sentence(call, sentence):
    with pytest.raises(ValueError) as refused:
        call()
    assert str(refused.value).startswith(sentence) and "\n" not in str(refused.value)


def test_grids_and_cells():
    grid = ventilation.box_mg_m3(time_h=np.array([[0.1], [1.9]]), loss_per_h=np.array([0.0, 0.4, 3.0]), start_mg_m3=3.0)
    assert grid.shape == (2, 3) and grid[1, 2] == ventilation.box_mg_m3(time_h=1.9, loss_per_h=3.0, start_mg_m3=3.0)
    assert isinstance(ventilation.box_mg_m3(time_h=1.9, loss_per_h=3.0), float)
