"""The board of a whole shoot: files, targets, stage, order, paper, and errors said in its own line."""

from dataclasses import replace

import ipywidgets
import pytest
import traitlets

from lightcalc.panels import shoot_board
from lightcalc.panels.shoot_board import ShootBoard, shoot_files
from lightcalc.scene import shoot_file, shoot_read

import drawn_parts as parts


class Stand(ipywidgets.VBox):
    """Stands for a stage: the board asks it for its setup, its readings, and when it has settled."""

    shown = traitlets.Dict()

    def __init__(self, setup, *, shoot_file, units):
        super().__init__()
        self.setup, self.shoot_file, self.units, self.readings = setup, shoot_file, units, read(setup)

    def move(self, setup, quality="final"):
        self.setup, self.readings = setup, read(setup)
        self.shown = {"quality": {"readings": quality}, "at": str(setup)}


def read(setup):
    return parts.readings(setup)


@pytest.fixture
def path(tmp_path):
    shoot = shoot_read.loads(shoot_file.new_text("Low Tide"))
    first = replace(shoot.setups[0], haze=replace(shoot.setups[0].haze, extinction_per_m=0.0), time="10:00")
    setups = (first, replace(first, name="<b>2</b>", title="<img src=x>", targets=(), time="12:00"))
    shoot_file.save(tmp_path / "tide.toml", replace(shoot, setups=setups))
    return tmp_path / "tide.toml"


@pytest.fixture
def board(path):
    return ShootBoard(path, stage=Stand, read=read)


def press(board, name):
    found = []

    def walk(widget):
        found.extend([widget] if isinstance(widget, ipywidgets.Button) and widget.description == name else [])
        for child in getattr(widget, "children", ()):
            walk(child)

    walk(board)
    (button,) = found
    button.click()


def test_only_shoots_are_offered(path):
    (path.parent / "kit.toml").write_text("[lamp]\n")
    (path.parent / "other.toml").write_text(shoot_file.new_text("Ebb"), encoding="utf-8")
    assert [p.name for p in shoot_files(path.parent)] == ["other.toml", "tide.toml"]


def test_the_table_says_which_targets_are_met_and_escapes(board):
    assert "&lt;b&gt;2&lt;/b&gt;" in board._table.value and "<img" not in board._table.value
    face = read(board.shoot.setups[0]).targets[0]
    assert board.lines()[0].endswith(
        "all 1 met" if face.met else f"1 of 1 missed: face level −0.3: {shoot_board.verdict_text(face)}"
    )
    assert board.lines()[1] == "<b>2</b>  <img src=x>: no targets"
    assert board.still().startswith(b"\x89PNG")
    bundle = board._repr_mimebundle_()
    assert {"image/png", "text/plain"} <= set(bundle) and "text/html" not in bundle


def test_a_stage_is_opened_and_the_table_follows_it_once_it_has_settled(board):
    press(board, "Open its stage")
    assert board.stage.setup.name == "1" and board.chosen == "1" and "class=here" in board._table.value
    moved = board.stage.setup.with_part("lamp", at=(8.0, 5.6, 2.8))
    board.stage.move(moved, "draft")
    assert board.shoot.setup("1").part("lamp").at != (8.0, 5.6, 2.8)
    board.stage.move(moved)
    assert board.shoot.setup("1").part("lamp").at == (8.0, 5.6, 2.8)
    board.choose("<b>2</b>")
    board.choose("1")
    assert board.stage.setup == moved, "what was moved is there again"


def test_another_file_lets_go_of_what_was_moved(board, path):
    board.choose("1")
    board.stage.move(board.stage.setup.with_part("lamp", at=(8.0, 5.6, 2.8)))
    (path.parent / "other.toml").write_text(shoot_file.new_text("Ebb"), encoding="utf-8")
    board._typed.value = str(path.parent / "other.toml")
    press(board, "Open")
    assert board.shoot.title == "Ebb" and board.stage is None and board.chosen == ""
    assert board.shoot == board.opened.shoot


def test_errors_are_said_on_the_board(board, path):
    board._typed.value = str(path.parent / "gone.toml")
    press(board, "Open")
    assert "gone.toml: no such file" in board._said.value and board.shoot.title == "Low Tide"
    board._list.value = str(path.parent / "gone.csv")
    press(board, "Check the order")
    assert "gone.csv: No such file" in board._said.value


def test_order_power_and_carry(board):
    press(board, "Check the order")
    assert "day 1: call 09:40" in board._order.value and "no clashes" in board._order.value
    assert "1400 W on the mains" in board._power.value and "1.2 kW daylight spot" in board._carry.value
    board.choose("1")
    board.stage.move(board.stage.setup.with_part("lamp", at=(8.0, 5.6, 2.8)))
    assert board._order.value == "", "an order of another plan does not stay"


@pytest.mark.slow
def test_what_is_written_and_where_is_said(board, path):
    for name, ending in (
        ("Write the recce forms", "_recce.pdf"),
        ("Write the shot list", "_shots.csv"),
        ("Write the book", "_book.pdf"),
    ):
        press(board, name)
        there = path.with_name("tide" + ending)
        assert there.stat().st_size > 50 and str(there) in board._said.value, board._said.value
    board.choose("1")
    board.stage.move(board.stage.setup.with_part("lamp", at=(8.0, 5.6, 2.8)))
    press(board, "Write the phone page")
    assert "not in the file yet: setup 1" in board._said.value and path.with_name("tide_phone.html").exists()


def test_a_further_pane(board):
    assert board._tabs.titles == ("Order", "Power", "Carry", "Paper", "Advice")
    board.add_pane("Notes", ipywidgets.HTML("here"))
    assert board._tabs.titles[-1] == "Notes" and board._tabs.children[-1].value == "here" and len(board._tabs.children) == 6
