"""A drawing beside a stage: made again from its setup whenever the stage has come to rest."""

from __future__ import annotations

import asyncio
import base64
import io
import textwrap
from collections.abc import Callable
from typing import TYPE_CHECKING

import ipywidgets
from matplotlib.figure import Figure

if TYPE_CHECKING:
    from lightcalc.panels.stage import Stage

WAIT_S = 0.3  # after the stage's own final pass, which must not wait for a drawing


class Beside(ipywidgets.Image):
    """
    A drawing that follows a stage.

    Parameters
    ----------
    stage : panels.Stage
        Whose setup is drawn.
    draw : callable
        ``draw(setup, units=...)``, gives a matplotlib Figure. A ValueError it raises is shown in place of the drawing.

    Notes
    -----
    Drawn when made, and again a moment after the stage's readings are final; moves in between are left out.
    """

    def __init__(self, stage: Stage, draw: Callable[..., Figure]) -> None:
        super().__init__(format="png", layout=ipywidgets.Layout(max_width="100%", object_fit="contain"))
        self.stage, self._draw, self._timer = stage, draw, None
        self._drawn: tuple = ()
        self.renew()
        stage.observe(self._stage_moved, ["shown", "units"])

    def __repr__(self):
        return f"Beside({self.stage!r})"

    def renew(self) -> None:
        """Draw the stage's setup as it stands now."""
        self._stop()
        self._drawn = (self.stage.setup, self.stage.units)
        try:
            figure = self._draw(self.stage.setup, units=self.stage.units)
        except ValueError as error:
            figure = _words(str(error))
        out = io.BytesIO()
        figure.savefig(out, format="png")
        self.value = out.getvalue()

    def _stage_moved(self, change):
        """Once the stage has settled, and the setup is another one: draw, but not in its way."""
        self._stop()
        if self.stage.shown.get("quality", {}).get("readings") != "final" or self._drawn == (self.stage.setup, self.stage.units):
            return
        try:
            self._timer = asyncio.get_running_loop().call_later(WAIT_S, self.renew)
        except RuntimeError:  # no event loop: nobody's hand to wait for
            self.renew()

    def _stop(self):
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _repr_mimebundle_(self, **kwargs):
        """The widget, and beside it the drawing itself for readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        data = dict(bundle[0] if isinstance(bundle, tuple) else bundle or {})
        data.pop("text/html", None)
        return data | {"text/plain": repr(self), "image/png": base64.b64encode(self.value).decode("ascii")}


def _words(sentence):
    """A sentence where a drawing should be."""
    figure = Figure(figsize=(7, 1), dpi=100)
    figure.text(0.02, 0.5, textwrap.fill(sentence, 90), fontsize=9, va="center", parse_math=False)
    return figure
