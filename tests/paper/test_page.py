"""Paper, type and PDF: widths are the printed font's own, lines fit and lose nothing."""

import pytest

from lightcalc.paper import page

from printed_parts import tool


@pytest.mark.parametrize("width_mm", [12.0, 30.0, 90.0])
def test_wrapped_lines_fit_and_lose_nothing(width_mm):
    text = "the long southern wall of the dryingloftwithnospacesatallinitsname, twice over"
    lines = page.wrap(text, 7.0, width_mm)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert max(page.width_mm(line, 7.0) for line in lines) <= width_mm


def test_type_widths_are_those_of_the_printed_font():
    # INDEPENDENT: advance widths from the font file's own table (fontTools), 2048 units to the em.
    from fontTools.ttLib import TTFont
    from matplotlib.font_manager import findfont

    font = TTFont(findfont("DejaVu Sans"))
    glyphs, advances = font.getBestCmap(), font["hmtx"]
    wide = sum(advances[glyphs[ord(c)]][0] for c in "hhhh mmmm") / font["head"].unitsPerEm * 7.0 * 25.4 / 72
    assert page.width_mm("hhhh mmmm", 7.0) == pytest.approx(wide, rel=0.02)  # ink ends a bearing short of the advance


def test_papers_are_the_standards_own():
    # PUBLISHED: ISO 216 A4 210 x 297 mm; ANSI letter 8.5 x 11 in.
    assert (page.PAPERS["a4"].width, page.PAPERS["a4"].height) == (210, 297)
    assert (page.PAPERS["letter"].width, page.PAPERS["letter"].height) == (pytest.approx(8.5 * 25.4), pytest.approx(11 * 25.4))
    with pytest.raises(ValueError, match="paper must be one of a4, letter, got 'foolscap'"):
        page.paper_of("foolscap")


def test_pages_become_one_document_without_a_date(tmp_path):
    # INDEPENDENT: poppler.
    with page.plain_look():
        one, two = page.Page(), page.Page(page.PAPERS["letter"])
        one.text(20, 20, "first", 10)
        (tmp_path / "a.pdf").write_bytes(page.pdf_bytes([one.figure, two.figure], "both"))
    told = tool("pdfinfo", tmp_path / "a.pdf").decode()
    assert "Pages:           2" in told and "CreationDate" not in told and "both" in told
