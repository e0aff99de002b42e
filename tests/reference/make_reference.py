"""
Make the stored answers beside this file: each room of rooms.py, traced by Mitsuba 3 (`volpath`).

    python tests/reference/make_reference.py               check the converter, then make every room
    python tests/reference/make_reference.py grey_back     only that one (checks come first all the same)
    python tests/reference/make_reference.py --check       only the checks

INDEPENDENT of lightcalc: of it we take the parts of the setup, `basis` and `rectangle_corners`. Paths,
scattering, shadows and the lamps' candela are Mitsuba's or written here. What both assume: rays, a perfectly
even haze, matte surfaces, no polarisation, and these conventions:

    walls       matte inside, black outside; the haze ends at the window panes, outside is empty and black
    bars        black strips in the plane of the wall, the panes between them all of one size
    point lamp  I(theta) = peak exp(-ln2 (theta / half beam)^p) in front, 0 behind; it has no body
    soft panel  even luminance on its front; light passes through it, it has no body either
    boards      matte, `stuff.reflectance` in front and `stuff.back` behind; flags are the same on both sides
    people      and furniture: matte ellipsoids and boxes of the sizes that `solids` gives, with Mitsuba's own shapes; in pictures
                with the features of their faces
    marks       a matte white patch of 4 mm, seen from 2 mm in front of its centre: E = pi L

Before any room, closed forms are asked of the same converter (`check_*`). A pass is SPP paths through each of
some pixels, with random numbers of its own; standard errors come from the spread of the passes. Every block gets
LEAST passes, then the blocks whose error is still too large get more, until all are good or time is up. Stopping
on the measured error pulls results by less than that error.

What is stored was made with Mitsuba 3.9.1, most rooms within the default time on two shared cores; --seconds 240
for dark_side and thick_back, 520 for spot_inside, 420 for black_front, 200 for grey_back. A point lamp inside the
haze (spot_inside) makes the variance of this method endless in principle: its errors are the least sure.

Needs `pip install mitsuba scipy` and LLVM 19 or later (Debian 12: `apt install libllvm19`); where LLVM lies
elsewhere, set DRJIT_LIBLLVM_PATH.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))  # lightcalc, installed or not
for library in ("/usr/lib/x86_64-linux-gnu/libLLVM.so.19.1", "/usr/lib/x86_64-linux-gnu/libLLVM-19.so"):
    if Path(library).exists():
        os.environ.setdefault("DRJIT_LIBLLVM_PATH", library)

import drjit as dr
import mitsuba as mi
from scipy.integrate import quad

mi.set_variant("llvm_ad_mono")  # one channel, photometric: radiance is cd/m2, intensity cd, irradiance lx

from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Stuff
from lightcalc.scene.parts import Board, Camera, Exterior, Haze, Light, Mark, Piece, Room, Setup, Window, basis, rectangle_corners
from lightcalc.scene.solids import features, solids

import rooms

MESH_OUT = 1.0004  # a mesh lies within its ellipsoid by half a facet's sagitta, on average: pushed out by that
DEPTH = 128  # scatterings and bounces; in a room of 0.8 what is left after them is below 1e-9
ROULETTE_FROM = 6
PATCH_M, AHEAD_M = 0.004, 0.002
FAR_M = 500.0  # how far open ground goes
GOOD_BLOCK, GOOD_MARK = 0.012, 0.004  # relative standard errors to stop at
STOPS = 6.0  # blocks this far under the brightest count
SPP, LEAST = 125, 16  # paths per pixel in a pass; passes that every block gets
AT_ONCE = 900_000  # paths traced together


# --- the converter -----------------------------------------------------------------------------------------------


class PointLamp(mi.Emitter):
    """A point with a beam: peak candela, half beam angle and exponent."""

    def __init__(self, props):
        super().__init__(props)
        self.at = mi.Point3f(*(props[f"at_{i}"] for i in "xyz"))
        self.axis = mi.Vector3f(*(props[f"axis_{i}"] for i in "xyz"))
        self.peak, self.half, self.power = (mi.Float(props[key]) for key in ("peak", "half_beam", "power"))
        dr.make_opaque(self.at, self.axis, self.peak, self.half, self.power)
        self.m_flags = mi.EmitterFlags.DeltaPosition

    def intensity(self, away):
        # the arctangent of sine and cosine, because the arccosine of a float32 is rough near the axis
        cosine = dr.dot(away, self.axis)
        theta = dr.atan2(dr.norm(dr.cross(away, self.axis)), cosine)
        fall = dr.exp(-dr.log(2.0) * dr.power(theta / self.half, self.power))
        return dr.select(cosine > 0.0, self.peak * fall, 0.0)

    def sample_direction(self, it, sample, active=True):
        ds = dr.zeros(mi.DirectionSample3f)
        ds.p, ds.time, ds.pdf, ds.delta, ds.emitter = self.at, it.time, 1.0, True, mi.EmitterPtr(self)
        towards = self.at - it.p
        ds.dist = dr.norm(towards)
        ds.d = towards / ds.dist
        ds.n = -ds.d
        return ds, mi.Color1f(self.intensity(-ds.d) / dr.square(ds.dist)) & active

    def pdf_direction(self, it, ds, active=True):
        return mi.Float(0.0)

    def eval_direction(self, it, ds, active=True):
        return mi.Color1f(0.0)

    def eval(self, si, active=True):
        return mi.Color1f(0.0)

    def bbox(self):
        return mi.ScalarBoundingBox3f(mi.ScalarPoint3f(self.at.numpy().ravel()))

    def to_string(self):
        return "PointLamp[]"


mi.register_emitter("pointlamp", PointLamp)


def matte(front, back):
    """A surface that sends back `front` on its front side and `back` on the other."""
    sides = [{"type": "diffuse", "reflectance": {"type": "uniform", "value": float(r)}} for r in (front, back)]
    return {"type": "twosided", "front": sides[0], "back": sides[1]}


def rectangle(corners, **more):
    """Four corners, anticlockwise as seen from the side it faces."""
    first, second, _, fourth = np.asarray(corners, float)
    right, up = (second - first) / 2, (fourth - first) / 2
    normal = np.cross(right, up)
    to_world = np.eye(4)
    to_world[:3, :] = np.stack([right, up, normal / np.linalg.norm(normal), first + right + up], axis=1)
    return {"type": "rectangle", "to_world": mi.ScalarTransform4f(to_world), **more}


def wall_frames(room):
    """Per surface its lower-left corner as seen from inside, and the directions along it and up it, with lengths."""
    w, d, h = room.size_m
    x, y, z = np.eye(3)
    return {
        "near": ((w, 0, 0), -x, z, w, h),
        "far": ((0, d, 0), x, z, w, h),
        "left": ((0, 0, 0), y, z, d, h),
        "right": ((w, d, 0), -y, z, d, h),
        "floor": ((0, 0, 0), x, y, w, d),
        "ceiling": ((0, d, h), x, -y, w, d),
    }


def stretches(low, size, bars, bar_m):
    """Edges of the panes between evenly spaced bars: n + 1 equal panes."""
    pane = (size - bars * bar_m) / (bars + 1)
    starts = low + np.arange(bars + 1) * (pane + bar_m)
    return np.stack([starts, starts + pane], axis=1)


def wall_pieces(room, wall):
    """The wall cut along the edges of its panes: (corners, kind) with kind 'wall', 'bar' or 'pane'."""
    start, along, up, length, height = wall_frames(room)[wall]
    start = np.asarray(start, float)
    outlines, panes = [], []
    for window in (w for w in room.windows if w.wall == wall):
        centre = window.centre_m if wall in ("far", "left") else length - window.centre_m
        left = centre - window.width_m / 2
        outlines.append((left, left + window.width_m, window.sill_m, window.sill_m + window.height_m))
        for u0, u1 in stretches(left, window.width_m, window.bars_upright, window.bar_m):
            for v0, v1 in stretches(window.sill_m, window.height_m, window.bars_across, window.bar_m):
                panes.append((u0, u1, v0, v1))
    edges = np.array(outlines + panes).reshape(-1, 4)
    us = np.unique(np.round(np.concatenate([[0.0, length], edges[:, :2].ravel()]), 9))
    vs = np.unique(np.round(np.concatenate([[0.0, height], edges[:, 2:].ravel()]), 9))
    for u0, u1 in zip(us, us[1:]):
        for v0, v1 in zip(vs, vs[1:]):
            u, v = (u0 + u1) / 2, (v0 + v1) / 2
            hit = lambda boxes: any(a < u < b and c < v < d for a, b, c, d in boxes)
            kind = "pane" if hit(panes) else "bar" if hit(outlines) else "wall"
            yield [start + a * along + b * up for a, b in ((u0, v0), (u1, v0), (u1, v1), (u0, v1))], kind


def air(haze, phase=None):
    """The haze as a medium, or None; `phase` is a table (cosine, phase_per_sr) in place of Henyey-Greenstein."""
    if haze.extinction_per_m == 0.0:
        return None
    scatter = {"type": "hg", "g": float(haze.g)} if haze.g else {"type": "isotropic"}
    if phase is not None:
        scatter = {"type": "tabphase", "values": ",".join(f"{p:.9g}" for p in phase[1])}
    even = {"type": "homogeneous", "albedo": 1.0, "sigma_t": float(haze.extinction_per_m), "phase": scatter}
    return mi.load_dict(even)


def lamp(light):
    """One light as a Mitsuba dict."""
    assert light.dim == 1.0 and light.gel is None and light.diffusion is None, "not needed so far"
    if light.face_width_m == 0.0:
        assert isinstance(light.distribution, Beam)
        ratio = light.distribution.field_deg / light.distribution.beam_deg
        axis = basis(light.at, light.aim)[2]
        return {
            "type": "pointlamp",
            **{f"at_{i}": float(v) for i, v in zip("xyz", light.at)},
            **{f"axis_{i}": float(v) for i, v in zip("xyz", axis)},
            "peak": light.distribution.peak_cd,
            "half_beam": float(np.radians(light.distribution.beam_deg / 2)),
            "power": float(np.log(np.log(10) / np.log(2)) / np.log(ratio)),  # a tenth of the peak at the field angle
        }
    assert isinstance(light.distribution, Lambert)
    luminance = light.distribution.peak_cd / (light.face_width_m * light.face_height_m)
    return rectangle(
        rectangle_corners(light.at, light.aim, light.face_width_m, light.face_height_m, light.roll_deg),
        emitter={"type": "area", "radiance": {"type": "uniform", "value": luminance}},
        bsdf={"type": "null"},
    )


def shapes(setup, medium):
    """Everything in the room as Mitsuba dicts."""
    room, parts = setup.place, []
    if isinstance(room, Exterior):
        corners = [(x, y, 0.0) for x, y in ((-FAR_M, -FAR_M), (FAR_M, -FAR_M), (FAR_M, FAR_M), (-FAR_M, FAR_M))]
        parts.append(rectangle(corners, bsdf=matte(room.ground, 0.0)))
    for wall in wall_frames(room) if isinstance(room, Room) else ():
        for corners, kind in wall_pieces(room, wall):
            assert kind == "wall" or all(w.glass == 1.0 and w.sheer is None for w in room.windows)
            if kind == "pane":  # where the haze ends; nothing to mark in clear air
                if medium is not None:
                    parts.append(rectangle(corners, bsdf={"type": "null"}, exterior=medium))
            else:
                parts.append(rectangle(corners, bsdf=matte(getattr(room, wall) if kind == "wall" else 0.0, 0.0)))
    for part in setup.boards + setup.flags:
        corners = rectangle_corners(part.at, part.aim, part.width_m, part.height_m, part.roll_deg)
        if isinstance(part, Board):
            assert part.stuff.gloss == 0.0
            parts.append(rectangle(corners, bsdf=matte(part.stuff.reflectance, part.stuff.back)))
        else:
            parts.append(rectangle(corners, bsdf=matte(part.reflectance, part.reflectance)))
    parts += [body(solid) for solid in solids(setup)]
    return parts + [lamp(light) for light in setup.lights]


def body(solid):
    """An ellipsoid, as a fine mesh, or a box: matte, and black inside."""
    if solid.shape == "box":
        to_world = np.eye(4)
        to_world[:3, :3], to_world[:3, 3] = (solid.axes * solid.half[:, None]).T, solid.middle
        return {"type": "cube", "to_world": mi.ScalarTransform4f(to_world), "bsdf": matte(solid.reflectance, solid.reflectance)}
    around, along = 160, 80
    turn, tilt = np.meshgrid(2 * np.pi * np.arange(around) / around, np.pi * np.arange(along + 1) / along)
    ball = np.stack([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.cos(tilt)], axis=-1).reshape(-1, 3)
    points = solid.middle + (ball * MESH_OUT * solid.half) @ solid.axes
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(along), np.arange(around), indexing="ij"))
    a, b = i * around + j, i * around + (j + 1) % around
    faces = np.concatenate([np.stack([a, a + around, b], axis=1), np.stack([b, a + around, b + around], axis=1)])
    props = mi.Properties()
    props["bsdf"] = mi.load_dict(matte(solid.reflectance, solid.reflectance))
    mesh = mi.Mesh("ellipsoid", len(points), len(faces), props=props)
    held = mi.traverse(mesh)
    held["vertex_positions"], held["faces"] = points.astype(np.float32).ravel(), faces.astype(np.uint32).ravel()
    held.update()
    return mesh


class Scene:
    """A setup in Mitsuba's terms, and the rays into it; `scatterings` limits them, for single scattering."""

    def __init__(self, setup, *, phase=None, scatterings=DEPTH, patches=False, faces=False):
        self.setup, self.medium = setup, air(setup.haze, phase)
        parts = shapes(setup, self.medium)
        if faces:
            parts += [body(one) for mark in setup.marks if mark.figure for one in features(mark)]
        if patches:
            squares = [rectangle_corners(mark.at, mark.aim, PATCH_M, PATCH_M) for mark in setup.marks]
            parts += [rectangle(square, bsdf=matte(1.0, 0.0)) for square in squares]
        self.scene = mi.load_dict({"type": "scene", **{f"part_{i}": part for i, part in enumerate(parts)}})
        self.integrator = mi.load_dict({"type": "volpath", "max_depth": scatterings + 1, "rr_depth": ROULETTE_FROM})
        self.sampler = mi.load_dict({"type": "independent"})

    def start(self, seed, paths):
        self.sampler.seed(seed, paths)

    def luminance(self, origin, direction):
        """Luminance seen along rays that start in the haze. [cd/m2]"""
        ray = mi.Ray3f(o=mi.Point3f(origin), d=mi.Vector3f(direction))
        return self.integrator.sample(self.scene, self.sampler, ray, self.medium, True)[0].x

    def picture(self, seed, pixels=None, passes=1, spp=SPP, size=(rooms.WIDTH, rooms.HEIGHT)):
        """
        Passes over the picture, or over some of its pixels, counted along the rows: (passes, pixels). [cd/m2]
        """
        camera, (width, height) = self.setup.camera, size
        pixels = np.arange(width * height) if pixels is None else pixels
        self.start(seed, passes * len(pixels) * spp)
        which = (dr.arange(mi.UInt32, passes * len(pixels) * spp) // spp) % len(pixels)
        pixel = dr.gather(mi.UInt32, mi.UInt32(pixels.astype(np.uint32)), which)
        jitter = self.sampler.next_2d()
        right = (mi.Float(pixel % width) + jitter.x) / width - 0.5
        down = (mi.Float(pixel // width) + jitter.y) / height - 0.5
        right, down = right * camera.sensor_width_mm, down * camera.sensor_height_mm
        axes = [mi.Vector3f(v) for v in basis(camera.at, camera.aim)]
        towards = axes[0] * right - axes[1] * down + axes[2] * camera.focal_mm
        seen = self.luminance(camera.at, dr.normalize(towards))
        return mean_of(seen, spp).reshape(passes, len(pixels))

    def marks(self, seed, spp):
        """One pass over the marks: illuminances, shape (marks,). [lx]"""
        marks = self.setup.marks
        self.start(seed, len(marks) * spp)
        which = dr.arange(mi.UInt32, len(marks) * spp) // spp
        pick = lambda rows: dr.gather(mi.Vector3f, mi.Vector3f(np.array(rows, dtype=np.float32).T), which)
        normal, at = pick([basis(m.at, m.aim)[2] for m in marks]), pick([m.at for m in marks])
        return np.pi * mean_of(self.luminance(at + AHEAD_M * normal, -normal), spp)


def mean_of(values, count):
    """Means of every `count` values in a row."""
    return np.asarray(dr.block_sum(values, count), dtype=float) / count


# --- closed forms the converter must meet ------------------------------------------------------------------------


def expect(what, got, wanted, *, within, se=0.0):
    """Fail unless got is wanted, within a relative bound and four standard errors; say both."""
    print(f"  {what:58s} {got:12.6g} {wanted:12.6g}  off {got / wanted - 1:+.5f}, se {se / wanted:.5f}", flush=True)
    assert abs(got - wanted) <= within * wanted + 4 * se, what


def mean_and_se(passes):
    """Mean of passes over the first axis, and its standard error."""
    passes = np.asarray(passes, dtype=float)
    return passes.mean(axis=0), passes.std(axis=0, ddof=1) / np.sqrt(len(passes))


def black_box(**more):
    """A black room of 12 x 12 x 6 m to put things in."""
    walls = dict.fromkeys(("floor", "ceiling", "left", "right", "near", "far"), 0.0)
    windows = more.pop("windows", ())
    more.setdefault("camera", Camera(at=(6, 0.5, 3), aim=(6, 12, 3)))
    return Setup(
        name="check", title="", place=Room(name="box", width_m=12.0, depth_m=12.0, height_m=6.0, **walls, windows=windows), **more
    )


def check_direct():
    """DERIVED: E = I(theta) cos(i) / d^2, times exp(-sigma d) of what haze lies on the way."""
    beam, at, aim = Beam(peak_cd=20_000.0, beam_deg=25.0, field_deg=40.0), (6.0, 2.0, 3.0), (6.0, 8.0, 3.0)
    light, mark = Light(name="lamp", at=at, aim=aim, distribution=beam), Mark(name="m", at=(7.3, 7.0, 2.4), aim=(6.0, 5.0, 3.5))
    ray = np.subtract(mark.at, at)
    d = np.linalg.norm(ray)
    theta = np.arccos(ray[1] / d)
    power = np.log(np.log(10) / np.log(2)) / np.log(40 / 25)
    candela = 20_000.0 * 0.5 ** ((theta / np.radians(12.5)) ** power)
    clear = candela * (basis(mark.at, mark.aim)[2] @ -ray / d) / d**2
    for sigma in (0.0, 0.2):
        setup = black_box(lights=(light,), marks=(mark,), haze=Haze(extinction_per_m=sigma, g=0.0))
        lx, se = mean_and_se([Scene(setup, scatterings=1, patches=True).marks(k, 400_000) for k in range(8)])
        if sigma:  # volpath counts the patch as the one scattering, so only the straight light is left
            expect("straight light in haze, off axis [lx]", lx[0], clear * np.exp(-sigma * d), within=2e-3, se=se[0])
        else:
            expect("straight light, off axis [lx]", lx[0], clear, within=1e-4)


def check_window():
    """DERIVED: the same through a pane: haze only from the wall on; and nothing behind a bar or the wall."""
    window = Window(
        name="w", wall="left", centre_m=6.0, sill_m=2.0, width_m=1.0, height_m=2.0, bars_upright=2, bars_across=1, bar_m=0.06
    )
    # panes (1 - 2 x 0.06) / 3 wide: the first has its middle 0.06 + 0.88 / 3 from the window's, its edge half a pane in
    pane, edge, at = 6.0 - 0.06 - 0.88 / 3, 6.0 - 0.88 / 6, (-3.0, 6.0, 2.5)
    light = Light(name="lamp", at=at, aim=(0.0, 6.0, 2.5), distribution=Beam(peak_cd=20_000.0, beam_deg=60.0, field_deg=90.0))
    holes = {"pane": (pane, 2.5), "bar up": (edge - 0.03, 2.5), "bar across": (6.0, 3.0), "wall": (5.48, 2.5)}
    holes |= {"just in": (edge + 0.003, 2.5), "just out": (edge - 0.003, 2.5)}
    marks = tuple(Mark(name=name, at=rooms.beyond(at, (0.0, *hole), 2.5), aim=at) for name, hole in holes.items())
    setup = black_box(windows=(window,), lights=(light,), marks=marks, haze=Haze(extinction_per_m=0.1, g=0.5))
    lx, se = mean_and_se([Scene(setup, scatterings=1, patches=True).marks(k, 100_000) for k in range(8)])
    power = np.log(np.log(10) / np.log(2)) / np.log(1.5)
    for k, y in ((0, pane), (4, edge + 0.003)):
        candela = 20_000.0 * 0.5 ** ((np.arctan((6.0 - y) / 3.0) / np.radians(30)) ** power)
        wanted = candela / (np.hypot(3.0, y - 6.0) + 2.5) ** 2 * np.exp(-0.1 * 2.5)
        expect("through a pane, straight light [lx]", lx[k], wanted, within=1e-3, se=se[k])
    assert (lx[[1, 2, 3, 5]] < 1e-3 * lx[0]).all(), lx
    print("  behind a bar upright, a bar across, the wall, and 3 mm into a bar: none")


def check_furnace():
    """
    DERIVED: in a closed room of one reflectance r, haze or not, light leaves only at the walls: the mean
    illuminance of the walls is flux / (area (1 - r)). With a point lamp and with a soft panel, table and all.
    """
    size, r = (4.0, 5.0, 2.6), 0.7
    w, d, h = size
    area = 2 * (w * d + w * h + d * h)
    walls = dict.fromkeys(("floor", "ceiling", "left", "right", "near", "far"), r)
    beam = Beam(peak_cd=5_000.0, beam_deg=40.0, field_deg=60.0)
    power = np.log(np.log(10) / np.log(2)) / np.log(1.5)
    flux = 2 * np.pi * quad(lambda t: 5_000.0 * 0.5 ** ((t / np.radians(20)) ** power) * np.sin(t), 0, np.pi / 2)[0]
    at, aim = (1.2, 1.1, 2.0), (2.5, 4.0, 0.8)
    lamps = {
        "point": (Light(name="lamp", at=at, aim=aim, distribution=beam), flux),
        "panel": (
            Light(name="panel", at=at, aim=aim, distribution=Lambert(peak_cd=900.0), face_width_m=0.9, face_height_m=0.6),
            np.pi * 900.0,
        ),
    }
    table = rooms.phase_table("droplets_back")
    for name, sigma, g, phase in (
        ("point", 0.0, 0.0, None),
        ("point", 0.1, 0.75, None),
        ("panel", 0.0, 0.0, None),
        ("panel", 0.1, 0.75, None),
        ("panel", 0.4, 0.0, table),
    ):
        light, lumens = lamps[name]
        setup = Setup(
            name="check", title="", place=Room(name="box", **dict(zip(("width_m", "depth_m", "height_m"), size)), **walls), camera=Camera(at=(2, 0.5, 1), aim=(2, 5, 1)),
            lights=(light,), haze=Haze(extinction_per_m=sigma, g=g),
        )  # fmt: skip
        scene = Scene(setup, phase=phase)
        lx, se = mean_and_se([walls_lux(scene, k, 400_000, r) for k in range(24)])
        label = f"closed room, {name}, {sigma}/m, {'table' if phase else f'g {g}'}: mean of walls [lx]"
        expect(label, lx, lumens / (area * (1 - r)), within=1e-3, se=se)


def walls_lux(scene, seed, paths, reflectance):
    """Mean illuminance over all walls of a closed room, from points spread evenly over them. [lx]"""
    scene.start(seed, paths)
    rng = np.random.default_rng(seed)
    frames = list(wall_frames(scene.setup.place).values())
    areas = np.array([f[3] * f[4] for f in frames])
    which = rng.choice(6, size=paths, p=areas / areas.sum())
    start, along, up, length, height = (np.array([np.asarray(f[k], float) for f in frames])[which] for k in range(5))
    spots = start + along * (rng.random(paths) * length)[:, None] + up * (rng.random(paths) * height)[:, None]
    normal = np.cross(along, up)
    # 1 mm in front: what the haze does in it is below 4e-4
    seen = scene.luminance((spots + 0.001 * normal).T.astype(np.float32), -normal.T.astype(np.float32))
    return float(np.mean(np.asarray(seen, dtype=float))) * np.pi / reflectance


def check_airlight():
    """
    PUBLISHED: single scattering from a point light, B. Sun, R. Ramamoorthi, S. Narasimhan, S. Nayar, ACM Trans.
    Graph. 24(3) 1040 (2005), with F(u, v) = int_0^v exp(-u tan x) dx, for even scattering. DERIVED: the line
    integral by quadrature for other phase functions, and over the face of a panel.
    """
    sigma, length, at, eye, look = 0.08, 11.5, np.array([7.5, 5, 3.6]), np.array([6, 0.5, 3]), np.array([0, 1.0, 0])
    # all but even to 77 degrees off its axis, and the line from the lens to the wall lies within that
    wide = Light(name="lamp", at=tuple(at), aim=(6, 5, 3), distribution=Beam(peak_cd=9_000.0, beam_deg=179.0, field_deg=180.0))
    far, gamma = np.linalg.norm(at - eye), np.arccos((at - eye) @ look / np.linalg.norm(at - eye))
    along, aside = far * np.cos(gamma), far * np.sin(gamma)
    decay = lambda v: quad(lambda x: np.exp(-sigma * aside * np.tan(x)), 0, v, epsrel=1e-12)[0]
    published = decay(np.pi / 4 + np.arctan((length - along) / aside) / 2) - decay(gamma / 2)
    published *= sigma * 9_000.0 * np.exp(-sigma * along) / (2 * np.pi * aside)
    table = rooms.phase_table("droplets_back")
    hg = lambda g: lambda c: (1 - g * g) / (4 * np.pi * (1 + g * g - 2 * g * c) ** 1.5)

    def line_integral(per_sr, places, candela):
        def scattered(s):
            away = eye + s * look - places
            r = np.linalg.norm(away, axis=-1)
            return np.mean(per_sr(away @ -look / r) * candela(away / r[..., None]) * np.exp(-sigma * (r + s)) / r**2)

        x, weight = np.polynomial.legendre.leggauss(400)
        return sigma * length / 2 * sum(w * scattered((t + 1) * length / 2) for t, w in zip(x, weight))

    by_table = lambda c: np.interp(c, *table)
    for first, label, g, phase, per_sr in (
        (100, "even", 0.0, None, hg(0.0)),
        (200, "g 0.75", 0.75, None, hg(0.75)),
        (300, "table", 0.0, table, by_table),
    ):
        wanted = line_integral(per_sr, at[None], lambda away: 9_000.0)
        if label == "even":
            expect("(our quadrature against Sun et al.) [cd/m2]", wanted, published, within=1e-7)
        scene = Scene(black_box(lights=(wide,), haze=Haze(extinction_per_m=sigma, g=g)), phase=phase, scatterings=1)
        cd_m2, se = mean_and_se([airlight_pass(scene, first + k, 1_000_000, eye, look) for k in range(60)])
        expect(f"airlight, {label} [cd/m2]", cd_m2, wanted, within=2e-4, se=se)
    panel = Light(
        name="panel", at=tuple(at), aim=(6, 5, 3), distribution=Lambert(peak_cd=3_000.0), face_width_m=1.0, face_height_m=0.8
    )
    corners, grid = rectangle_corners(panel.at, panel.aim, 1.0, 0.8), (np.arange(40) + 0.5) / 40
    sides = grid[:, None, None] * (corners[1] - corners[0]) + grid[None, :, None] * (corners[3] - corners[0])
    normal = basis(panel.at, panel.aim)[2]
    wanted = line_integral(hg(0.75), corners[0] + sides, lambda away: 3_000.0 * np.maximum(away @ normal, 0.0))
    scene = Scene(black_box(lights=(panel,), haze=Haze(extinction_per_m=sigma, g=0.75)), scatterings=1)
    cd_m2, se = mean_and_se([airlight_pass(scene, 400 + k, 1_000_000, eye, look) for k in range(60)])
    expect("airlight of a panel, g 0.75 [cd/m2]", cd_m2, wanted, within=5e-4, se=se)


def airlight_pass(scene, seed, paths, eye, look):
    """Mean luminance along one ray. [cd/m2]"""
    scene.start(seed, paths)
    many = lambda point: [mi.Float(np.full(paths, v, dtype=np.float32)) for v in point]
    return float(np.mean(np.asarray(scene.luminance(many(eye), many(look)), dtype=float)))


def check_panel():
    """
    PUBLISHED: J. H. Lambert, Photometria (1760), a rectangle seen from over its middle: four times
    L / 2 (x / sqrt(1 + x^2) atan(y / sqrt(1 + x^2)) + the same with x and y changed). DERIVED: the two sides of
    a board, r E / pi.
    """
    a, b, c, cd_m2 = 0.6, 0.45, 1.3, 2_500.0
    face = {"face_width_m": 2 * a, "face_height_m": 2 * b}
    panel = Light(name="panel", at=(6, 2, 3), aim=(6, 8, 3), distribution=Lambert(peak_cd=cd_m2 * 4 * a * b), **face)
    x, y = a / c, b / c
    corner = x / np.hypot(1, x) * np.arctan(y / np.hypot(1, x)) + y / np.hypot(1, y) * np.arctan(x / np.hypot(1, y))
    setup = black_box(lights=(panel,), marks=(Mark(name="m", at=(6, 2 + c, 3), aim=(6, 2, 3)),), haze=Haze(extinction_per_m=0.0))
    lx, se = mean_and_se([Scene(setup, patches=True).marks(k, 500_000) for k in range(8)])
    expect("soft panel on its axis [lx]", lx[0], 2 * cd_m2 * corner, within=5e-4, se=se[0])
    for sign, reflectance in ((-1, 0.85), (1, 0.05)):
        white = Stuff(name="white", reflectance=0.85, gloss=0.0, back=0.05)
        board = Board(name="b", at=(6, 6, 3), aim=(6, 6 + sign, 3), width_m=1, height_m=1, stuff=white)
        light = Light(
            name="lamp", at=(6.0, 3.0, 3.0), aim=(6, 6, 3), distribution=Beam(peak_cd=9_000.0, beam_deg=60.0, field_deg=80.0)
        )
        scene = Scene(black_box(lights=(light,), boards=(board,), haze=Haze(extinction_per_m=0.0)), scatterings=1)
        got = airlight_pass(scene, 0, 1_000, np.array([6, 2.0, 3]), np.array([0, 1.0, 0]))
        expect(f"board's {'front' if sign < 0 else 'back'} [cd/m2]", got, reflectance * 1_000.0 / np.pi, within=1e-4)


def check_camera():
    """A patch up on the right stays there, and Mitsuba's own pinhole sees the same picture."""
    camera = rooms._camera((6.0, 1.0, 3.0), (6.4, 12.0, 2.8))
    right, up, forward = basis(camera.at, camera.aim)
    place = camera.at + 6.0 * forward + 1.7 * right + 0.9 * up
    white = Stuff(name="white", reflectance=0.9, gloss=0.0, back=0.0)
    bright = Board(name="b", at=tuple(place), aim=tuple(place - forward), width_m=0.5, height_m=0.3, stuff=white)
    light = Light(
        name="lamp", at=(6.0, 1.5, 3.0), aim=tuple(place), distribution=Beam(peak_cd=9_000.0, beam_deg=60.0, field_deg=80.0)
    )
    scene = Scene(black_box(camera=camera, lights=(light,), boards=(bright,), haze=Haze(extinction_per_m=0.0)), scatterings=1)
    ours = scene.picture(0, spp=256).reshape(rooms.HEIGHT, rooms.WIDTH)
    pixel = camera.focal_mm / camera.sensor_width_mm * rooms.WIDTH / 6.0
    rows, columns = np.indices(ours.shape) + 0.5
    expect("column of the patch", (ours * columns).sum() / ours.sum(), rooms.WIDTH / 2 + 1.7 * pixel, within=2e-3)
    expect("row of the patch", (ours * rows).sum() / ours.sum(), rooms.HEIGHT / 2 - 0.9 * pixel, within=5e-3)
    film = {"type": "hdrfilm", "width": rooms.WIDTH, "height": rooms.HEIGHT, "pixel_format": "luminance"}
    pinhole = {
        "type": "perspective",
        "fov_axis": "x",
        "fov": float(np.degrees(2 * np.arctan(camera.sensor_width_mm / 2 / camera.focal_mm))),
        "to_world": mi.ScalarTransform4f().look_at(origin=camera.at, target=camera.aim, up=[0, 0, 1]),
        "film": film | {"rfilter": {"type": "box"}},
    }
    theirs = mi.render(scene.scene, sensor=mi.load_dict(pinhole), integrator=scene.integrator, spp=256)
    theirs = np.asarray(theirs).reshape(ours.shape)
    apart = np.abs(ours - theirs).sum() / ours.sum()
    expect("Mitsuba's own pinhole: 1 + summed difference", 1 + apart, 1.0, within=0.02)


def check_solids():
    """
    DERIVED: a ball's shadow on a floor under a point lamp straight over it is a disc of radius h r / sqrt(d^2 - r^2), for h from
    lamp to floor and d to the middle; a box's is its lower side, or its upper one where that reaches further.
    """
    lamp_at, height = (6.0, 6.0, 5.0), 5.0
    light = Light(name="lamp", at=lamp_at, aim=(6.0, 6.0, 0.0), distribution=Beam(peak_cd=9_000.0, beam_deg=120.0, field_deg=170.0))
    things = {
        "ball": (Piece(name="it", what="sack", at=(6, 6, 1.0), aim=(6, 9, 0), width_m=1.0, depth_m=1.0, height_m=1.0), None),
        "box": (Piece(name="it", what="box", at=(6, 6, 1.0), aim=(6, 9, 0), width_m=1.0, depth_m=0.6, height_m=1.0), None),
    }
    edges = {"ball": height * 0.5 / np.sqrt(3.5**2 - 0.25), "box": 0.5 * height / 3.0}
    for name, (piece, _) in things.items():
        marks = tuple(
            Mark(name=f"{k}", at=(6.0 + edges[name] * share, 6.0, 0.01), aim=(6.0 + edges[name] * share, 6.0, 1.0))
            for k, share in enumerate((0.97, 1.03))
        )
        setup = black_box(lights=(light,), marks=marks, pieces=(piece,), haze=Haze(extinction_per_m=0.0))
        lx, _ = mean_and_se([Scene(setup, scatterings=1, patches=True).marks(k, 2_000) for k in range(4)])
        assert lx[0] == 0.0 < lx[1], (name, lx)
        print(f"  the shadow of a {name} ends where it should, within 3 %")


def check():
    """Every closed form; AssertionError at the first that fails."""
    for test in (check_direct, check_window, check_solids, check_panel, check_camera, check_airlight, check_furnace):
        print(test.__name__)
        test()


# --- the rooms ---------------------------------------------------------------------------------------------------


BLOCK_OF = rooms.block_of()  # the block of each pixel, both counted along the rows


class Picture:
    """Sums over the passes: per pixel, and per block the spread of its mean from pass to pass."""

    def __init__(self):
        self.pixels = np.zeros(rooms.WIDTH * rooms.HEIGHT)
        self.passes, self.sums, self.squares = np.zeros((3, BLOCK_OF.max() + 1))

    def add(self, pixels, passes):
        """Passes over the given pixels, shape (passes, pixels); the pixels are whole blocks."""
        self.pixels[pixels] += passes.sum(axis=0)
        for one in passes:
            blocks = np.bincount(BLOCK_OF[pixels], one, minlength=len(self.sums)) / rooms.BLOCK**2
            self.sums += blocks
            self.squares += blocks**2
        self.passes[np.unique(BLOCK_OF[pixels])] += len(passes)

    def mean(self):
        return self.sums / self.passes

    def error(self):
        """Standard error of each block's mean. [cd/m2]"""
        spread = np.maximum(self.squares / self.passes - self.mean() ** 2, 0.0)
        return np.sqrt(spread / (self.passes - 1))

    def unsure(self):
        """The blocks near enough to the brightest whose error is too large."""
        counted = self.mean() >= self.mean().max() * 2.0 ** -(STOPS + 0.5)
        return np.flatnonzero(counted & (self.error() > GOOD_BLOCK * self.mean()))


def trace_picture(view, *, seconds):
    """All blocks LEAST times, then the unsure ones until none is left or time is up."""
    every, picture, began = np.arange(len(BLOCK_OF)), Picture(), time.monotonic()
    for seed in range(LEAST // 2):
        picture.add(every, view.picture(seed, every, 2))
    seed = LEAST
    while len(todo := picture.unsure()) and time.monotonic() - began < seconds:
        pixels = np.flatnonzero(np.isin(BLOCK_OF, todo))
        passes = min(LEAST, max(1, AT_ONCE // (len(pixels) * SPP)))
        picture.add(pixels, view.picture(seed, pixels, passes))
        seed += 1
    return picture, time.monotonic() - began


def trace_marks(meter, spp, *, seconds):
    """Passes over the marks until all are good or time is up; shape (passes, marks). [lx]"""
    passes, began = [], time.monotonic()
    while len(passes) < LEAST or not (mark_error(passes) < GOOD_MARK or time.monotonic() - began > seconds):
        passes.append(meter.marks(1_000_000 + len(passes), spp))
    return np.array(passes), time.monotonic() - began


def mark_error(passes):
    """Largest relative standard error of the marks."""
    mean, se = mean_and_se(passes)
    return (se / mean).max()


def make(name, setup, *, seconds):
    """Trace one room and store it."""
    phase = rooms.phase_table(name)
    mark_spp = AT_ONCE // 4 // len(setup.marks)
    view, meter = Scene(setup, phase=phase, faces=True), Scene(setup, phase=phase, patches=True)
    view.picture(2_000_000), meter.marks(2_000_000, mark_spp)  # compile, off the clock
    marks, mark_time = trace_marks(meter, mark_spp, seconds=seconds / 4)
    picture, picture_time = trace_picture(view, seconds=seconds - mark_time)
    store(name, phase, picture, marks, mark_spp, picture_time, mark_time)
    report(name, setup)


def store(name, phase, picture, marks, mark_spp, picture_time, mark_time):
    """Write the room's npz, whole or not at all."""
    marks_mean, marks_se = mean_and_se(marks)
    size = rooms.HEIGHT // rooms.BLOCK, rooms.WIDTH // rooms.BLOCK
    kept = {
        "picture": (picture.pixels / picture.passes[BLOCK_OF]).reshape(rooms.HEIGHT, rooms.WIDTH).astype(np.float32),
        "picture_se": picture.error().reshape(size).astype(np.float32),
        "spp": (SPP * picture.passes).reshape(size).astype(np.int32),
        "seconds": np.float64(round(picture_time, 1)),
        "marks": marks_mean,
        "marks_se": marks_se,
        "mark_spp": np.int64(mark_spp * len(marks)),
        "mark_seconds": np.float64(round(mark_time, 1)),
    }
    if phase is not None:
        kept["cosine"], kept["phase_per_sr"] = phase
    path = rooms.HERE / f"{name}.npz"
    with open(path.with_suffix(".tmp"), "wb") as file:
        np.savez_compressed(file, **kept)
    os.replace(path.with_suffix(".tmp"), path)


def report(name, setup):
    """One line a room: what it is and how sure its answer is."""
    kept, room = rooms.load(name), setup.place
    mean = rooms.blocks(kept.picture)
    counted = mean >= mean.max() * 2.0**-STOPS
    share = kept.picture_se[counted] / mean[counted]
    grey = [room.ground] if isinstance(room, Exterior) else [getattr(room, s) for s in wall_frames(room)]
    air_text = f"{setup.haze.extinction_per_m:4.2f}/m " + (f"g {setup.haze.g:4.2f}" if kept.phase is None else "table ")
    print(
        f"{name:14s} {air_text}  walls {min(grey):.2f}-{max(grey):.2f}  spp {kept.spp.mean():6.0f}"
        f"  {kept.seconds:5.1f} + {kept.mark_seconds:5.1f} s  blocks {counted.sum():3d}:"
        f" se rms {np.sqrt((share**2).mean()):.4f} worst {share.max():.4f}"
        f"  marks se {(kept.marks_se / kept.marks).max():.4f}  {np.array2string(kept.marks, precision=2)} lx",
        flush=True,
    )


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("names", nargs="*", metavar="ROOM", help="rooms to make; none means all")
    parser.add_argument("--check", action="store_true", help="only ask the closed forms")
    parser.add_argument("--table", action="store_true", help="only list what is stored")
    parser.add_argument("--seconds", type=float, default=110.0, help="longest time for a room")
    asked = parser.parse_args(arguments)
    setups = rooms.all_rooms()
    if unknown := set(asked.names) - set(setups):
        parser.error(f"no room {', '.join(sorted(unknown))}; there are {', '.join(setups)}")
    chosen = asked.names or list(setups)
    if asked.table:
        for name in chosen:
            report(name, setups[name])
        return
    check()
    for name in [] if asked.check else chosen:
        make(name, setups[name], seconds=asked.seconds)


if __name__ == "__main__":
    main(sys.argv[1:])
