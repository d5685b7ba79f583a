"""A real browser on a real server: started once, used by the journeys and the accessibility check."""

import os
import re
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Error, expect

from candidacy.ui.desk import Desk
from candidacy.ui.kept.desk_files import DeskFile

ROOT = Path(__file__).resolve().parents[2]
# Placed here by: npm install --prefix tests/ui/.axe axe-core@4.14.1   (MPL-2.0, used by the tests only)
AXE = Path(__file__).parent / ".axe" / "node_modules" / "axe-core" / "axe.min.js"
# Runs before the page: notes what is asked of the server, what it answers, when the page last changed, and what it has put off.
_LISTEN = """
(() => {
  if (window.heard) return;
  const heard = window.heard = {open: false, waiting: true, moved: performance.now(), later: new Set()};
  // Top-level fields of a message (protobuf): number -> value of a varint, true for anything else.
  const fields = (buffer) => {
    const bytes = new Uint8Array(buffer), found = new Map();
    let at = 0;
    const varint = () => {
      for (let value = 0, place = 1; ; place *= 128) {
        const byte = bytes[at++];
        value += (byte & 127) * place;
        if (byte < 128) return value;
      }
    };
    while (at < bytes.length) {
      const tag = varint(), number = Math.floor(tag / 8), kind = tag % 8;
      if (kind === 0) found.set(number, varint());
      else {
        const length = kind === 2 ? varint() : kind === 1 ? 8 : 4;
        found.set(number, true);
        at += length;
      }
    }
    return found;
  };
  const RERUN = 11, FINISHED = 6, AND_RUNS_AGAIN = 2;  // BackMsg.rerun_script, ForwardMsg.script_finished
  const send = WebSocket.prototype.send;
  WebSocket.prototype.send = function (data) {
    if (!this.heard) {
      this.heard = heard.open = true;
      this.addEventListener("message", (event) => {
        const how = fields(event.data).get(FINISHED);
        if (how !== undefined && how !== AND_RUNS_AGAIN) heard.waiting = false;
      });
    }
    if (data.byteLength !== undefined && fields(data).has(RERUN)) heard.waiting = true;
    return send.call(this, data);
  };
  const SOON = 400;  // milliseconds: widgets of the toolkit hold an act back for 150
  const put = window.setTimeout, drop = window.clearTimeout;
  window.setTimeout = function (act, wait, ...more) {
    if (typeof act !== "function" || !(wait > 0 && wait <= SOON)) return put.call(window, act, wait, ...more);
    const id = put.call(window, () => { heard.later.delete(id); act(...more); }, wait);
    heard.later.add(id);
    return id;
  };
  window.clearTimeout = function (id) { heard.later.delete(id); return drop.call(window, id); };
  new MutationObserver(() => { heard.moved = performance.now(); }).observe(
    document, {subtree: true, childList: true, attributes: true, characterData: true});
})();
"""
# The last act is answered, the script rests, nothing on the page is of an earlier run or yet to load, nothing that
# the page put off for a moment is still to come, and it stood still for some frames.
_SETTLED = """
() => {
  const app = document.querySelector("[data-testid=stApp]");
  return app !== null && window.heard.open && !window.heard.waiting
    && app.dataset.testConnectionState === "CONNECTED" && app.dataset.testScriptState === "notRunning"
    && document.querySelector(".c-case") !== null
    && document.querySelector("[data-stale=true], [data-testid=stSkeleton], [data-testid=stStatusWidget]") === null
    && window.heard.later.size === 0 && performance.now() - window.heard.moved > 60;
}
"""
# Milliseconds between two looks; a look at each frame would have the browser draw frames for nothing else.
_LOOK_EVERY = 25
# Milliseconds to wait for a screening: it prepares every relation in columns, however few the cases.
SCREENING = 120_000
# Milliseconds to wait for words or values that the page comes to show.
expect.set_options(timeout=20_000)
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
    """The browser of this machine, first the one without windows: it takes a fifth less. None is ever fetched."""
    names = (
        os.environ.get("CHROMIUM", ""),
        "chromium-headless-shell",
        "chromium",
        "chromium-browser",
        "google-chrome",
    )
    return next((found for name in names if name and (found := shutil.which(name))), "")


def desks(log: Path) -> Path:
    """Where a server that writes this log keeps the work of its people."""
    return log.parent / "desks"


@contextmanager
def server(log: Path, port: int = 0, *options: str) -> Iterator[str]:
    """`candidacy ui` on a free port; its output goes to a file that a test reads."""
    if not port:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "HOME": str(log.parent), "BROWSER": "true"}
    command = [sys.executable, "-m", "candidacy", "ui", *(options or ["--no-browser"]), "--port", str(port)]
    command += ["--keep-in", str(desks(log))]
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
        process.wait(60)


def stranger(browser: Any) -> Any:
    """A page of somebody whom no server knows yet, who asks that nothing moves: each moving frame costs processor time."""
    context = browser.new_context(reduced_motion="reduce", viewport={"width": 1280, "height": 900})
    context.set_default_timeout(20_000)
    return context.new_page()


class Tabs:
    """Tabs of which a test takes as many as it has people, each in a browser context of its own, and leaves them to the next test.

    A tab that stays with the server keeps the scripts of its pages compiled. What its last person had goes with them:
    cookies, storage, further tabs and the page itself.
    """

    def __init__(self, browser: Any) -> None:
        self._browser = browser
        self._free: list[Any] = []

    def take(self, width: int, dark: bool) -> Any:
        """A tab in which nobody was, or of which nothing is left."""
        page = self._free.pop() if self._free else self._new()
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme="dark" if dark else "light")
        return page

    def _new(self) -> Any:
        return stranger(self._browser)

    def leave(self, page: Any, address: str) -> None:
        """Forget the person of a tab; one that cannot be emptied is closed."""
        try:
            for other in page.context.pages:
                if other is not page:
                    other.close()
            page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
            page.goto(f"{address}/_stcore/health")  # a blank page would begin a new process
            page.context.clear_cookies()
            page.mouse.move(0, 0)
        except Error:
            page.context.close()
        else:
            self._free.append(page)


class Visitor:
    """One person at one browser: opens pages, finds fields by their words.

    A name is the whole name and a key that of one widget, so that every locator fits exactly one element;
    Playwright refuses to act where two fit. Words are waited for, never read at a moment.
    """

    def __init__(self, page: Any, address: str) -> None:
        self.page, self.address = page, address
        page.add_init_script(_LISTEN)

    def visit(self, path: str = "") -> "Visitor":
        self.page.goto(f"{self.address}/{path}")
        return self.settle()

    def find(self, desk: Desk, kept_in: Path, path: str = "") -> "Visitor":
        """Come back to work that this person left: the server finds it in its folder by address and browser."""
        token, browser = secrets.token_urlsafe(24), secrets.token_urlsafe(24)
        DeskFile(kept_in, token, browser, desk.work).save(desk.to_keep())
        mark = {"name": "candidacy_browser", "value": browser, "url": self.address}
        self.page.context.add_cookies([mark])
        return self.visit(f"{path}?s={token}").lacks("no longer kept here")

    def reload(self) -> "Visitor":
        self.page.reload()
        return self.settle()

    def sized(self, width: int) -> "Visitor":
        """Make the window so wide, or enlarge what stands in it."""
        self.page.set_viewport_size({"width": width, "height": 900})
        return self.settle()

    def settle(self, patience: int = 30_000) -> "Visitor":
        """Wait, at most ``patience`` milliseconds, until the last act is answered and the page stands still."""
        self.page.evaluate("() => { window.heard.moved = performance.now(); }")
        self.page.wait_for_function(_SETTLED, timeout=patience, polling=_LOOK_EVERY)
        return self

    def tab(self, name: str) -> "Visitor":
        """Open a page by its link, or by the menu that holds what the width leaves no room for."""
        link = self.page.get_by_role("link", name=name, exact=True)
        more = self.page.get_by_role("button", name=re.compile(r"^\d+ more$"))
        link.or_(more).first.wait_for()
        if not link.is_visible():
            more.click()
            link = self.page.get_by_role("menuitem", name=name, exact=True)
        link.click()
        return self.settle()

    def button(self, name: str) -> Any:
        return self.page.get_by_role("button", name=name, exact=True)

    def keyed(self, key: str) -> Any:
        """The widget of a key."""
        return self.page.locator(f".st-key-{key}")

    def press(self, name: str, *, patience: int = 30_000) -> "Visitor":
        self.button(name).click()
        return self.settle(patience)

    def undo(self) -> "Visitor":
        self.keyed("undo").get_by_role("button").click()
        return self.settle()

    def choose(self, name: str) -> "Visitor":
        """A view by its name, without the count that may follow it."""
        named = re.compile(rf"^{re.escape(name)}( \(\d+\))?$")
        self.page.get_by_role("radio", name=named).click()
        return self.settle()

    def field(self, name: str) -> Any:
        return self.page.get_by_label(name, exact=True)

    def write(self, name: str, text: str) -> "Visitor":
        field = self.field(name)
        field.fill(text)
        field.press("Tab")
        return self.settle()

    def pick(self, name: str, option: str) -> "Visitor":
        self.page.get_by_role("combobox", name=name, exact=True).click()
        self.page.get_by_role("option", name=option, exact=True).click()
        return self.settle()

    def demo(self, name: str) -> "Visitor":
        return self.press("Referral").pick("Demonstration case (all invented)", name).leave()

    def leave(self) -> "Visitor":
        """Close the menu that is open."""
        self.page.keyboard.press("Escape")
        return self.settle()

    def stands(self, words: str | re.Pattern[str]) -> "Visitor":
        """The standing of the referral is this one."""
        expect(self.page.locator(".c-standing h2")).to_have_text(words)
        return self

    def reads(self, words: str | re.Pattern[str], where: str = "body") -> "Visitor":
        """A place of the page comes to say these words."""
        expect(self.page.locator(where)).to_contain_text(words, use_inner_text=True)
        return self

    def lacks(self, words: str, where: str = "body") -> "Visitor":
        """A place of the page, settled, does not say these words."""
        expect(self.page.locator(where)).not_to_contain_text(words, use_inner_text=True)
        return self

    def until(self, holds: Callable[[], bool], what: str, patience: float = 20.0) -> "Visitor":
        """Wait, at most ``patience`` seconds, until something holds that the page alone cannot tell."""
        end = time.monotonic() + patience
        while not holds():
            assert time.monotonic() < end, f"not within {patience} s: {what}"
            self.page.wait_for_timeout(50)
        return self

    def standing(self) -> str:
        return str(self.page.locator(".c-standing h2").inner_text())

    def overflow(self) -> int:
        """Pixels by which the page is wider than its window."""
        return int(
            self.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        )


# Everything is checked; only what is wrong is described and handed over, not the thousands of elements that are right.
# Style sheets are not fetched again: no rule of these standards reads their text.
_AXE = """
async () => (await axe.run(document, {
  runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'], resultTypes: ['violations'],
  preload: false, selectors: false,
})).violations
"""


def violations(person: Visitor) -> list[str]:
    """Serious and critical findings of axe-core on the page as it is, by the rules of WCAG 2.2 A and AA."""
    if not person.page.evaluate("() => !!window.axe"):
        person.page.add_script_tag(content=AXE.read_text("utf-8"))
    found = person.page.evaluate(_AXE)
    return [
        f"{item['id']} ({item['impact']}): {node['html'][:160]} {node['failureSummary'][:240]}"
        for item in found
        if item["impact"] in ("serious", "critical")
        for node in item["nodes"][:4]
    ]
