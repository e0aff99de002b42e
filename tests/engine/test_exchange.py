"""
Light between boards, frames and ground, to and fro until it is spent: closed cavities, factors in closed form, and a second solver.

INDEPENDENT: `passed_about` is a radiosity series of its own in plain numpy on a fine even grid, each pair of pieces by the
contour integral from the middle of the one; it assumes matte facets that hide nothing from each other, as in these setups.
"""

from dataclasses import replace

import numpy as np
import pytest

import lightcalc as lc
from lightcalc.engine.direct import prepare
from lightcalc.engine.solve import light
from lightcalc.kit.candela import Beam
from lightcalc.kit.materials import Diffusion, Stuff
from lightcalc.scene.parts import Board, Exterior, Frame, Light, Mark, Room, Setup, rectangle_corners

from light_parts import BLACK, CAMERA, beam_cd, lamp, unit
from radiosity import parallel_rectangles_factor

OPEN = Exterior(name="pans", width_m=10.0, depth_m=10.0, ground=0.0)
MIDDLE = np.array([5.0, 5.0, 1.2])
KEY = Light(name="key", at=(5.0, 2.0, 2.4), aim=(5.0, 5.0, 1.2), distribution=Beam(peak_cd=8000, beam_deg=40, field_deg=70))


def white(reflectance):
    return Stuff(name="white", reflectance=reflectance)


def facing(gap, reflectance=0.85, side=1.2):
    """Two boards face to face."""
    return tuple(
        Board(
            name=name,
            at=tuple(MIDDLE + (k * gap / 2, 0, 0)),
            aim=tuple(MIDDLE),
            width_m=side,
            height_m=side,
            stuff=white(reflectance),
        )
        for name, k in (("a", -1), ("b", 1))
    )


def vee(degrees, reflectance=0.85, side=1.2):
    """Two boards hinged at an upright edge, open towards the key."""
    half = np.radians(degrees) / 2
    boards = []
    for name, k in (("a", -1), ("b", 1)):
        at = MIDDLE + side / 2 * np.array([k * np.sin(half), -np.cos(half), 0.0])
        boards.append(
            Board(
                name=name,
                at=tuple(at),
                aim=tuple(at + (-k * np.cos(half), -np.sin(half), 0)),
                width_m=side,
                height_m=side,
                stuff=white(reflectance),
            )
        )
    return tuple(boards)


# --- the second solver ----------------------------------------------------------------------------------------


def pieces(corners, n):
    """A rectangle in n x n: corners (n n, 4, 3) and middles (n n, 3)."""
    a, b = (corners[1] - corners[0]) / n, (corners[3] - corners[0]) / n
    first = np.array([corners[0] + i * a + j * b for j in range(n) for i in range(n)])
    return first[:, None] + np.array([0 * a, a, a + b, b]), first + (a + b) / 2


def factors(points, normal, quads):
    """Configuration factor of each quad, wholly above the horizon, from each point: (points, quads). Lambert 1760."""
    to = quads[None] - points[:, None, None]
    to = to / np.linalg.norm(to, axis=-1, keepdims=True)
    after = np.roll(to, -1, axis=2)
    across = np.cross(to, after)
    size = np.linalg.norm(across, axis=-1)
    angle = np.arctan2(size, np.sum(to * after, axis=-1))
    return np.abs(np.sum(angle * (across @ normal) / np.maximum(size, 1e-30), axis=2)) / (2 * np.pi)


def struck(corners, points, at):
    """Whether a rectangle stands between points and a place."""
    a, b = corners[1] - corners[0], corners[3] - corners[0]
    way, normal = at - points, np.cross(a, b)
    rate = way @ normal
    share = ((corners[0] - points) @ normal) / np.where(rate == 0.0, np.inf, rate)
    there = points + share[:, None] * way - corners[0]
    u, v = there @ a / (a @ a), there @ b / (b @ b)
    return (share > 1e-6) & (share < 1) & (u > 0) & (u < 1) & (v > 0) & (v < 1)


def straight_lx(source, points, normal, corners):
    """A beam's light on points, those in a rectangle's shade dark."""
    to = np.asarray(source.at) - points
    r = np.linalg.norm(to, axis=1)
    cd = beam_cd(source.distribution, to @ -unit(np.subtract(source.aim, source.at)) / r)
    shade = np.zeros(len(points), dtype=bool)
    for quad in corners:
        shade |= struck(quad, points, np.asarray(source.at))
    return np.where(shade, 0.0, cd * np.maximum(to @ normal, 0.0) / r**3)


def passed_about(source, facets, marks, counts, rounds=400):
    """
    Illuminance at marks that face some of the facets (corners, normal, reflectance), lit by a beam. [lx]

    Each mark is (place, way it faces); what lies behind it counts for nothing. `counts` are each facet's pieces along a side.
    """
    corners = [facet[0] for facet in facets]
    cut = [pieces(quad, n) for quad, n in zip(corners, counts)]
    shares, first = {}, []
    for i, (_, normal, _) in enumerate(facets):
        first.append(straight_lx(source, cut[i][1], normal, corners[:i] + corners[i + 1 :]))
        for j in range(len(facets)):
            if i != j:
                shares[i, j] = factors(cut[i][1], normal, cut[j][0])
    total = list(first)
    for _ in range(rounds):
        total = [
            first[i] + sum(facets[j][2] * shares[i, j] @ total[j] for j in range(len(facets)) if j != i) for i in range(len(facets))
        ]
    lux = []
    for at, way in marks:
        here = straight_lx(source, np.array([at]), unit(way), corners)[0]
        for (quads, middles), (_, normal, reflectance), landed in zip(cut, facets, total):
            seen = ((middles - at) @ unit(way) > 0) & ((at - middles) @ normal > 0)
            here += reflectance * (factors(np.array([at]), unit(way), quads[seen]) @ landed[seen])[0]
        lux.append(here)
    return np.array(lux)


def facets_of(boards):
    return [
        (rectangle_corners(b.at, b.aim, b.width_m, b.height_m), unit(np.subtract(b.aim, b.at)), b.stuff.reflectance) for b in boards
    ]


def stops_off(boards, marks):
    """How far the engine is from the second solver at marks, in stops."""
    setup = Setup(name="facing", title="", place=OPEN, camera=CAMERA, lights=(KEY,), boards=boards)
    got = light(setup).illuminance_lx([at for at, _ in marks], [way for _, way in marks]).sum(axis=1)
    return np.log2(got / passed_about(KEY, facets_of(boards), marks, (24, 24)))


# --- closed forms ---------------------------------------------------------------------------------------------


def closed_box(reflectance, side=2.0):
    """Six boards that close a cube, and a bulb within."""
    boards = []
    for axis in range(3):
        for k in (-1, 1):
            at = np.zeros(3)
            at[axis] = k * side / 2
            boards.append(
                Board(
                    name=f"{axis} {k}",
                    at=tuple(MIDDLE + at),
                    aim=tuple(MIDDLE),
                    width_m=side,
                    height_m=side,
                    stuff=white(reflectance),
                )
            )
    return Setup(
        name="box",
        title="",
        place=OPEN,
        camera=CAMERA,
        lights=(lamp("bulb", tuple(MIDDLE + (0.2, 0.1, -0.3)), 100.0),),
        boards=tuple(boards),
    )


@pytest.mark.parametrize("reflectance", [0.5, 0.85, 0.98])
def test_a_closed_box_of_boards_gains_one_over_one_minus_rho(reflectance):
    # DERIVED: all that is sent stays until it is absorbed: mean illuminance = lumens / (area (1 - rho)). Its cells' points
    # see some 0.1 % less than all of the box, which counts 1 / (1 - rho) times: 2 %, and 8 % at 0.98.
    rig = prepare(closed_box(reflectance))
    fronts = np.concatenate([np.arange(s["first"], s["first"] + s["cells"]) for s in rig.facets[[0, 2, 4, 6, 8, 10]]])
    lux = rig.cells["luminance"][fronts].mean() * np.pi / reflectance
    assert len(rig.exchange.cells) == 2 * len(fronts)
    assert lux == pytest.approx(4 * np.pi * 100.0 / (6 * 2.0**2) / (1 - reflectance), rel=0.08 if reflectance > 0.9 else 0.02)


@pytest.mark.parametrize("gap", [0.3, 0.6, 2.0])
def test_cells_of_two_plates_see_each_other_by_the_closed_form(gap):
    # PUBLISHED (Hamilton & Morgan 1952, in tests/parts): the mean over one plate of what it sees of the other.
    rig = prepare(Setup(name="plates", title="", place=OPEN, camera=CAMERA, lights=(KEY,), boards=facing(gap)))
    n = rig.facets[0]["cells"]
    seen = rig.exchange.shares[:n, 2 * n : 3 * n].sum(axis=1).mean() / np.pi  # front of a from front of b
    assert seen == pytest.approx(parallel_rectangles_factor(width_m=1.2, depth_m=1.2, gap_m=gap), rel=0.01)


def test_cells_of_two_boards_square_to_each_other_see_each_other_by_the_closed_form():
    # PUBLISHED: two squares at a right angle with a common edge, 0.20004 (R. Siegel, J. R. Howell, "Thermal Radiation Heat
    # Transfer", app. C). Cells at the edge see each other from four points: 2 %.
    rig = prepare(Setup(name="vee", title="", place=OPEN, camera=CAMERA, lights=(KEY,), boards=vee(90.0)))
    n = rig.facets[0]["cells"]
    seen = rig.exchange.shares[:n, 2 * n : 3 * n].sum(axis=1).mean() / np.pi
    assert seen == pytest.approx(0.20004, rel=0.02)


def test_what_one_cell_sends_another_it_would_get_back():
    # DERIVED: A1 F12 = A2 F21, on boards of different size askew, half a metre apart; four points of each: 3 % of the largest.
    small = Board(name="small", at=(4.7, 5.1, 1.3), aim=(5.25, 4.9, 1.1), width_m=0.7, height_m=0.5, stuff=white(0.5))
    rig = prepare(Setup(name="two", title="", place=OPEN, camera=CAMERA, lights=(KEY,), boards=(facing(0.5)[1], small)))
    quads = rig.cells["quad"][rig.exchange.cells]
    area = np.linalg.norm(np.cross(quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0]), axis=1)
    sent = rig.exchange.shares * area[:, None]
    assert sent.max() > 0
    assert np.abs(sent - sent.T).max() < 0.03 * sent.max()


def test_light_goes_through_a_frame_and_not_back():
    # DERIVED: between a board and a cloth that sends back nothing, light passes once: board, frame, and out behind.
    cloth = Frame(
        name="cloth",
        at=(5.25, 5.0, 1.2),
        aim=(6.0, 5.0, 1.2),
        width_m=1.2,
        height_m=1.2,
        diffusion=Diffusion(name="cloth", direct=0.0, diffuse=0.6),
    )
    board = facing(0.5)[0]
    with_cloth = prepare(Setup(name="f", title="", place=OPEN, camera=CAMERA, lights=(KEY,), boards=(board,), frames=(cloth,)))
    alone = prepare(Setup(name="f", title="", place=OPEN, camera=CAMERA, lights=(KEY,), boards=(board,)))
    exchange, n = with_cloth.exchange, with_cloth.facets[0]["cells"]
    lux = np.zeros(len(exchange.cells))
    lux[:n] = 100.0  # on the board's front
    settled = exchange.settled(lux)
    assert settled[:n].tolist() == [100.0] * n  # nothing comes back from the cloth
    back = slice(*(with_cloth.facets[3]["first"] + np.array([0, with_cloth.facets[3]["cells"]])))
    wanted = 0.85 * 100.0 * parallel_rectangles_factor(width_m=1.2, depth_m=1.2, gap_m=0.5)
    assert settled[back].mean() == pytest.approx(wanted, rel=0.01)
    front = with_cloth.facets[2]["first"]
    assert exchange.luminance(settled)[front] == pytest.approx(0.6 / np.pi * settled[back][0], rel=1e-12)
    assert alone.exchange.shares.max() == 0.0


@pytest.mark.parametrize("back, diffuse", [(0.6, 0.0), (0.5, 0.3), (0.0, 0.4)])
def test_a_closed_box_of_cloth_keeps_what_it_sends_back(back, diffuse):
    # DERIVED: as for boards, the mean on the inside is lumens / (area (1 - back)), for what goes through does not come in again; the
    # outside glows with the diffuse share of it.
    made = closed_box(0.5)
    cloth = Diffusion(name="cloth", direct=0.0, diffuse=max(diffuse, 1e-9), back=back)
    frames = tuple(
        Frame(name=b.name, at=b.at, aim=b.aim, width_m=b.width_m, height_m=b.height_m, diffusion=cloth) for b in made.boards
    )
    rig = prepare(replace(made, boards=(), frames=frames))
    lux = 4 * np.pi * 100.0 / (6 * 2.0**2) / (1 - back)
    inside, outside = (
        np.mean([rig.cells["luminance"][s["first"] : s["first"] + s["cells"]].mean() for s in rig.facets[k::2]]) for k in (0, 1)
    )
    assert inside == pytest.approx(back * lux / np.pi, rel=0.02, abs=1e-6)
    assert outside == pytest.approx(max(diffuse, 1e-9) * lux / np.pi, rel=0.02)


def test_a_frame_lights_what_stands_before_its_lit_side():
    # DERIVED: a mark beside the lamp, out of its beam, sees an even patch of luminance back E / pi: in a black place nothing else.
    # INDEPENDENT: the pieces of the frame summed here, each with its own straight light.
    cloth = Diffusion(name="cloth", direct=0.1, diffuse=0.3, back=0.45)
    frame = Frame(name="cloth", at=tuple(MIDDLE), aim=(5.0, 2.0, 1.2), width_m=1.2, height_m=0.9, diffusion=cloth)
    made = Setup(name="f", title="", place=OPEN, camera=CAMERA, lights=(KEY,), frames=(frame,))
    mark, facing_mark = np.array([5.6, 4.0, 1.0]), unit((-0.5, 1.0, 0.2))
    x, z = np.meshgrid(4.4 + (np.arange(60) + 0.5) * 0.02, 0.75 + (np.arange(45) + 0.5) * 0.02)
    points = np.stack([x.ravel(), np.full(x.size, 5.0), z.ravel()], axis=1)
    to_lamp = np.asarray(KEY.at) - points
    d = np.linalg.norm(to_lamp, axis=1)
    way = np.asarray(KEY.aim) - np.asarray(KEY.at)
    cosine = -(to_lamp / d[:, None]) @ (way / np.linalg.norm(way))
    lux = beam_cd(KEY.distribution, cosine) * -(to_lamp[:, 1] / d) / d**2
    ray = points - mark
    far = np.linalg.norm(ray, axis=1)
    wanted = np.sum(0.45 * lux / np.pi * (ray @ facing_mark) / far * (ray[:, 1] / far) / far**2 * 0.02**2)
    found = lc.readings(replace(made, marks=(Mark(name="m", at=tuple(mark), aim=tuple(mark + facing_mark)),))).mark("m")
    assert found.by_source["cloth"] == pytest.approx(wanted, rel=0.02)


# --- against the second solver --------------------------------------------------------------------------------

BETWEEN = [(MIDDLE, (-1.0, 0, 0)), (MIDDLE, (1.0, 0, 0)), (MIDDLE + (0, -0.4, 0.1), (-1.0, 0, 0))]


@pytest.mark.parametrize(("gap", "reflectance"), [(0.5, 0.85), (0.2, 0.85), (0.5, 0.98), (2.5, 0.85)])
@pytest.mark.slow
def test_marks_between_two_boards(gap, reflectance):
    assert np.abs(stops_off(facing(gap, reflectance), BETWEEN)).max() < 0.03


@pytest.mark.parametrize("degrees", [30.0, 60.0, 100.0])
@pytest.mark.slow
def test_marks_before_a_vee(degrees):
    marks = [(MIDDLE + (0, -1.5, 0), (0, 1.0, 0)), (MIDDLE + (0, -0.9, 0.1), (0, 1.0, 0))]
    assert np.abs(stops_off(vee(degrees), marks)).max() < 0.02


@pytest.mark.slow
def test_ground_board_and_ground_again():
    # A board low over pale ground, lit from under its edge: most of what marks between them read has been to and fro. The
    # second solver has the ground 6 m wide, in pieces of 0.1 m; ours has squares of a quarter metre, each one even.
    low = Board(name="lid", at=(5.0, 5.0, 0.6), aim=(5.0, 5.0, 0.0), width_m=2.4, height_m=2.4, stuff=white(0.9))
    key = Light(name="key", at=(5.0, 3.4, 0.4), aim=(5.0, 5.0, 0.1), distribution=Beam(peak_cd=1000, beam_deg=50, field_deg=80))
    earth = np.array([(2.0, 2, 0), (8, 2, 0), (8, 8, 0), (2, 8, 0)])
    marks = [((5.0, 5.0, 0.3), (0, 0, 1.0)), ((5.0, 5.0, 0.3), (0, 0, -1.0)), ((5.4, 5.6, 0.25), (0, 0, 1.0))]
    place = replace(OPEN, ground=0.7)
    setup = Setup(name="lid", title="", place=place, camera=CAMERA, lights=(key,), boards=(low,))
    got = light(setup).illuminance_lx([at for at, _ in marks], [way for _, way in marks]).sum(axis=1)
    facets = [*facets_of((low,)), (earth, np.array([0, 0, 1.0]), 0.7)]
    wanted = passed_about(key, facets, marks, (24, 60))
    assert np.abs(np.log2(got / wanted)).max() < 0.06
    once = passed_about(key, facets, marks, (24, 60), rounds=1)
    assert np.log2(wanted / once).min() > 0.2  # it matters


def test_what_a_wall_sends_a_board_lands_on_the_side_that_faces_it():
    # DERIVED: a lamp lights one white wall of a black room; the board's front faces away from it and gets nothing. Its back,
    # small and 1 m from the wall's middle, gets E = rho x (what the wall took, by its own factor), within the wall's noise.
    room = Room(name="room", width_m=4.0, depth_m=5.0, height_m=3.0, **(BLACK | {"left": 0.8}))
    board = Board(
        name="board",
        at=(1.0, 2.5, 1.5),
        aim=(4.0, 2.5, 1.5),
        width_m=0.4,
        height_m=0.4,
        stuff=Stuff(name="stuff", reflectance=0.6, back=0.3),
    )
    key = Light(name="key", at=(3.0, 2.5, 2.9), aim=(0.0, 2.5, 1.5), distribution=Beam(peak_cd=3000, beam_deg=30, field_deg=45))
    setup = Setup(name="wall", title="", place=room, camera=CAMERA, lights=(key,), boards=(board,))
    rig = light(setup).rig
    front, back = (slice(s["first"], s["first"] + s["cells"]) for s in rig.facets)
    wall = np.array([(0.0, 0, 0), (0, 5, 0), (0, 5, 3), (0, 0, 3)])
    quads, middles = pieces(wall, 40)
    shade = [rectangle_corners(board.at, board.aim, 0.4, 0.4)]
    landed = straight_lx(key, middles, np.array([1.0, 0, 0]), shade)
    wanted = 0.8 * (factors(np.array([board.at]), np.array([-1.0, 0, 0]), quads) @ landed)[0]
    assert rig.cells["bounced"][front].tolist() == [0.0] * len(rig.cells["bounced"][front])
    assert rig.cells["bounced"][back].mean() == pytest.approx(wanted, rel=0.03)
    # and that is what its back sends on, which its own reflectance says
    straight_back = prepare(setup).cells["luminance"][back]
    assert rig.cells["luminance"][back] - straight_back == pytest.approx(0.3 / np.pi * rig.cells["bounced"][back])
