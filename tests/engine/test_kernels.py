"""Compiled code: kept by what it is built from, each function compiled once, every job done once."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from lightcalc.engine import kernels
from lightcalc.engine.kernels import inner, kernel, next_job, source_hash

HOME = Path(__file__).resolve().parents[2]
EVERY = """
import importlib, pathlib
from lightcalc.engine import kernels
for file in sorted(pathlib.Path(kernels.__file__).parent.glob("*.py")):
    module = importlib.import_module(f"lightcalc.engine.{file.stem}")
    for name, value in vars(module).items():
        if isinstance(value, kernels.kernel) and value.__module__ == module.__name__:
            print(name, kernels.source_hash(value))
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
        env=dict(os.environ, XDG_CACHE_HOME=str(cache)),
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

    reach = {"_air_to_points", "_glow_to_points", "_rows_seen", "soft_reach", "_line"}
    assert touched("indirect.py", "FAR_M = 300.0", "FAR_M = 299.0") == reach  # a constant; picture.py takes it from there
    assert touched("rows.py", "BAR_REFLECTANCE = 0.1", "BAR_REFLECTANCE = 0.2") == {"_trace", "_rows_seen", "_line"}
    assert touched("geometry.py", "if abs(gap) < 1e-7:", "if abs(gap) < 2e-7:") == {
        "_straight",
        "_walls_straight",
        "_ground_straight",
        "_rows_seen",
        "_line",
    }  # fmt: skip; view_planes: straight light alone clips by it
    wider = touched("rows.py", '    ("cut", REAL, ()),', '    ("cut", REAL, (2,)),')  # rows of lamps grow: all that read them
    assert {"_straight", "_airlight", "_trace", "_rows_seen", "_soft_air", "outside_light"} <= wider
    assert wider.isdisjoint({"_cone_planes", "harmonics_of", "_surfaces_to_points", "_rows_together"})
    assert touched("solve.py", "if quality not in QUALITY:", "if not quality in QUALITY:") == set()  # plain Python


def test_what_cannot_be_told_apart_is_refused():
    held = {"a": 1}

    def names_a_table():
        return held["a"]

    with pytest.raises(TypeError, match="a kernel names held, a dict, whose changes cannot be told"):
        source_hash(names_a_table)


@inner
def _twice(x):
    return x + x


@kernel
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


def test_a_number_written_out_is_no_reason_to_compile_again():
    @kernel
    def several(x):
        return _plus(x, 1) + _plus(x, 2) + _plus(x, int(x))

    assert several(3.0) == 4.0 + 5.0 + 6.0
    assert len(_plus.signatures) == 1


@inner
def _plus(x, n):
    return x + n
