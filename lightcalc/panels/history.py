"""
One setup as it stands, what came before it, and its light; every stage that shares it shows the same.

    changes --> setup --> draft at once: light, readings, picture --> all stages
                      --> 0.15 s of quiet: the same again, final  --> all stages
"""

from __future__ import annotations

import asyncio
import threading
import time
import weakref
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from typing import Any

from lightcalc.panels.compute import Engine, next_grade, next_width, relit
from lightcalc.panels.page_values import moved, values_of
from lightcalc.scene.parts import SceneError, Setup
from lightcalc.scene.shoot_file import ShootFile
from lightcalc.scene.sun_and_sky import Clock

REST_S = 0.15  # quiet time after the last message before the final pass
# What a draft may take, so that with wire and page (20 ms) it is there in 50; where it takes longer its picture is made
# smaller, down to half as wide.
DRAFT_S = 0.03
NUMBERS_S = 0.02  # and of that its numbers; where they take longer they are worked out less finely
BREATH_S = (0.02, 0.6)  # and between its readings and its picture: half as long as the last picture took, within these
MOST_OPS = 200  # changes in one message
MOST_STEPS = 200  # undo steps kept


@dataclass(frozen=True)
class Now:
    """What a step back brings back: the setup, and the minute on the time slider, if that has been moved."""

    setup: Setup
    minute: int | None = None


class State:
    """
    A setup that changes, its history, and what was computed of it last.

    Parameters
    ----------
    setup : Setup
    engine : Engine or None
        The package's own when None.
    px : dict
        Width of the picture in "draft" and "final". [pixels]
    clock : object or None
        Gives the sun and sky of a minute; see `stage.Stage`.
    shoot_file : shoot_file.ShootFile or None
        Where `save` writes.
    layers : bool
        Whether the veils are wanted.
    noise_range : bool
        Whether the ladder shows the range that the noise leaves.
    """

    def __init__(
        self, setup: Setup, *, engine: Engine | None, px: dict[str, int], clock: Clock | None, shoot_file: ShootFile | None,
        layers: bool, noise_range: bool,
    ) -> None:  # fmt: skip
        self.engine, self.px, self.clock, self.shoot_file = engine, px, clock, shoot_file
        self.now, self.gesture = Now(a_setup(setup)), None
        self.past: list[Now] = []
        self.future: list[Now] = []
        self.stages: weakref.WeakSet = weakref.WeakSet()
        self.notice = ""
        self.timer: asyncio.TimerHandle | None = None
        self.lit = self.readings = self.picture = None
        self.layers, self.veils, self.noise_range = layers, (), noise_range
        self.last: dict = {}  # the last light of each quality
        self.shown_at = {"readings": "", "picture": ""}
        self.picture_s = self.read_s = 0.0  # what the last final picture took, and the last draft's numbers
        self.draft_px = px["draft"]  # how wide a draft is now
        self.grade = "draft"  # how fine drafts are worked out now
        self.took_s: list[float] = []  # what the numbers took of those of that grade in a row
        self.let_go = False  # the page said that the hand has left
        self.compiling: threading.Thread | None = None  # while straight light is all there is
        self.patience = ""  # what the page says meanwhile
        self.values = self.values_now()

    @property
    def setup(self) -> Setup:
        """The setup as it stands."""
        return self.now.setup

    def ranged(self) -> Setup:
        """The setup with the camera's range that the ladder shades."""
        if not self.noise_range:
            return self.setup
        from lightcalc.answers.noise import with_own_range  # late, as in `Engine.default`

        return with_own_range(self.setup)

    def values_now(self) -> dict[str, dict[str, Any]]:
        """The numbers that the page draws, of the setup as it stands."""
        return values_of(self.setup) | ({"time": {"minute": self.now.minute}} if self.clock else {})

    @property
    def seen(self) -> bool:
        """Whether any stage shows the picture."""
        return any(stage.shows("picture") for stage in self.stages)

    @contextmanager
    def together(self) -> Iterator[None]:
        """One update message to each stage, so that no page shows half of a change."""
        with ExitStack() as held:
            for stage in self.stages:
                held.enter_context(stage.hold_sync())
            yield

    # ---- changes ------------------------------------------------------------------------------------

    def put(self, now: Now) -> None:
        """Another setup from Python; a step to undo."""
        before = self._before()
        self._remember(None)
        self.now = now
        try:
            self.renew("final")
        except Exception:
            self._go_back(before)
            raise

    def apply(self, ops: Sequence[dict]) -> None:
        """The changes of one message. Whatever they are, the last good state is kept and every refusal has its sentence."""
        before = self._before()
        self.notice = self.patience
        for op in ops:
            self._try(op)
        if self.now is not before[0]:
            self._draft(before)
        self.say(self.notice)

    def _before(self):
        return self.now, list(self.past), list(self.future)

    def _go_back(self, before):
        self.now, self.past, self.future = before
        self.values, self.gesture = self.values_now(), None

    def _try(self, op):
        """Apply one change, or keep the sentence that says why not."""
        try:
            if "step" in op:
                self.step(int(op["step"]))
            elif "save" in op:
                self.save()
            elif "move" not in op:
                raise SceneError(f"the stage can move, step and save, not {', '.join(map(str, op))[:60] or 'nothing'}")
            else:
                self._move(op["move"], str(op.get("gesture", ""))[:80])
        except SceneError as error:
            self.notice = str(error)
        except (ValueError, TypeError, KeyError, OverflowError, AttributeError, OSError) as error:
            self.notice = f"Not done: {error}"

    def _move(self, changes, gesture):
        now = self.now
        for thing, fields in list(changes.items())[:MOST_OPS]:
            if thing == "time":
                now = self.at_minute(now, fields.get("minute"))
            else:
                now = replace(now, setup=moved(now.setup, thing, fields))
        was, self.now = self.now, now
        values = self.values_now()
        if values == self.values:
            self.now = was  # a nudge that changes nothing is no step to undo
            return
        self.now = was
        self._remember(gesture)
        self.now, self.values = now, values

    def at_minute(self, now: Now, minute: int) -> Now:
        """
        The same setup under the sun and sky of a minute; everything else stays where a hand has put it.

        Parameters
        ----------
        now : Now
        minute : int
            One of the clock's. [min since local midnight]

        Returns
        -------
        Now

        Raises
        ------
        SceneError
            If there is no clock, the clock has no such minute, or the setup cannot do with that sun.
        """
        if self.clock is None:
            raise SceneError("this stage has no clock to set; make it with Stage(setup, clock=...)")
        if isinstance(minute, bool) or minute not in self.clock.minutes:
            first, last = (self.clock.text(m) for m in (self.clock.minutes[0], self.clock.minutes[-1]))
            raise SceneError(f"time: minute must be one of the clock's, {first} to {last}, got {minute!r}")
        there = self.clock.setup_at(now.setup, int(minute))
        return Now(replace(now.setup, sun=there.sun, sky=there.sky, time=there.time, outlook=there.outlook), int(minute))

    def _remember(self, gesture):
        """One gesture, one undo step: a drag of a hundred positions comes back at once."""
        if not gesture or gesture != self.gesture:
            self.past = (self.past + [self.now])[-MOST_STEPS:]
        self.future, self.gesture = [], gesture

    def step(self, steps: int) -> None:
        """Walk the history, as far as it goes."""
        source, sink = (self.past, self.future) if steps < 0 else (self.future, self.past)
        for _ in range(min(abs(steps), len(source))):
            sink.append(self.now)
            self.now = source.pop()
        self.gesture, self.values = None, self.values_now()

    def save(self) -> None:
        """Write the setup back to its shoot file; the room is every setup's that stands in it."""
        if self.shoot_file is None:
            raise ValueError("this stage has no shoot_file to save to; make it with Stage(setup, shoot_file=...)")
        shoot, mine = self.shoot_file.shoot, self.setup
        shoot.setup(mine.name)  # says so if the file has no setup of this name
        room = [one for one in shoot.setups if one.place.name == mine.place.name and one.place != mine.place]
        others = [one.name for one in room if one.name != mine.name]
        moved_in = {name: replace(shoot.setup(name), place=mine.place) for name in others} | {mine.name: mine}
        setups = tuple(moved_in.get(one.name, one) for one in shoot.setups)
        self.shoot_file = self.shoot_file.save(replace(shoot, setups=setups))
        too = f" Its room changed in setup{'s' * (len(others) > 1)} {', '.join(others)} too." if others else ""
        self.say(f"Saved to {self.shoot_file.path.name}.{too}")

    # ---- computing and showing ------------------------------------------------------------------------

    def _draft(self, before):
        """Show the new setup as a draft; if it cannot be computed, go back to the one before."""
        try:
            self.renew("draft")
        except Exception as error:  # the engine's own: the page must go on with the last good state
            self._go_back(before)
            self.notice = f"Not done: {error}"

    def begin(self) -> None:
        """The first readings: all of them; or straight light at once, and the rest when the engine has been compiled on a thread."""
        from lightcalc.engine import ready  # late, as in `Engine.default`

        loop = _running_loop()
        if self.engine is None and loop is not None and ready.missing():
            self.compiling = threading.Thread(target=self._compile, args=(loop,), daemon=True)
            self.compiling.start()
        self.renew("final")

    def _compile(self, loop):
        from lightcalc.engine import ready

        def on_the_loop(does, *given):
            if not loop.is_closed():  # the notebook may have gone
                loop.call_soon_threadsafe(does, *given)

        try:
            ready.once(told=lambda _, left_s: on_the_loop(self._still_compiling, left_s))
        finally:  # where it failed, asking for light says why
            on_the_loop(self._compiled)

    def _still_compiling(self, left_s):
        if self.compiling is not None:
            from lightcalc.answers.straight_first import SAID

            self.patience = f"{SAID}: about {left_s:.0f} s"
            self.say(self.patience)

    def _compiled(self):
        """All of the light, where nothing has asked for it yet."""
        if self.compiling is not None:
            self._stop_waiting()
            self._quietly(lambda: self.renew("final"))

    def _stop_waiting(self):
        self.compiling, self.patience, self.notice = None, "", ""

    def renew(self, quality: str) -> None:
        """Compute, then show: nothing changes on any page unless everything came out."""
        self.stop_timer()
        if self.compiling is not None:
            quality = "straight"
        lit, readings, veils = self._read(quality)
        picture = self._look(lit, quality) if self.seen and lit is not None else None
        self.values = self.values_now()
        self.lit, self.readings, self.veils, self.picture = lit, readings, veils, picture
        self.shown_at = {"readings": quality, "picture": quality if picture is not None else ""}
        with self.together():
            for stage in self.stages:
                stage.show_all()

    def settle_numbers(self) -> None:
        """The final readings, where a draft is shown."""
        if self.shown_at["readings"] != "final":
            if self.compiling is not None:  # who asks now waits for it
                self._stop_waiting()
            self.lit, self.readings, self.veils = self._read("final")
            self.shown_at["readings"] = "final"
            for stage in self.stages:
                stage.show_readings()

    def settle_picture(self, wanted: bool = True) -> None:
        """The final picture, where a draft or none is shown."""
        if wanted and self.lit is not None and self.shown_at["picture"] != "final":
            self.picture = self._look(self.lit, "final")
            self.shown_at["picture"] = "final"
            for stage in self.stages:
                stage.show_picture()

    def _engine(self):
        return self.engine if self.engine is not None else Engine.default()

    def _read(self, quality):
        if quality == "straight":
            from lightcalc.answers.straight_first import straight_readings

            return None, straight_readings(self.setup), ()
        engine, start = self._engine(), time.perf_counter()
        asked = self.grade if quality == "draft" else quality
        lit = relit(self.last.get(quality), self.setup) or engine.light(self.setup, quality=asked)
        self.last[quality] = lit
        readings = engine.readings(self.setup, lit=lit, quality=quality)
        if quality == "draft":
            self.read_s = time.perf_counter() - start
            self.took_s = [*self.took_s[-1:], self.read_s]
            if (grade := next_grade(self.grade, self.took_s, NUMBERS_S)) != self.grade:
                self.grade, self.took_s = grade, []
        return lit, readings, engine.veils(lit) if self.layers and engine.veils else ()

    def _look(self, lit, quality):
        start, width = time.perf_counter(), self.px["final"] if quality == "final" else self.draft_px
        picture = self._engine().picture(self.setup, width=width, lit=lit, quality=quality)
        took = time.perf_counter() - start
        if quality == "final":
            self.picture_s = took
        else:
            self.draft_px = next_width(width, took, DRAFT_S - self.read_s, self.px["draft"])
        return picture

    def say(self, notice: str) -> None:
        """A sentence for the page's top line."""
        self.notice = notice
        for stage in self.stages:
            stage.show_state()

    # ---- the final pass, once the hand has rested -------------------------------------------------------

    def settle_later(self) -> None:
        """Final pass once the hand has rested; at once where no event loop runs."""
        self.stop_timer()
        if self.compiling is not None:
            return  # `_compiled` comes
        if self.shown_at["readings"] == "final" and (self.shown_at["picture"] == "final" or not self.seen):
            return
        loop = _running_loop()
        if loop is None:
            return self._quietly(self.settle)
        self.timer = loop.call_later(0.0 if self.let_go else REST_S, self._settle_in_turn, loop)

    def settle(self) -> None:
        """Both halves of the final pass now."""
        self.stop_timer()
        self.settle_numbers()
        self.settle_picture(self.seen)

    def _settle_in_turn(self, loop):
        """Readings first, for they are what is read; then, unless the hand moved again meanwhile, the picture."""
        self._quietly(self.settle_numbers)
        if self.seen:
            # a new move waits until a picture is done: the longer one takes, the surer the hand must have rested
            breath = 0.0 if self.let_go else min(max(0.5 * self.picture_s, BREATH_S[0]), BREATH_S[1])
            self.timer = loop.call_later(breath, self._quietly, self.settle_picture)

    def _quietly(self, settle):
        try:
            settle()
        except Exception as error:  # nobody is there to catch it: the draft stays, and stays marked
            self.say(f"The final pass failed: {error}")

    def stop_timer(self) -> None:
        """A new change makes the final pass of the last one pointless."""
        if self.timer is not None:
            self.timer.cancel()
            self.timer = None


def _running_loop():
    """The event loop that runs here, a notebook's; None elsewhere."""
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None


def a_setup(setup: Setup) -> Setup:
    """The setup, or one sentence if it is none."""
    if not isinstance(setup, Setup):
        raise ValueError(f"setup must be a scene.Setup, got {type(setup).__name__}")
    return setup
