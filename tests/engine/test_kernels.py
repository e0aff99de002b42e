"""Compiled code: kept by what it is built from, each function compiled once, every job done once."""

import dis
import io
import os
import pickle
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest

from lightcalc.engine import first_time, harmonics, kernels, picture, ready
from lightcalc.engine.kernels import COUNTS, JOBS, NUMBER, NUMBERS, inner, kernel, next_job, source_of

HOME = Path(__file__).resolve().parents[2]
EVERY = """
import importlib, pathlib
from lightcalc.engine import kernels
for file in sorted(pathlib.Path(kernels.__file__).parent.glob("*.py")):
    module = importlib.import_module(f"lightcalc.engine.{file.stem}")
    for name, value in vars(module).items():
        if isinstance(value, kernels.Kernel) and value.__module__ == module.__name__:
            print(name, kernels.source_of(value).digest)
"""
USED = """
import numpy as np
from numba.core import event
from lightcalc.engine.harmonics import harmonics_of
built = []
class Watch(event.Listener):
    def on_start(self, found): built.append(found.data["dispatcher"].py_func.__name__)
    def on_end(self, found): pass
event.register("numba:compile", Watch())
print(harmonics_of(np.array([[0.0, 0.0, 1.0]]))[0, 0], len(built))
"""
CALLED = """
from lightcalc.answers import readings
from lightcalc.engine import kernels, picture, solve
from lightcalc.scene import shoot_file
from lightcalc.scene.parts import Room
setups = shoot_file.load("data/salt_ledger.toml").setups
indoors = next(setup for setup in setups if isinstance(setup.place, Room) and setup.boards)
for setup in (indoors, next(setup for setup in setups if not isinstance(setup.place, Room))):
    lit = solve.light(setup, "draft")
    readings.readings(setup, lit=lit)
    picture.picture(setup, width=32, lit=lit)
for kernel in kernels.KERNELS:
    found = kernel.compiled.signatures
    print(kernel.__name__, "unused" if not found else "declared" if found == [kernel.takes] else found)
"""


def copy(tmp_path, name):
    """A second clone of the package."""
    there = tmp_path / name
    shutil.copytree(HOME / "lightcalc", there / "lightcalc", ignore=shutil.ignore_patterns("__pycache__"))
    return there


def printed(home, code, cache):
    """What a fresh Python prints in a clone."""
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=home,
        # no .pyc: Python takes one for fresh where a file of the same length was changed within the same second
        env=dict(os.environ, XDG_CACHE_HOME=str(cache), PYTHONDONTWRITEBYTECODE="1"),
        capture_output=True,
        text=True,
        check=True,
    )
    return run.stdout


def changed(home, file, old, new):
    path = home / "lightcalc" / "engine" / file
    text = path.read_text()
    assert text.count(old) == 1
    path.write_text(text.replace(old, new))


def hashes(home, cache):
    return dict(line.split() for line in printed(home, EVERY, cache).splitlines())


@pytest.mark.slow
def test_a_changed_number_is_never_met_by_old_code_and_a_second_clone_compiles_nothing(tmp_path):
    # DERIVED: the first harmonic is 1 / (2 sqrt(pi)) = 0.28209...; with 0.5 for it in a copy the copy must say 0.5, though
    # both keep their code in one folder; and the number stands in another function than the one that is kept.
    cache = tmp_path / "cache"
    first, second = copy(tmp_path, "first"), copy(tmp_path, "second")
    value, built = printed(first, USED, cache).split()
    assert (float(value), int(built) > 0) == (pytest.approx(0.5 / np.sqrt(np.pi), rel=1e-12), True)
    assert printed(second, USED, cache).split() == [value, "0"]  # another path, other times of files, the same content
    changed(second, "harmonics.py", "out[0] = 0.28209479177387814", "out[0] = 0.5")
    value, built = printed(second, USED, cache).split()
    assert (value, int(built) > 0) == ("0.5", True)
    changed(second, "harmonics.py", "out[0] = 0.5", "out[0] = 0.28209479177387814  # as it was")
    assert printed(second, USED, cache).split()[1] == "0"  # the first is still kept, and a comment is no change


@pytest.mark.slow
def test_only_what_depends_on_a_change_is_compiled_again(tmp_path):
    # DERIVED by reading: which kernels reach each changed line, through other files.
    there = copy(tmp_path, "clone")
    before = hashes(there, tmp_path)
    assert len(before) > 20

    def touched(file, old, new):
        changed(there, file, old, new)
        after = hashes(there, tmp_path)
        changed(there, file, new, old)
        assert after.keys() == before.keys()
        return {name for name in before if after[name] != before[name]}

    reach = {"_air_to_points", "_glow_to_points", "_rows_seen", "soft_reach", "_line_end"}
    assert touched("indirect.py", "FAR_M = 300.0", "FAR_M = 299.0") == reach  # a constant; picture.py takes it from there
    assert touched("rows.py", "BAR_REFLECTANCE = 0.1", "BAR_REFLECTANCE = 0.2") == {"_trace", "_rows_seen", "_line_end"}
    assert touched("geometry.py", "if abs(gap) < 1e-7:", "if abs(gap) < 2e-7:") == {
        "_straight",
        "_faces_at",
        "_walls_straight",
        "_ground_straight",
        "_rows_seen",
        "_line_end",
        "_cells_from_cells",
        "_bodies_to_points",
    }  # view_planes: straight light, what boards send each other and what people send on clip by it
    wider = touched("rows.py", '    ("cut", REAL, ()),', '    ("cut", REAL, (2,)),')  # rows of lamps grow: all that read them
    assert {"_straight", "_airlight", "_trace", "_rows_seen", "_soft_air", "outside_light"} <= wider
    assert wider.isdisjoint({"_cone_planes", "harmonics_of", "_surfaces_to_points", "_rows_together"})
    assert touched("solve.py", "if quality not in QUALITY:", "if not quality in QUALITY:") == set()  # plain Python


def test_what_cannot_be_told_apart_is_refused():
    held = {"a": 1}

    def names_a_table():
        return held["a"]

    with pytest.raises(TypeError, match="a kernel names held, a dict, whose changes cannot be told"):
        source_of(names_a_table)


def test_names_of_globals_are_those_that_dis_reads():
    # INDEPENDENT: the standard library's own reader of instructions, of every function that compiled code is built from; and of
    # one with more names than a byte counts.
    functions = set().union(*(source_of(kernel).parts for kernel in kernels.KERNELS))
    exec("def many():\n" + "".join(f"    name_{k}\n" for k in range(700)), {}, made := {})
    assert len(kernels._globals_named(made["many"].__code__)) == 700
    for function in functions | {made["many"]}:
        told = {step.argval for step in dis.get_instructions(function.__code__) if step.opname == "LOAD_GLOBAL"}
        assert kernels._globals_named(function.__code__) == told


@inner
def _twice(x):
    return x + x


@kernel(JOBS, NUMBERS, COUNTS)
def _doubled(todo, numbers, visits):
    while True:
        job = next_job(todo)
        if job < 0:
            return
        numbers[job] = _twice(numbers[job])
        visits[job] += 1


@pytest.mark.parametrize("cores", [1, 2, 5])
@pytest.mark.parametrize("jobs", [0, 1, 2, 1001])
def test_every_job_is_done_once_on_any_number_of_cores(monkeypatch, cores, jobs):
    monkeypatch.setattr(kernels, "CORES", cores)
    numbers, visits = np.arange(1001.0), np.zeros(1001, dtype=np.int64)
    _doubled.shared(jobs, numbers, visits)
    assert visits.tolist() == [1] * jobs + [0] * (1001 - jobs)
    assert numbers[:jobs].tolist() == (2.0 * np.arange(jobs)).tolist()


def test_machine_code_alone_is_kept(monkeypatch, tmp_path):
    # What numba keeps besides, for building a function into others, is a shell with the one name it asks for.
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    fresh = kernels.Kernel(harmonics.harmonics_of.py_func, harmonics.harmonics_of.takes)
    fresh.make()
    (kept,) = (tmp_path / "lightcalc").glob("harmonics.harmonics_of-*.nbc")
    (_, _, (machine_code, rest)), *_ = pickle.loads(kept.read_bytes())
    assert len(rest) < 4000 < len(machine_code)
    again = kernels.Kernel(fresh.py_func, fresh.takes)
    assert again.is_there
    ways = np.array([[0.0, 0.6, 0.8]])
    assert (again(ways) == fresh(ways)).all()
    assert again.compiled.stats.cache_hits and not again.compiled.stats.cache_misses


def test_a_number_written_out_is_no_reason_to_compile_again(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))  # or it would be read, and nothing compiled

    @kernel(NUMBER)
    def several(x):
        return _plus(x, 1) + _plus(x, 2) + _plus(x, int(x))

    assert several(3.0) == 4.0 + 5.0 + 6.0
    assert len(_plus.signatures) == 1


@inner
def _plus(x, n):
    return x + n


def test_kernels_are_dealt_so_that_no_two_compile_much_of_the_same(monkeypatch):
    # DERIVED: all kernels need some functions; dealt to two as they become free, neither has much more than half of all to do,
    # and together they do little twice, which is counted. One worker gets everything.
    monkeypatch.setattr(ready, "_built", set)  # whatever other tests have compiled
    everything = kernels.KERNELS
    alone = ready._Deal(everything, 1)
    assert {alone.next_of(0) for _ in everything} == set(everything) and alone.next_of(0) is None
    deal, dealt, spent = ready._Deal(everything, 2), [[], []], [0, 0]
    while deal.left:
        free = spent.index(min(spent))
        kernel = deal.next_of(free)
        if kernel is None:  # the other is sooner through alone
            spent[free] = sys.maxsize
            continue
        spent[free] += ready._work([kernel], set().union(*(kernels.source_of(other).parts for other in dealt[free])))
        dealt[free].append(kernel)
    assert sorted(k.__name__ for k in dealt[0] + dealt[1]) == sorted(k.__name__ for k in everything)
    whole = ready._work(everything)
    done = [ready._work(part) for part in dealt]
    assert sum(done) == deal.doing < 1.25 * whole
    assert max(done) < 0.65 * whole


def test_inner_functions_become_no_machine_code_of_their_own(monkeypatch, tmp_path):
    # Only kernels are called by address; what is built into them is kept as LLVM's code until then.
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))  # or the kernel would be read, and nothing compiled
    kernels.Kernel(_doubled.py_func, _doubled.takes).make()
    (made,) = kernels.INNERS[_twice.py_func].overloads.values()
    assert isinstance(made.library, kernels._Part)
    assert made.library.get_pointer_to_function(made.fndesc.mangled_name) == 0


@pytest.mark.slow
def test_every_kernel_is_called_as_it_was_compiled_ahead():
    # The types that kernels declare are those that they are called with, so nothing is left to compile when light is asked.
    # In a Python of its own: other tests call some of them with other things.
    called = dict(line.split() for line in printed(HOME, CALLED, kernels.cache_folder().parent).splitlines())
    assert set(called.values()) <= {"unused", "declared"}
    assert sum(how == "declared" for how in called.values()) > 20


class Stream(io.StringIO):
    def __init__(self, terminal):
        super().__init__()
        self.isatty = lambda: terminal


def test_a_terminal_sees_a_line_that_goes_away_and_a_file_one_sentence_after_a_while(monkeypatch):
    line = first_time.Line(Stream(True))
    for share, left in ((0.0, 20.0), (0.5, 10.0), (1.0, 0.0)):
        line(share, left)
    shown = line.stream.getvalue().split("\r")
    assert "[                    ]  about 20 s left" in shown[1] and "[##########          ]  about 10 s left" in shown[2]
    assert shown[-1] == "" and shown[-2].strip() == "" and len(shown[-2]) >= len(shown[2])
    cell = type("OutStream", (Stream,), {"__module__": "ipykernel.iostream"})(False)  # a notebook's cell keeps the line
    first_time.Line(cell)(1.0, 0.0)
    assert cell.getvalue().strip() == "compiling the light engine, once on this machine: 0 s"
    quiet = first_time.Line(Stream(False))
    quiet(0.5, 1.0)
    assert quiet.stream.getvalue() == ""  # it is over before two seconds
    monkeypatch.setattr(first_time, "PATIENCE_S", 0.0)
    quiet(0.6, 9.0), quiet(0.7, 8.0)
    assert quiet.stream.getvalue() == "lightcalc: compiling the light engine, once on this machine: about 9 s\n"


@pytest.mark.slow
def test_ready_compiles_in_another_process_too_says_how_far_it_is_and_then_has_nothing_to_do(monkeypatch, tmp_path):
    # Two small kernels stand for all; each process gets one.
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    fresh = [kernels.Kernel(k.py_func, k.takes) for k in (harmonics.harmonics_of, picture.soft_reach)]
    monkeypatch.setattr(kernels, "KERNELS", fresh)
    monkeypatch.setattr(kernels, "CORES", 2)
    monkeypatch.setattr(ready, "WORTH", 0)
    monkeypatch.setattr(ready, "TICK_S", 0.05)
    told = []
    assert ready.ready(told=lambda share, left: told.append((share, left))) == 2
    assert told[0][0] == 0.0 and told[-1] == (1.0, 0.0) and all(0 <= a[0] <= b[0] for a, b in zip(told, told[1:]))
    assert {path.name.split("-")[0] for path in (tmp_path / "lightcalc").glob("*.nbc")} == {
        "harmonics.harmonics_of",
        "picture.soft_reach",
    }
    assert ready.ready(told=told.append) == 0


def test_who_asks_while_another_thread_compiles_waits_and_is_told_how_far_it_is(monkeypatch):
    monkeypatch.setattr(ready, "_compiled", False)
    monkeypatch.setattr(ready, "TICK_S", 0.02)
    begun, go_on, times, told = threading.Event(), threading.Event(), [], []

    def slow(*, told):
        times.append("compiled")
        monkeypatch.setattr(ready, "_so_far", (0.4, 7.0))
        begun.set()
        go_on.wait(10)

    monkeypatch.setattr(ready, "ready", slow)
    first = threading.Thread(target=ready.once)
    first.start()
    begun.wait(10)

    def tell(share, left_s):
        told.append((share, left_s))
        go_on.set()

    ready.once(told=tell)
    first.join()
    ready.once()
    assert times == ["compiled"] and told[0] == (0.4, 7.0) and told[-1] == (1.0, 0.0)


def test_compiling_that_failed_is_tried_again_by_who_asks_next(monkeypatch):
    monkeypatch.setattr(ready, "_compiled", False)
    answers = iter((OSError("no room"), None))

    def once_bad(*, told):
        if error := next(answers):
            raise error

    monkeypatch.setattr(ready, "ready", once_bad)
    with pytest.raises(OSError, match="no room"):
        ready.once()
    ready.once()
    assert ready._compiled
