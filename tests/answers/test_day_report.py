"""After the day: hours and fluid by hand, lamps weighed by hand, and an own kit that gives the light that was read."""

from dataclasses import replace

import numpy as np
import pytest

import lightcalc as lc
from lightcalc import __main__ as command
from lightcalc.answers.correction import NINETY, correct
from lightcalc.answers.day_report import DayReport, OwnLamp, day_report, kit_text
from lightcalc.answers.haze_plan import air_plan
from lightcalc.kit.materials import default_kit, read_kit
from lightcalc.scene.meter_log import LogError, log_of, of_setup, read_log
from lightcalc.scene.shoot_file import DATA

SHOOT = lc.load(lc.demo_path())
DAY = DATA / "salt_ledger_day1.csv"


@pytest.fixture(scope="module")
def day():
    return day_report(SHOOT, read_log(DAY))


@pytest.mark.slow
def test_hours_fluid_and_what_to_throw_away(day):
    # DERIVED: seven readings from 14:20 to 15:06, so an hour at the least; fluid is the air plan's own for that hour, and for the
    # haze as found the same plan of the corrected setup.
    one, two = day.setups
    assert (one.name, one.readings, one.hours, two.readings) == ("1", 7, ("14:20", "15:06"), 1) and one.wild == ("far wall",)
    plan = air_plan(SHOOT, SHOOT.setup("1"))
    assert one.fluid_g[0] == pytest.approx(plan.build_fluid_g + plan.hold_fluid_g_per_h)
    assert one.fluid_g[1] / one.fluid_g[0] == pytest.approx(one.extinction_per_m[1] / one.extinction_per_m[0], rel=0.1)
    assert "7 readings, 14:20 to 15:06; thrown away: far wall; haze " in day.lines()[1]


@pytest.mark.slow
def test_one_lamp_of_two_setups_is_weighed(day):
    # DERIVED: the mean weighed by one over the variance, and its own variance one over the sum of weights.
    found = [correct(SHOOT.setup(name), of_setup(read_log(DAY), SHOOT.setup(name))).found[0] for name in ("1", "2")]
    sd = np.array([(one.high - one.low) / 2 / NINETY for one in found])
    (lamp,) = day.lamps
    assert (lamp.name, lamp.kit, lamp.setups) == ("window lamp", "1.2 kW daylight spot", ("1", "2"))
    assert lamp.stops == pytest.approx(np.sum([one.stops for one in found] / sd**2) / np.sum(sd**-2))
    assert lamp.high - lamp.stops == pytest.approx(NINETY * np.sum(sd**-2) ** -0.5)


def test_the_own_kit_gives_what_was_read(tmp_path):
    # DERIVED: half a stop under the kit's is its peak over the square root of two; a name with quotes is written as one.
    rows = (
        OwnLamp('head "A"', "1.2 kW Daylight spot", -0.5, -0.6, -0.4, ("1",)),
        OwnLamp("x", "not in any kit", 0.1, 0.0, 0.2, ("1",)),
    )
    path = tmp_path / "kit.toml"
    path.write_text(kit_text(DayReport('The "Salt" Ledger', (), rows), when="2028-08-20"), encoding="utf-8")
    (mine,) = read_kit(path).lamp.values()
    base = default_kit().lamp["1.2 kW daylight spot"]
    assert mine.beam.peak_cd == pytest.approx(base.beam.peak_cd / np.sqrt(2), rel=1e-3) and mine.evidence == "measured"
    assert replace(mine, beam=base.beam, name="it", note="", evidence="measured") == replace(
        base, name="it", note="", evidence="measured"
    )
    assert mine.name == '1.2 kW Daylight spot, our head "A"' and "2028-08-20" in mine.note and "−0.50 stops" in mine.note


def test_a_reading_without_its_setup_is_named():
    log = log_of("where,value,unit,setup\nclerk,3,lx,\nclerk,3,lx,99\nclerk,3,lx,1\n")
    with pytest.raises(LogError) as said:
        day_report(SHOOT, log)
    assert str(said.value).split("\n") == [
        "log, line 2: setup must be one of 1, 2, 3, 4, 5, 6, 7, 8, got nothing",
        "log, line 3: setup must be one of 1, 2, 3, 4, 5, 6, 7, 8, got 99",
    ]


@pytest.mark.slow
def test_the_verb_writes_beside_and_never_over(tmp_path, capsys):
    out = tmp_path / "our_kit.toml"
    assert command.main(["after", str(lc.demo_path()), str(DAY), "-o", str(out)]) == 0
    assert "The Salt Ledger: 8 readings" in capsys.readouterr().out and 'evidence = "measured"' in out.read_text()
    before = out.read_bytes()
    assert command.main(["after", str(lc.demo_path()), str(DAY), "-o", str(out)]) == 2
    assert "is there already, and stays as it is" in capsys.readouterr().err and out.read_bytes() == before
