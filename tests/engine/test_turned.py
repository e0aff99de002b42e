"""What the haze at a place turns into one direction: against sums taken one point, one patch, one harmonic at a time."""

import numba
import numpy as np
import pytest

from lightcalc.engine import direct, indirect, rows, shadow, solve, turned
from lightcalc.engine.harmonics import harmonics_of
from lightcalc.kit.materials import Stuff
from lightcalc.scene.parts import SURFACES, Board, Haze, Mark, Piece

from light_parts import henyey_greenstein, lamp, loft, setup

SOLO = Mark(name="face", at=(2.6, 2.4, 1.5), aim=(2.0, 0.0, 1.4), figure=True)
TABLE = Piece(name="table", what="table", at=(1.2, 1.0, 0.0), aim=(1.2, 2.0, 0.0))
LAMP = lamp("key", (0.6, 3.0, 2.2), 900.0)
GREY_WALLS = dict.fromkeys(SURFACES, 0.4)
GREY = Stuff(name="grey", reflectance=0.4)
BOARDS = (
    Board(name="one", at=(1.4, 1.4, 1.2), aim=(3.0, 2.0, 1.2), width_m=1.2, height_m=1.0, stuff=GREY),
    Board(name="two", at=(3.2, 1.0, 1.0), aim=(1.0, 2.5, 1.5), width_m=0.8, height_m=1.2, stuff=GREY),
)


@numba.njit
def at_places(rigs, places, ways, turn=0):
    """Halo, patches, and what stands between each place and each halo point."""
    rig, scratch = rigs[0], turned.new_scratch(rigs[0])
    out, clear = np.zeros((places.shape[0], 2)), np.zeros((places.shape[0], rigs[0].n_points + rigs[0].n_patches))
    for i in range(places.shape[0]):
        x, y, z = places[i, 0], places[i, 1], places[i, 2]
        out[i, 0] = turned.gathered_halo(rig, x, y, z, ways[i, 0], ways[i, 1], ways[i, 2], scratch, turn)
        out[i, 1] = turned.patch_radiance(rig, x, y, z, ways[i, 0], ways[i, 1], ways[i, 2], scratch, turn)
        for k in range(rig.n_points):
            at = rows.point_of(rig, k).at
            clear[i, k] = shadow.clear_to(rig, x, y, z, at[0], at[1], at[2], -1)
        for k in range(rig.n_patches):
            at = rows.patch_of(rig, k).at
            clear[i, rig.n_points + k] = shadow.clear_to(rig, x, y, z, at[0], at[1], at[2], -1)
    return out, clear


def in_the_room(rig, n):
    """Places and ways, (n, 3) each."""
    draw = np.random.default_rng(5)
    ways = draw.normal(size=(n, 3))
    return (0.05 + 0.9 * draw.random((n, 3))) * rig.size, ways / np.linalg.norm(ways, axis=1)[:, None]


def phase(rig, cosine):
    """The rig's phase function, read as the engine's tables are. [1/sr]"""
    return np.interp(np.sqrt(np.maximum(0.5 - 0.5 * cosine, 0.0)) * (len(rig.phase) - 1), np.arange(len(rig.phase)), rig.phase)


@pytest.mark.parametrize(
    "things, within", [({}, 1e-6), ({"boards": BOARDS}, 1e-6), ({"boards": BOARDS, "marks": (SOLO,), "pieces": (TABLE,)}, 0.02)]
)
def test_points_and_patches_are_summed_one_by_one(things, within):
    # DERIVED: the sums of the docstrings by numpy, in whole arrays; what stands between by `clear_to`, which is held to marched
    # lines in test_shadow. Of faint light nobody asks whether a person hides it: a per cent or two of the sum.
    rig = solve.light(setup(loft(**GREY_WALLS), lights=(LAMP,), haze=Haze(extinction_per_m=0.2, g=0.6), **things), "final").rig
    places, ways = in_the_room(rig, 60)
    found, clear = at_places(rig.row, places, ways)
    many, core2 = len(rig.points), rig.core**2
    assert many > 500 and len(rig.patches) > 20

    away = places[:, None] - rig.points["at"]
    d = np.linalg.norm(away, axis=2)
    once, again = (away * rig.points["way"]).sum(axis=2) / d, np.einsum("pka,pa->pk", away, ways) / d
    blurred = (d**2 + 3 * core2) / (d**2 + core2) ** 2
    halo = rig.points["lumens"] * phase(rig, once) * phase(rig, again) * np.exp(-0.2 * d) * blurred * clear[:, :many]
    assert found[:, 0] == pytest.approx(halo.sum(axis=1), rel=within)

    patches = rig.patches
    away = places[:, None] - patches["at"]
    height = (away * patches["normal"]).sum(axis=2)
    near = (away**2).sum(axis=2) < 4 * patches["area"]
    assert 100 < near.sum() < near.size / 2
    lift = np.where(near, np.sqrt(height**2 + 0.3 * patches["area"]) - height, 0.0)
    from_it = away + lift[..., None] * patches["normal"]
    turned_to = np.einsum("pka,pa->pk", from_it, ways) / np.linalg.norm(from_it, axis=2)
    d = np.linalg.norm(away, axis=2)
    solid = np.where(near, corners_solid(patches, away, height), patches["area"] * height / d**3)
    sent = patches["luminance"] * solid * phase(rig, turned_to) * np.exp(-0.2 * d) * clear[:, many:]
    assert found[:, 1] == pytest.approx(sent.sum(axis=1), rel=within)


@pytest.mark.slow
def test_a_crowded_drafts_sample_stands_for_the_rest():
    # DERIVED: against every place asked, which a final rig does but for what is faint. One sample of sixteen is noisy where few
    # places count; over the turns of a sight line it is not.
    things = {"boards": BOARDS, "marks": (SOLO,), "pieces": (TABLE,)}
    rig = solve.light(setup(loft(**GREY_WALLS), lights=(LAMP,), haze=Haze(extinction_per_m=0.2, g=0.6), **things), "final").rig
    places, ways = in_the_room(rig, 60)
    every, clear = at_places(rig.row, places, ways)
    sampled = np.array([at_places(rig.replace(rough=True).row, places, ways, turn)[0] for turn in range(turned.SAMPLED)])
    assert (clear.mean(axis=1) < 0.9).sum() > 10, "something hides much from some"
    off = sampled / every - 1.0
    assert np.sqrt((off**2).mean()) < 0.06 and np.sqrt((off.mean(axis=0) ** 2).mean()) < 0.025
    assert np.abs(off.std(axis=0)).max() > 0.005, "it is a sample"


def corners_solid(patches, away, height):
    """Solid angle of each patch, as the sum over its corners that tables of the rectangle's give. [sr]"""
    flat = np.array([[1, 2], [0, 2], [0, 1]])[patches["axis"]]
    u, v = (np.take_along_axis(away, flat[None, :, k : k + 1], axis=2)[..., 0] for k in (0, 1))
    total = 0.0
    for i in (-1, 1):
        for j in (-1, 1):
            s, t = u + i * patches["half"][:, 0], v + j * patches["half"][:, 1]
            total = total + i * j * np.arctan2(s * t, height * np.sqrt(s**2 + t**2 + height**2))
    return total


def test_a_patch_close_by_fills_half_of_what_is_seen():
    # DERIVED: a place a hair over a large even floor, in haze that turns light evenly, sees half a sphere of it: 2 pi L / (4 pi).
    rig = solve.light(setup(lights=(LAMP,), haze=Haze(extinction_per_m=1e-9, g=0.0)), "draft").rig
    floor = np.zeros(1, dtype=rows.PATCH)
    floor["at"], floor["normal"], floor["axis"], floor["half"] = (2.0, 2.0, 0.0), (0.0, 0.0, 1.0), 2, (50.0, 50.0)
    floor["area"], floor["luminance"] = 1e4, 3.0
    found, _ = at_places(
        rig.replace(patches=floor, points=rig.points[:0]).row, np.array([[2.0, 2.0, 0.01]]), np.array([[0.0, 0.6, 0.8]])
    )
    assert found[0, 1] == pytest.approx(3.0 * 0.5, rel=1e-3)


@pytest.mark.parametrize("narrow, g", [(0.0, 0.7), (0.5, 0.6), (0.8, 0.85), (0.9, 0.9)])
def test_a_bundle_kept_by_four_orders_is_turned_as_all_its_orders_are(narrow, g):
    # DERIVED: light spread about its way by Henyey and Greenstein's function of one g, turned by that of another, is spread by that
    # of their product, for moments multiply. Cells keep orders 0 to 3; along a line of depth t the rest of it is 1 - exp(-t).
    rig = solve.light(setup(haze=Haze(extinction_per_m=0.3, g=g)), "draft").rig
    way = np.array([[0.6, -0.48, 0.64]])
    moments = 7.0 * narrow ** np.repeat([0, 1, 2, 3], [1, 3, 5, 7]) * harmonics_of(way)[0]
    air = np.tile(moments, (3, 3, 3, 1))
    rig = rig.replace(
        air=air, halo=0 * air, fresh=0 * air, points=rig.points[:0], patches=rig.patches[:0], facets=rig.facets[:0], lamps=rig.lamps[:0],
        shafts=rig.shafts[:0],
    )  # fmt: skip
    lines = indirect.even_directions(60)
    reach = np.full(60, 1.0)
    seen = indirect.soft_air(rig.row, np.array([2.0, 2.0, 1.2]), lines, reach, 0 * reach, 4, *direct.gauss_nodes(4))[:, -1]
    expected = 7.0 * henyey_greenstein(narrow * g, -lines @ way[0]) * (1 - np.exp(-0.3))
    assert seen == pytest.approx(expected, rel=0.002)
