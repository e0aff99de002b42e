"""One light in four places: the command line's `meter` and `day`, the printed sheet and the stage say it with the same digits."""

import re

import pytest
from matplotlib.text import Text

from lightcalc import __main__ as command
from lightcalc import wording
from lightcalc.answers.readings import readings
from lightcalc.engine.picture import picture
from lightcalc.panels.stage import Stage
from lightcalc.paper.setup_sheet import setup_pages
from lightcalc.scene.shoot_file import ShootFile
from lightcalc.scene.shoot_read import loads

from daylit_parts import KITCHEN, QUAY, YARD


@pytest.mark.slow
@pytest.mark.parametrize("text, mark", [(KITCHEN, "table"), (QUAY, "bollard"), (YARD, "bollard")], ids=["kitchen", "quay", "yard"])
def test_meter_day_sheet_and_stage_print_the_same_digits(text, mark, tmp_path, capsys):
    # DERIVED: the digits are read back out of what each prints, and compared as text.
    path = tmp_path / "tide.toml"
    path.write_text(text)
    assert command.main(["meter", str(path)]) == 0
    metered = re.search(rf"{mark}: (\S+) lx, (\S+) stops", capsys.readouterr().out).groups()
    assert command.main(["day", str(path)]) == 0
    day = capsys.readouterr().out
    assert re.search(rf"metered then: {mark} (\S+) lx, (\S+) stops", day).groups() == metered

    shoot = loads(text)
    setup = shoot.setup("1")
    read = readings(setup)
    pages = setup_pages(shoot, setup, read, picture(setup, width=64))
    printed = [found.get_text() for page in pages for found in page.findobj(Text)]
    assert any(line.startswith(f"{metered[0]} lx (") and line.endswith(f", {metered[1]}") for line in printed)

    stage = Stage(setup, shoot_file=ShootFile.open(path))
    try:
        stage.settle()
        shown = stage.shown["marks"][0]
    finally:
        stage.close()
    assert (shown["lux"]["metric"], shown["level"]) == (f"{metered[0]} lx", metered[1])

    # sun, moon and sky themselves
    sun, open_ground = setup.sun, wording.light_text(float(setup.sky.horizontal_lx))
    assert f"clear sky of {setup.time}" in "\n".join(read.lines()) and any(f"clear sky of {setup.time}" in line for line in printed)
    if text is not KITCHEN:  # there the sky is the one that the window sees
        assert any(f"{open_ground} " in line or f"({open_ground}" in line for line in printed)
    if sun.body == "sun":
        disc = wording.light_text(float(sun.normal_lx))
        assert f"{disc} square on" in day and any(f"{disc} " in f"{line} " for line in printed)
        assert f"sky {open_ground} on open ground" in day or text is KITCHEN
