"""Planes and polygons: against printed configuration factors, plain double integrals, and brute tests point by point."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad

from lightcalc.engine import geometry
from lightcalc.engine.geometry import MOST_CORNERS, cone_planes, half_sine_table
from lightcalc.laws import falloff
from lightcalc.scene.parts import rectangle_corners

from light_parts import from_python

clip_cone, clip_line, clip_polygon, cut_by_planes, edge_sum, fading, flat_factor, hit_quad, inside, lookup = (
    from_python(getattr(geometry, name)) for name in (
        "clip_cone", "clip_line", "clip_polygon", "cut_by_planes", "edge_sum", "fading", "flat_factor", "hit_quad", "inside", "lookup",
    )
)  # fmt: skip
receive, solid_angle, view_planes = (from_python(getattr(geometry, name)) for name in ("receive", "solid_angle", "view_planes"))

few = settings(max_examples=60, deadline=None, derandomize=True)
ORIGIN = (0.0, 0.0, 0.0)
UP, ALONG_X = (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)


def spare():
    return np.full((MOST_CORNERS, 3), np.nan)


def flat(poly, at=ORIGIN, normal=UP):
    return flat_factor(poly, len(poly), *at, *normal, spare())


def dome(poly, at=ORIGIN, normal=UP):
    return receive(poly, len(poly), *at, *normal, True, spare())


def rectangle(a, b, c, x=0.0, y=0.0):
    """a x b, level, at height c, from the corner (x, y)."""
    return np.array([(x, y, c), (x + a, y, c), (x + a, y + b, c), (x, y + b, c)], dtype=float)


def by_hand(quad, at, normal, weight):
    """Double integral over a rectangle of weight(cosine at the receiver) x cosine at the face / (pi d^2)."""
    a, b = quad[1] - quad[0], quad[3] - quad[0]
    area_vector = np.cross(a, b)

    def piece(v, u):
        away = quad[0] + u * a + v * b - np.asarray(at)
        d2 = away @ away
        return weight(away @ np.asarray(normal) / np.sqrt(d2)) * abs(area_vector @ away) / np.sqrt(d2) / (np.pi * d2)

    return dblquad(piece, 0, 1, 0, 1, epsabs=1e-11, epsrel=1e-9)[0]


def tilted(rng):
    """A rectangle somewhere over a point, and the point's own way of facing."""
    at = rng.uniform(-1, 1, 3)
    normal = rng.normal(size=3)
    normal /= np.linalg.norm(normal)
    centre = at + 1.5 * normal + rng.uniform(-0.4, 0.4, 3)
    return rectangle_corners(centre, centre + rng.normal(size=3), 0.9, 0.6, 25.0), at, normal


# --- configuration factors -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("a", "b", "c", "factor"), [(1, 1, 1, 0.138532), (0.5, 0.5, 1, 0.059864), (1, 0.5, 2, 0.033091), (2, 1, 1, 0.167375)]
)
@pytest.mark.slow
def test_parallel_rectangle_over_a_corner(a, b, c, factor):
    # PUBLISHED: Hamilton & Morgan, NACA TN 2836 (1952), the form for an element under a corner; scipy's dblquad
    # gives these six figures. Either order of the corners is the same light.
    assert flat(rectangle(a, b, c)) == pytest.approx(factor, abs=6e-7)
    assert flat(rectangle(a, b, c)[::-1].copy()) == pytest.approx(factor, abs=6e-7)


@pytest.mark.parametrize(
    ("a", "b", "c", "factor"), [(1, 1, 1, 0.239456), (1.2, 1.2, 2, 0.102372), (2.4, 2.4, 3, 0.168154), (0.6, 1.2, 1.5, 0.090079)]
)
def test_centred_source_is_four_corners(a, b, c, factor):
    # PUBLISHED: as above, four corners added.
    assert flat(rectangle(a, b, c, -a / 2, -b / 2)) == pytest.approx(factor, abs=6e-7)


@pytest.mark.parametrize(
    ("w", "h", "c", "factor"), [(1, 1, 1, 0.055734), (2, 1, 1, 0.068697), (1, 2, 1, 0.095068), (1, 0.5, 2, 0.004058)]
)
def test_element_turned_ninety_degrees(w, h, c, factor):
    # PUBLISHED: Hamilton & Morgan 1952, element at right angles to the rectangle. The receiver's horizon runs along
    # the rectangle's edge; hung half below that horizon, the lower half adds nothing.
    assert flat(rectangle(h, w, c), normal=ALONG_X) == pytest.approx(factor, abs=6e-7)
    assert flat(rectangle(2 * h, w, c, x=-h), normal=ALONG_X) == pytest.approx(factor, abs=6e-7)


@pytest.mark.parametrize(
    ("r", "h", "sideways", "normal", "factor"),
    [
        (0.5, 1, 0, UP, 0.2), (0.5, 2, 0, UP, 0.0588235), (1, 1, 0, UP, 0.5),
        (0.5, 1, 0.5, UP, 0.146447), (0.5, 1, 1, UP, 0.065878), (0.5, 2, 2, UP, 0.015861),
        (0.5, 1, 1, ALONG_X, 0.058156), (0.5, 2, 2, ALONG_X, 0.015373),
    ],
)  # fmt: skip
def test_disc_as_a_polygon(r, h, sideways, normal, factor):
    # PUBLISHED: disc factors, on axis, to the side and upright (any radiation text; dblquad agrees to 1e-6). A disc
    # is the limit of its 20-sided twin of the same area, whose factor is off by about (pi / 20)^4 = 6e-4.
    n = 20
    turn = np.arange(n) * 2 * np.pi / n
    ring = r * np.sqrt(2 * np.pi / (n * np.sin(2 * np.pi / n)))
    poly = np.column_stack([sideways + ring * np.cos(turn), ring * np.sin(turn), np.full(n, float(h))])
    assert flat(poly, normal=normal) == pytest.approx(factor, rel=6e-4, abs=1e-6)


def test_tilted_rectangles_against_double_integrals():
    # INDEPENDENT: scipy's dblquad of cos cos / (pi d^2), and Lambert's formula in falloff; no code shared.
    rng = np.random.default_rng(7)
    for _ in range(6):
        quad, at, normal = tilted(rng)
        wanted = by_hand(quad, at, normal, lambda cosine: cosine)
        assert flat(quad, at, normal) == pytest.approx(wanted, rel=1e-7)
        assert flat(quad, at, normal) == pytest.approx(falloff.polygon_factor(vertices=quad, point=at, normal=normal), rel=1e-9)


@few
@given(st.integers(0, 10_000))
def test_rectangles_across_the_horizon(seed):
    # INDEPENDENT: falloff's Lambert sum closes the horizon along a great circle instead of cutting the polygon.
    rng = np.random.default_rng(seed)
    at, normal = rng.uniform(-1, 1, 3), rng.normal(size=3)
    normal /= np.linalg.norm(normal)
    centre = at + rng.normal(size=3)
    quad = rectangle_corners(centre, centre + rng.normal(size=3), 1.7, 0.9, 40.0)
    face = np.cross(quad[1] - quad[0], quad[3] - quad[0])
    assume(abs(face @ (at - quad[0])) > 0.05 * np.linalg.norm(face))
    # falloff counts only the front, where the corners run anticlockwise; turn the back round for it
    shown = quad if face @ (at - quad[0]) > 0 else quad[::-1]
    wanted = abs(falloff.polygon_factor(vertices=shown, point=at, normal=normal))
    assert flat(quad, at, normal) == pytest.approx(wanted, rel=1e-8, abs=1e-12)


@pytest.mark.slow
def test_behind_the_receiver_there_is_no_light():
    # DERIVED: a flat receptor takes nothing from below its horizon, a dome (1 + cos) / 2 of it.
    quad = rectangle(0.8, 0.5, -1.3, -0.2, -0.1)
    assert flat(quad) == 0.0
    assert dome(quad) == pytest.approx(by_hand(quad, ORIGIN, UP, lambda cosine: 0.5 * (1 + cosine)), rel=1e-7)
    assert dome(quad) > 0.0


def test_dome_against_double_integrals():
    # INDEPENDENT: dblquad with the dome's own weight, (1 + cos) / 2; across the horizon too.
    rng = np.random.default_rng(11)
    for k in range(6):
        quad, at, normal = tilted(rng)
        if k % 2:
            normal = np.cross(normal, (0.3, 0.5, -0.7))
            normal /= np.linalg.norm(normal)
        wanted = by_hand(quad, at, normal, lambda cosine: 0.5 * (1 + cosine))
        assert dome(quad, at, normal) == pytest.approx(wanted, rel=1e-7)
        assert dome(quad[::-1].copy(), at, normal) == pytest.approx(wanted, rel=1e-7)


def test_edge_sum_takes_its_sign_from_the_corner_order():
    # DERIVED: reversing the corners reverses every edge.
    quad = rectangle(1.0, 1.0, 1.0)
    forward = edge_sum(quad, 4, *ORIGIN, *UP)
    assert abs(forward) == pytest.approx(0.138532, abs=6e-7)
    assert edge_sum(quad[::-1].copy(), 4, *ORIGIN, *UP) == pytest.approx(-forward, rel=1e-12)


# --- solid angle ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("a", "b", "c"), [(1.0, 1.0, 1.0), (2.3, 0.4, 0.7), (9.0, 8.0, 0.1)])
def test_solid_angle_of_a_rectangle(a, b, c):
    # DERIVED: over one corner, omega = atan(a b / (c sqrt(a^2 + b^2 + c^2))).
    quad = rectangle(a, b, c)
    assert solid_angle(quad, 4, *ORIGIN) == pytest.approx(np.arctan2(a * b, c * np.sqrt(a * a + b * b + c * c)), rel=1e-12)
    assert solid_angle(quad, 4, a / 2, b / 2, 1e-9) < 2 * np.pi


def test_solid_angles_of_a_box_close():
    # DERIVED: seen from anywhere inside, six walls fill the sphere, and no wall more than half of it.
    w, d, h = 3.1, 2.3, 1.7
    x, y, z = 0.4, 1.9, 0.9
    walls = [
        np.array(corners, float)
        for corners in (
            [(0, 0, 0), (w, 0, 0), (w, d, 0), (0, d, 0)], [(0, 0, h), (w, 0, h), (w, d, h), (0, d, h)],
            [(0, 0, 0), (w, 0, 0), (w, 0, h), (0, 0, h)], [(0, d, 0), (w, d, 0), (w, d, h), (0, d, h)],
            [(0, 0, 0), (0, d, 0), (0, d, h), (0, 0, h)], [(w, 0, 0), (w, d, 0), (w, d, h), (w, 0, h)],
        )
    ]  # fmt: skip
    parts = [solid_angle(wall, 4, x, y, z) for wall in walls]
    assert sum(parts) == pytest.approx(4 * np.pi, rel=1e-12)
    assert max(parts) < 2 * np.pi
    # PUBLISHED: closure, the factors of a closed room add to 1 (here from a point of the floor, facing up)
    assert sum(flat(wall, (x, y, 0.0)) for wall in walls[1:]) == pytest.approx(1.0, rel=1e-12)


# --- planes --------------------------------------------------------------------------------------------------


def crosses(quad, start, end):
    """Whether a segment meets a rectangle, from its own parametric equations."""
    a, b, along = quad[1] - quad[0], quad[3] - quad[0], end - start
    s, u, v = np.linalg.solve(np.column_stack([-along, a, b]), start - quad[0])
    return 0 < s < 1 and 0 < u < 1 and 0 < v < 1


@few
@given(st.integers(0, 10_000))
@pytest.mark.slow
def test_shadow_planes_hold_what_a_segment_test_says(seed):
    # INDEPENDENT: a point is in the shadow when the segment to the lamp (or far towards the sun) meets the flag.
    rng = np.random.default_rng(seed)
    apex, centre = rng.uniform(-1, 1, 3), rng.uniform(-1, 1, 3) + (0, 2.0, 0)
    quad = rectangle_corners(centre, centre + rng.normal(size=3), 1.1, 0.7, rng.uniform(0, 90))
    sun = rng.normal(size=3)
    sun /= np.linalg.norm(sun)
    normal = np.cross(quad[1] - quad[0], quad[3] - quad[0])
    normal /= np.linalg.norm(normal)
    assume(abs(normal @ (apex - centre)) > 0.05 and abs(normal @ sun) > 0.05)
    at_lamp, at_sun = cone_planes(apex, False, quad), cone_planes(sun, True, quad)
    seen = np.full((5, 4), np.nan)
    assert view_planes(quad, *apex, seen)
    hits = 0
    for _ in range(60):
        on = quad[0] + rng.uniform(-0.2, 1.2) * (quad[1] - quad[0]) + rng.uniform(-0.2, 1.2) * (quad[3] - quad[0])
        point = apex + rng.uniform(0.3, 3.0) * (on - apex)
        wanted = crosses(quad, point, apex)
        hits += wanted
        assert inside(at_lamp, 5, *point) == wanted
        assert inside(seen, 5, *point) == wanted
        point = on - rng.uniform(-1.0, 3.0) * sun
        assert inside(at_sun, 5, *point) == crosses(quad, point, point + 50 * sun)
    assert hits > 0


def test_no_view_planes_from_within_its_own_plane():
    # DERIVED: an edge-on rectangle hides nothing.
    assert not view_planes(rectangle(1.0, 1.0, 1.0), 0.3, -2.0, 1.0, np.empty((5, 4)))


@few
@given(st.integers(0, 10_000))
def test_line_inside_planes(seed):
    # INDEPENDENT: every point of the line tried one by one.
    rng = np.random.default_rng(seed)
    apex, centre = rng.uniform(-1, 1, 3), np.array([0.0, 2.5, 0.0])
    planes = cone_planes(apex, False, rectangle_corners(centre, apex, 1.1, 0.7))
    start, way = rng.uniform(-2, 2, 3), rng.normal(size=3)
    start[1] += 3.0
    way /= np.linalg.norm(way)
    low, high = clip_line(planes, 5, *start, *way, 0.0, 6.0)
    t = (np.arange(2000) + 0.5) * 6.0 / 2000
    points = start + t[:, None] * way
    held = (points @ planes[:, :3].T + planes[:, 3] >= 0).all(axis=1)
    assert np.array_equal(held, (t > low) & (t < high))


@few
@given(st.integers(0, 10_000), st.sampled_from([5.0, 20.0, 45.0, 80.0]))
def test_line_inside_a_cone(seed, half_deg):
    # INDEPENDENT: every point of the line tried by its own angle from the axis. One point's width is allowed at each end.
    rng = np.random.default_rng(seed)
    apex, axis, way = rng.uniform(-1, 1, 3), rng.normal(size=3), rng.normal(size=3)
    axis, way = axis / np.linalg.norm(axis), way / np.linalg.norm(way)
    start = apex + rng.uniform(0.2, 2.0) * axis + rng.normal(size=3) * 0.3 - 2.0 * way
    low, high = clip_cone(np.cos(np.radians(half_deg)), *apex, *axis, *start, *way, 0.0, 5.0)
    t = (np.arange(20_000) + 0.5) * 5.0 / 20_000
    away = start + t[:, None] * way - apex
    held = away @ axis > np.cos(np.radians(half_deg)) * np.linalg.norm(away, axis=1)
    assert np.count_nonzero(held != ((t > low) & (t < high))) <= 1


def test_a_line_down_the_axis_is_inside_from_the_apex_on():
    # DERIVED: through the apex along the axis: nothing before it, all after it; and back again.
    c = np.cos(np.radians(20.0))
    assert clip_cone(c, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, -2.3, 0.0, 0.0, 1.0, 0.0, 0.0, 9.0) == pytest.approx((2.3, 9.0))
    assert clip_cone(c, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 2.3, 0.0, 0.0, -1.0, 0.0, 0.0, 9.0) == pytest.approx((0.0, 2.3))


# --- cutting and hitting -------------------------------------------------------------------------------------


def area(poly, count):
    return 0.5 * np.linalg.norm(sum(np.cross(poly[k] - poly[0], poly[k + 1] - poly[0]) for k in range(1, count - 1)))


def test_cutting_a_rectangle():
    # DERIVED: 2 x 3, cut straight at x = 0.5; then the corner beyond x + y = 1, which is a triangle of area 1/2.
    quad, out = rectangle(2.0, 3.0, 1.0), spare()
    kept = clip_polygon(quad, 4, 1.0, 0.0, 0.0, -0.5, out)
    assert (kept, area(out, kept)) == (4, pytest.approx(4.5))
    kept = clip_polygon(quad, 4, -1.0, -1.0, 0.0, 1.0, out)
    assert (kept, area(out, kept)) == (3, pytest.approx(0.5))
    kept = clip_polygon(quad, 4, 1.0, 1.0, 0.0, -1.0, out)
    assert (kept, area(out, kept)) == (5, pytest.approx(5.5))
    assert clip_polygon(quad, 4, 0.0, 0.0, -1.0, 0.5, out) == 0


def test_cutting_by_a_window_leaves_what_shows_through_it():
    # DERIVED: from the origin, a 0.2 m pane 1 m away shows 0.6 m of a wall 3 m away.
    planes, a, b = np.empty((5, 4)), spare(), spare()
    assert view_planes(rectangle(0.2, 0.2, 1.0, -0.1, -0.1), *ORIGIN, planes)
    kept = cut_by_planes(rectangle(4.0, 4.0, 3.0, -2.0, -2.0), 4, planes, 5, a, b)
    assert area(a, kept) == pytest.approx(0.36, rel=1e-12)
    kept = cut_by_planes(rectangle(4.0, 4.0, 3.0, 0.1, -2.0), 4, planes, 5, a, b)  # its edge cuts the view at x = 0.1
    assert area(a, kept) == pytest.approx(0.2 * 0.6, rel=1e-12)
    assert cut_by_planes(rectangle(1.0, 1.0, 0.5), 4, planes, 5, a, b) == 0  # nearer than the pane


@few
@given(st.integers(0, 10_000))
def test_hitting_a_rectangle(seed):
    # INDEPENDENT: a linear solve for the ray's place in the rectangle; the side from the angle to its normal.
    rng = np.random.default_rng(seed)
    centre = rng.uniform(-1, 1, 3)
    aim = centre + rng.normal(size=3)
    quad = rectangle_corners(centre, aim, 1.3, 0.8, rng.uniform(-90, 90))
    start = centre + 2 * rng.normal(size=3)
    way = centre + rng.uniform(-0.8, 0.8, 3) - start
    way /= np.linalg.norm(way)
    a, b = quad[1] - quad[0], quad[3] - quad[0]
    t, u, v = np.linalg.solve(np.column_stack([way, -a, -b]), quad[0] - start)
    got, side = hit_quad(quad, *start, *way)
    if t > 0 and 0 <= u <= 1 and 0 <= v <= 1:
        assert got == pytest.approx(t, rel=1e-9)
        assert side == (1 if way @ (aim - centre) < 0 else -1)  # +1: met on the side that faces the aim
    else:
        assert (got, side) == (np.inf, 0)


@pytest.mark.parametrize("u, v", [(0.001, 0.5), (0.999, 0.5), (0.5, 0.001), (0.5, 0.999), (0.001, 0.999)])
def test_hitting_ends_at_the_edge(u, v):
    # DERIVED: a thousandth of a side inside hits, as far outside misses.
    quad = rectangle(1.3, 0.8, 1.0)
    assert hit_quad(quad, 1.3 * u, 0.8 * v, 3.0, 0.0, 0.0, -1.0) == (pytest.approx(2.0), 1)
    beyond = [-0.001 if share < 0.5 else 1.001 if share > 0.5 else 0.5 for share in (u, v)]
    assert hit_quad(quad, 1.3 * beyond[0], 0.8 * beyond[1], 3.0, 0.0, 0.0, -1.0) == (np.inf, 0)


def test_hitting_looks_forward_only():
    # DERIVED: a ray from the rectangle itself, away from it, or along it, meets nothing.
    quad = rectangle(1.0, 1.0, 1.0)
    assert hit_quad(quad, 0.5, 0.5, 2.0, 0.0, 0.0, 1.0) == (np.inf, 0)
    assert hit_quad(quad, 0.5, 0.5, 1.0, 0.0, 0.0, 1.0) == (np.inf, 0)
    assert hit_quad(quad, -1.0, 0.5, 1.0, 1.0, 0.0, 0.0) == (np.inf, 0)


@few
@given(st.integers(0, 10_000))
def test_corners_run_anticlockwise_as_the_aim_sees_them(seed):
    # DERIVED: the right-hand normal points at the aim; sides and centre are as asked for.
    rng = np.random.default_rng(seed)
    at, aim = rng.uniform(-2, 2, 3), rng.uniform(-2, 2, 3)
    quad = rectangle_corners(at, aim, 1.3, 0.8, rng.uniform(-180, 180))
    normal = np.cross(quad[1] - quad[0], quad[2] - quad[1])
    assert normal / np.linalg.norm(normal) == pytest.approx((aim - at) / np.linalg.norm(aim - at), abs=1e-9)
    assert quad.mean(axis=0) == pytest.approx(at, abs=1e-12)
    assert np.linalg.norm(quad[1] - quad[0]) * np.linalg.norm(quad[2] - quad[1]) == pytest.approx(1.3 * 0.8)
    assert np.linalg.norm(quad[2] - quad[0]) == pytest.approx(np.hypot(1.3, 0.8))


def test_corners_of_an_upright_facet():
    # DERIVED: 1.2 wide, 0.6 high, facing -y: the width lies along x, the height along z. Rolled a quarter, they change places.
    quad = rectangle_corners((1.0, 2.0, 1.5), (1.0, 0.0, 1.5), 1.2, 0.6)
    assert np.ptp(quad, axis=0) == pytest.approx([1.2, 0.0, 0.6])
    assert np.ptp(rectangle_corners((1.0, 2.0, 1.5), (1.0, 0.0, 1.5), 1.2, 0.6, 90.0), axis=0) == pytest.approx([0.6, 0.0, 1.2])


# --- tables --------------------------------------------------------------------------------------------------


def test_half_sine_table_reads_back_its_function():
    # DERIVED: cos^2(theta) is 1 - 4 s^2 + 4 s^4 in s = sin(theta / 2); a straight line in s misses it by
    # f'' h^2 / 8 <= 40 / 8 / 2047^2 = 1.2e-6.
    table = half_sine_table(lambda theta: np.cos(theta) ** 2)
    for theta in np.linspace(0, np.pi, 37):
        assert lookup(table, np.cos(theta)) == pytest.approx(np.cos(theta) ** 2, abs=1.3e-6)
    assert lookup(table, 1.0 + 1e-15) == pytest.approx(1.0)
    assert lookup(table, -1.0 - 1e-15) == pytest.approx(1.0)


def test_fading_is_the_exponential():
    # DERIVED: exp of the standard library, as near as the docstring says.
    depth = np.concatenate([[0.0, 1e-12], np.linspace(0.01, 30.0, 400)])
    found = np.array([fading(one) for one in depth])
    assert found[depth <= 3] == pytest.approx(np.exp(-depth[depth <= 3]), rel=1e-9)
    assert found[depth <= 10] == pytest.approx(np.exp(-depth[depth <= 10]), rel=2e-6)
    assert found == pytest.approx(np.exp(-depth), abs=1e-9)
