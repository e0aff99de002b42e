"""The whole shoot on one page: choose the file, see which targets are met, open a setup's stage, check the order, write the paper."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Sequence
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets
import traitlets

from lightcalc.answers.circuits import setup_load
from lightcalc.answers.kit_totals import shoot_totals
from lightcalc.answers.readings import readings
from lightcalc.answers.shoot_order import ShootOrder, shoot_order
from lightcalc.answers.shot_list import shots
from lightcalc.panels.advice_pane import AdvicePane
from lightcalc.panels.stage import Stage
from lightcalc.paper.blocks import Table
from lightcalc.paper.book import write_book
from lightcalc.paper.page import Page, Paper, plain_look
from lightcalc.paper.phone_page import write_phone_page
from lightcalc.paper.recce_form import write_recce
from lightcalc.scene.shoot_file import ShootFile
from lightcalc.wording import file_words, one_line, target_text, verdict_text

if TYPE_CHECKING:
    from lightcalc.answers.readings import Readings
    from lightcalc.scene.parts import Setup
    from lightcalc.scene.shoot import Shoot

MOST_FILES, MOST_BYTES = 200, 1_000_000
HEADS = ("Setup", "Title", "Day", "Place", "Time", "Targets")
STYLE = (
    "<style>.lc-board table{border-collapse:collapse;width:100%;font-size:13px;line-height:1.4}.lc-board th{text-align:left;border-bottom:2px solid}"
    ".lc-board td{padding:3px 10px 3px 0;vertical-align:top;border-bottom:1px solid #9996}.lc-board tr.here td{font-weight:600}"
    ".lc-board .missed{font-weight:700;text-decoration:underline}.lc-board pre{white-space:pre-wrap;margin:6px 0;font-size:13px;line-height:1.45}</style>"
)


def shoot_files(folder: str | Path) -> tuple[Path, ...]:
    """
    Files of a folder that look like shoots: TOML, of bearable size, with setups in it.

    Parameters
    ----------
    folder : str or Path

    Returns
    -------
    tuple of Path
        By name, at most 200 looked at.
    """
    found = []
    for path in sorted(Path(folder).glob("*.toml"))[:MOST_FILES]:
        try:
            if path.is_file() and path.stat().st_size <= MOST_BYTES and b"[[setups]]" in path.read_bytes():
                found.append(path)
        except OSError:
            continue
    return tuple(found)


class ShootBoard(ipywidgets.VBox):
    """
    A shoot file and what one asks of it before and on the day.

    Parameters
    ----------
    path : str or Path
        The file to begin with; another is chosen on the page.
    stage : callable, optional
        Makes a stage from a setup, ``stage(setup, shoot_file=..., units=...)``; `Stage` itself without it.
    read : callable, optional
        Reads a setup; `readings.readings` without it.

    Notes
    -----
    What is moved on a stage counts here at once, saved or not, until another file is opened. `add_pane` puts a further
    widget beside the panes; it may observe `chosen` and look at `stage`.
    """

    chosen = traitlets.Unicode("")  # the setup on the stage

    def __init__(self, path: str | Path, *, stage: Callable[..., Any] = Stage, read: Callable[..., Any] = readings) -> None:
        self._make_stage, self._read = stage, read
        self.stage: Any = None
        self._moved: dict[str, Setup] = {}
        self._reads: dict[str, Readings] = {}
        self._build(Path(path))
        super().__init__([self._style, self._top, self._table, self._pick, self._stage_box, self._tabs, self._said])
        self.add_class("lc-board")
        self.open_file(path)
        self.add_pane("Advice", AdvicePane(self))

    def _build(self, path):
        """The widgets, with what they do."""
        wide = ipywidgets.Layout(width="100%")
        self._style, self._table, self._said = (ipywidgets.HTML(STYLE), ipywidgets.HTML(), ipywidgets.HTML())
        self._files = ipywidgets.Dropdown(description="file", layout=ipywidgets.Layout(width="auto", flex="2 1 200px"))
        self._typed = ipywidgets.Text(placeholder="or its path, typed", layout=ipywidgets.Layout(width="auto", flex="3 1 240px"))
        self._top = ipywidgets.HBox(
            [self._files, self._typed, self._button("Open", self._open_typed)], layout=ipywidgets.Layout(flex_flow="row wrap")
        )
        self._setups = ipywidgets.Dropdown(description="setup", layout=ipywidgets.Layout(width="auto", flex="1 1 300px"))
        self._pick = ipywidgets.HBox(
            [self._setups, self._button("Open its stage", lambda: self.choose(self._setups.value))],
            layout=ipywidgets.Layout(flex_flow="row wrap"),
        )
        self._stage_box = ipywidgets.VBox([], layout=wide)
        self._order, self._power, self._carry = ipywidgets.HTML(), ipywidgets.HTML(), ipywidgets.HTML()
        self._list = ipywidgets.Text(
            placeholder="a shot list (CSV), if there is one", layout=ipywidgets.Layout(width="auto", flex="1 1 240px")
        )
        self._bar = ipywidgets.FloatProgress(min=0.0, max=1.0, layout=ipywidgets.Layout(width="100%", visibility="hidden"))
        self._paper = ipywidgets.Dropdown(options=[("A4", "a4"), ("Letter", "letter")], description="paper")
        row = ipywidgets.Layout(flex_flow="row wrap")
        order = ipywidgets.VBox(
            [ipywidgets.HBox([self._list, self._button("Check the order", self._check_order)], layout=row), self._order]
        )
        papers = (
            ("Write the book", self._book),
            ("Write the phone page", self._phone),
            ("Write the recce forms", self._recce),
            ("Write the shot list", self._csv),
        )
        paper = ipywidgets.VBox(
            [ipywidgets.HBox([self._paper, *(self._button(name, act) for name, act in papers)], layout=row), self._bar]
        )
        self._tabs = ipywidgets.Tab(
            [order, self._power, self._carry, paper], titles=("Order", "Power", "Carry", "Paper"), layout=wide
        )

    def _button(self, name, act):
        """A button that never lets an error go unsaid."""
        button = ipywidgets.Button(description=name, layout=ipywidgets.Layout(width="auto"))

        def pressed(_):
            button.disabled = True
            try:
                self.say("")
                act()
            except (ValueError, OSError) as error:
                self.say(str(error) if isinstance(error, ValueError) else f"{error.filename or 'file'}: {error.strerror or error}")
            finally:
                button.disabled = False

        button.on_click(pressed)
        return button

    def say(self, words: str) -> None:
        """A line at the foot; an empty one takes it away."""
        self._said.value = f"<pre>{escape(words)}</pre>" if words else ""

    def add_pane(self, title: str, widget: ipywidgets.Widget) -> None:
        """
        A further pane behind the others.

        Parameters
        ----------
        title : str
        widget : ipywidgets.Widget
        """
        titles = (*self._tabs.titles, title)
        self._tabs.children = (*self._tabs.children, widget)
        self._tabs.titles = titles

    # --- the file ----------------------------------------------------------------------------------------

    def open_file(self, path: str | Path) -> None:
        """
        Open a shoot file: what was moved and not saved of the one before is let go.

        Parameters
        ----------
        path : str or Path
        """
        self.opened = ShootFile.open(path)
        self._moved, self._reads, self.chosen = {}, {}, ""
        self.stage, self._stage_box.children = None, ()
        self._let_go()
        found = dict.fromkeys([self.opened.path.resolve(), *(p.resolve() for p in shoot_files(self.opened.path.resolve().parent))])
        self._files.options = [(p.name, str(p)) for p in found]
        self._files.value = str(self.opened.path.resolve())
        self._setups.options = [(f"{s.name}  {one_line(s.title, most=60)}", s.name) for s in self.opened.shoot.setups]
        self._setups.value = self.opened.shoot.setups[0].name
        self.renew()

    def _open_typed(self):
        self.open_file(self._typed.value.strip() or self._files.value)

    @property
    def shoot(self) -> Shoot:
        """The file's shoot with what stands moved on its stages."""
        shoot = self.opened.shoot
        return replace(shoot, setups=tuple(self._moved.get(s.name, s) for s in shoot.setups))

    # --- targets and stage -------------------------------------------------------------------------------

    def renew(self) -> None:
        """Read what has not been read yet, and show all that follows from the setups."""
        for setup in self.shoot.setups:
            if setup.name not in self._reads:
                self._reads[setup.name] = self._read(setup)
        rows = "".join(
            f"<tr{' class=here' * (row[0] == self.chosen)}>{_cells(row)}{_targets(self._reads[row[0]])}</tr>" for row in self.rows()
        )
        self._table.value = f"<table><tr>{''.join(f'<th>{head}</th>' for head in HEADS)}</tr>{rows}</table>"
        shoot = self.shoot
        self._power.value = _pre([line for setup in shoot.setups for line in setup_load(shoot, setup).lines()])

    def rows(self) -> list[tuple[str, ...]]:
        """
        The table of setups, targets left out: name, title, day, place, time.

        Returns
        -------
        list of tuple of str
        """
        return [(s.name, s.title, str(s.day), s.place.name, s.time) for s in self.shoot.setups]

    def lines(self) -> list[str]:
        """The table as plain text: each setup with how its targets fare."""
        said = []
        for name, title, *_ in self.rows():
            read = self._reads[name]
            missed = [f"{target_text(t)}: {verdict_text(t)}" for t in read.targets if not t.met]
            count = len(read.targets)
            state = (
                "no targets"
                if not count
                else f"all {count} met"
                if not missed
                else f"{len(missed)} of {count} missed: {'; '.join(missed)}"
            )
            said.append(f"{one_line(name)}  {one_line(title)}: {state}")
        return said

    def choose(self, name: str) -> None:
        """
        Open a setup's stage under the table.

        Parameters
        ----------
        name : str
        """
        setup = self.shoot.setup(name)
        self.opened = ShootFile.open(self.opened.path)  # another stage may have saved
        self.stage = self._make_stage(setup, shoot_file=self.opened, units=self.opened.shoot.units)
        self.stage.observe(self._stage_moved, ["shown"])
        self._stage_box.children, self._setups.value, self.chosen = (self.stage,), name, name
        self.renew()

    @property
    def picked(self) -> str:
        """The setup that is picked, its stage open or not."""
        return self._setups.value

    def _stage_moved(self, change):
        """The table follows a stage once that has settled."""
        stage = change["owner"]
        if stage is not self.stage or stage.shown.get("quality", {}).get("readings") != "final":
            return
        setup = stage.setup
        if self._moved.get(setup.name) != setup:
            self._moved[setup.name], self._reads[setup.name] = setup, stage.readings
            self._let_go()
            self.renew()

    def _let_go(self):
        """An order and a list of another plan do not stay."""
        self._order.value, self._carry.value = "", _pre(["The list follows the order: press Check the order first."])

    # --- order and paper ---------------------------------------------------------------------------------

    def order(self, shot_list: str | Path | None = None) -> ShootOrder:
        """
        The order of the days, checked.

        Parameters
        ----------
        shot_list : str or Path, optional
            A CSV; what is typed on the page without it, or else the file's own order.

        Returns
        -------
        shoot_order.ShootOrder
        """
        path = shot_list or self._list.value.strip() or None
        return shoot_order(self.shoot, shots(self.shoot, path, told=self._tell))

    def _check_order(self):
        try:
            found = self.order()
        finally:
            self._tell(1.0)
        self._order.value = _pre(found.lines())
        whole, days = shoot_totals(self.shoot, found, kit=self.opened.kit.whole)
        self._carry.value = _pre([line for part in (whole, *days) for line in part.lines()])

    def _tell(self, share, left_s=None):
        self._bar.value, self._bar.layout.visibility = share, "hidden" if share >= 1.0 else "visible"

    def _beside(self, ending):
        """A name beside the shoot file for what is written."""
        return self.opened.path.with_name(f"{file_words([self.opened.path.stem])[0]}{ending}")

    def write_book(self, path: str | Path | None = None) -> Path:
        """
        Write the book of the shoot as it stands here.

        Parameters
        ----------
        path : str or Path, optional
            Beside the shoot file without it.

        Returns
        -------
        Path
        """
        how = {"paper": self._paper.value, "kit": self.opened.kit.whole, "shot_list": self._list.value.strip() or None}
        try:
            return write_book(self.shoot, path or self._beside("_book.pdf"), told=self._tell, **how)
        finally:
            self._tell(1.0)

    def _wrote(self, path):
        unsaved = [name for name, setup in self._moved.items() if ShootFile.open(self.opened.path).shoot.setup(name) != setup]
        but = f"\nWith what was moved here and is not in the file yet: setup {', '.join(unsaved)}." if unsaved else ""
        self.say(f"Written: {path.resolve()}{but}")

    def _book(self):
        self._wrote(self.write_book())

    def _phone(self):
        try:
            path = write_phone_page(self.shoot, self.shoot.setups, self._beside("_phone.html"), told=self._tell)
        finally:
            self._tell(1.0)
        self._wrote(path)

    def _recce(self):
        self._wrote(write_recce(self._beside("_recce.pdf"), self.shoot, paper=self._paper.value))

    def _csv(self):
        try:
            text = self.order().csv()
        finally:
            self._tell(1.0)
        path = self._beside("_shots.csv")
        path.write_text(text, encoding="utf-8")
        self._wrote(path)

    # --- for a page without a kernel ---------------------------------------------------------------------

    def still(self) -> bytes:
        """The table of setups as a PNG."""
        rows = tuple((*row, _verdict(self._reads[row[0]])) for row in self.rows())
        table = Table(one_line(self.shoot.title), HEADS, rows, wraps=(1, 3, 5), width=190.0)
        with plain_look():
            page = Page(Paper("still", 200.0, table.height(8.0) + 10.0))
            table.draw(page, 5.0, 5.0, 8.0)
            out = io.BytesIO()
            page.figure.savefig(out, format="png", dpi=110, metadata={"Software": None})
        return out.getvalue()

    def __repr__(self):
        return f"ShootBoard({self.opened.path.name!r}, {len(self.opened.shoot.setups)} setups)"

    def _repr_mimebundle_(self, **kwargs):
        """The widget, and beside it the table itself for readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        data = dict(bundle[0] if isinstance(bundle, tuple) else bundle or {})
        data.pop("text/html", None)
        return data | {"text/plain": repr(self), "image/png": base64.b64encode(self.still()).decode("ascii")}


def _pre(lines: Sequence[str]) -> str:
    return f"<pre>{escape(chr(10).join(lines))}</pre>"


def _cells(row):
    return "".join(f"<td>{escape(one_line(text))}</td>" for text in row)


def _targets(read):
    said = (
        f'<span class="{"met" if t.met else "missed"}">{escape(target_text(t))}: {escape(verdict_text(t))}</span>'
        for t in read.targets
    )
    return f"<td>{'<br>'.join(said) or 'none'}</td>"


def _verdict(read):
    missed = [f"{target_text(t)}: {verdict_text(t)}" for t in read.targets if not t.met]
    return "; ".join(missed) if missed else f"all {len(read.targets)} met" if read.targets else "none"
