"""A drawing beside a stage: made again when the stage has settled on another setup, and only then."""

import asyncio
import base64

import matplotlib
import pytest
from matplotlib.figure import Figure

from lightcalc.panels.figure_beside import Beside
from lightcalc.panels.stage import Stage

from stage_parts import Count, loft

matplotlib.use("agg")


class Drawer:
    """Remembers what it was asked to draw, and where it must refuse."""

    def __init__(self):
        self.asked, self.refuse = [], ""

    def __call__(self, setup, *, units):
        if self.refuse:
            raise ValueError(self.refuse)
        self.asked.append((setup.part("packer").at[0], units))
        return Figure(figsize=(1, 1), dpi=20 + len(self.asked))


def beside():
    stage, drawer = Stage(loft(), engine=Count().engine()), Drawer()
    return stage, drawer, Beside(stage, drawer)


def drag(stage, x, seq):
    stage._handle_custom_msg({"ops": [{"move": {"mark:packer": {"at": [x, 2.7, 1.5]}}}], "client": "t", "seq": seq}, [])


def test_it_is_drawn_when_made_and_after_a_move():
    stage, drawer, seen = beside()
    first = bytes(seen.value)
    assert drawer.asked == [(4.1, "metric")] and first.startswith(b"\x89PNG")
    stage.setup = stage.setup.with_part("packer", at=(3.9, 2.7, 1.5))
    assert drawer.asked[-1] == (3.9, "metric") and bytes(seen.value) != first


def test_another_unit_is_another_drawing_and_the_same_setup_is_not():
    stage, drawer, _ = beside()
    stage.units = "feet"
    assert drawer.asked[-1] == (4.1, "feet")
    stage.shown = dict(stage.shown) | {"notice": "something was said"}
    assert len(drawer.asked) == 2


@pytest.mark.slow
def test_moves_in_between_are_left_out():
    async def hand():
        stage, drawer, _ = beside()
        for seq in range(8):
            drag(stage, 3.0 + 0.1 * seq, seq + 1)
            await asyncio.sleep(0.02)
        during = list(drawer.asked)
        await asyncio.sleep(1.5)  # the stage's own rest, its picture, and then the drawing
        return during, drawer.asked

    during, after = asyncio.run(hand())
    assert during == [(4.1, "metric")] and after == [(4.1, "metric"), (3.7, "metric")]


def test_a_refusal_is_shown_and_gone_again():
    stage, drawer, seen = beside()
    drawer.refuse = "mark 'packer' has no fill"
    stage.setup = stage.setup.with_part("packer", at=(3.9, 2.7, 1.5))
    said = bytes(seen.value)
    assert said.startswith(b"\x89PNG") and len(drawer.asked) == 1
    drawer.refuse = ""
    stage.setup = stage.setup.with_part("packer", at=(3.8, 2.7, 1.5))
    assert drawer.asked[-1] == (3.8, "metric") and bytes(seen.value) != said


def test_a_reader_without_a_kernel_has_the_drawing():
    _, _, seen = beside()
    data = seen._repr_mimebundle_()
    assert base64.b64decode(data["image/png"]) == bytes(seen.value) and "text/html" not in data
    assert "application/vnd.jupyter.widget-view+json" in data and data["text/plain"].startswith("Beside(Stage('loft_day'")
