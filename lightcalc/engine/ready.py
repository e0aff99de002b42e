"""
The engine's kernels compiled before they are asked, on every core: only those not kept yet, and only what is needed.

LLVM runs in one thread of a process, so a core more is a process more. A process compiles every inner function once, however
many of its kernels need it; so whoever is free takes the kernel that adds the least to what it has, and nobody waits long.
"""

from __future__ import annotations

import importlib
import os
import pkgutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from numba.core import event

from lightcalc.engine import first_time, kernels

HOME = Path(__file__).resolve().parents[2]
HELPER = "from lightcalc.engine import ready; ready._help()"
WORTH = 12_000  # bytes of instructions, several seconds: less is not worth another process
TICK_S = 0.5
PACE = 1700  # bytes a second, on a core of 2026
NEXT = "next"  # what a helper says when it is free


def ready(*, told: Callable[[float, float], Any] | None = None) -> int:
    """
    Compile what is not kept yet.

    All of it, whatever is asked first: readings alone need nine tenths, and who wants a picture later does not wait again.

    Parameters
    ----------
    told : callable, optional
        Called twice a second, from another thread, with the share done, 0 to 1, and the seconds that are left;
        `first_time.TOLD` when absent, or else a line on the error stream. The first call comes at once, the last with (1, 0). Not called when nothing is to be done.

    Returns
    -------
    int
        Kernels that had to be compiled.
    """
    lacking = missing()
    if lacking:
        several = _work(lacking) > WORTH and sys.executable
        deal = _Deal(lacking, kernels.CORES if several else 1)
        with _progress(deal, told or first_time.TOLD or first_time.Line(sys.stderr)) as helpers:
            while kernel := deal.next_of(0):
                kernel.make()
            for helper in helpers:
                helper.wait()
            for kernel in deal.left:  # what each left to the other
                kernel.make()
    return len(lacking)


def missing() -> list[kernels.Kernel]:
    """The kernels that are neither compiled in this process nor kept for this user."""
    for module in pkgutil.iter_modules([str(Path(__file__).parent)]):
        importlib.import_module(f"lightcalc.engine.{module.name}")
    return [kernel for kernel in kernels.KERNELS if not kernel.is_there]


_ONE_AT_A_TIME, _compiled, _so_far = threading.Lock(), False, (0.0, 0.0)


def once(*, told: Callable[[float, float], Any] | None = None) -> None:
    """
    `ready`, the first time that a process asks for light; where another thread is at it, its end is awaited.

    Parameters
    ----------
    told : callable, optional
        As `ready` has it; while waiting it is told how far the other thread is.
    """
    global _compiled
    waiting = None
    while not _ONE_AT_A_TIME.acquire(timeout=TICK_S):
        waiting = waiting or told or first_time.TOLD or first_time.Line(sys.stderr)
        waiting(*_so_far)
    try:
        if waiting:
            waiting(1.0, 0.0)
        if not _compiled:
            ready(told=told)
        _compiled = True
    finally:
        _ONE_AT_A_TIME.release()


def _size(function):
    """How long a function compiles, near enough: the bytes of its instructions."""
    return len(function.__code__.co_code)


def _built():
    """Inner functions that this process has compiled."""
    return {function for function, inner in kernels.INNERS.items() if inner.signatures}


def _work(part, done=()):
    """The size of all that some kernels need, without what is done."""
    return sum(map(_size, set().union(*(kernels.source_of(kernel).parts for kernel in part)).difference(done)))


class _Deal:
    """
    Kernels dealt to workers, the next to whoever is free; this process is worker 0.

    Parameters
    ----------
    missing : list of Kernel
    workers : int
    """

    def __init__(self, missing, workers):
        self.left, self.have = list(missing), [_built()] + [set() for _ in range(workers - 1)]
        self.doing, self.done = _work(missing, self.have[0]), [0] * workers  # bytes of instructions
        self._lock = threading.Lock()

    def next_of(self, worker):
        """
        The kernel that adds least to what a worker has, against what it would add to another's; the largest of several.

        Parameters
        ----------
        worker : int

        Returns
        -------
        Kernel or None
            None when all are taken, or when another will have done what is left before this one had done the next.
        """
        with self._lock:
            if not self.left:
                return None
            others = [have for k, have in enumerate(self.have) if k != worker]

            def cost(kernel):
                adds = _work([kernel], self.have[worker])
                return adds - min((_work([kernel], have) for have in others), default=0), -adds

            taken = min(self.left, key=cost)
            if any(_work([taken], self.have[worker]) > _work(self.left, have) for have in others):
                return None
            self.left.remove(taken)
            parts = kernels.source_of(taken).parts
            self.doing += sum(map(_size, parts & set().union(*others) - self.have[worker]))  # done twice
            self.have[worker] |= parts
            return taken

    @property
    def share(self):
        """Of the work that is done, 0 to 1."""
        return min(1.0, sum(self.done) / max(self.doing, 1))

    @property
    def least_s(self):
        """About how long all of it takes. [s]"""
        return self.doing / PACE / len(self.done)


class _Count(event.Listener):
    """Says the size of each function of ours when it is compiled."""

    def __init__(self, done):
        self.done = done

    def on_start(self, found):
        pass

    def on_end(self, found):
        function = found.data["dispatcher"].py_func
        self.done(_size(function))


@contextmanager
def _progress(deal, told):
    """The helpers, started; while they and this process work, somebody is told how far they are."""
    begun, over = time.perf_counter(), threading.Event()

    def serve(worker, helper):
        """Gives a helper the next kernel whenever it is free, and counts what it is done with."""
        with helper.stdin as ask:
            for line in helper.stdout:
                if line.strip() != NEXT:
                    deal.done[worker] += int(line)
                elif kernel := deal.next_of(worker):
                    print(f"{kernel.__module__}.{kernel.__name__}", file=ask, flush=True)
                else:
                    return

    def say(share, left_s):
        global _so_far
        _so_far = share, left_s
        told(share, left_s)

    def tell():
        share = 0.0
        while not over.wait(TICK_S):
            share = max(share, deal.share)  # what is found to be done twice adds to the work
            spent = time.perf_counter() - begun
            say(share, spent / share - spent if share > 0.05 else deal.least_s)

    def add(size):
        deal.done[0] += size

    say(0.0, deal.least_s)
    helpers = [_started() for _ in deal.done[1:]]
    watched = [threading.Thread(target=serve, args=(k + 1, helper), daemon=True) for k, helper in enumerate(helpers)]
    watched.append(threading.Thread(target=tell, daemon=True))
    for thread in watched:
        thread.start()
    counted = _Count(add)
    event.register("numba:compile", counted)
    try:
        yield helpers
        say(1.0, 0.0)
    finally:
        event.unregister("numba:compile", counted)
        over.set()
        for helper in helpers:
            helper.kill()  # it has ended, but for an interrupt
            helper.wait()
        for thread in watched:
            thread.join()


def _started():
    """Another Python that compiles the kernels it is told into the user's folder; it prints the size of each function it is done with."""
    environment = dict(os.environ, PYTHONPATH=os.pathsep.join([str(HOME), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep))
    return subprocess.Popen(
        [sys.executable, "-c", HELPER], env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        text=True,
    )  # fmt: skip


def _help():
    """What such a Python does. Whatever it leaves undone is compiled when it is asked."""
    event.register("numba:compile", _Count(lambda size: print(size, flush=True)))
    print(NEXT, flush=True)
    for name in sys.stdin:
        module, kernel = name.strip().rsplit(".", 1)
        getattr(importlib.import_module(module), kernel).make()
        print(NEXT, flush=True)
