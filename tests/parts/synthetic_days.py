"""
Days made up: true parameters drawn, readings with a meter's error and its steps; what the correction makes of them.

By hand, a thousand days of each setup: `python tests/parts/synthetic_days.py 1000`.
"""

import sys
from dataclasses import replace
from functools import cache

import numpy as np

import lightcalc as lc
from lightcalc.answers.correction import METER, NINETY, fitted, model_of
from lightcalc.scene.meter_log import Metered
from lightcalc.scene.parts import Mark

ASKED = {  # what a crew meters, in the order of the page; what it does not, and is to be told
    "1": ("window lamp", "window lamp", "clerk, far cheek", "beam", "far wall", "far wall"),
    "8": ("lantern", "soft panel", "clerk", "clerk|soft panel", "wall", "wall"),
    "2": ("window lamp", "window lamp", "near wall", "near wall"),
    "3": ("open ground", "open ground", "sky over the pans", "sky over the pans"),
}  # a lamp and a wall are read twice: once, nobody could tell a wild reading from another lamp
UNSEEN = {"1": "clerk", "8": "ledgers", "2": "owner", "3": "raker"}


@cache
def planned(name):
    setup = lc.load(lc.demo_path()).setup(name)
    if name == "3":  # daylight and a board alone: the crew holds the meter up as well
        at = setup.part("raker").at
        setup = replace(
            setup, marks=(*setup.marks, Mark(name="open ground", at=(at[0] + 3.0, at[1], 0.1), aim=(at[0] + 3.0, at[1], 1.0)))
        )
    return setup, model_of(setup, lc.readings(setup))


def log_for(name, steps):
    """The day's log without its values; in T-stops of a meter that shows thirds, or in light."""
    unit = "T" if steps else "stops"
    return tuple(
        Metered(where=words.split("|")[0], value=1.0, unit=unit, only=tuple(words.split("|")[1:])) for words in ASKED[name]
    )


def day(name, draw, wild=None):
    """One day: (inside, named, miss at the unseen mark): a row of truths in their intervals, whether the wild one was named."""
    _, model = planned(name)
    log = log_for(name, True)
    truth = draw.normal(size=len(model.names)) * model.priors
    exact = model.log2_of(log, truth) + draw.normal(size=len(log)) * METER
    if wild is not None:
        exact[wild] += draw.choice([-2.0, 2.0])
    shown = np.round(exact * 3.0) / 3.0
    x, spread, sure = fitted(model, log, shown)
    inside = np.abs(x - truth) <= NINETY * np.sqrt(np.diag(spread))
    unseen = (replace(log[0], where=UNSEEN[name]),)
    miss = float((model.log2_of(unseen, x) - model.log2_of(unseen, truth))[0])
    return inside, None if wild is None else bool(sure[wild] < 0.5), miss


def days(name, count, seed=1):
    """Coverage of the 90 percent intervals, share of wild readings named, rms at the unseen mark. [1, 1, stops]"""
    draw = np.random.default_rng(seed)
    plain = [day(name, draw) for _ in range(count)]
    wild = [day(name, draw, wild=int(draw.integers(len(ASKED[name])))) for _ in range(count)]
    covered = float(np.mean([inside for inside, _, _ in plain]))
    return covered, float(np.mean([named for _, named, _ in wild])), float(np.sqrt(np.mean([miss**2 for _, _, miss in plain])))


if __name__ == "__main__":
    for name in ASKED:
        covered, named, rms = days(name, int(sys.argv[1]))
        print(f"setup {name}: covered {100 * covered:.1f} %, wild named {100 * named:.1f} %, unseen {rms:.3f} stop rms")
