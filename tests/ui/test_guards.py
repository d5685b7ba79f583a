"""The server answers to this machine's own names only, and tells browsers what to refuse.

Sources: Content Security Policy Level 3 (W3C), RFC 7034 (X-Frame-Options), Fetch standard (nosniff), Referrer Policy (W3C).
"""

import urllib.error
import urllib.request

import pytest
from click.testing import CliRunner

from candidacy.commands.ui import ui
from candidacy.foundation.errors import InputError
from candidacy.ui.guards import HEADERS
from tests.ui.browsing import desks, server


def asked(address: str, path: str, **headers: str):
    request = urllib.request.Request(f"{address}/{path}", headers=headers)
    return urllib.request.urlopen(request, timeout=20)


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "evil.example:80", "192.168.1.5", ""]
)
@pytest.mark.parametrize("path", ["", "_stcore/health", "_stcore/host-config"])
def test_a_page_of_another_name_that_points_here_is_refused(address: str, host: str, path: str) -> None:
    with pytest.raises(urllib.error.HTTPError) as refused:
        asked(address, path, Host=host)
    assert refused.value.code == 400


@pytest.mark.parametrize("path", ["", "_stcore/health"])
def test_every_answer_carries_the_guards(address: str, path: str) -> None:
    answer = asked(address, path)
    assert {name: answer.headers[name] for name in HEADERS} == HEADERS


def test_no_other_page_may_frame_the_screens(address: str, browser, tmp_path) -> None:
    page = browser.new_page()
    frame = tmp_path / "frame.html"
    frame.write_text(f'<iframe src="{address}/" width=900 height=600></iframe>', "utf-8")
    with page.expect_console_message(lambda message: "frame-ancestors" in message.text):
        page.goto(frame.as_uri())
    page.close()


def test_the_first_start_of_all_asks_for_nothing_and_its_end_is_silent(tmp_path) -> None:
    log = tmp_path / "log.txt"
    with server(log, 0, "--browser") as address:
        urllib.request.urlopen(address, timeout=20)
        taken = CliRunner().invoke(ui, ["--port", address.rpartition(":")[2]])
    assert isinstance(taken.exception, InputError)
    assert "Address already in use" in str(taken.exception)
    assert log.read_text("utf-8").rstrip("\n").split("\n") == [
        f"Screens: {address}   (stop with Ctrl+C)",
        f"Work is saved in: {desks(log)}",
    ]
