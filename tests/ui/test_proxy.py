"""Behind a reverse proxy the person is who its header names, only when the server was told to believe that header."""

import pytest

from candidacy.cli import main
from candidacy.foundation.errors import StoreError
from candidacy.ui.guards import hosts

pytest.importorskip("sqlalchemy", reason="kept referrals are an optional part")
from candidacy.ui.proxy import person_in


@pytest.mark.parametrize("name", ["X-Remote-User", "x-remote-user"])
def test_the_header_names_the_person(name: str) -> None:
    assert person_in({"Host": "h", "X-Remote-User": " physician-1 "}, name) == "physician-1"


@pytest.mark.parametrize("headers", [
    {}, {"X-Remote-User": ""}, {"X-Remote-User": "  "}, {"X-Other": "physician-1"},
    {"X-Remote-User": "physician-1", "x-remote-user": "surgeon-1"}, {"X-Remote-User": "a, b"}, {"X-Remote-User": "Jane Doe"},
])  # fmt: skip
def test_a_request_that_names_nobody_or_more_than_one_is_refused(headers: dict[str, str]) -> None:
    with pytest.raises(StoreError):
        person_in(headers, "X-Remote-User")


def test_no_page_is_shown_where_the_proxy_names_nobody(monkeypatch, screen) -> None:
    monkeypatch.setenv("CANDIDACY_PERSON_HEADER", "X-Remote-User")
    page = screen()
    assert "the request does not say who asks" in page.text
    assert not page.at.button
    monkeypatch.delenv("CANDIDACY_PERSON_HEADER")
    assert page.run().at.button


def test_only_named_hosts_are_answered(monkeypatch) -> None:
    assert hosts() == ["127.0.0.1", "localhost"]
    monkeypatch.setenv("CANDIDACY_HOSTS", "spine.example, other.example")
    assert hosts() == ["127.0.0.1", "localhost", "spine.example", "other.example"]


@pytest.mark.parametrize(("options", "words"), [
    (["--host-name", "spine.example"], "needs --person-header"),
    (["--person", "a-1", "--person-header", "X-User"], "exclude each other"),
    (["--person-header", "X User"], "letters, digits and hyphens"),
])  # fmt: skip
def test_options_that_do_not_fit_are_refused_before_anything_starts(
    options: list[str], words: str, capsys
) -> None:
    with pytest.raises(SystemExit) as end:
        main(["ui", "--no-browser", *options])
    assert end.value.code == 2
    assert words in " ".join(capsys.readouterr().err.split())


def test_behind_a_proxy_no_page_changes_the_rules_of_all(monkeypatch, screen) -> None:
    monkeypatch.setenv("CANDIDACY_PERSON_HEADER", "X-Remote-User")
    page = screen("rule_sets.rule_sets")
    assert "chosen where the screens are started" in page.text
    assert not page.has("text_input", "library-folder")
    assert not [b.key for b in page.at.button if str(b.key).startswith("library-")]
