"""What the lens sees: a luminance picture, a spot reading anywhere on it, and a display curve for a screen."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numba import float32

from lightcalc.engine.bodies import bounced_on_thing
from lightcalc.engine.direct import (
    SHARP,
    candela,
    face_light,
    facet_light,
    gauss_nodes,
    line_air,
    new_marks,
    new_work,
    open_sky_light,
    point_light,
    sky_at,
)
from lightcalc.engine.geometry import total
from lightcalc.engine.ground import air_on_ground, ground_on_figure
from lightcalc.engine.indirect import FAR_M, even_steps, on_wall, open_air, slice_of, soft_air, soft_line
from lightcalc.engine.intersect import in_air_cells, meet_bulb, meet_face, meet_occluder, meet_wall, wall_normal, window_at
from lightcalc.engine.kernels import COUNT, CUBE, JOBS, NUMBER, NUMBERS, TABLE, TRUTH, inner, kernel, next_job
from lightcalc.engine.layout import lay_out
from lightcalc.engine.rows import (
    BAR_REFLECTANCE,
    FLAT,
    RIGS,
    TERMS,
    cell_of,
    face_of,
    facet_of,
    lamp_of,
    occluder_of,
    walls_lx_of,
    window_of,
)
from lightcalc.engine.shadow import face_normal, place_on, reflects
from lightcalc.engine.solve import Lit, light
from lightcalc.engine.turned import axis_place, new_scratch, open_radiance
from lightcalc.laws.haze import transmittance
from lightcalc.scene.parts import Setup, basis
from lightcalc.scene.solids import HEAD_M
from lightcalc.units import check_range, stops

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


NOTHING, ON_WALL = -2, -1  # what a line may end on but for an occluder
ELSEWHERE = 0.02  # weight of a soft line that ends on another thing than a pixel does


@dataclass(frozen=True)
class Picture:
    """A luminance picture, row 0 at the top, column 0 at the left as the camera sees it."""

    luminance_cd_m2: np.ndarray  # (h, w) float32
    reference_cd_m2: float  # luminance of middle grey

    @property
    def level_stops(self) -> np.ndarray:
        """Every pixel from middle grey; no light at all is minus infinity, (h, w). [stops]"""
        return stops(self.luminance_cd_m2 / self.reference_cd_m2)

    def rgba(self) -> np.ndarray:
        """The picture on the display curve, (h, w, 4) uint8."""
        grey = display_curve(self.luminance_cd_m2 / self.reference_cd_m2)
        byte = np.rint(255 * grey).astype(np.uint8)
        return np.dstack([byte, byte, byte, np.full_like(byte, 255)])

    def save(self, path: str | Path) -> None:
        """Write the picture as an 8-bit grey PNG."""
        rows = self.rgba()[..., 0]
        data = np.hstack([np.zeros((rows.shape[0], 1), np.uint8), rows]).tobytes()
        head = struct.pack(">IIBBBBB", rows.shape[1], rows.shape[0], 8, 0, 0, 0, 0)
        with open(path, "wb") as file:
            file.write(b"\x89PNG\r\n\x1a\n")
            for kind, body in ((b"IHDR", head), (b"IDAT", zlib.compress(data, 6)), (b"IEND", b"")):
                file.write(struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body)))


def display_curve(share: ArrayLike) -> np.ndarray:
    """
    Luminance in middle greys to a display value 0 to 1: a straight toe, a soft shoulder, middle grey at 0.46.

    v = ((x (1 + x / w^2)) / (1 + x))^(1 / 2.2) scaled so that x = 1 shows at 0.46 and w middle greys at white:
    the extended Reinhard curve (Reinhard et al., SIGGRAPH 2002), then the screen's usual exponent.

    Examples
    --------
    >>> display_curve(np.array([0.0, 1.0, 64.0])).astype(float).round(2).tolist()
    [0.0, 0.46, 1.0]
    """
    white = 64.0  # six stops over middle grey
    x = 0.2214 * np.maximum(np.asarray(share, dtype=np.float32), 0.0)
    w = 0.2214 * white
    return np.minimum(x * (1.0 + x / w**2) / (1.0 + x), 1.0) ** (1.0 / 2.2)


@inner
def look(rig, ox, oy, oz, dx, dy, dz, lux, work, basis):
    """
    What a sight line ends on.

    Returns
    -------
    luminance, reach, hazed : floats
        Of the thing, before the haze [cd/m2]; how far the line goes through the haze [m]; what share that is of where
        its soft light ends.
    thing : int
        What it is, and the wall behind it: two lines with the same number end on the same thing.
    """
    share, luminance, skip, thing, lit_on = 1.0, 0.0, -1, 0, NOTHING
    wall_t, surface = meet_wall(rig, ox, oy, oz, dx, dy, dz)
    x, y, z = ox + wall_t * dx, oy + wall_t * dy, oz + wall_t * dz
    nx, ny, nz, window, barred = 0.0, 0.0, 0.0, -1, False
    if rig.enclosed:
        window, barred = window_at(rig, surface, x, y, z)
    is_open = window >= 0 and not barred
    limit = np.inf if is_open or surface < 0 else wall_t
    for _ in range(4):  # through up to four frames
        t, occluder, side = meet_occluder(rig, ox, oy, oz, dx, dy, dz, limit, skip, False)
        t, face = meet_face(rig, ox, oy, oz, dx, dy, dz, t)
        t, bulb, bulb_cd_m2 = meet_bulb(rig, ox, oy, oz, dx, dy, dz, t)
        through = share
        if is_open and t > wall_t:
            through = share * window_of(rig, window).passes
        if bulb >= 0:
            thing += 700 + bulb
            luminance += through * bulb_cd_m2
            break
        if face >= 0:
            thing += 1 + face
            lamp = face_of(rig, face).lamp
            axes = lamp_of(rig, lamp).axes
            cosine = -(axes[2, 0] * dx + axes[2, 1] * dy + axes[2, 2] * dz)
            cd = candela(rig, lamp, -dx, -dy, -dz) * face_of(rig, face).scale
            luminance += through * cd / (face_of(rig, face).area * max(cosine, 1e-3))
            break
        if occluder >= 0:
            thing = 131 * thing + 500 + 8 * occluder + side
            px, py, pz = ox + t * dx, oy + t * dy, oz + t * dz
            row = occluder_of(rig, occluder)
            if row.diffuse > 0.0 or row.passes > 0.0:
                luminance += through * cell_of(rig, _cell_seen(rig, row.facet[side], px, py, pz)).luminance
                share *= row.passes
                skip = occluder
                if share < 1e-4:
                    break
                continue
            x, y, z, share = px, py, pz, through
            nx, ny, nz = face_normal(rig, occluder, side, x, y, z)
            lit_on = occluder
            break
        t = wall_t
        thing += 2000 + 2 * window + barred
        if surface < 0:
            luminance += share * sky_at(rig, dx, dy, dz)
            break
        if is_open:
            luminance += share * (window_of(rig, window).passes * sky_at(rig, dx, dy, dz) + window_of(rig, window).glow)
            break
        nx, ny, nz = wall_normal(surface)
        lit_on = ON_WALL
        break
    if lit_on != NOTHING:
        lux[:] = 0.0
        skip = lit_on if lit_on >= 0 else -1
        sends = lit_on >= 0 and occluder_of(rig, lit_on).facet[side] >= 0
        point_light(rig, x, y, z, nx, ny, nz, False, lux, skip)
        if lit_on >= 0 or not rig.faces_on_walls:
            face_light(rig, x, y, z, nx, ny, nz, False, lux, work, skip, rig.rough)
        if lit_on >= 0 or not rig.enclosed:
            facet_light(rig, x, y, z, nx, ny, nz, False, lux, work, skip, not (sends and rig.facets_on_facets), rig.rough)
            open_sky_light(rig, x, y, z, nx, ny, nz, False, lux, work, skip)
        lx = total(lux)
        if sends:
            lx += _bounced_on(rig, lit_on, side, x, y, z)
        elif lit_on >= 0:
            lx += bounced_on_thing(rig, x, y, z, nx, ny, nz, basis)
            row = occluder_of(rig, lit_on)
            lx += row.ground[side] if row.shape == FLAT else ground_on_figure(rig, lit_on, x, y, z, nx, ny, nz)
        elif rig.enclosed:
            lx += on_wall(walls_lx_of(rig), rig.size, surface, x, y, z)
        else:
            lx += air_on_ground(rig, x, y)
        reflect = reflects(rig, lit_on, side) if lit_on >= 0 else (BAR_REFLECTANCE if barred else rig.reflectance[surface])
        luminance += share * reflect / np.pi * max(lx, 0.0)
    hazed = min(wall_t, FAR_M)
    reach = min(t, hazed)
    return luminance, reach, min(reach / _soft_end(rig, ox, oy, oz, dx, dy, dz, hazed), 1.0), 8 * thing + surface


@inner
def _soft_end(rig, ox, oy, oz, dx, dy, dz, hazed):
    """Where the soft light of a line ends: at the wall; or, in the open, at the latest with the cells of the air. [m]"""
    if not rig.enclosed:
        _, far = in_air_cells(rig, ox, oy, oz, dx, dy, dz)
        hazed = min(hazed, far)
    return max(hazed, 1e-3)


@inner
def _bounced_on(rig, occluder, side, x, y, z):
    """The `bounced` of a board's or frame's side at a point on it, without seams between cells. [lx]"""
    row = occluder_of(rig, occluder)
    u, v = place_on(rig, occluder, side, x, y, z)
    i, f = axis_place(u, 1.0, row.across[side])
    j, g = axis_place(v, 1.0, row.along[side])
    across = row.across[side]
    first = facet_of(rig, row.facet[side]).first + i + j * across
    low = cell_of(rig, first).bounced * (1.0 - f) + cell_of(rig, first + 1).bounced * f
    high = cell_of(rig, first + across).bounced * (1.0 - f) + cell_of(rig, first + across + 1).bounced * f
    return low * (1.0 - g) + high * g


@inner
def _cell_seen(rig, facet, x, y, z):
    """The cell of a facet nearest to a point on it."""
    row = facet_of(rig, facet)
    best, found = np.inf, row.first
    for cell in range(row.first, row.first + row.cells):
        quad = cell_of(rig, cell).quad
        d = 0.0
        for axis in range(3):
            middle = 0.25 * (quad[0, axis] + quad[1, axis] + quad[2, axis] + quad[3, axis])
            d += (middle - (x if axis == 0 else (y if axis == 1 else z))) ** 2
        if d < best:
            best, found = d, cell
    return found


@inner
def _even(grid, r, s, c, e, factor):
    """Whether the corners in rows r, s and columns c, e lie within a factor, so that what is between is read off them."""
    low = min(min(grid[r, c], grid[r, e]), min(grid[s, c], grid[s, e]))
    high = max(max(grid[r, c], grid[r, e]), max(grid[s, c], grid[s, e]))
    return high <= factor * low or high <= 0.0


@inner
def _middle(grid, r, s, c, e):
    """The mean of those corners."""
    return 0.25 * (grid[r, c] + grid[r, e] + grid[s, c] + grid[s, e])


@inner
def _towards(corner, across, down, u, v):
    """Unit direction through a place on the picture."""
    dx = corner[0] + u * across[0] + v * down[0]
    dy = corner[1] + u * across[1] + v * down[1]
    dz = corner[2] + u * across[2] + v * down[2]
    size = np.sqrt(dx * dx + dy * dy + dz * dz)
    return dx / size, dy / size, dz / size


@inner
def _follow(rig, origin, corner, across, down, row, col, luminance, reach, hazed, things, lux, work, basis):
    """One pixel's line into the picture's arrays."""
    height, width = luminance.shape
    dx, dy, dz = _towards(corner, across, down, (col + 0.5) / width, (row + 0.5) / height)
    luminance[row, col], reach[row, col], hazed[row, col], things[row, col] = look(
        rig, origin[0], origin[1], origin[2], dx, dy, dz, lux, work, basis
    )


def _surfaces_seen(rigs, origin, corner, across, down, height, width, even):
    """
    Luminance of what each pixel's line ends on, its length in the haze, and that as a share of the wall's.

    Every other pixel of every other row is followed first. A pixel whose neighbours among them end on the same thing
    at nearly the same luminance is read off them; any other is followed too.
    """
    luminance, reach, hazed = np.empty((height, width)), np.empty((height, width)), np.empty((height, width))
    things = np.empty((height, width), dtype=np.int64)
    for between, rows in ((False, (height + 1) // 2), (True, height)):
        _rows_seen.shared(rows, rigs, origin, corner, across, down, luminance, reach, hazed, things, even, between)
    return luminance, reach, hazed


@kernel(JOBS, RIGS, NUMBERS, NUMBERS, NUMBERS, NUMBERS, TABLE, TABLE, TABLE, COUNT[:, ::1], NUMBER, TRUTH)
def _rows_seen(todo, rigs, origin, corner, across, down, luminance, reach, hazed, things, even, between):
    """Rows of `_surfaces_seen`: every other pixel of every other row, or all the pixels between."""
    rig, (height, width) = rigs[0], luminance.shape
    lux, work, basis = np.empty(rig.sources + 1), new_work(), np.empty(TERMS)
    while True:
        row = next_job(todo)
        if row < 0:
            return
        row = row if between else 2 * row
        for col in range(1 - row % 2 if between else 0, width, 2 - row % 2 if between else 2):
            r, q = row - row % 2, row + row % 2
            c, e = col - col % 2, col + col % 2
            if (
                not between
                or q >= height
                or e >= width
                or not (things[r, c] == things[r, e] == things[q, c] == things[q, e] and _even(luminance, r, q, c, e, even))
            ):
                _follow(rig, origin, corner, across, down, row, col, luminance, reach, hazed, things, lux, work, basis)
                continue
            luminance[row, col] = _middle(luminance, r, q, c, e)
            reach[row, col] = _middle(reach, r, q, c, e)
            hazed[row, col] = _middle(hazed, r, q, c, e)


@inner
def _shafts_seen(rig, origin, corner, across, down, u, v, far, nodes, weights, out, marks, spans):
    """Single-scattered light with sharp edges along the line through one place on the picture. [cd/m2]"""
    dx, dy, dz = _towards(corner, across, down, u, v)
    out[:] = 0.0
    line_air(rig, SHARP, origin[0], origin[1], origin[2], dx, dy, dz, 0.0, far, nodes, weights, out, marks, spans)
    return total(out)


def _sharp_seen(rigs, origin, corner, across, down, reach, step, even, nodes, weights):
    """
    Single-scattered light with sharp edges, one line for each step x step pixels. [cd/m2]

    Every other line of every other row first; a line is read off its neighbours among them where they are even.
    """
    height, width = reach.shape
    rows, cols = (height + step - 1) // step, (width + step - 1) // step
    air = np.zeros((rows, cols))
    for between, jobs in ((False, (rows + 1) // 2), (True, rows)):
        _sharp_rows.shared(jobs, rigs, origin, corner, across, down, reach, step, even, nodes, weights, air, between)
    return air


@kernel(JOBS, RIGS, NUMBERS, NUMBERS, NUMBERS, NUMBERS, TABLE, COUNT, NUMBER, NUMBERS, NUMBERS, TABLE, TRUTH)
def _sharp_rows(todo, rigs, origin, corner, across, down, reach, step, even, nodes, weights, air, between):
    """Rows of `_sharp_seen`: every other line of every other row, or all the lines between."""
    rig, (height, width), (rows, cols), (marks, spans) = rigs[0], reach.shape, air.shape, new_marks(rigs[0])
    out = np.empty(max(rig.sources, 1))
    while True:
        row = next_job(todo)
        if row < 0:
            return
        row = row if between else 2 * row
        r, s = row - row % 2, row + row % 2
        for col in range(1 - row % 2 if between else 0, cols, 2 - row % 2 if between else 2):
            c, e = col - col % 2, col + col % 2
            if between and s < rows and e < cols and _even(air, r, s, c, e, even):
                air[row, col] = _middle(air, r, s, c, e)
                continue
            far = reach[min(row * step + step // 2, height - 1), min(col * step + step // 2, width - 1)]
            air[row, col] = _shafts_seen(
                rig, origin, corner, across, down, (col + 0.5) * step / width, (row + 0.5) * step / height, far, nodes, weights,
                out, marks, spans,
            )  # fmt: skip


def _together(luminance, reach, hazed, extinction, sharp, step, soft, ends, lengths, even, gap):
    """
    Surface light through the haze, plus the sharp and the soft light of the air, (h, w) float32. [cd/m2]

    Soft light is read off the four lines about a pixel; one that ends elsewhere than the pixel does, on a body or past it, counts
    for little, so that lit air does not reach over the edge of what stands in it.
    """
    out = np.empty(luminance.shape, dtype=np.float32)
    _rows_together.shared(len(out), luminance, reach, hazed, extinction, sharp, step, soft, ends, lengths, even, gap, out)
    return out


@kernel(JOBS, TABLE, TABLE, TABLE, NUMBER, TABLE, COUNT, CUBE, TABLE, TABLE, TABLE, NUMBER, float32[:, ::1])
def _rows_together(todo, luminance, reach, hazed, extinction, sharp, step, soft, ends, lengths, even, gap, out):
    width, (rows, cols, slices) = out.shape[1], soft.shape
    while True:
        row = next_job(todo)
        if row < 0:
            return
        y = (row + 0.5) / gap - 0.5
        j = min(max(int(np.floor(y)), 0), rows - 2)
        g = min(max(y - j, 0.0), 1.0)
        for col in range(width):
            x = (col + 0.5) / gap - 0.5
            i = min(max(int(np.floor(x)), 0), cols - 2)
            f = min(max(x - i, 0.0), 1.0)
            place = hazed[row, col] * slices - 1.0
            k = min(max(int(np.floor(place)), -1), slices - 2)
            h = place - k
            through = np.exp(-extinction * reach[row, col])
            total, air, whole, on_thing = luminance[row, col] * through, 0.0, 0.0, hazed[row, col] <= 0.999
            for a in range(2):
                for b in range(2):
                    weight = (f if a else 1.0 - f) * (g if b else 1.0 - g)
                    end = ends[j + b, i + a]
                    alike = end <= 0.0 if not on_thing else abs(end - reach[row, col]) < 0.15 * reach[row, col]
                    weight = max(weight, 1e-6) * (1.0 if alike else ELSEWHERE)
                    if on_thing and alike:  # up to its own end: what is lit behind the thing is not before it
                        seen = soft[j + b, i + a, slice_of(end, lengths[j + b, i + a], slices)] * reach[row, col] / end
                    else:
                        near = soft[j + b, i + a, k] if k >= 0 else 0.0
                        seen = near * (1.0 - h) + soft[j + b, i + a, k + 1] * h
                    air += weight * (seen + even[j + b, i + a] * (1.0 - through))
                    whole += weight
            air /= whole
            if step == 1:
                air += sharp[row, col]
            else:
                sy = min(max((row + 0.5) / step - 0.5, 0.0), sharp.shape[0] - 1.0)
                sx = min(max((col + 0.5) / step - 0.5, 0.0), sharp.shape[1] - 1.0)
                m, n = min(int(sy), sharp.shape[0] - 2), min(int(sx), sharp.shape[1] - 2)
                p, q = sy - m, sx - n
                air += (sharp[m, n] * (1 - q) + sharp[m, n + 1] * q) * (1 - p)
                air += (sharp[m + 1, n] * (1 - q) + sharp[m + 1, n + 1] * q) * p
            out[row, col] = total + max(air, 0.0)  # what shade takes of the open air's light rounds to either side of it


ITS_OWN = ("middle", "radius", "first", "count", "bulky")  # of a figure; the rest is how the ground lights it


def picture(
    setup: Setup, *, width: int = 320, height: int | None = None, lit: Lit | None = None, quality: str = "final"
) -> Picture:
    """
    The setup's picture.

    Parameters
    ----------
    setup : Setup
    width : int, default 320
        Pixels across, 16 to 4096.
    height : int, optional
        Pixels down; by default from the sensor's shape.
    lit : solve.Lit, optional
        The setup's light, where it is already worked out.
    quality : {'final', 'draft'}
        Used when `lit` is not given.

    Returns
    -------
    Picture

    Raises
    ------
    ValueError
        If a size is out of range.
    """
    check_range("width", width, low=16, high=4096)
    camera = setup.camera
    height = height or max(9, round(width * camera.sensor_height_mm / camera.sensor_width_mm))
    check_range("height", height, low=9, high=4096)
    lit = lit or light(setup, quality)
    rig, grain = lit.rig, lit.quality
    origin, (corner, right, down) = _mesh(camera)
    faced = _faced(lit, height)
    luminance, reach, hazed = _surfaces_seen(faced.row, origin, corner, right, down, height, width, grain.even)
    if rig.extinction <= 0:
        return Picture(luminance.astype(np.float32), camera.reference_cd_m2)
    nodes, weights = gauss_nodes(grain.nodes)
    sharp = _sharp_seen(rig.row, origin, corner, right, down, reach, grain.air_pixel, grain.even, nodes, weights)
    soft, ends, lengths, even, gap = _soft_seen(lit, width, height)
    seen = _together(luminance, reach, hazed, rig.extinction, sharp, grain.air_pixel, soft, ends, lengths, even, gap)
    return Picture(seen, camera.reference_cd_m2)


def _faced(lit, height):
    """The rig with the features of all faces that are large in a picture so many pixels high; its light stays as it is."""
    camera, least = lit.setup.camera, lit.quality.face_pixels
    per_m = height * camera.focal_mm / camera.sensor_height_mm  # pixels to a metre, a metre off
    tall_m = 2.0 * HEAD_M[2]
    close = [
        mark for mark in lit.setup.marks
        if mark.figure and least and per_m * tall_m > least * np.linalg.norm(np.subtract(mark.at, camera.at))
    ]  # fmt: skip
    if not close:
        return lit.rig
    full = lay_out(lit.setup, face_samples=lit.quality.face_samples, phase=lit.rig.phase, faces=close)
    rig, people = lit.rig, [mark for mark in lit.setup.marks if mark.figure]
    figures = np.concatenate([rig.figures, full.figures[len(rig.figures) :]])
    for k, mark in enumerate(close):  # the ground lights a face as it does its owner
        for name in set(figures.dtype.names) - set(ITS_OWN):
            figures[name][len(rig.figures) + k] = figures[name][people.index(mark)]
    occluders = np.concatenate([rig.occluders, full.occluders[len(rig.occluders) :]])
    return rig.replace(
        occluders=occluders, figures=figures, shades=full.shades, matters=full.matters, crowd_at=full.crowd_at, crowd=full.crowd
    )


def _mesh(camera):
    """Camera place, and the direction of the picture's upper left corner with its full sides, not normalised."""
    right, up, forward = basis(camera.at, camera.aim)
    across = right * camera.sensor_width_mm / camera.focal_mm
    down = -up * camera.sensor_height_mm / camera.focal_mm
    return np.array(camera.at, dtype=float), (forward - 0.5 * across - 0.5 * down, across, down)


def _soft_seen(lit, width, height):
    """
    Soft air light on a coarse grid of sight lines, summed up to even shares of each one's length, where the lines end and how long
    they are; and the open air's.
    """
    cols = lit.quality.lines if len(lit.rig.points) < 2000 else min(32, lit.quality.lines)  # thick haze is smooth
    gap = width / cols
    rows = max(2, int(np.ceil(height / gap)))
    u = (np.arange(cols) + 0.5) * gap / width
    v = (np.arange(rows) + 0.5) * gap / height
    origin, rays = lit.pixel_ray(np.repeat(u[None, :], rows, 0), np.repeat(v[:, None], cols, 1))
    rays = np.ascontiguousarray(rays.reshape(-1, 3))
    reach = soft_reach(lit.rig.row, origin, rays)
    nodes, weights = gauss_nodes(lit.quality.nodes)
    ends = line_ends(lit.rig.row, origin, rays)
    soft = soft_air(lit.rig.row, origin, rays, reach, ends, lit.quality.slices, nodes, weights)
    ends, reach, even = (values.reshape(rows, cols) for values in (ends, reach, open_air(lit.rig.row, rays)))
    return soft.reshape(rows, cols, -1), ends, reach, even, gap


@kernel(RIGS, NUMBERS, TABLE)
def line_ends(rigs, origin, rays):
    """How far each line goes to the first thing that stands before walls and ground; 0 where none does, (n,). [m]"""
    rig, out = rigs[0], np.zeros(rays.shape[0])
    for i in range(rays.shape[0]):
        x, y, z, dx, dy, dz = origin[0], origin[1], origin[2], rays[i, 0], rays[i, 1], rays[i, 2]
        limit, surface = meet_wall(rig, x, y, z, dx, dy, dz)
        if surface < 0:
            limit = 1e6
        t, occluder, _ = meet_occluder(rig, x, y, z, dx, dy, dz, limit, -1, False)
        if occluder >= 0 and occluder_of(rig, occluder).passes == 0.0:
            out[i] = t
    return out


@kernel(RIGS, NUMBERS, TABLE)
def soft_reach(rigs, origin, rays):
    """How far each line's soft light goes when only walls stop it, (n,). [m]"""
    out = np.empty(rays.shape[0])
    rig = rigs[0]
    for i in range(rays.shape[0]):
        dx, dy, dz = rays[i, 0], rays[i, 1], rays[i, 2]
        t, _ = meet_wall(rig, origin[0], origin[1], origin[2], dx, dy, dz)
        out[i] = _soft_end(rig, origin[0], origin[1], origin[2], dx, dy, dz, min(t, FAR_M))
    return out


@kernel(RIGS, NUMBERS, NUMBERS)
def _line_end(rigs, origin, ray):
    """What one sight line ends on: its luminance, and how far that is through the haze."""
    rig = rigs[0]
    lux, work, basis = np.empty(rig.sources + 1), new_work(), np.empty(TERMS)
    luminance, reach, _, _ = look(rig, origin[0], origin[1], origin[2], ray[0], ray[1], ray[2], lux, work, basis)
    return luminance, reach


@kernel(RIGS, NUMBERS, NUMBERS, NUMBER, NUMBERS, NUMBERS, COUNT)
def _line_air(rigs, origin, ray, reach, nodes, weights, slices):
    """The air along one sight line: sharp light by source, soft light."""
    rig, (marks, spans) = rigs[0], new_marks(rigs[0])
    sharp, spare, scratch = np.zeros(max(rig.sources, 1)), np.empty(max(rig.sources, 1)), new_scratch(rig)
    soft, steps = np.zeros(slices), np.empty(slices)
    if rig.extinction > 0.0:
        line_air(
            rig, SHARP, origin[0], origin[1], origin[2], ray[0], ray[1], ray[2], 0.0, reach, nodes, weights, sharp,
            marks, spans,
        )  # fmt: skip
        even_steps(reach, steps)
        soft_line(
            rig, origin[0], origin[1], origin[2], ray[0], ray[1], ray[2], steps, soft, True, True, nodes, weights, spare,
            marks, spans, scratch,
        )  # fmt: skip
        soft[slices - 1] += open_radiance(rig, -ray[0], -ray[1], -ray[2]) * (1.0 - np.exp(-rig.extinction * reach))
    return sharp, max(soft[slices - 1], 0.0)  # as in the picture


@dataclass(frozen=True)
class SightLine:
    """One sight line taken apart. Luminances at the lens. [cd/m2]"""

    surface_cd_m2: float  # what the line ends on, through the haze
    reach_m: float  # length in the haze
    transmittance: float
    shafts_cd_m2: np.ndarray  # (sources,) straight light scattered once, by source
    soft_cd_m2: float  # soft sources and everything bounced, scattered by the air

    @property
    def air_cd_m2(self) -> float:
        """All the light that the air adds. [cd/m2]"""
        return float(self.shafts_cd_m2.sum() + self.soft_cd_m2)

    @property
    def luminance_cd_m2(self) -> float:
        """All the light that reaches the lens. [cd/m2]"""
        return self.surface_cd_m2 + self.air_cd_m2


def sight_line(lit: Lit, ray: ArrayLike, *, to_m: float | None = None) -> SightLine:
    """
    Follow one sight line from the camera.

    Parameters
    ----------
    lit : solve.Lit
    ray : array (3,)
        Unit direction.
    to_m : float, optional
        Stop here, on whatever is there, and count only the air; by default at the first thing in the way. [m]

    Returns
    -------
    SightLine
    """
    nodes, weights = gauss_nodes(16)
    origin = np.array(lit.setup.camera.at, dtype=float)
    luminance, reach = _line_end(lit.rig.row, origin, np.ascontiguousarray(ray, dtype=float))
    reach = float(reach if to_m is None else to_m)
    sharp, soft = _line_air(lit.rig.row, origin, np.ascontiguousarray(ray, dtype=float), reach, nodes, weights, 24)
    through = float(transmittance(extinction_per_m=lit.rig.extinction, path_m=reach))
    surface = luminance * through if to_m is None else 0.0
    return SightLine(surface, float(reach), through, sharp[: lit.rig.sources], float(soft))
