"""
LM-63 files: our own invented lamps against closed forms and an independent reader, and files that lie.

Format details (commas, TILT=INCLUDE, [MORE], type codes, the 1986 ballast-lamp factor that is "future use" from
1995) were read in web transcriptions of IES LM-63-1986 and ANSI/IESNA LM-63-2002 and in several public parsers,
which agree; the printed standards were not at hand.
"""

import re
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from lightcalc.kit import lm63
from lightcalc.kit.lm63 import PhotofileError, read_photometry

DATA = Path(__file__).parents[1] / "data"
COSINE = (DATA / "cosine_2002.ies").read_bytes().decode("ascii")


def cosine_with(old, new):
    """The cosine file with one thing changed."""
    assert old in COSINE
    return COSINE.replace(old, new, 1)


@pytest.mark.parametrize(
    "file, lumens",
    [
        # DERIVED: I = 1000 cos: 1000 pi lm. I = 1000 cos (.75 + .25 cos 2 phi): 750 pi. 300 + 100 cos phi sin:
        # the lobe cancels, 1200 pi. -800 cos (1 + .3 sin phi) upwards: 800 pi.
        ("cosine_2002.ies", 1000 * np.pi),
        ("cosine_1986_feet.ies", 1000 * np.pi),
        ("tilt_1991.ies", 1000 * np.pi),
        ("quarters_1995.ies", 750 * np.pi),
        ("lobe_2019.ies", 1200 * np.pi),
        ("uplight_2002.ies", 800 * np.pi),
    ],
)
def test_lumens_of_each_edition(file, lumens):
    # 0.3 %: the closed form against angles 10 to 15 degrees apart and values of four digits.
    assert read_photometry(DATA / file).lumens() == pytest.approx(lumens, rel=3e-3)


def test_the_law_is_read_back():
    # DERIVED: the laws that the files were written from; 0.01 cd is their last digit, doubled by the multiplier.
    quarters, lobe = read_photometry(DATA / "quarters_1995.ies"), read_photometry(DATA / "lobe_2019.ies")
    up = read_photometry(DATA / "uplight_2002.ies")
    theta, phi = np.radians([[0], [30], [75]]), np.radians([[0, 45, 180, 225, 337.5]])
    law = 1000 * np.cos(theta) * (0.75 + 0.25 * np.cos(2 * phi))
    assert quarters.intensity_cd(theta, phi) == pytest.approx(law, abs=0.02)
    theta, phi = np.radians([[20], [90], [160]]), np.radians([[0, 90, 195, 330]])
    assert lobe.intensity_cd(theta, phi) == pytest.approx(300 + 100 * np.cos(phi) * np.sin(theta), abs=0.01)
    theta = np.radians([[100], [180]])
    phi = np.radians([[0, 90, 210, 330]])
    assert up.intensity_cd(theta, phi) == pytest.approx(-800 * np.cos(theta) * (1 + 0.3 * np.sin(phi)), abs=0.01)
    assert up.intensity_cd(0.5) == 0.0


@pytest.mark.parametrize("file", ["cosine_2002.ies", "quarters_1995.ies", "lobe_2019.ies", "uplight_2002.ies"])
def test_against_an_independent_reader(file):
    # INDEPENDENT: eulumdat-ies; it applies the multiplier, does not unfold symmetry, and drops the plane at
    # 360. In absolute files its intensities are candela.
    other = pytest.importorskip("eulumdat_ies")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        rows = other.ies_to_ldt(DATA / file).intensities
    ours = read_photometry(DATA / file)
    assert len(rows) >= 1 and len(rows) in (len(ours.candela), len(ours.candela) - 1)
    assert np.array(ours.candela)[: len(rows)] == pytest.approx(np.array(rows), rel=1e-9)


def test_factors_multiply_once():
    # DERIVED: 1000 cd x 2.5 x 0.8 x 0.5 (1986: ballast-lamp factor) = 1000 cd; lamps x lumens is no factor.
    old = read_photometry(DATA / "cosine_1986_feet.ies")
    assert old.intensity_cd(0.0) == pytest.approx(1000, rel=1e-12)
    assert old.rated_lumens == 4400
    # From 1995 the second number is kept for future use (2019: 1.00001 says how the file was made): no factor.
    assert read_photometry(cosine_with("1.0 1.0 40.0", "0.8 3.0 40.0")).peak_cd == pytest.approx(800, rel=1e-12)
    assert read_photometry(cosine_with("1 -1 1.0", "1 -1 0.25")).peak_cd == pytest.approx(250, rel=1e-12)


def test_feet_become_metres_and_round_openings_diameters():
    # DERIVED: 1.5 ft = 0.4572 m and 0.5 ft = 0.1524 m, exactly.
    old, lantern = read_photometry(DATA / "cosine_1986_feet.ies"), read_photometry(DATA / "lobe_2019.ies")
    assert (old.width_m, old.length_m, old.watts) == (pytest.approx(0.4572), pytest.approx(0.1524), 180)
    assert (lantern.width_m, lantern.length_m, lantern.height_m) == (0.45, 0.45, 0.45)


def test_keywords_and_more():
    said = dict(read_photometry(DATA / "quarters_1995.ies").keywords)
    assert said["LUMINAIRE"].startswith("invented four-quarter lamp") and said["LUMINAIRE"].endswith("multiplier 2")
    assert said["TEST"] == "LC-0002" and "MORE" not in said
    labels = [text for key, text in read_photometry(DATA / "cosine_1986_feet.ies").keywords if key == "LABEL"]
    assert labels[0] == "INVENTED FOR TESTS BY THE LIGHTCALC PROJECT" and len(labels) == 2


def test_tilt_is_kept_and_not_applied():
    tilted = read_photometry(DATA / "tilt_1991.ies")
    assert tilted.tilt_deg == (0, 15, 30, 45, 60, 75, 90) and tilted.tilt_factor[3] == 0.93
    assert tilted.peak_cd == 1000.0


@settings(max_examples=50, deadline=None)
@given(st.lists(st.sampled_from([" ", "\n", ", ", "  \r\n ", "\t"]), min_size=60, max_size=60))
def test_line_breaks_are_free(gaps):
    head, numbers = COSINE.split("TILT=NONE\r\n")
    words = numbers.split()
    spread = "".join(word + gaps[i % 60] for i, word in enumerate(words))
    assert read_photometry(head + "TILT=NONE\r\n" + spread).candela == read_photometry(COSINE).candela


def test_line_ends_and_marks_of_other_systems():
    expected = read_photometry(COSINE).candela
    for text in (COSINE.replace("\r\n", "\n"), COSINE.replace("\r\n", "\r"), "\ufeff" + COSINE, COSINE + "\x1a\r\n"):
        assert read_photometry(text).candela == expected


def test_an_open_circle_is_closed():
    # LM-63 has the planes run to 360; files that stop at 315 mean the same lamp.
    rows = [f"{100 + h} {100 + h}" for h in range(0, 360, 45)]
    text = cosine_with("1.0 10 1 1", "1.0 2 8 1").split("1.0 1.0 40.0")[0]
    lamp = read_photometry(text + "1 1 40\n0 90\n0 45 90 135 180 225 270 315\n" + "\n".join(rows))
    assert lamp.intensity_cd(0.0, np.radians(337.5)) == pytest.approx((415 + 100) / 2, rel=1e-12)


def test_more_light_than_the_bare_lamp_warns():
    # DERIVED: 3141 lm of candela from a lamp said to give 1200 lm.
    with pytest.warns(UserWarning, match="add up to 3141 lm, the bare lamps to 1200 lm; check the candela multiplier"):
        read_photometry(cosine_with("1 -1 1.0", "1 1200 1.0"))


BAD = [
    # what is wrong, the file, the line it is on, what the sentence says
    ("unknown edition", cosine_with("IESNA:LM-63-2002", "IESNA:LM-63-2077"), 1, "edition 'IESNA:LM-63-2077'"),
    ("no TILT", COSINE.split("TILT")[0], 6, "found no TILT line"),
    ("numbers before TILT", cosine_with("TILT=NONE", "[TILT] NONE"), 8,
     "'1 -1 1.0 10 1 1 2 0.20 0.20 0.0' before TILT"),
    ("TILT in another file", cosine_with("TILT=NONE", "TILT=../lamp.tlt"), 7, "TILT=../lamp.tlt"),
    ("free text in 2002", cosine_with("[LUMCAT] COSINE", "LUMCAT COSINE"), 6, "'LUMCAT COSINE-1000' before TILT"),
    ("[MORE] first", cosine_with("[TEST] LC-0001", "[MORE] LC-0001"), 2, r"\[MORE\] with no keyword"),
    ("no lamp", cosine_with("1 -1 1.0", "0 -1 1.0"), 8, "0 as count of lamps"),
    ("lumens of 0", cosine_with("1 -1 1.0", "1 0 1.0"), 8, "0 for the lumens per lamp"),
    ("lumens of -2", cosine_with("1 -1 1.0", "1 -2 1.0"), 8, "-2 for the lumens per lamp"),
    ("multiplier of 0", cosine_with("1 -1 1.0", "1 -1 0"), 8, "0 for the candela multiplier"),
    ("one vertical angle", cosine_with("1.0 10 1", "1.0 1 1"), 8, "1 as count of vertical angles"),
    ("a broken count", cosine_with("1.0 10 1", "1.0 10.5 1"), 8, "10.5 as count .* a whole number"),
    ("a million angles", cosine_with("1.0 10 1", "1.0 1000000 1"), 8, "1e.06 as count of vertical angles"),
    ("a million planes", cosine_with("1.0 10 1", "1.0 10 1e6"), 8, "1e.06 as count of horizontal angles"),
    ("type B", cosine_with("10 1 1 2 0.20", "10 1 2 2 0.20"), 8, "photometric type 2; .*type C"),
    ("type A", cosine_with("10 1 1 2 0.20", "10 1 3 2 0.20"), 8, "photometric type 3"),
    ("cubits", cosine_with("10 1 1 2 0.20", "10 1 1 3 0.20"), 8,
     r"3 as kind of units; .* 1 \(feet\) or 2 \(metres\)"),
    ("a word", cosine_with("984.8", "98A.8"), 12, "'98A.8' as candela value"),
    ("not a number", cosine_with("984.8", "nan"), 12, "'nan' as candela value"),
    ("endless", cosine_with("984.8", "1e999"), 12, "inf as candela value"),
    ("dark light", cosine_with("984.8", "-984.8"), 12, "-984.8 as candela value"),
    ("no light at all", COSINE.split("1000.0")[0] + "0 " * 10, 12, "every candela value is 0"),
    ("too few candelas", cosine_with(" 173.6 0.0", ""), 12, "the end of the file where candela value"),
    ("too many candelas", cosine_with("173.6 0.0", "173.6 0.0 0.0"), 12, "'0.0' after the last candela value"),
    ("falling angles", cosine_with("0 10 20", "0 20 10"), 10, "vertical angle 10 after 20"),
    ("twice the same angle", cosine_with("0 10 20", "0 10 10"), 10, "vertical angle 10 after 10"),
    ("past straight up", cosine_with("80 90", "80 190"), 10, "190 as vertical angle"),
    ("stops short", cosine_with("80 90", "80 85"), 11, "vertical angles from 0 to 85; would accept 0 to 90"),
    ("one plane at 30", cosine_with("90\r\n0\r\n", "90\r\n30\r\n"), 11, "horizontal angles from 30 to 30"),
    ("planes 0 to 45", COSINE.replace("10 1 1 2", "2 2 1 2").split("0 10")[0] + "0 90\n0 45\n1 1 1 1", 11,
     "horizontal angles from 0 to 45"),
    ("planes from 5 to 190", COSINE.replace("10 1 1 2", "2 2 1 2").split("0 10")[0] + "0 90\n5 190\n1 1 1 1", 11,
     "horizontal angles from 5 to 190"),
    ("ballast factor of 0", cosine_with("1.0 1.0 40.0", "0 1.0 40.0"), 9, "0 for the ballast factor"),
    ("negative watts", cosine_with("1.0 1.0 40.0", "1.0 1.0 -40"), 9, "-40 as input power"),
    ("huge opening", cosine_with("0.20 0.20", "2000 0.20"), 8, "2000 as width of the opening"),
    ("no numbers", COSINE.split("1 -1")[0], 7, "the end of the file where count of lamps"),
    ("tilt count", cosine_with("TILT=NONE", "TILT=INCLUDE\r\n1\r\n9999"), 9, "9999 as count of tilt angles"),
    ("tilt geometry", cosine_with("TILT=NONE", "TILT=INCLUDE\r\n4\r\n1 0 1"), 8, "4 as lamp geometry"),
    ("tilt angles fall", cosine_with("TILT=NONE", "TILT=INCLUDE\r\n1 2\r\n30 0\r\n1 1"), 9, "tilt angle 0 after 30"),
    ("one endless line", cosine_with("984.8", "9" * 5000), 12, "a line of 5053 characters"),
    ("endless head", "\n" + "[A] b\n" * 600, 502, "more than 500 lines before TILT"),
]  # fmt: skip


@pytest.mark.parametrize("text, line, said", [pytest.param(*bad[1:], id=bad[0]) for bad in BAD])
def test_a_file_that_lies_is_refused_in_one_sentence(text, line, said, tmp_path):
    path = tmp_path / "drying loft.ies"
    path.write_bytes(text.encode("ascii"))
    with pytest.raises(PhotofileError) as caught:
        read_photometry(path)
    sentence = str(caught.value)
    assert re.match(rf"drying loft\.ies, line {line}: found .*; would accept .", sentence), sentence
    assert re.search(said, sentence), sentence
    assert "\n" not in sentence and len(sentence) < 300


def test_files_that_cannot_be_opened(tmp_path):
    for path, said in [(tmp_path / "gone.ies", "gone.ies, line 0: found no readable file"), (tmp_path, "no readable")]:
        with pytest.raises(PhotofileError, match=said):
            read_photometry(path)
    (tmp_path / "picture.ies").write_bytes(b"\x89PNG\0\0")
    with pytest.raises(PhotofileError, match="found a zero byte; would accept plain text"):
        read_photometry(tmp_path / "picture.ies")
    (tmp_path / "empty.ies").write_bytes(b"")
    with pytest.raises(PhotofileError, match="empty.ies, line 1: found an empty file"):
        read_photometry(tmp_path / "empty.ies")


def test_a_file_too_large_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(lm63, "MOST_BYTES", 300)
    (tmp_path / "big.ies").write_bytes(COSINE.encode())
    with pytest.raises(PhotofileError, match="big.ies, line 1: found more than 300 bytes"):
        read_photometry(tmp_path / "big.ies")
    with pytest.raises(PhotofileError, match="would accept at most 300"):
        read_photometry(COSINE)


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@given(st.integers(0, len(COSINE) - 1), st.integers(0, 40), st.text(max_size=6))
@example(0, 40, "\n")
def test_any_damage_is_read_or_refused(at, cut, put):
    # Whatever is cut or put in: a lamp with light in it, or one sentence; never another error.
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            lamp = read_photometry(COSINE[:at] + put + COSINE[at + cut :] + "\n")
    except PhotofileError as refused:
        assert "; would accept" in str(refused) and "\n" not in str(refused)
    else:
        assert 0 < lamp.lumens() < np.inf
