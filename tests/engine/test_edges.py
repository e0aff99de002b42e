"""
Scenes at the edges: whatever a setup accepts gives numbers, all of them finite and none below nothing, in bounded time.

    python tests/engine/test_edges.py              5,000 scenes, and what went wrong in which
    python tests/engine/test_edges.py 300 100      300 of them, from number 100
    python tests/engine/test_edges.py --jumps      one thing of each of 1,000 moved by half a millimetre, and what that changed most

DERIVED: luminance and illuminance are sums of what is sent, so none is below 0, and what is sent is finite. A scene puts
things where formulas divide by nothing: at the lens, at a mark, in a wall's plane, in a board, under the ground; of no
size, of every size; no light, forty of them; no haze, next to none, and more than one can see a hand through.
"""

from __future__ import annotations

import sys
import time
import traceback
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from lightcalc.answers.readings import readings
from lightcalc.engine.picture import picture
from lightcalc.engine.solve import light
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Diffusion, Stuff
from lightcalc.scene.parts import (
    PIECES,
    POSES,
    Board,
    Camera,
    Exterior,
    Flag,
    Frame,
    Haze,
    Light,
    Mark,
    Piece,
    Room,
    SceneError,
    Setup,
    Sky,
    Spot,
    Sun,
    Window,
    basis,
    rectangle_corners,
)
from lightcalc.scene.solids import solids

SLOW_S = 5.0  # CPU seconds, for one scene's light, readings and picture as a draft
SIZES_M = (1e-9, 1e-3, 0.05, 0.3, 1.2, 4.0)
GOOD = 200


def scene(seed):
    """The scene of that number; None where the parts refuse what was thrown."""
    try:
        return _Throw(np.random.default_rng(seed)).setup()
    except SceneError:
        return None


class _Throw:
    """One scene, thrown."""

    def __init__(self, draw):
        self.draw = draw
        self.chance = lambda p: draw.random() < p
        self.pick = lambda values: values[draw.integers(len(values))]

    def setup(self):
        self.place = self._place()
        self.size = np.array(self.place.size_m)
        self.special = [tuple(self._inside()) for _ in range(2)]
        camera = Camera(at=self.special[0], aim=self._aim(self.special[0]), focal_mm=self.pick((14, 35, 200)))
        many = self.draw.random()
        boards = [self._board(k) for k in range(30 if many < 0.01 else self.draw.integers(4))]
        self.special += [part.at for part in boards[:3]]
        lights = [self._light(k) for k in range(40 if many > 0.99 else self.draw.integers(4))]
        self.special += [part.at for part in lights[:3]]
        at = [self._at() for _ in range(7)]
        sides = lambda: dict(width_m=self.pick(SIZES_M), height_m=self.pick(SIZES_M))
        white = Diffusion(name="cloth", **self.pick((dict(direct=0.3, diffuse=0.4), dict(direct=0.0, diffuse=1.0))))
        zenith, horizon = self.pick(((2000.0, 2000.0), (0.0, 5000.0), (1e-3, 2e-3)))
        most = float(np.sqrt(max(0.0, horizon**2 - min(0.0, zenith - horizon) ** 2)))
        side, way = self.pick((0.0, 0.5, 1.0)) * most, float(self.draw.uniform(-360, 360))
        sky = Sky(zenith_cd_m2=zenith, horizon_cd_m2=horizon, side_cd_m2=side, side_bearing_deg=way) if self.chance(0.3) else None
        sun = None
        if self.chance(0.3):
            height = self.pick((0.001, 0.5, 30.0, 89.99, 90.0, -3.0))
            sun = Sun(bearing_deg=self.draw.uniform(0, 360), elevation_deg=height, normal_lx=self.pick((0.0, 300.0, 1e5)))
        names = [part.name for part in lights + boards] or [""]
        return Setup(
            name="edge", title="Edge", place=self.place, camera=camera, lights=tuple(lights), boards=tuple(boards),
            frames=(Frame(name="frame", at=at[0], aim=self._aim(at[0]), diffusion=white, **sides()),) if self.chance(0.2) else (),
            flags=(Flag(name="flag", at=at[1], aim=self._aim(at[1]), **sides(), reflectance=self.pick((0.0, 0.03, 0.98))),)
            if self.chance(0.3) else (),
            marks=tuple(
                Mark(
                    name=f"mark {k}", at=at[2 + k], aim=self._aim(at[2 + k]), receptor=self.pick(("flat", "dome")), figure=self.chance(0.3),
                    pose=self.pick(POSES), tall_m=self.pick((0.5, 1.7, 2.5)), body=self.pick((0.0, 0.06, 0.98)),
                )
                for k in range(self.draw.integers(3))
            ),
            pieces=tuple(self._piece(k) for k in range(self.draw.integers(3))) if self.chance(0.4) else (),
            spots=tuple(Spot(name=f"spot {k}", at=at[5 + k], source=self.pick(names + [""])) for k in range(self.draw.integers(3))),
            haze=Haze(extinction_per_m=self.pick((0.0, 1e-12, 1e-6, 0.003, 0.05, 0.3, 2.0, 10.0)), g=self.pick((-0.95, 0.0, 0.5, 0.75, 0.9, 0.95))),
            sun=sun, sky=sky,
        )  # fmt: skip

    def _place(self):
        shade = lambda: self.pick((0.0, 0.03, 0.2, 0.5, 0.98))
        if self.chance(0.3):
            width, depth = self.pick(((0.6, 0.6), (20.0, 12.0), (1000.0, 500.0)))
            return Exterior(name="open", width_m=width, depth_m=depth, ground=shade())
        size = self.pick(
            ((0.3, 0.3, 0.3), (2.0, 3.0, 2.2), (5.0, 4.0, 3.0), (12.0, 9.0, 5.0), (40.0, 0.3, 3.0), (500.0, 500.0, 500.0))
        )
        windows = []
        for k, wall in enumerate(("near", "far", "left", "right")):
            side = size[0] if k < 2 else size[1]
            if self.chance(0.3):
                bars = dict(bars_upright=int(self.draw.integers(3)), bar_m=0.02 * side) if self.chance(0.3) else {}
                windows.append(
                    Window(
                        name=f"window {k}", wall=wall, centre_m=side / 2, sill_m=0.0 if self.chance(0.3) else 0.3 * size[2],
                        width_m=side * self.pick((1e-6, 0.3, 1.0)), height_m=size[2] * self.pick((0.01, 0.5, 0.7)),
                        sheer=Diffusion(name="sheer", direct=0.3, diffuse=0.4) if self.chance(0.2) else None, **bars,
                    )
                )  # fmt: skip
        walls = dict(zip(("floor", "ceiling", "left", "right", "near", "far"), (shade() for _ in range(6))))
        if self.chance(0.2):
            walls = dict.fromkeys(walls, self.pick((0.0, 0.98)))
        return Room(name="room", **dict(zip(("width_m", "depth_m", "height_m"), size)), windows=tuple(windows), **walls)

    def _inside(self):
        return self.draw.uniform(0.05, 0.95, 3) * np.minimum(self.size, [30.0, 30.0, 4.0])

    def _at(self, out=0.0):
        """A place: often one that is taken, or on a wall, on the floor, or in a corner; sometimes outside."""
        point = self._inside()
        kind = self.draw.random()
        if kind < 0.3:
            return tuple(np.array(self.pick(self.special)) + self.pick((0.0, 0.0, 1e-9, 1e-5, 1e-3)))
        if kind < 0.45:
            point[self.draw.integers(3)] = 0.0
        elif kind < 0.55:
            axis = self.draw.integers(3)
            point[axis] = self.size[axis]
        elif kind < 0.6:
            point[:] = 0.0
        elif kind < 0.6 + out:
            point[self.draw.integers(3)] = self.pick((-1e-9, -0.5, -3.0))
        return tuple(point)

    def _aim(self, at):
        """Somewhere to face: along an axis, at something that stands there, or anywhere."""
        kind = self.draw.random()
        if kind < 0.4:
            way = np.zeros(3)
            way[self.draw.integers(3)] = self.pick((-1.0, 1.0))
            return tuple(np.add(at, way))
        aim = np.array(self.pick(self.special)) if kind < 0.6 else self._inside()
        return tuple(aim) if np.linalg.norm(aim - at) > 1e-3 else tuple(np.add(at, (0.3, 0.1, -0.2)))

    def _board(self, k):
        at, shares = self._at(), self.pick(((0.0, 0.0), (0.85, 0.85), (0.98, 0.98), (0.03, 0.98)))
        gloss = self.pick((0.0, 0.0, 0.5, 1.0))
        stuff = Stuff(
            name="stuff", reflectance=shares[0], back=shares[1], gloss=gloss, lobe_deg=self.pick((0.1, 20.0)) if gloss else 0.0
        )
        return Board(
            name=f"board {k}",
            at=at,
            aim=self._aim(at),
            width_m=self.pick(SIZES_M),
            height_m=self.pick(SIZES_M),
            stuff=stuff,
            roll_deg=self.pick((0.0, 45.0)),
        )

    def _piece(self, k):
        at = self._at()
        sides = {side: self.pick((0.0, 0.0, 1e-3, 0.5, 4.0)) for side in ("width_m", "depth_m", "height_m")}
        share = self.pick((0.0, 0.15, 0.98))
        return Piece(name=f"piece {k}", what=self.pick(PIECES), at=at, aim=self._aim(at), reflectance=share, **sides)

    def _light(self, k):
        at = self._at(out=0.15)
        spread = self.pick((Beam(peak_cd=1e5, beam_deg=20, field_deg=30), Beam(peak_cd=1e4, beam_deg=3, field_deg=5),
                            Lambert(peak_cd=1500), Lambert(peak_cd=1e-6)))  # fmt: skip
        face = dict(face_width_m=self.pick(SIZES_M), face_height_m=self.pick(SIZES_M)) if self.chance(0.3) else {}
        return Light(name=f"light {k}", at=at, aim=self._aim(at), distribution=spread, dim=self.pick((0.0, 1e-9, 1.0, 1.0)), **face)


def faults(setup, quality="draft"):
    """What is wrong with the numbers of a setup, as sentences; none when all is well."""
    lit = light(setup, quality)
    read, seen = readings(setup, lit=lit), picture(setup, width=32, height=18, lit=lit).luminance_cd_m2
    named = {"picture": seen}
    for mark in read.marks:
        named[f"{mark.name} by source"] = list(mark.by_source.values())
        named[mark.name] = [mark.illuminance_lx, mark.veil_cd_m2, mark.transmittance]
    for spot in read.spots:
        named[spot.name] = [spot.luminance_cd_m2, spot.air_cd_m2] + ([spot.background_cd_m2] if spot.source else [])
    found = []
    for name, values in named.items():
        values = np.asarray(values, dtype=float)
        if not np.isfinite(values).all():
            found.append(f"{name} not finite: {values[~np.isfinite(values)][0]}")
        elif (values < 0).any():
            found.append(f"{name} below 0: {values.min():.3g} beside {values.max():.3g}")
    levels = [m.level_stops for m in read.marks] + [s.level_stops for s in read.spots]
    return found + ["a level is NaN"] * bool(np.isnan(levels).any())


@pytest.mark.slow
@pytest.mark.parametrize("ten", range(GOOD // 10))
def test_scenes_at_the_edges_give_numbers(ten):
    # DERIVED: see the head. Ten scenes each; a failure names the scene.
    wrong = {seed: faults(setup) for seed in range(10 * ten, 10 * ten + 10) if (setup := scene(seed))}
    assert not {seed: found for seed, found in wrong.items() if found}


@pytest.mark.slow
@pytest.mark.parametrize("seed", [100295, 100825, 770])
def test_scenes_that_once_went_wrong(seed):
    # Boards that fill the room, 19 CPU s; air a hand cannot be seen through, 7 s; a lamp in the middle of a mirror, divided by 0.
    assert not faults(scene(seed))


MOVED_M, CLOSE_M = 5e-4, 0.01
UNSEEN_LX = 1e-3  # starlight: less than that is not read
MOVABLE = ("lights", "boards", "frames", "flags", "marks", "pieces")
FACES = ("boards", "frames", "flags")


def nudge(setup, seed):
    """One thing of a setup moved by half a millimetre: setup, kind, index; None where nothing can be moved."""
    draw = np.random.default_rng(seed + 10**6)
    there = [(kind, index) for kind in MOVABLE for index in range(len(getattr(setup, kind)))]
    if not there:
        return None
    kind, index = there[draw.integers(len(there))]
    step = draw.normal(size=3)
    step *= MOVED_M / np.linalg.norm(step)
    parts = list(getattr(setup, kind))
    parts[index] = replace(parts[index], at=tuple(parts[index].at + step), aim=tuple(parts[index].aim + step))
    try:
        return replace(setup, **{kind: tuple(parts)}), kind, index
    except SceneError:
        return None


def off_rectangle_m(part, point):
    """How far a point is from a board, frame or flag. [m]"""
    right, up, forward = basis(part.at, part.aim, part.roll_deg)
    away = np.subtract(point, part.at)
    beyond = [max(abs(away @ side) - 0.5 * size, 0.0) for side, size in ((right, part.width_m), (up, part.height_m))]
    return float(np.linalg.norm([*beyond, away @ forward]))


def reason(setup, kind, index):
    """Why light may jump when a thing moves by less than a millimetre, or "": it goes through, or is as near as a bulb's size to, another."""
    part = getattr(setup, kind)[index]
    size = np.array(setup.place.size_m)
    planes = [*part.at, *(size - part.at)] if isinstance(setup.place, Room) else [part.at[2]]
    if min(map(abs, planes)) < CLOSE_M and kind not in FACES:
        return "it stands in a wall's plane or on the ground"
    points = [(other.name, other.at) for group in ("lights", "marks") for other in getattr(setup, group) if other is not part]
    if kind in FACES:
        near = [name for name, at in points if off_rectangle_m(part, at) < CLOSE_M]
    else:
        near = [name for name, at in points if np.linalg.norm(np.subtract(at, part.at)) < CLOSE_M]
    for group in FACES:
        near += [face.name for face in getattr(setup, group) if face is not part and off_rectangle_m(face, part.at) < CLOSE_M]
    near += touched(setup, kind, part)
    return f"it touches {', '.join(near)}" if near else ""


def off_solid_m(solid, point):
    """How far a point is from a box or an ellipsoid, to first order; 0 in it. [m]"""
    x = np.abs(solid.axes @ np.subtract(point, solid.middle))
    if solid.shape == "box":
        return float(np.linalg.norm(np.maximum(x - solid.half, 0.0)))
    u = x / solid.half
    size = np.linalg.norm(u)
    return float(max(size - 1.0, 0.0) * size / max(np.linalg.norm(u / solid.half), 1e-9))


def touched(setup, kind, part):
    """People and pieces that a thing touches; of a person or piece also lamps and marks."""
    made = solids(setup)
    points = [part.at]
    if kind in FACES:
        points += list(rectangle_corners(part.at, part.aim, part.width_m, part.height_m, part.roll_deg))
    near = [solid.of for solid in made if solid.of != part.name and min(off_solid_m(solid, point) for point in points) < CLOSE_M]
    mine = [solid for solid in made if solid.of == part.name]
    near += ["its own body"] * (kind == "marks" and any(solid.holds(part.at) for solid in mine))
    others = [other for group in ("lights", "marks") for other in getattr(setup, group) if other is not part]
    near += [other.name for other in others if any(off_solid_m(solid, other.at) < CLOSE_M for solid in mine)]
    return list(dict.fromkeys(near))


def over_an_edge(before, after):
    """Lamps that one of the two lets a mark see past people and pieces and the other does not: the edge of a shadow."""
    found = []
    for one, other in zip(before.marks, after.marks):
        for lamp, moved in zip(before.lights, after.lights):
            seen = [
                any(solid.stops(np.array([light.at]), mark.at)[0] for solid in solids(each) if solid.of != mark.name)
                for each, mark, light in ((before, one, lamp), (after, other, moved))
            ]
            found += [f"the edge of the shadow from {lamp.name} crosses {one.name}"] * (seen[0] != seen[1])
    return ", ".join(found)


def jumps(seed, quality="draft"):
    """For each mark of a scene: stops by which half a millimetre changes it, and the reason why it may. None without marks."""
    setup = scene(seed)
    if setup is None or not setup.marks or len(setup.boards) > 10 or (there := nudge(setup, seed)) is None:
        return None
    after, kind, index = there
    lux = []
    for each in (setup, after):
        facing = [np.subtract(mark.aim, mark.at) for mark in each.marks]
        dome = [mark.receptor == "dome" for mark in each.marks]
        lux.append(light(each, quality).illuminance_lx([mark.at for mark in each.marks], facing, dome=dome).sum(axis=1))
    lux = np.maximum(lux, UNSEEN_LX)
    why = reason(setup, kind, index) or over_an_edge(setup, after)
    return np.abs(np.log2(lux[0] / lux[1])), why, f"{kind[:-1]} {index}", lux


@pytest.mark.slow
def test_half_a_millimetre_changes_little():
    # DERIVED: between surfaces light is continuous. A draft's particles meet a moved board elsewhere, which is noise of its size.
    found = {seed: jump for seed in range(100) if (jump := jumps(seed)) and not jump[1]}
    assert len(found) >= 10, "most scenes stand things in each other"
    assert not {seed: jump for seed, jump in found.items() if jump[0].max() > 0.1}


def list_jumps(seeds):
    """Print the largest, each with its reason."""
    warnings.simplefilter("ignore")
    rows = [
        (stops.max(), seed, what, why or "NONE", lux)
        for seed in seeds
        if (found := jumps(seed))
        for stops, why, what, lux in [found]
    ]
    rows.sort(key=lambda row: -row[0])
    print(
        f"{len(rows)} scenes; {sum(row[0] > 0.1 for row in rows)} change by over 0.1 stop, {sum(row[0] > 0.1 and row[3] == 'NONE' for row in rows)} without a reason"
    )
    for stops, seed, what, why, lux in rows[:40]:
        print(f"{stops:6.2f} stops, scene {seed}: {what} moved; {why}; {lux[0].round(4)} lx to {lux[1].round(4)}")


def run(seeds):
    """Print every scene of those numbers that goes wrong or is slow."""
    refused, wrong, seconds = 0, {}, []
    warnings.simplefilter("ignore")
    for seed in seeds:
        setup, begun = scene(seed), time.process_time()
        if setup is None:
            refused += 1
            continue
        try:
            found = faults(setup)
        except Exception as error:
            where = traceback.extract_tb(error.__traceback__)[-1]
            found = [f"{type(error).__name__}: {str(error)[:80]} ({Path(where.filename).name}:{where.lineno})"]
        seconds.append(time.process_time() - begun)
        if seconds[-1] > SLOW_S:
            found.append(f"slow: {seconds[-1]:.1f} s")
        if found:
            wrong[seed] = found
            print(seed, "; ".join(found), flush=True)
    print(
        f"{len(seconds)} scenes, {refused} refused, {len(wrong)} wrong; CPU s: {np.median(seconds):.3f} median, {max(seconds):.1f} most"
    )


if __name__ == "__main__":
    if sys.argv[1:] == ["--jumps"]:
        sys.exit(list_jumps(range(1000)))
    count, first = ([int(a) for a in sys.argv[1:]] + [5000, 0][len(sys.argv) - 1 :])[:2]
    run(range(first, first + count))
