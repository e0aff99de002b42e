"""
The stage: plan and elevation to drag on, the camera picture, the stop ladder and the readings, in one widget.

    page                                       kernel
    hand moves a light  --- ops, seq 7 --->    new Setup -> light -> readings, picture (draft)
    (drawn at once)     <-- all of it, ack 7 --
    next position only when 7 has come back    hand off, or 0.15 s of quiet -> the same again, final

The page sends where things are, never a reading; every reading it shows was made and worded here, so
page, printed readings and saved notebook cannot differ. Its own are only tape distances and how far
one sees at a haze setting, which must follow the hand.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import anywidget
import traitlets

from lightcalc.answers.sense import sense, setup_sense
from lightcalc.drawing import picture_figures
from lightcalc.panels.compute import Engine
from lightcalc.panels.history import MOST_OPS, Now, State, a_setup
from lightcalc.panels.page_values import place_of
from lightcalc.panels.page_words import level_map, sense_words, shown_of
from lightcalc.wording import UNITS, count_text

if TYPE_CHECKING:
    from lightcalc.answers.readings import Readings
    from lightcalc.engine.picture import Picture
    from lightcalc.engine.solve import Lit
    from lightcalc.scene.parts import Setup
    from lightcalc.scene.shoot_file import ShootFile
    from lightcalc.scene.sun_and_sky import Clock

PARTS = ("plan", "picture", "ladder", "readings")
WHOLE = 4 * 320 * 180  # bytes of an answer with a picture that no socket holds back
PAGE = ("link.js", "drawing.js", "plan.js", "numbers.js", "reading.js", "stage.js")  # in this order
ESM = "\n".join(Path(__file__).with_name(name).read_text(encoding="utf-8") for name in PAGE)  # one module


class Stage(anywidget.AnyWidget):
    """
    A setup to look at and to move about in.

    Parameters
    ----------
    setup : Setup
        What to show; `stage.setup` is what it has become.
    shoot_file : shoot_file.ShootFile, optional
        The file that the setup came from; gives the page a button that writes it back.
    parts : sequence of str, default ("plan", "picture", "ladder", "readings")
        What to show; the elevation comes with the plan.
    sliders : sequence of str, optional
        "time" (with a clock), "haze" and names of lights; all of them when not given.
    units : {"metric", "feet"}, default "metric"
        Lengths and light as a person reads them; the page can switch.
    snap_m : float, default 0.0
        Step that dragged things keep to, 0 to 5; with 0 it is a centimetre, until the page's box is ticked. [m]
    draft_px, final_px : int, default 320 and 640
        Width of the picture while something moves, and at rest. A draft that takes too long is made smaller, down to
        half as wide. [pixels]
    engine : Engine, optional
        What computes; the package's own when not given.
    clock : object, optional
        Gives the page a time slider. Has `minutes`, a tuple of int minutes since local midnight; `text(minute)`,
        the slider's words; `setup_at(setup, minute)`, the setup with that minute's sun and sky, of which only
        these two are taken.
    layers : bool, default False
        Put the veil at foreground, middle ground and background on the ladder (`engine.veils`).
    noise_range : bool, default False
        Shade the ladder down to where the noise at the camera's ISO drowns the light (`noise.range_under_stops`), not
        down to the camera's own `range_under_stops`.

    Raises
    ------
    ValueError
        If a part, slider, unit, step or width is not one of those accepted.

    Notes
    -----
    Numbers seen while something moves are drafts and marked "settling"; anything read from Python
    (`readings`, `print_readings`, `save`) waits for the final pass.
    """

    _esm = ESM
    _css = Path(__file__).with_name("stage.css")
    place = traitlets.Dict().tag(sync=True)  # what stays: walls, names, options
    values = traitlets.Dict().tag(sync=True)  # what moves: numbers by thing
    shown = traitlets.Dict().tag(sync=True)  # what came out, in words
    frame = traitlets.Bytes().tag(sync=True)  # the picture, RGBA
    levels = traitlets.Bytes().tag(sync=True)  # its levels at rest, int16, hundredths of a stop
    ballast = traitlets.Bytes().tag(sync=True)  # what a small picture lacks to WHOLE
    ack: traitlets.List = traitlets.List().tag(sync=True)  # [client, seq] of the message answered
    units = traitlets.Enum(UNITS, "metric").tag(sync=True)

    def __init__(
        self, setup: Setup, *, shoot_file: ShootFile | None = None, parts: Sequence[str] = PARTS, sliders: Sequence[str] | None = None,
        units: str = "metric", snap_m: float = 0.0, draft_px: int = 320, final_px: int = 640, engine: Engine | None = None,
        clock: Clock | None = None, layers: bool = False, noise_range: bool = False,
    ) -> None:  # fmt: skip
        _between("draft_px", draft_px, 16, 1920)
        _between("final_px", final_px, 16, 1920)
        px = {"draft": int(draft_px), "final": int(final_px)}
        state = State(setup, engine=engine, px=px, clock=clock, shoot_file=shoot_file, layers=layers, noise_range=noise_range)
        self._open(state, parts, sliders, units, snap_m)
        state.begin()

    def _open(self, state, parts, sliders, units, snap_m):
        """Join a state; the widget is made only if every option will do."""
        _choose("parts", parts, PARTS)
        _choose("units", (units,), UNITS)
        _between("snap_m", snap_m, 0.0, 5.0)
        _choose("sliders", sliders or (), _sliders(state))
        super().__init__(units=units)
        self._state, self._sends = state, 0
        self._options = {"parts": list(parts), "snap_m": float(snap_m), "clock": _clock(state.clock)}
        self._chosen = None if sliders is None else tuple(sliders)
        state.stages.add(self)
        self.on_msg(self._from_page)

    def twin(self, *, parts: Sequence[str] = PARTS, sliders: Sequence[str] | None = None, snap_m: float = 0.0) -> Stage:
        """
        Another stage of the same setup: a move on one shows on both, and is computed once.

        Parameters
        ----------
        parts, sliders, snap_m
            As of `Stage`.

        Returns
        -------
        Stage
            It shares setup, history, file, clock and units with this one.

        Raises
        ------
        ValueError
            If a part, slider or step is not one of those accepted.
        """
        other = Stage.__new__(Stage)
        other._open(self._state, parts, sliders, self.units, snap_m)
        traitlets.link((self, "units"), (other, "units"))
        if other.shows("picture"):
            self._state.settle_picture()
        other.show_all()
        return other

    def close(self) -> None:
        """Take the widget away; its twins go on."""
        if "_state" in self.__dict__:
            self._state.stages.discard(self)
        super().close()

    def __repr__(self):
        setup = self.setup
        counts = [count_text(len(getattr(setup, kind + "s")), kind) for kind in ("light", "board", "mark")]
        return f"Stage('{setup.name}': {', '.join(counts)})"

    # ---- what Python sees -------------------------------------------------------------------

    @property
    def setup(self) -> Setup:
        """The setup as it stands; set it to show another."""
        return self._state.setup

    @setup.setter
    def setup(self, setup: Setup) -> None:
        self._state.put(Now(a_setup(setup), self._state.now.minute))

    @property
    def minute(self) -> int | None:
        """The minute on the time slider, None until it is set; set it to move the sun."""
        return self._state.now.minute

    @minute.setter
    def minute(self, minute: int) -> None:
        self._state.put(self._state.at_minute(self._state.now, minute))

    @property
    def engine(self) -> Engine:
        """What computes, `Engine`; None stands for the package's own."""
        return self._state.engine

    @property
    def shoot_file(self) -> ShootFile | None:
        """The shoot file as last read or saved, or None."""
        return self._state.shoot_file

    @property
    def readings(self) -> Readings:
        """The final readings of the setup as it stands, `readings.Readings`."""
        self._state.settle_numbers()
        return self._state.readings

    @property
    def picture(self) -> Picture:
        """The final picture of the setup as it stands, `picture.Picture`."""
        self.settle()
        return self._state.picture

    @property
    def lit(self) -> Lit:
        """The light of the setup as it stands, `solve.Lit`."""
        self._state.settle_numbers()
        return self._state.lit

    def print_readings(self) -> None:
        """Print the final readings, stops to a tenth."""
        print("\n".join(self.readings.lines(units=self.units)))

    def settle(self) -> None:
        """Make the final pass now, where what is shown is a draft."""
        self._state.settle()
        self._state.settle_picture()

    def undo(self, steps: float = 1) -> None:
        """Go back so many changes."""
        self._state.step(-abs(int(steps)))
        self._state.renew("final")

    def redo(self, steps: float = 1) -> None:
        """Take back so many undos."""
        self._state.step(abs(int(steps)))
        self._state.renew("final")

    def save(self) -> str:
        """
        Write the setup back to its shoot file.

        Returns
        -------
        str
            What was written, in words.

        Raises
        ------
        ValueError
            If the stage was made without `shoot_file`, or the file cannot take it: see `shoot_file.ShootFile.save`.
        """
        self._state.save()
        return self._state.notice

    # ---- what the page sends, and what it is shown -----------------------------------------------

    def _from_page(self, _, message, buffers):
        """One message: a list of changes. Whatever it holds, answer it."""
        client, seq = _sender(message)
        if client is None:
            return  # not ours
        with self._state.together():
            if _ops(message):  # none where the page only says that the hand is off
                self._state.apply(_ops(message))
            self.ack = [client, seq]
            if not self.shows("picture"):
                self._weigh(0)
        self._state.let_go = message.get("rest") is True
        self._settle_later()

    def _settle_later(self):
        self._state.settle_later()

    def shows(self, part: str) -> bool:
        """Whether this stage has that part."""
        return part in self._options["parts"]

    def show_all(self) -> None:
        """Send the page everything of the state as it stands."""
        there = _sliders(self._state)
        sliders = [name for name in there if self._chosen is None or name in self._chosen]
        with self.hold_sync():
            self.place = self._options | {"sliders": sliders} | place_of(self.setup)
            self.values = self._state.values
            self.show_readings()
            if self._state.picture is not None:
                self.show_picture()

    def show_readings(self) -> None:
        """Send the readings, in words."""
        size = {"size": self.shown.get("size", [0, 0])}
        shown = shown_of(self._state.ranged(), self._state.readings, self._state.veils)
        self.shown = size | shown | {"sense": self._sense()} | self._marks()

    def _sense(self):
        """What is surely not meant, asked at rest; while something moves the last answer stands."""
        state = self._state
        if state.shown_at["readings"] != "final":
            return self.shown.get("sense", sense_words(()))
        setup, read, file = state.setup, state.readings, state.shoot_file
        return sense_words(setup_sense(setup, read=read) if file is None else sense(file.shoot, setup, read=read))

    def show_picture(self) -> None:
        """Send the picture, and at rest its levels; a page without it is spared them."""
        if not self.shows("picture"):
            return
        rgba, final = self._state.picture.rgba(), self._state.shown_at["picture"] == "final"
        with self.hold_sync():
            self.frame = rgba.tobytes()
            self._weigh(len(self.frame))
            self.levels = level_map(self._state.picture.level_stops) if final else b""
            self.shown = self.shown | self._marks() | {"size": [rgba.shape[1], rgba.shape[0]]}

    def _weigh(self, size):
        """
        Make an answer of so many bytes as heavy as a whole draft.

        The server leaves Nagle's algorithm on: what is less than a few full packets waits up to 40 ms for the page's
        last receipt. Measured with an engine that costs nothing: from event to a picture of 160 px 51 ms without
        this, 20 with it.
        """
        self._sends += 1
        self.ballast = self._sends.to_bytes(8, "little") + bytes(max(0, WHOLE - size))

    def show_state(self) -> None:
        """Send what is final and what a draft, the notice, and how far one can step."""
        self.shown = self.shown | self._marks()

    def _marks(self):
        state = self._state
        return {
            "quality": dict(state.shown_at),
            "notice": state.notice,
            "undo": len(state.past),
            "redo": len(state.future),
            "save": state.shoot_file is not None,
        }

    # ---- the static twin --------------------------------------------------------------------------

    def _repr_mimebundle_(self, **kwargs):
        """The widget, and beside it a still of the same stage for readers without a kernel."""
        bundle = super()._repr_mimebundle_(**kwargs)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        data = {k: v for k, v in data.items() if k != "text/html"}
        data["text/plain"] = repr(self)
        if self._state.compiling is None:  # else a page that shows straight light is worth more at once
            data["image/png"] = base64.b64encode(self.still()).decode("ascii")
        return data, metadata

    def still(self) -> bytes:
        """
        The stage as a still picture.

        Returns
        -------
        bytes
            A PNG of plan, picture and ladder.
        """
        out = io.BytesIO()
        picture_figures.stage_twin(self._state.ranged(), self.readings, self.picture, units=self.units).savefig(out, format="png")
        return out.getvalue()


def _sliders(state):
    """Everything that may have a slider: the time of day, the haze, and every light's dim."""
    return ("time",) * (state.clock is not None) + ("haze",) + tuple(light.name for light in state.setup.lights)


def _clock(clock):
    """The clock's minutes and their words, or None."""
    return clock and {"minutes": [int(m) for m in clock.minutes], "words": [clock.text(m) for m in clock.minutes]}


def _choose(name, given, choices):
    for one in given:
        if one not in choices:
            raise ValueError(f"{name} must be of {', '.join(choices)}, got {one!r}")


def _between(name, value, low, high):
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise ValueError(f"{name} must be {low:g} to {high:g}, got {value!r}")


def _sender(message):
    """Who asks, and which message it is: (None, 0) if it is not one of the page's."""
    if not isinstance(message, dict) or not isinstance(message.get("client"), str):
        return None, 0
    seq = message.get("seq")
    return message["client"][:40], seq if isinstance(seq, int) else 0


def _ops(message):
    """The changes in a message that are changes at all."""
    ops = message.get("ops")
    return [op for op in ops[:MOST_OPS] if isinstance(op, dict)] if isinstance(ops, list) else []
