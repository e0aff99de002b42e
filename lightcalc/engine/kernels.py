"""
How the engine's inner loops are compiled, kept and dealt to the cores.

A *kernel* is called from Python, an *inner* function from compiled code alone. A kernel's compiled code is kept in
the user's cache folder under the hash of all it is built from: its own code, that of every inner function it calls, however
deep, and every constant they name. So code that was changed cannot be met again, a kernel that a change does not reach is
not compiled again, and a second copy of the package finds what the first one compiled.
"""

from __future__ import annotations

import dis
import hashlib
import os
import sys
import tempfile
import types
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path

import numba
import numpy as np
from numba.core import caching, cgutils
from numba.core.types import unliteral
from numba.extending import intrinsic
from numba.np import arrayobj

KEPT = 8  # compiled versions of a kernel that are kept; older ones are deleted
CORES = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
INNER = dict(fastmath=True, no_cpython_wrapper=True, no_cfunc_wrapper=True)
OUTER = dict(fastmath=True, nogil=True)
BUILT_BY = (sys.version_info[:2], numba.__version__, np.__version__, INNER, OUTER)
OUTSIDE = ("numba", "llvmlite", "numpy", "math", "builtins")  # changes of these show in BUILT_BY


def cache_folder():
    """Where compiled kernels are kept: in the user's cache folder, else in a temporary one."""
    root = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "lightcalc"
    try:
        root.mkdir(parents=True, exist_ok=True)
    except OSError:
        root = Path(tempfile.gettempdir()) / "lightcalc"
        root.mkdir(parents=True, exist_ok=True)
    return root


# -- what a kernel is built from -----------------------------------------------------------------------


class _Source:
    """Gathers everything that a compiled function depends on, once each, into one hash."""

    def __init__(self):
        self.digest, self.seen = hashlib.sha256(repr(BUILT_BY).encode()), set()

    def say(self, *words):
        self.digest.update(("\0".join(map(str, words)) + "\n").encode())

    def take(self, name, value):
        """A value that code names: a function, a constant, or a part of numpy or numba."""
        value = getattr(value, "py_func", value)  # the function under a numba or kernel wrapper
        value = getattr(value, "_defn", value)  # under an intrinsic
        home = value.__name__ if isinstance(value, types.ModuleType) else getattr(value, "__module__", None)
        if home is None and type(value).__module__ != "builtins":  # a thing of their own kinds: a ufunc, a numba type
            home = type(value).__module__
        if isinstance(value, bool | int | float | complex | str | bytes | np.generic | None):
            self.say(name, type(value).__name__, repr(value))
        elif isinstance(value, np.ndarray):
            self.say(name, value.dtype.descr, value.shape, value.tobytes().hex())
        elif isinstance(value, np.dtype):
            self.say(name, value.descr, value.fields)
        elif isinstance(value, tuple | list):
            self.say(name, "row of", len(value))
            for part in value:
                self.take("part", part)
        elif home and home.split(".")[0] in OUTSIDE:
            self.say(name, "from", home, getattr(value, "__qualname__", repr(value)))
        elif isinstance(value, types.FunctionType):
            self.say(name, "is", value.__qualname__)
            if value not in self.seen:
                self.seen.add(value)
                self.function(value)
        else:
            raise TypeError(
                f"a kernel names {name}, a {type(value).__name__}, whose changes cannot be told: numbers and arrays can"
            )

    def function(self, function):
        self.code(function.__code__, function)
        for name, cell in zip(function.__code__.co_freevars, function.__closure__ or ()):
            self.take(name, cell.cell_contents)
        self.take("defaults", function.__defaults__)

    def code(self, code, function):
        """The instructions, and what the names in them stand for where the function was written."""
        self.say(code.co_name, code.co_code.hex(), code.co_names, code.co_varnames)
        for const in code.co_consts:
            if isinstance(const, types.CodeType):
                self.code(const, function)
            elif const != function.__doc__:
                self.say("constant", type(const).__name__, repr(const))
        for name in sorted({step.argval for step in dis.get_instructions(code) if step.opname == "LOAD_GLOBAL"}):
            if name in function.__globals__:
                self.take(name, function.__globals__[name])


def source_hash(function):
    """
    What a function is built from, as a hash.

    Parameters
    ----------
    function : callable
        Plain, or under a numba wrapper.

    Returns
    -------
    str
        Of its instructions, its constants and those of all it calls, and of the versions that compile them. Comments,
        docstrings and line numbers do not count.

    Raises
    ------
    TypeError
        If it names something whose content cannot be told.
    """
    source = _Source()
    source.take("kernel", function)
    return source.digest.hexdigest()[:20]


class _Place:
    """Where numba keeps a kernel: the user's folder, under the kernel's hash, whichever copy of the source it came from."""

    def __init__(self, function):
        self.name = f"{Path(function.__code__.co_filename).stem}.{function.__qualname__}"  # as numba begins the file's name
        self.hash, self.folder = source_hash(function), cache_folder()

    @classmethod
    def from_function(cls, function, _file):
        return cls(function)

    def get_cache_path(self):
        return str(self.folder)

    def get_source_stamp(self):
        return self.hash

    def get_disambiguator(self):
        return self.hash

    def ensure_cache_path(self):
        """Called before a kernel is written: make room for it."""
        self.folder.mkdir(parents=True, exist_ok=True)
        found = sorted(self.folder.glob(f"{self.name}-*.nbi"), key=lambda path: path.stat().st_mtime)
        for old in found[: -KEPT + 1]:
            for path in self.folder.glob(f"{old.stem}.*"):
                path.unlink(missing_ok=True)


class _Kept(caching.CompileResultCacheImpl):
    _locator_classes = (_Place,)


class _Cache(caching.FunctionCache):
    _impl_class = _Kept


# -- the two kinds of compiled function ----------------------------------------------------------------


def inner(function):
    """
    `numba.njit` for what only compiled code calls: nothing is made for Python to call it by, and it is not kept alone.

    A number written out in a call counts as any other of its kind; numba would compile the function afresh for each.
    """
    made = numba.njit(**INNER)(function)
    template = made.get_call_template
    made.get_call_template = lambda args, kws: template(tuple(map(unliteral, args)), kws)
    return made


class kernel:
    """
    A compiled function that Python calls. It lets go of the interpreter's lock, so that threads run it side by side.

    Parameters
    ----------
    function : callable
        What to compile. Nothing is compiled, read or hashed before the first call.
    """

    def __init__(self, function):
        self.py_func, self.__doc__, self.__name__ = function, function.__doc__, function.__name__
        self.__module__, self.__qualname__, self.__wrapped__ = function.__module__, function.__qualname__, function

    @property
    def compiled(self):
        """numba's dispatcher, with its place in the user's cache."""
        made = self.__dict__.get("_compiled")
        if made is None:
            made = numba.njit(**OUTER)(self.py_func)
            made._cache = _Cache(self.py_func)
            self._compiled = made
        return made

    def __call__(self, *arguments):
        return self.compiled(*arguments)

    def shared(self, jobs, *arguments):
        """
        The kernel on every core, each taking the next job when it is done with one.

        Parameters
        ----------
        jobs : int
            How many; the kernel asks for the next by `next_job(todo)` and ends when it is -1.
        *arguments
            Of the kernel, after its first, `todo`. Each job writes to its own place in them, so that the result does
            not depend on who did it.
        """
        if jobs <= 0:
            return
        todo, run = np.array([0, jobs]), self.compiled
        others = []
        if run.signatures:  # the first call compiles: alone
            others = [_pool().submit(run, todo, *arguments) for _ in range(min(CORES, jobs) - 1)]
        run(todo, *arguments)
        for other in others:
            if not other.cancel():  # one that has not begun has nothing left to do
                other.result()


@cache
def _pool():
    return ThreadPoolExecutor(max(CORES, 8), thread_name_prefix="lightcalc")


@intrinsic
def _count_up(context, counter):
    """One added to the first of an array of whole numbers, by one thread at a time; what it was before."""

    def generate(target, builder, signature, arguments):
        array = arrayobj.make_array(signature.args[0])(target, builder, arguments[0])
        return builder.atomic_rmw("add", array.data, cgutils.intp_t(1), "monotonic")

    return numba.int64(counter), generate


@inner
def next_job(todo):
    """The next of todo[1] jobs, each once, whichever thread asks; -1 when all are taken."""
    job = _count_up(todo)
    return job if job < todo[1] else -1
