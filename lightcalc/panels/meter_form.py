"""The day's meter on the page: what is expected beside each blank, and the plan corrected by what is typed."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets

from lightcalc.answers.correction import Correction, Model, correct, kept, model_of
from lightcalc.answers.placement import placements
from lightcalc.answers.readings import readings
from lightcalc.paper.blocks import Table
from lightcalc.paper.page import Page, Paper, plain_look
from lightcalc.scene.meter_log import Metered, log_of, log_text, of_setup
from lightcalc.scene.shoot_file import ShootFile
from lightcalc.wording import file_words, light_text, luminance_text, number_text, one_line, stops_text

if TYPE_CHECKING:
    from lightcalc.answers.readings import Readings

STYLE = (
    "<style>.lc-meter pre{white-space:pre-wrap;word-break:normal;overflow-wrap:break-word;margin:6px 0;font-size:13px;line-height:1.45}.lc-meter .lc-row{border-bottom:1px solid #9996;"
    "padding:3px 0;max-width:640px}.lc-meter .widget-html-content{line-height:1.4}.lc-meter input{font-size:16px}</style>"  # a phone zooms in on smaller type
)
LIGHT, LUMINANCE = ("lx", "fc", "stops", "T"), ("cd/m2", "fl", "stops", "T")


class MeterForm(ipywidgets.VBox):
    """
    A setup's readings to type in, each beside what is expected, and what they say of the plan.

    Parameters
    ----------
    path : str or Path
        The shoot file.
    setup : str
        The setup to begin with; another is chosen on the page.
    log : sequence of Metered, optional
        Readings that are there already.

    Notes
    -----
    `found` is the last correction of the setup that is shown, or None.
    """

    def __init__(self, path: str | Path, setup: str, *, log: Sequence[Metered] = ()) -> None:
        self.opened = ShootFile.open(path)
        self._log = list(log)
        self._known: dict[str, tuple[Readings, Model]] = {}
        self.found: Correction | None = None
        wide, wrap = ipywidgets.Layout(width="100%"), ipywidgets.Layout(flex_flow="row wrap", grid_gap="4px 8px")
        names = [(f"{one.name}  {one_line(one.title, most=60)}", one.name) for one in self.opened.shoot.setups]
        self._setups = ipywidgets.Dropdown(options=names, value=setup, description="setup", layout=ipywidgets.Layout(width="auto"))
        self._rows, self._said = ipywidgets.VBox([], layout=wide), ipywidgets.HTML()
        buttons = (("Correct the plan", self.correct), ("Write the log", self.write_log), ("Keep in the shoot file", self.keep))
        made = [self._button(name, act) for name, act in buttons]
        super().__init__(
            [ipywidgets.HTML(STYLE), self._setups, self._rows, ipywidgets.HBox(made, layout=wrap), self._said], layout=wide
        )
        self.add_class("lc-meter")
        self._setups.observe(lambda change: self._show(change["new"]), ["value"])
        self._show(setup)

    def _button(self, name, act):
        button = ipywidgets.Button(description=name, layout=ipywidgets.Layout(width="auto"))

        def pressed(_):
            button.disabled = True
            try:
                act()
            except (ValueError, OSError) as error:
                self._tell(str(error))
            finally:
                button.disabled = False

        button.on_click(pressed)
        return button

    # --- the blanks --------------------------------------------------------------------------------------

    @property
    def setup_name(self) -> str:
        """The setup that is shown."""
        return self._setups.value

    def _show(self, name):
        """A row for each lamp alone, each mark and each spot, with the readings that are there already."""
        self.found, setup = None, self.opened.shoot.setup(name)
        if name not in self._known:
            read = readings(setup)
            self._known[name] = read, model_of(setup, read)
        read, units = self._known[name][0], self.opened.shoot.units
        alone = [one for one in placements(setup) if one.kind == "light" and one.check_lx > 0]
        blanks = [
            (one.name, f"alone, {number_text(one.check_m)} m in front", light_text(one.check_lx, units), LIGHT) for one in alone
        ]
        blanks += [(m.name, "", f"{light_text(m.illuminance_lx, units)}, {stops_text(m.level_stops)}", LIGHT) for m in read.marks]
        blanks += [
            (s.name, "spot", f"{luminance_text(s.luminance_cd_m2, units)}, {stops_text(s.level_stops)}", LUMINANCE)
            for s in read.spots
        ]
        given = [one for one in self._log if one.setup in ("", name)]
        rows = []
        for where, how, expected, choices in blanks:
            there = [one for one in given if one.where == where and not one.only] or [None]
            rows += [self._row(where, how, expected, choices, one) for one in there]
        self._rows.children = tuple(rows)
        self._tell("")

    def _row(self, where, how, expected, choices, reading):
        """One blank: what, what is expected, what was read."""
        words = f"<b>{escape(one_line(where, most=60))}</b>{' (' + how + ')' if how else ''}<br>expected {escape(expected)}"
        text = ipywidgets.Text(
            value="" if reading is None else number_text(reading.value, figures=5).replace("−", "-"), placeholder="read",
            layout=ipywidgets.Layout(width="96px"), continuous_update=False,
        )  # fmt: skip
        unit = ipywidgets.Dropdown(
            options=choices, value=choices[0] if reading is None else reading.unit, layout=ipywidgets.Layout(width="84px")
        )
        row = ipywidgets.HBox(
            [ipywidgets.HTML(words, layout=ipywidgets.Layout(flex="1 1 150px")), ipywidgets.HBox([text, unit])],
            layout=ipywidgets.Layout(align_items="center"),
        )
        row.add_class("lc-row")
        row.where, row.text, row.unit, row.words = where, text, unit, (f"{where} ({how})" if how else where, expected)
        return row

    @property
    def log(self) -> tuple[Metered, ...]:
        """
        What is typed for this setup, and what else the log has of it (readings with some lamps off).

        Raises
        ------
        meter_log.LogError
            With a sentence for each blank that is no reading.
        """
        typed = [(row.where, row.text.value.strip(), row.unit.value) for row in self._rows.children if row.text.value.strip()]
        lines = ["where,value,unit", *(f'"{where}","{value}",{unit}' for where, value, unit in typed)]
        rest = [one for one in self._log if one.setup in ("", self.setup_name) and one.only]
        noted = {
            (one.where, number_text(one.value, figures=5), one.unit): one for one in self._log
        }  # who wrote when, and what of it
        found = [
            replace(noted.get((one.where, number_text(one.value, figures=5), one.unit), one), setup=self.setup_name)
            for one in (*log_of("\n".join(lines), "the form"), *rest)
        ]
        return of_setup(found, self.opened.shoot.setup(self.setup_name), "the form")

    # --- what is done with them --------------------------------------------------------------------------

    def correct(self) -> Correction:
        """Correct the plan by what is typed, and say it."""
        setup, (read, model) = self.opened.shoot.setup(self.setup_name), self._known[self.setup_name]
        self.found = correct(setup, self.log, read=read, model=model)
        self._tell("\n".join(self.found.lines(self.opened.shoot.units)))
        return self.found

    def write_log(self) -> Path:
        """Write all readings beside the shoot file, those of this setup as they are typed."""
        self._log = [one for one in self._log if one.setup not in ("", self.setup_name)] + list(self.log)
        path = self.opened.path.with_name(f"{file_words([self.opened.path.stem])[0]}_log.csv")
        path.write_text(log_text(self._log), encoding="utf-8")
        self._tell(f"Written: {path.resolve()}")
        return path

    def keep(self) -> None:
        """Put what was found into the shoot file: lamps, walls and haze, not the daylight."""
        if self.found is None:
            self.correct()
        self.opened = self.opened.save(kept(self.opened.shoot, self.found))  # type: ignore[arg-type]
        self._known, name = {}, self.setup_name
        said = f"Kept in {self.opened.path.name}: lamps of that name in all setups, walls of that place, haze of this setup."
        self._log = [one for one in self._log if one.setup not in ("", name)]
        self._show(name)
        self._tell(said + " What is expected now is of the corrected plan, and the blanks are empty.")

    def _tell(self, words):
        self._said.value = f"<pre>{escape(words)}</pre>" if words else ""

    def still(self) -> bytes:
        """The blanks and what is in them as a PNG."""
        rows = tuple((*row.words, f"{row.text.value} {row.unit.value}" if row.text.value else "") for row in self._rows.children)
        title = f"{self.setup_name}: what is expected, and what was read"
        table = Table(title, ("Where", "Expected", "Metered"), rows, wraps=(0,), width=150.0)
        with plain_look():
            page = Page(Paper("still", 160.0, table.height(8.0) + 10.0))
            table.draw(page, 5.0, 5.0, 8.0)
            out = io.BytesIO()
            page.figure.savefig(out, format="png", dpi=110, metadata={"Software": None})
        return out.getvalue()

    def __repr__(self):
        return f"MeterForm({self.opened.path.name!r}, setup {self.setup_name!r}, {len(self._rows.children)} blanks)"

    def _repr_mimebundle_(self, **kwargs):
        """The widget, and beside it the blanks themselves for readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        data = dict(bundle[0] if isinstance(bundle, tuple) else bundle or {})
        data.pop("text/html", None)
        return data | {"text/plain": repr(self), "image/png": base64.b64encode(self.still()).decode("ascii")}
