"""One browser for all tests that need one, and one served program: they run one after another, in one process.

The driver keeps an event loop running, which other tests must not meet, so it ends with the last test in a row that
asks for a browser.
"""

from collections.abc import Callable
from contextlib import ExitStack
from typing import Any

import pytest

# Fixtures whose tests belong together.
_SHARED = frozenset({"browser", "address"})


class Shared:
    """What is started for the first test that asks for it, and ended behind the last one."""

    def __init__(self) -> None:
        self._stack = ExitStack()
        self._started: dict[str, Any] = {}

    def get(self, name: str, start: Callable[[ExitStack], Any]) -> Any:
        if name not in self._started:
            self._started[name] = start(self._stack)
        return self._started[name]

    def end(self) -> None:
        self._started.clear()
        self._stack.close()


STARTED = Shared()


def belongs(item: pytest.Item | None) -> bool:
    return item is not None and not _SHARED.isdisjoint(getattr(item, "fixturenames", ()))


def start_browser(stack: ExitStack) -> Any:
    """The browser of this machine."""
    driver = pytest.importorskip("playwright.sync_api", reason="the browser needs playwright")
    from tests.ui.browsing import FLAGS, absent, chromium

    if not chromium():
        absent("a Chromium browser")
    play = stack.enter_context(driver.sync_playwright())
    found = play.chromium.launch(executable_path=chromium(), args=FLAGS)
    stack.callback(found.close)
    return found


def group(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Put the tests in a browser first, for one process; one that failed by an error of the browser runs once more."""
    theirs = [item for item in items if belongs(item)]
    # behind them those of Spark: apart from each other they would be met by several processes, and each start Java
    items.sort(
        key=lambda item: 0 if belongs(item) else 1 if "spark" in getattr(item, "fixturenames", ()) else 2
    )
    plugins = config.pluginmanager
    for item in theirs:
        if plugins.hasplugin("xdist"):
            item.add_marker(pytest.mark.xdist_group("browser"))
        if plugins.hasplugin("rerunfailures") and "browser" in item.fixturenames:  # type: ignore[attr-defined]
            from playwright.sync_api import Error

            item.add_marker(pytest.mark.flaky(reruns=1, only_rerun=[Error]))
