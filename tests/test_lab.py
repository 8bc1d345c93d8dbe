"""`bandtrial lab`: its server is heard on this machine only, and answers nobody without its token."""

import json
import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request

import pytest

psutil = pytest.importorskip("psutil", reason="comes with the developers' tools")


def status(url: str) -> int:
    """HTTP status of a GET, redirects not followed."""

    class Stay(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, *_):
            return None

    try:
        with urllib.request.build_opener(Stay).open(url, timeout=20) as answer:
            return answer.status
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """A running `bandtrial lab`: what it wrote of itself, and its processes."""
    runtime = tmp_path_factory.mktemp("runtime")
    own = {"JUPYTER_RUNTIME_DIR": str(runtime), "JUPYTER_CONFIG_DIR": str(tmp_path_factory.mktemp("config"))}
    command = [sys.executable, "-m", "bandtrial", "lab", str(tmp_path_factory.mktemp("work") / "here")]
    command += ["--no-browser", "--allow-root"]
    started = subprocess.Popen(command, env=os.environ | own, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                               start_new_session=True)  # fmt: skip
    try:
        for _ in range(600):
            found = [text for file in runtime.glob("jpserver-*.json") if (text := file.read_text(encoding="utf-8"))]
            if found or started.poll() is not None:
                break
            time.sleep(0.1)
        told = json.loads(found[0])  # written at once, but a moment after the file is there
        for _ in range(300):
            try:
                status(told["url"] + "api")
                break
            except OSError:
                time.sleep(0.1)
        yield told
    finally:
        os.killpg(started.pid, signal.SIGTERM)
        started.wait(20)


def listening(process: psutil.Process) -> list:
    """Addresses at which a process listens; none if it has ended meanwhile, as helpers of a server do."""
    try:
        return [one.laddr for one in process.net_connections(kind="inet") if one.status == psutil.CONN_LISTEN]
    except psutil.NoSuchProcess:
        return []


def test_it_listens_on_the_loopback_only(server):
    inside = psutil.Process(server["pid"])
    own = listening(inside)
    assert server["port"] in [address.port for address in own]
    others = [address for process in inside.children(recursive=True) for address in listening(process)]
    assert {address.ip for address in own + others} == {"127.0.0.1"}


@pytest.mark.parametrize("path", ["api/contents", "api/kernels", "api/sessions", "files/trial_data/README.md"])
def test_nobody_is_answered_without_the_token(server, path):
    assert len(server["token"]) >= 48  # 24 random bytes or more, in hexadecimal
    assert server["password"] is False
    assert status(server["url"] + path) in (302, 403)  # to the login page, or refused
    assert status(f"{server['url']}{path}?token={'0' * 48}") in (302, 403)


def test_the_token_opens_it(server):
    assert status(f"{server['url']}api/contents?token={server['token']}") == 200


def test_the_token_is_not_in_the_command_line(server):
    """Where every user of the machine could read it."""
    words = psutil.Process(server["pid"]).cmdline()
    assert not any(server["token"] in word for word in words)
