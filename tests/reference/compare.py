"""
How far lightcalc is from the stored answers, room by room.

    python tests/reference/compare.py           print the table
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [path for path in (str(HERE), str(HERE.parents[1])) if path not in sys.path]

from lightcalc.engine.geometry import half_sine_table
from lightcalc.engine.picture import picture
from lightcalc.engine.rows import PHASE_STEPS
from lightcalc.engine.solve import light

import rooms

FINER = 4  # pixels of ours along the side of a stored pixel, whose mean over its square they make
STOPS = 6.0  # blocks this far under the brightest count


@dataclass(frozen=True)
class Found:
    """One room against its stored answer, in stops; `block_stops` holds the blocks that count."""

    block_stops: np.ndarray
    mark_stops: np.ndarray
    mark_se_stops: np.ndarray  # the stored answer's own standard error

    @property
    def rms_stops(self):
        """Root mean square over the blocks."""
        return float(np.sqrt(np.mean(self.block_stops**2)))

    @property
    def worst_stops(self):
        """The block that is furthest off, with its sign."""
        return float(self.block_stops[np.abs(self.block_stops).argmax()])


def half_sine(table):
    """What the engine takes for a phase function (cosine, phase_per_sr); None, for Henyey-Greenstein, stays None."""
    return None if table is None else half_sine_table(lambda theta: np.interp(np.cos(theta), *table), PHASE_STEPS)


@cache
def lit_room(name, quality):
    """A room's light, with the phase function that its stored answer was made with."""
    return light(rooms.all_rooms()[name], quality, phase=half_sine(rooms.load(name).phase), bulb_m=0.0)  # points there are unseen


@cache
def marks_lx(name, quality):
    """Illuminance at a room's marks, all sources together. [lx]"""
    marks = rooms.all_rooms()[name].marks
    facing = [np.subtract(mark.aim, mark.at) for mark in marks]
    dome = [mark.receptor == "dome" for mark in marks]
    return lit_room(name, quality).illuminance_lx([mark.at for mark in marks], facing, dome=dome).sum(axis=1)


@cache
def pixels_of(name, quality):
    """A room's picture, each pixel the mean over the square of a stored pixel, (HEIGHT, WIDTH). [cd/m2]"""
    lit = lit_room(name, quality)
    fine = picture(lit.setup, width=FINER * rooms.WIDTH, height=FINER * rooms.HEIGHT, lit=lit).luminance_cd_m2
    return fine.reshape(rooms.HEIGHT, FINER, rooms.WIDTH, FINER).mean(axis=(1, 3), dtype=float)


@cache
def compare(name, quality="final"):
    """A room against its stored answer."""
    stored = rooms.load(name)
    ours, theirs = rooms.blocks(pixels_of(name, quality)), rooms.blocks(stored.picture)
    counted = theirs >= theirs.max() * 2.0**-STOPS
    return Found(
        block_stops=np.log2(ours[counted] / theirs[counted]),
        mark_stops=np.log2(marks_lx(name, quality) / stored.marks),
        mark_se_stops=stored.marks_se / stored.marks / np.log(2),
    )


def draft_from_final(name):
    """How far a room's draft picture is from its final, over the blocks that count. [stops]"""
    draft, final = (rooms.blocks(pixels_of(name, quality)) for quality in ("draft", "final"))
    stored = rooms.blocks(rooms.load(name).picture)
    counted = stored >= stored.max() * 2.0**-STOPS
    return np.log2(draft[counted] / final[counted])


def table():
    """All rooms as a markdown table."""
    rows = [
        "| room | haze 1/m | g | picture rms | worst block | marks | draft, from final: rms | worst | marks |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for name, setup in rooms.all_rooms().items():
        found, haze = compare(name), setup.haze
        g = "-" if haze.extinction_per_m == 0 else f"{haze.g:g}" if rooms.load(name).phase is None else "table"
        draft, off = np.log2(marks_lx(name, "draft") / marks_lx(name, "final")), draft_from_final(name)
        in_stops = lambda values: " ".join(f"{value:+.3f}" for value in values)
        rows.append(
            f"| {name} | {haze.extinction_per_m:g} | {g} | {found.rms_stops:.3f} | {found.worst_stops:+.2f} "
            f"| {in_stops(found.mark_stops)} | {np.sqrt(np.mean(off**2)):.3f} | {off[np.abs(off).argmax()]:+.2f} | {in_stops(draft)} |"
        )
    return "\n".join(rows)


if __name__ == "__main__":
    print(table())
