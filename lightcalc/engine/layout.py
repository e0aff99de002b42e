"""A setup laid out for the light engine: what stands where becomes rows; facets that only pass light on are still dark."""

from __future__ import annotations

from functools import cache, cached_property, lru_cache

import numpy as np

from lightcalc.engine.geometry import cone_planes, half_sine_table, phase_moments
from lightcalc.engine.rows import (
    BALL,
    BOX,
    BULB_M,
    CELL,
    FACE,
    FACES,
    FACET,
    FIGURE,
    FLAT,
    LAMP,
    OCCLUDER,
    ORDERS,
    PANE,
    PATCH,
    PHASE_STEPS,
    POINT,
    SHADE,
    SHAFT,
    SURFACE_ORDER,
    TERMS,
    TILTS,
    WINDOW,
    Rig,
    table_of_rows,
)
from lightcalc.engine.shadow import cast
from lightcalc.kit.candela import Lambert
from lightcalc.laws.haze import henyey_greenstein
from lightcalc.scene.openings import WALL_INWARD, wall_outline, walls_before, window_panes
from lightcalc.scene.parts import WALLS, Room, basis, rectangle_corners
from lightcalc.scene.solids import features, solids

EDGE_ON = 1e-7  # a lamp so near a mirror's plane, in metres or as the sine of the sun's height over it, sends it nothing
CUT = 1e-5  # a lamp counts as dark beyond the angle where it sends this share of its peak
CELL_M, MOST_CELLS = 0.35, 1000  # sides of a board's cells at most, and how many both sides of all boards and frames have
SOLID_CELL_M = 0.5  # of a box's face that sends light on
SLIGHT_M, SLIGHT_LONG_M = 0.04, 0.5  # half the second side of such a leg is less, and half its length
LIT_M2 = 0.05  # such a face has at least so much area times reflectance


def lay_out(setup, *, face_samples=3, phase=None, faces=()):
    """
    Flatten a setup. Facets that only pass light on are still dark; `direct.light_facets` fills them.

    Parameters
    ----------
    setup : Setup
        What to lay out.
    face_samples : int, default 3
        Samples along each side of an area lamp's face, for its shafts in the air.
    phase : array, optional
        Half-sine table of the phase function; Henyey-Greenstein from the setup's `g` when absent. [1/sr]
    faces : sequence of Mark
        People whose features stand in the light too, after all else that does.

    Returns
    -------
    Rig
    """
    return _Layout(setup, face_samples, phase, faces).rig()


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

    def __init__(self, setup, face_samples, phase, close):
        self.setup, self.place, self.close = setup, setup.place, close
        self.indoors = isinstance(setup.place, Room)
        self.face_samples = face_samples
        self.names = list(setup.source_names)
        self.phase = _henyey_greenstein_table(setup.haze.g) if phase is None else phase
        self.tables, self.table_of = [], {}
        self.lamps, self.shafts, self.faces = [], [], []
        self.occluders, self.facets, self.cells = [], [], []
        self.panes, self.figures = [], []
        self._outside_light()
        self._windows()
        self._occluders_and_facets()
        self._solids()
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
            occluder = dict(
                part=part, shape=FLAT, quad=quad, middle=part.at, normal=normal, radius=radius, facet=(-1,) * FACES, figure=-1,
                spread=0.5 * np.array([quad[1] - quad[0], quad[3] - quad[0], np.zeros(3)]),
            )  # fmt: skip
            index = len(self.occluders)
            if part.kind == "flag":
                occluder["front"] = occluder["back"] = part.reflectance
            else:
                source = self.names.index(part.name)
                across, along = counts[part.name]
                cells = split(quad, across, along)
                occluder.update(across=(across,) * FACES, along=(along,) * FACES)
                front = self._facet(quad, cells, source, index)
                back = self._facet(quad[::-1], cells[:, ::-1], source, index)
                if part in setup.boards:
                    stuff = part.stuff
                    occluder.update(front=stuff.reflectance, back=stuff.back, gloss=stuff.gloss)
                    occluder["lobe"] = np.radians(stuff.lobe_deg)
                else:
                    cloth = part.diffusion
                    occluder.update(passes=cloth.direct, diffuse=cloth.diffuse, front=cloth.back, back=cloth.back)
                occluder["facet"] = (front, back) + (-1,) * (FACES - 2)
            self.occluders.append(occluder)

    def _solids(self):
        """People and furniture; a box's large face that is not dark sends light on, read as the room's."""
        found = solids(self.setup) + tuple(one for mark in self.close for one in features(mark))
        owners = list(dict.fromkeys(solid.of for solid in found))
        self.flats, first = len(self.occluders), len(self.occluders)
        found = sorted(found, key=lambda solid: (owners.index(solid.of), _slight(solid)))
        for name in owners:
            self.figures.append(_figure([solid for solid in found if solid.of == name], first))
            first += self.figures[-1]["count"]
        for solid in found:
            row = dict(
                part=None, shape=BALL if solid.shape == "ball" else BOX, middle=solid.middle, radius=solid.radius_m,
                into=solid.axes / solid.half[:, None], spread=solid.axes * solid.half[:, None], front=solid.reflectance,
                back=solid.reflectance, facet=[-1] * FACES, across=[0] * FACES, along=[0] * FACES, figure=owners.index(solid.of),
            )  # fmt: skip
            widest = 4.0 * np.prod(np.sort(solid.half)[1:])  # its largest face
            if solid.shape == "box" and not solid.joined and solid.reflectance * widest >= LIT_M2:
                for face in range(FACES):
                    self._lit_face(row, face)
            self.occluders.append(row)

    def _lit_face(self, row, face):
        """One face of a box as a facet, unless it is small, dark, on the floor, or looks down and is not large and bright."""
        axis, side = face // 2, 1.0 - 2.0 * (face % 2)
        out, a, b = side * row["spread"][axis], row["spread"][(axis + 1) % 3], side * row["spread"][(axis + 2) % 3]
        sides = 2 * np.linalg.norm(a), 2 * np.linalg.norm(b)
        middle = row["middle"] + out
        least = 5 * LIT_M2 if out[2] < -0.5 * np.linalg.norm(out) else LIT_M2
        if row["front"] * sides[0] * sides[1] < least or middle[2] < 0.01:
            return
        quad = middle + np.array([-a - b, a - b, a + b, b - a])
        across, along = (int(np.clip(np.ceil(size / SOLID_CELL_M), 2, 6)) for size in sides)
        row["across"][face], row["along"][face] = across, along
        row["facet"][face] = self._facet(quad, split(quad, across, along), len(self.names), len(self.occluders))

    def _cell_counts(self):
        """Cells across and along each board and frame: small for the pools of light on it and for what faces it near by."""
        facets, counts = self.setup.boards + self.setup.frames, {}
        for part in facets:
            dark = part in self.setup.boards and part.stuff.reflectance < 0.1
            cell = CELL_M if dark else min(CELL_M, 0.25 * self._pool_m(part), max(0.25 * _gap_m(part, facets), 0.1))
            most = 8 if cell == CELL_M else 12
            counts[part.name] = tuple(int(np.clip(np.ceil(s / cell), 2, most)) for s in (part.width_m, part.height_m))
        over = np.sqrt(max(2 * sum(a * b for a, b in counts.values()) / MOST_CELLS, 1.0))
        return {name: (max(2, int(a / over)), max(2, int(b / over))) for name, (a, b) in counts.items()}

    def _pool_m(self, facet):
        """How wide the smallest pool of light is that a lamp throws onto a board or frame. [m]"""
        pools = [np.inf]
        for light in self.setup.lights:
            beam = np.radians(getattr(light.distribution_now, "beam_deg", 180.0)) / 2
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
        shares = [(light.distribution_now, scale)]
        if light.diffusion is not None:
            soft = Lambert.from_lumens(lumens=light.distribution_now.lumens())
            shares = [(light.distribution_now, scale * light.diffusion.direct), (soft, scale * light.diffusion.diffuse)]
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
        if gap <= EDGE_ON:
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
        matters = [self._matters(shaft) for shaft in self.shafts]
        width = len(occluders) * (1 + self._mirrored)
        reflectance = [getattr(self.place, name) if self.indoors else 0.0 for name in SURFACE_ORDER]
        if not self.indoors:
            reflectance[SURFACE_ORDER.index("floor")] = self.place.ground
        rows_of = table_of_rows(LAMP, lamps), table_of_rows(OCCLUDER, occluders)
        shades = np.zeros(len(lamps) * width, dtype=SHADE)
        if shades.size:
            cast(*rows_of, self._images(rows_of[1]), shades)
        return Rig(
            flats=self.flats,
            features=len(solids(self.setup)) + self.flats,
            **_crowd(self.figures),
            sources=len(self.names),
            size=np.array(self.place.size_m, dtype=float),
            enclosed=self.indoors,
            air_low=np.zeros(3),
            air_size=np.array(self.place.size_m, dtype=float),
            open_air=np.zeros((2, TILTS)),
            reflectance=np.array(reflectance, dtype=float),
            extinction=float(self.setup.haze.extinction_per_m),
            phase=self.phase,
            legendre=phase_moments(self.phase, ORDERS)[:ORDERS],
            bulb=BULB_M,
            core=0.1,
            rough=False,
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
            lamps=rows_of[0],
            shafts=table_of_rows(SHAFT, self.shafts),
            occluders=rows_of[1],
            shades=shades.reshape(len(lamps), width),
            matters=np.array(matters, dtype=np.uint8).reshape(len(self.shafts), width),
            faces=table_of_rows(FACE, self.faces),
            panes=table_of_rows(PANE, [dict(quad=quad, weight=weight) for quad, weight, _ in self.panes]),
            facets=table_of_rows(FACET, self.facets),
            cells=table_of_rows(CELL, self.cells),
            windows=table_of_rows(WINDOW, [_window(w) for w in (self.place.windows if self.indoors else ())]),
            figures=table_of_rows(FIGURE, self.figures),
            sky=self.sky,
            ground_luminance=float(self.ground_luminance),
            sky_flat=_sky_received(self.sky, self.ground_luminance, False),
            sky_dome=_sky_received(self.sky, self.ground_luminance, True),
            sky_source=self.names.index("sky") if "sky" in self.names else -1,
        )

    @property
    def _mirrored(self):
        return any(lamp["mirror"] >= 0 for lamp in self.lamps)

    def _images(self, rows):
        """Every occluder as each of them mirrors it, (occluders squared,); none where nothing mirrors."""
        if not self._mirrored:
            return rows[:0]
        mirrors = {lamp["mirror"] for lamp in self.lamps if lamp["mirror"] >= 0}
        images = np.tile(rows, len(rows))
        for mirror in mirrors:
            normal, mine = rows["normal"][mirror], images[mirror * len(rows) : (mirror + 1) * len(rows)]
            for name in ("quad", "middle"):
                away = (mine[name] - rows["quad"][mirror][0]) @ normal
                mine[name] -= 2 * away[..., None] * normal
            mine["into"] -= 2 * (mine["into"] @ normal)[..., None] * normal
        return images

    @cached_property
    def _held(self):
        """Of all occluders: middles, how far they reach along their axes, and which are round. Asked when all are there."""
        middles, spreads = (np.array([row[name] for row in self.occluders]) for name in ("middle", "spread"))
        return middles, spreads, np.array([row["shape"] == BALL for row in self.occluders])

    def _beside(self, planes, mirror=-1):
        """Whether each occluder, or its image in a mirror, reaches into each half-space, (half-spaces, occluders)."""
        middles, spreads, round_ = self._held
        if mirror >= 0:
            quad, normal = self.occluders[mirror]["quad"], self.occluders[mirror]["normal"]
            middles = middles - 2 * np.outer((middles - quad[0]) @ normal, normal)
            spreads = spreads - 2 * (spreads @ normal)[..., None] * normal
        along = np.einsum("pa,qba->pqb", planes[:, :3], spreads)
        reach = np.where(round_, np.linalg.norm(along, axis=2), np.abs(along).sum(axis=2))
        return planes[:, :3] @ middles.T + planes[:, 3:] + reach

    def _matters(self, shaft):
        """
        Which shadows can fall in a shaft, (occluders,) or (2 occluders,).

        Not the mirror's own, nor what stands wholly outside the opening. On the way from an image what stands
        behind its mirror is not there; what stands before it is met twice, on the way out and, as an image, on the way in.
        """
        mirror, n = self.lamps[shaft["lamp"]]["mirror"], len(self.occluders)
        if not n:
            return []
        sides = shaft["planes"][:4] if shaft["count"] else np.zeros((0, 4))  # it may stand before or behind the opening itself
        found = (self._beside(sides) >= 0.0).all(axis=0)
        if mirror < 0:
            return [*found, *[False] * (n * self._mirrored)]
        front = (self._beside(shaft["planes"][4:])[0] > 0.0) & (np.arange(n) != mirror)
        return [*(found & front), *((self._beside(sides, mirror) >= 0.0).all(axis=0) & front)]


def _crowd(figures):
    """A ball that holds every figure, so that most ways keep clear of them all at one look."""
    if not figures:
        return dict(crowd_at=np.zeros(3), crowd=0.0)
    middles, radii = np.array([row["middle"] for row in figures]), np.array([row["radius"] for row in figures])
    at = 0.5 * ((middles - radii[:, None]).min(axis=0) + (middles + radii[:, None]).max(axis=0))
    return dict(crowd_at=at, crowd=float((np.linalg.norm(middles - at, axis=1) + radii).max()))


def _slight(solid):
    """Whether it is as thin as the leg of a table, and no longer: it stops next to nothing of light that comes from all round."""
    return np.sort(solid.half)[1] < SLIGHT_M and solid.half.max() < SLIGHT_LONG_M


def _figure(parts, first):
    """One person or piece of furniture: a ball that holds its parts, which follow one another among the occluders."""
    low, high = (end([part.middle + sign * part.reach_m for part in parts], axis=0) for end, sign in ((np.min, -1), (np.max, 1)))
    middle = 0.5 * (low + high)
    radius = max(np.linalg.norm(part.middle - middle) + part.radius_m for part in parts)
    return dict(
        middle=middle,
        radius=radius,
        first=first,
        count=len(parts),
        bulky=sum(not _slight(part) for part in parts),
        lit_at=parts[0].middle,
    )


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
