"""A page to tape from: every part is put back from the printed words alone, and the lux in front of each lamp by hand."""

from dataclasses import replace

import numpy as np
import pytest

import lightcalc as lc
from lightcalc.answers.placement import placements
from lightcalc.kit.candela import Beam
from lightcalc.scene.parts import Room

from taped_parts import rebuilt

SETUPS = lc.load(lc.demo_path()).setups


@pytest.mark.parametrize("units", ["metric", "feet"])
@pytest.mark.parametrize("setup", SETUPS, ids=lambda setup: setup.name)
def test_a_person_with_the_page_and_a_tape_could_rebuild_it(setup, units):
    # DERIVED: centimetres, or half inches at the most, are rounded away: 3 cm; whole degrees: less than 1 degree.
    found = placements(setup)
    assert len(found) == sum(len(getattr(setup, kind)) for kind in ("lights", "boards", "frames", "flags", "pieces", "marks")) + 1
    for placed in found:
        part = setup.part(placed.name)
        at, facing = rebuilt(setup.place, placed.text(units), units)
        assert np.linalg.norm(at - part.at) < 0.03, placed
        ray = np.subtract(part.aim, part.at) / np.linalg.norm(np.subtract(part.aim, part.at))
        assert np.degrees(np.arccos(min(ray @ facing, 1.0))) < 1.0, placed


def lamp_of(setup, **changes):
    light = replace(setup.lights[0], **changes)
    alone = replace(setup, lights=(light,), boards=(), flags=(), frames=(), key=(), spots=(), targets=())
    return next(one for one in placements(alone) if one.kind == "light")


def test_lux_in_front_of_a_lamp():
    # DERIVED: candela over distance squared, times what dimmer and gel leave: 9000 x .5 x .58 / 9 lx at 3 m.
    inside = next(s for s in SETUPS if isinstance(s.place, Room) and s.lights)
    bare = dict(
        distribution=Beam(peak_cd=9000.0, beam_deg=20, field_deg=40),
        gel=None,
        diffusion=None,
        dim=0.5,
        face_width_m=0.0,
        face_height_m=0.0,
        at=(0.5, 0.5, 1.5),
        aim=(5.0, 0.5, 1.5),
    )
    read = lamp_of(inside, **bare)
    assert read.check_m == 3.0 and read.check_lx == pytest.approx(500.0)
    gelled = lamp_of(inside, **bare | {"gel": lc.gel("full warm")})
    assert gelled.check_lx == pytest.approx(500.0 * lc.gel("full warm").transmittance)
    assert lamp_of(inside, **bare | {"scrim_stops": 1.0}).check_lx == pytest.approx(250.0)
    # Before a wall 1.7 m off the meter goes to 1.5 m: four times the light of 3 m; never into the wall.
    near = lamp_of(inside, **bare | {"at": (1.7, 0.5, 1.5), "aim": (0.0, 0.5, 1.5)})
    assert near.check_m == 1.5 and near.check_lx == pytest.approx(2000.0)


def test_lux_in_front_of_a_face():
    # INDEPENDENT: an even matt face summed cell by cell, luminance cos cos / d^2; 1.2 x .8 m at 3 m.
    inside = next(s for s in SETUPS if isinstance(s.place, Room) and s.lights)
    from lightcalc.kit.candela import Lambert

    read = lamp_of(
        inside, distribution=Lambert(peak_cd=900.0), gel=None, diffusion=None, dim=1.0, at=(0.5, 0.5, 1.5), aim=(5.0, 0.5, 1.5),
        face_width_m=1.2, face_height_m=0.8,
    )  # fmt: skip
    x, y = np.meshgrid((np.arange(120) + 0.5) / 120 * 1.2 - 0.6, (np.arange(80) + 0.5) / 80 * 0.8 - 0.4)
    summed = np.sum(900.0 / 0.96 * 9.0 / (9.0 + x**2 + y**2) ** 2) * 0.01**2
    assert read.check_m == 3.0 and read.check_lx == pytest.approx(summed, rel=1e-3)


def test_a_board_in_the_way_brings_the_meter_nearer():
    inside = next(s for s in SETUPS if isinstance(s.place, Room) and s.lights and s.boards)
    light = replace(inside.lights[0], at=(0.5, 0.5, 1.5), aim=(5.0, 0.5, 1.5))
    board = replace(inside.boards[0], at=(2.7, 0.5, 1.5), aim=(0.0, 0.5, 1.5), width_m=1.0, height_m=1.0)
    read = placements(replace(inside, lights=(light,), boards=(board,), key=(), spots=(), targets=()))[0]
    assert read.check_m == 2.0  # 2.2 m free
