"""The class on paper: two A4 pages, the questions without and the key with the answers, whole and the same each time."""

import re
import shutil
import subprocess

import pytest

from lightcalc.answers.exercises import exercises
from lightcalc.paper import exercise_sheet


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    return exercise_sheet.write_exercises(tmp_path_factory.mktemp("out") / "new", variant=3)


def read(path, *options):
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler-utils is not installed")
    return subprocess.run(["pdftotext", *options, str(path), "-"], capture_output=True, text=True, check=True).stdout


def squeezed(text):
    return re.sub(r"\s+", " ", text)


@pytest.mark.slow
def test_two_pages_of_a4(pages):
    if shutil.which("pdfinfo") is None:
        pytest.skip("poppler-utils is not installed")
    assert [path.name for path in pages] == ["exercises_3.pdf", "key_3.pdf"]
    for path in pages:
        about = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True).stdout
        assert re.search(r"Pages: +1\b", about) and "A4" in about


@pytest.mark.slow
def test_every_question_is_printed_and_no_answer(pages):
    words, key = squeezed(read(pages[0])), squeezed(read(pages[1]))
    for one in exercises(3):
        assert squeezed(one.question) in words
        assert one.answer_text in key and one.answer_text.replace(":1", " :1") not in words
        assert one.answer_text not in words, one.name


@pytest.mark.slow
def test_nothing_leaves_the_paper_or_overlaps():
    # DERIVED: every word's box lies inside the margins, and no two boxes cover each other.
    for page in (exercise_sheet.exercise_page, exercise_sheet.key_page):
        for variant in (1, 12):
            figure = page(variant)
            figure.canvas.draw()
            boxes = [(text.get_text(), text.get_window_extent()) for text in figure.texts if text.get_text().strip()]
            size = figure.bbox
            for words, box in boxes:
                assert box.x0 >= 0.04 * size.width and box.x1 <= 0.96 * size.width and box.y0 >= 0.03 * size.height, words
            for i, (words, box) in enumerate(boxes):
                for other, second in boxes[:i]:
                    wide = min(box.x1, second.x1) - max(box.x0, second.x0)
                    high = min(box.y1, second.y1) - max(box.y0, second.y0)
                    assert min(wide, high) < 2.0, f"{words} over {other}"


@pytest.mark.slow
def test_the_same_page_is_the_same_bytes(pages, tmp_path):
    again = exercise_sheet.write_exercises(tmp_path, variant=3)
    assert [path.read_bytes() for path in again] == [path.read_bytes() for path in pages]


@pytest.mark.slow
def test_the_command_line(tmp_path, capsys):
    assert exercise_sheet.main([str(tmp_path), "2"]) == 0
    assert capsys.readouterr().out.split() == [str(tmp_path / "exercises_2.pdf"), str(tmp_path / "key_2.pdf")]
    for wrong in ([], [str(tmp_path), "two"], [str(tmp_path), "0"]):
        assert exercise_sheet.main(wrong) == 2
        said = capsys.readouterr().err
        assert said.startswith("lightcalc: ") and said.count("\n") == 1
