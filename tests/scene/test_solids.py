"""People and furniture: as tall and as wide as they should be, standing on what they stand on."""

import numpy as np
import pytest

from lightcalc.scene.parts import PIECES, POSES, USUAL_M, Mark, Piece
from lightcalc.scene.solids import FACE_AHEAD_M, cheeks, features, furniture, person, solids

from light_parts import setup
from marched import least_depth


def someone(pose="standing", z=1.59, **more):
    aim = (2.0, 4.0, z + (2.0 if pose == "lying" else 0.0))
    return Mark(name="someone", at=(2.0, 2.0, z), aim=aim, figure=True, pose=pose, **more)


def ends(parts):
    """The lowest and the highest corner of what holds them all, by points on their surfaces."""
    rng = np.random.default_rng(0)
    ways = rng.normal(size=(4000, 3))
    points = []
    for part in parts:
        u = ways / np.linalg.norm(ways, axis=1)[:, None] if part.shape == "ball" else np.sign(ways)
        points.append(part.middle + (u * part.half) @ part.axes)
    points = np.concatenate(points)
    return points.min(axis=0), points.max(axis=0)


def test_a_person_standing_is_as_tall_as_said_and_stands_on_the_floor():
    # DERIVED: eyes at .936 of 1.7 m; the crown is (1 - .936) of it above; .259 of it is across the shoulders.
    low, high = ends(person(someone()))
    assert low[2] == pytest.approx(0.0, abs=0.01) and high[2] == pytest.approx(1.7, abs=0.03)
    assert high[0] - low[0] == pytest.approx(0.259 * 1.7, abs=0.01)
    tall = ends(person(someone(z=1.9, tall_m=2.03)))
    assert tall[0][2] == pytest.approx(0.0, abs=0.01) and tall[1][2] == pytest.approx(2.03, abs=0.03)


def test_one_on_a_ladder_has_feet_in_the_air_and_one_who_stoops_none_under_the_floor():
    assert ends(person(someone(z=3.0)))[0][2] == pytest.approx(3.0 - 0.936 * 1.7, abs=0.01)
    assert ends(person(someone(z=1.2)))[0][2] == pytest.approx(0.0, abs=0.01)


def test_a_person_seated_is_lower_than_standing_and_their_knees_are_ahead():
    # DERIVED: hips to chin are (.870 - .530) of 1.7 m = 0.58 m; knees as far ahead as thighs are long, (.530 - .285) of it = 0.42 m.
    parts = person(someone("seated", z=1.2))
    low, high = ends(parts)
    assert low[2] == pytest.approx(0.0, abs=0.03) and high[2] == pytest.approx(1.32, abs=0.03)
    assert high[1] - parts[0].middle[1] == pytest.approx(0.42, abs=0.1) and parts[0].middle[1] - low[1] < 0.2


def test_a_person_lying_is_as_long_as_said_and_low():
    low, high = ends(person(someone("lying", z=0.35)))
    assert high[1] - low[1] == pytest.approx(1.7, abs=0.1) and high[2] - low[2] < 0.35


@pytest.mark.parametrize("pose", POSES)
def test_the_meter_is_a_centimetre_before_the_face(pose):
    # DERIVED: the face is where the head's skin is met by the way it looks.
    mark = someone(pose)
    head, look = person(mark)[0], np.subtract(mark.aim, mark.at) / np.linalg.norm(np.subtract(mark.aim, mark.at))
    assert not any(part.holds(mark.at) for part in person(mark))
    assert head.holds(np.subtract(mark.at, 0.0101 * look)) and not head.holds(np.subtract(mark.at, 0.0099 * look))


@pytest.mark.parametrize(("tall", "high"), [(1.7, 0.23), (1.45, 0.23), (1.1, 0.204), (0.5, 0.137)])
def test_a_child_has_a_child_s_head(tall, high):
    # DERIVED: from the docstring; its own face is still a centimetre before it.
    mark = someone(z=0.936 * tall, tall_m=tall)
    head = person(mark)[0]
    assert 2 * head.half[2] == pytest.approx(high, abs=0.002)
    assert mark.at[1] - head.middle[1] - head.half[1] == pytest.approx(FACE_AHEAD_M, abs=1e-9)


@pytest.mark.parametrize("what", PIECES)
@pytest.mark.parametrize("sizes", [{}, {"width_m": 1.2, "depth_m": 0.6, "height_m": 1.1}])
def test_furniture_is_as_large_as_said(what, sizes):
    # DERIVED: seen along its own sides; a door runs from its place towards what it faces.
    if what == "drum" and sizes:
        sizes = sizes | {"depth_m": 0.0}  # it is round
    piece = Piece(name="it", what=what, at=(2.0, 2.0, 0.1), aim=(2.0, 5.0, 0.1), **sizes)
    wide, deep, high = (1.2, 1.2 if what == "drum" else 0.6, 1.1) if sizes else USUAL_M[what]
    low, top = ends(furniture(piece))
    across, along = (deep, wide) if what == "door" else (wide, deep)
    assert top - low == pytest.approx((across, along, high), rel=0.01)
    assert low[2] == pytest.approx(0.1, abs=0.01)
    assert low[:2] + top[:2] == pytest.approx((4.0, 4.0 + (along if what == "door" else 0.0)), abs=0.02)


@pytest.mark.parametrize("what", ["chair", "sack"])
def test_lines_that_a_thing_stops_are_those_that_enter_it(what):
    # INDEPENDENT: marched in small steps; lines that graze nearer than a step are left out.
    scene = setup(pieces=(Piece(name="it", what=what, at=(2.0, 2.0, 0.0), aim=(3.0, 5.0, 0.0)),))
    rng, end = np.random.default_rng(1), np.array([2.2, 3.5, 0.3])
    starts = rng.uniform((1.0, 0.0, 0.0), (3.0, 1.5, 1.2), (4000, 3))
    least, error = least_depth(solids(scene), starts, end, steps=1500)
    told = np.abs(least - 1.0) > 2.0 * error
    stopped = np.any([part.stops(starts, end) for part in solids(scene)], axis=0)
    assert 50 < stopped[told].sum() < told.sum() - 50
    np.testing.assert_array_equal(stopped[told], least[told] < 1.0)


@pytest.mark.parametrize("pose", POSES)
@pytest.mark.parametrize("aim", [(3.0, 5.0, 1.6), (0.0, 2.0, 1.2), (2.0, 3.0, 3.0)])
def test_cheeks_are_on_the_head_one_to_each_side(pose, aim):
    # DERIVED: a centimetre off the head's skin along its own normal, square to each other, as far aside to the left as to the right.
    mark = Mark(name="clerk", at=(2.0, 2.0, 1.5), aim=aim, figure=True, pose=pose)
    head = person(mark)[0]
    at, ways = cheeks(mark)
    for point, way in zip(at, ways):
        skin = point - FACE_AHEAD_M * way
        u = head.axes @ (skin - head.middle) / head.half
        assert u @ u == pytest.approx(1.0, rel=1e-9)
        normal = (u / head.half) @ head.axes
        assert normal / np.linalg.norm(normal) == pytest.approx(way, abs=1e-9)
    assert ways[0] @ ways[1] == pytest.approx(0.0, abs=1e-9)
    facing = np.subtract(aim, mark.at) / np.linalg.norm(np.subtract(aim, mark.at))
    assert ways @ facing == pytest.approx(np.sqrt(0.5), abs=1e-9)
    if pose != "lying":
        assert (ways[1] - ways[0]) @ np.cross(facing, (0, 0, 1)) > 0  # the right on the right of who looks that way


@pytest.mark.parametrize(
    ("pose", "aim"),
    [
        ("standing", (2.0, 5.0, 1.5)),
        ("seated", (4.0, 3.0, 1.5)),
        ("standing", (2.0, 3.0, 1.1)),
        ("lying", (2.0, 2.0, 3.0)),
        ("lying", (2.6, 2.0, 3.0)),
    ],
)
def test_a_nose_stands_out_of_a_face_and_the_rest_hardly(pose, aim):
    # DERIVED: along the way a face looks the skin is where a meter is held less a centimetre; a nose stands 1.5 to 3 cm out of the
    # head, nothing else over a centimetre; left and right are alike; the chin is on the side of the feet, the brow on the crown's.
    mark = Mark(name="clerk", at=(2.0, 2.0, 1.5), aim=aim, figure=True, pose=pose)
    head, found = person(mark)[0], features(mark)
    out = []
    rng = np.random.default_rng(0)
    ways = rng.normal(size=(4000, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    for part in found:
        points = part.middle + (ways * part.half) @ part.axes
        u = np.linalg.norm((points - head.middle) @ head.axes.T / head.half, axis=1)
        out.append((np.linalg.norm(points - head.middle, axis=1) * (1 - 1 / u)).max())
    assert 0.015 < out[0] < 0.03 and max(out[1:]) < 0.01
    assert min(out) > 0.001 or aim[2] < 1.5  # who looks down has a chin on the chest
    look = np.subtract(aim, mark.at) / np.linalg.norm(np.subtract(aim, mark.at))
    away = [part.middle - head.middle for part in found]
    assert all(one @ look > 0 for one in away)
    over = head.axes[2] * (-1 if pose == "lying" else 1)
    assert (away[1] - away[-1]) @ over > 0.05
    for left, right in ((1, 2), (3, 4)):
        assert (away[left] + away[right]) @ head.axes[0] == pytest.approx(0.0, abs=1e-9)
        assert (away[left] - away[right]) @ np.cross(look, head.axes[0]) == pytest.approx(0.0, abs=1e-3)


def test_a_child_s_nose_is_a_child_s():
    # DERIVED: all of it smaller as the head is.
    tall, small = (features(someone(z=0.936 * tall, tall_m=tall))[0].half for tall in (1.7, 0.5))
    assert small / tall == pytest.approx(np.sqrt(0.5 / 1.4), rel=1e-9)
