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

if __name__ == "__main__":
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


def moved(setup, k):
    """The key a little aside, as a hand would have it, so that nothing is answered from a cache."""
    at = setup.lights[0].at
    return setup.with_part("key", at=(at[0] + 0.01 * k, *at[1:]))


def timed(cases):
    """Each case RUNS times, turn and turn about so that other work on the machine falls on all alike: (RUNS, cases, ...)."""
    return np.array([[case(k) for case in cases] for k in range(RUNS + 2)])[2:]  # the first two warm up


def row(*cells):
    print("| " + " | ".join(str(cell) for cell in cells) + " |", flush=True)


def head(title, *columns):
    print(f"\n{title}\n")
    row(*columns)
    row(*["---"] * len(columns))


KINDS = (("draft", 320), ("final", 640))


def speed():
    head(f"Four lights, two boards, a barred window, haze; {numba.get_num_threads()} threads, {RUNS} runs, ms",
         "what", "light", "readings", "picture", "all: median", "least", "95th of 100")  # fmt: skip
    for quality, width in KINDS:
        parts = timed([lambda k: once(moved(loft(4), k), quality, width)])[:, 0]
        whole = parts.sum(axis=1)
        cells = *np.median(parts, axis=0), np.median(whole), whole.min(), np.percentile(whole, 95)
        row(f"{quality}, {width} x {width * 9 // 16}", *[f"{ms:.1f}" for ms in cells])


def growth():
    """Doubled lights, doubled pixels; a factor of 2 is linear."""
    head("More lights: all, median and least, ms; growth of the median from the row above", "lights", "draft 320", "final 640")
    many = (1, 2, 4, 8)
    table_of([timed([lambda k, n=n, what=what: once(moved(loft(n), k), *what).sum() for n in many]) for what in KINDS], many)
    head("More pixels, four lights: the picture alone, the same way", "picture", "draft", "final")
    widths, setup, found = (320, 452, 640, 904, 1280), loft(4), []
    for quality, _ in KINDS:
        light = lit.light(setup, quality)
        found.append(timed([lambda k, w=w, light=light: picture_ms(light, w) for w in widths]))
    table_of(found, [f"{width} x {width * 9 // 16}" for width in widths])


def picture_ms(light, width):
    """A picture of light already worked out. [ms]"""
    begun = time.perf_counter()
    view.picture(light.setup, width=width, height=width * 9 // 16, lit=light)
    return 1e3 * (time.perf_counter() - begun)


def table_of(found, labels):
    """One row a case: for each kind its median and least, and how much the median grew."""
    middle, least = (np.array([take(runs, axis=0) for runs in found]) for take in (np.median, np.min))
    for k, label in enumerate(labels):
        grown = [f", x {m[k] / m[k - 1]:.2f}" if k else "" for m in middle]
        row(label, *[f"{m[k]:.1f}, {a[k]:.1f}{g}" for m, a, g in zip(middle, least, grown)])


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


def against_the_path_tracer():
    """
    Time of both on some rooms, in this run, at equal error against the stored answer: over blocks, and over pixels.

    The path tracer's error falls as 1 / sqrt(time): what it needs for our rms is (its rms / ours)^2 times what it took.
    The stored answer's own error is taken out of both. A block is 25 pixels of 80 x 45. The path tracer's pixels are
    five times as rough as its blocks; ours are not, for nothing in them is drawn by lot.
    """
    try:
        import make_reference
    except ImportError as missing:
        print(f"\nNo path tracer here ({missing.name}): time at equal error not measured.")
        return
    import rooms

    columns = [f"{of}: {what}" for of in ("blocks", "pixels") for what in ("rms, stop", "path tracer, s", "ratio")]
    head("Light and picture at equal error", "room", "quality", "ours, s", *columns)
    for name in ("grey_back", "black_back", "white_back", "grey_side", "board_flag"):
        setup, stored = rooms.all_rooms()[name], rooms.load(name)
        theirs_s, variances, own = path_traced(make_reference, setup, rooms, stored)
        for quality in ("draft", "final"):
            ours_s = 1e-3 * np.median([lit_and_pictured_ms(setup, quality) for _ in range(9)])
            cells = []
            for squares, variance, mine in zip(off_squares(name, quality, rooms, stored), variances, own):
                error = max(squares - mine, 0.0)
                if error == 0:  # lost in the stored answer's own
                    cells += ["0", "-", "-"]
                    continue
                needs = theirs_s * variance / error
                cells += [f"{np.sqrt(error):.3f}", f"{needs:.1f}", f"{needs / ours_s:.0f}"]
            row(name, quality, f"{ours_s:.3f}", *cells)


def lit_and_pictured_ms(setup, quality):
    """Light and a 320 x 180 picture. [ms]"""
    begun = time.perf_counter()
    view.picture(setup, width=320, height=180, lit=lit.light(setup, quality))
    return 1e3 * (time.perf_counter() - begun)


def that_count(rooms, stored):
    """The blocks within six stops of the brightest, and their pixels: masks of both pictures."""
    blocks = rooms.blocks(stored.picture)
    counted = blocks >= blocks.max() / 64
    return counted, np.kron(counted, np.ones((rooms.BLOCK, rooms.BLOCK), dtype=bool))


def off_squares(name, quality, rooms, stored):
    """Mean square of our distance from the stored answer, over blocks and over pixels. [stops^2]"""
    from compare import pixels_of

    ours, (blocks, pixels) = pixels_of(name, quality), that_count(rooms, stored)
    of_blocks = np.log2(rooms.blocks(ours) / rooms.blocks(stored.picture))[blocks]
    of_pixels = (ours / stored.picture - 1)[pixels] / np.log(2)  # as the path tracer's: relative, not a logarithm
    return np.mean(of_blocks**2), np.mean(of_pixels**2)


def path_traced(tracer, setup, rooms, stored, passes=16):
    """Seconds a pass; variance of a pass over blocks and pixels; the same of the stored answer. [s, stops^2, stops^2]"""
    scene, every = tracer.Scene(setup), np.arange(rooms.WIDTH * rooms.HEIGHT)
    scene.picture(2_000_000, every, 2)  # compile, off the clock
    begun = time.perf_counter()
    found = np.concatenate([scene.picture(seed, every, 2) for seed in range(5_000, 5_000 + passes // 2)])
    took = (time.perf_counter() - begun) / passes
    found = found.reshape(passes, rooms.HEIGHT, rooms.WIDTH)
    blocks, pixels = that_count(rooms, stored)
    share = lambda stack, truth: stack.var(axis=0, ddof=1) / (truth * np.log(2)) ** 2
    of_blocks, of_pixels = share(rooms.blocks(found), rooms.blocks(stored.picture)), share(found, stored.picture)
    stored_passes = np.kron(stored.spp / tracer.SPP, np.ones((rooms.BLOCK, rooms.BLOCK)))
    own = (stored.picture_se / rooms.blocks(stored.picture) / np.log(2))[blocks] ** 2
    return took, (of_blocks[blocks].mean(), of_pixels[pixels].mean()), (own.mean(), (of_pixels / stored_passes)[pixels].mean())


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--quick", action="store_true", help="leave out the first-ever compile and the path tracer")
    asked = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} (above 0.5, other work is timed too); numba {numba.__version__}")
    speed()
    growth()
    if not asked.quick:
        starting()
        against_the_path_tracer()


if __name__ == "__main__":
    main()
