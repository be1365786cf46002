"""The real site, started by `manage.py start` on an empty folder, and a headless Chromium."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LEFT_OUT = (
    "No Chromium on this machine: the tests that play the main job in a browser were left out."
    " Install Debian's package 'chromium' to run them."
)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        if os.environ.get("JACKET_MUSTER_BROWSER") == "required":
            pytest.fail("JACKET_MUSTER_BROWSER=required, but there is no Chromium.")
        pytest.skip(LEFT_OUT)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        started = player.chromium.launch(executable_path=chromium, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def site(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a freshly started site with the demo in it."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    log = (tmp_path_factory.mktemp("log") / "site.log").open("w+")
    environment = {
        **os.environ,
        "JACKET_MUSTER_DATA": str(tmp_path_factory.mktemp("data")),
        "PYTHONUNBUFFERED": "1",
    }
    for name in ("DATABASE_URL", "JACKET_MUSTER_STATIC", "DJANGO_SETTINGS_MODULE"):
        environment.pop(name, None)
    server = subprocess.Popen(
        [sys.executable, "manage.py", "start", "--port", str(port)],
        cwd=ROOT,
        env=environment,
        stdout=log,
        stderr=subprocess.STDOUT,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(address, server, Path(log.name))
        yield address
    finally:
        server.terminate()
        server.wait(20)
        log.close()


def _wait_for(address: str, server: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(240):
        if server.poll() is not None:
            pytest.fail(f"The site stopped at its start:\n{log.read_text()}")
        try:
            urllib.request.urlopen(f"{address}/log-in/", timeout=2).close()
            return
        except OSError:
            time.sleep(0.5)
    pytest.fail(f"The site did not answer within two minutes:\n{log.read_text()}")
