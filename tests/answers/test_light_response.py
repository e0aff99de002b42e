"""Readings as sums over lamps: against readings of setups that were really dimmed, and by hand."""

from dataclasses import replace

import numpy as np
import pytest

import lightcalc as lc
from lightcalc.answers.light_response import light_response
from lightcalc.scene.parts import Mark, Spot, Target

from light_parts import lamp, loft, setup

SHOOT = lc.load(lc.demo_path())
FACE = Mark(name="face", at=(3.9, 3.2, 1.3), aim=(2.4, 0.9, 1.6))


def test_two_lamps_by_hand():
    # DERIVED: in a black room E = I cos / d^2 of each lamp; the key is the brighter one and stays it, whatever is dimmed.
    lights = (lamp("key", (1.9, 1.6, 2.6), 2500.0), lamp("fill", (5.3, 0.8, 1.9), 400.0))
    level, under = (Target(of="face", quantity=quantity, stops=0.0) for quantity in ("level", "fill_under"))
    made = setup(lights=lights, marks=(FACE,), targets=(level, under))
    way = np.subtract(FACE.aim, FACE.at) / np.linalg.norm(np.subtract(FACE.aim, FACE.at))
    lux = []
    for light in lights:
        away = np.subtract(light.at, FACE.at)
        lux.append(light.distribution.peak_cd * (away @ way) / np.linalg.norm(away) ** 3)
    found = light_response(made)
    key, fill = 0.3 * lux[0], 1.7 * lux[1]
    wanted = [np.log2((key + fill) / made.camera.reference_lx) + 0.5, np.log2(fill / (key + fill))]
    assert found.target_stops(made.targets, np.array([[0.3, 1.7]]), 0.5)[0] == pytest.approx(wanted, abs=1e-6)
    dark = found.target_stops(made.targets, np.array([[0.0, 0.0], [1.0, 0.0]]))
    assert dark[0, 0] == -np.inf and dark[1, 1] == -np.inf  # no light; no measurable fill


@pytest.mark.parametrize("name, dims", [("8", (0.4, 2.3)), ("1", (0.35,)), ("4", (2.7,))])
@pytest.mark.slow
def test_a_dimmed_setup_reads_what_its_response_says(name, dims):
    # INDEPENDENT of the sums: the engine asked again with the lamps really dimmed, room, haze, boards and sky included. Its
    # particles are others: 0.03 stop.
    made = SHOOT.setup(name)
    lights = tuple(replace(light, dim=light.dim * times) for light, times in zip(made.lights, dims))
    wanted = [target.got_stops for target in lc.readings(replace(made, lights=lights)).targets]
    found = light_response(made, read=lc.readings(made))
    assert found.target_stops(made.targets, np.array([dims]))[0] == pytest.approx(wanted, abs=0.03)
    assert len(wanted) > 1


def test_a_beam_and_a_veil_go_with_the_lamp_behind_them():
    # DERIVED: everything here is the lamp's, so beam over background stays while the veil moves with the lamp.
    beam = Spot(name="beam", at=(3.0, 2.0, 1.4), source="key")
    wanted = tuple(
        Target(of=of, quantity=quantity, stops=0.0) for of, quantity in (("beam", "beam_over"), ("face", "veil"), ("beam", "level"))
    )
    made = setup(loft(far=0.5), lights=(lamp("key", (1.9, 1.6, 2.6), 2500.0),), marks=(FACE,), spots=(beam,), targets=wanted)
    made = replace(made, haze=replace(made.haze, extinction_per_m=0.05))
    found = light_response(made)
    full, half = found.target_stops(wanted, np.array([[1.0], [0.5]]))
    assert half - full == pytest.approx([0.0, -1.0, -1.0], abs=1e-9) and full[0] > 0.1
    assert full == pytest.approx([target.got_stops for target in lc.readings(made, quality="draft").targets], abs=1e-6)


def test_lamps_that_are_off_have_no_row_and_daylight_is_the_rest():
    made = SHOOT.setup("3")
    found = light_response(made)
    assert found.lamps == () and found.table.shape[0] == 1
    read = lc.readings(made, quality="draft")
    assert found.target_stops(made.targets, np.ones((1, 0)))[0, 0] == pytest.approx(read.targets[0].got_stops)
    off = SHOOT.setup("8").with_part("lantern", dim=0.0)
    assert light_response(off).lamps == ("soft panel",)
