"""
A setup laid out flat for the light engine: every lamp, opening and facet as rows of numbers.

    lamp sample    a point (or a sun direction) with a candela table; an area lamp has several
    shaft          one way a lamp sample's light may take: straight, through one pane, or off a mirror
    occluder           a rectangle in the way: flag, board (all stopped), frame (a share goes on)
    facet          a set of even rectangles that send light on: a board's side, a frame, a sheer, a sky opening

Planes are rows (n, c); a point is inside when n . x + c >= 0.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from numba import carray, from_dtype, types
from numba.core import cgutils
from numba.extending import intrinsic

from lightcalc.engine.geometry import cone_planes, half_sine_table
from lightcalc.engine.kernels import inner, rows
from lightcalc.kit.candela import Lambert
from lightcalc.laws.haze import henyey_greenstein
from lightcalc.scene.openings import WALL_INWARD, wall_outline, walls_before, window_panes
from lightcalc.scene.parts import WALLS, Room, basis, rectangle_corners

SURFACE_ORDER = WALLS + ("floor", "ceiling")  # index of each wall in every array below
CUT = 1e-5  # a lamp counts as dark beyond the angle where it sends this share of its peak
HEAD_M, BODY_M = 0.11, 0.17  # radii of a drawn figure
CELL_M, MOST_CELLS = 0.35, 1000  # sides of a board's cells at most, and how many both sides of all boards and frames have
FIGURE_SPOTS = 128  # spots of open ground that a drawn figure can be lit by
BULB_M = 0.03  # COMMON PRACTICE: a household bulb, a torch's mouth; a lamp with a face is drawn as its face
BAR_REFLECTANCE = 0.1  # window bars and reveals: dark paint, common practice


def row_type(*fields):
    """A record type from (name, kind, shape) columns, laid out as compiled code wants it."""
    return np.dtype([(name, kind, shape) if shape else (name, kind) for name, kind, shape in fields], align=True)


REAL, WHOLE, FLAG = np.float64, np.int64, np.bool_
LAMP = row_type(
    ("at", REAL, (3,)),  # place [m], or the unit vector to the sun
    ("axes", REAL, (3, 3)),  # right, up, forward
    ("sun", FLAG, ()),
    ("table", WHOLE, ()),
    ("scale", REAL, ()),  # multiplies the candela table; for the sun, lux square to its rays
    ("cut", REAL, ()),  # cosine of the angle beyond which it is dark; -1 for none
    ("source", WHOLE, ()),
    ("face", WHOLE, ()),  # the area lamp it is a sample of, or -1
    ("mirror", WHOLE, ()),  # the silver board it is an image in, or -1
)
SHAFT = row_type(
    ("lamp", WHOLE, ()),
    ("weight", REAL, ()),  # glass, sheer, mirror
    ("quad", REAL, (4, 3)),  # the pane it goes through, normal into the room
    ("planes", REAL, (5, 4)),
    ("count", WHOLE, ()),  # planes in use: 0 straight, 5 through an opening
    ("enters", FLAG, ()),  # the light enters the haze at a plane; else the lamp stands in the haze
    ("enter", REAL, (4,)),
)
OCCLUDER = row_type(
    ("quad", REAL, (4, 3)),
    ("middle", REAL, (3,)),
    ("normal", REAL, (3,)),
    ("radius", REAL, ()),  # of the ball that holds it
    ("passes", REAL, ()),  # share that goes straight on
    ("front", REAL, ()),  # reflectance of the side that faces its aim
    ("back", REAL, ()),
    ("gloss", REAL, ()),  # share of the front's reflectance that is a mirror image
    ("lobe", REAL, ()),  # full width of that image's blur [rad]
    ("diffuse", REAL, ()),  # share that goes through and leaves evenly (a frame)
    ("facet", WHOLE, (2,)),  # its facets, front and back, or -1
    ("across", WHOLE, ()),  # their cells along the first and the last side
    ("along", WHOLE, ()),
    ("ground", REAL, (2,)),  # what open ground sends to front and back of one without facets [lx]
)
SHADE = row_type(("planes", REAL, (5, 4)))
FACE = row_type(
    ("quad", REAL, (4, 3)),
    ("lamp", WHOLE, ()),  # a lamp sample with its table, axes and source
    ("scale", REAL, ()),  # of the whole face
    ("area", REAL, ()),
    ("outside", FLAG, ()),
)
PANE = row_type(("quad", REAL, (4, 3)), ("weight", REAL, ()))  # normals point into the room
FACET = row_type(
    ("quad", REAL, (4, 3)),  # outline; the normal leaves the side that sends light
    ("first", WHOLE, ()),
    ("cells", WHOLE, ()),
    ("fill", REAL, ()),  # cells' area over the outline's
    ("reach", REAL, ()),  # beyond this the outline at its mean luminance stands for the cells [m]
    ("source", WHOLE, ()),
    ("occluder", WHOLE, ()),  # the occluder it is a side of, or -1
    ("sky", FLAG, ()),  # an opening onto sky and ground
)
CELL = row_type(
    ("quad", REAL, (4, 3)),
    ("luminance", REAL, ()),  # [cd/m2]; of a sky opening, the share let through
    ("bounced", REAL, ()),  # illuminance that is not straight light, on this side [lx]
)
WINDOW = row_type(
    ("wall", WHOLE, ()),
    ("box", REAL, (4,)),  # low and high along the wall, low and high in z [m]
    ("bars", WHOLE, (2,)),  # upright, across
    ("bar", REAL, ()),  # their width [m]
    ("passes", REAL, ()),  # share seen straight through
    ("glow", REAL, ()),  # luminance of its sheer, seen from inside [cd/m2]
    ("diffuse", REAL, ()),  # share that leaves evenly inside: glass x sheer
)
PATCH = row_type(  # a piece of wall, floor or ceiling as the air sees it
    ("at", REAL, (3,)),
    ("normal", REAL, (3,)),
    ("axis", WHOLE, ()),  # of the room, along its normal
    ("half", REAL, (2,)),  # half its sides along the other two axes [m]
    ("area", REAL, ()),  # [m2]
    ("luminance", REAL, ()),  # that leaves it evenly [cd/m2]
    ("shade", FLAG, ()),  # light that open ground lacks there
)
POINT = row_type(("at", REAL, (3,)), ("way", REAL, (3,)), ("lumens", REAL, ()))  # light turned once, on its way
FIGURE = row_type(
    ("head", REAL, (3,)),
    ("face", REAL, ()),
    ("body", REAL, ()),
    ("foot", REAL, ()),
    ("spots", WHOLE, ()),  # of open ground that light it, in use
    ("spot", REAL, (FIGURE_SPOTS, 3)),  # x, y, luminance times area
)


TABLES = dict(
    lamps=LAMP,  # (n,)
    shafts=SHAFT,  # (m,)
    occluders=OCCLUDER,  # (q,)
    shades=SHADE,  # (n, q or 2 q): what each occluder hides from each lamp sample; then from an image, on the way to its mirror
    matters=np.dtype(np.uint8),  # (m, q or 2 q): which of these can stand in which shaft
    faces=FACE,
    panes=PANE,
    facets=FACET,
    cells=CELL,
    windows=WINDOW,
    figures=FIGURE,
    candelas=np.dtype(REAL),  # (tables, planes about the axis, half-sine angles) candela per unit scale
    # (6, N, N) illuminance from facets, sky openings and everything bounced; out of doors [4] alone: what the air sends
    # to the ground under its cells
    walls_lx=np.dtype(REAL),
    walls_cd_m2=np.dtype(REAL),  # (6, N, N) luminance that leaves, lamps' light included
    patches=PATCH,  # the same in larger pieces, for the air; out of doors what differs from open ground, for everything
    fresh=np.dtype(REAL),  # (nx, ny, nz, TERMS) light on its way from a surface, as spherical harmonics of its travel
    air=np.dtype(REAL),  # the same of light that bounced and was turned since
    halo=np.dtype(REAL),  # the same of light straight from lamps, turned once by the haze
    points=POINT,  # that light again, as points that receptors of fine detail gather from
)
PHASE_STEPS, TILTS, ORDERS = 4096, 361, 4
TERMS = ORDERS * ORDERS
RIG = np.dtype(
    [
        ("sources", WHOLE),  # how many names a reading splits into
        ("size", REAL, (3,)),  # room size [m]
        ("enclosed", FLAG),  # a room; else open ground
        ("air_low", REAL, (3,)),  # where the cells of the air begin [m]: in a room at its corner
        ("air_size", REAL, (3,)),  # and how far they go
        ("open_air", REAL, (2, TILTS)),  # what the haze turns of sky and open ground, by the rise of its way, -1 to 1:
        # the same all round [cd/m2], and along the way for each cd/m2 that the sky gains along x or y [1]
        ("reflectance", REAL, (6,)),  # in SURFACE_ORDER; outside only the floor counts
        ("extinction", REAL),  # [1/m]
        ("phase", REAL, (PHASE_STEPS,)),  # half-sine table of the phase function [1/sr]
        ("legendre", REAL, (ORDERS,)),  # its moments
        ("faces_on_walls", FLAG),  # area lamps' light on the walls is in walls_lx (a draft), not worked out anew
        ("facets_on_facets", FLAG),  # what boards and frames send each other is in their cells' `bounced` too (a draft)
        ("bulb", REAL),  # radius of the ball that a lamp without a face is drawn as; 0 draws none [m]
        ("core", REAL),  # gap between neighbouring halo points: nothing is finer than that [m]
        ("sky", REAL, (4,)),  # its horizon, and what is added along x, y and z: L(w) = sky[0] + sky[1:] . w [cd/m2]
        ("ground_luminance", REAL),  # open ground beyond everything [cd/m2]
        ("sky_flat", REAL, (2, TILTS)),  # illuminance from sky and ground against the receptor's n_z, -1 to 1: the same all
        ("sky_dome", REAL, (2, TILTS)),  # round [lx], and along n for each cd/m2 that the sky gains along x or y [sr]
        ("sky_source", WHOLE),  # -1: no sky
    ]
    + [(f"n_{name}", WHOLE) for name in TABLES]
    + [(f"{name}_at", np.uint64) for name in TABLES]
    + [(f"{name}_shape", WHOLE, (4,)) for name in TABLES],
    align=True,
)


RIGS = rows(RIG)  # what kernels take


class Rig:
    """
    The rows of a setup, as arrays in Python and as one record that compiled kernels take.

    Every name of `TABLES` and every plain column of `RIG` is an attribute. `row` is the record: it holds
    the numbers and the addresses of the arrays, so a kernel is handed one thing, whatever it reads. The
    arrays live as long as the Rig does.
    """

    def __init__(self, exchange=None, **columns):
        self._columns: dict = {}
        self.exchange = exchange  # how its boards and frames light each other, `direct.Exchange`; kernels do not read it
        self.row = np.zeros(1, dtype=RIG)
        self._set(columns)

    def _set(self, columns):
        """Columns in Python and in the record."""
        for name, value in columns.items():
            if name in TABLES:
                value = np.ascontiguousarray(value)
                assert value.dtype == TABLES[name], name
                self.row[f"n_{name}"] = value.shape[0]
                self.row[f"{name}_at"] = value.ctypes.data
                self.row[f"{name}_shape"][0, : value.ndim] = value.shape
            else:
                self.row[name] = value
            self._columns[name] = value

    def __getattr__(self, name):
        if name.startswith("_") or name not in self._columns:
            raise AttributeError(name)
        return self._columns[name]

    def replace(self, **changes):
        """A rig with some columns changed; the others are shared."""
        made = Rig(exchange=changes.pop("exchange", self.exchange))
        made._columns, made.row = dict(self._columns), self.row.copy()
        made._set(changes)
        return made


def _reader(name):
    """
    What reads a table of the record in compiled code: `lamp_of(rig, k)` is the k-th of its rows in memory order.

    A row is a view into the table, a number the number itself. The place is worked out from the address that the record
    holds, without an array about it: half of the engine's compiling went into making those.
    """
    kind, size, column = from_dtype(TABLES[name]), TABLES[name].itemsize, RIG.fields[f"{name}_at"][1]

    @intrinsic
    def read(context, rig, k):
        def generate(target, builder, signature, arguments):
            byte = cgutils.voidptr_t
            held = builder.bitcast(cgutils.pointer_add(builder, arguments[0], column), byte.as_pointer())
            place = cgutils.pointer_add(builder, builder.load(held), builder.mul(arguments[1], arguments[1].type(size)))
            if isinstance(kind, types.Record):
                return builder.bitcast(place, target.get_value_type(kind))
            return builder.load(builder.bitcast(place, target.get_value_type(kind).as_pointer()))

        return kind(rig, types.int64), generate

    return read


lamp_of, shaft_of, occluder_of, shade_of, matter_of = (
    _reader(name) for name in ("lamps", "shafts", "occluders", "shades", "matters")
)
face_of, pane_of, facet_of, cell_of, window_of = (_reader(name) for name in ("faces", "panes", "facets", "cells", "windows"))
figure_of, patch_of, point_of, candela_of = (_reader(name) for name in ("figures", "patches", "points", "candelas"))


@intrinsic
def wide(context, field):
    """A row's array as a plain one, so that a function that takes it is compiled once for rows of every kind."""

    def generate(target, builder, signature, arguments):
        return arguments[0]

    return types.Array(field.dtype, field.ndim, "C")(field), generate


@intrinsic
def _address(context, value):
    """An address as a pointer, for `carray`."""

    def generate(target, builder, signature, arguments):
        return builder.inttoptr(arguments[0], cgutils.voidptr_t)

    return types.voidptr(value), generate


@inner
def walls_lx_of(rig):
    """The `walls_lx` of a record, as TABLES lays them out."""
    return carray(_address(rig.walls_lx_at), (6, rig.walls_lx_shape[1], rig.walls_lx_shape[2]), np.float64)


@inner
def walls_cd_m2_of(rig):
    """The `walls_cd_m2` of a record, as TABLES lays them out."""
    return carray(_address(rig.walls_cd_m2_at), (6, rig.walls_cd_m2_shape[1], rig.walls_cd_m2_shape[2]), np.float64)


@inner
def fresh_of(rig):
    """The `fresh` of a record, as TABLES lays them out."""
    return carray(_address(rig.fresh_at), (rig.fresh_shape[0], rig.fresh_shape[1], rig.fresh_shape[2], TERMS), np.float64)


@inner
def air_of(rig):
    """The `air` of a record, as TABLES lays them out."""
    return carray(_address(rig.air_at), (rig.air_shape[0], rig.air_shape[1], rig.air_shape[2], TERMS), np.float64)


@inner
def halo_of(rig):
    """The `halo` of a record, as TABLES lays them out."""
    return carray(_address(rig.halo_at), (rig.halo_shape[0], rig.halo_shape[1], rig.halo_shape[2], TERMS), np.float64)


def lay_out(setup, *, face_samples=3, phase=None):
    """
    Flatten a setup. Facets that only pass light on are still dark; `beams.light` fills them.

    Parameters
    ----------
    setup : Setup
        What to lay out.
    face_samples : int, default 3
        Samples along each side of an area lamp's face, for its shafts in the air.
    phase : array, optional
        Half-sine table of the phase function; Henyey-Greenstein from the setup's `g` when absent. [1/sr]

    Returns
    -------
    Rig
    """
    return _Layout(setup, face_samples, phase).rig()


def facet_row(outline, cells, source, occluder, sky=False):
    """
    A FACET row, but for `first`, which is filled in when rows are stacked.

    Parameters
    ----------
    outline : array (4, 3)
        Corners of the whole. [m]
    cells : sequence of arrays (4, 3)
        Its parts. [m]
    source : int
        Index of the name its light is read under.
    occluder : int
        The occluder it is a side of, or -1.
    sky : bool, default False
        An opening onto sky and ground.

    Returns
    -------
    dict
    """
    sides = np.linalg.norm(outline[1] - outline[0]), np.linalg.norm(outline[3] - outline[0])
    area = sum(np.linalg.norm(c[1] - c[0]) * np.linalg.norm(c[3] - c[0]) for c in cells)
    return dict(
        quad=outline, cells=len(cells), fill=area / (sides[0] * sides[1]), source=source, occluder=occluder, sky=sky,
        reach=(1.5 if sky else 2.5) * np.hypot(*sides),
    )  # fmt: skip


def split(quad, across, along):
    """
    A rectangle in equal cells. [m]

    Parameters
    ----------
    quad : array (4, 3)
        Corners.
    across, along : int
        Cells along the first and the last side.

    Returns
    -------
    array (across * along, 4, 3)
        Corner order kept; `across` runs fastest.
    """
    a, b = (quad[1] - quad[0]) / across, (quad[3] - quad[0]) / along
    return np.array([quad[0] + i * a + j * b + np.array([0 * a, a, a + b, b]) for j in range(along) for i in range(across)])


@cache
def _sky_parts(dome):
    """
    Illuminance against n_z per unit of an even sky, of one rising as sin h, of one rising sideways, and of the ground, (4, TILTS).

    That of the third goes with the part of the receptor's normal that points the same way, and is over it.
    """
    tilt = np.linspace(-1.0, 1.0, TILTS)[:, None]
    height, weight = np.polynomial.legendre.leggauss(96)  # sine of height, -1 to 1
    level, flat = tilt * height, np.sqrt((1 - tilt**2) * (1 - height**2))
    if dome:
        ring, sideways = np.pi * (1 + level) * weight, np.pi / 2 * (1 - height**2) * np.ones_like(tilt) * weight
    else:
        ring, sideways, end = np.zeros_like(level), np.zeros_like(level), np.maximum(1 - tilt**2, 1e-12)
        for turn in (np.arange(64) + 0.5) * 2 * np.pi / 128:  # one half round; the other is its mirror image
            taken = np.maximum(level + flat * np.cos(turn), 0.0)
            ring += taken
            sideways += taken * np.cos(turn) * np.sqrt((1 - height**2) / end)
        ring *= weight * 2 * np.pi / 64
        sideways *= weight * 2 * np.pi / 64
        sideways[[0, -1]] = np.pi * (1 - height**2) * weight * np.array([[0.0], [1.0]])  # where n has no such part: the limits
    above = height > 0
    return np.array([ring @ above, ring @ (above * height), sideways @ above, ring @ ~above])


def _sky_received(sky, ground_cd_m2, dome):
    """Illuminance from a whole sky and ground at n_z = -1 .. 1 of the receptor, and sideways, (2, TILTS). [lx, sr]"""
    even, rising, sideways, ground = _sky_parts(dome)
    return np.array([sky[0] * even + sky[3] * rising + ground_cd_m2 * ground, sideways])


class _Layout:
    """Gathers rows, then stacks them; one method a kind of thing."""

    def __init__(self, setup, face_samples, phase):
        self.setup, self.place = setup, setup.place
        self.indoors = isinstance(setup.place, Room)
        self.face_samples = face_samples
        self.names = list(setup.source_names)
        self.phase = _henyey_greenstein_table(setup.haze.g) if phase is None else phase
        self.tables, self.table_of = [], {}
        self.lamps, self.shafts, self.faces = [], [], []
        self.occluders, self.facets, self.cells = [], [], []
        self.panes = []
        self._outside_light()
        self._windows()
        self._occluders_and_facets()
        for light in setup.lights:
            self._light(light)
        if setup.sun is not None and setup.sun.elevation_deg > 0 and setup.sun.normal_lx > 0:
            self._sun(setup.sun)
        self._mirrors()

    # -- sky, ground, windows ---------------------------------------------------------------------

    def _outside_light(self):
        setup = self.setup
        sky, sun = setup.sky, setup.sun
        self.sky = np.array([sky.horizon_cd_m2, *sky.slope(self.place.bearing_deg)]) if sky else np.zeros(4)
        on_ground_lx = sky.horizontal_lx if sky else 0.0
        if sun is not None:
            on_ground_lx += sun.normal_lx * max(0.0, np.sin(np.radians(sun.elevation_deg)))
        ground = self.place.outside_ground if self.indoors else self.place.ground
        self.ground_luminance = ground * on_ground_lx / np.pi

    def _windows(self):
        for window in self.place.windows if self.indoors else ():
            quads = window_panes(window, self.place)
            direct = window.sheer.direct if window.sheer else 1.0
            self.panes += [(quad, window.glass * direct, window) for quad in quads]
            outline = wall_outline(window, self.place)
            if "sky" in self.names and direct > 0 and self.setup.sky.horizontal_lx > 0:
                self._facet(outline, quads, self.names.index("sky"), -1, window.glass * direct, sky=True)

    def _facet(self, outline, cells, source, occluder, luminance=0.0, sky=False):
        row = facet_row(outline, cells, source, occluder, sky)
        self.facets.append(row)
        self.cells += [dict(quad=quad, luminance=luminance) for quad in cells]
        return len(self.facets) - 1

    # -- boards, frames, flags --------------------------------------------------------------------

    def _occluders_and_facets(self):
        setup = self.setup
        counts = self._cell_counts()
        for part in setup.boards + setup.frames + setup.cutters:
            quad = rectangle_corners(part.at, part.aim, part.width_m, part.height_m, part.roll_deg)
            radius = 0.5 * np.hypot(part.width_m, part.height_m)
            _, _, normal = basis(part.at, part.aim)
            occluder = dict(part=part, quad=quad, middle=part.at, normal=normal, radius=radius, facet=(-1, -1))
            index = len(self.occluders)
            if part.kind == "flag":
                occluder["front"] = occluder["back"] = part.reflectance
            else:
                source = self.names.index(part.name)
                across, along = counts[part.name]
                cells = split(quad, across, along)
                occluder.update(across=across, along=along)
                front = self._facet(quad, cells, source, index)
                back = self._facet(quad[::-1], cells[:, ::-1], source, index)
                if part in setup.boards:
                    stuff = part.stuff
                    occluder.update(front=stuff.reflectance, back=stuff.back, gloss=stuff.gloss)
                    occluder["lobe"] = np.radians(stuff.lobe_deg)
                else:
                    cloth = part.diffusion
                    occluder.update(passes=cloth.direct, diffuse=cloth.diffuse, front=cloth.back, back=cloth.back)
                occluder["facet"] = (front, back)
            self.occluders.append(occluder)

    def _cell_counts(self):
        """Cells across and along each board and frame: small for the pools of light on it and for what faces it near by."""
        facets, counts = self.setup.boards + self.setup.frames, {}
        for part in facets:
            dark = part in self.setup.boards and part.stuff.reflectance < 0.1
            cell = CELL_M if dark else min(CELL_M, 0.25 * self._pool_m(part), max(0.4 * _gap_m(part, facets), 0.1))
            most = 8 if cell == CELL_M else 12
            counts[part.name] = tuple(int(np.clip(np.ceil(s / cell), 2, most)) for s in (part.width_m, part.height_m))
        over = np.sqrt(max(2 * sum(a * b for a, b in counts.values()) / MOST_CELLS, 1.0))
        return {name: (max(2, int(a / over)), max(2, int(b / over))) for name, (a, b) in counts.items()}

    def _pool_m(self, facet):
        """How wide the smallest pool of light is that a lamp throws onto a board or frame. [m]"""
        pools = [np.inf]
        for light in self.setup.lights:
            beam = np.radians(getattr(light.distribution, "beam_deg", 180.0)) / 2
            away = np.subtract(facet.at, light.at)
            throw = np.linalg.norm(away)
            if throw == 0.0:
                continue  # it stands in the facet and grazes it
            off = np.arccos(np.clip(away @ basis(light.at, light.aim)[2] / throw, -1, 1))
            if off < beam + np.arctan2(np.hypot(facet.width_m, facet.height_m) / 2, throw) and beam < np.pi / 3:
                pools.append(2 * throw * np.tan(beam) + max(light.face_width_m, light.face_height_m))
        return max(min(pools), 0.05)

    # -- lights -----------------------------------------------------------------------------------

    def _table(self, distribution):
        if distribution not in self.table_of:
            self.table_of[distribution] = len(self.tables)
            self.tables.append(_candela_table(distribution))
        return self.table_of[distribution]

    def _light(self, light):
        gel = light.gel.transmittance if light.gel else 1.0
        scale = light.output * gel
        if scale <= 0:
            return
        outside = self.indoors and not self.place.contains(light.at)
        if self.indoors and outside and not walls_before(light.at, self.place):
            return  # above the ceiling or under the floor: no way in
        if not self.indoors and light.at[2] < 0.0:
            return  # under the ground
        shares = [(light.distribution, scale)]
        if light.diffusion is not None:
            soft = Lambert.from_lumens(lumens=light.distribution.lumens())
            shares = [(light.distribution, scale * light.diffusion.direct), (soft, scale * light.diffusion.diffuse)]
        for distribution, share in shares:
            if share > 0:
                self._lamp(light, distribution, share, outside)

    def _lamp(self, light, distribution, scale, outside):
        axes = np.array(basis(light.at, light.aim, light.roll_deg))
        table = self._table(distribution)
        source = self.names.index(light.name)
        points, face, samples = [np.array(light.at)], -1, 1
        if light.face_width_m > 0:
            quad = rectangle_corners(light.at, light.aim, light.face_width_m, light.face_height_m, light.roll_deg)
            n, samples = self.face_samples, self.face_samples**2
            cells = split(quad, n, n)
            points, face = list(cells.mean(axis=1)), len(self.faces)
            if not self.indoors:
                points = [point for point in points if point[2] >= 0.0]  # what is buried sends nothing
            area = light.face_width_m * light.face_height_m
            self.faces.append(dict(quad=quad, lamp=len(self.lamps), scale=scale, area=area, outside=outside))
        for point in points:
            self.lamps.append(
                dict(at=point, axes=axes, sun=False, table=table, scale=scale / samples, source=source, face=face,
                     outside=outside, mirror=-1)
            )  # fmt: skip
            self._shafts(len(self.lamps) - 1, walls_before(point, self.place) if outside else None)

    def _sun(self, sun):
        towards = sun.direction(self.place.bearing_deg)
        axes = np.array(basis((0, 0, 0), -towards))
        self.lamps.append(
            dict(at=towards, axes=axes, sun=True, table=0, scale=sun.normal_lx, source=self.names.index(sun.source),
                 face=-1, outside=self.indoors, mirror=-1)
        )  # fmt: skip
        walls = [wall for wall in WALLS if np.dot(WALL_INWARD[wall], towards) < 0] if self.indoors else None
        self._shafts(len(self.lamps) - 1, walls)

    def _shafts(self, lamp, walls):
        """Straight when `walls` is None, else one shaft for each pane of those walls."""
        if walls is None:
            self.shafts.append(dict(lamp=lamp, weight=1.0, count=0))
            return
        here = self.lamps[lamp]
        for quad, weight, window in self.panes:
            if window.wall in walls and weight > 0:
                inward = np.array(WALL_INWARD[window.wall])
                planes = cone_planes(here["at"], here["sun"], quad)
                enter = np.array([*inward, -inward @ quad[0]])
                self.shafts.append(dict(lamp=lamp, weight=weight, quad=quad, planes=planes, count=5, enters=True, enter=enter))

    def _mirrors(self):
        """The glossy share of a silver board: the lamp's image behind the board, seen through the board's outline."""
        for index, occluder in enumerate(self.occluders):
            stuff = getattr(occluder["part"], "stuff", None)
            if stuff is None or stuff.gloss <= 0:
                continue
            quad = occluder["quad"]
            normal = np.cross(quad[1] - quad[0], quad[3] - quad[0])
            normal /= np.linalg.norm(normal)
            for lamp in [row for row in self.lamps if row["mirror"] < 0 and not row["outside"]]:
                self._mirror(index, quad, normal, stuff, lamp)

    def _mirror(self, index, quad, normal, stuff, lamp):
        centre = quad.mean(axis=0)
        gap = normal @ lamp["at"] if lamp["sun"] else normal @ (lamp["at"] - centre)
        if gap <= 0:
            return
        image = lamp["at"] - 2 * gap * normal
        axes = lamp["axes"] - 2 * np.outer(lamp["axes"] @ normal, normal)
        spread = np.tan(np.radians(0.5 * stuff.lobe_deg))
        away = image if lamp["sun"] else centre - image
        size = spread * np.linalg.norm(away)
        right, up, _ = basis((0, 0, 0), away)
        # a disc of images, even in area, seven or more when the lobe is wide
        ring = [(0.0, 0.0)] + [(0.7 * np.cos(a), 0.7 * np.sin(a)) for a in np.arange(6) * np.pi / 3]
        ring = ring if stuff.lobe_deg > 1 else ring[:1]
        for a, b in ring:
            at = image + size * (a * right + b * up)
            if lamp["sun"]:
                at = at / np.linalg.norm(at)
            row = dict(lamp, at=at, axes=axes, scale=lamp["scale"] / len(ring), face=-1, mirror=index)
            self.lamps.append(row)
            self.shafts.append(
                dict(lamp=len(self.lamps) - 1, weight=stuff.reflectance * stuff.gloss,
                     planes=cone_planes(at, lamp["sun"], quad), count=5)
            )  # fmt: skip

    # -- stacking ---------------------------------------------------------------------------------

    def rig(self):
        lamps, occluders, tables = self.lamps, self.occluders, [table for table, _ in self.tables]
        planes = max((t.shape[0] for t in tables), default=1)
        tables = [np.repeat(t, planes, axis=0) if t.shape[0] == 1 else t for t in tables]
        for lamp in lamps:
            lamp["cut"] = -1.0 if lamp["sun"] else self.tables[lamp["table"]][1]
        first = 0
        for facet in self.facets:
            facet["first"], first = first, first + facet["cells"]
        shades = [dict(planes=cone_planes(lamp["at"], lamp["sun"], quad)) for lamp in lamps for quad in self._shading(lamp)]
        matters = [self._matters(shaft) for shaft in self.shafts]
        width = len(occluders) * (1 + self._mirrored)
        reflectance = [getattr(self.place, name) if self.indoors else 0.0 for name in SURFACE_ORDER]
        if not self.indoors:
            reflectance[SURFACE_ORDER.index("floor")] = self.place.ground
        return Rig(
            sources=len(self.names),
            size=np.array(self.place.size_m, dtype=float),
            enclosed=self.indoors,
            air_low=np.zeros(3),
            air_size=np.array(self.place.size_m, dtype=float),
            open_air=np.zeros((2, TILTS)),
            reflectance=np.array(reflectance, dtype=float),
            extinction=float(self.setup.haze.extinction_per_m),
            phase=self.phase,
            legendre=phase_moments(self.phase)[:ORDERS],
            bulb=BULB_M,
            core=0.1,
            faces_on_walls=False,
            facets_on_facets=False,
            walls_lx=np.zeros((6, 2, 2)),
            walls_cd_m2=np.zeros((6, 2, 2)),
            patches=np.zeros(0, dtype=PATCH),
            fresh=np.zeros((2, 2, 2, TERMS)),
            air=np.zeros((2, 2, 2, TERMS)),
            halo=np.zeros((2, 2, 2, TERMS)),
            points=np.zeros(0, dtype=POINT),
            candelas=np.array(tables, dtype=float).reshape(len(tables), planes, -1) if tables else np.zeros((0, 1, 2)),
            lamps=table_of_rows(LAMP, lamps),
            shafts=table_of_rows(SHAFT, self.shafts),
            occluders=table_of_rows(OCCLUDER, occluders),
            shades=table_of_rows(SHADE, shades).reshape(len(lamps), width),
            matters=np.array(matters, dtype=np.uint8).reshape(len(self.shafts), width),
            faces=table_of_rows(FACE, self.faces),
            panes=table_of_rows(PANE, [dict(quad=quad, weight=weight) for quad, weight, _ in self.panes]),
            facets=table_of_rows(FACET, self.facets),
            cells=table_of_rows(CELL, self.cells),
            windows=table_of_rows(WINDOW, [_window(w) for w in (self.place.windows if self.indoors else ())]),
            figures=table_of_rows(FIGURE, [_figure(mark) for mark in self.setup.marks if mark.figure]),
            sky=self.sky,
            ground_luminance=float(self.ground_luminance),
            sky_flat=_sky_received(self.sky, self.ground_luminance, False),
            sky_dome=_sky_received(self.sky, self.ground_luminance, True),
            sky_source=self.names.index("sky") if "sky" in self.names else -1,
        )

    @property
    def _mirrored(self):
        return any(lamp["mirror"] >= 0 for lamp in self.lamps)

    def _shading(self, lamp):
        """The quads that may shade a lamp sample: every occluder; where there are mirrors, then every occluder's own image."""
        quads = [occluder["quad"] for occluder in self.occluders]
        if not self._mirrored:
            return quads
        mirror = self.occluders[max(lamp["mirror"], 0)]["quad"]
        normal = np.cross(mirror[1] - mirror[0], mirror[3] - mirror[0])
        normal /= np.linalg.norm(normal)
        return quads + [quad - 2 * np.outer((quad - mirror[0]) @ normal, normal) for quad in quads]

    def _matters(self, shaft):
        """
        Which shadows can fall in a shaft, (occluders,) or (2 occluders,).

        Not the mirror's own, nor what stands wholly outside the opening. On the way from an image what stands
        behind its mirror is not there; what stands before it is met twice, on the way out and, as an image, on the way in.
        """
        lamp, n = self.lamps[shaft["lamp"]], len(self.occluders)
        sides = shaft["planes"][:4] if shaft["count"] else ()  # it may stand before or behind the opening itself
        quads = self._shading(lamp)
        found = [not any((quad @ p[:3] + p[3] < 0).all() for p in sides) for quad in quads]
        if lamp["mirror"] < 0:
            return found[:n] + [False] * (len(quads) - n)
        plane = shaft["planes"][4]
        front = [(self.occluders[j]["quad"] @ plane[:3] + plane[3] > 0).any() and j != lamp["mirror"] for j in range(n)]
        return [a and b for a, b in zip(found, front + front)]


def _window(window):
    sheer = window.sheer
    return dict(
        wall=WALLS.index(window.wall),
        box=(window.centre_m - window.width_m / 2, window.centre_m + window.width_m / 2,
             window.sill_m, window.sill_m + window.height_m),
        bars=(window.bars_upright, window.bars_across),
        bar=window.bar_m,
        passes=window.glass * (sheer.direct if sheer else 1.0),
        diffuse=window.glass * sheer.diffuse if sheer else 0.0,
    )  # fmt: skip


def _figure(mark):
    facing = np.subtract(mark.aim, mark.at) / np.linalg.norm(np.subtract(mark.aim, mark.at))
    head = np.asarray(mark.at) - (HEAD_M - 0.005) * facing
    return dict(head=head, face=mark.reflectance, body=mark.body, foot=max(0.0, head[2] - 1.75))


def phase_moments(phase, most=ORDERS):
    """
    Legendre moments of a phase function. [1]

    Parameters
    ----------
    phase : array (n,)
        Half-sine table. [1/sr]
    most : int
        The highest order.

    Returns
    -------
    array (most + 1,)
        Orders 0 to `most`; the zeroth is 1 by definition, for Henyey-Greenstein order l is g^l.
    """
    half = np.linspace(0.0, 1.0, len(phase))
    cosine = 1.0 - 2.0 * half**2
    weight = phase * 8.0 * np.pi * half  # d omega = 2 pi sin d theta = 8 pi s ds
    moments = np.trapezoid(weight * np.polynomial.legendre.legvander(cosine, most).T, half)
    return moments / moments[0]


@lru_cache(maxsize=64)
def _henyey_greenstein_table(g):
    return half_sine_table(lambda theta: henyey_greenstein(g=g, cosine=np.cos(theta)), PHASE_STEPS)


@lru_cache(maxsize=256)
def _candela_table(distribution):
    """A distribution as half-sine tables about its axis, and the cosine of the angle where it goes dark."""
    phi = np.linspace(0, 2 * np.pi, 1 if distribution.axial else 73)
    table = np.array([half_sine_table(lambda theta, p=p: distribution.intensity_cd(theta, p)) for p in phi])
    lit = np.flatnonzero(table.max(axis=0) > CUT * table.max())
    dark = 2 * np.arcsin(min(1.0, (lit[-1] + 1) / (table.shape[1] - 1))) if len(lit) else 0.0
    return table, -1.0 if dark > np.radians(90.2) else max(0.0, float(np.cos(dark)))


def _gap_m(facet, others):
    """How far the nearest other board or frame that a facet's side faces is from it, seen from nine places on it. [m]"""
    share = np.array([-1.0, 0.0, 1.0]) / 3.0
    right, up, normal = basis(facet.at, facet.aim, facet.roll_deg)
    places = np.array([facet.at + a * facet.width_m * right + b * facet.height_m * up for a in share for b in share])
    reach, gap = 0.5 * np.hypot(facet.width_m, facet.height_m), np.inf
    for other in others:
        half = 0.5 * np.array([other.width_m, other.height_m])
        if other is facet or np.linalg.norm(np.subtract(other.at, facet.at)) > reach + np.hypot(*half) + 3.0 * CELL_M:
            continue
        o_right, o_up, o_normal = basis(other.at, other.aim, other.roll_deg)
        from_it = places - other.at
        flat = np.clip(np.stack([from_it @ o_right, from_it @ o_up], axis=1), -half, half)
        away = flat @ np.stack([o_right, o_up]) - from_it  # to the nearest place on the other
        distance = np.linalg.norm(away, axis=1)
        corners = rectangle_corners(other.at, other.aim, other.width_m, other.height_m, other.roll_deg) - facet.at
        if np.abs(corners @ normal).max() > 0.1 * reach and np.abs(from_it @ o_normal).max() > 0.1 * np.hypot(*half):
            gap = min(gap, distance.min())  # not side by side in one plane
    return gap


def table_of_rows(kind, rows):
    """
    Rows given as dictionaries, as a record array.

    Parameters
    ----------
    kind : numpy.dtype
        The record type.
    rows : sequence of dict
        Columns not given stay 0; keys that are no column are left out.

    Returns
    -------
    array (len(rows),) of `kind`
    """
    table = np.zeros(len(rows), dtype=kind)
    for index, row in enumerate(rows):
        for name in kind.names:
            if name in row:
                table[index][name] = row[name]
    return table
