"""The meter's form without a page: blanks, the correction in words, the log and the file."""

import shutil

import pytest

import lightcalc as lc
from lightcalc.panels.meter_form import MeterForm
from lightcalc.scene.meter_log import Metered, read_log

LOG = lc.demo_path().with_name("salt_ledger_day1.csv")


@pytest.fixture
def form(tmp_path):
    shutil.copy(lc.demo_path(), tmp_path / "film.toml")
    return MeterForm(tmp_path / "film.toml", "1", log=read_log(LOG))


def rows(form):
    return [(row.where, row.text.value, row.unit.value) for row in form._rows.children]


@pytest.mark.slow
def test_a_blank_for_each_lamp_mark_and_spot(form):
    # each reading of the log in its own blank; what was read twice has two
    assert rows(form)[:3] == [("window lamp", "2250", "lx"), ("window lamp", "2300", "lx"), ("clerk", "158", "lx")]
    words = [row.children[0].value for row in form._rows.children]
    assert "expected 2810 lx" in words[0] and "3 m in front" in words[0] and "(spot)" in words[4] and "−0.5" in words[4]
    form._setups.value = "8"
    assert [where for where, value, _ in rows(form) if not value] == ["lantern", "soft panel", "clerk", "ledgers", "wall"]


@pytest.mark.slow
def test_what_is_typed_corrects_the_plan(form):
    found = form.correct()
    assert found.wild and found.wild[0].note == "somebody opened the door" and "DISAGREES" in form._said.value
    form._rows.children[-1].text.value = ""
    assert not form.correct().wild and len(form.log) == 6


@pytest.mark.slow
def test_a_blank_that_is_no_reading_is_named(form):
    form._rows.children[2].text.value = "15,8"
    press(form, "Correct the plan")
    assert "the form, line 4: value must be a number, got &#x27;15,8&#x27;; a decimal comma?" in form._said.value


def press(form, name):
    next(button for button in form.children[3].children if button.description == name).click()


@pytest.mark.slow
def test_the_log_is_written_and_read_again(form):
    form._rows.children[2].text.value = "161"
    press(form, "Write the log")
    back = read_log(form.opened.path.with_name("film_log.csv"))
    assert {one.where: one.value for one in back if one.setup == "1"}["clerk"] == 161.0
    kept = {(one.setup, one.where): one for one in back}
    assert kept["2", "owner"].unit == "T" and kept["1", "beam"].time == "15:05"  # another setup's, and who wrote when


@pytest.mark.slow
def test_kept_in_the_file_the_plan_is_the_corrected_one(form):
    press(form, "Keep in the shoot file")
    assert lc.load(form.opened.path).setup("2").part("window lamp").metered_stops == pytest.approx(-0.27, abs=0.05)
    assert all(not value for _, value, _ in rows(form)) and "Kept in film.toml" in form._said.value
    assert (
        "expected 2330 lx" in form._rows.children[0].children[0].value or "expected 23" in form._rows.children[0].children[0].value
    )


@pytest.mark.slow
def test_readings_with_lamps_off_are_kept_though_they_have_no_blank(tmp_path):
    shutil.copy(lc.demo_path(), tmp_path / "film.toml")
    form = MeterForm(tmp_path / "film.toml", "8", log=(Metered("clerk", 5.6, "lx", only=("soft panel",)),))
    assert [one.only for one in form.log] == [("soft panel",)] and repr(form) == "MeterForm('film.toml', setup '8', 5 blanks)"
