"""Lamps on circuits: within 80 percent of each breaker, no placing missed, and what is said where none does."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from lightcalc import __main__ as command
from lightcalc.answers import circuits
from lightcalc.answers.circuits import first_fit, overfull, power_words, setup_load
from lightcalc.answers.sense import sense
from lightcalc.kit.candela import Lambert
from lightcalc.scene import shoot_file, shoot_read
from lightcalc.scene.parts import Circuit, Light, SceneError
from lightcalc.scene.shoot_edit import dumps, edited, same

import drawn_parts as parts

LOFT = parts.loft()


def setup_of(watts, circuit_list=(), **more):
    """The loft with lamps of those watts and circuits of those breakers."""
    lights = tuple(
        Light(
            name=f"lamp {k}", at=(1.0 + 0.2 * k, 2.0, 1.7), aim=(3.0, 2.0, 1.2), distribution=Lambert(peak_cd=500), watts=w, **more
        )
        for k, w in enumerate(watts)
    )
    named = tuple(Circuit(name=f"c{k}", breaker_amps=amps, sockets=((0.0, 1.0, 0.3),)) for k, amps in enumerate(circuit_list))
    return replace(LOFT, lights=lights, key=(), spots=(), targets=(), place=replace(LOFT.place, circuits=named))


def load_of(setup, **shoot):
    return setup_load(replace(parts.shoot(setup), **shoot), setup)


def test_amps_against_eighty_percent():
    # DERIVED: 2300 W at 230 V are 10 A; 0.8 x 16 A = 12.8 A, so 2.8 A are left; at a power factor of 0.5 it is 20 A.
    load = load_of(setup_of([2300], [16]))
    (circuit,) = load.circuits
    assert (circuit.amps, circuit.most_amps, circuit.over_amps) == pytest.approx((10.0, 12.8, -2.8)) and load.fits
    poor = load_of(setup_of([2300], [16], power_factor=0.5))
    assert not poor.fits and poor.homeless == ("lamp 0",) and "lamp 0 alone needs a breaker of 25 A or more" in poor.verdict


def test_what_stays_on_a_circuit_counts():
    setup = setup_of([2300], [16])
    place = replace(setup.place, circuits=(replace(setup.place.circuits[0], taken_amps=3.0),))
    load = load_of(replace(setup, place=place))
    assert not load.fits and "1 more circuit of 16 A would carry it" in load.verdict


def test_what_a_person_typed_stands_and_is_checked():
    setup = setup_of([2300, 1400], [16, 16])
    typed = replace(setup, lights=tuple(replace(light, circuit="c1") for light in setup.lights))
    load = load_of(typed)
    assert [c.lights for c in load.circuits] == [(), ("lamp 0", "lamp 1")] and not load.fits
    assert load.circuits[1].over_amps == pytest.approx(3700 / 230 - 12.8)  # DERIVED
    assert "move a lamp off 'c1'" in load.verdict and load_of(setup).fits
    with pytest.raises(SceneError, match=r"circuit must be one of the circuits of 'drying loft' \(c0, c1\), got 'c9'"):
        replace(setup, lights=(replace(setup.lights[0], circuit="c9"),))


def all_placings(draws, rooms):
    """Whether any placing at all carries the loads. INDEPENDENT: every one of them is looked at."""
    for at in itertools.product(range(len(rooms)), repeat=len(draws)):
        sums = np.bincount(at, weights=draws, minlength=len(rooms))
        if np.all(sums <= np.array(rooms) + 1e-9):
            return True
    return False


def test_does_not_fit_means_that_no_placing_does():
    # INDEPENDENT: 300 draws, half of them tight, against every placing. Some need more than first fit finds.
    random, found, beyond = np.random.default_rng(7), [], 0
    for _ in range(300):
        breakers = random.choice([6, 10, 16, 20], size=random.integers(1, 4))
        watts = random.uniform(150, 2200, size=random.integers(1, 7)).round()
        load = load_of(setup_of(watts, breakers))
        assert load.fits == all_placings(watts / 230.0, 0.8 * breakers)
        assert all(c.amps <= 0.8 * c.breaker_amps + 1e-9 for c in load.circuits)
        found.append(load.fits)
        order = sorted(watts / 230.0, reverse=True)
        beyond += load.fits and None in first_fit([[a] * len(breakers) for a in order], 0.8 * breakers)
    assert 60 < sum(found) < 240 and beyond > 0


def test_without_circuits_the_fewest_are_opened():
    # INDEPENDENT: as above; one circuit less carries it in no placing.
    random = np.random.default_rng(3)
    for _ in range(60):
        watts = random.uniform(150, 2900, size=random.integers(1, 7)).round()
        load = load_of(setup_of(watts))
        count = len(load.circuits)
        assert load.fits and not load.declared and all_placings(watts / 230.0, [12.8] * count)
        assert count == 1 or not all_placings(watts / 230.0, [12.8] * (count - 1))


def test_cable_and_battery():
    # DERIVED: from (0, 1, 0.3) to (1, 2, 1.7) square is 1 + 1 + 1.4 m, and 2 m to spare: 5.4 m. 10 A through it out and back
    # at 60 C: 2 x 0.017241 x (1 + 0.00393 x 40) x 10 x 5.4 / 1.5 = 1.4365 V of 230 V. 98 Wh x 0.8 x 0.9 / 45 W = 1.568 h.
    (plug,) = load_of(setup_of([2300], [16])).plugs
    assert plug.cable_m == pytest.approx(5.4) and plug.drop_percent == pytest.approx(100 * 1.43650 / 230, rel=1e-4)
    (plug,) = load_of(setup_of([2300], [16], cable_m=50.0), cable_mm2=2.5).plugs
    assert plug.cable_typed and plug.drop_percent == pytest.approx(100 * 1.43650 / 230 * 50 / 5.4 * 1.5 / 2.5, rel=1e-4)
    assert "(long: thicker cable)" in circuits.plug_line(plug)
    load = load_of(setup_of([45], [16], battery_wh=98.0))
    assert load.plugs[0].battery_h == pytest.approx(1.568) and load.circuits[0].amps == 0.0 and load.verdict == "runs on batteries"


def test_words_on_paper():
    # DERIVED: 1000 + 120 W at 230 V are 4.870 A, under 0.8 x 16 = 12.8 A.
    shoot = parts.shoot(LOFT)
    assert power_words(shoot, LOFT) == (
        "Power: 1120 W in all, 2 lamps undimmed, 4.87 A (power factor 1): fits one 16 A circuit at 80 % (12.8 A) and 230 V."
    )
    assert "fits 2 circuits of 16 A, no fewer do, at 80 %" in power_words(shoot, setup_of([2000, 2000]))
    assert "c0: lamp 0, 8.7 of 12.8 A" in power_words(shoot, setup_of([2000], [16]))
    assert power_words(shoot, parts.bare()) == ""


def test_check_names_an_overfull_circuit(tmp_path, capsys):
    text = shoot_file.new_text("Low Tide")
    block = '[[rooms.room.circuits]]\nname = "left sockets"\nbreaker_amps = 6\n\n# [exteriors.yard]'
    text = text.replace("# [exteriors.yard]", block, 1)
    text = text.replace("dim = 0.2 ", 'circuit = "left sockets"\ndim = 0.2 ', 1)
    path = tmp_path / "tide.toml"
    path.write_text(text, encoding="utf-8")
    assert command.main(["check", str(path)]) == 0
    said = capsys.readouterr().out
    line = next(n for n, one in enumerate(text.splitlines(), 1) if one.startswith("circuit = "))
    # DERIVED: 1400 W at 230 V are 6.09 A, 0.8 x 6 A = 4.8 A.
    assert f"line {line}: setup '1', light 'lamp': circuit 'left sockets' is asked for 6.09 A, and for a day carries 4.8 A" in said
    assert command.main(["load", str(path)]) == 1 and "OVER by 1.29 A" in capsys.readouterr().out
    opened = shoot_file.load(path)
    assert [f.path for f in sense(opened, opened.setups[0])] == [("lights", 0, "circuit")]


def test_a_place_without_circuits_is_no_finding():
    shoot = parts.shoot(setup_of([9000]))
    assert list(overfull(shoot, shoot.setups[0])) == []


def test_circuits_are_read_and_written_back():
    demo = shoot_file.load(shoot_file.demo_path())
    text = shoot_file.demo_path().read_text(encoding="utf-8")
    assert same(shoot_read.loads(dumps(demo)), demo)
    loft = demo.setup("1").place
    moved = replace(loft, circuits=(replace(loft.circuits[0], sockets=((6.4, 2.0, 0.4),), breaker_amps=20.0),))
    new = replace(demo, setups=tuple(replace(s, place=moved) if s.place == loft else s for s in demo.setups))
    back = edited(text, demo, new)
    assert "sockets = [[6.4, 2, 0.4]]" in back and same(shoot_read.loads(back), new)
    plugged = demo.setup("1").with_part("window lamp", circuit="stair sockets", cable_m=12.0, power_factor=0.6)
    new = replace(demo, setups=(plugged, *demo.setups[1:]), cable_mm2=2.5)
    back = edited(text, demo, new)
    assert 'circuit = "stair sockets"' in back and same(shoot_read.loads(back), new) and same(shoot_read.loads(dumps(new)), new)


def test_the_demo_fits(capsys):
    assert command.main(["load", str(shoot_file.demo_path()), "8"]) == 0
    said = capsys.readouterr().out
    assert "desk sockets (10 A, 230 V): lantern, soft panel" in said and "licensed electrician decide" in said
