"""How the tests are dealt to the cores: a file to a worker, what needs a browser to one worker, which gets nothing after it."""

import os
from pathlib import Path

import pytest
from xdist.scheduler import LoadScopeScheduling

BROWSER, LEFT = "browser", 0.4  # those begin when so much of the rest is left, which the other workers do meanwhile


class ByFile(LoadScopeScheduling):
    """Fixtures of a file are made once; one JupyterLab at a time, and no other event loop on its driver's thread."""

    browsing = None

    def _split_scope(self, nodeid):
        path = nodeid.split("::")[0]
        return BROWSER if "/browser/" in path else path

    def _assign_work_unit(self, node):
        left = sum(len(tests) for scope, tests in self.workqueue.items() if scope != BROWSER)
        if BROWSER in self.workqueue and (left < LEFT * len(self.collection) or not left):
            self.workqueue.move_to_end(BROWSER, last=False)
            self.browsing = node
        super()._assign_work_unit(node)

    def _reschedule(self, node):
        if node is not self.browsing:
            super()._reschedule(node)
        elif not node.shutting_down:
            node.shutdown()  # when it is through


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
