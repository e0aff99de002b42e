"""
The engine's kernels compiled before they are asked, on every core: only those not kept yet, and only what is needed.

LLVM runs in one thread of a process, so a core more is a process more. Kernels that build in the same inner functions go
to the same process, for each compiles those once.
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
from functools import cache
from pathlib import Path
from typing import Any

from numba.core import event

from lightcalc.engine import first_time, kernels

HOME = Path(__file__).resolve().parents[2]
HELPER = "from lightcalc.engine import ready; ready._help()"
WORTH = 12_000  # bytes of instructions, about two seconds: less is not worth another process
TICK_S = 0.5
PACE = 1700  # bytes a second, on a core of 2026


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
    for module in pkgutil.iter_modules([str(Path(__file__).parent)]):
        importlib.import_module(f"lightcalc.engine.{module.name}")
    missing = [kernel for kernel in kernels.KERNELS if not kernel.is_there]
    if missing:
        several = _work(missing) > WORTH and sys.executable
        mine, *others = _dealt(missing, kernels.CORES if several else 1)
        with _progress(mine, others, told or first_time.TOLD or first_time.Line(sys.stderr)) as helpers:
            for kernel in mine:
                kernel.make()
            for helper in helpers:
                helper.wait()
    return len(missing)


@cache
def once() -> int:
    """`ready`, the first time that a process asks for light."""
    return ready()


def _size(function):
    """How long a function compiles, near enough: the bytes of its instructions."""
    return len(function.__code__.co_code)


def _built():
    """Inner functions that this process has compiled."""
    return {function for function, inner in kernels.INNERS.items() if inner.signatures}


def _work(part, done=()):
    """The size of all that some kernels need, without what is done."""
    return sum(map(_size, set().union(*(kernels.source_of(kernel).parts for kernel in part)).difference(done)))


def _dealt(missing, workers):
    """
    Kernels dealt to so many workers, the first being this process: large ones first, each to the worker it costs least.

    A worker compiles every function of its kernels once; what a kernel adds to its work counts twice, lest two compile the same.
    """
    dealt = [[] for _ in range(workers)]
    done = [_built()] + [set()] * (workers - 1)
    for kernel in sorted(missing, key=lambda kernel: -_work([kernel])):
        costs = [2 * _work([*part, kernel], have) - _work(part, have) for part, have in zip(dealt, done)]
        dealt[costs.index(min(costs))].append(kernel)
    return [dealt[0], *filter(None, dealt[1:])]


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
def _progress(mine, others, told):
    """The helpers, started; while they and this process work, somebody is told how far they are."""
    sizes = [max(_work(mine, _built()), 1), *map(_work, others)]
    done, begun, over = [0] * len(sizes), time.perf_counter(), threading.Event()

    def add(worker, size):
        done[worker] = min(done[worker] + size, sizes[worker])

    def read(worker, helper):
        for line in helper.stdout:
            add(worker, int(line))

    def tell():
        while not over.wait(TICK_S):
            share = min(d / size for d, size in zip(done, sizes))  # the last to end is waited for
            spent = time.perf_counter() - begun
            told(share, spent / share - spent if share > 0.05 else max(sizes) / PACE)

    told(0.0, max(sizes) / PACE)
    helpers = [_started(part) for part in others]
    watched = [threading.Thread(target=read, args=(k + 1, helper), daemon=True) for k, helper in enumerate(helpers)]
    watched.append(threading.Thread(target=tell, daemon=True))
    for thread in watched:
        thread.start()
    counted = _Count(lambda size: add(0, size))
    event.register("numba:compile", counted)
    try:
        yield helpers
        told(1.0, 0.0)
    finally:
        event.unregister("numba:compile", counted)
        over.set()
        for helper in helpers:
            helper.kill()  # it has ended, but for an interrupt
            helper.wait()
        for thread in watched:
            thread.join()


def _started(part):
    """Another Python that compiles some kernels into the user's folder; it prints the size of each function it is done with."""
    environment = dict(os.environ, PYTHONPATH=os.pathsep.join([str(HOME), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep))
    names = [f"{kernel.__module__}.{kernel.__name__}" for kernel in part]
    return subprocess.Popen(
        [sys.executable, "-c", HELPER, *names], env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL, text=True,
    )  # fmt: skip


def _help():
    """What such a Python does. Whatever it leaves undone is compiled when it is asked."""
    event.register("numba:compile", _Count(lambda size: print(size, flush=True)))
    for name in sys.argv[1:]:
        module, kernel = name.rsplit(".", 1)
        getattr(importlib.import_module(module), kernel).make()
