"""The seat from the command line."""

import json

import pytest

from tests.conference.conftest import HEAVY, MEMBERS, OLDER


@pytest.fixture
def run(capsys, monkeypatch, seat_file):
    monkeypatch.setenv("CANDIDACY_STORE", str(seat_file))
    monkeypatch.setenv("CANDIDACY_PERSON", "physician-1")

    def command(*words, of="conference"):
        from candidacy.cli import main

        status = 0
        try:
            main([of, *map(str, words)])
        except SystemExit as end:
            status = int(end.code or 0)
        out, err = capsys.readouterr()
        return status, out, err

    return command


def test_a_meeting_from_the_queue_to_the_minutes(run, tmp_path):
    assert json.loads(run("queue", "--format", "json")[1])["waiting"][0]["reference"] == OLDER
    item = run("ask", OLDER, "At this age?")[1].split()[1]
    meeting = run("meeting", "--on", "2026-12-08", "--title", "Disc conference", "--quorum", 2)[1].split()[1]
    for who, role in MEMBERS.items():
        run("member", meeting, who, role, "--interest", "none to tell")
    assert run("take", item, meeting)[0] == 0
    assert "hidden until all have rated" in run("rate", item, 3)[1]
    for who in list(MEMBERS)[1:]:
        out = run("rate", item, 2, "--person", who)[1]
    assert "median 2 of 3 ratings (2, 2, 3)" in out
    assert "round 2" in run("second-round", item)[1]
    for who in MEMBERS:
        run("rate", item, 2, "--person", who)
    shown = run("show", item, "--no-others")[1]
    assert "74, limit 70 years: +4" in shown
    status, out, err = run("decide", item, "not", "--reason", "Age and hip.", "--responsible", "physician-1", "--version", 1,
                           "--dissent", "surgeon-1: the disc is the source")  # fmt: skip
    assert (status, err) == (0, "")
    assert "Decision: do not treat" in out
    minutes = run("minutes", meeting)[1]
    assert "Dissent: surgeon-1: the disc is the source" in minutes
    file = tmp_path / "minutes.pdf"
    assert run("minutes", meeting, "--format", "pdf", "--out", file)[0] == 0
    assert file.read_bytes().startswith(b"%PDF")
    status, drafted, told = run("reply", item, "--keep")
    assert (status, drafted[:5]) == (0, "DRAFT")
    entry = told.split()[3]
    assert run("letter", entry, of="records")[1] == drafted


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("rate", "{item}", "10"), "E208"),
        (("rate", "{item}", "for"), "E208"),
        (("rate", "{item}", "²"), "E208"),
        (("show", "999"), "E704"),
        (("minutes", "999"), "E704"),
        (("reply", "{item}"), "E202"),
        (("ask", "nobody", "What?"), "E704"),
        (("order", "{item}", "2"), "E205"),
        (("minutes", "{meeting}", "--format", "pdf"), "--out FILE.pdf"),
        (("decide", "{item}", "treat", "--responsible", "physician-1", "--version", "1"), "--reason"),
        (
            (
                "decide",
                "{item}",
                "treat",
                "--reason",
                "x",
                "--responsible",
                "physician-1",
                "--version",
                "1",
                "--dissent",
                "x",
            ),
            "E203",
        ),
        (("rate", "{item}", "5", "--person", "nobody-1"), "E703"),
    ],
)
def test_what_is_wrong_is_told_with_status_two_and_nothing_is_entered(run, seat, words, told):
    before = seat.store.decisions(HEAVY), seat.store.items()
    status, _, err = run(*(word.format(item=seat.item, meeting=seat.meeting) for word in words))
    assert status == 2
    assert told in err
    assert (seat.store.decisions(HEAVY), seat.store.items()) == before
