"""Setups, readings and pictures made by hand for the drawing tests; no light is computed."""

from dataclasses import replace

import numpy as np

from lightcalc.answers.readings import MarkReading, Readings, SpotReading, TargetReading
from lightcalc.engine.picture import Picture
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Diffusion, Gel, Stuff
from lightcalc.scene.parts import (
    Board,
    Camera,
    Exterior,
    Flag,
    Frame,
    Haze,
    Light,
    Mark,
    Room,
    Setup,
    Sky,
    Spot,
    Sun,
    Target,
    Window,
)  # fmt: skip
from lightcalc.scene.shoot import Shoot

HALF = Diffusion(name="half diffusion", direct=0.3, diffuse=0.35)
BLUE = Gel(name="half blue", transmittance=0.52, mired_shift=-68)
WHITE = Stuff(name="white sheet", reflectance=0.8)


def loft():
    """A room with a barred window, lights in and outside it, a board, a flag, a frame, sun and haze."""
    barred = Window(
        name="loft window", wall="left", centre_m=2.1, sill_m=0.9, width_m=1.2, height_m=1.4, bars_upright=3, bars_across=4
    )
    curtained = Window(name="back light", wall="far", centre_m=4.6, sill_m=1.3, width_m=0.8, height_m=0.9, sheer=HALF)
    key = Beam(peak_cd=45_000, beam_deg=22, field_deg=35)
    return Setup(
        name="2A", title="Raker at the drying racks", place=Room(name="drying loft", width_m=6.3, depth_m=4.7, height_m=2.9, windows=(barred, curtained), bearing_deg=35),
        camera=Camera(at=(5.6, 0.7, 1.45), aim=(2.2, 2.9, 1.35), focal_mm=35),
        lights=(
            Light(name="hard through window", at=(-2.3, 2.0, 3.1), aim=(2.4, 2.4, 1.0), distribution=key, watts=1000, kelvin=3200,
                  kit="1 kW tungsten spot", gel=BLUE),
            Light(name="soft fill", at=(5.2, 3.8, 2.0), aim=(2.4, 2.4, 1.55), distribution=Lambert(peak_cd=900), face_width_m=0.6,
                  face_height_m=0.6, dim=0.4, watts=120, kelvin=5600, kit="60x60 cm soft panel"),
        ),
        boards=(Board(name="folded sail", at=(3.9, 1.5, 1.2), aim=(2.4, 2.4, 1.3), width_m=1.2, height_m=1.8, stuff=WHITE),),
        flags=(Flag(name="cut off wall", at=(0.6, 3.2, 1.8), aim=(2.4, 2.4, 1.3), width_m=0.6, height_m=0.9),),
        frames=(Frame(name="book front", at=(4.4, 3.2, 1.8), aim=(2.4, 2.4, 1.4), width_m=1.2, height_m=1.2, diffusion=HALF),),
        marks=(Mark(name="raker face", at=(2.4, 2.4, 1.55), aim=(5.6, 0.7, 1.5), figure=True), Mark(name="rack", at=(1.1, 3.6, 1.1), aim=(5, 1, 1.2))),
        spots=(Spot(name="beam mid", at=(1.2, 2.3, 1.7), source="hard through window"), Spot(name="back wall", at=(3.0, 4.7, 1.6))),
        haze=Haze(extinction_per_m=0.05), sun=Sun(bearing_deg=250, elevation_deg=12, normal_lx=42_000),
        targets=(
            Target(of="raker face", quantity="level", stops=-0.33), Target(of="raker face", quantity="fill_under", stops=-2.0), Target(of="beam mid", quantity="beam_over", stops=1.5),
        ),
        key=("hard through window",), notes="Rake the salt towards the window.",
    )  # fmt: skip


def crowd():
    """Twelve lights with long names and everything else by the handful."""
    base, lights = loft(), []
    for i in range(12):
        turn, soft = 2 * np.pi * i / 12, i % 3 == 0
        lights.append(
            Light(
                name=f"a long name for the light number {i + 1} at the racks",
                at=(3.1 + 2.6 * np.cos(turn), 2.3 + 1.9 * np.sin(turn), 1.2 + 0.15 * i), aim=(2.4 + 0.1 * i, 2.4, 1.2),
                distribution=Lambert(peak_cd=800) if soft else Beam(peak_cd=5000, beam_deg=20 + 2 * i, field_deg=60),
                face_width_m=0.6 * soft, face_height_m=0.6 * soft, dim=1 / (1 + i), watts=101 + 50 * i,
                kit="650 W open face with doors and scrims", gel=BLUE if i % 2 else None, diffusion=HALF if i % 4 == 1 else None,
            )
        )  # fmt: skip
    marks = tuple(
        Mark(name=f"mark {k} by the handcart", at=(1.5 + 0.7 * k, 1.6 + 0.5 * k, 1.5), aim=(5.6, 0.7, 1.5), figure=k < 2)
        for k in range(5)
    )
    board, flag = base.boards[0], base.flags[0]
    return replace(
        base, name="9Z the very long setup name that someone typed", title="Everything at once, " * 8, lights=tuple(lights),
        boards=tuple(
            replace(board, name=f"board {k} of the southern wall", at=(1 + 0.9 * k, 0.5 + 0.2 * k, 1.1)) for k in range(5)
        ),
        flags=tuple(replace(flag, name=f"flag {k}", at=(0.5 + k, 4.1, 2.0)) for k in range(4)), marks=marks,
        spots=tuple(Spot(name=f"spot {k} low", at=(1 + 0.8 * k, 4.7, 1 + 0.2 * k)) for k in range(5)),
        targets=tuple(Target(of=mark.name, quantity="level", stops=-0.3 * k) for k, mark in enumerate(marks)), key=(), notes="Long note. " * 40,
    )  # fmt: skip


def pans():
    """Open ground, sun, sky, a board, no lamp."""
    return Setup(
        name="5", title="Pans at dusk", place=Exterior(name="salt pans", width_m=40, depth_m=26, bearing_deg=300), camera=Camera(at=(20, 2, 1.2), aim=(20, 14, 1.3), focal_mm=50),
        boards=(Board(name="sheet on the dyke", at=(17, 11.5, 1.2), aim=(20, 13, 1.5), width_m=2, height_m=1.5, stuff=WHITE),),
        marks=(
            Mark(name="runner start", at=(14, 14, 1.6), aim=(20, 2, 1.5), figure=True),
            Mark(name="runner end", at=(26, 13, 1.6), aim=(20, 2, 1.5), figure=True),
        ),
        sun=Sun(bearing_deg=290, elevation_deg=3, normal_lx=9_000), sky=Sky(zenith_cd_m2=1_800, horizon_cd_m2=2_600), targets=(Target(of="runner end", quantity="level", stops=-2.0),), day=2,
    )  # fmt: skip


def bare():
    """The least a setup can be: a room and a camera."""
    return Setup(
        name="0",
        title="",
        place=Room(name="shed", width_m=3.3, depth_m=2.7, height_m=2.3),
        camera=Camera(at=(1.0, 0.4, 1.2), aim=(1.5, 2.0, 1.2)),
    )


SETUPS = {"loft": loft, "crowd": crowd, "pans": pans, "bare": bare}


def shoot(*setups, units="metric"):
    return Shoot(title="The Salt Ledger", setups=setups, units=units, days=2)


def readings(setup):
    """Plausible readings with no physics in them: levels run down from -0.3 in steps of 0.7."""
    grey_lx, grey = setup.camera.reference_lx, setup.camera.reference_cd_m2
    marks = []
    for i, mark in enumerate(setup.marks):
        lx = grey_lx * 2 ** (-0.3 - 0.7 * i)
        by = {name: lx * (0.6 if k == 0 else 0.3 / len(setup.source_names)) for k, name in enumerate(setup.source_names)}
        by["room"] = lx - sum(by.values())
        key = setup.key or setup.source_names[:1]
        key_lx = sum(by[name] for name in key)
        ratio, veil = lx / (lx - key_lx), 0.05 * (i + 1)
        marks.append(
            MarkReading(mark.name, lx, by, -0.3 - 0.7 * i, key, key_lx, lx - key_lx, ratio, ratio - 1, float(np.log2(ratio)),
                        -float(np.log2(ratio)), 0.8, grey * veil, float(np.log2(veil)), 0.06)
        )  # fmt: skip
    spots = tuple(
        SpotReading(s.name, grey * 2 ** (1.1 - 0.8 * j), 1.1 - 0.8 * j, 0.4 * grey, s.source,
                    grey * 2 ** (-0.6 - 0.8 * j) if s.source else np.nan, 1.7 if s.source else np.nan)
        for j, s in enumerate(setup.spots)
    )  # fmt: skip
    targets = []
    for t in setup.targets:
        miss = 0.9 if t.quantity == "beam_over" else 0.2
        targets.append(TargetReading(t.of, t.quantity, t.stops, t.within, t.stops + miss, miss <= t.within, miss))
    return Readings(setup.name, grey_lx, grey, tuple(marks), spots, tuple(targets))


def picture(setup, width=160):
    """A glow on a ramp."""
    y, x = np.mgrid[0 : width * 9 // 16, 0:width] / width
    glow = 0.05 + 3 * np.exp(-((x - 0.25) ** 2 + (y - 0.2) ** 2) / 0.01) + 0.2 * x
    return Picture((setup.camera.reference_cd_m2 * glow).astype(np.float32), setup.camera.reference_cd_m2)
