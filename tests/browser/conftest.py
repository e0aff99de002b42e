"""A browser for the stage's page, and a JupyterLab of its own for the stage in a notebook."""

import shutil
import tempfile
from pathlib import Path

import pytest

from lab_parts import CHROMIUM_FLAGS, Lab, missing


def pytest_collection_modifyitems(items):
    """Browser tests last: their driver keeps an event loop running on this thread, where others start their own."""
    items.sort(key=lambda item: "browser" in item.path.parts)
    for item in items:
        if "browser" in item.path.parts:
            item.add_marker(pytest.mark.slow)


@pytest.fixture(scope="session")
def browser():
    """Headless Chromium from the system."""
    try:
        from playwright.sync_api import sync_playwright
    except ModuleNotFoundError:
        missing("playwright is not installed")
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        missing("no chromium on this machine")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=CHROMIUM_FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def lab(browser):
    try:
        import jupyterlab  # noqa: F401
    except ModuleNotFoundError:
        missing("jupyterlab is not installed")
    # A short path: the kernel's sockets lie below it, and the name of a socket may have 107 characters.
    with tempfile.TemporaryDirectory(prefix="lab", ignore_cleanup_errors=True) as folder:
        server = Lab(Path(folder))
        yield server
        server.close()
