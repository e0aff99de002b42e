"""Shot lists: what a CSV may say, what it is told where it may not, and that the table written reads back."""

import datetime as dt
import json
from dataclasses import replace

import pytest

from lightcalc import __main__ as command
from lightcalc.answers.shoot_order import shoot_order
from lightcalc.answers.shot_list import ListError, _meant, clock_text, on_wall, shots
from lightcalc.scene.shoot_file import demo_path, load, new_text
from lightcalc.sky.clock import LocalDay

import drawn_parts as parts

DEMO = load(demo_path())
SHOOT = replace(parts.shoot(*(replace(parts.bare(), name=name) for name in ("1", "2", "3"))), days=2)


def listed(tmp_path, text, shoot=SHOOT):
    path = tmp_path / "list.csv"
    path.write_text(text, encoding="utf-8")
    return shots(shoot, path)


def test_a_list_is_read(tmp_path):
    two, one = listed(tmp_path, "Setup,minutes,after,day,earliest,latest\n2,20,,2,7:30,25:30\n1,,2,2,,\n")
    assert (two.name, two.minutes, two.day, two.earliest, two.latest) == ("2", 20, 2, 450, 1530)
    assert (one.name, one.minutes, one.minutes_typed, one.after) == ("1", 45, False, ("2",))
    assert listed(tmp_path, "setup;before\n2;1\n1;\n")[1].after == ("2",), "semicolons, and the other way of saying it"


@pytest.mark.parametrize("text, said", [
    ("name\n1\n", "line 1: no column 'name'; it takes setup"),
    ("minutes\n1\n", "line 1: needs a column 'setup'"),
    ("setup\n9\n", "line 2: no setup '9' in this shoot; it has 1, 2, 3"),
    ("setup\n1\n1\n", "line 3: setup '1' stands here twice"),
    ("setup,minutes\n1,soon\n", "line 2: minutes must be a whole number of 1 to 1440, got 'soon'"),
    ("setup,minutes\n1,1e999\n", "line 2: minutes must be a whole number of 1 to 1440, got '1e999'"),
    ("setup,day\n1,7\n", "line 2: day must be a whole number of 1 to 2, got '7'"),
    ("setup,earliest\n1,7.30\n", "line 2: earliest must be a time such as 7:30"),
    ("setup,earliest,latest\n1,9:00,8:00\n", "line 2: earliest must be before latest, got 9:00 and 8:00"),
    ("setup,after\n1,4\n", "line 2: after must name other setups of the list, got '4'"),
    ("setup,after\n1,2\n2,3\n3,1\n", "go round in a ring: 1 after 2 after 3 after 1"),
    ("setup\n", "needs 1 to 64 rows under its head, got 0"),
    ("setup\n1,2,3\n", "line 2: more cells than columns"),
])  # fmt: skip
def test_what_a_list_may_not_say(tmp_path, text, said):
    with pytest.raises(ListError) as caught:
        listed(tmp_path, text)
    assert said in str(caught.value) and "\n" not in str(caught.value)


def test_not_text(tmp_path):
    path = tmp_path / "list.csv"
    path.write_bytes(b"setup\n\xff\xfe\n")
    with pytest.raises(ListError, match="not UTF-8"):
        shots(SHOOT, path)


def test_what_is_written_reads_back(tmp_path):
    rows = listed(tmp_path, "setup,minutes,after,day,earliest,latest\n2,20,,1,7:30,25:30\n1,15,2,2,,\n3,10,,1,,\n")
    (tmp_path / "out.csv").write_text(shoot_order(SHOOT, rows).csv(), encoding="utf-8")
    back = shots(SHOOT, tmp_path / "out.csv")
    ordered = sorted(rows, key=lambda shot: shot.day)
    assert [(s.name, s.minutes, s.day, s.earliest, s.latest, s.after) for s in back] == [
        (s.name, s.minutes, s.day, s.earliest, s.latest, s.after) for s in ordered
    ]  # fmt: skip


def test_a_spreadsheet_never_reckons_with_a_title(tmp_path):
    odd = replace(parts.bare(), name="=1+1", title="@SUM(A1)")
    shoot = parts.shoot(odd)
    text = shoot_order(shoot, shots(shoot)).csv()
    assert "\n'=1+1," in text and "'@SUM(A1)" in text
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    assert shots(shoot, tmp_path / "list.csv")[0].name == "=1+1"


def test_who_types_dawn_does_not_mean_dusk():
    dawn, dusk = (354, 366), (1248, 1262)
    assert _meant((dawn, dusk), 360) == (dawn,) == _meant((dawn, dusk), 300) and _meant((dawn, dusk), 1200) == (dusk,)
    assert (
        _meant((dawn, dusk), 720) == (dawn, dusk) == _meant((dawn, dusk), None)
        and _meant((), 360) == ()
        and _meant(None, 360) is None
    )


@pytest.fixture
def tide(tmp_path):
    path = tmp_path / "tide.toml"
    path.write_text(new_text("Low Tide"), encoding="utf-8")
    return path


def test_order_and_carry_from_the_command_line(tide, tmp_path, capsys):
    assert command.main(["order", str(tide), "--call", "7:00", "-o", str(tmp_path / "x.csv")]) == 0
    said, wrong = capsys.readouterr()
    # DERIVED: a lamp, a board and the camera are 20 min.
    assert "day 1: call 07:00, wrap 08:05" in said and "from 07:00 1 lamp, 1 board, camera, ready 07:20" in said and wrong == ""
    assert command.main(["carry", str(tide), str(tmp_path / "x.csv"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [item["name"] for item in found["shoot"]["items"] if item["kind"] == "lamp"] == ["1.2 kW daylight spot"]
    assert command.main(["order", str(tide), "--call", "late"]) == 2
    assert "got 'late'" in capsys.readouterr().err
    assert command.main(["order", str(tide), "-o", str(tmp_path / "x.txt")]) == 2
    assert "-o must end in .csv" in capsys.readouterr().err


def test_times_are_the_walls_where_the_clock_is_changed():
    # PUBLISHED: Directive 2000/84/EC: put forward at 01:00 UTC on the last Sunday of March, put back in October.
    for date, passed, wall in ((dt.date(2028, 3, 26), 60, 60), (dt.date(2028, 3, 26), 600, 660), (dt.date(2028, 10, 29), 600, 540)):
        assert on_wall(LocalDay(date, "Europe/Berlin"), passed) == wall
    assert on_wall(LocalDay(dt.date(2028, 8, 20), "Europe/Berlin"), 1500.5) == 1500.5


def test_clock():
    assert [clock_text(m) for m in (0, 605, 1440, 1500.4)] == ["00:00", "10:05", "00:00 (+1)", "01:00 (+1)"]


@pytest.mark.slow
def test_the_demo_from_the_command_line(tmp_path, capsys):
    # The demo's own order has no clash within a day; its night is short, and that is said.
    assert command.main(["order", str(demo_path()), "-o", str(tmp_path / "x.csv")]) == 1
    said = capsys.readouterr().out
    assert said.count("  no clashes") == 2 and "5 h 40 min of rest, 320 min under the customary 11 h" in said
    assert "best of all orders: 5, 7, 6, 8" in said and "meals" in said.lower()
    assert [s.name for s in shots(DEMO, tmp_path / "x.csv")] == [s.name for s in DEMO.setups]
    # dawn's setup keeps its own window, in which five minutes are left from its own time on
    dawn = next(s for s in shots(DEMO, tmp_path / "x.csv") if s.name == "5")
    assert len(dawn.windows) == 1 and dawn.windows[0][0] < 360 < dawn.windows[0][1] and dawn.minutes == 5
