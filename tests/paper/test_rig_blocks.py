"""What one builds from on paper: power, what boards give, where light lands, and the cautions that apply."""

from dataclasses import replace

import numpy as np
import pytest

from lightcalc.answers import light_patch
from lightcalc.kit.candela import Beam
from lightcalc.kit.materials import default_kit
from lightcalc.laws.haze import HAZE_CAUTION
from lightcalc.laws.power import HEAT_CAUTION, POWER_CAUTION
from lightcalc.paper import rig_blocks
from lightcalc.paper.page import PAPERS
from lightcalc.scene import shoot_file, shoot_read
from lightcalc.scene.parts import Board, Haze, Light, Mark, SceneError, Sun

import drawn_parts as parts

WIDE = 188.0
LAMP = Light(name="lamp", at=(1, 1, 1.5), aim=(2, 2, 1.2), distribution=Beam(peak_cd=1e3, beam_deg=30, field_deg=50))


@pytest.mark.parametrize("units", ["metric", "feet"])
def test_where_light_through_windows_lands_is_said_with_distances(units):
    # The words themselves are held against the polygons in test_light_patch.
    setup = parts.loft()
    words = " ".join(rig_blocks.landed(setup, units))
    for beam in light_patch.beams(setup):
        lies = light_patch.patch_words(setup.place, beam.patches, units=units)
        assert (lies != "" and lies in words) == beam.through_windows, beam.source
    assert "Light of 1 hard through window lands on the " in words and "Light of the sun lands on the " in words
    missed = replace(setup.lights[0], aim=(-9.0, 2.0, 1.0))
    assert "lands nowhere: its beam meets no window." in rig_blocks.landed(replace(setup, lights=(missed,)), units)[0]


def test_only_the_cautions_that_apply():
    bare, pans = parts.bare(), replace(parts.pans(), boards=(), sky=None, sun=None)
    assert rig_blocks.cautions(bare) == () == rig_blocks.cautions(pans)
    sun = Sun(bearing_deg=180, elevation_deg=20, normal_lx=5e4)
    windowed = replace(parts.loft(), lights=(), boards=(), flags=(), frames=(), haze=Haze(), key=(), spots=(), targets=(), sun=sun)
    cases = [
        (replace(bare, haze=Haze(extinction_per_m=0.05)), (HAZE_CAUTION,)),
        (replace(bare, lights=(replace(LAMP, watts=100, kit="60x60 cm soft panel"),)), (POWER_CAUTION,)),
        (replace(bare, lights=(replace(LAMP, watts=650, kit="no such lamp"),)), (POWER_CAUTION, HEAT_CAUTION)),
        (replace(bare, lights=(replace(LAMP, at=(1, 1, 2.2)),)), (rig_blocks.HEIGHT_CAUTION,)),
        (replace(bare, lights=(replace(LAMP, at=(-1, 1, 1.5)),)), (rig_blocks.OUTSIDE_CAUTION,)),
        (replace(pans, sun=sun), (rig_blocks.SUN_CAUTION,)),
        (windowed, (rig_blocks.SUN_CAUTION,)),
        (replace(pans, sun=replace(sun, body="moon", normal_lx=0.2)), ()),
        (replace(bare, sun=sun), ()),  # a shed without a window
        (replace(pans, sun=replace(sun, elevation_deg=-8, normal_lx=0)), ()),
    ]
    for setup, wanted in cases:
        assert rig_blocks.cautions(setup) == wanted


@pytest.mark.parametrize("paper", PAPERS.values(), ids=lambda paper: paper.name)
def test_all_cautions_together_take_a_fifth_of_the_page_at_most(paper):
    setup = parts.loft()
    assert len(rig_blocks.cautions(setup)) == 6
    for size in (6.5, 7.5):
        assert rig_blocks.Words("Cautions", rig_blocks.cautions(setup), paper.wide).height(size) < paper.height / 5


# --- power -----------------------------------------------------------------------------------------


def test_the_column_of_amps_and_the_words_under_it():
    # DERIVED: 1000 and 120 W at 120 V are 8.33 and 1 A; the first is over 0.8 x 10 = 8 A, so no circuit of 10 A carries it.
    small = replace(parts.shoot(parts.loft()), mains_volts=120.0, breaker_amps=10.0)
    table = rig_blocks.lights(small, parts.loft(), width=WIDE)
    assert [row[6:8] for row in table.rows] == [("1000", "8.3"), ("120", "1")]
    assert table.foot.startswith("Power: 1120 W") and "hard through window alone needs a breaker of 11 A or more" in table.foot


def test_mains_come_from_the_file_and_are_bounded():
    text = shoot_file.new_text("Low tide")
    read = shoot_read.loads(
        text.replace("# mains_volts = 230 ", "mains_volts = 115 ").replace("# breaker_amps = 16 ", "breaker_amps = 20 ", 1)
    )
    assert (read.mains_volts, read.breaker_amps) == (115.0, 20.0)
    assert (shoot_read.loads(text).mains_volts, shoot_read.loads(text).breaker_amps) == (230.0, 16.0)
    with pytest.raises(SceneError, match="mains_volts must be >= 100 and <= 277 V, got 24"):
        replace(read, mains_volts=24.0)


# --- boards ----------------------------------------------------------------------------------------


def fed(by_source, key=("lamp",)):
    """Readings of two marks with so many lux by source at the first, and nothing of a board at the second."""
    read = parts.readings(parts.loft())
    whole, key_lx = sum(by_source.values()), sum(by_source[name] for name in key)
    first = replace(read.marks[0], illuminance_lx=whole, by_source=by_source, key=key, key_lx=key_lx, fill_lx=whole - key_lx)
    return replace(read, marks=(first, replace(read.marks[1], by_source={"room": 5.0}, key=(), fill_lx=5.0)))


@pytest.mark.parametrize(
    "board_lx, key, words",
    [
        (0.0, ("lamp",), "nothing: under 1/20 stop at every mark"),
        (0.6, ("lamp",), "nothing: under 1/20 stop at every mark"),  # DERIVED: log2(20.6 / 20) = 0.043
        (0.8, ("lamp",), "raker face: +0.1 of fill"),  # log2(20.8 / 20) = 0.057
        (20.0, ("lamp",), "raker face: +1.0 of fill"),  # as much again, though the key is 1000 lx
        (1020.0, ("lamp", "board"), "raker face: +1.0 of its light"),
    ],
)  # fmt: skip
def test_what_a_board_gives_is_told_against_the_fill(board_lx, key, words):
    assert rig_blocks.gives_words(fed({"lamp": 1000.0, "board": board_lx, "room": 20.0}, key), "board") == words


def test_a_board_that_gives_nothing_is_named_and_black_takes_away():
    setup = parts.loft()
    black = replace(setup.boards[0], name="negative", stuff=default_kit().stuff["black"])
    spare = replace(setup.boards[0], name="spare")
    read = parts.readings(setup)
    table = rig_blocks.boards(replace(setup, boards=(*setup.boards, black, spare)), read, width=WIDE)
    gives = {row[2]: row[5] for row in table.rows}
    assert gives["negative"] == gives["cut off wall"] == "takes light away"
    assert gives["spare"].startswith("nothing: ") and gives["folded sail"].startswith("raker face: +")
    assert rig_blocks.gives_words(replace(read, marks=()), "spare") == "–"  # nobody reads anything


# --- by the tape -----------------------------------------------------------------------------------


def test_a_rolled_board_has_its_column():
    setup = parts.loft()
    assert "Roll" not in rig_blocks.tape(setup, width=WIDE).heads
    rolled = rig_blocks.tape(setup.with_part("folded sail", roll_deg=-15.0), width=WIDE)
    column = rolled.heads.index("Roll")
    assert {row[1]: row[column] for row in rolled.rows if row[column]} == {"folded sail": "−15°"}


def test_a_mark_may_be_called_like_a_lamp():
    # DERIVED: the mark stands at its own place and has no call sign.
    setup = replace(parts.bare(), lights=(LAMP,), marks=(Mark(name="lamp", at=(2.0, 2.0, 1.2), aim=(1.0, 1.0, 1.5)),))
    rows = rig_blocks.tape(setup, width=WIDE).rows
    assert [row[:3] for row in rows] == [("1", "lamp", "lamp"), ("", "lamp", "–"), ("", "camera", "–")]
    assert np.array(rows)[:2, 3].tolist() == [
        "1 m from the left wall, 1 m from the near wall", "1.3 m from the right wall, 0.7 m from the far wall",
    ]  # fmt: skip


def test_beyond_the_edge_of_the_plan_is_said_so():
    # DERIVED: x = -2 m and y = 28 m on a ground of 40 x 26 m: 2 m beyond both edges.
    board = Board(name="far sheet", at=(-2.0, 28.0, 1.2), aim=(20, 13, 1.5), width_m=2, height_m=1.5, stuff=parts.WHITE)
    rows = rig_blocks.tape(replace(parts.pans(), boards=(board,)), width=WIDE).rows
    assert rows[0][3] == "2 m beyond the left edge, 2 m beyond the far edge"
