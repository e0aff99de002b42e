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

from lightcalc import wording
from lightcalc.answers import light_patch
from lightcalc.kit.candela import Beam
from lightcalc.laws.haze import HAZE_CAUTION
from lightcalc.laws.power import HEAT_CAUTION, POWER_CAUTION
from lightcalc.paper import setup_sheet
from lightcalc.scene import numbering, shoot_file
from lightcalc.scene.parts import Haze, Light, Sun

import drawn_parts as parts
from drawn_parts import SETUPS
from drawn_words import clashes, outside
from printed_parts import page_boxes, page_text, tool

MANY = [(name, units) for name in SETUPS for units in ("metric", "feet")]


def page(setup, units="metric", shoot=None):
    with setup_sheet._plain_look():
        return setup_sheet.setup_page(shoot or parts.shoot(setup), setup, parts.readings(setup), parts.picture(setup), units=units)


@cache
def named(name, units="metric"):
    """The page of a setup by name, drawn once."""
    return page(SETUPS[name](), units)


def written(name, path, units="metric"):
    """Its file, as `setup_sheet` writes it."""
    with setup_sheet._plain_look():
        path.write_bytes(setup_sheet._pdf_bytes(named(name, units), name))
    return path


def write(setup, path, **how):
    return setup_sheet.setup_sheet(
        parts.shoot(setup), setup, path, readings=parts.readings(setup), picture=parts.picture(setup), **how
    )


def plan_of(figure):
    return next(ax for ax in figure.axes if ax.get_label() == "plan")


def stated_scale(figure):
    return next(int(m[1]) for t in figure.texts if (m := re.match(r"Scale 1:(\d+)", t.get_text())))


# --- the file, as another program reads it ---------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(("name", "units"), MANY)
def test_one_a4_page(tmp_path, name, units):
    # INDEPENDENT: poppler. PUBLISHED: ISO 216 A4, 210 x 297 mm = 595.28 x 841.89 pt.
    path = written(name, tmp_path / "page.pdf", units)
    told = tool("pdfinfo", path).decode()
    assert re.search(r"^Pages: +1$", told, re.M)
    width, height = map(float, re.search(r"Page size: +([\d.]+) x ([\d.]+) pts", told).groups())
    assert (width, height) == pytest.approx((595.28, 841.89), abs=0.05)
    assert "CreationDate" not in told


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
    assert "in the shoot file" not in text  # nothing was left off


def test_text_holds_the_readings(tmp_path):
    # DERIVED: 120 lx x 2^-0.3 = 97.47 lx = 9.055 fc; 2^-1.0 = 60 lx; 120 lx = 11.15 fc.
    text = page_text(written("loft", tmp_path / "page.pdf"))
    for words in ("97.5", "9.06", "raker face", "120 lx (11.1 fc)", "missed by +0.9", "1 of 3 missed", "78.2 m", "T2.8"):
        assert words in text, words
    assert "35 mm" in text and "ISO 800" in text and "1/48 s" in text and "4.9 % lost a metre" in text


def test_fonts_are_outlines_a_printer_keeps(tmp_path):
    # INDEPENDENT: poppler; Type 3 fonts are what print shops refuse.
    told = tool("pdffonts", written("loft", tmp_path / "page.pdf")).decode()
    assert "TrueType" in told and "Type 3" not in told


@pytest.mark.slow
def test_printed_scale_bar_measures_what_the_scale_says(tmp_path):
    # INDEPENDENT: the black half of the bar, counted in pixels of a rendering by poppler.
    path, figure = written("loft", tmp_path / "page.pdf"), named("loft")
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
@pytest.mark.parametrize(("name", "units"), MANY)
def test_plan_is_at_the_stated_scale(name, units):
    # DERIVED: 1 m at 1 : n is 1000 / n mm of the page's 210.
    figure = named(name, units)
    figure.draw_without_rendering()
    corner, right, up = plan_of(figure).transData.transform([(0, 0), (1, 0), (0, 1)]) * 210 / figure.bbox.width
    assert right[0] - corner[0] == pytest.approx(1000 / stated_scale(figure), rel=0.005)
    assert up[1] - corner[1] == pytest.approx(1000 / stated_scale(figure), rel=0.005)


def test_scale_is_the_largest_usual_one_that_fits():
    # DERIVED: the loft and its lamp are 8.6 m wide; 112 - 18 mm hold that at 1 : 91.5, so 1 : 100.
    assert setup_sheet.plan_scale(parts.loft(), width_mm=112, height_mm=200) == 100
    assert setup_sheet.plan_scale(parts.loft(), width_mm=112, height_mm=200, units="feet") == 96
    assert setup_sheet.plan_scale(parts.loft(), width_mm=1200, height_mm=1200) == 10


# --- readable --------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(("name", "units"), MANY)
def test_nothing_is_cut_off_and_no_word_lies_on_another(name, units):
    # INDEPENDENT: boxes measured by the renderer, not by the layout. A printer's margin is 5 mm.
    figure = named(name, units)
    words = page_boxes(figure)
    margin = 5 / 25.4 * figure.dpi
    assert outside(words, figure.bbox.padded(-margin)) == []
    assert clashes(words, slack_px=1.0) == []


@pytest.mark.slow
def test_the_film_s_pages_are_readable():
    shoot = shoot_file.load(shoot_file.demo_path())
    for setup in shoot.setups:
        words = page_boxes(page(setup, shoot=shoot))
        assert clashes(words, slack_px=1.0) == [], setup.name


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
    # INDEPENDENT: boxes measured by the renderer; poppler reads what stands there and counts the pages.
    read, setup = mixed(SETUPS[name]())
    with setup_sheet._plain_look():
        figure = setup_sheet.setup_page(parts.shoot(setup), setup, read, parts.picture(setup), units=units)
        (tmp_path / "page.pdf").write_bytes(setup_sheet._pdf_bytes(figure, name))
    words = page_boxes(figure)
    assert outside(words, figure.bbox.padded(-5 / 25.4 * figure.dpi)) == [] and clashes(words, slack_px=1.0) == []
    assert re.search(r"^Pages: +1$", tool("pdfinfo", tmp_path / "page.pdf").decode(), re.M)
    said = page_text(tmp_path / "page.pdf")
    assert "Colour" in said and "4300 K" in said and ("3160" in said or "3150" in said)


def test_colour_is_in_the_words_of_every_page():
    # DERIVED: to ten kelvins; Duv from .0015 on, with a true minus sign; a dash where there is no colour.
    read = parts.readings(parts.loft())
    marks = [replace(read.marks[0], mix_kelvin=k, mix_duv=d) for k, d in ((4138.0, -0.0026), (3204.0, 0.0014), (np.nan, 0))]
    table = setup_sheet._marks(parts.loft(), replace(read, marks=tuple(marks)))
    assert [row[table.heads.index("Colour")] for row in table.rows] == ["4140 K, Duv −0.003", "3200 K", "–"]


@pytest.mark.slow
def test_past_the_smallest_type_rows_go_and_are_counted():
    setup = parts.crowd()
    lights = tuple(replace(setup.lights[i % 12], name=f"lamp {i}") for i in range(64))
    boards = tuple(replace(setup.boards[0], name=f"sheet {i}") for i in range(64))
    figure = page(replace(setup, lights=lights, boards=boards))
    words = page_boxes(figure)
    assert outside(words, figure.bbox.padded(-5 / 25.4 * figure.dpi)) == []
    left = [int(m[1]) for text, _ in words if (m := re.fullmatch(r"and (\d+) more, in the shoot file", text))]
    shown = sum(bool(re.fullmatch(r"lamp \d+", text)) for text, _ in words)
    assert left and shown + left[0] == 64


@pytest.mark.parametrize("width_mm", [12.0, 30.0, 90.0])
def test_wrapped_lines_fit_and_lose_nothing(width_mm):
    text = "the long southern wall of the dryingloftwithnospacesatallinitsname, twice over"
    lines = setup_sheet._wrap(text, 7.0, width_mm)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert max(setup_sheet._width_mm(line, 7.0) for line in lines) <= width_mm


def test_type_widths_are_those_of_the_printed_font():
    # INDEPENDENT: advance widths from the font file's own table (fontTools), 2048 units to the em.
    from fontTools.ttLib import TTFont
    from matplotlib.font_manager import findfont

    font = TTFont(findfont("DejaVu Sans"))
    glyphs, advances = font.getBestCmap(), font["hmtx"]
    wide = sum(advances[glyphs[ord(c)]][0] for c in "hhhh mmmm") / font["head"].unitsPerEm * 7.0 * 25.4 / 72
    assert setup_sheet._width_mm("hhhh mmmm", 7.0) == pytest.approx(wide, rel=0.02)  # ink ends a bearing short of the advance


# --- content ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["metric", "feet"])
def test_where_light_through_windows_lands_is_said_with_distances(units):
    # The words themselves are held against the polygons in test_light_patch.
    setup = SETUPS["loft"]()
    words = " ".join(" ".join(t.get_text() for t in named("loft", units).texts).split())
    for beam in light_patch.beams(setup):
        lies = light_patch.patch_words(setup.place, beam.patches, units=units)
        assert (lies != "" and lies in words) == beam.through_windows, beam.source
    assert "Light of 1 hard through window lands on the " in words and "Light of the sun lands on the " in words
    night = setup_sheet._landed(replace(setup, sun=replace(setup.sun, body="moon")), units)
    assert any(line.startswith("Light of the moon lands on the ") for line in night)
    missed = replace(setup.lights[0], aim=(-9.0, 2.0, 1.0))
    assert "lands nowhere: its beam meets no window." in setup_sheet._landed(replace(setup, lights=(missed,)), units)[0]


def test_only_the_cautions_that_apply():
    bare = parts.bare()
    assert setup_sheet.cautions(bare) == ()
    lamp = Light(name="lamp", at=(1, 1, 1.5), aim=(2, 2, 1.2), distribution=Beam(peak_cd=1e3, beam_deg=30, field_deg=50))
    cases = [
        (replace(bare, haze=Haze(extinction_per_m=0.05)), (HAZE_CAUTION,)),
        (replace(bare, lights=(replace(lamp, watts=100, kit="60x60 cm soft panel"),)), (POWER_CAUTION,)),
        (replace(bare, lights=(replace(lamp, watts=650, kit="no such lamp"),)), (POWER_CAUTION, HEAT_CAUTION)),
        (replace(bare, lights=(replace(lamp, at=(1, 1, 2.2)),)), (setup_sheet.HEIGHT_CAUTION,)),
        (replace(bare, lights=(replace(lamp, at=(-1, 1, 1.5)),)), (setup_sheet.OUTSIDE_CAUTION,)),
        (replace(bare, sun=Sun(bearing_deg=180, elevation_deg=20, normal_lx=5e4)), (setup_sheet.SUN_CAUTION,)),
        (replace(bare, sun=Sun(bearing_deg=180, elevation_deg=-8, normal_lx=0)), ()),
    ]
    for setup, wanted in cases:
        assert setup_sheet.cautions(setup) == wanted


def test_split_by_source_adds_up():
    # DERIVED: eight largest named, the others summed; figures are to three digits.
    setup = parts.crowd()
    mark = parts.readings(setup).marks[0]
    words = setup_sheet._split(mark, numbering.call_signs(setup))
    values = [float(word.rsplit(" ", 1)[1]) for word in words.split(", ")]
    assert len(values) == 9 and "rest" in words
    assert sum(values) == pytest.approx(mark.illuminance_lx, rel=0.005)


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
def test_all_sheets_are_numbered_in_shooting_order_and_stay_in_their_folder(tmp_path, monkeypatch):
    first, second = replace(parts.bare(), name="../../etc/Ä 2"), parts.pans()
    monkeypatch.setattr(setup_sheet, "_answers", lambda setup, r, p: (parts.readings(setup), parts.picture(setup)))
    paths = setup_sheet.all_sheets(parts.shoot(first, second), tmp_path / "out" / "sheets")
    assert [p.name for p in paths] == ["01_etc_2.pdf", "02_5.pdf"]
    assert all(p.parent == tmp_path / "out" / "sheets" and p.read_bytes().startswith(b"%PDF") for p in paths)


@pytest.mark.slow
def test_sheet_computes_what_it_is_not_given(tmp_path):
    # INDEPENDENT of this module: the level printed is the meter's own.
    from lightcalc.answers import readings

    setup = parts.loft()
    level = readings.readings(setup).marks[0].level_stops
    path = setup_sheet.setup_sheet(parts.shoot(setup), setup, tmp_path / "page.pdf", picture=parts.picture(setup))
    assert f"raker face {wording.stops_text(level)}" in page_text(path)


def test_units_are_named(tmp_path):
    with pytest.raises(ValueError, match="units must be one of metric, feet, got 'yards'"):
        write(parts.bare(), tmp_path / "page.pdf", units="yards")
    assert not (tmp_path / "page.pdf").exists()


def test_missing_folder_is_the_system_s_own_error(tmp_path):
    with pytest.raises(FileNotFoundError):
        write(parts.bare(), tmp_path / "nowhere" / "page.pdf")
