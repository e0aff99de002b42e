"""What a class is asked: answers worked again from the words of the question, and verdicts that do not tell."""

import math
import re
from pathlib import Path

import nbformat
import numpy as np
import pytest
from scipy.integrate import quad

from lightcalc.answers.exercises import QUESTIONS, Exercise, check, class_questions, exercises, off_by_stops

log2 = math.log2


def numbers(text):
    return [float(number) for number in re.findall(r"(?<![\w²])\d+(?:\.\d+)?", text.replace("cd/m²", ""))]


def by_disc(diameter, far):
    """INDEPENDENT: rings of an even matt disc by the inverse square law, scipy quad; good to 1e-8."""
    return quad(lambda rho: 2 * rho * far**2 / (far**2 + rho**2) ** 2, 0, diameter / 2)[0]


AGAIN = {  # name: the answer from the numbers that the question prints; DERIVED, in plain arithmetic
    "backed off": lambda lux, near, far: lux * (near / far) ** 2,
    "where to": lambda near, drop: near * math.sqrt(2**drop),
    "turned away": lambda near, far, turn: 2 * log2(far / near) - log2(math.cos(math.radians(turn))),
    "two sides": lambda key, fill: 1 + key / fill,
    "in stops": lambda ratio, _: log2(1 + ratio),
    "fill wanted": lambda key, ratio, _: key / (ratio - 1),
    "white board": lambda lux, rho, side, far: rho * lux * side**2 / (math.pi * far**2) / (1 + (side / far) ** 2 / 3),
    "which falls": lambda small, large, near, step, *_: (
        log2(by_disc(small, near) / by_disc(small, near + step)) - log2(by_disc(large, near) / by_disc(large, near + step))
    ),
    "through air": lambda loss, far: -far * log2(1 - loss / 100),
    "cards in haze": lambda light, dark, far, sigma, air: log2(
        (light * math.exp(-sigma * far) + air * (1 - math.exp(-sigma * far)))
        / (dark * math.exp(-sigma * far) + air * (1 - math.exp(-sigma * far)))
    ),
}


@pytest.mark.parametrize("variant", [1, 2, 7, 40, 9999])
def test_every_answer_worked_again_from_the_words(variant):
    asked = exercises(variant)
    assert [one.name for one in asked] == list(AGAIN)
    for one in asked:
        # 1e-6 but for the board, whose square is taken to second order in side / distance: 1e-3
        tolerance = 1e-3 if one.name == "white board" else 1e-6
        assert one.answer == pytest.approx(AGAIN[one.name](*numbers(one.question)), rel=tolerance), one.question


def test_a_variant_is_a_page_of_its_own_and_always_the_same():
    assert exercises(3) == exercises(3) and len({exercises(n) for n in range(1, 20)}) == 19
    assert class_questions() == class_questions() and tuple(one.name for one in class_questions()) == QUESTIONS


@pytest.mark.parametrize("unit, answer, given, off", [
    ("stops", 2.0, 2.5, 0.5), ("stops", 2.0, -1.0, -3.0), ("lx", 100.0, 400.0, 2.0), ("to one", 4.0, 2.0, -1.0),
    ("m", 3.0, 6.0, 2.0), ("m", 3.0, 3.0 / math.sqrt(2), -1.0)])  # fmt: skip
def test_how_far_off_as_light(unit, answer, given, off):
    # DERIVED: a doubling is a stop; a doubling of a distance is two.
    assert off_by_stops(Exercise("x", "?", answer, unit, ""), given) == pytest.approx(off)


@pytest.mark.parametrize("given, verdict", [
    (None, "no answer yet: put a number (lx) in place of None and run the cell again"), (100.0, "right"), (105.0, "right"),
    (np.float64(95.0), "right"), (141.42, "too high by about 0.5 stops"), (50, "too low by about 1.0 stop"),
    (1e-9, "too low by more than 10 stops")])  # fmt: skip
def test_what_a_teacher_says(given, verdict):
    one = Exercise("x", "?", 100.0, "lx", "100")
    assert check(one, given) == verdict
    if given is None or verdict.startswith("too"):
        assert "100" not in check(one, given)


@pytest.mark.parametrize("one", class_questions(), ids=lambda one: one.name)
def test_the_class_questions_are_checked(one):
    assert check(one, one.answer) == "right" and check(one, None).startswith("no answer yet")
    wrong = one.answer + 0.5 if one.unit == "stops" else one.answer * math.sqrt(2)
    assert check(one, wrong) == "too high by about 0.5 stops"


@pytest.mark.parametrize("call, message", [
    (lambda: check(class_questions()[0], "two"), "an answer must be a number of stops, got 'two'"),
    (lambda: check(class_questions()[0], math.nan), "an answer in stops must be a finite number, got nan"),
    (lambda: check(class_questions()[1], 0), "an answer in lx must be > 0, got 0"),
    (lambda: check(class_questions()[0], True), "must be a number of stops, got True"),
    (lambda: exercises(0), "variant must be >= 1 and <= 9999, got 0"), (lambda: exercises(1.5), "whole number, got 1.5"),
])  # fmt: skip
def test_bad_input_is_refused_in_one_sentence(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_the_class_notebook_asks_them_and_does_not_tell():
    path = Path(__file__).resolve().parents[2] / "notebooks" / "03_contrast_ratio.ipynb"
    cells = nbformat.read(path, 4).cells
    printed = "\n".join(o.text for cell in cells if cell.cell_type == "code" for o in cell.outputs if o.output_type == "stream")
    text = "\n".join(cell.source for cell in cells) + printed
    for one in class_questions():
        assert one.question in " ".join(printed.split()) and one.working not in text
        told = {f"{one.answer:.{places}f}" for places in range(4)} - {f"{one.answer:.0f}"} | {one.answer_text}
        told |= {f"{one.answer:.0f}"} if one.answer > 20 else set()
        for number in told:
            assert not re.search(rf"(?<![\d.]){re.escape(number)}(?!\d)", text), f"{one.name}: {number}"
    assert printed.count("Your answer: no answer yet") == 3
