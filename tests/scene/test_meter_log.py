"""The day's log: read, written back, and every fault named with its line."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import lightcalc as lc
from lightcalc.scene.meter_log import COLUMNS, LogError, Metered, log_of, log_text, of_setup, read_log

SHOOT = lc.load(lc.demo_path())


def test_what_a_crew_writes_is_read():
    log = log_of(
        '# day 1, loft\ntime,setup,where,value,unit,only,note\n15:02,1,clerk,180,LX,,\n15:03,1,"clerk, far cheek",−4.5,stops,,dome\n'
        '15:04,1,beam,,cd/m2,,cloud\n15:05,1,beam,9.7,cd/m²,window lamp,\n\n15:09,1,window lamp,T5.6,t,"window lamp; all",'
    )
    assert [(one.where, one.value, one.unit, one.only, one.line) for one in log] == [
        ("clerk", 180.0, "lx", (), 3), ("clerk, far cheek", -4.5, "stops", (), 4), ("beam", 9.7, "cd/m2", ("window lamp",), 6),
        ("window lamp", 5.6, "T", ("window lamp",), 8),
    ]  # fmt: skip
    assert log_of("where,value,unit\nclerk,3\nbeam\n,,\n".replace("clerk,3", "clerk,3,lx"))[0].setup == ""


@pytest.mark.parametrize(
    "text, sentences",
    [
        ("", ["log: must begin with a line that names its columns, such as time,setup,where,receptor,value,unit,only,note"]),
        (
            "wher,value,unit\n",
            ["log, line 1: no column 'wher'; did you mean 'where'?", "log, line 1: the column 'where' is missing"],
        ),
        (
            "where,value,unit\nclerk,2,8,lx\n",
            ["log, line 2: must have at most 3 cells (where, value, unit), got 4; a decimal comma? write 2.8"],
        ),
        (
            'where,value,unit\nclerk,"2,8",lx\n',
            ["log, line 2: value must be a number, got '2,8'; a decimal comma? write it with a point"],
        ),
        (
            "where,value,unit\nclerk,-3,lx\n,3,lx\nclerk,3,lux\nclerk,many,fc\nclerk,nan,fc\n",
            [
                "log, line 2: value must be >= 1e-06 and <= 1e+07, got -3",
                "log, line 3: where must be a mark, a spot or a lamp, got nothing",
                "log, line 4: unit must be one of lx, fc, cd/m2, fl, stops, T, got 'lux'; did you mean 'lx'?",
                "log, line 5: value must be a number, got 'many'",
                "log, line 6: value must be a finite number",
            ],
        ),
    ],
)
def test_every_fault_of_a_log_is_named_at_once(text, sentences):
    with pytest.raises(LogError) as said:
        log_of(text)
    lines = str(said.value).split("\n")
    assert len(lines) == len(sentences) and all(line.startswith(sentence) for line, sentence in zip(lines, sentences))


def test_names_and_units_are_the_setup_s():
    setup = SHOOT.setup("8")
    log = log_of(
        "where,value,unit,only,setup\nclerk,3,lx,lanterm\nwal,3,cd/m2\nwall,3,lx\nclerk,3,cd/m2\nclerk,3,lx,,1\nclerk,3,lx,,8\n"
    )
    with pytest.raises(LogError) as said:
        of_setup(log, setup)
    assert str(said.value).split("\n") == [
        "log, line 2: only must name lamps of setup '8', got 'lanterm'; did you mean 'lantern'?",
        "log, line 3: setup '8' has no mark, spot or lamp 'wal'; did you mean 'wall'?",
        "log, line 4: wall is a spot: cd/m2 or fl, got lx",
        "log, line 5: clerk is no spot: lx or fc, got cd/m2",
    ]
    assert [one.line for one in of_setup(log[-2:], setup)] == [7]  # the reading of setup 1 is not its business


def test_what_is_legal_but_says_nothing_has_its_sentence():
    # A lamp that is off, one read with others, a name that means two things, a receptor where there is none, light no meter shows.
    setup = SHOOT.setup("8")
    off = setup.with_part("soft panel", dim=0.0)
    twice = replace(setup, spots=(*setup.spots, replace(setup.spots[0], name="lantern")))
    for made, text, sentence in (
        (off, "soft panel,3,lx,,", "lamp 'soft panel' is off in the plan of setup '8'"),
        (
            setup,
            "lantern,3,lx,soft panel,",
            "'lantern' is a lamp, which is read alone: only must be empty or 'lantern', got 'soft panel'",
        ),
        (twice, "lantern,3,lx,,", "'lantern' is a lamp of setup '8' and a mark or spot too"),
        (setup, "wall,3,cd/m2,,dome", "receptor belongs to a mark, got 'dome' for 'wall'"),
    ):
        with pytest.raises(LogError, match="log, line 2: " + re.escape(sentence)):
            of_setup(log_of("where,value,unit,only,receptor\n" + text), made)
    assert of_setup(log_of("where,value,unit,only\nlantern,3,lx,lantern\n"), setup)[0].only == ("lantern",)
    with pytest.raises(LogError, match="line 2: value must be >= 1e-06 and <= 1e\\+07, got 1e-300"):
        log_of("where,value,unit\nclerk,1e-300,lx\n")
    with pytest.raises(LogError, match="line 2: receptor must be flat or dome, or empty for the mark's own, got 'ball'"):
        log_of("where,value,unit,receptor\nclerk,3,lx,ball\n")


def test_a_reading_in_any_unit_is_the_same_light():
    # DERIVED: at middle grey the meter reads E = C N^2 / (t S) with the camera's own T, and a grey card L = 0.18 E / pi; 1 fc is
    # 10.764 lx (exactly 1 / 0.3048^2), 1 fl that over pi.
    camera = SHOOT.setup("1").camera
    assert camera.nd_stops == 0.0
    lx, cd_m2 = camera.reference_lx, camera.reference_cd_m2
    for luminance, value, unit in [
        (False, lx, "lx"),
        (False, lx * 0.3048**2, "fc"),
        (False, 0.0, "stops"),
        (False, camera.t_stop, "T"),
    ]:
        assert Metered("clerk", value, unit).amount(camera, luminance) == pytest.approx(lx)
    for luminance, value, unit in [
        (True, cd_m2, "cd/m2"),
        (True, cd_m2 * 0.3048**2 * np.pi, "fl"),
        (True, 0.0, "stops"),
        (True, camera.t_stop, "T"),
    ]:
        assert Metered("beam", value, unit).amount(camera, luminance) == pytest.approx(cd_m2)
    assert Metered("clerk", 2.0, "stops").amount(camera, False) == pytest.approx(4 * lx)


WORDS = (
    st.text(st.characters(blacklist_categories=("Cs", "Cc"), blacklist_characters="\"'“”‘’;#"), min_size=1, max_size=20)
    .map(str.strip)
    .filter(bool)
)


@given(
    st.lists(st.builds(Metered, where=WORDS, value=st.floats(0.1, 1e6), unit=st.sampled_from(["lx", "T"]), setup=WORDS), max_size=6)
)
def test_what_is_written_is_read_back(log):
    back = log_of(log_text(log))
    assert [(one.where, one.unit, one.setup) for one in back] == [(one.where, one.unit, one.setup) for one in log]
    assert [one.value for one in back] == pytest.approx([one.value for one in log], rel=1e-5)


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(LogError, match="none.csv: cannot be read"):
        read_log(tmp_path / "none.csv")
    (tmp_path / "bad.csv").write_bytes(b"where,value,unit\n\xff\xfe,1,lx\n")
    with pytest.raises(LogError, match="bad.csv: must be UTF-8 text, byte 17 is not"):
        read_log(tmp_path / "bad.csv")
    (tmp_path / "big.csv").write_bytes(b"#" * 1_000_001)
    with pytest.raises(LogError, match="may have 1,000,000 bytes"):
        read_log(tmp_path / "big.csv")
    assert COLUMNS[2:6] == ("where", "receptor", "value", "unit")
