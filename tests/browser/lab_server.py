"""A JupyterLab of our own for the tests: on 127.0.0.1, in empty folders, seeing nothing of the user's settings."""

import json
import os
import secrets
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path

import psutil
from bandtrial.commands.lab import server_command

START_SECONDS = 60


@dataclass
class LabServer:
    """`start()` it, use `url`, `token` and the folder `root` that it serves, `stop()` it."""

    home: Path
    root: Path
    token: str = field(default_factory=lambda: secrets.token_hex(16))
    url: str = ""

    def start(self) -> "LabServer":
        command = [
            *server_command(self.root, port=0, no_browser=True, allow_root=True),
            f"--IdentityProvider.token={self.token}",
            "--LabApp.expose_app_in_browser=True",  # window.jupyterapp: the tests wait on it, they act by hand
            "--ServerApp.terminals_enabled=False",
        ]
        self.log = self.home / "server.log"
        with self.log.open("wb") as log:
            self.process = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=log, stderr=log, cwd=self.root,
                env=self._environment(), start_new_session=True,
            )  # fmt: skip
        deadline = time.monotonic() + START_SECONDS
        while not self._ready():
            if self.process.poll() is not None or time.monotonic() > deadline:
                raise RuntimeError(f"JupyterLab did not start:\n{self.log.read_text()}")
            time.sleep(0.1)
        return self

    def stop(self) -> None:
        """Ask it to end; nothing it started may outlive it."""
        kernels = psutil.Process(self.process.pid).children(recursive=True)
        try:
            self._call("/api/shutdown", "POST")
            self.process.wait(30)
        finally:
            if self.process.poll() is None:
                self.process.kill()
                self.process.wait()
            _, alive = psutil.wait_procs(kernels, timeout=10)
            for kernel in alive:
                kernel.kill()
        assert self.process.returncode == 0, self.log.read_text()
        assert not alive, f"kernels outlived the server: {alive}"

    def _environment(self) -> dict[str, str]:
        from bandtrial.commands.lab import server_environment

        env = {k: v for k, v in server_environment(self.root).items() if not k.startswith(("JUPYTER_", "IPYTHON"))}
        own = {f"JUPYTER_{name}_DIR": str(self.home / name.lower()) for name in ("CONFIG", "DATA", "RUNTIME")}
        own |= {f"JUPYTERLAB_{name}_DIR": str(self.home / name.lower()) for name in ("SETTINGS", "WORKSPACES")}
        return (
            env
            | own
            | {
                "HOME": str(self.home),
                "IPYTHONDIR": str(self.home / "ipython"),
                "MPLCONFIGDIR": str(self.home / "matplotlib"),
                "JUPYTER_CONFIG_PATH": server_environment(self.root)["JUPYTER_CONFIG_PATH"],
                "PATH": f"{Path(sys.executable).parent}{os.pathsep}{env['PATH']}",
                "PYDEVD_DISABLE_FILE_VALIDATION": "1",  # the debugger's note about frozen modules
                "NO_PROXY": "127.0.0.1,localhost",
            }
        )

    def _ready(self) -> bool:
        """The server writes its port into a file of its runtime folder, then answers."""
        info = self.home / "runtime" / f"jpserver-{self.process.pid}.json"
        try:
            self.url = f"http://127.0.0.1:{json.loads(info.read_text())['port']}"
            self._call("/api/status")
        except (OSError, ValueError, urllib.error.URLError):
            return False
        return True

    def _call(self, path: str, method: str = "GET") -> None:
        request = urllib.request.Request(self.url + path, method=method)
        request.add_header("Authorization", f"token {self.token}")
        direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        direct.open(request, timeout=10).close()
