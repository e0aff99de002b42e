"""
The decorator every compiled kernel wears.

numba keeps compiled code beside the source and drops it when that one file changes; but a kernel also has
the kernels and row types of other files built in. So the compiled code is kept in a folder named after
the text of every file that holds kernels: change one, and all are compiled afresh.
"""

from __future__ import annotations

import ctypes
import hashlib
import importlib.metadata
import os
import shutil
import tempfile
from pathlib import Path

import numba

HERE = Path(__file__).resolve().parent
KERNEL_FILES = tuple(
    f"{name}.py"
    for name in ["kernels", "geometry", "rows", "intersect", "direct", "harmonics", "particles", "indirect", "ground", "picture"]
)
KEPT = 4  # compiled versions kept; older ones are deleted


def cache_folder():
    """Where this version's compiled kernels are kept: in the user's cache folder, else a temporary one."""
    digest = hashlib.sha256()
    for name in KERNEL_FILES:
        digest.update((HERE / name).read_bytes())
    root = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "lightcalc"
    try:
        root.mkdir(parents=True, exist_ok=True)
    except OSError:
        root = Path(tempfile.gettempdir()) / "lightcalc"
        root.mkdir(parents=True, exist_ok=True)
    folder = root / digest.hexdigest()[:16]
    if not folder.exists():
        folder.mkdir(exist_ok=True)
        versions = sorted((path for path in root.iterdir() if path.is_dir()), key=lambda path: path.stat().st_mtime)
        for old in versions[:-KEPT]:
            shutil.rmtree(old, ignore_errors=True)
    return str(folder)


def share_cores():
    """
    Load the task scheduler that numba prefers, where pip has put it, so that numba finds it.

    numba's own scheduler deals each core its part and waits for the last; with a browser on the same cores a
    loop then waits for a turn. The task scheduler lets a free core take the rest: 1.3 to 1.8 times faster
    beside other work. Without it everything still runs.
    """
    try:
        files = importlib.metadata.files("tbb") or ()
        library = next(file for file in files if file.name == "libtbb.so.12")
        ctypes.CDLL(str(library.locate()), mode=ctypes.RTLD_GLOBAL)
    except (importlib.metadata.PackageNotFoundError, StopIteration, OSError):
        pass


share_cores()
FOLDER = cache_folder()


def kernel(function=None, *, parallel=False):
    """
    `numba.njit`, with its compiled code kept by the version of all kernels.

    Parameters
    ----------
    function : callable, optional
        What to compile; without it, a decorator is returned.
    parallel : bool, default False
        Let its prange loops use every core.

    Returns
    -------
    callable
    """
    if function is None:
        return lambda function: kernel(function, parallel=parallel)
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = FOLDER  # read when the decorator runs; put back, for it is everyone's
    try:
        return numba.njit(cache=True, fastmath=True, parallel=parallel)(function)
    finally:
        numba.config.CACHE_DIR = before


@kernel
def spread(k, n):
    """
    The k-th of n jobs, in an order where every run of jobs is a fair sample of all, so that cores that take a run each end together.

    Steps of about 0.618 n, with no factor in common with n: each job comes once.
    """
    step = max(int(0.6180339887 * n), 1)
    while True:
        a, b = step, n
        while b:
            a, b = b, a % b
        if a == 1:
            return (k * step) % n
        step += 1
