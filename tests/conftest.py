"""How the tests are dealt to the cores: a file to a worker, what needs a browser to one worker, last."""

import os
from pathlib import Path

import pytest
from xdist.scheduler import LoadScopeScheduling


class ByFile(LoadScopeScheduling):
    """Fixtures of a file are made once; one JupyterLab at a time, and no other event loop on its driver's thread."""

    def _split_scope(self, nodeid):
        path = nodeid.split("::")[0]
        return "browser" if "/browser/" in path else path


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """A scheduler of our own: xdist's groups go by a name inside pytest that newer ones no longer read."""
    return ByFile(config, log)


def pytest_xdist_auto_num_workers(config):
    """A worker a core; for a few files, this process alone."""
    whole = [Path(argument.split("::")[0]).is_dir() for argument in config.args]
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") and all(whole) else 0


def pytest_configure(config):
    """The light engine is compiled once, before the workers would each begin to."""
    if getattr(config.option, "numprocesses", None) and not hasattr(config, "workerinput"):
        from lightcalc.engine import ready

        ready.ready()
