"""
How long the light takes, and how that grows. Run by hand, on an idle machine; no test depends on it.

    python tests/benchmark/bench.py             all tables
    python tests/benchmark/bench.py --quick     without the first-ever compile and the path tracer

The path tracer (`pip install mitsuba`, LLVM; see tests/reference/make_reference.py) is timed when it is there.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

os.environ.pop("OPENBLAS_CORETYPE", None)  # before numpy: a core type set by hand slows its small products
HOME = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(HOME), str(HOME / "tests" / "reference")]

import numba
import numpy as np

from lightcalc import lit, meter, view
from lightcalc.fixtures import Beam, Lambert
from lightcalc.materials import Stuff
from lightcalc.scene import Board, Camera, Haze, Light, Mark, Room, Setup, Spot, Window

RUNS = 20
START = """
import time
begun = time.perf_counter()
import lightcalc
bare = time.perf_counter() - begun
from lightcalc import lit, meter, shootfile, view
whole = time.perf_counter() - begun
setup = shootfile.load("data/salt_ledger.toml").setups[0]
light = lit.light(setup, "draft")
meter.readings(setup, lit=light), view.picture(setup, width=320, lit=light)
print(bare, whole, time.perf_counter() - begun)
"""


def loft(lights):
    """A hazed loft: a lamp through a barred window, a soft panel, two spots and more, two boards, a face; so many lights."""
    panes = Window("panes", "far", 2.5, 1.0, 1.2, 1.4, bars_upright=1, bars_across=2, bar_m=0.04)
    middle = (2.5, 2.0, 1.2)
    made = [
        Light("key", (3.2, 6.5, 3.2), (2.2, 1.5, 0.8), Beam(peak_cd=1e5, beam_deg=20, field_deg=30)),
        Light("soft", (0.6, 1.0, 2.2), middle, Lambert(peak_cd=1500), face_width_m=0.6, face_height_m=0.6),
        Light("torch", (4.4, 1.0, 2.2), middle, Beam(peak_cd=2000, beam_deg=12, field_deg=25)),
        Light("back", (4.4, 3.5, 2.6), middle, Beam(peak_cd=5000, beam_deg=30, field_deg=45)),
    ]
    # the second four as the first, stood a little aside
    more = [replace(light, name=f"{light.name} 2", at=(light.at[0] - 0.3, light.at[1] + 0.2, light.at[2])) for light in made]
    boards = (
        Board("white", (1.2, 1.2, 1.2), middle, 1.2, 1.2, Stuff(name="white", reflectance=0.85)),
        Board("black", (3.9, 1.6, 1.2), middle, 1.2, 1.2, Stuff(name="black", reflectance=0.03)),
    )
    camera = Camera((2.0, 0.2, 1.4), (2.5, 2.5, 1.3), focal_mm=20)
    return Setup(
        "loft", "Loft", Room("loft", 5.0, 4.0, 3.0, windows=(panes,)), camera, lights=tuple((made + more)[:lights]),
        boards=boards, marks=(Mark("face", middle, (2.0, 0.2, 1.4), figure=True),),
        spots=(Spot("beam", (2.4, 2.6, 1.4), source="key"),), haze=Haze(0.06, g=0.7),
    )  # fmt: skip


def once(setup, quality, width):
    """Light, readings and picture, in milliseconds each. [ms]"""
    ticks = [time.perf_counter()]
    light = lit.light(setup, quality)
    ticks.append(time.perf_counter())
    meter.readings(setup, lit=light)
    ticks.append(time.perf_counter())
    view.picture(setup, width=width, height=width * 9 // 16, lit=light)
    ticks.append(time.perf_counter())
    return 1e3 * np.diff(ticks)


def timed(setup, quality, width):
    """RUNS runs, the key moved a little each time as a hand would: (RUNS, 3). [ms]"""
    at = setup.lights[0].at
    moved = [setup.with_part("key", at=(at[0] + 0.01 * k, *at[1:])) for k in range(RUNS + 2)]
    return np.array([once(setup, quality, width) for setup in moved])[2:]  # the first two warm up


def row(*cells):
    print("| " + " | ".join(str(cell) for cell in cells) + " |")


def head(title, *columns):
    print(f"\n{title}\n")
    row(*columns)
    row(*["---"] * len(columns))


def speed():
    head(f"Four lights, two boards, a barred window, haze; {numba.get_num_threads()} threads, {RUNS} runs, ms",
         "what", "light", "readings", "picture", "all: median", "95th of 100")  # fmt: skip
    for quality, width in (("draft", 320), ("final", 640)):
        parts = timed(loft(4), quality, width)
        whole = parts.sum(axis=1)
        parts_text = [f"{ms:.1f}" for ms in np.median(parts, axis=0)]
        row(f"{quality}, {width} x {width * 9 // 16}", *parts_text, f"{np.median(whole):.1f}", f"{np.percentile(whole, 95):.1f}")


def growth():
    head("More lights: median, ms, and growth from the row above", "lights", "draft 320", "", "final 640", "")
    before = None
    for lights in (1, 2, 4, 8):
        now = [np.median(timed(loft(lights), *what).sum(axis=1)) for what in (("draft", 320), ("final", 640))]
        grown = [f"x {a / b:.2f}" for a, b in zip(now, before)] if before else ["", ""]
        row(lights, f"{now[0]:.1f}", grown[0], f"{now[1]:.1f}", grown[1])
        before = now
    head("More pixels, four lights: the picture alone, median, ms", "picture", "pixels", "draft", "", "final", "")
    before = None
    for width in (320, 448, 640, 896, 1280):
        now = [np.median(timed(loft(4), quality, width)[:, 2]) for quality in ("draft", "final")]
        grown = [f"x {a / b:.2f}" for a, b in zip(now, before)] if before else ["", ""]
        row(f"{width} x {width * 9 // 16}", width * (width * 9 // 16), f"{now[0]:.1f}", grown[0], f"{now[1]:.1f}", grown[1])
        before = now


def start(cache):
    """A fresh Python: import, import of everything, and the first readings and picture. [s]"""
    environment = os.environ | {"XDG_CACHE_HOME": str(cache)}
    out = subprocess.run([sys.executable, "-c", START], cwd=HOME, env=environment, capture_output=True, text=True, check=True)
    return [float(value) for value in out.stdout.split()]


def starting():
    head("From nothing, s", "", "import lightcalc", "import of the engine", "first readings and picture are there")
    with tempfile.TemporaryDirectory() as cache:
        row("first ever, compiling", *[f"{s:.2f}" for s in start(cache)])
        again = np.median([start(cache) for _ in range(3)], axis=0)
        row("again, compiled code kept", *[f"{s:.2f}" for s in again])


def against_the_path_tracer(name="grey_back"):
    """
    Time of both on one room, in this run, at the path tracer's error equal to ours.

    The path tracer's error falls as 1 / sqrt(time), so what it would need for our rms is (its rms / ours)^2 times what
    it took. Both errors are over the blocks that count, against the stored answer; that answer's own error is small
    against both.
    """
    try:
        import make_reference
    except ImportError as missing:
        print(f"\nNo path tracer here ({missing.name}): time at equal error not measured.")
        return
    import rooms
    from compare import compare, lit_room

    setup, stored = rooms.all_rooms()[name], rooms.blocks(rooms.load(name).picture)
    counted = stored >= stored.max() / 64
    rms = lambda picture: np.sqrt(np.mean(np.log2(rooms.blocks(picture)[counted] / stored[counted]) ** 2))
    ours = compare(name).rms_stops
    lit_room.cache_clear()
    took = []
    for _ in range(7):
        begun = time.perf_counter()
        light = lit.light(setup, "final")
        view.picture(setup, width=320, height=180, lit=light)
        took.append(time.perf_counter() - begun)
    scene, spp, every = make_reference.Scene(setup), make_reference.SPP, np.arange(rooms.WIDTH * rooms.HEIGHT)
    scene.picture(2_000_000)  # compile, off the clock
    begun = time.perf_counter()
    passes = np.concatenate([scene.picture(seed, every, 2) for seed in range(5_000, 5_004)])
    theirs_s = (time.perf_counter() - begun) / len(passes)
    theirs = np.sqrt(np.mean([rms(one.reshape(rooms.HEIGHT, rooms.WIDTH)) ** 2 for one in passes]))
    needs = theirs_s * (theirs / ours) ** 2
    head(f"Equal error: {name}, {setup.haze.extinction_per_m:g} per metre", "", "rms of blocks, stop", "time, s")
    row("lightcalc, final", f"{ours:.3f}", f"{np.median(took):.3f}")
    row(f"path tracer, {spp} paths a pixel of {rooms.WIDTH} x {rooms.HEIGHT}", f"{theirs:.3f}", f"{theirs_s:.2f}")
    row("path tracer, at our rms", f"{ours:.3f}", f"{needs:.2f}")
    row("ratio", "", f"{needs / np.median(took):.0f}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--quick", action="store_true", help="leave out the first-ever compile and the path tracer")
    asked = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; Python {sys.version.split()[0]}, numba {numba.__version__}")
    speed()
    growth()
    if not asked.quick:
        starting()
        against_the_path_tracer()


if __name__ == "__main__":
    main()
