"""
The whole engine against rooms traced by a path tracer: pictures block by block, and marks.

INDEPENDENT throughout: the stored answers were made by Mitsuba 3 (`reference/make_reference.py`), which shares no
code with the engine. Both assume rays, an even haze and matte surfaces. `python tests/reference/compare.py` prints
the whole table.
"""

import numpy as np
import pytest

from lightcalc.scene.parts import Room

import rooms
from compare import compare, draft_from_final, marks_lx

NAMES = tuple(rooms.all_rooms())
RMS, WORST = 0.07, 0.25  # stops, over 5 x 5 pixels of 80 x 45
MARK = 0.05
THICK = {"thick_back": (0.10, 0.35)}  # 0.4 per metre, g 0.85
MOSTLY = {"beside_shaft": 91, "board_yard": 88}  # blocks of 144 that have light enough to be compared
DRAFT_RMS, DRAFT_WORST = 0.08, 0.30  # a draft from its own final
THICK_DRAFT = {"thick_back": (0.13, 0.50), "beside_shaft": (0.08, 0.40)}
AWAY_DRAFT = {"door_half": 0.07}  # behind the leaf, a fortieth of what falls before it


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_picture_is_the_path_tracers(name):
    found = compare(name)
    assert found.block_stops.size >= MOSTLY.get(name, 100), "most of the picture counts"
    rms, worst = THICK.get(name, (RMS, WORST))
    assert found.rms_stops <= rms, f"rms {found.rms_stops:.3f}"
    assert abs(found.worst_stops) <= worst, f"worst block {found.worst_stops:+.3f}"


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.slow
def test_marks_are_the_path_tracers(name):
    found = compare(name)
    assert (np.abs(found.mark_stops) <= MARK).all(), found.mark_stops


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_draft_reads_like_final(name):
    # PINNED in size: drafts and finals differ only in counts.
    off = np.log2(marks_lx(name, "draft") / marks_lx(name, "final"))
    assert (np.abs(off) <= AWAY_DRAFT.get(name, MARK)).all(), off


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_draft_looks_like_final(name):
    # PINNED in size, as marks are: block by block, where the stored picture has light enough.
    off, (rms, worst) = draft_from_final(name), THICK_DRAFT.get(name, (DRAFT_RMS, DRAFT_WORST))
    assert np.sqrt(np.mean(off**2)) <= rms
    assert np.abs(off).max() <= worst


def test_rooms_cover_what_is_claimed():
    # White to black, clear to thick, evenly scattering to forward, light from behind, side and front, bars, board, flag, panel.
    setups = rooms.all_rooms().values()
    indoors = [setup for setup in setups if isinstance(setup.place, Room)]
    assert len(indoors) >= 10 and len(indoors) < len(setups)
    walls = [setup.place.near for setup in indoors]
    assert min(walls) <= 0.04 and max(walls) >= 0.8
    haze = [setup.haze.extinction_per_m for setup in setups]
    assert min(haze) == 0 and min(h for h in haze if h) <= 0.01 and max(haze) >= 0.3
    assert {setup.name.split("_")[1] for setup in setups} >= {"back", "side", "front", "yard"}
    assert any(window.bars_upright for setup in indoors for window in setup.place.windows)
    assert any(s.boards for s in setups) and any(s.flags for s in setups)
    assert any(s.pieces for s in setups) and sum(mark.figure for s in setups for mark in s.marks) > 4
    assert any(light.face_width_m for setup in setups for light in setup.lights)
