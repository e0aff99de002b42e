"""
How long the light takes, and how that grows. Run by hand, on an idle machine; no test depends on it.

    python tests/benchmark/bench.py                  all tables
    python tests/benchmark/bench.py --quick          without the first-ever compile and the path tracer
    python tests/benchmark/bench.py --equal ROOM     only the path tracer, on some rooms of tests/reference

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

from lightcalc.answers import readings
from lightcalc.engine import kernels, solve
from lightcalc.engine import picture as view
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Stuff
from lightcalc.scene.parts import Board, Camera, Haze, Light, Mark, Room, Setup, Spot, Window

RUNS = 20
PATHS, AT_ONCE = 60_000_000, 920_000  # of the path tracer: for a picture; traced together
ROOMS = ("grey_back", "black_back", "white_back", "grey_side", "board_flag")
START = """
import time
begun = time.perf_counter()
import lightcalc
bare = time.perf_counter() - begun
from lightcalc.answers import readings as meter
from lightcalc.engine import picture as view
from lightcalc.engine import solve as lit
from lightcalc.scene import shoot_file
whole = time.perf_counter() - begun
setup = shoot_file.load("data/salt_ledger.toml").setups[0]
light = lit.light(setup, "draft")
meter.readings(setup, lit=light), view.picture(setup, width=320, lit=light)
print(bare, whole, time.perf_counter() - begun)
"""


def loft(lights):
    """A hazed loft: a lamp through a barred window, a soft panel, two spots and more, two boards, a face; so many lights."""
    panes = Window(
        name="panes", wall="far", centre_m=2.5, sill_m=1.0, width_m=1.2, height_m=1.4, bars_upright=1, bars_across=2, bar_m=0.04
    )
    middle = (2.5, 2.0, 1.2)
    made = [
        Light(name="key", at=(3.2, 6.5, 3.2), aim=(2.2, 1.5, 0.8), distribution=Beam(peak_cd=1e5, beam_deg=20, field_deg=30)),
        Light(name="soft", at=(0.6, 1.0, 2.2), aim=middle, distribution=Lambert(peak_cd=1500), face_width_m=0.6, face_height_m=0.6),
        Light(name="torch", at=(4.4, 1.0, 2.2), aim=middle, distribution=Beam(peak_cd=2000, beam_deg=12, field_deg=25)),
        Light(name="back", at=(4.4, 3.5, 2.6), aim=middle, distribution=Beam(peak_cd=5000, beam_deg=30, field_deg=45)),
    ]
    # the second four as the first, stood a little aside
    more = [replace(light, name=f"{light.name} 2", at=(light.at[0] - 0.3, light.at[1] + 0.2, light.at[2])) for light in made]
    boards = (
        Board(name="white", at=(1.2, 1.2, 1.2), aim=middle, width_m=1.2, height_m=1.2, stuff=Stuff(name="white", reflectance=0.85)),
        Board(name="black", at=(3.9, 1.6, 1.2), aim=middle, width_m=1.2, height_m=1.2, stuff=Stuff(name="black", reflectance=0.03)),
    )
    camera = Camera(at=(2.0, 0.2, 1.4), aim=(2.5, 2.5, 1.3), focal_mm=20)
    return Setup(
        name="loft", title="Loft", place=Room(name="loft", width_m=5.0, depth_m=4.0, height_m=3.0, windows=(panes,)), camera=camera, lights=tuple((made + more)[:lights]),
        boards=boards, marks=(Mark(name="face", at=middle, aim=(2.0, 0.2, 1.4), figure=True),),
        spots=(Spot(name="beam", at=(2.4, 2.6, 1.4), source="key"),), haze=Haze(extinction_per_m=0.06, g=0.7),
    )  # fmt: skip


def once(setup, quality, width):
    """Light, readings and picture, in milliseconds each. [ms]"""
    ticks = [time.perf_counter()]
    light = solve.light(setup, quality)
    ticks.append(time.perf_counter())
    readings.readings(setup, lit=light)
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
    head(f"Four lights, two boards, a barred window, haze; {kernels.CORES} threads, {RUNS} runs, ms",
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
        light = solve.light(setup, quality)
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


def against_the_path_tracer(names):
    """
    Seconds both need for the same picture, equally far from the truth: draft at 320 x 180, final at 640 x 360.

    Over blocks of 5 x 5 of that picture's pixels, and over its pixels. The path tracer makes PATHS paths of it in two
    halves, A and B: our mean square error is the mean of (ours - A)(ours - B), which the noise of neither enters. Its own
    error falls as 1 / sqrt(time), so what it needs for ours is (its rms / ours)^2 times what it took.
    """
    try:
        import make_reference
    except ImportError as missing:
        print(f"\nNo path tracer here ({missing.name}): time at equal error not measured.")
        return
    import compare
    import rooms

    columns = [f"{of}: {what}" for of in ("blocks", "pixels") for what in ("rms, stop", "path tracer, s", "times ours")]
    head("The same picture at equal error", "room", "picture", "ours, s", *columns)
    for name in names:
        setup, table = rooms.all_rooms()[name], rooms.phase_table(name)
        tracer = make_reference.Scene(setup, phase=table)
        for quality, width in KINDS:
            made = [lit_and_pictured(setup, compare.half_sine(table), quality, width) for _ in range(9)]
            ours_s, ours = np.median([took for took, _ in made]), made[0][1].astype(float)
            theirs_s, halves = path_traced(tracer, ours.shape)
            cells = []
            for shrink in (rooms.blocks, lambda picture: picture):
                seen = shrink(ours)
                error, variance = squares(seen, shrink(halves), seen >= rooms.blocks(ours).max() / 64)
                needs = theirs_s * variance / error if error > 0 else np.inf
                cells += [f"{np.sqrt(max(error, 0)):.3f}", f"{needs:.1f}", f"{needs / ours_s:.0f}"]
            row(name, f"{quality}, {width} x {width * 9 // 16}", f"{ours_s:.3f}", *cells)


def lit_and_pictured(setup, phase, quality, width):
    """Seconds for light and picture, and the picture. [s, cd/m2]"""
    begun = time.perf_counter()
    light = solve.light(setup, quality, phase=phase, bulb_m=0.0)  # the path tracer's points are unseen
    shot = view.picture(setup, width=width, height=width * 9 // 16, lit=light)
    return time.perf_counter() - begun, shot.luminance_cd_m2


def path_traced(tracer, shape):
    """Seconds for PATHS paths, and the picture in two halves: (2, height, width). [s, cd/m2]"""
    height, width = shape
    spp = max(1, AT_ONCE // (width * height))
    turns = PATHS // (2 * spp * width * height)
    one = lambda seed: tracer.picture(seed, spp=spp, size=(width, height))[0].reshape(shape)
    one(2_000_000)  # compile, off the clock
    begun = time.perf_counter()
    halves = [np.mean([one(5_000 + half * turns + k) for k in range(turns)], axis=0) for half in (0, 1)]
    return time.perf_counter() - begun, np.array(halves)


def squares(ours, halves, counted):
    """Our mean square error, and the path tracer's variance after all its time; relative, in stops. [stops^2]"""
    off_a, off_b = ((ours - half)[counted] / ours[counted] / np.log(2) for half in halves)
    return np.mean(off_a * off_b), np.mean((off_a - off_b) ** 2) / 4


FORTY = """
import datetime as dt, resource, sys, time
from dataclasses import replace
from lightcalc.paper.book import write_book
from lightcalc.scene import shoot_file
demo, setups = shoot_file.load("data/salt_ledger.toml"), []
for k in range(5):
    cut = lambda s: s.cuts_to and f"{s.cuts_to}.{k}"
    setups += [replace(s, name=f"{s.name}.{k}", cuts_to=cut(s), day=s.day + 2 * k) for s in demo.setups]
dates = tuple(demo.dates[0] + dt.timedelta(days=n) for n in range(10))
shoot, begun = replace(demo, setups=tuple(setups), days=10, dates=dates), time.perf_counter()
write_book(shoot, sys.argv[1])
print(time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def book():
    """The demo five times over as one PDF: at most 60 s and 700 MB."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-c", FORTY, str(Path(folder) / "book.pdf")]
        said = subprocess.run(command, cwd=HOME, capture_output=True, text=True, check=True).stdout
    seconds, megabytes = (float(word) for word in said.split())
    print(f"\nbook of 40 setups: {seconds:.0f} s, {megabytes:.0f} MB")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--quick", action="store_true", help="leave out the first-ever compile and the path tracer")
    parser.add_argument("--equal", nargs="+", metavar="ROOM", help="only the path tracer, on some rooms of tests/reference")
    asked = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} (above 0.5, other work is timed too); numba {numba.__version__}")
    if not asked.equal:
        speed()
        growth()
    if not (asked.quick or asked.equal):
        starting()
        book()
    if not asked.quick:
        against_the_path_tracer(asked.equal or ROOMS)


if __name__ == "__main__":
    main()
