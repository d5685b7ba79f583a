"""A real browser on a real server: started once, used by the journeys and the accessibility check."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import TimeoutError

ROOT = Path(__file__).resolve().parents[2]
# Placed here by: npm install --prefix tests/ui/.axe axe-core@4.14.1   (MPL-2.0, used by the tests only)
AXE = Path(__file__).parent / ".axe" / "node_modules" / "axe-core" / "axe.min.js"
_STATE = "document.querySelector('[data-test-script-state]')?.dataset.testScriptState"
# Milliseconds to wait for a screening: it prepares every relation in columns, however few the cases.
SCREENING = 120_000
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


def absent(what: str) -> None:
    """Skip where something is missing; on the build server that is a failure."""
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(f"{what} is missing on the build server")
    pytest.skip(f"{what} is not installed here")


def chromium() -> str:
    """The browser of this machine; none is ever fetched."""
    names = (os.environ.get("CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome")
    return next((found for name in names if name and (found := shutil.which(name))), "")


@contextmanager
def server(log: Path, port: int = 0) -> Iterator[str]:
    """`candidacy ui` on a free port; its output goes to a file that a test reads."""
    if not port:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "HOME": str(log.parent)}
    command = [sys.executable, "-m", "candidacy", "ui", "--no-browser", "--port", str(port)]
    with log.open("wb") as out:
        process = subprocess.Popen(command, cwd=log.parent, env=environment, stdout=out, stderr=out)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(150):
            try:
                urllib.request.urlopen(f"{address}/_stcore/health", timeout=1)
                break
            except OSError:
                if process.poll() is not None:
                    raise RuntimeError(log.read_text("utf-8")) from None
                time.sleep(0.2)
        yield address
    finally:
        process.terminate()
        process.wait(20)


class Visitor:
    """One person at one browser: opens pages, finds fields by their words."""

    def __init__(self, page: Any, address: str) -> None:
        self.page, self.address = page, address

    def visit(self, path: str = "") -> "Visitor":
        self.page.goto(f"{self.address}/{path}")
        return self.settle()

    def settle(self, patience: int = 30_000) -> "Visitor":
        """Wait, at most ``patience`` milliseconds, until the last act is taken and the page drawn anew."""
        self.page.wait_for_selector(".c-case", timeout=30_000)
        with suppress(TimeoutError):  # an act that needs no answer, or one already answered
            self.page.wait_for_function(f"() => {_STATE} === 'running'", timeout=500)
        self.page.wait_for_function(f"() => {_STATE} !== 'running'", timeout=patience)
        self.page.wait_for_timeout(150)
        return self

    def tab(self, name: str) -> "Visitor":
        self.page.get_by_role("link", name=name, exact=True).click()
        return self.settle()

    def press(self, name: str, *, exact: bool = False, patience: int = 30_000) -> "Visitor":
        self.page.get_by_role("button", name=name, exact=exact).first.click()
        return self.settle(patience)

    def choose(self, name: str) -> "Visitor":
        self.page.get_by_role("radio", name=name).first.click()
        return self.settle()

    def write(self, name: str, text: str) -> "Visitor":
        field = self.page.get_by_label(name, exact=True).first
        field.fill(text)
        field.press("Tab")
        return self.settle()

    def pick(self, name: str, option: str) -> "Visitor":
        self.page.get_by_label(name).first.click()
        self.page.get_by_role("option", name=option).first.click()
        return self.settle()

    def demo(self, name: str) -> "Visitor":
        self.press("Referral", exact=True)
        self.pick("Demonstration case", name)
        self.page.keyboard.press("Escape")
        return self.settle()

    @property
    def standing(self) -> str:
        return str(self.page.locator(".c-standing h2").first.inner_text())

    @property
    def words(self) -> str:
        return str(self.page.inner_text("body"))


def violations(person: Visitor) -> list[str]:
    """Serious and critical findings of axe-core on the page as it is, by the rules of WCAG 2.2 A and AA."""
    if not person.page.evaluate("() => !!window.axe"):
        person.page.add_script_tag(content=AXE.read_text("utf-8"))
    result = person.page.evaluate(
        "() => axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})"
    )
    return [
        f"{item['id']} ({item['impact']}): {node['html'][:160]} {node['failureSummary'][:240]}"
        for item in result["violations"]
        if item["impact"] in ("serious", "critical")
        for node in item["nodes"][:4]
    ]
