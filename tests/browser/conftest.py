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
DEMO_PASSWORD = "tern-quay-demo"
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

    # The browser's event loop stays open in this process; the database tests that follow in it
    # are synchronous all the same.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
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


@pytest.fixture
def new_page(browser: Any, site: str) -> Iterator[Any]:
    """new_page(width=…, javascript=…) gives a page of a browser that knows nobody yet; with the
    cookies of an earlier one it is that one's."""
    contexts = []

    def enter(width: int = 1280, *, javascript: bool = True, cookies: Any = None) -> Any:
        context = browser.new_context(
            base_url=site,
            viewport={"width": width, "height": 900},
            java_script_enabled=javascript,
            storage_state=cookies,
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(45_000)  # another worker may keep both cores busy
        return page

    yield enter
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def logged_in(site: str) -> dict[str, Any]:
    """The cookies of whoever has logged in by now; a log-in is slow by design."""
    return {}


@pytest.fixture
def visit(new_page: Any, logged_in: dict[str, Any]) -> Any:
    """visit('maker', width=…, javascript=…) gives a page of a demo person, logged in."""

    def enter(person: str, width: int = 1280, *, javascript: bool = True) -> Any:
        page = new_page(width, javascript=javascript, cookies=logged_in.get(person))
        if person not in logged_in:
            page.goto("/log-in/")
            page.get_by_label("Name").fill(person)
            page.get_by_label("Password").fill(DEMO_PASSWORD)
            page.get_by_role("button", name="Log in").click()
            page.get_by_role("button", name="Log out").wait_for()
            logged_in[person] = page.context.storage_state()
        return page

    return enter
