"""
The rows of numbers that a setup is to the light engine, and how compiled code reads them: every lamp, opening and facet.

    lamp sample    a point (or a sun direction) with a candela table; an area lamp has several
    shaft          one way a lamp sample's light may take: straight, through one pane, or off a mirror
    occluder       what stands in the way: a rectangle (flag, board: all stopped; frame: a share goes on), an ellipsoid or a
                   box of a person or a piece of furniture
    facet          a set of even rectangles that send light on: a board's side, a frame, a sheer, a sky opening

Planes are rows (n, c); a point is inside when n . x + c >= 0.
"""

from __future__ import annotations

import numpy as np
from numba import carray, from_dtype, types
from numba.core import cgutils
from numba.extending import intrinsic

from lightcalc.engine.kernels import inner, rows
from lightcalc.scene.parts import WALLS

SURFACE_ORDER = WALLS + ("floor", "ceiling")  # index of each wall in every array below
FLAT, BOX, BALL = 0, 1, 2  # shapes of occluders
FACES = 6  # of a box: 2 axis on its positive side, 2 axis + 1 on the negative; of a rectangle 0 is the front, 1 the back
FIGURE_SPOTS = 128  # spots of open ground that a person or a piece of furniture can be lit by
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
    ("shape", WHOLE, ()),  # FLAT, BOX or BALL
    ("quad", REAL, (4, 3)),  # of a FLAT one
    ("middle", REAL, (3,)),
    ("normal", REAL, (3,)),  # of a FLAT one
    ("into", REAL, (3, 3)),  # rows axis / half: to the frame of a BOX or BALL, see `solid`
    ("radius", REAL, ()),  # of the ball that holds it
    ("passes", REAL, ()),  # share that goes straight on
    ("front", REAL, ()),  # reflectance of the side that faces its aim; of all sides of a BOX or BALL
    ("back", REAL, ()),
    ("gloss", REAL, ()),  # share of the front's reflectance that is a mirror image
    ("lobe", REAL, ()),  # full width of that image's blur [rad]
    ("diffuse", REAL, ()),  # share that goes through and leaves evenly (a frame)
    ("facet", WHOLE, (FACES,)),  # the facet that each of its faces is, or -1
    ("across", WHOLE, (FACES,)),  # their cells along the first and the last side
    ("along", WHOLE, (FACES,)),
    ("ground", REAL, (2,)),  # what open ground sends to front and back of a FLAT one without facets [lx]
    ("figure", WHOLE, ()),  # the person or piece of furniture it is a part of, or -1
)
SHADE = row_type(  # what one occluder hides from one lamp sample
    ("shape", WHOLE, ()),
    ("count", WHOLE, ()),  # half-spaces that bound it, for FLAT and BOX
    ("planes", REAL, (9, 4)),
    ("far", FLAG, ()),  # the sun: `lamp` is a way
    ("lamp", REAL, (3,)),  # the lamp in the frame of a BALL
    ("into", REAL, (3, 3)),
    ("middle", REAL, (3,)),
)
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
    ("sum", REAL, ()),  # of its cells' luminances, kept up by `Rig` [cd/m2]
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
FIGURE = row_type(  # a person or a piece of furniture
    ("middle", REAL, (3,)),  # of the ball that holds all its parts
    ("radius", REAL, ()),
    ("first", WHOLE, ()),  # its parts among the occluders
    ("count", WHOLE, ()),
    ("bulky", WHOLE, ()),  # how many of them, the first, stop light that comes from all round
    ("lit_at", REAL, (3,)),  # where open ground is seen from: the middle of its first part, of a person the head
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
        ("flats", WHOLE),  # how many occluders are rectangles; they come first, then the parts of one figure after another
        ("features", WHOLE),  # the first occluder that is a feature of a face; these come last
        ("crowd_at", REAL, (3,)),  # a ball that holds every figure [m]
        ("crowd", REAL),  # its radius; 0 for nobody [m]
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
        ("rough", FLAG),  # a crowded draft: only what is bulky hides soft sources, and by their quarters
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
        if "cells" in columns:
            self._sum_facets()

    def _sum_facets(self):
        """What the cells of each facet add up to, beside the facet: kernels ask for it at every place."""
        facets = self._columns["facets"].copy()
        total = np.concatenate([[0.0], np.cumsum(self._columns["cells"]["luminance"])])
        facets["sum"] = total[facets["first"] + facets["cells"]] - total[facets["first"]]
        self._set(dict(facets=facets))

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
        if "cells" in changes:
            made._sum_facets()
        return made


READS: dict = {}  # the table that each of these reads


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

    READS[read] = name
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
def address(context, value):
    """An address as a pointer, for `carray`."""

    def generate(target, builder, signature, arguments):
        return builder.inttoptr(arguments[0], cgutils.voidptr_t)

    return types.voidptr(value), generate


@inner
def walls_lx_of(rig):
    """The `walls_lx` of a record, as TABLES lays them out."""
    return carray(address(rig.walls_lx_at), (6, rig.walls_lx_shape[1], rig.walls_lx_shape[2]), np.float64)


@inner
def walls_cd_m2_of(rig):
    """The `walls_cd_m2` of a record, as TABLES lays them out."""
    return carray(address(rig.walls_cd_m2_at), (6, rig.walls_cd_m2_shape[1], rig.walls_cd_m2_shape[2]), np.float64)


@inner
def fresh_of(rig):
    """The `fresh` of a record, as TABLES lays them out."""
    return carray(address(rig.fresh_at), (rig.fresh_shape[0], rig.fresh_shape[1], rig.fresh_shape[2], TERMS), np.float64)


@inner
def air_of(rig):
    """The `air` of a record, as TABLES lays them out."""
    return carray(address(rig.air_at), (rig.air_shape[0], rig.air_shape[1], rig.air_shape[2], TERMS), np.float64)


@inner
def halo_of(rig):
    """The `halo` of a record, as TABLES lays them out."""
    return carray(address(rig.halo_at), (rig.halo_shape[0], rig.halo_shape[1], rig.halo_shape[2], TERMS), np.float64)


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
