"""Kernels that Python runs from their source: the same numbers as compiled, and nothing is compiled meanwhile."""

from dataclasses import replace

import numpy as np
import pytest

from lightcalc.engine import direct, kernels, ready, solve
from lightcalc.engine.interpreted import by_python
from lightcalc.engine.layout import lay_out
from lightcalc.engine.picture import _line_end
from lightcalc.scene import shoot_file

import rooms

SETUPS = shoot_file.load(shoot_file.demo_path()).setups


def receptors(setup, count=12):
    """Marks and as many places more in the room or about the camera, every other one a dome."""
    draw = np.random.default_rng(4)
    low, high = ((0, 0, 0), setup.place.size_m) if hasattr(setup.place, "size_m") else (-3, 3)
    places = draw.uniform(low, high, (count, 3)) + (0 if hasattr(setup.place, "size_m") else np.array(setup.camera.aim))
    points = np.concatenate([[mark.at for mark in setup.marks], places])
    ways = draw.normal(size=points.shape)
    return points, ways / np.linalg.norm(ways, axis=1)[:, None], np.arange(len(points)) % 2 == 0


@pytest.mark.parametrize("setup", SETUPS, ids=[setup.name for setup in SETUPS])
def test_straight_light_is_the_same_to_the_last_digits(setup):
    # INDEPENDENT of the compiler: sums in another order, so not to the last one.
    points, ways, dome = receptors(setup)
    nobody = np.full(len(points), -1)
    with by_python():
        rig = lay_out(setup)
        found = direct.straight(rig.row, points, ways, dome, nobody)
    assert found == pytest.approx(direct.straight(rig.row, points, ways, dome, nobody), rel=1e-9, abs=1e-9)
    compiled = lay_out(setup)
    for name in ("shades", "lamps", "shafts"):
        for column in getattr(rig, name).dtype.names:
            ours, theirs = (getattr(one, name)[column] for one in (rig, compiled))
            assert ours == pytest.approx(theirs, rel=1e-12, abs=1e-12), f"{name}, {column}"


@pytest.mark.parametrize("name", ["panel_near", "two_people", "door_half", "board_yard", "board_flag"])
def test_soft_sources_boards_and_what_a_line_ends_on_too(name):
    setup = rooms.all_rooms()[name]
    points, ways, dome = receptors(setup, 3)
    nobody = np.full(len(points), -1)
    rig = direct.light_facets(lay_out(setup), setup)
    rays = np.array([[0.02, 1.0, -0.1], [-0.3, 1.0, -0.3], [0.3, 1.0, 0.05]])
    rays /= np.linalg.norm(rays, axis=1)[:, None]
    at = np.array(setup.camera.at, dtype=float)
    compiled = direct.straight(rig.row, points, ways, dome, nobody), [_line_end(rig.row, at, ray) for ray in rays]
    with by_python():
        found = direct.straight(rig.row, points, ways, dome, nobody), [_line_end(rig.row, at, ray) for ray in rays]
    for ours, theirs in zip(found, compiled):
        assert np.asarray(ours) == pytest.approx(np.asarray(theirs), rel=1e-7, abs=1e-9)


def test_inside_it_nothing_is_compiled_and_after_it_all_is_as_before(monkeypatch):
    def fails(self):
        raise AssertionError("compiled")

    rig, setup = lay_out(SETUPS[0]), SETUPS[0]
    points, ways, dome = receptors(setup, 1)
    asked = rig.row, points, ways, dome, np.full(len(points), -1)
    with monkeypatch.context() as patch:
        patch.setattr(kernels.Kernel, "compiled", property(fails))
        with by_python(), by_python():
            first = direct.straight(*asked)
        with pytest.raises(AssertionError, match="compiled"):
            direct.straight(*asked)
    assert direct.straight(*asked) == pytest.approx(first)


def test_a_mark_at_a_face_is_read_as_compiled_and_either_way_from_the_same_rows(monkeypatch):
    setup = SETUPS[0]
    at, aim = setup.part("clerk").at, setup.part("clerk").aim
    ways = [np.subtract(aim, at), np.subtract(at, aim)]
    compiled = solve.straight_lx(setup, [at, at], ways, [True, False])
    monkeypatch.setattr(ready, "missing", lambda: ["one"])
    assert solve.straight_lx(setup, [at, at], ways, [True, False]) == pytest.approx(compiled, rel=1e-9)
    assert compiled[0].sum() > 100.0


def test_straight_light_is_what_the_whole_has_from_its_lamps():
    # INDEPENDENT: with black surfaces, clear air and neither boards nor people nothing else is there.
    setup = SETUPS[7]
    place = replace(setup.place, **dict.fromkeys(("left", "right", "near", "far", "floor", "ceiling"), 0.0))
    marks = tuple(replace(mark, figure=False) for mark in setup.marks)
    bare = replace(setup, place=place, boards=(), frames=(), pieces=(), haze=replace(setup.haze, extinction_per_m=0.0), marks=marks)
    ways = [np.subtract(mark.aim, mark.at) for mark in bare.marks]
    whole = solve.light(bare, "draft").illuminance_lx([mark.at for mark in bare.marks], ways, True)
    assert solve.straight_lx(bare, [mark.at for mark in bare.marks], ways, True) == pytest.approx(whole, abs=1e-9)
    assert whole.sum() > 10.0
