"""A setup with its light worked out once: the one thing that readings and pictures are made from."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from lightcalc.engine import bodies, direct, ground, indirect, ready
from lightcalc.engine.geometry import half_sine_table
from lightcalc.engine.interpreted import by_python
from lightcalc.engine.layout import lay_out
from lightcalc.engine.rows import BULB_M, Rig
from lightcalc.kit.droplets import phase_table
from lightcalc.scene.parts import Haze, Room, Setup, basis

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from lightcalc.units import Numbers


@dataclass(frozen=True)
class Quality:
    """How finely each part is worked out; a draft follows the hand, on a slow machine a brisk or a hasty one, and a final is read."""

    face_samples: int  # along each side of an area lamp, for its light in the air
    nodes: int  # Gauss-Legendre nodes in each lit stretch of a sight line
    wall_cells: int  # along each side of a surface, for light with edges
    soft_cells: int  # along each side, for light without sharp edges
    faces_on_walls: bool  # area lamps' light on the walls, too, is kept by the cell
    rays: int  # sight lines all round a mark, for what shafts in the air send it
    soft_rays: int  # and for what the rest of the air sends it
    slices: int  # steps of soft light along a sight line
    lines: int  # sight lines across the picture that carry soft light
    even: float  # pixels whose neighbours' luminances lie within this factor are read off them
    air_pixel: int  # pixels along each side that share one sharp sight line
    particles: int  # light particles followed
    tally_cells: int  # along each side of a surface, for what they bring; divides wall_cells
    patches: int  # along each side of a surface, for its light in the air; even, divides wall_cells
    air_cell_m: float  # cells of bounced light in the air of a room of 80 m3
    halo_points: int  # points that stand for light turned once by the haze
    ground: float  # side of a square of open ground, as a share of how far the nearest lamp or board is
    ground_samples: int  # along each side of such a square
    face_pixels: int  # a head that is so high in a picture has a nose and brows; 0: none has


QUALITY = {
    "draft": Quality(
        face_samples=2, nodes=4, wall_cells=48, soft_cells=12, faces_on_walls=True, rays=1536, soft_rays=160, slices=8,
        lines=18, even=1.15, air_pixel=2, particles=22_000, tally_cells=12, patches=12, air_cell_m=0.6, halo_points=384, ground=0.5,
        ground_samples=2, face_pixels=0,
    ),
    "final": Quality(
        face_samples=3, nodes=6, wall_cells=48, soft_cells=24, faces_on_walls=False, rays=1536, soft_rays=320, slices=10,
        lines=30, even=1.06, air_pixel=1, particles=240_000, tally_cells=24, patches=12, air_cell_m=0.4, halo_points=1800, ground=0.25,
        ground_samples=3, face_pixels=20,
    ),
    "brisk": Quality(
        face_samples=2, nodes=4, wall_cells=24, soft_cells=12, faces_on_walls=True, rays=1024, soft_rays=64, slices=6,
        lines=18, even=1.25, air_pixel=2, particles=14_000, tally_cells=6, patches=12, air_cell_m=0.6, halo_points=256, ground=0.6,
        ground_samples=2, face_pixels=0,
    ),
    "hasty": Quality(
        face_samples=2, nodes=4, wall_cells=24, soft_cells=12, faces_on_walls=True, rays=512, soft_rays=64, slices=6,
        lines=14, even=1.25, air_pixel=2, particles=8_000, tally_cells=6, patches=12, air_cell_m=0.6, halo_points=160, ground=0.6,
        ground_samples=2, face_pixels=0,
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Lit:
    """
    A setup and its rows, bounced light included; ask it for illuminance and for what the lens sees along a line.

    `light` makes one.
    """

    setup: Setup
    rig: Rig
    quality: Quality

    def illuminance_lx(self, points: ArrayLike, normals: ArrayLike, dome: ArrayLike = False, *, air: bool = True) -> np.ndarray:
        """
        Illuminance at receptors, by source. [lx]

        Parameters
        ----------
        points, normals : arrays (n, 3)
            Places [m] and the ways the receptors face.
        dome : bool or array (n,)
            Dome receptors, weight (1 + cos) / 2; else flat.
        air : bool, default True
            Count what the lit haze sends; without it, what it takes is counted all the same.

        Returns
        -------
        array (n, sources + 1)
            In the order of `setup.source_names`; the last column is what the room and the air send back.

        Notes
        -----
        A flat receptor at somebody's face is a patch of that face, whichever way it is turned: a head bulges, so it hides nothing
        of what its own skin can see. A dome is a meter held before the face, and the head hides what is behind it.
        """
        return self._by_head(partial(self._lux, air=air), points, normals, dome)

    def _by_head(self, lux_of, points, normals, dome):
        """Receptors given to a function with the rig that may hide something from each: all of it, or all but the head they are on."""
        points = np.ascontiguousarray(np.atleast_2d(points), dtype=float)
        normals = np.atleast_2d(np.asarray(normals, dtype=float))
        normals = np.ascontiguousarray(normals / np.linalg.norm(normals, axis=1)[:, None])
        dome = np.array(np.broadcast_to(np.asarray(dome, dtype=np.bool_), len(points)))
        lux, heads = np.zeros((len(points), self.rig.sources + 1)), bodies.own_heads(self.rig, self.setup, points, normals, dome)
        for head in np.unique(heads):
            mine = heads == head
            rig = self.rig if head < 0 else bodies.without(self.rig, head)
            lux[mine] = lux_of(rig, points[mine], normals[mine], dome[mine])
        return lux

    @staticmethod
    def _straight(rig, points, normals, dome):
        return direct.straight(rig.row, points, normals, dome, np.full(len(points), -1))

    def _lux(self, rig, points, normals, dome, air):
        """`illuminance_lx` of receptors that all parts of a rig may hide something from."""
        lux = self._straight(rig, points, normals, dome)
        if rig.enclosed:
            lux[:, -1] += indirect.surfaces_to_points(rig.row, points, normals, dome)
        else:
            added, shade = ground.ground_to_points(rig, points, normals, dome).T
            lux[:, -1] += added
            lux[:, rig.sky_source] = np.maximum(lux[:, rig.sky_source] + shade, 0.0)  # the last, without a sky
        lux[:, -1] += bodies.bodies_to_points(rig, points, normals, dome)
        if air and rig.extinction > 0:
            local = ground.local(rig)
            nodes, weights = direct.gauss_nodes(self.quality.nodes)
            for soft, rays in ((False, self.quality.rays), (True, self.quality.soft_rays)):
                lux[:, -1] += indirect.air_to_points(
                    local.row, points, normals, dome, indirect.even_directions(rays), soft, self.quality.slices // 2, nodes, weights,
                ).sum(axis=1)  # fmt: skip
            glow_rays = self.quality.soft_rays // 4
            lux[:, -1] += indirect.glow_to_points(local.row, points, normals, dome, glow_rays, nodes, weights).sum(axis=1)
            lux[:, -1] = np.maximum(lux[:, -1], 0.0)  # where next to nothing comes, harmonics of the air may swing below it
        return lux

    def pixel_ray(self, u: Numbers, v: Numbers) -> tuple[np.ndarray, np.ndarray]:
        """
        Sight line through a place on the picture.

        Parameters
        ----------
        u, v : float or arrays
            Shares of the picture's width, from the left, and height, from the top.

        Returns
        -------
        origin (3,), directions (..., 3)
        """
        camera = self.setup.camera
        right, up, forward = basis(camera.at, camera.aim)
        across = (np.asarray(u)[..., None] - 0.5) * camera.sensor_width_mm / camera.focal_mm
        down = (np.asarray(v)[..., None] - 0.5) * camera.sensor_height_mm / camera.focal_mm
        rays = forward + across * right - down * up
        return np.array(camera.at, dtype=float), rays / np.linalg.norm(rays, axis=-1, keepdims=True)


def straight_lx(setup: Setup, points: ArrayLike, normals: ArrayLike, dome: ArrayLike = False) -> np.ndarray:
    """
    Illuminance straight from lamps, sun and open sky, without waiting for the engine to be compiled. [lx]

    Past all that stands in the way and through the haze; what boards, cloth, surfaces, people and air send is left out.

    Parameters
    ----------
    setup : Setup
    points, normals, dome
        As `Lit.illuminance_lx` has them.

    Returns
    -------
    array (n, sources + 1)
        In the order of `setup.source_names`; the last column is what open ground sends where there is no sky.
    """
    with by_python() if ready.missing() else nullcontext():
        lit = Lit(setup=setup, rig=lay_out(setup, phase=phase_of(setup.haze)), quality=QUALITY["draft"])
        return lit._by_head(lit._straight, points, normals, dome)


def phase_of(haze: Haze) -> np.ndarray | None:
    """The half-sine table of a haze's phase function: its droplets', or None for Henyey-Greenstein."""
    if not haze.droplets:
        return None
    table = phase_table(haze.droplets)
    return half_sine_table(lambda theta: np.interp(theta, table.theta_rad, table.phase_per_sr), 4096)


def light(setup: Setup, quality: str | Quality = "final", *, phase: np.ndarray | None = None, bulb_m: float = BULB_M) -> Lit:
    """
    Work out a setup's light.

    Parameters
    ----------
    setup : Setup
    quality : {'final', 'draft', 'brisk', 'hasty'} or Quality
        A draft follows the hand, on a slow machine a brisk or a hasty one; a final is read.
    phase : array, optional
        Half-sine table of another phase function than the haze's own (`geometry.half_sine_table`). [1/sr]
    bulb_m : float, default 0.03
        Radius of the ball that a lamp without a face is seen as, at its own luminance; 0 leaves it unseen. [m]

    Returns
    -------
    Lit

    Raises
    ------
    ValueError
        If the quality has no such name.
    """
    if not isinstance(quality, Quality):
        if quality not in QUALITY:
            raise ValueError(f"quality must be one of {', '.join(QUALITY)}, got {quality!r}")
        quality = QUALITY[quality]
    ready.once()
    phase = phase_of(setup.haze) if phase is None else phase
    rig = direct.prepare(setup, face_samples=quality.face_samples, phase=phase, draft=quality.faces_on_walls)
    crowded = bool(setup.pieces) or any(mark.figure for mark in setup.marks) or len(rig.cells) > direct.MANY_CELLS
    rig = rig.replace(rough=quality.faces_on_walls and crowded)  # else the exact way is as quick
    counts = dict(
        particles=quality.particles, tally_cells=quality.tally_cells, air_cell_m=quality.air_cell_m, halo_points=quality.halo_points
    )
    if isinstance(setup.place, Room):
        rig = indirect.particle_field(
            rig, cells=quality.wall_cells, soft_cells=quality.soft_cells, patches=quality.patches,
            faces_on_walls=quality.faces_on_walls, **counts,
        )  # fmt: skip
    else:
        rig = ground.outdoor_field(rig, samples=quality.ground_samples, fine=quality.ground, **counts)
    if quality.faces_on_walls:
        rig = indirect.facets_on_facets(rig)
    return Lit(setup=setup, rig=rig.replace(bulb=float(bulb_m)), quality=quality)
