"""
Rooms to hold the picture and the readings against, with what a path tracer made of them.

`all_rooms` builds them from lightcalc's own parts; `load` reads the stored answer, made by
make_reference.py. Nothing here needs the path tracer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Stuff
from lightcalc.scene.parts import Board, Camera, Exterior, Flag, Haze, Light, Mark, Piece, Room, Setup, Window

HERE = Path(__file__).parent
WIDTH, HEIGHT = 80, 45  # pixels; both divide by BLOCK
BLOCK = 5  # pixels along the side of a block that errors are judged over
SENSOR_MM = (24.9, 24.9 * HEIGHT / WIDTH)  # square pixels


@dataclass(frozen=True)
class Reference:
    """
    The path tracer's answer for one room.

    `picture` is luminance, row 0 at the top, column 0 at the camera's left, each pixel the mean over its
    square, shape (HEIGHT, WIDTH) [cd/m2]; `picture_se` is the standard error of each block's mean, shape
    (HEIGHT / BLOCK, WIDTH / BLOCK) [cd/m2]; `marks` and `marks_se` are the illuminances of the setup's
    marks, in order [lx]. `spp` counts paths per pixel, per block, `mark_spp` paths per mark; `seconds` and
    `mark_seconds` are the times they took, compiling left out [s]. `phase` is None, or (cosine,
    phase_per_sr): the table that stood in for Henyey-Greenstein, linear in between.
    """

    picture: np.ndarray
    picture_se: np.ndarray
    marks: np.ndarray
    marks_se: np.ndarray
    spp: np.ndarray
    mark_spp: int
    seconds: float
    mark_seconds: float
    phase: tuple[np.ndarray, np.ndarray] | None = None


def load(name):
    """The stored answer for a room of `all_rooms`; see Reference."""
    with np.load(HERE / f"{name}.npz", allow_pickle=False) as kept:
        phase = (kept["cosine"], kept["phase_per_sr"]) if "cosine" in kept else None
        return Reference(
            **{key: kept[key] for key in ("picture", "picture_se", "marks", "marks_se", "spp")},
            **{key: kept[key].item() for key in ("mark_spp", "seconds", "mark_seconds")},
            phase=phase,
        )


def blocks(picture):
    """Means over blocks of BLOCK x BLOCK pixels, of a picture or of a stack of them: (..., H, W) to (..., h, w)."""
    *stack, height, width = picture.shape
    parts = picture.reshape(*stack, height // BLOCK, BLOCK, width // BLOCK, BLOCK)
    return parts.mean(axis=(-3, -1), dtype=float)


def block_of():
    """The block that each pixel is in, both counted along the rows: (HEIGHT * WIDTH,)."""
    row, column = np.indices((HEIGHT, WIDTH)) // BLOCK
    return (row * (WIDTH // BLOCK) + column).ravel()


def phase_table(name):
    """
    The room's tabulated phase function, or None where Henyey-Greenstein serves.

    Shaped like water droplets seen in white light: a forward peak, a little light all round and a bow 140 deg
    from straight on. Not a computed one: what matters is that it is far from Henyey-Greenstein.

    Returns
    -------
    (cosine, phase_per_sr) or None
        Each of shape (401,), the cosine rising evenly from -1 to 1; 2 pi times the trapezoid sum is 1.
    """
    if name != "droplets_back":
        return None
    cosine = np.linspace(-1.0, 1.0, 401)
    angle_deg = np.degrees(np.arccos(cosine))
    forward = (1 - 0.8**2) / (1 + 0.8**2 - 2 * 0.8 * cosine) ** 1.5
    phase = forward + 0.12 + 0.6 * np.exp(-0.5 * ((angle_deg - 140.0) / 6.0) ** 2)
    return cosine, phase / (2 * np.pi * np.trapezoid(phase, cosine))


def beyond(lamp, hole, metres):
    """The point so many metres past a hole, on the ray from a lamp through it."""
    ray = np.subtract(hole, lamp)
    return tuple(float(v) for v in np.round(hole + metres * ray / np.linalg.norm(ray), 4))


def _camera(at, aim, focal_mm=24.0):
    return Camera(at=at, aim=aim, focal_mm=focal_mm, sensor_width_mm=SENSOR_MM[0], sensor_height_mm=SENSOR_MM[1])


def _lamp(name, at, aim, peak_cd, beam_deg=24.0, field_deg=38.0):
    return Light(name=name, at=at, aim=aim, distribution=Beam(peak_cd=peak_cd, beam_deg=beam_deg, field_deg=field_deg))


def _walls(reflectance):
    return dict.fromkeys(("floor", "ceiling", "left", "right", "near", "far"), reflectance)


def _grey_back():
    # every surface its own grey, so that none can be taken for another
    panes = Window(
        name="panes", wall="far", centre_m=2.6, sill_m=0.9, width_m=1.2, height_m=1.4, bars_upright=2, bars_across=1, bar_m=0.05
    )
    walls = {"floor": 0.2, "ceiling": 0.6, "left": 0.45, "right": 0.3, "near": 0.35, "far": 0.5}
    lamp = (3.4, 9.2, 3.4)
    return Setup(
        name="grey_back",
        title="Grey loft against a barred window",
        place=Room(name="loft", width_m=5.0, depth_m=6.0, height_m=2.8, **walls, windows=(panes,)),
        camera=_camera((2.0, 0.5, 1.5), (2.6, 6.0, 1.3)),
        lights=(_lamp("sun lamp", lamp, (2.6, 6.0, 1.5), 400_000.0),),
        marks=(
            Mark(name="face", at=(2.9, 2.6, 1.5), aim=(2.0, 0.5, 1.5)),
            Mark(name="beam", at=beyond(lamp, (2.6, 6.0, 1.9625), 1.9), aim=lamp),
            Mark(name="ledge", at=(0.6, 1.4, 1.0), aim=(0.6, 1.4, 2.0)),
        ),
        haze=Haze(extinction_per_m=0.05, g=0.75),
    )


def _white_back():
    lamp = (1.2, 8.6, 3.3)
    return Setup(
        name="white_back",
        title="White room against an open window",
        place=Room(
            name="white",
            width_m=4.6,
            depth_m=5.4,
            height_m=2.6,
            **_walls(0.8),
            windows=(Window(name="open", wall="far", centre_m=2.0, sill_m=0.8, width_m=1.0, height_m=1.5),),
        ),
        camera=_camera((2.8, 0.4, 1.4), (2.2, 5.4, 1.2)),
        lights=(_lamp("sun lamp", lamp, (2.0, 5.4, 1.5), 250_000.0),),
        marks=(
            Mark(name="face", at=(1.7, 2.6, 1.5), aim=(2.8, 0.4, 1.4)),
            Mark(name="beam", at=beyond(lamp, (1.9, 5.4, 1.7), 2.0), aim=lamp),
            Mark(name="corner", at=(4.1, 0.6, 1.1), aim=(0.0, 5.0, 1.6)),
        ),
        haze=Haze(extinction_per_m=0.03, g=0.75),
    )


def _black_back():
    panes = Window(
        name="panes", wall="far", centre_m=2.4, sill_m=0.7, width_m=1.6, height_m=1.6, bars_upright=3, bars_across=2, bar_m=0.06
    )
    lamp = (1.9, 9.6, 2.9)
    return Setup(
        name="black_back",
        title="Black room against a barred window",
        place=Room(name="black", width_m=5.2, depth_m=5.6, height_m=2.9, **_walls(0.04), windows=(panes,)),
        camera=_camera((3.0, 0.4, 1.5), (2.5, 5.6, 1.3)),
        lights=(_lamp("sun lamp", lamp, (2.4, 5.6, 1.5), 500_000.0),),
        marks=(
            Mark(name="face", at=(1.8, 2.4, 1.5), aim=(3.0, 0.4, 1.5)),
            Mark(name="beam", at=beyond(lamp, (2.22, 5.6, 1.5), 2.2), aim=lamp),
            Mark(name="side", at=(4.5, 2.5, 1.3), aim=(2.3, 3.6, 1.3)),
        ),
        haze=Haze(extinction_per_m=0.05, g=0.8),
    )


def _grey_side():
    lamp = (-3.2, 3.9, 3.5)
    return Setup(
        name="grey_side",
        title="Grey room, light from the left",
        place=Room(
            name="grey",
            width_m=4.8,
            depth_m=6.0,
            height_m=2.7,
            **_walls(0.4),
            windows=(Window(name="open", wall="left", centre_m=3.4, sill_m=1.0, width_m=1.1, height_m=1.2),),
        ),
        camera=_camera((2.6, 0.3, 1.5), (2.3, 6.0, 1.2)),
        lights=(_lamp("sun lamp", lamp, (0.0, 3.4, 1.6), 300_000.0),),
        marks=(
            Mark(name="face", at=(2.9, 3.9, 1.5), aim=(2.6, 0.3, 1.5)),
            Mark(name="beam", at=beyond(lamp, (0.0, 3.4, 1.7), 1.6), aim=lamp),
            Mark(name="far side", at=(4.3, 3.0, 1.4), aim=(0.0, 3.4, 1.6)),
        ),
        haze=Haze(extinction_per_m=0.1, g=0.7),
    )


def _dark_side():
    panes = Window(
        name="panes", wall="right", centre_m=2.8, sill_m=0.8, width_m=1.4, height_m=1.5, bars_upright=1, bars_across=1, bar_m=0.08
    )
    lamp = (8.4, 1.9, 3.2)
    return Setup(
        name="dark_side",
        title="Dark room in thick haze, light from the right",
        place=Room(name="dark", width_m=5.0, depth_m=5.5, height_m=2.8, **_walls(0.1), windows=(panes,)),
        camera=_camera((2.0, 0.3, 1.4), (2.5, 5.5, 1.2)),
        lights=(_lamp("sun lamp", lamp, (5.0, 2.8, 1.5), 600_000.0),),
        marks=(
            Mark(name="face", at=(2.2, 2.2, 1.5), aim=(2.0, 0.3, 1.4)),
            Mark(name="beam", at=beyond(lamp, (5.0, 3.15, 1.85), 2.0), aim=lamp),
            Mark(name="shade", at=(1.0, 4.6, 1.2), aim=(3.5, 3.0, 1.4)),
        ),
        haze=Haze(extinction_per_m=0.3, g=0.6),
    )


def _grey_front():
    lamp = (3.9, -3.6, 3.3)
    return Setup(
        name="grey_front",
        title="Grey room, light from behind the camera",
        place=Room(
            name="grey",
            width_m=5.0,
            depth_m=5.8,
            height_m=2.8,
            **_walls(0.35),
            windows=(Window(name="open", wall="near", centre_m=3.4, sill_m=0.9, width_m=1.3, height_m=1.4),),
        ),
        camera=_camera((1.2, 0.6, 1.5), (2.9, 5.8, 1.0)),
        lights=(_lamp("sun lamp", lamp, (3.4, 0.0, 1.7), 300_000.0),),
        marks=(
            Mark(name="face", at=beyond(lamp, (3.4, 0.0, 1.9), 2.4), aim=lamp),
            Mark(name="shade", at=(1.2, 4.4, 1.4), aim=(1.2, 0.6, 1.5)),
            Mark(name="back", at=(3.0, 4.8, 1.4), aim=(3.0, 5.8, 1.5)),
        ),
        haze=Haze(extinction_per_m=0.08, g=0.75),
    )


def _thin_back():
    lamp = (3.6, 9.4, 3.5)
    return Setup(
        name="thin_back",
        title="Hardly any haze, strongly forward",
        place=Room(
            name="grey",
            width_m=4.8,
            depth_m=6.0,
            height_m=2.8,
            **_walls(0.5),
            windows=(Window(name="open", wall="far", centre_m=2.2, sill_m=0.9, width_m=1.2, height_m=1.4),),
        ),
        camera=_camera((1.6, 0.5, 1.6), (2.3, 6.0, 1.2)),
        lights=(_lamp("sun lamp", lamp, (2.2, 6.0, 1.6), 300_000.0),),
        marks=(
            Mark(name="face", at=(2.6, 2.2, 1.5), aim=(1.6, 0.5, 1.6)),
            Mark(name="beam", at=beyond(lamp, (2.2, 6.0, 1.6), 1.8), aim=lamp),
        ),
        haze=Haze(extinction_per_m=0.01, g=0.85),
    )


def _thick_back():
    panes = Window(name="panes", wall="far", centre_m=2.5, sill_m=0.8, width_m=1.2, height_m=1.5, bars_upright=1, bar_m=0.1)
    lamp = (2.9, 8.8, 2.9)
    return Setup(
        name="thick_back",
        title="Haze that hides the far wall",
        place=Room(name="grey", width_m=4.8, depth_m=5.0, height_m=2.8, **_walls(0.45), windows=(panes,)),
        camera=_camera((1.9, 0.4, 1.4), (2.5, 5.0, 1.3)),
        lights=(_lamp("sun lamp", lamp, (2.5, 5.0, 1.5), 600_000.0),),
        marks=(
            Mark(name="face", at=(2.9, 2.0, 1.5), aim=(1.9, 0.4, 1.4)),
            Mark(name="beam", at=beyond(lamp, (2.75, 5.0, 1.6), 1.5), aim=lamp),
            Mark(name="ledge", at=(0.6, 3.8, 1.0), aim=(0.6, 3.8, 2.0)),
        ),
        haze=Haze(extinction_per_m=0.4, g=0.85),
    )


def _even_side():
    lamp = (-3.4, 2.2, 2.9)
    return Setup(
        name="even_side",
        title="Air that scatters evenly, light walls",
        place=Room(
            name="light",
            width_m=5.0,
            depth_m=5.2,
            height_m=2.7,
            **_walls(0.65),
            windows=(Window(name="open", wall="left", centre_m=2.7, sill_m=0.9, width_m=1.0, height_m=1.2),),
        ),
        camera=_camera((2.8, 0.3, 1.4), (2.4, 5.2, 1.2)),
        lights=(_lamp("sun lamp", lamp, (0.0, 2.7, 1.5), 250_000.0),),
        marks=(
            Mark(name="face", at=(3.4, 2.0, 1.5), aim=(2.8, 0.3, 1.4)),
            Mark(name="beam", at=beyond(lamp, (0.0, 2.75, 1.6), 2.2), aim=lamp),
        ),
        haze=Haze(extinction_per_m=0.1, g=0.0),
    )


def _droplets_back():
    panes = Window(name="panes", wall="far", centre_m=2.2, sill_m=0.9, width_m=1.2, height_m=1.3, bars_across=2, bar_m=0.05)
    lamp = (1.5, 9.0, 3.3)
    return Setup(
        name="droplets_back",
        title="A tabulated phase function with a bow",
        place=Room(name="grey", width_m=4.8, depth_m=5.6, height_m=2.7, **_walls(0.3), windows=(panes,)),
        camera=_camera((3.0, 0.5, 1.5), (2.3, 5.6, 1.2)),
        lights=(_lamp("sun lamp", lamp, (2.2, 5.6, 1.5), 400_000.0),),
        marks=(
            Mark(name="face", at=(2.0, 2.3, 1.5), aim=(3.0, 0.5, 1.5)),
            Mark(name="beam", at=beyond(lamp, (2.1, 5.6, 1.55), 1.8), aim=lamp),
            Mark(name="side", at=(4.2, 3.2, 1.3), aim=(2.4, 4.2, 1.2)),
        ),
        haze=Haze(extinction_per_m=0.08, g=0.75),
    )


def _board_flag():
    lamp = (-3.0, 3.6, 3.1)
    white = Stuff(name="white", reflectance=0.85, gloss=0.0, back=0.05)
    return Setup(
        name="board_flag",
        title="A white board fills, a flag cuts the shaft",
        place=Room(
            name="dark",
            width_m=4.6,
            depth_m=5.6,
            height_m=2.7,
            **_walls(0.15),
            windows=(Window(name="open", wall="left", centre_m=3.1, sill_m=0.8, width_m=1.4, height_m=1.5),),
        ),
        camera=_camera((2.2, 0.3, 1.4), (2.7, 5.6, 1.2)),
        lights=(_lamp("sun lamp", lamp, (0.0, 3.1, 1.6), 350_000.0),),
        boards=(Board(name="white board", at=(3.9, 3.0, 1.2), aim=(2.6, 3.1, 1.4), width_m=1.2, height_m=1.2, stuff=white),),
        flags=(Flag(name="cutter", at=(0.9, 3.45, 1.45), aim=(0.0, 3.65, 2.05), width_m=0.6, height_m=0.5),),
        marks=(
            Mark(name="fill side", at=(2.5, 3.1, 1.4), aim=(3.9, 3.0, 1.2)),
            Mark(name="key side", at=(2.5, 2.75, 1.25), aim=lamp),
            Mark(name="face", at=(2.5, 2.8, 1.5), aim=(2.2, 0.3, 1.4)),
        ),
        haze=Haze(extinction_per_m=0.05, g=0.75),
    )


def _soft_inside():
    panel = Light(
        name="soft panel",
        at=(0.5, 0.8, 2.2),
        aim=(2.6, 3.4, 1.2),
        distribution=Lambert(peak_cd=3_000.0),
        face_width_m=1.2,
        face_height_m=0.9,
    )
    return Setup(
        name="soft_inside",
        title="A soft panel in the room, nothing else",
        place=Room(name="grey", width_m=5.0, depth_m=5.5, height_m=2.8, **_walls(0.4)),
        camera=_camera((2.8, 0.6, 1.5), (2.9, 5.5, 1.2)),
        lights=(panel,),
        marks=(
            Mark(name="near", at=(1.2, 1.7, 1.8), aim=(0.5, 0.8, 2.2)),
            Mark(name="face", at=(2.6, 3.4, 1.5), aim=(2.8, 0.6, 1.5)),
            Mark(name="back", at=(3.0, 4.2, 1.2), aim=(3.0, 5.5, 1.2)),
        ),
        haze=Haze(extinction_per_m=0.06, g=0.75),
    )


def _two_windows():
    panes = Window(
        name="panes", wall="far", centre_m=1.6, sill_m=0.9, width_m=0.9, height_m=1.4, bars_upright=1, bars_across=2, bar_m=0.04
    )
    high = Window(name="high", wall="right", centre_m=3.2, sill_m=1.2, width_m=1.2, height_m=1.0)
    sun, moon = (2.0, 9.3, 3.3), (8.2, 4.2, 3.9)
    return Setup(
        name="two_windows",
        title="Two windows, a strong lamp and a weak one",
        place=Room(name="grey", width_m=5.2, depth_m=6.0, height_m=2.8, **_walls(0.3), windows=(panes, high)),
        camera=_camera((3.2, 0.4, 1.5), (2.4, 6.0, 1.2)),
        lights=(
            _lamp("sun lamp", sun, (1.6, 6.0, 1.6), 400_000.0),
            _lamp("moon lamp", moon, (5.2, 3.2, 1.8), 90_000.0, beam_deg=30.0, field_deg=40.0),
        ),
        marks=(
            Mark(name="face", at=(2.2, 2.6, 1.5), aim=(3.2, 0.4, 1.5)),
            Mark(name="sun beam", at=beyond(sun, (1.83, 6.0, 1.6), 1.8), aim=sun),
            Mark(name="moon beam", at=beyond(moon, (5.2, 3.2, 1.8), 2.0), aim=moon),
        ),
        haze=Haze(extinction_per_m=0.06, g=0.75),
    )


def _spot_inside():
    spot = (0.4, 1.2, 2.4)
    return Setup(
        name="spot_inside",
        title="A spot in the room throws a shaft across the lens",
        place=Room(name="grey", width_m=5.0, depth_m=5.5, height_m=2.8, **_walls(0.3)),
        camera=_camera((3.4, 0.5, 1.4), (2.6, 5.5, 1.2)),
        lights=(_lamp("spot", spot, (3.4, 4.0, 0.9), 12_000.0, beam_deg=30.0, field_deg=42.0),),
        marks=(
            Mark(name="beam", at=(2.5, 3.16, 1.35), aim=spot),
            Mark(name="face", at=(3.4, 3.0, 1.5), aim=(3.4, 0.5, 1.4)),
            Mark(name="shade", at=(1.0, 4.4, 1.2), aim=(3.4, 3.5, 1.2)),
        ),
        haze=Haze(extinction_per_m=0.06, g=0.7),
    )


def _clear_side():
    lamp = (-3.2, 2.4, 3.4)
    white = Stuff(name="white", reflectance=0.8, gloss=0.0, back=0.05)
    return Setup(
        name="clear_side",
        title="No haze: walls and a board only",
        place=Room(
            name="light",
            width_m=4.8,
            depth_m=5.4,
            height_m=2.7,
            **_walls(0.5),
            windows=(Window(name="open", wall="left", centre_m=2.8, sill_m=0.9, width_m=1.2, height_m=1.3),),
        ),
        camera=_camera((2.0, 0.3, 1.5), (2.9, 5.4, 1.1)),
        lights=(_lamp("sun lamp", lamp, (0.0, 2.8, 1.6), 300_000.0),),
        boards=(Board(name="white board", at=(3.8, 2.6, 1.1), aim=(2.4, 2.9, 1.4), width_m=1.2, height_m=1.2, stuff=white),),
        marks=(
            Mark(name="face", at=(2.3, 2.2, 1.6), aim=(2.0, 0.3, 1.5)),
            Mark(name="fill side", at=(2.3, 2.9, 1.5), aim=(3.8, 2.6, 1.1)),
            Mark(name="beam", at=beyond(lamp, (0.0, 2.8, 1.6), 1.8), aim=lamp),
        ),
        haze=Haze(extinction_per_m=0.0),
    )


def _black_front():
    lamp = (1.0, -3.4, 3.0)
    return Setup(
        name="black_front",
        title="Black room, light from behind, air that sends most of it on",
        place=Room(
            name="black",
            width_m=5.0,
            depth_m=5.6,
            height_m=2.8,
            **_walls(0.03),
            windows=(Window(name="open", wall="near", centre_m=1.4, sill_m=0.8, width_m=1.2, height_m=1.5),),
        ),
        camera=_camera((3.6, 0.6, 1.5), (2.1, 5.6, 1.2)),
        lights=(_lamp("sun lamp", lamp, (1.4, 0.0, 1.6), 500_000.0),),
        marks=(
            Mark(name="beam", at=beyond(lamp, (1.4, 0.0, 1.7), 2.4), aim=lamp),
            Mark(name="shade", at=(3.6, 4.2, 1.4), aim=(2.0, 1.0, 1.5)),
        ),
        haze=Haze(extinction_per_m=0.15, g=0.7),
    )


def _night_yard():
    lantern = (14.3, 10.6, 1.5)
    white = Stuff(name="white", reflectance=0.8, gloss=0.0, back=0.05)
    return Setup(
        name="night_yard",
        title="Open ground at night: a lantern, a white board, a flag",
        place=Exterior(name="yard", width_m=30.0, depth_m=24.0, ground=0.35),
        camera=_camera((14.4, 6.2, 3.0), (15.7, 10.4, 0.2)),
        lights=(_lamp("lantern", lantern, (16.6, 11.0, 1.0), 900.0, beam_deg=110.0, field_deg=160.0),),
        boards=(Board(name="white board", at=(17.4, 11.3, 1.0), aim=(15.3, 10.4, 1.4), width_m=1.5, height_m=1.5, stuff=white),),
        flags=(Flag(name="cutter", at=(15.2, 11.6, 1.2), aim=(14.3, 10.6, 1.3), width_m=0.6, height_m=0.9),),
        marks=(
            Mark(name="key side", at=(15.9, 10.3, 1.5), aim=lantern),
            Mark(name="fill side", at=(15.6, 11.2, 1.4), aim=(17.4, 11.3, 1.0)),
            Mark(name="far cheek", at=(16.4, 10.2, 1.5), aim=(17.6, 8.6, 1.5)),
            Mark(name="chin", at=(15.3, 10.0, 1.3), aim=(15.3, 10.0, 0.0)),
        ),
        haze=Haze(extinction_per_m=0.0),
    )


def _fog_yard():
    return replace(_night_yard(), name="fog_yard", title="The same in a light fog", haze=Haze(extinction_per_m=0.04, g=0.75))


def _facing_clear():
    white = Stuff(name="white", reflectance=0.85, gloss=0.0, back=0.85)
    return Setup(
        name="facing_clear",
        title="Two white boards face to face across half a metre",
        place=Room(name="grey", width_m=4.6, depth_m=5.2, height_m=2.7, **_walls(0.3)),
        camera=_camera((2.0, 0.7, 1.7), (2.55, 3.3, 1.15)),
        lights=(_lamp("lamp", (2.7, 0.9, 2.4), (2.45, 3.3, 1.2), 9_000.0, beam_deg=40.0, field_deg=60.0),),
        boards=(
            Board(name="left board", at=(2.25, 3.2, 1.25), aim=(2.75, 3.2, 1.25), width_m=1.2, height_m=1.2, stuff=white),
            Board(name="right board", at=(2.75, 3.2, 1.25), aim=(2.25, 3.2, 1.25), width_m=1.2, height_m=1.2, stuff=white),
        ),
        marks=(
            Mark(name="to the left", at=(2.5, 3.25, 1.3), aim=(2.0, 3.25, 1.3)),
            Mark(name="to the right", at=(2.45, 3.4, 1.2), aim=(3.0, 3.4, 1.2)),
            Mark(name="before them", at=(2.5, 2.0, 1.3), aim=(2.5, 3.2, 1.25)),
            Mark(name="aside", at=(0.8, 3.0, 1.4), aim=(2.25, 3.2, 1.25)),
        ),
    )


def _facing_haze():
    white = Stuff(name="white", reflectance=0.85, gloss=0.0, back=0.3)
    return Setup(
        name="facing_haze",
        title="A vee of white boards under a soft panel, in haze",
        place=Room(name="grey", width_m=4.6, depth_m=5.2, height_m=2.7, **_walls(0.3)),
        camera=_camera((2.9, 0.6, 1.6), (2.2, 3.4, 1.2)),
        lights=(
            Light(
                name="panel",
                at=(2.3, 1.9, 2.5),
                aim=(2.3, 3.3, 1.2),
                distribution=Lambert(peak_cd=1_500.0),
                face_width_m=0.5,
                face_height_m=0.5,
            ),
        ),
        boards=(
            Board(name="left board", at=(2.046, 3.056, 1.2), aim=(2.952, 2.634, 1.2), width_m=1.2, height_m=1.4, stuff=white),
            Board(name="right board", at=(2.554, 3.056, 1.2), aim=(1.648, 2.634, 1.2), width_m=1.2, height_m=1.4, stuff=white),
        ),
        marks=(
            Mark(name="within", at=(2.3, 3.1, 1.2), aim=(2.3, 4.0, 1.2)),
            Mark(name="to the right", at=(2.25, 3.0, 1.1), aim=(3.0, 2.8, 1.1)),
            Mark(name="before it", at=(2.3, 2.0, 1.3), aim=(2.3, 3.4, 1.2)),
        ),
        haze=Haze(extinction_per_m=0.12, g=0.6),
    )


def _shaft_room(name, title, *, camera, person, g, sigma, walls=0.2, **more):
    """A window high on the right, a lamp beyond it, someone standing in the shaft."""
    high = Window(name="high", wall="right", centre_m=3.4, sill_m=1.2, width_m=1.2, height_m=1.3)
    return Setup(
        name=name, title=title,
        place=Room(name="hall", width_m=5.4, depth_m=6.2, height_m=2.9, **_walls(walls), windows=(high,)),
        camera=_camera(*camera),
        lights=(_lamp("sun lamp", (8.8, 4.4, 3.9), (5.4, 3.4, 1.8), 350_000.0),),
        haze=Haze(extinction_per_m=sigma, g=g),
        **person, **more,
    )  # fmt: skip


def _person_back():
    someone = Mark(name="face", at=(3.2, 2.9, 1.55), aim=(1.6, 1.4, 1.5), figure=True, reflectance=0.35, body=0.1)
    cheek = Mark(name="lit side", at=(3.5, 2.95, 1.55), aim=(5.4, 3.5, 1.9))
    floor = Mark(name="in the shadow", at=(2.2, 2.55, 0.3), aim=(5.4, 3.4, 1.8))
    return _shaft_room(
        "person_back", "Someone stands in the shaft, the lamp behind them", camera=((0.8, 1.0, 1.5), (4.4, 3.4, 1.4)),
        person=dict(marks=(someone, cheek, floor)), g=0.75, sigma=0.06,
    )  # fmt: skip


def _person_side():
    someone = Mark(name="face", at=(3.0, 2.85, 1.6), aim=(5.4, 3.5, 1.7), figure=True, reflectance=0.35, body=0.3)
    back = Mark(name="behind", at=(2.4, 2.66, 1.2), aim=(1.0, 2.3, 1.2))
    return _shaft_room(
        "person_side", "The same shaft from the side, someone facing the window", camera=((2.4, 0.4, 1.5), (3.0, 6.2, 1.2)),
        person=dict(marks=(someone, back)), g=0.5, sigma=0.08,
    )  # fmt: skip


def _table_window():
    table = Piece(name="table", what="table", at=(3.4, 3.2, 0.0), aim=(2.0, 2.6, 0.0), reflectance=0.5)
    chair = Piece(name="chair", what="chair", at=(2.6, 2.8, 0.0), aim=(3.4, 3.2, 0.0), reflectance=0.3)
    chin = Mark(name="over the table", at=(3.0, 2.9, 1.15), aim=(3.3, 3.1, 0.75))
    floor = Mark(name="under the table", at=(3.3, 3.1, 0.02), aim=(3.3, 3.1, 1.0))
    face = Mark(name="face", at=(2.9, 2.8, 1.3), aim=(1.0, 1.2, 1.4))
    return _shaft_room(
        "table_window", "A table and a chair before a window", camera=((0.9, 0.8, 1.6), (3.4, 3.4, 0.7)),
        person=dict(marks=(chin, floor, face), pieces=(table, chair)), g=0.7, sigma=0.02, walls=0.4,
    )  # fmt: skip


def _door_half():
    door = Piece(name="door", what="door", at=(4.4, 2.6, 0.0), aim=(3.7, 4.4, 0.0), width_m=1.0, height_m=2.1, reflectance=0.45)
    before = Mark(name="lit by the leaf", at=(4.9, 2.9, 1.3), aim=(4.2, 3.0, 1.3))
    behind = Mark(name="behind the leaf", at=(3.4, 2.7, 1.2), aim=(5.4, 3.4, 1.6))
    return _shaft_room(
        "door_half", "A door half open in the shaft", camera=((1.0, 0.7, 1.5), (4.6, 4.2, 1.2)),
        person=dict(marks=(before, behind), pieces=(door,)), g=0.6, sigma=0.06,
    )  # fmt: skip


def _panel(at, aim, side_m, peak_cd):
    """A square soft panel."""
    lit = Lambert(peak_cd=peak_cd)
    return Light(name="panel", at=at, aim=aim, distribution=lit, face_width_m=side_m, face_height_m=side_m)


def _two_people():
    panel = _panel((3.9, 1.0, 2.0), (2.2, 3.0, 1.4), 1.0, 2_500.0)
    near = Mark(name="near", at=(2.75, 2.5, 1.55), aim=(1.7, 3.4, 1.5), figure=True, reflectance=0.35, body=0.4)
    far = Mark(name="far", at=(1.95, 3.3, 1.6), aim=(2.9, 2.4, 1.5), figure=True, reflectance=0.35, body=0.2)
    between = Mark(name="between", at=(2.35, 2.95, 1.1), aim=(3.9, 1.0, 2.0))
    return Setup(
        name="two_people", title="Two people in each other's light, a soft panel",
        place=Room(name="grey", width_m=4.8, depth_m=5.2, height_m=2.7, **_walls(0.35)),
        camera=_camera((1.0, 0.9, 1.5), (2.5, 3.1, 1.3)), lights=(panel,), marks=(near, far, between),
    )  # fmt: skip


def _head_close():
    panel = _panel((2.9, 1.5, 1.9), (2.2, 2.2, 1.6), 0.6, 800.0)
    head = Mark(name="face", at=(2.2, 2.2, 1.6), aim=(1.7, 1.2, 1.6), figure=True, reflectance=0.4, body=0.2)
    dark = Mark(name="far cheek", at=(2.06, 2.32, 1.6), aim=(1.0, 2.9, 1.6))
    return Setup(
        name="head_close", title="A head close up, a soft panel a metre off",
        place=Room(name="dark", width_m=4.4, depth_m=4.6, height_m=2.6, **_walls(0.2)),
        camera=_camera((1.7, 1.2, 1.6), (2.2, 2.25, 1.57)), lights=(panel,), marks=(head, dark),
    )  # fmt: skip


def _beside_shaft():
    into = Mark(name="facing it", at=(2.4, 4.3, 1.1), aim=(3.0, 3.0, 1.1))
    away = Mark(name="facing away", at=(2.4, 4.5, 1.1), aim=(2.0, 6.0, 1.1))
    below = Mark(name="under it", at=(3.4, 3.1, 0.3), aim=(3.6, 3.1, 2.0))
    return _shaft_room(
        "beside_shaft", "A dark hall, a shaft that passes within a metre of the marks", camera=((0.7, 1.2, 1.5), (4.6, 4.0, 1.2)),
        person=dict(marks=(into, away, below)), g=0.85, sigma=0.05, walls=0.03,
    )  # fmt: skip


def _dense_side():
    face = Mark(name="face", at=(2.6, 2.6, 1.5), aim=(0.8, 1.2, 1.5))
    beam = Mark(name="beam", at=(3.3, 2.8, 1.0), aim=(8.8, 4.4, 3.9))
    return _shaft_room(
        "dense_side", "Dense air that throws far ahead, a window to the side", camera=((1.2, 0.8, 1.5), (3.4, 4.4, 1.2)),
        person=dict(marks=(face, beam)), g=0.8, sigma=0.2,
    )  # fmt: skip


def _panel_near():
    panel = Light(
        name="panel",
        at=(1.0, 1.9, 1.7),
        aim=(2.8, 3.0, 1.3),
        distribution=Lambert(peak_cd=2_000.0),
        face_width_m=0.9,
        face_height_m=0.9,
    )
    face = Mark(name="face", at=(2.3, 2.6, 1.45), aim=(2.0, 0.8, 1.5))
    near = Mark(name="near", at=(1.7, 2.2, 1.5), aim=(1.0, 1.9, 1.7))
    return Setup(
        name="panel_near", title="A large soft panel near the lens in dense haze",
        place=Room(name="grey", width_m=4.8, depth_m=5.4, height_m=2.7, **_walls(0.25)),
        camera=_camera((2.0, 0.8, 1.5), (2.3, 5.4, 1.2)), lights=(panel,), marks=(face, near), haze=Haze(extinction_per_m=0.18, g=0.7),
    )  # fmt: skip


def _board_yard():
    white = Stuff(name="white", reflectance=0.85, gloss=0.0, back=0.3)
    lantern = (14.6, 9.4, 1.9)
    return Setup(
        name="board_yard", title="Two boards face to face over open ground, in fog",
        place=Exterior(name="yard", width_m=30.0, depth_m=24.0, ground=0.3),
        camera=_camera((14.0, 7.4, 1.6), (15.6, 11.0, 0.9)),
        lights=(_lamp("lantern", lantern, (15.5, 11.0, 1.0), 1_200.0, beam_deg=50.0, field_deg=80.0),),
        boards=(
            Board(name="left board", at=(15.1, 11.2, 1.0), aim=(16.0, 11.0, 1.0), width_m=1.2, height_m=1.2, stuff=white),
            Board(name="right board", at=(16.0, 11.0, 1.0), aim=(15.1, 11.2, 1.0), width_m=1.2, height_m=1.2, stuff=white),
        ),
        marks=(
            Mark(name="between", at=(15.55, 11.0, 1.1), aim=(16.0, 10.9, 1.1)),
            Mark(name="before them", at=(15.4, 10.2, 1.3), aim=(15.6, 11.2, 1.0)),
        ),
        haze=Haze(extinction_per_m=0.03, g=0.75),
    )  # fmt: skip


_BUILD = (
    _grey_back,
    _black_back,
    _grey_side,
    _white_back,
    _dark_side,
    _grey_front,
    _droplets_back,
    _board_flag,
    _soft_inside,
    _two_windows,
    _thick_back,
    _thin_back,
    _even_side,
    _spot_inside,
    _clear_side,
    _black_front,
    _night_yard,
    _fog_yard,
    _facing_clear,
    _facing_haze,
    _person_back,
    _person_side,
    _table_window,
    _door_half,
    _two_people,
    _head_close,
    _beside_shaft,
    _dense_side,
    _panel_near,
    _board_yard,
)


def all_rooms():
    """Every room as a Setup, by name: light from behind, side and front; black to white; clear to thick."""
    return {setup.name: setup for setup in (build() for build in _BUILD)}
