"""Numbers and words: exact inches, three figures, a true minus, one line; and one number alike wherever it is printed."""

import json
from dataclasses import dataclass, replace

import numpy as np
import pytest
from matplotlib.text import Text

from lightcalc import wording
from lightcalc.answers.readings import TargetReading
from lightcalc.drawing import ladder
from lightcalc.panels.page_words import shown_of
from lightcalc.paper import setup_sheet

import drawn_parts
from drawn_words import new_axes, place_words


def test_lengths_in_feet_are_exact_inches():
    # PUBLISHED: international foot 0.3048 m (1959), so an inch is 25.4 mm.
    assert wording.length_text(2.54, units="feet") == "8' 4\""
    assert wording.length_text(0.3048 * 3 - 0.0001, units="feet") == "3' 0\""  # never 2' 12"
    assert wording.length_text(-0.61, units="feet") == "−2' 0\""


def test_numbers_keep_three_figures_and_never_an_exponent():
    # DERIVED: rounding by hand.
    wanted = {123_456.0: "123000", 0.000012345: "0.0000123", 60.0: "60", 1.005: "1", 0.0: "0", -2.345: "−2.35", 1e-30: "0"}
    assert {value: wording.number_text(value) for value in wanted} == wanted
    assert wording.number_text(np.inf) == "–"


def test_stops_have_a_true_minus_and_no_minus_zero():
    # DERIVED: rounding by hand.
    assert [wording.stops_text(v) for v in (-0.04, 0.04, -1.26, np.nan, -np.inf)] == ["0.0", "0.0", "−1.3", "–", "no light"]


@pytest.mark.parametrize(
    ("lux", "metric", "feet"),
    [
        (1234.5, "1230 lx", "115 fc"), (99.96, "100 lx", "9.29 fc"), (2.345, "2.35 lx", "0.218 fc"),
        (0.0034, "0.0034 lx", "0.000316 fc"), (0.0, "0 lx", "0 fc"),
    ],
)  # fmt: skip
def test_a_light_in_words(lux, metric, feet):
    # DERIVED: three figures at any size, by hand; the foot-candle is 10.764 lx.
    assert wording.light_text(lux) == metric and wording.light_text(lux, "feet") == feet


def test_shares_never_grow_an_exponent():
    # DERIVED: rounding by hand; a full lamp once read 1e+02 %.
    assert [wording.percent_text(v) for v in (1.0, 0.996, 0.0996, 0.0994, 1.17)] == ["100 %", "100 %", "10 %", "9.9 %", "117 %"]


def test_ratios_have_one_form_and_say_what_is_missing():
    # DERIVED: log2 4 = 2, log2 0.25 = -2.
    assert [wording.ratio_text(v, in_stops=True) for v in (4.0, 0.25, 256.0)] == [
        "4.0 : 1 (2.0 stops)", "0.25 : 1 (−2.0 stops)", "256 : 1 (8.0 stops)"]  # fmt: skip
    assert [wording.ratio_text(v) for v in (np.inf, 0.0, np.nan)] == ["no fill", "no key", "–"]
    assert wording.ratio_text(1183.0, "no measurable fill", in_stops=True) == "no measurable fill"


def test_t_stop_is_the_one_on_the_ring():
    # PUBLISHED: ISO 517:2008 markings. DERIVED: 2^(1/6) steps between them; 3.5 stands for 2^(11/6) = 3.5636.
    assert [wording.t_stop_text(t) for t in (2 * np.sqrt(2), 2 ** (5 / 3), 2 ** (11 / 6))] == ["T2.8", "T3.2", "T3.5"]
    assert [wording.t_stop_text(t) for t in (2.7, 100.0)] == ["T2.7 (nearest click T2.8)", "T100"]


def test_dim_is_in_stops_and_percent():
    # DERIVED: log2 0.25 = -2.
    assert [wording.dim_text(v) for v in (1.0, 0.25, 0.0)] == ["full", "−2.0 (25 %)", "off"]


@pytest.mark.parametrize(
    ("quantity", "got", "words"),
    [
        ("level", -0.83, "missed by −0.5"), ("level", -0.31, "met"), ("level", -0.37, "missed by under 0.1"),
        ("level", -np.inf, "missed: no light"), ("fill_under", -np.inf, "missed: no measurable fill"),
        ("beam_over", np.inf, "missed: black behind it"), ("veil", -np.inf, "missed: no veil"), ("beam_over", np.nan, "missed: –"),
    ],
)  # fmt: skip
def test_a_missed_target_says_by_what(quantity, got, words):
    # DERIVED: wanted -0.33 within 0.03; by the difference, or by what is not there.
    target = TargetReading("face", quantity, -0.33, 0.03, got, abs(got + 0.33) <= 0.03, got + 0.33)
    assert wording.verdict_text(target) == words


def test_a_terminal_without_the_minus_keeps_the_sign():
    # PUBLISHED: U+2212 is in no table of ASCII, cp1252 or cp850.
    for encoding in ("ascii", "cp850", None):
        assert wording.for_terminal("missed by −0.5, 9 lx", encoding) == "missed by -0.5, 9 lx"
    assert wording.for_terminal("−0.5", "utf-8") == "−0.5"


@dataclass
class Leaf:
    """For the test below."""

    stops: float
    names: tuple


def test_a_tree_of_dataclasses_is_plain_data():
    # DERIVED: what json.dumps takes with allow_nan off, and reads back as it was.
    tree = {"leaves": (Leaf(-np.inf, ("a",)), Leaf(np.float64(1.5), ())), 3: np.array([[1.0, np.nan]]), "on": np.True_}
    read = json.loads(json.dumps(wording.plain(tree), allow_nan=False))
    leaves = [{"stops": None, "names": ["a"]}, {"stops": 1.5, "names": []}]
    assert read == {"leaves": leaves, "3": [[1.0, None]], "on": True}


# --- one voice ---------------------------------------------------------------------------------------


@pytest.mark.slow
def test_one_reading_has_the_same_digits_everywhere():
    # DERIVED: each number rounded here, by hand's rule, and looked for in the lines that the command line and the notebooks
    # print, in the stage's words, on the sheet, on the ladder and, rounded the same way, in JSON.
    setup = drawn_parts.loft()
    read = drawn_parts.readings(setup)
    face, beam, target = read.marks[0], read.spots[0], read.targets[1]
    lines, shown, data = "\n".join(read.lines()), shown_of(setup, read), json.loads(json.dumps(read.as_json(), allow_nan=False))
    pages = setup_sheet.setup_pages(drawn_parts.shoot(setup), setup, read, drawn_parts.picture(setup))
    sheet = [text.get_text() for page in pages for text in page.findobj(Text)]
    ax = new_axes(10, 2.4, (0.02, 0.25, 0.96, 0.62), 100)
    ladder.ladder(ax, read, setup)
    flags = [text for text, _ in place_words(ax)]
    level = f"{face.level_stops:+.1f}".replace("-", "−")
    assert f"raker face: {face.illuminance_lx:.3g} lx, {level} stops; " in lines
    assert shown["marks"][0]["lux"]["metric"] == f"{face.illuminance_lx:.3g} lx" and shown["marks"][0]["level"] == level
    assert f"{face.illuminance_lx:.3g}" in sheet and level in sheet and f"raker face {level}" in flags
    assert {"label": "raker face", "kind": "mark", "stops": face.level_stops, "words": level} in shown["ladder"]
    ratio, under = f"{face.ratio:.1f} : 1", f"{np.log2(face.ratio):.1f} stops"
    assert f"key + fill : fill {ratio} ({under})" in lines and f"{ratio} ({under})" in sheet
    assert (shown["marks"][0]["ratio"], shown["marks"][0]["ratio_stops"] + " stops") == (ratio, under)
    over, seen = f"{beam.beam_over_stops:+.1f}", f"{beam.luminance_cd_m2:.3g}"
    assert f"beam mid: {seen} cd/m², " in lines and f"shaft of hard through window {over} over background" in lines
    assert shown["spots"][0]["beam_over"] == over and shown["spots"][0]["luminance"]["metric"] == f"{seen} cd/m²"
    assert seen in sheet and over in sheet
    wanted = "raker face fill under −2.0"
    assert f"target {wanted} within 0.33: −1.8, met" in lines and f"want {wanted}: met" in flags
    assert {"of": "raker face", "quantity": "fill under", "wanted": "−2.0", "said": "−2.0 ± 0.33", "got": "−1.8"}.items() <= shown[
        "targets"
    ][1].items()
    assert all(word in sheet for word in ("fill under", "−2.0 ± 0.33", "−1.8")) and target.got_stops == pytest.approx(-1.8)
    mark, spot = data["marks"][0], data["spots"][0]
    assert wording.number_text(mark["illuminance_lx"]) == f"{face.illuminance_lx:.3g}"
    assert [f"{mark['ratio']:.1f} : 1", f"{mark['level_stops']:+.1f}", f"{spot['beam_over_stops']:+.1f}"] == [
        ratio, level.replace("−", "-"), over]  # fmt: skip


@pytest.mark.slow
def test_what_is_not_there_is_said_the_same_everywhere():
    # DERIVED: a face whose fill no meter shows; the reason stands where the number would, and JSON has null beside it.
    setup = drawn_parts.loft()
    read = drawn_parts.readings(setup)
    bare = replace(read.marks[0], no_ratio="no measurable fill", ratio=np.inf, key_to_fill=np.inf, fill_under_stops=-np.inf)
    read = replace(read, marks=(bare, *read.marks[1:]))
    pages = setup_sheet.setup_pages(drawn_parts.shoot(setup), setup, read, drawn_parts.picture(setup))
    assert [text.get_text() for page in pages for text in page.findobj(Text)].count("no measurable fill") == 2
    assert "stops; no measurable fill" in read.lines()[1]
    row = shown_of(setup, read)["marks"][0]
    assert {row["ratio"], row["key_to_fill"], row["ratio_stops"]} == {"no measurable fill"}
    mark = read.as_json()["marks"][0]
    assert (mark["ratio"], mark["key_to_fill"], mark["fill_under_stops"]) == (None, None, None)
    assert mark["no_ratio"] == "no measurable fill" and "raker face: fill" not in [tick.label for tick in read.ladder()]


@pytest.mark.parametrize("bad", ["ft", "", None])
def test_units_are_named(bad):
    with pytest.raises(ValueError, match="units must be one of metric, feet"):
        wording.length_text(1.0, units=bad)


def test_someones_words_stay_on_one_line():
    assert wording.one_line("a\n b\t\x00c") == "a b c"
