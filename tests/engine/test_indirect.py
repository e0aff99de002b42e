"""Bounced and scattered light: slabs, cavities, rooms, energy, symmetry, and what every gaffer knows."""

import dataclasses

import numpy as np
import pytest

from lightcalc.answers import readings
from lightcalc.engine import direct, geometry, indirect, kernels, particles, rows, solve
from lightcalc.engine.harmonics import harmonics_of
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Diffusion, Stuff
from lightcalc.scene import openings
from lightcalc.scene.parts import SURFACES, Board, Camera, Flag, Frame, Haze, Light, Mark, Room, Setup, Sky, Spot, Sun, Window

import radiosity
from light_parts import henyey_greenstein, lamp, loft, setup

SIDES = rows.SURFACE_ORDER
OPEN = Window(name="open", wall="near", centre_m=3.1, sill_m=0.8, width_m=1.2, height_m=1.5)
LEVEL = 1e-3  # degrees: a sun as good as level


def table_for(rig, *made):
    """The rig's own emitters, or those given as dictionaries."""
    if not made:
        return particles.emitters(rig)
    table = rows.table_of_rows(particles.EMITTER, made)
    particles.measure_emitters(rig.row, table)
    return table


def follow(rig, *made, count=200_000, cells=4, grid=(3, 3, 3), step_m=0.2):
    """What `trace` tallies, all hands together: lumens on walls, facets, lumen-metres in fresh, air and halo, ledger."""
    table = particles.dealt(table_for(rig, *made), count)
    phase_draws = particles.draws(rig.phase)
    lamp_draws = np.array([particles.draws(t[0]) for t in rig.candelas]).reshape(-1, len(phase_draws))
    total = int(table["count"].sum())
    parts = particles.trace(rig.row, table, lamp_draws, phase_draws, total, 1, cells, grid, step_m)
    return [part.sum(axis=0) for part in parts]


def areas(room):
    """Of the six surfaces, in the engine's order. [m2]"""
    w, d, h = room.size_m
    return np.array([d * h, d * h, w * h, w * h, w * d, w * d])


def box(w, d, h, reflectance, windows=()):
    """A room of one paint, or of one for each surface by name."""
    paint = reflectance if isinstance(reflectance, dict) else dict.fromkeys(SURFACES, reflectance)
    return Room(name="box", width_m=w, depth_m=d, height_m=h, windows=windows, **paint)


def in_box(room, **parts):
    """A setup in a box, the camera in its near left corner."""
    w, d, h = room.size_m
    return Setup(
        name="box", title="Box", place=room, camera=Camera(at=(0.2 * w, 0.1 * d, 0.5 * h), aim=(0.5 * w, 0.9 * d, 0.5 * h)), **parts
    )


# --- a slab of haze ------------------------------------------------------------------------------------------

SLABS = {  # g: {optical depth: (reflected, transmitted without the straight light)}
    0.0: {0.2: (0.091272, 0.089997), 0.5: (0.202506, 0.190963), 1: (0.341329, 0.290792), 2: (0.517515, 0.347150), 4: (0.690926, 0.290758)},
    0.5: {0.2: (0.035440, 0.145829), 0.5: (0.089797, 0.303672), 1: (0.176115, 0.456006), 2: (0.320300, 0.544365), 4: (0.508967, 0.472718)},
    0.75: {0.2: (0.014144, 0.167126), 0.5: (0.037343, 0.356126), 1: (0.078740, 0.553381), 2: (0.163176, 0.701489), 4: (0.311639, 0.670045)},
    0.85: {0.2: (0.007581, 0.173688), 0.5: (0.019927, 0.373542), 1: (0.042316, 0.589804), 2: (0.091018, 0.773646), 4: (0.190915, 0.790769)},
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("g", SLABS)
def test_a_slab_of_haze_sends_back_and_lets_through(g):
    # INDEPENDENT: discrete ordinates with 64 streams, two programs that agree to 4e-7; for g 0 the integral equation
    # too, to 1e-6. The slab is 0.5 m thin and 200 m wide, black all round, the sun square to it through a slot. Each
    # particle counts once and whole, so its standard error is the binomial one; three of them are allowed.
    slot = Window(name="slot", wall="near", centre_m=100.0, sill_m=100.0, width_m=0.2, height_m=0.2)
    count = 200_000
    for depth, wanted in SLABS[g].items():
        slab = in_box(
            box(200.0, 0.5, 200.0, 0.0, (slot,)),
            sun=Sun(bearing_deg=180.0, elevation_deg=LEVEL, normal_lx=1e5),
            haze=Haze(extinction_per_m=depth / 0.5, g=g),
        )
        walls, _, _, _, _, ledger = follow(direct.prepare(slab), count=count, step_m=5.0)
        got = walls.sum(axis=(1, 2)) / ledger[particles.EMITTED]
        for share, book in zip((got[SIDES.index("near")], got[SIDES.index("far")]), wanted):
            assert share == pytest.approx(book, abs=3 * np.sqrt(book * (1 - book) / count)), (depth, got)
        assert got.sum() == pytest.approx(1 - np.exp(-depth), abs=2e-3), "none is lost sideways"


# --- cavities and rooms --------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("haze", [Haze(), Haze(extinction_per_m=0.3, g=0.6)])
@pytest.mark.parametrize(("reflectance", "gain"), [(0.2, 0.25), (0.5, 1.0), (0.8, 4.0), (0.9, 9.0)])
def test_an_integrating_cavity_gains_rho_over_one_minus_rho(reflectance, gain, haze):
    # PUBLISHED: the integrating sphere, Phi / A x rho / (1 - rho). DERIVED: in a closed room of one paint the mean over
    # all surfaces is the same whatever its shape, for what arrives is Phi + rho x what arrives; haze that absorbs
    # nothing moves light but keeps it. 1 %: the particles' noise.
    room = box(4.6, 5.3, 2.9, reflectance)
    rig = direct.prepare(in_box(room, lights=(lamp("bulb", (1.1, 3.7, 2.2), 1000.0 / (4 * np.pi)),), haze=haze))
    walls, _, _, _, _, ledger = follow(rig)
    ways = indirect.even_directions(20_000)  # what reaches the walls straight, way by way about the bulb
    reach = np.where(ways > 0, np.array(room.size_m) - rig.lamps["at"][0], -rig.lamps["at"][0]) / ways
    straight = 1000 * np.exp(-haze.extinction_per_m * reach.min(axis=1)).mean()
    assert ledger[particles.EMITTED] == pytest.approx(1000.0, rel=2e-3)
    assert walls.sum() + straight == pytest.approx(1000.0 * (1 + gain), rel=0.01)


@pytest.mark.slow
def test_an_even_furnace_is_even_everywhere():
    # DERIVED: walls that all send the luminance L and reflect rho fill a clear room with rho L / (1 - rho) more, the same
    # way everywhere: first moment sqrt(4 pi) of it, no other. A haze turns light but cannot change what is even: it only
    # moves what is still straight off the walls, L exp(-sigma way), into the tally; way by way, from each cell's points.
    room, glow, rho, sigma = box(4.2, 3.3, 2.7, 0.6), 100.0, 0.6, 0.25
    w, d, h = room.size_m
    along = dict(left=d, right=d, near=w, far=w)
    corners = [
        openings.wall_outline(Window(name=wall, wall=wall, centre_m=0.5 * long, sill_m=0.0, width_m=long, height_m=h), room)
        for wall, long in along.items()
    ]
    corners += [np.array([(0, 0, 0), (w, 0, 0), (w, d, 0), (0, d, 0.0)]), np.array([(0, 0, h), (0, d, h), (w, d, h), (w, 0, h)])]
    panels = [dict(kind=particles.FACET_EVEN, quad=quad, share=glow) for quad in corners]
    for haze in (Haze(), Haze(extinction_per_m=sigma, g=0.6)):
        rig = direct.prepare(in_box(room, haze=haze))
        walls, _, fresh, air, halo, ledger = follow(rig, *panels, count=400_000)
        assert ledger[particles.EMITTED] == pytest.approx(np.pi * glow * areas(room).sum(), rel=1e-3)
        assert not halo.any(), "no lamp, no halo"
        moments = (fresh + air) / (w * d * h / 27)
        ways, spots = indirect.even_directions(2000), np.random.default_rng(4).random((500, 3)) * room.size_m
        reach = np.where(ways > 0, (np.array(room.size_m) - spots[:, None]) / ways, -spots[:, None] / ways).min(axis=2)
        tallied = glow / (1 - rho) - glow * np.exp(-haze.extinction_per_m * reach).mean()
        assert moments[..., 0].mean() == pytest.approx(np.sqrt(4 * np.pi) * tallied, rel=0.01)
        if not haze.extinction_per_m:
            assert not air.any(), "nothing turns it"
            assert moments[..., 0] == pytest.approx(np.sqrt(4 * np.pi) * tallied, rel=0.03)
            assert np.abs(moments[..., 1:]).max() < 0.05 * np.sqrt(4 * np.pi) * tallied
            lux = walls.sum(axis=(1, 2)) / areas(room)
            assert lux == pytest.approx(np.pi * glow * rho / (1 - rho), rel=0.01)


def floor_lit(paint, windows=()):
    """Illuminance of the six surfaces, 6 x 5 x 3 m, with 1000 lm straight down onto all of the floor; and the ledger."""
    room = box(6.0, 5.0, 3.0, paint, windows)
    rig = direct.prepare(in_box(room, sun=Sun(bearing_deg=0.0, elevation_deg=90.0, normal_lx=1000.0 / 30.0)))
    down = np.array([(0, 0, 1e-6), (0, 5, 1e-6), (6, 5, 1e-6), (6, 0, 1e-6)])
    walls, _, _, _, _, ledger = follow(rig, dict(kind=particles.LAMP_THROUGH, quad=down, share=1.0), count=400_000)
    lux = walls.sum(axis=(1, 2)) / areas(room)
    lux[SIDES.index("floor")] += 1000.0 / 30.0  # straight light is not tallied
    assert ledger[particles.EMITTED] == pytest.approx(1000.0, rel=1e-9)
    return room, lux, ledger


def patched_lux(size, reflectance, straight_lm, n=10):
    """The same by radiosity on n x n patches a surface, factors from each one's middle by Lambert's edge sum. [lx]"""
    w, d, h = size
    at = np.array([(0, 0, 0), (w, 0, 0), (0, 0, 0), (0, d, 0), (0, 0, 0), (0, 0, h)])
    across = np.array([(0, d, 0)] * 2 + [(w, 0, 0)] * 4) / n
    up = np.array([(0, 0, h)] * 4 + [(0, d, 0)] * 2) / n
    inward = np.array([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1.0)])
    i, j = (grid.ravel()[:, None] for grid in np.indices((n, n)))
    corner = np.concatenate([at[k] + i * across[k] + j * up[k] for k in range(6)])
    side = np.repeat(np.arange(6), n * n)
    quads = corner[:, None] + np.stack([0 * across, across, across + up, up], axis=1)[side]
    a = quads[None] - quads.mean(axis=1)[:, None, None]
    a /= np.linalg.norm(a, axis=3, keepdims=True)
    b = np.roll(a, -1, axis=2)
    cross = np.cross(a, b)
    sine = np.linalg.norm(cross, axis=3)
    edges = np.arctan2(sine, (a * b).sum(axis=3)) / np.maximum(sine, 1e-300)
    factor = np.abs((edges * np.einsum("pqec,pc->pqe", cross, inward[side])).sum(axis=2)) / (2 * np.pi)
    factor[side[:, None] == side] = 0.0
    patch = np.linalg.norm(np.cross(across, up), axis=1)[side]
    first = (np.asarray(straight_lm) / n**2)[side]
    lumens = np.linalg.solve(np.eye(len(side)) - factor.T * np.asarray(reflectance)[side], first)
    return (lumens / patch).reshape(6, -1).mean(axis=1)


@pytest.mark.slow
def test_a_room_lit_on_its_floor():
    # PUBLISHED: six even surfaces, floor 0.2, ceiling 0.8, walls 0.5, by the printed factors of parallel and square
    # rectangles (Hamilton & Morgan 1952). That each surface is even is an assumption there, worth 1.4 %.
    # INDEPENDENT: radiosity on a hundred patches a surface has the gradients; it is good to 0.3 %, the particles to 0.4 %.
    paint = dict(floor=0.2, ceiling=0.8, left=0.5, right=0.5, near=0.5, far=0.5)
    room, lux, ledger = floor_lit(paint)
    wanted = dict(floor=35.6513, ceiling=3.8661, near=3.6822, far=3.6822, left=3.6596, right=3.6596)
    assert lux == pytest.approx([wanted[side] for side in SIDES], rel=0.016)
    fine = patched_lux(room.size_m, [paint[side] for side in SIDES], [0, 0, 0, 0, 1000.0, 0])
    assert lux == pytest.approx(fine, rel=0.007)
    # DERIVED: what the surfaces keep, (1 - rho) E A, is what was sent.
    kept = sum((1 - paint[side]) * e * a for side, e, a in zip(SIDES, lux, areas(room)))
    assert kept == pytest.approx(1000.0, rel=1e-3)
    # INDEPENDENT: the package's closed form for six even surfaces, which knows nothing of particles.
    order = ("floor", "ceiling", "left", "right", "near", "far")  # as falloff.ROOM_SURFACES, by their planes
    even = radiosity.room_radiosity(
        width_m=6.0, depth_m=5.0, height_m=3.0, reflectances=[paint[side] for side in order],
        flux_on_each_lm=[1000.0, 0, 0, 0, 0, 0],
    )  # fmt: skip
    assert even == pytest.approx([wanted[side] for side in order], rel=1e-4)


@pytest.mark.slow
def test_a_room_without_its_far_wall():
    # INDEPENDENT: the same radiosity, the far wall an opening that gives nothing back though its paint is white.
    # DERIVED: the lumens that arrive there are those that leave.
    paint = dict(floor=0.6, ceiling=0.8, left=0.5, right=0.5, near=0.7, far=0.9)
    gone = Window(name="gone", wall="far", centre_m=3.0, sill_m=0.0, width_m=6.0, height_m=3.0)
    room, lux, ledger = floor_lit(paint, (gone,))
    fine = patched_lux(room.size_m, [(paint | {"far": 0.0})[side] for side in SIDES], [0, 0, 0, 0, 1000.0, 0])
    assert lux == pytest.approx(fine, rel=0.007)
    assert ledger[particles.ESCAPED] == pytest.approx(lux[SIDES.index("far")] * 18.0, rel=1e-9)


# --- energy and order ----------------------------------------------------------------------------------------

WHITE = Stuff(name="white", reflectance=0.85, gloss=0.0, back=0.4)
SILVER = Stuff(name="silver", reflectance=0.8, gloss=0.7, lobe_deg=12.0, back=0.1)
FULL = dict(
    lights=(
        Light(name="sun lamp", at=(3.0, -3.9, 3.1), aim=(3.1, 0.0, 1.5), distribution=Beam(peak_cd=2e5, beam_deg=24, field_deg=38)),
        Light(name="spot", at=(0.5, 4.1, 2.5), aim=(4.0, 2.0, 1.0), distribution=Beam(peak_cd=9e3, beam_deg=20, field_deg=34)),
        Light(name="panel", at=(5.7, 0.6, 2.2), aim=(3.0, 2.5, 1.2), distribution=Lambert(peak_cd=900.0), face_width_m=0.8, face_height_m=0.6),
    ),
    boards=(Board(name="white", at=(4.6, 3.4, 1.3), aim=(3.0, 2.4, 1.4), width_m=1.2, height_m=1.0, stuff=WHITE), Board(name="silver", at=(1.4, 1.0, 1.4), aim=(3.0, 2.4, 1.4), width_m=0.6, height_m=0.9, stuff=SILVER)),
    frames=(Frame(name="silk", at=(2.2, 3.6, 1.6), aim=(3.0, 2.4, 1.4), width_m=1.0, height_m=1.0, diffusion=Diffusion(name="half", direct=0.3, diffuse=0.4)),),
    flags=(Flag(name="cutter", at=(3.3, 0.9, 1.9), aim=(3.0, -3.0, 3.0), width_m=0.5, height_m=0.4),),
    marks=(Mark(name="face", at=(3.0, 2.4, 1.5), aim=(1.2, 0.7, 1.5)), Mark(name="cheek", at=(2.6, 2.0, 1.4), aim=(3.0, -3.9, 3.1), receptor="dome")),
    sky=Sky(zenith_cd_m2=3000.0, horizon_cd_m2=1000.0),
    haze=Haze(extinction_per_m=0.08, g=0.7),
)  # fmt: skip
PAINT = dict(floor=0.2, ceiling=0.7, left=0.5, right=0.4, near=0.35, far=0.6)


def full(**changes):
    """Every kind of thing at once, in hazed air."""
    return setup(loft(OPEN, **PAINT), **(FULL | changes))


def test_what_is_sent_is_kept_or_leaves_by_the_window():
    # DERIVED: haze and reflection lose nothing. Lamps, a sky, boards, a silver board, a frame and a flag at once.
    rig = direct.prepare(full())
    table = particles.emitters(rig)
    assert set(table["kind"]) == {particles.LAMP_ALL_ROUND, particles.LAMP_THROUGH, particles.SKY_THROUGH}
    walls, facets, fresh, air, halo, ledger = follow(rig)
    assert ledger.min() > 0 and facets.min() >= 0 and walls.min() > 0
    kept_or_gone = ledger[particles.ABSORBED] + ledger[particles.ESCAPED]
    assert kept_or_gone == pytest.approx(ledger[particles.EMITTED], rel=1e-3)
    assert (ledger[particles.ESCAPED] / ledger[particles.EMITTED]) == pytest.approx(0.05, abs=0.04)


def test_the_same_numbers_twice_and_on_one_core():
    # DERIVED: fixed seeds and fixed hands; not one bit may differ.
    seen = []
    for n in (kernels.CORES, 3, 1):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(kernels, "CORES", n)
            light = solve.light(full(), "draft")
            reading = readings.readings(light.setup, lit=light)
            seen.append(
                (light.rig.walls_lx, light.rig.fresh, light.rig.air, light.rig.halo, light.rig.cells["luminance"], reading.lines())
            )
    for other in seen[1:]:
        for a, b in zip(seen[0], other):
            assert np.array_equal(a, b)


MANY = dataclasses.replace(solve.QUALITY["final"], rays=6000, soft_rays=4000, slices=30, particles=400_000)


def lux_at(setup, points, facing, quality="final"):
    """Illuminance at flat receptors, (n, sources + 1). [lx]"""
    return solve.light(setup, quality).illuminance_lx(points, facing)


@pytest.mark.slow
def test_lights_add():
    # DERIVED: light is linear. Straight light adds to rounding; the room's share carries the particles' noise, and so
    # does what boards and frames send on: they are small, and few particles find them.
    points, facing = [(3.0, 2.4, 1.5), (1.0, 4.0, 1.1), (5.0, 1.2, 0.9)], [(-0.6, -0.6, 0.1), (0, -1, 0), (-1, 0.3, 0)]
    together = lux_at(full(sky=None), points, facing)
    apart = [lux_at(full(sky=None, lights=(light,)), points, facing) for light in FULL["lights"]]
    straight = np.concatenate([part[:, :1] for part in apart], axis=1)
    assert together[:, :3] == pytest.approx(straight, rel=1e-9, abs=1e-9)
    assert together[:, -1] == pytest.approx(sum(part[:, -1] for part in apart), rel=0.02)
    assert together[:, 3:-1] == pytest.approx(sum(part[:, 1:-1] for part in apart), rel=0.05)
    assert together.sum(axis=1) == pytest.approx(sum(part.sum(axis=1) for part in apart), rel=0.01)


@pytest.mark.slow
def test_a_mirrored_room_gives_the_mirrored_light():
    # DERIVED: left and right are names. The particles differ, so the room's share only agrees to their noise.
    w = 6.3
    flip = lambda p: (w - p[0], p[1], p[2])
    paint = PAINT | dict(left=PAINT["right"], right=PAINT["left"])
    window = dataclasses.replace(OPEN, centre_m=w - OPEN.centre_m)
    there = {
        kind: tuple(dataclasses.replace(part, at=flip(part.at), aim=flip(part.aim)) for part in FULL[kind])
        for kind in ("lights", "boards", "frames", "flags", "marks")
    }
    points, facing = (
        np.array([(3.0, 2.4, 1.5), (1.0, 4.0, 1.1), (5.0, 1.2, 0.9)]),
        np.array([(-0.6, -0.6, 0.1), (0, -1, 0), (-1, 0.3, 0)]),
    )
    here = lux_at(full(), points, facing)
    mirrored = lux_at(setup(loft(window, **paint), **(FULL | there)), [flip(p) for p in points], facing * (-1, 1, 1))
    lights = len(FULL["lights"])
    assert mirrored[:, :lights] == pytest.approx(here[:, :lights], rel=1e-9, abs=1e-9)
    assert mirrored.sum(axis=1) == pytest.approx(here.sum(axis=1), rel=0.01)
    assert mirrored[:, -1] == pytest.approx(here[:, -1], rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize(("quality", "within"), [("final", 0.03), (MANY, 0.01)])
def test_light_goes_back_the_way_it_came(quality, within):
    # DERIVED: reciprocity. A small even face and a small flat receptor, exchanged, read the same however often the
    # light was turned and bounced. They face away from each other, so all of it was; the walls are all different.
    a, a_faces = (2.1, 1.6, 1.2), (0.3, 0.9, 1.0)
    b, b_faces = (4.2, 3.2, 1.6), (5.8, 3.9, 1.9)
    read = []
    for (at, aim), (there, seen) in (((a, a_faces), (b, b_faces)), ((b, b_faces), (a, a_faces))):
        face = Light(name="face", at=at, aim=aim, distribution=Lambert(peak_cd=1000.0), face_width_m=0.1, face_height_m=0.1)
        hazed = setup(loft(**PAINT), lights=(face,), haze=Haze(extinction_per_m=0.15, g=0.7))
        straight, bounced = lux_at(hazed, [there], [np.subtract(seen, there)], quality)[0]
        assert straight == 0 and bounced > 1
        read.append(bounced)
    assert read[0] == pytest.approx(read[1], rel=within)


@pytest.mark.slow
@pytest.mark.parametrize("side_m", [0.2, 0.8])
def test_the_glow_round_a_panel_in_haze_reads_as_with_many_sight_lines(side_m):
    # DERIVED: more sight lines converge; nothing else differs here. The glow grows towards a lamp as 1 / angle: lines
    # even all round, 160 of them, hit or missed its middle by 0.12 stop; lines even in the angle about it do not. Measured: 0.001 and 0.003.
    panel = Light(
        name="panel",
        at=(1.1, 1.3, 1.2),
        aim=(2.6, 0.6, 1.9),
        distribution=Lambert(peak_cd=1000.0),
        face_width_m=side_m,
        face_height_m=side_m,
    )
    hazed = setup(loft(**PAINT), lights=(panel,), haze=Haze(extinction_per_m=0.15, g=0.7))
    final = dataclasses.replace(solve.QUALITY["final"], halo_points=64)
    where = [(3.0, 0.8, 1.8)], [(-1, 0.1, 0)]
    few, many = (lux_at(hazed, *where, quality).sum() for quality in (final, dataclasses.replace(final, soft_rays=20_000)))
    assert abs(np.log2(few / many)) <= 0.02, f"{np.log2(few / many):+.3f} stop"


def test_a_draft_keeps_the_edges_of_a_soft_lamps_beam_on_the_walls():
    # INDEPENDENT of the grids: straight light at the middle of each of its cells, all clear, by the closed form. Between a cell that
    # is lit and one that is not the coarse grid of soft light would draw a slope half a metre wide.
    window = Window(name="slot", wall="near", centre_m=3.1, sill_m=0.6, width_m=1.1, height_m=1.3, bars_upright=1, bar_m=0.1)
    panel = Light(
        name="panel",
        at=(2.2, -3.0, 1.9),
        aim=(3.4, 3.0, 1.0),
        distribution=Lambert(peak_cd=4000),
        face_width_m=0.3,
        face_height_m=0.3,
    )
    rig = solve.light(setup(loft(window), lights=(panel,)), "draft").rig
    n, far = rig.walls_lx.shape[1], SIDES.index("far")
    u = (np.arange(n) + 0.5) / n
    x, z = np.meshgrid(u * rig.size[0], u * rig.size[2], indexing="ij")
    points = np.column_stack([x.ravel(), np.full(x.size, rig.size[1]), z.ravel()])
    ways, flat = np.tile([0.0, -1.0, 0.0], (x.size, 1)), np.zeros(x.size, dtype=bool)
    exact = direct.straight(rig.row, points, ways, flat, np.full(x.size, -1)).sum(axis=1).reshape(n, n)
    off = (rig.walls_lx[far] - exact) / exact.max()
    assert (exact > 0.5 * exact.max()).sum() > 100 and (exact == 0.0).sum() > 1000
    assert np.sqrt((off**2).mean()) < 0.01 and np.abs(off).max() < 0.12


def test_no_light_no_field():
    # DERIVED: nothing sends, nothing arrives; and a lamp at no output is no lamp.
    dark = setup(loft(**PAINT), haze=Haze(extinction_per_m=0.1), lights=(dataclasses.replace(FULL["lights"][1], dim=0.0),))
    light = solve.light(dark, "draft")
    assert not light.illuminance_lx([(3.0, 2.0, 1.5)], [(0, 1, 0)]).any()


# --- the parts -----------------------------------------------------------------------------------------------


def test_harmonics_are_orthonormal_and_add_up_to_legendre():
    # DERIVED: quadrature over the sphere, exact for products to order 6; and the addition theorem,
    # sum over m of Y(a) Y(b) = (2 l + 1) / (4 pi) P_l(a . b).
    height, weight = np.polynomial.legendre.leggauss(8)
    turn = np.arange(16) * 2 * np.pi / 16
    z, phi = (grid.ravel() for grid in np.meshgrid(height, turn, indexing="ij"))
    ways = np.column_stack([np.sqrt(1 - z**2) * np.cos(phi), np.sqrt(1 - z**2) * np.sin(phi), z])
    values = harmonics_of(ways)
    gram = (values * np.repeat(weight, 16)[:, None] * 2 * np.pi / 16).T @ values
    assert gram == pytest.approx(np.eye(rows.TERMS), abs=1e-12)
    for order in range(rows.ORDERS):
        mine = slice(order**2, (order + 1) ** 2)
        pairs = values[:, mine] @ values[:, mine].T
        legendre = np.polynomial.legendre.Legendre.basis(order)(ways @ ways.T)
        assert pairs == pytest.approx((2 * order + 1) / (4 * np.pi) * legendre, abs=1e-12)


@pytest.mark.parametrize("g", [-0.4, 0.0, 0.5, 0.7, 0.85])
def test_phase_moments_are_powers_of_g(g):
    # PUBLISHED: Henyey & Greenstein 1941; the Legendre moments of their phase function are g^l.
    moments = geometry.phase_moments(direct.prepare(setup(haze=Haze(extinction_per_m=0.1, g=g))).phase, rows.ORDERS)
    assert moments == pytest.approx(g ** np.arange(rows.ORDERS + 1), abs=1e-5)


@pytest.mark.parametrize("g", [-0.4, 0.0, 0.5, 0.7, 0.85, 0.95])
def test_draws_follow_the_phase_function(g):
    # DERIVED: the mean cosine of Henyey-Greenstein is g, and its share turned backwards (1 - g) / 2g ((1 + g) /
    # sqrt(1 + g^2) - 1). The draws stand at even steps of probability, so the trapezoid over them is the mean.
    s = particles.draws(direct.prepare(setup(haze=Haze(extinction_per_m=0.1, g=g))).phase)
    cosine = 1 - 2 * s**2
    assert (np.diff(s) > 0).all() and s[0] == 0 and s[-1] == 1
    assert np.trapezoid(cosine, dx=1 / (len(s) - 1)) == pytest.approx(g, abs=2e-3)
    backward = (1 - g) / (2 * g) * ((1 + g) / np.sqrt(1 + g * g) - 1) if g else 0.5
    assert np.interp(0.0, -cosine, np.linspace(0, 1, len(s))) == pytest.approx(1 - backward, abs=1e-3)


def pane_lumens(**parts):
    """Emitters of a setup whose one opening is OPEN."""
    return particles.emitters(direct.prepare(setup(loft(OPEN), **parts)))


def test_lumens_of_what_sends():
    # DERIVED: a bulb sends 4 pi I; through a pane I x its solid angle, 4 atan(ab / (4 h r)) for a rectangle a x b square
    # on its axis at h, r^2 = h^2 + (a^2 + b^2) / 4; the sun its lux x area x cosine; an even lamp pi I. Nine points on the
    # pane deal the particles out, 0.3 % high here; what the particles then carry is right to their number.
    (inside,) = pane_lumens(lights=(lamp("bulb", (2.0, 2.0, 1.0), 70.0),))
    assert inside["lumens"] == pytest.approx(4 * np.pi * 70.0, rel=1e-3)
    (through,) = pane_lumens(lights=(lamp("bulb", (3.1, -4.0, 1.55), 70.0),))
    h, a, b = 4.0, OPEN.width_m, OPEN.height_m
    solid = 4 * np.arctan(a * b / (4 * h * np.sqrt(h * h + (a * a + b * b) / 4)))
    assert through["lumens"] == pytest.approx(70.0 * solid, rel=5e-3)
    sent = follow(direct.prepare(setup(loft(OPEN), lights=(lamp("bulb", (3.1, -4.0, 1.55), 70.0),))), count=20_000)[5]
    assert sent[particles.EMITTED] == pytest.approx(70.0 * solid, rel=2e-4)
    (sun,) = pane_lumens(sun=Sun(bearing_deg=200.0, elevation_deg=35.0, normal_lx=80_000.0))
    cosine = np.cos(np.radians(35.0)) * np.cos(np.radians(20.0))
    assert sun["lumens"] == pytest.approx(80_000.0 * a * b * cosine, rel=1e-9)
    face = Light(
        name="face",
        at=(2.0, 2.0, 1.0),
        aim=(3.0, 2.0, 1.0),
        distribution=Lambert(peak_cd=70.0),
        face_width_m=0.5,
        face_height_m=0.5,
    )
    assert pane_lumens(lights=(face,))["lumens"].sum() == pytest.approx(np.pi * 70.0, rel=1e-3)


@pytest.mark.parametrize("direct_share, diffuse, back", [(0.2, 0.3, 0.5), (0.0, 0.1, 0.9), (0.0, 0.5, 0.5)])
def test_a_cloth_that_loses_nothing_leaves_the_room_its_lumens(direct_share, diffuse, back):
    # DERIVED: in a closed room the walls take in all that the bulb sends, however a lossless cloth across it throws that to and fro:
    # the sum of (1 - rho) E over them is 4 pi I.
    cloth = Diffusion(name="cloth", direct=direct_share, diffuse=diffuse, back=back)
    frame = Frame(name="cloth", at=(3.1, 2.3, 1.5), aim=(3.1, 0.0, 1.5), width_m=4.0, height_m=2.0, diffusion=cloth)
    rho = 0.5
    made = setup(loft(**dict.fromkeys(SURFACES, rho)), lights=(lamp("bulb", (3.1, 1.2, 1.5), 50.0),), frames=(frame,))
    rig = solve.light(made, "final").rig
    lux = np.pi / rho * rig.walls_cd_m2.reshape(6, -1).mean(axis=1)
    assert np.sum((1 - rho) * lux * areas(made.place)) == pytest.approx(4 * np.pi * 50.0, rel=0.02)


def test_lumens_of_an_overcast_sky_through_a_window():
    # PUBLISHED: CIE overcast sky, L = Lz (1 + 2 sin h) / 3. DERIVED: it gives a wall Lz (pi / 6 + 4 / 9), and ground of
    # reflectance r under 7 pi / 9 Lz gives half of r x that.
    zenith, ground = 3000.0, 0.2
    rig = direct.prepare(setup(loft(OPEN), sky=Sky(zenith_cd_m2=zenith, horizon_cd_m2=zenith / 3)))
    assert loft(OPEN).outside_ground == ground
    ledger = follow(rig)[5]
    wall_lx = zenith * (np.pi / 6 + 4 / 9) + ground * 7 * np.pi / 9 * zenith / 2
    assert ledger[particles.EMITTED] == pytest.approx(wall_lx * OPEN.width_m * OPEN.height_m, rel=2e-3)


def test_halo_points_carry_what_the_haze_turned():
    # DERIVED: a level beam through a room of depth d leaves Phi (1 - exp(-sigma d)) in the haze, laid down along y as
    # exp(-sigma y); the share beyond half way is as the integral says.
    sigma, d = 0.2, 4.7
    rig = direct.prepare(
        setup(
            loft(OPEN),
            sun=Sun(bearing_deg=180.0, elevation_deg=LEVEL, normal_lx=20_000.0),
            haze=Haze(extinction_per_m=sigma, g=0.7),
        )
    )
    table = particles.dealt(table_for(rig), 4000)
    points = np.zeros(2 * int(table["count"].sum()), dtype=rows.POINT)
    lamp_draws, phase_draws = np.zeros((1, particles.DRAWS)), particles.draws(rig.phase)
    used = particles.turned_light(rig.row, table, lamp_draws, phase_draws, 2, points)
    assert used == len(points)
    first, second = points[0::2], points[1::2]
    sent = 20_000.0 * OPEN.width_m * OPEN.height_m
    assert first["lumens"].sum() == pytest.approx(sent * (1 - np.exp(-sigma * d)), rel=1e-3)
    half = first["lumens"][first["at"][:, 1] > d / 2].sum() / first["lumens"].sum()
    assert half == pytest.approx((np.exp(-sigma * d / 2) - np.exp(-sigma * d)) / (1 - np.exp(-sigma * d)), abs=5e-3)
    assert first["way"] == pytest.approx(np.broadcast_to((0, 1, 0), (len(first), 3)), abs=1e-4)
    assert (second["way"] @ (0, 1, 0)).mean() == pytest.approx(0.7, abs=0.02), "the second sets off as the phase function says"
    assert (second["lumens"] < first["lumens"]).all()


# --- what every gaffer knows, and nobody put in --------------------------------------------------------------


def shaft_over(*, from_deg=45.0, walls=0.15, behind=None, haze=Haze(extinction_per_m=0.02, g=0.75)):
    """
    Stops a shaft stands over what is behind it, seen from so many degrees off the way it goes, and its own luminance.

    A beam crosses a 12 x 12 m room along +y, from a window in the near wall, through its middle. The camera stands
    4 m off that middle: at 0 degrees it would look straight into the lamp, at 180 it stands on the lamp's side.
    """
    paint = dict.fromkeys(SURFACES, walls)
    if behind is not None:  # the wall the camera looks at
        paint["left"] = behind
    slot = Window(name="slot", wall="near", centre_m=6.0, sill_m=1.2, width_m=0.6, height_m=0.6)
    turn, middle = np.radians(from_deg), np.array([6.0, 6.0, 1.5])
    eye = middle + 4.0 * np.array([np.sin(turn), np.cos(turn), 0.0])
    key = Light(name="key", at=(6.0, -8.0, 1.5), aim=(6.0, 0.0, 1.5), distribution=Beam(peak_cd=4e5, beam_deg=10, field_deg=16))
    place = Room(name="stage", width_m=12.0, depth_m=12.0, height_m=4.0, windows=(slot,), **paint)
    camera = Camera(at=tuple(eye), aim=tuple(middle))
    spot = Spot(name="beam", at=tuple(middle), source="key")
    (read,) = readings.readings(
        Setup(name="s", title="S", place=place, camera=camera, lights=(key,), spots=(spot,), haze=haze)
    ).spots
    return read.beam_over_stops, read.luminance_cd_m2 - read.background_cd_m2


@pytest.mark.slow
def test_a_beam_shows_against_the_light():
    # COMMON PRACTICE: back-light the haze. Same room, same walls behind, camera 45 degrees off the lamp or on its side:
    # 3.2 and 1.9 stops over what is behind.
    against, with_it = shaft_over(from_deg=45.0), shaft_over(from_deg=135.0)
    gain = np.log2(against[1] / with_it[1])
    assert against[0] > with_it[0] + 1.0, f"{against[0]:.2f} against the light, {with_it[0]:.2f} from the lamp's side"
    # DERIVED: the two turns' phase functions, and nothing else differs but the way back through a wider beam.
    turn = np.log2(henyey_greenstein(0.75, np.cos(np.pi / 4)) / henyey_greenstein(0.75, np.cos(3 * np.pi / 4)))
    assert gain == pytest.approx(turn, abs=0.1), f"{gain:.2f} stops"
    (over_a, own_a), (over_b, own_b) = (
        shaft_over(from_deg=angle, haze=Haze(extinction_per_m=0.02, g=0.0)) for angle in (45.0, 135.0)
    )
    assert abs(np.log2(own_a / own_b)) < 0.05 and abs(over_a - over_b) < 0.3, "haze that scatters evenly has no such side"


@pytest.mark.slow
def test_white_walls_wash_a_beam_out():
    # COMMON PRACTICE: shoot haze in a dark room.
    over = [shaft_over(walls=walls)[0] for walls in (0.05, 0.3, 0.8)]  # 3.2, 3.0 and 1.1 stops
    assert over[0] > over[1] > over[2] and over[0] > over[2] + 1.0, f"{np.round(over, 2)} stops over, dark to white"


def test_a_dark_background_shows_a_beam():
    # COMMON PRACTICE: a dark drape behind the beam. Only the wall behind it changes.
    dark, light = (shaft_over(from_deg=90.0, walls=0.3, behind=behind)[0] for behind in (0.03, 0.8))  # 2.6 and 1.0
    assert dark > light + 0.5, f"{dark:.2f} stops over a dark wall, {light:.2f} over a light one"


@pytest.mark.slow
def test_past_some_density_more_haze_shows_less():
    # COMMON PRACTICE: more haze helps until it fills the room.
    density = np.array([0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0])
    over = np.array([shaft_over(from_deg=90.0, haze=Haze(extinction_per_m=sigma, g=0.75)) for sigma in density])
    for what, values in (("over its background", over[:, 0]), ("luminance", over[:, 1])):
        best = values.argmax()
        assert 0 < best < len(density) - 1, f"{what}: {np.round(values, 2)} at {density} per metre"
        assert (np.diff(values[: best + 1]) > 0).all() and (np.diff(values[best:]) < 0).all(), what
