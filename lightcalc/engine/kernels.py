"""
How the engine's inner loops are compiled, kept and dealt to the cores.

A *kernel* is called from Python, an *inner* function from compiled code alone. A kernel's compiled code is kept in
the user's cache folder under the hash of all it is built from: its own code, that of every inner function it calls, however
deep, and every constant they name. So code that was changed cannot be met again, a kernel that a change does not reach is
not compiled again, and a second copy of the package finds what the first one compiled.
"""

from __future__ import annotations

import dis
import gc
import hashlib
import os
import sys
import types
from concurrent.futures import ThreadPoolExecutor
from contextvars import ContextVar
from functools import cache
from pathlib import Path

import llvmlite.binding as llvm
import numba
import numpy as np
from numba import _dynfunc  # type: ignore[attr-defined]  # compiled
from numba.core import caching, cgutils, codegen
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import register_pass
from numba.core.runtime import rtsys
from numba.core.typed_passes import NativeLowering
from numba.core.types import unliteral
from numba.extending import intrinsic

from lightcalc.engine.first_time import cache_folder

KEPT = 8  # compiled versions of a kernel that are kept; older ones are deleted
CORES = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
INNER = dict(fastmath=True, no_cpython_wrapper=True, no_cfunc_wrapper=True)  # and, where it is made, _PartCompiler
PLAIN = dict(INNER, error_model="numpy")
OUTER = dict(fastmath=True, nogil=True)
BUILT_BY = (sys.version_info[:2], numba.__version__, np.__version__, INNER, PLAIN, OUTER, "parts")
LOAD_GLOBAL = dis.opmap["LOAD_GLOBAL"]
OUTSIDE = ("numba", "llvmlite", "numpy", "math", "builtins")  # changes of these show in BUILT_BY


# what kernels take
COUNT, NUMBER, TRUTH = numba.int64, numba.float64, numba.boolean
JOBS = COUNTS = COUNT[::1]
NUMBERS, TABLE, CUBE, TRUTHS = NUMBER[::1], NUMBER[:, ::1], NUMBER[:, :, ::1], TRUTH[::1]
KERNELS: list = []  # all that were made, in the order of their files
INNERS: dict = {}  # inner ones, by their plain function
RUN_BY: ContextVar = ContextVar("RUN_BY", default=None)  # what runs kernels in place of compiled code, see `interpreted`


# -- what a kernel is built from -----------------------------------------------------------------------


class Source:
    """
    What a function is built from.

    Parameters
    ----------
    function : callable
        Plain.

    Attributes
    ----------
    digest : str
        Hash of its instructions and constants, and of the digests of all it calls, under the names it has for them. Comments,
        docstrings and line numbers do not count.
    parts : set of callables
        Itself, and every function of ours that it reaches.

    Raises
    ------
    TypeError
        If it names something whose content cannot be told.
    """

    def __init__(self, function):
        self._function, self._words, self.parts = function, [repr(BUILT_BY)], {function}
        self._code(function.__code__, function)
        for name, cell in zip(function.__code__.co_freevars, function.__closure__ or ()):
            self._take(name, cell.cell_contents)
        self._take("defaults", function.__defaults__)
        self.digest = hashlib.sha256("\n".join(self._words).encode()).hexdigest()

    def _say(self, *words):
        self._words.append("\0".join(map(str, words)))

    def _code(self, code, function):
        """The instructions, and what the names in them stand for where the function was written."""
        self._say(code.co_name, code.co_code.hex(), code.co_names, code.co_varnames)
        for const in code.co_consts:
            if isinstance(const, types.CodeType):
                self._code(const, function)
            elif const != function.__doc__:
                self._say("constant", type(const).__name__, repr(const))
        for name in sorted(_globals_named(code) & function.__globals__.keys()):
            self._take(name, function.__globals__[name])

    def _take(self, name, value):
        """A value that code names: a function, a constant, or a part of numpy or numba."""
        value = _plain(value)
        home = value.__name__ if isinstance(value, types.ModuleType) else getattr(value, "__module__", None)
        if home is None and type(value).__module__ != "builtins":  # a thing of their own kinds: a ufunc, a numba type
            home = type(value).__module__
        if isinstance(value, bool | int | float | complex | str | bytes | np.generic | None):
            self._say(name, type(value).__name__, repr(value))
        elif isinstance(value, np.ndarray):
            self._say(name, value.dtype.descr, value.shape, value.tobytes().hex())
        elif isinstance(value, np.dtype):
            self._say(name, value.descr, value.fields)
        elif isinstance(value, tuple | list):
            self._say(name, "row of", len(value))
            for part in value:
                self._take("part", part)
        elif home and home.split(".")[0] in OUTSIDE:
            self._say(name, "from", home, getattr(value, "__qualname__", repr(value)))
        elif isinstance(value, types.FunctionType):
            source = source_of(value) if value is not self._function else None  # it may call itself
            self._say(name, "is", source and source.digest)
            self.parts |= source.parts if source else set()
        else:
            raise TypeError(
                f"a kernel names {name}, a {type(value).__name__}, whose changes cannot be told: numbers and arrays can"
            )


def _globals_named(code):
    """Names that instructions load as globals. Read off the bytes: `dis.get_instructions`, which says the same, takes a tenth of a second."""
    names, high = set(), 0
    for operation, low in zip(code.co_code[::2], code.co_code[1::2]):
        number = high | low
        high = number << 8 if operation == dis.EXTENDED_ARG else 0
        if operation == LOAD_GLOBAL:
            names.add(code.co_names[number >> 1])  # its lowest bit says whether a call follows
    return names


def _plain(function):
    """The function under a numba or kernel wrapper, or under an intrinsic."""
    function = getattr(function, "py_func", function)
    return getattr(function, "_defn", function)


@cache
def source_of(function):
    """The `Source` of a function, plain or under a wrapper; worked out once."""
    return Source(function) if function is _plain(function) else source_of(_plain(function))


class _Place:
    """Where numba keeps a kernel: the user's folder, under the kernel's hash, whichever copy of the source it came from."""

    def __init__(self, function):
        self.name = f"{Path(function.__code__.co_filename).stem}.{function.__qualname__}"  # as numba begins the file's name
        self.hash, self.folder = source_of(function).digest[:20], cache_folder()

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
        found = sorted(self.folder.glob(f"{self.name}-*.nbi"), key=lambda path: path.stat().st_mtime)
        for old in found[: -KEPT + 1]:
            for path in self.folder.glob(f"{old.stem}.*"):
                path.unlink(missing_ok=True)


class _Kept(caching.CompileResultCacheImpl):
    """numba's, without the intermediate code that it keeps for building a function into others: no kernel is, and it takes longer to read."""

    _locator_classes = [_Place]  # type: ignore[list-item]

    def reduce(self, compiled):
        (library, kind, (machine_code, _)), description, *rest = super().reduce(compiled)
        entry = f'define void @"{description.llvm_cpython_wrapper_name}"() {{ ret void }}'  # numba asks it for this name alone
        return (library, kind, (machine_code, llvm.parse_assembly(entry).as_bitcode())), description, *rest


class _Cache(caching.FunctionCache):
    """numba's, but that kept code is read without bringing in all that numba could compile: a fifth of a second, and scipy.linalg."""

    _impl_class = _Kept

    def load_overload(self, sig, target_context):
        rtsys.initialize(target_context)  # what kept code calls; `refresh`, which numba's own calls here, brings in all the rest
        with self._guard_against_spurious_io_errors():
            return self._load_overload(sig, target_context)


# -- what is built into others -------------------------------------------------------------------------


class _Part(codegen.JITCodeLibrary):
    """
    numba's library of a compiled function, of one that is only built into others: no machine code is made of it.

    The kernels it is built into are optimised in full, it itself but lightly before.
    """

    def finalize(self):
        for library in dict.fromkeys(self._linking_libraries):
            self._reload_init.update(library._reload_init)
            self._final_module.link_in(library._get_module_for_linking(), preserve=True)
        lightly, passes = self._codegen._module_pass_manager(loop_vectorize=False, slp_vectorize=False, opt=1, cost="cheap")
        lightly.run(self._final_module, passes)
        self._finalize_dynamic_globals()
        self._finalized = True


@register_pass(mutates_CFG=True, analysis_only=False)
class _LowerPart(NativeLowering):
    """numba's step from types to LLVM's code, into a `_Part`."""

    _name = "lightcalc_lower_part"

    def run_pass(self, state):
        state.library = _Part(state.targetctx.codegen(), state.func_id.func_qualname)
        state.flags.no_compile = True
        super().run_pass(state)
        made = state["cr"]
        state.library._ensure_finalized()
        stands_for = _dynfunc.make_function(made.fndesc.lookup_module(), state.func_id.func_name, "", 0, made.env, (state.library,))
        state.targetctx.insert_user_function(stands_for, made.fndesc, [state.library])
        state["cr"] = made._replace(cfunc=stands_for)  # what calls are found by; nothing is ever called through it
        return True


class _PartCompiler(CompilerBase):
    """numba's usual steps, but for that one."""

    def define_pipelines(self):
        steps = DefaultPassBuilder.define_nopython_pipeline(self.state)
        steps.passes = [(_LowerPart if step is NativeLowering else step, what) for step, what in steps.passes]
        steps.finalize()
        return [steps]


# -- the two kinds of compiled function ----------------------------------------------------------------


def inner(function):
    """
    `numba.njit` for what only compiled code calls: nothing is made for Python to call it by, and it is not kept alone.

    A number written out in a call counts as any other of its kind; numba would compile the function afresh for each.
    """
    return _inner(function, INNER)


def plain(function):
    """
    `inner` for one loop over arrays with nothing but sums, products and roots in it, of which the processor does several steps at once.

    A division by nothing raises no error there: asking whether there is one would keep the steps apart.
    """
    return _inner(function, PLAIN)


def _inner(function, how):
    made = numba.njit(pipeline_class=_PartCompiler, **how)(function)
    template = made.get_call_template
    made.get_call_template = lambda args, kws: template(tuple(map(unliteral, args)), kws)
    INNERS[function] = made
    return made


class Kernel:
    """
    A compiled function that Python calls. It lets go of the interpreter's lock, so that threads run it side by side.

    Parameters
    ----------
    function : callable
        What to compile. Nothing is compiled, read or hashed before the first call.
    takes : tuple of numba types
        Of its arguments, so that it can be compiled ahead.
    """

    def __init__(self, function, takes):
        self.takes = takes
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
        run = RUN_BY.get()
        return self.compiled(*arguments) if run is None else run(self.py_func, arguments)

    def make(self):
        """Compile it, or read what is kept. Looking for garbage meanwhile would cost a twentieth."""
        collects = gc.isenabled()
        gc.disable()
        try:
            self.compiled.compile(self.takes)
        finally:
            if collects:
                gc.enable()

    @property
    def is_there(self):
        """Whether it is compiled already, here or in the user's folder."""
        place = self.compiled._cache
        return bool(self.compiled.signatures) or Path(place.cache_path, f"{place._impl.filename_base}.nbi").exists()

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
        todo = np.array([0, jobs], dtype=np.int64)
        if RUN_BY.get() is not None:
            self(todo, *arguments)
            return
        run = self.compiled
        if not run.signatures:  # read or compiled once, by this thread, and not by each
            self.make()
        others = [_pool().submit(run, todo, *arguments) for _ in range(min(CORES, jobs) - 1)]
        run(todo, *arguments)
        for other in others:
            if not other.cancel():  # one that has not begun has nothing left to do
                other.result()


def kernel(*takes):
    """
    The decorator of a function that becomes a `Kernel`.

    Parameters
    ----------
    *takes : numba types
        Of its arguments: NUMBERS and its like.

    Returns
    -------
    callable
    """

    def made(function):
        KERNELS.append(Kernel(function, takes))
        return KERNELS[-1]

    return made


def rows(kind):
    """The numba type of an array of records of a numpy type."""
    return numba.from_dtype(kind)[::1]


@cache
def _pool():
    return ThreadPoolExecutor(max(CORES, 8), thread_name_prefix="lightcalc")


@intrinsic
def count_up(context, counter):
    """One added to the first of an array of whole numbers, by one thread at a time; what it was before."""

    def generate(target, builder, signature, arguments):
        from numba.np import arrayobj  # long to read, and only compiling needs it

        array = arrayobj.make_array(signature.args[0])(target, builder, arguments[0])
        return builder.atomic_rmw("add", array.data, cgutils.intp_t(1), "monotonic")

    return numba.int64(counter), generate


@inner
def next_job(todo):
    """The next of todo[1] jobs, each once, whichever thread asks; -1 when all are taken."""
    job = count_up(todo)
    return job if job < todo[1] else -1
