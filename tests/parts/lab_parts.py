"""A JupyterLab of its own for tests, and what a person does in it."""

import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import nbformat
import pytest

TESTS = Path(__file__).resolve().parents[1]
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
RAN = """() => { const w = window.jupyterapp.shell.currentWidget; return w.sessionContext.session.kernel.status === 'idle'
  && w.content.widgets.every(c => c.model.type !== 'code' || c.model.executionCount !== null); }"""


def missing(reason):
    """Skip where a person lacks the tool; fail where the checks are meant to be whole."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"{reason}, and CI=true", pytrace=False)
    pytest.skip(reason)


class Lab:
    """A JupyterLab server in a folder of its own, and what a person does in it."""

    def __init__(self, folder):
        self.folder, self.token = folder, secrets.token_hex(16)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.settings("apputils-extension/notification", {"fetchNews": "false", "checkForUpdates": False})
        names = "JUPYTER_CONFIG_DIR JUPYTER_DATA_DIR JUPYTER_RUNTIME_DIR JUPYTERLAB_SETTINGS_DIR JUPYTERLAB_WORKSPACES_DIR IPYTHONDIR HOME"
        own = {name: str(folder / "home" / name.lower()) for name in names.split()}
        for path in own.values():
            Path(path).mkdir(parents=True, exist_ok=True)
        # compiled kernels are kept under the real home: compiling them afresh takes a minute
        own["XDG_CACHE_HOME"] = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
        package = str(TESTS.parent) + os.pathsep + str(TESTS / "parts")
        command = (
            f"{sys.executable} -m jupyterlab --no-browser --allow-root --ip=127.0.0.1 --port={self.port} "
            f"--ServerApp.port_retries=0 --IdentityProvider.token={self.token} --ServerApp.root_dir={folder / 'work'} "
            "--LabApp.expose_app_in_browser=True --LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate "
            "--LabApp.extension_manager=readonly --KernelManager.transport=ipc"
        ).split()
        (folder / "work").mkdir()
        self.log = open(folder / "lab.log", "w")
        self.process = subprocess.Popen(
            command, env=os.environ | own | {"PYTHONPATH": package}, stdout=self.log, stderr=subprocess.STDOUT
        )
        self._wait()

    def settings(self, plugin, values):
        path = self.folder / "home/jupyterlab_settings_dir/@jupyterlab" / f"{plugin}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(values))

    def _wait(self):
        for _ in range(200):
            try:
                urllib.request.urlopen(f"{self.url}/api?token={self.token}", timeout=2)
                return
            except OSError:
                if self.process.poll() is not None:
                    break
                time.sleep(0.1)
        raise RuntimeError((self.folder / "lab.log").read_text()[-2000:])

    def close(self):
        self.process.terminate()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.log.close()

    def run(self, page, name, *cells, full=False):
        """Write a notebook, open it, run all its cells; `full` keeps the file browser beside it."""
        notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
        notebook.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}  # else it asks
        nbformat.write(notebook, self.folder / "work" / f"{name}.ipynb")
        where = "lab/tree" if full else "doc/tree"
        page.goto(f"{self.url}/{where}/{name}.ipynb?token={self.token}" + ("&reset" if full else ""))
        page.wait_for_function("() => window.jupyterapp?.shell.currentWidget?.context?.isReady")
        page.wait_for_function(
            "() => window.jupyterapp.shell.currentWidget.sessionContext.session?.kernel?.connectionStatus === 'connected'"
        )
        self.run_all(page)

    def run_all(self, page):
        page.evaluate("() => { window.jupyterapp.commands.execute('notebook:run-all-cells'); }")
        page.wait_for_function(
            """() => { const w = window.jupyterapp.shell.currentWidget;
              return w.content.widgets.every(c => c.model.type !== 'code' || !c.model.sharedModel.source.trim()
                || c.model.executionCount !== null) && w.sessionContext.session.kernel.status === 'idle'; }""",
            timeout=90_000,
        )

    def show(self, page, index):
        """Scroll a cell to the top and give its output."""
        page.evaluate(
            "async i => { const n = window.jupyterapp.shell.currentWidget.content; n.activeCellIndex = i; "
            "await n.scrollToItem(i, 'start'); }",
            index,
        )
        return page.locator(".jp-Notebook .jp-Cell").nth(index).locator(".jp-OutputArea-output")

    def ask(self, page, code):
        """Run code in the notebook's kernel and give what it printed."""
        return page.evaluate(
            """async code => { const k = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
              const f = k.requestExecute({ code, store_history: false }); let out = '';
              f.onIOPub = m => { if (m.header.msg_type === 'stream') out += m.content.text;
                                 if (m.header.msg_type === 'error') out += m.content.traceback.join('\\n'); };
              await f.done; return out; }""",
            code,
        ).strip()


def stable_box(locator):
    """A bounding box that was the same twice: the page has stopped moving under it."""
    last = None
    for _ in range(60):
        box = locator.bounding_box()
        if box is not None and box == last:
            return box
        last = box
        locator.page.wait_for_timeout(50)
    raise AssertionError(f"{locator} does not come to rest")


def centre(locator):
    box = stable_box(locator)
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def open_notebook(lab, page, source):
    """A copy of a notebook, opened beside the file browser with its kernel connected; not run."""
    shutil.copy(source, lab.folder / "work" / source.name)
    page.goto(f"{lab.url}/lab/tree/{source.name}?token={lab.token}&reset")
    page.wait_for_function("() => window.jupyterapp?.shell.currentWidget?.context?.isReady")
    page.wait_for_function(
        "() => window.jupyterapp.shell.currentWidget.sessionContext.session?.kernel?.connectionStatus === 'connected'"
    )


def clear_and_run(page, timeout_s=600):
    """Saved outputs go first, so that what is on the page afterwards was made by this run."""
    page.evaluate("() => window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    page.evaluate("() => { window.jupyterapp.commands.execute('notebook:run-all-cells'); }")
    page.wait_for_function(RAN, timeout=1000 * timeout_s)


def index_of(page, words):
    """Which cell holds these words."""
    return page.evaluate(
        "words => window.jupyterapp.shell.currentWidget.content.widgets.findIndex(c => c.model.sharedModel.source.includes(words))",
        words,
    )
