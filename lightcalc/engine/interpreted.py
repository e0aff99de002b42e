"""
The engine's kernels run by Python itself, from the same source, while they are not compiled yet.

The same numbers, some hundred times slower: straight light at a few marks takes some hundredths of a second, a picture minutes.
"""

from __future__ import annotations

import ctypes
import types
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

import numpy as np

from lightcalc.engine import kernels, rows


@contextmanager
def by_python() -> Iterator[None]:
    """Inside it kernels that this thread calls are interpreted; nothing is compiled."""
    before = kernels.RUN_BY.set(_run)
    try:
        with np.errstate(all="ignore"):  # as compiled code has it
            yield
    finally:
        kernels.RUN_BY.reset(before)


def _run(function, arguments):
    return _copied(function)(*(_Rows(one) if getattr(one, "dtype", None) and one.dtype.names else one for one in arguments))


class _Row:
    """One record, read and written as compiled code does: by the names of its columns alone."""

    __slots__ = ("record",)

    def __init__(self, record):
        object.__setattr__(self, "record", record)

    def __getattr__(self, name):
        return self.record[name]

    def __setattr__(self, name, value):
        self.record[name] = value


class _Rows:
    """An array of records."""

    def __init__(self, table):
        self.table, self.shape = table, table.shape

    def __getitem__(self, k):
        return _Row(self.table[k])


def _reader(name):
    """What reads a table of a rig by its address, as `rows` has it; the last rig's is kept at hand."""
    kind, last = rows.TABLES[name], (None, None)

    def read(rig, k):
        nonlocal last
        if last[0] is not rig:
            count = int(np.prod([n for n in rig.record[f"{name}_shape"] if n]))
            place = (ctypes.c_char * (count * kind.itemsize)).from_address(int(rig.record[f"{name}_at"]))
            table = np.frombuffer(place, dtype=kind)
            last = rig, _Rows(table) if kind.names else table
        return last[1][k]

    return read


def _counted_up(counter):
    counter[0] += 1
    return counter[0] - 1


STANDS_FOR: dict[Any, Callable] = {made: _reader(name) for made, name in rows.READS.items()} | {
    kernels.count_up: _counted_up,
    rows.wide: lambda field: field,
    rows.address: lambda value: ctypes.c_void_p(int(value)),
}  # what is made of LLVM's own instructions


@cache
def _copied(function):
    """A plain function of ours under names that stand for plain functions, too."""
    names: dict[str, Any] = {}
    copied = types.FunctionType(function.__code__, names, function.__name__, function.__defaults__, function.__closure__)
    for name in function.__code__.co_names:
        if name in function.__globals__:
            names[name] = _by_python(function.__globals__[name])
    return copied


def _by_python(value):
    """What a name stands for; functions that were compiled are copied when they are first called: they may call themselves."""
    if isinstance(value, types.ModuleType) or not callable(value):
        return value
    if value in STANDS_FOR:
        return STANDS_FOR[value]
    plain = getattr(value, "py_func", None)
    return value if plain is None else lambda *arguments: _copied(plain)(*arguments)
