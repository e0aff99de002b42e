"""The printed page: one page, to the stated scale, complete, nothing cut off, the same bytes every time."""

import os
import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import matplotlib
import numpy as np
import pytest

import lightcalc
from lightcalc import wording
from lightcalc.drawing.symbols import extent
from lightcalc.paper import setup_sheet
from lightcalc.paper.page import PAPERS, pdf_bytes, plain_look
from lightcalc.scene import numbering, shoot_file, shoot_read

import drawn_parts as parts
from drawn_parts import SETUPS
from drawn_words import clashes, outside
from printed_parts import page_boxes, page_text, printed_lines, tool
from taped_parts import rebuilt

DEMO, STARTER = shoot_file.load(shoot_file.demo_path()), shoot_read.loads(shoot_file.new_text("Low tide"))
FILMED = {f"demo {setup.name}": (DEMO, setup) for setup in DEMO.setups} | {"starter": (STARTER, STARTER.setups[0])}
MADE = {name: (parts.shoot(make()), make()) for name, make in SETUPS.items()}
ALL = MADE | FILMED
MANY = [(name, units, paper) for name in ALL for units in ("metric", "feet") for paper in ("a4", "letter")]
FEW = [(name, *how) for name in ("loft", "pans", "demo 2", "starter") for how in (("metric", "a4"), ("feet", "letter"))]
MARGIN_MM = 5  # what a printer needs


def pages(setup, units="metric", shoot=None, paper="a4", read=None):
    with plain_look():
        read = read or parts.readings(setup)
        return setup_sheet.setup_pages(shoot or parts.shoot(setup), setup, read, parts.picture(setup), units=units, paper=paper)


@cache
def named(name, units="metric", paper="a4"):
    """The pages of a setup by name, drawn once."""
    shoot, setup = ALL[name]
    return pages(setup, units, shoot, paper)


def written(name, path, units="metric", paper="a4"):
    """Their file, as `setup_sheet` writes it."""
    with plain_look():
        path.write_bytes(pdf_bytes(named(name, units, paper), name))
    return path


def write(setup, path, **how):
    return setup_sheet.setup_sheet(
        parts.shoot(setup), setup, path, readings=parts.readings(setup), picture=parts.picture(setup), **how
    )


def texts(figures):
    return [text.get_text() for figure in figures for text in figure.texts]


def faults(figure):
    """Words that leave the printable part of a page, and pairs that lie on each other."""
    words = page_boxes(figure)
    return outside(words, figure.bbox.padded(-MARGIN_MM / 25.4 * figure.dpi)) + clashes(words, slack_px=1.0)


def stated_scale(figure):
    return next(int(m[1]) for t in figure.texts if (m := re.match(r"Scale 1:(\d+)", t.get_text())))


# --- the file, as another program reads it ---------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(("name", "paper"), [("loft", "a4"), ("crowd", "letter"), ("demo 3", "letter"), ("bare", "a4")])
def test_pages_are_of_their_paper_and_counted(tmp_path, name, paper):
    # INDEPENDENT: poppler. PUBLISHED: ISO 216 A4, 210 x 297 mm = 595.28 x 841.89 pt; letter 8.5 x 11 in = 612 x 792 pt.
    path = written(name, tmp_path / "page.pdf", paper=paper)
    told = tool("pdfinfo", path).decode()
    count = int(re.search(r"^Pages: +(\d+)$", told, re.M)[1])
    size = tuple(map(float, re.search(r"Page size: +([\d.]+) x ([\d.]+) pts", told).groups()))
    assert size == pytest.approx({"a4": (595.28, 841.89), "letter": (612, 792)}[paper], abs=0.05)
    assert (
        "CreationDate" not in told
        and count == len(named(name, paper=paper)) == {"loft": 2, "crowd": 3, "demo 3": 1, "bare": 1}[name]
    )
    said = page_text(path)
    assert [f"lightcalc {lightcalc.__version__}, page {i} of {count}" in said for i in range(1, count + 2)] == [True] * count + [
        False
    ]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["loft", "crowd"])
def test_text_holds_every_light_by_number_and_name(tmp_path, name):
    # INDEPENDENT: poppler reads the text back.
    setup = SETUPS[name]()
    text = page_text(written(name, tmp_path / "page.pdf"))
    for number, light in enumerate(setup.lights, 1):
        assert f"{number} {light.name}" in text
    for part in setup.boards + setup.frames + setup.flags:
        assert part.name in text
    total = sum(light.watts for light in setup.lights)
    assert f"{total:.0f} W in all" in text


# --- by the tape -----------------------------------------------------------------------------------


def taped(path):
    """Rows of the page's tape table, by another program: [(sign, name, where and turn in words), ...]."""
    rows, lefts, page = [], None, None
    for number, line in printed_lines(path):
        words = [word for _, word in line]
        heads = words[:4]
        if heads == ["What", "Faces", "Where,", "along"]:
            lefts, page = [x - 1.0 for x, _ in line[:3]], number
            continue
        if lefts is None or number != page:
            lefts = None
            continue
        cells = [" ".join(w for x, w in line if low <= x < high) for low, high in zip([0, *lefts], [*lefts, 1e9])]
        turned = re.fullmatch(r"(.*?) (\S+ m|\S+ \S+\") (−?\d+)° ([+−]?\d+)°", cells[3])
        if turned:
            rows.append([cells[0], cells[1], turned[1], "{}, high; pan {}°, tilt {}°".format(*turned.groups()[1:])])
        elif rows and not cells[0] and (cells[1] or cells[3]) and "°" not in cells[3] and words[0] != "Lights":
            rows[-1][1], rows[-1][2] = f"{rows[-1][1]} {cells[1]}".strip(), f"{rows[-1][2]} {cells[3]}".strip()
        else:
            lefts = None
    return [(sign, name, f"{where}, {turn}") for sign, name, where, turn in rows]


@pytest.mark.slow
@pytest.mark.parametrize("units", ["metric", "feet"])
@pytest.mark.parametrize("name", ["loft", "crowd", "pans", *FILMED])
def test_a_person_with_the_page_and_a_tape_could_rebuild_it(tmp_path, name, units):
    # INDEPENDENT: poppler reads the page. DERIVED: centimetres, or half inches, are rounded away: 3 cm; whole degrees: 1 degree.
    setup = ALL[name][1]
    rows = taped(written(name, tmp_path / "page.pdf", units))
    there = setup.lights + setup.boards + setup.frames + setup.flags + setup.pieces + setup.marks + (setup.camera,)
    assert [row[1] for row in rows] == [getattr(part, "name", "camera") for part in there]
    signs = numbering.call_signs(setup)
    for part, (sign, _, words) in zip(there, rows):
        at, facing = rebuilt(setup.place, words, units)
        ray = np.subtract(part.aim, part.at) / np.linalg.norm(np.subtract(part.aim, part.at))
        assert np.linalg.norm(at - part.at) < 0.03 and np.degrees(np.arccos(min(ray @ facing, 1.0))) < 1.0, (part.name, words)
        assert part not in setup.lights or sign == signs[part.name]


# --- what was printed ------------------------------------------------------------------------------


@pytest.mark.slow
def test_text_holds_the_readings(tmp_path):
    # DERIVED: 120 lx x 2^-0.3 = 97.47 lx = 9.055 fc; 2^-1.0 = 60 lx; 120 lx = 11.15 fc.
    text = page_text(written("loft", tmp_path / "page.pdf"))
    for words in ("97.5", "9.06", "raker face", "120 lx (11.1 fc)", "missed by +0.9", "1 of 3 missed", "78.2 m", "T2.8"):
        assert words in text, words
    assert "35 mm" in text and "ISO 800" in text and "1/48 s" in text and "4.9 % lost a metre" in text


@pytest.mark.slow
def test_fonts_are_outlines_a_printer_keeps(tmp_path):
    # INDEPENDENT: poppler; Type 3 fonts are what print shops refuse.
    told = tool("pdffonts", written("loft", tmp_path / "page.pdf")).decode()
    assert "TrueType" in told and "Type 3" not in told


@pytest.mark.slow
def test_printed_scale_bar_measures_what_the_scale_says(tmp_path):
    # INDEPENDENT: the black half of the bar, counted in pixels of a rendering by poppler.
    path, figure = written("loft", tmp_path / "page.pdf"), named("loft")[0]
    bar = next(a for a in figure.findobj(matplotlib.patches.Rectangle) if a.get_facecolor()[:3] == (0, 0, 0) and a.axes is None)
    tool("pdftoppm", "-r", "600", "-gray", "-singlefile", path, tmp_path / "page")
    raw = (tmp_path / "page.pgm").read_bytes()
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", raw)
    width, height = int(head[1]), int(head[2])
    grey = np.frombuffer(raw, np.uint8, offset=head.end()).reshape(height, width)
    first, across = bar.get_x() * width, bar.get_width() * width
    row = grey[int((1 - bar.get_y() - bar.get_height() / 2) * height), : int(first + 2.5 * across)]
    dark = np.flatnonzero(row[int(first - 0.2 * across) :] < 128)
    bar_mm = (dark[-1] - dark[0] + 1) * 25.4 / 600 - 0.4 * 25.4 / 72  # both halves, less the 0.4 pt outline
    metres = next(int(m[1]) for t in figure.texts if (m := re.fullmatch(r"(\d+) m", t.get_text())))
    assert bar_mm == pytest.approx(1000 * metres / stated_scale(figure), rel=0.005)


# --- to scale --------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(("name", "units", "paper"), FEW)
def test_both_drawings_are_at_the_stated_scale(name, units, paper):
    # DERIVED: 1 m at 1 : n is 1000 / n mm of the paper.
    figure = named(name, units, paper)[0]
    figure.draw_without_rendering()
    for label in ("plan", "side"):
        ax = next(ax for ax in figure.axes if ax.get_label() == label)
        corner, right, up = ax.transData.transform([(0, 0), (1, 0), (0, 1)]) * PAPERS[paper].width / figure.bbox.width
        assert right[0] - corner[0] == pytest.approx(1000 / stated_scale(figure), rel=0.005)
        assert up[1] - corner[1] == pytest.approx(1000 / stated_scale(figure), rel=0.005)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "units", "paper"), FEW)
def test_drawings_hold_what_stands_near(name, units, paper):
    # DERIVED: the room, or what is used of the ground, lies inside both drawings, with the margins that words need.
    figure, setup = named(name, units, paper)[0], ALL[name][1]
    for label, axes in (("plan", (0, 1)), ("side", (0, 2))):
        ax, (low, high) = next(ax for ax in figure.axes if ax.get_label() == label), extent(setup, axes)
        inset = {"plan": (9.0, 9.0), "side": (9.0, 4.0)}[label]  # for dimension lines and labels. [mm]
        for axis, (start, end) in enumerate((ax.get_xlim(), ax.get_ylim())):
            clear = min(low[axis] - start, end - high[axis]) * 1000 / stated_scale(figure)
            assert clear > inset[axis] - 0.1, (label, axis)


def test_scale_is_the_largest_usual_one_that_fits():
    # DERIVED: the loft and its lamp are 8.6 m wide; 112 - 18 mm hold that at 1 : 91.5, so 1 : 100.
    assert setup_sheet.plan_scale(parts.loft(), width_mm=112, height_mm=200) == 100
    assert setup_sheet.plan_scale(parts.loft(), width_mm=112, height_mm=200, units="feet") == 96
    assert setup_sheet.plan_scale(parts.loft(), width_mm=1200, height_mm=1200) == 10


# --- readable --------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(("name", "units", "paper"), MANY)
def test_nothing_is_cut_off_and_no_word_lies_on_another(name, units, paper):
    # INDEPENDENT: boxes measured by the renderer, not by the layout. A printer's margin is 5 mm.
    assert [faults(figure) for figure in named(name, units, paper)] == [[]] * len(named(name, units, paper))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["loft", "crowd", "demo 1"])
def test_a_tape_in_both_units_fits_too(name):
    shoot, setup = ALL[name]
    both = pages(setup, "both", shoot)
    assert [faults(figure) for figure in both] == [[]] * len(both)
    high = setup.camera.at[2]
    assert wording.length_text(high, both=True) in texts(both)


def mixed(setup):
    """Its readings with a colour at each mark, one unknown, and its camera with a balance."""
    read = parts.readings(setup)
    marks = [replace(mark, mix_kelvin=3155.0 + 417 * i, mix_duv=-0.0031 * (i % 2)) for i, mark in enumerate(read.marks)]
    marks[0] = replace(marks[0], other_cheek="rack")  # the longest title
    marks[-1] = replace(marks[-1], mix_kelvin=np.nan, mix_duv=np.nan) if len(marks) > 1 else marks[-1]
    return replace(read, marks=tuple(marks)), replace(setup, camera=replace(setup.camera, balance_kelvin=4300.0))


@pytest.mark.slow
@pytest.mark.parametrize("units", ["metric", "feet"])
@pytest.mark.parametrize("name", ["loft", "crowd", "pans"])
def test_colour_has_its_column_and_the_page_still_holds(tmp_path, name, units):
    # INDEPENDENT: boxes measured by the renderer; poppler reads what stands there.
    read, setup = mixed(SETUPS[name]())
    found = pages(setup, units, read=read)
    with plain_look():
        (tmp_path / "page.pdf").write_bytes(pdf_bytes(found, name))
    assert [faults(figure) for figure in found] == [[]] * len(found)
    said = page_text(tmp_path / "page.pdf")
    assert "Colour" in said and "4300 K" in said and ("3160" in said or "3150" in said)


@pytest.mark.slow
def test_what_does_not_fit_goes_to_another_page_and_never_away():
    setup = parts.crowd()
    lights = tuple(replace(setup.lights[i % 12], name=f"lamp {i}") for i in range(40))
    boards = tuple(replace(setup.boards[0], name=f"sheet {i}") for i in range(40))
    setup = replace(setup, lights=lights, boards=boards, notes="The salt must not be trodden on. " * 500)
    figures = pages(setup)
    assert (
        len(figures) > 4
        and [found for figure in figures for found in outside(page_boxes(figure), figure.bbox.padded(-5 / 25.4 * figure.dpi))] == []
    )
    said = texts(figures)
    for i in range(40):
        assert said.count(f"lamp {i}") >= 2 and said.count(f"sheet {i}") >= 2  # by the tape, and in its own table
    assert " ".join(said).count("trodden") == 500
    assert sum(text.startswith("Metered on the day") for text in said) >= 1


# --- the same bytes --------------------------------------------------------------------------------


@pytest.mark.slow
def test_same_setup_same_bytes_in_another_process(tmp_path):
    # A date, a clock or the order of a hash would differ between two processes with two hash seeds.
    script = (
        "import sys, drawn_parts as p; from lightcalc.paper import setup_sheet as sheet; s = p.loft();"
        "sheet.setup_sheet(p.shoot(s), s, sys.argv[1], readings=p.readings(s), picture=p.picture(s))"
    )
    here = Path(__file__).parents[1] / "parts"
    for seed in ("1", "2"):
        way = os.pathsep.join([str(here), str(here.parents[1])])
        subprocess.run(
            [sys.executable, "-c", script, str(tmp_path / f"{seed}.pdf")], check=True, timeout=300,
            env=os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": way},
        )  # fmt: skip
    assert (tmp_path / "1.pdf").read_bytes() == (tmp_path / "2.pdf").read_bytes()


@pytest.mark.slow
def test_reader_s_own_look_changes_nothing(tmp_path):
    plain = write(parts.bare(), tmp_path / "a.pdf").read_bytes()
    with matplotlib.rc_context({"font.family": "serif", "axes.facecolor": "black", "lines.linewidth": 9, "pdf.fonttype": 3}):
        dark = write(parts.bare(), tmp_path / "b.pdf").read_bytes()
    assert plain == dark


@pytest.mark.slow
def test_another_setup_other_bytes(tmp_path):
    setup = parts.loft()
    moved = setup.with_part("folded sail", at=(3.9, 1.6, 1.2))
    assert write(setup, tmp_path / "a.pdf").read_bytes() != write(moved, tmp_path / "b.pdf").read_bytes()


# --- files -----------------------------------------------------------------------------------------


@pytest.mark.slow
def test_several_setups_make_one_document(tmp_path):
    # INDEPENDENT: poppler counts and reads the pages.
    setups = (parts.bare(), parts.pans())
    given = {setup.name: (parts.readings(setup), parts.picture(setup)) for setup in setups}
    path = setup_sheet.setup_sheets(parts.shoot(*setups), setups, tmp_path / "all.pdf", given=given)
    count = sum(len(pages(setup)) for setup in setups)
    assert re.search(rf"^Pages: +{count}$", tool("pdfinfo", path).decode(), re.M)
    assert "shed" in page_text(path) and "Pans at dusk" in page_text(path)
    again = setup_sheet.setup_sheets(parts.shoot(*setups), setups, tmp_path / "again.pdf", given=given)
    assert again.read_bytes() == path.read_bytes()


@pytest.mark.slow
def test_sheet_computes_what_it_is_not_given(tmp_path):
    # INDEPENDENT of this module: the level printed is the meter's own.
    from lightcalc.answers import readings

    setup = parts.loft()
    level = readings.readings(setup).marks[0].level_stops
    path = setup_sheet.setup_sheet(parts.shoot(setup), setup, tmp_path / "page.pdf", picture=parts.picture(setup))
    assert f"raker face {wording.stops_text(level)}" in page_text(path)


def test_units_are_named(tmp_path):
    with pytest.raises(ValueError, match="units must be one of metric, feet, both, got 'yards'"):
        write(parts.bare(), tmp_path / "page.pdf", units="yards")
    assert not (tmp_path / "page.pdf").exists()


def test_paper_is_named(tmp_path):
    with pytest.raises(ValueError, match="paper must be one of a4, letter, got 'a3'"):
        write(parts.bare(), tmp_path / "page.pdf", paper="a3")


@pytest.mark.slow
def test_missing_folder_is_the_system_s_own_error(tmp_path):
    with pytest.raises(FileNotFoundError):
        write(parts.bare(), tmp_path / "nowhere" / "page.pdf")
