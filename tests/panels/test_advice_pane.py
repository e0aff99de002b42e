"""Advice on the board: asked for the setup as it stands, taken on its stage, taken back by Undo."""

import shutil

import pytest

import lightcalc as lc
from lightcalc.panels.shoot_board import ShootBoard


@pytest.fixture
def board(tmp_path):
    shutil.copy(lc.demo_path(), tmp_path / "film.toml")
    return ShootBoard(tmp_path / "film.toml")


def pane_of(board):
    return board._tabs.children[board._tabs.titles.index("Advice")]


@pytest.mark.slow
def test_advice_is_taken_on_the_stage_and_undone(board):
    pane = pane_of(board)
    board.choose("4")
    board.stage.setup = board.stage.setup.with_part("torch", dim=0.1)
    pane._go.click()
    assert "dim torch by 2.6 stops" in pane._said.value and not pane._take.disabled
    pane._take.click()
    assert board.stage.readings.met and board.stage.setup.part("torch").dim == pytest.approx(0.0165, abs=0.0005)
    assert "Taken; Undo on the stage takes it back" in pane._said.value and pane._take.disabled
    board.stage.undo()
    assert board.stage.setup.part("torch").dim == 0.1


@pytest.mark.slow
def test_what_may_move_is_ticked_and_a_met_setup_is_left(board):
    pane = pane_of(board)
    assert pane._may["dim"].value and not pane._may["shutter"].value
    asked = []
    pane._ask = lambda setup, *, may, told: asked.append(may) or lc.advise(setup, may=may)
    pane._may["dim"].value = False
    pane._go.click()
    assert asked == [("stop", "iso", "nd", "board", "lamp", "haze")]
    assert "every target is met; nothing to move" in pane._said.value and pane._take.disabled
    pane.take()  # nothing to take
    assert board.chosen == ""
