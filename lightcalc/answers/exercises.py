"""What a class is asked about stops, falloff and ratios, the answers from the package, and how far off a reader's is."""

from __future__ import annotations

import random
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lightcalc.laws import bounce, falloff, haze
from lightcalc.units import check_range, stops
from lightcalc.wording import number_text, ratio_text, signed

if TYPE_CHECKING:
    pass

RIGHT_STOPS = 0.1  # as near as a hand meter repeats
DOUBLINGS = {"lx": 1.0, "to one": 1.0, "m": 2.0}  # stops of light in a doubling of the answer
QUESTIONS = ("turned away", "fill wanted", "cards in haze")  # those the class notebook asks
MOST_VARIANT = 9999


@dataclass(frozen=True)
class Exercise:
    """One question with its answer, and how one gets there."""

    name: str
    question: str
    answer: float
    unit: str  # stops, lx, m, to one
    working: str

    @property
    def answer_text(self) -> str:
        """The answer as it is printed."""
        if self.unit == "to one":
            return ratio_text(self.answer)
        return f"{signed(self.answer, places=2, sign=False) if self.unit == 'stops' else number_text(self.answer)} {self.unit}"

    @property
    def wrapped(self) -> str:
        """The question in lines that fit beside a stage."""
        return textwrap.fill(self.question, 92)


def off_by_stops(exercise: Exercise, answer: float) -> float:
    r"""
    How far an answer is from the right one, as light. [stops]

    Parameters
    ----------
    exercise : Exercise
    answer : float
        In the exercise's unit; above 0 unless that is stops.

    Returns
    -------
    float
        Plus is too high.

    Raises
    ------
    ValueError
        If the answer is no finite number, or not above 0 where it has to be.

    Notes
    -----
    The difference, where stops are asked; else :math:`\log_2` of the ratio, twice that for a distance, since half as
    far is four times the light.
    """
    if isinstance(answer, (str, bool)) or answer is None:
        raise ValueError(f"an answer must be a number of {exercise.unit}, got {answer!r}")
    if exercise.unit == "stops":
        check_range("an answer in stops", answer)
        return float(answer - exercise.answer)
    check_range(f"an answer in {exercise.unit}", answer, above=0.0)
    return float(DOUBLINGS[exercise.unit] * stops(answer / exercise.answer))


def check(exercise: Exercise, answer: float | None) -> str:
    """
    What a teacher would say to an answer, without giving the right one away.

    Parameters
    ----------
    exercise : Exercise
    answer : float or None
        In the exercise's unit; None for not answered yet.

    Returns
    -------
    str
        "right" within a tenth of a stop, or which way it is off and by about how much.

    Raises
    ------
    ValueError
        See `off_by_stops`.
    """
    if answer is None:
        return f"no answer yet: put a number ({exercise.unit}) in place of None and run the cell again"
    off = off_by_stops(exercise, answer)
    if abs(off) <= RIGHT_STOPS:
        return "right"
    size = abs(off)
    about = f"about {size:.1f} stop{'s' * (round(size, 1) != 1.0)}" if size < 10 else "more than 10 stops"
    return f"too {'high' if off > 0 else 'low'} by {about}"


def exercises(variant: int = 1) -> tuple[Exercise, ...]:
    """
    The page of exercises, with numbers of its own for every variant.

    Parameters
    ----------
    variant : int, default 1
        1 to 9999; the same one gives the same page.

    Returns
    -------
    tuple of Exercise

    Raises
    ------
    ValueError
        If the variant is not a whole number in that range.
    """
    if isinstance(variant, bool) or variant != int(variant):
        raise ValueError(f"variant must be a whole number, got {variant!r}")
    check_range("variant", variant, low=1, high=MOST_VARIANT)
    dice = random.Random(int(variant))
    return tuple(make(dice) for make in _MAKERS)


def class_questions() -> tuple[Exercise, ...]:
    """
    The three questions of the class notebook, the same for everybody.

    Returns
    -------
    tuple of Exercise
    """
    by_name = {one.name: one for one in exercises(7)}
    return tuple(by_name[name] for name in QUESTIONS)


def _turned_away(dice):
    near, far = dice.choice((1.8, 2.2, 2.6)), dice.choice((3.7, 4.3, 5.1))
    turn = dice.choice((35, 40, 50))
    before = falloff.illuminance(intensity_cd=1.0, distance_m=near)
    after = falloff.illuminance(intensity_cd=1.0, distance_m=far, incidence_deg=turn)
    return Exercise(
        "turned away", f"A small lamp {near} m from a card, straight on. It goes back to {far} m, and the card is turned {turn}° "
        "away from it. By how many stops does the card lose light?",
        float(stops(before / after)), "stops", f"2 log2({far}/{near}) + log2(1/cos {turn}°)",
    )  # fmt: skip


def _backed_off(dice):
    lux, near, far = dice.choice((840, 1250, 1900)), dice.choice((2.1, 2.4, 2.9)), dice.choice((3.3, 3.9, 4.6))
    at_far = falloff.illuminance(intensity_cd=lux * near**2, distance_m=far)
    return Exercise(
        "backed off", f"A small lamp gives {lux} lx at {near} m. What does it give at {far} m?", float(at_far), "lx",
        f"{lux} × ({near}/{far})²",
    )  # fmt: skip


def _where_to(dice):
    near, drop = dice.choice((1.9, 2.3, 2.7)), dice.choice((0.7, 1.3, 1.7))
    far = falloff.distance_for_stops(distance_m=near, change_stops=-drop)
    return Exercise(
        "where to", f"A small lamp at {near} m is {drop} stops too strong. How far from the face should it stand?", float(far), "m",
        f"{near} × 2^({drop}/2)",
    )  # fmt: skip


def _two_sides(dice):
    key, fill = dice.choice((430, 620, 910)), dice.choice((75, 110, 160))
    return Exercise(
        "two sides", f"The key alone gives {key} lx, the fill alone {fill} lx, and the fill lands on both sides of the face. "
        "What is the ratio, (key + fill) : fill?",
        float(bounce.fill_ratio(key_lx=key, fill_lx=fill)), "to one", f"({key} + {fill}) / {fill}",
    )  # fmt: skip


def _in_stops(dice):
    ratio = dice.choice((3, 4, 6))
    apart = bounce.ratio_stops(key_lx=float(ratio), fill_lx=1.0)
    return Exercise(
        "in stops", f"Key : fill is {ratio_text(ratio)}. How many stops lie between the two sides of the face?", float(apart), "stops",
        f"log2({ratio} + 1): the fill lands on the key side too",
    )  # fmt: skip


def _fill_wanted(dice):
    key, ratio = dice.choice((530, 770, 1150)), dice.choice((5, 6, 7))
    fill = bounce.fill_for_ratio(key_lx=key, ratio=ratio)
    return Exercise(
        "fill wanted", f"The key alone gives {key} lx. How much fill makes {ratio_text(ratio)}, counted as (key + fill) : fill?", float(fill),
        "lx", f"{key} / ({ratio} − 1)",
    )  # fmt: skip


def _white_board(dice):
    lux, side, far = dice.choice((3200, 5400, 8800)), dice.choice((1.0, 1.2)), dice.choice((5.5, 6.4, 7.1))
    fill = bounce.board_fill_illuminance(board_lx=lux, reflectance=0.85, width_m=side, height_m=side, subject_m=far)
    return Exercise(
        "white board", f"{lux} lx fall on a white board (reflectance 0.85), {side} m square, that faces somebody {far} m away. What "
        "does it give?",
        float(fill), "lx", f"0.85 × {lux} × {side}² / (π × {far}²), good to 1 % from five sides away",
    )  # fmt: skip


def _which_falls(dice):
    near, step = dice.choice((1.0, 1.2)), dice.choice((0.5, 0.8))
    size = dice.choice((0.4, 0.6))
    lost = [stops(falloff.disc_factor(radius_m=d / 2, distance_m=near) / falloff.disc_factor(radius_m=d / 2, distance_m=near + step))
            for d in (size, 2.4)]  # fmt: skip
    return Exercise(
        "which falls", f"Two round boards, {size} m and 2.4 m across, both {near} m from a face. It leans back {step} m. How many stops "
        "more does the small one lose than the large one? (On the axis E is as r² / (r² + d²).)",
        float(lost[0] - lost[1]), "stops",
        f"log2 of ({near + step:.1f}² + r²)/({near}² + r²), r = {size / 2}: {lost[0]:.2f}; r = 1.2: {lost[1]:.2f}",
    )  # fmt: skip


def _through_air(dice):
    loss, far = dice.choice((3, 5, 8)), dice.choice((9, 11, 14))
    sigma = haze.extinction_from_loss_per_m(loss_percent=loss)
    left = haze.transmittance(extinction_per_m=sigma, path_m=far)
    return Exercise(
        "through air", f"The haze takes {loss} % of the light in every metre. How many stops does a face {far} m away lose on its way to "
        "the lens?",
        float(-stops(left)), "stops", f"−{far} × log2(1 − {loss / 100:g})",
    )  # fmt: skip


def _cards_in_haze(dice):
    sigma, far = dice.choice((0.05, 0.06, 0.08)), dice.choice((9, 13, 16))
    light, dark, air = 40.0, 2.0, dice.choice((6.0, 9.0, 14.0))
    veil = air * haze.airlight_fraction(extinction_per_m=sigma, path_m=far)
    apart = haze.separation_stops_through_haze(
        target_cd_m2=light, background_cd_m2=dark, extinction_per_m=sigma, path_m=far, airlight_cd_m2=veil
    )
    return Exercise(
        "cards in haze", f"A light card of {light:g} cd/m² and a dark one of {dark:g} cd/m² stand {far} m away in haze of {sigma:g} per "
        f"metre, evenly lit; air without end would show {air:g} cd/m². How many stops apart does the lens see them?",
        float(apart), "stops",
        f"T = exp(−{sigma:g} × {far}), veil {air:g} (1 − T); log2 of ({light:g} T + veil)/({dark:g} T + veil)",
    )  # fmt: skip


_MAKERS = (
    _backed_off, _where_to, _turned_away, _two_sides, _in_stops, _fill_wanted, _white_board, _which_falls, _through_air, _cards_in_haze,
)  # fmt: skip
