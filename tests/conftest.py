"""How the tests are dealt to the cores: a file to a worker, what needs a browser to one worker, last."""

import os
from pathlib import Path

import pytest


def pytest_xdist_auto_num_workers(config):
    """A worker a core; for a few files, this process alone."""
    whole = [Path(argument.split("::")[0]).is_dir() for argument in config.args]
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") and all(whole) else 0


def pytest_configure(config):
    """The light engine is compiled once, before the workers would each begin to."""
    if getattr(config.option, "numprocesses", None) and not hasattr(config, "workerinput"):
        from lightcalc.engine import ready

        ready.ready()


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items):
    """Fixtures of a file are made once; a browser's driver keeps an event loop on its thread, where others start their own."""
    for item in items:
        in_browser = "browser" in item.path.parts
        item.add_marker(pytest.mark.xdist_group("browser" if in_browser else str(item.path)))
