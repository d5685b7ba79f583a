"""A page of the screens run without a browser, and the settings it insists on."""

import html
import re
from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
from streamlit import config
from streamlit.components.v2 import manifest_scanner
from streamlit.testing.v1 import AppTest, local_script_runner

from candidacy.case.load import load_case
from candidacy.case.record import CaseRecord
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.ui.desk import Desk
from tests.browsers import STARTED

ROOT = Path(__file__).resolve().parents[2]
TODAY = date(2026, 11, 25)

# The toolkit looks through every installed package for components, for each page anew; once is enough.
manifest_scanner.scan_component_manifests = cache(manifest_scanner.scan_component_manifests)

_look = local_script_runner.require_widgets_deltas


def _wait(runner: Any, timeout: float) -> None:
    """The toolkit looks each millisecond, through all that was sent, whether a page is drawn; its thread ends with it."""
    runner._script_thread.join(timeout)
    _look(runner, 0 if runner._script_thread.is_alive() else timeout)


local_script_runner.require_widgets_deltas = _wait


@pytest.fixture(autouse=True)
def safe_settings() -> Iterator[None]:
    """The settings with which `candidacy ui` starts the server, and under which it runs: no sweep after each drawing."""
    wanted = {"server.address": "127.0.0.1", "browser.gatherUsageStats": False, "runner.postScriptGC": False}
    before = {name: config.get_option(name) for name in wanted}
    for name, value in wanted.items():
        config.set_option(name, value)
    yield
    for name, value in before.items():
        config.set_option(name, value)


def demo(name: str) -> CaseRecord:
    """A shipped demonstration case."""
    return load_case(demo_cases_folder() / f"{name}.yaml").record


class Screen:
    """One page with its desk; widgets are found by key."""

    def __init__(self, at: AppTest, desk: Desk) -> None:
        self.at, self.desk = at, desk
        self.at.session_state["desk"] = desk
        self.at.session_state["token"] = "test"
        self.run()

    def run(self) -> "Screen":
        self.at.run()
        assert not self.at.exception, self.at.exception
        assert "E901" not in self.text
        return self

    @property
    def text(self) -> str:
        """All words on the page, without markup."""
        parts = [re.sub(r"<[^>]+>", " ", body) for body in self.bodies]
        parts += [m.value for m in self.at.markdown]
        return html.unescape(re.sub(r"\s+", " ", " ".join(parts)))

    @property
    def bodies(self) -> list[str]:
        """The markup of every filled template."""
        return [item.proto.body for item in self.at.get("html")]

    def _find(self, kind: str, key: str) -> Any:
        found = [w for w in self.at.get(kind) if w.key == key]
        assert found, f"no {kind} {key} among {[w.key for w in self.at.get(kind)]}"
        return found[0]

    def has(self, kind: str, key: str) -> bool:
        return any(w.key == key for w in self.at.get(kind))

    def type(self, key: str, text: str) -> "Screen":
        self._find("text_input", key).set_value(text)
        return self.run()

    def pick(self, key: str, value: Any) -> "Screen":
        self._find("selectbox", key).set_value(value)
        return self.run()

    def tap(self, key: str, value: Any) -> "Screen":
        self._find("button_group", key).set_value(value)
        return self.run()

    def press(self, key: str) -> "Screen":
        self._find("button", key).click()
        return self.run()

    def value(self, kind: str, key: str) -> Any:
        return self._find(kind, key).value

    def open(self, *sections: str) -> "Screen":
        for section in sections:
            self.desk.kept[f"open-{section}"] = True
        return self.run()


@pytest.fixture
def screen() -> Callable[..., Screen]:
    """Makes a page: ``screen()`` is the Referral; ``screen("report.page.report_check")`` another page."""

    def make(view: str = "", record: CaseRecord | None = None, **kept: Any) -> Screen:
        desk = Desk(today=lambda: TODAY)
        if record is not None:
            desk.open(record, "opened for a test")
        desk.kept.update(kept)
        if not view:
            return Screen(
                AppTest.from_file(str(ROOT / "candidacy" / "ui" / "app.py"), default_timeout=60), desk
            )
        module, function = view.rsplit(".", 1)
        script = f"from candidacy.ui.session import drawn\nfrom candidacy.ui.{module} import {function}\n{function}()\ndrawn()\n"
        return Screen(AppTest.from_string(script, default_timeout=60), desk)

    return make


# --- real browsers


@pytest.fixture
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the served program writes."""
    return STARTED.get("log", lambda _: tmp_path_factory.mktemp("server") / "log.txt")


@pytest.fixture
def address(log: Path) -> str:
    """Where the program is served."""
    browsing = pytest.importorskip(
        "tests.ui.browsing", exc_type=ImportError, reason="the journeys need playwright"
    )
    return STARTED.get("address", lambda stack: stack.enter_context(browsing.server(log)))


@pytest.fixture
def visitor(browser, address: str, log: Path) -> Iterator[Callable[..., Any]]:
    """Makes a person with a browser of their own, cookies and all.

    ``visitor()`` meets an empty referral; ``visitor(case="stale-mri", view="Missing")`` left that demonstration case
    on the desk, on that view, and comes back to it.
    """
    from tests.ui.browsing import Tabs, Visitor, desks

    tabs = STARTED.get("tabs", lambda _: Tabs(browser))
    taken: list[Any] = []
    foreign: list[str] = []

    def note(request) -> None:
        if not request.url.startswith((address, "data:", "blob:", f"ws{address[4:]}")):
            foreign.append(request.url)

    def listen(message) -> None:
        if "Content Security Policy" in message.text:
            foreign.append(message.text)

    def make(*, width: int = 1280, dark: bool = False, path: str = "", case: str = "", view: str = "") -> Any:
        page = tabs.take(width, dark)
        taken.append(page)
        page.context.on("request", note)
        page.context.on("console", listen)
        person = Visitor(page, address)
        if not case:
            return person.visit(path)
        desk = Desk()
        desk.open(demo(case), f"opened demonstration case {case}")
        desk.kept.update({"view": view} if view else {})
        return person.find(desk, desks(log), path)

    yield make
    for page in taken:
        page.context.remove_listener("request", note)
        page.context.remove_listener("console", listen)
        tabs.leave(page, address)
    assert foreign == [], "the pages asked another host for something, or for what the guards refuse"
