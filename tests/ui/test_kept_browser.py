"""A server that is stopped and started again costs nobody their work."""

import re
from pathlib import Path

import pytest

browsing = pytest.importorskip(
    "tests.ui.browsing", exc_type=ImportError, reason="the journeys need playwright"
)


def test_work_is_there_after_the_server_was_started_again(browser, tmp_path: Path) -> None:
    page = browsing.stranger(browser)
    with browsing.server(tmp_path / "log.txt") as address:
        visitor = browsing.Visitor(page, address).visit()
        browsing.expect(page.locator(".c-kept")).to_have_count(0)  # nothing was entered, so nothing is saved
        visitor.write("Body weight (kg)", "82").reads(re.compile(r"^saved "), ".c-kept")
        port = int(address.rsplit(":", 1)[1])
    page.goto("about:blank")
    with browsing.server(tmp_path / "log.txt", port) as address:
        page.go_back()
        visitor.settle().reads("your work is as it was")
        browsing.expect(visitor.field("Body weight (kg)")).to_have_value("82")
        visitor.undo()
        browsing.expect(visitor.field("Body weight (kg)")).to_have_value("")
        other = browsing.stranger(browser)  # the address alone opens nothing
        other.goto(page.url)
        browsing.expect(other.locator("body")).to_contain_text("no longer kept here")
    for each in (page, other):
        each.context.close()
