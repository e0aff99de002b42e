"""A voila server for one notebook: the crew's view of it, without code."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

HOME = Path(__file__).resolve().parents[2]


class Crew:
    """A voila server for one notebook, in a folder of its own."""

    def __init__(self, folder, notebook):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        shutil.copy(notebook, folder / notebook.name)
        names = ["JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "HOME"]
        own = {name: str(folder / name.lower()) for name in names}
        own["XDG_CACHE_HOME"] = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")  # compiled kernels
        self.log = open(folder / "voila.log", "w")
        command = [sys.executable, "-m", "voila", str(folder / notebook.name), "--no-browser", "--Voila.ip=127.0.0.1",
                   f"--port={self.port}", "--port_retries=0"]  # fmt: skip
        self.process = subprocess.Popen(
            command, env=os.environ | own | {"PYTHONPATH": str(HOME)}, stdout=self.log, stderr=subprocess.STDOUT
        )
        self.url = f"http://127.0.0.1:{self.port}/"
        self._wait(folder)

    def _wait(self, folder):
        for _ in range(300):
            try:
                urllib.request.urlopen(f"{self.url}voila/static/", timeout=2)
            except urllib.error.HTTPError:
                return  # it answers
            except OSError:
                if self.process.poll() is not None:
                    break
                time.sleep(0.1)
        raise RuntimeError((folder / "voila.log").read_text()[-2000:])

    def close(self):
        self.process.terminate()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.log.close()
