"""The commands for kept referrals: a journey, what they refuse, and that they cost nobody else anything."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import candidacy
from candidacy.foundation.errors import StoreError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.records.demo import fill
from candidacy.records.store import Store, open_store

ROOT = Path(candidacy.__file__).resolve().parents[1]


class Done:
    def __init__(self, status: int, out: str, err: str) -> None:
        self.status, self.out, self.err = status, out, err


class Line:
    """The command line, in this process, with one store and person."""

    def __init__(
        self, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, place: Path
    ) -> None:
        self._capsys = capsys
        monkeypatch.setenv("CANDIDACY_STORE", str(place))
        monkeypatch.setenv("CANDIDACY_PERSON", "ana-1")

    def __call__(self, *words: object) -> Done:
        from candidacy.cli import main

        status: object = 0
        try:
            main([str(word) for word in words])
        except SystemExit as end:
            status = end.code
        out, err = self._capsys.readouterr()
        return Done(int(str(status or 0)), out, err)

    def records(self, *words: object) -> Done:
        return self("records", *words)


@pytest.fixture
def line(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, folder: Path) -> Line:
    return Line(capsys, monkeypatch, folder / "data" / "records.sqlite")


CASE = demo_cases_folder() / "leaking-disc.yaml"
R = "leaking-disc"


def test_a_referral_from_its_first_letter_to_its_removal(line: Line, folder: Path) -> None:
    assert line.records("list").status == 2
    made = line.records("open", "--role", "physician")
    assert made.out.endswith("You are ana-1 (physician) and may read, enter, decide, administer.\n")
    assert "version 1" in line.records("save", CASE).out
    shown = line.records("assess", R, "--as-of", "2026-11-25")
    assert "BORDERLINE" in shown.out
    assert shown.err == "kept as entry 4\n"
    assert "byte for byte" in line.records("again", 4).out
    printed = line.records("case", R, "--out", folder / "mine.yaml")
    assert printed.status == 0
    text = (folder / "mine.yaml").read_text(encoding="utf-8")
    assert candidacy.load_case(folder / "mine.yaml").digest == candidacy.load_case(CASE).digest
    (folder / "mine.yaml").write_text(text.replace("title: ", "title: Again, ", 1), encoding="utf-8")
    refused = line.records("save", folder / "mine.yaml")
    assert refused.status == 2
    assert "E702" in refused.err
    assert "save again with --version and --reason" in refused.err
    assert line.records("save", folder / "mine.yaml", "--version", 1).status == 2  # without a reason
    assert line.records("save", folder / "mine.yaml", "--version", 1, "--reason", "seen again").status == 0
    act = line.records("act", R, "ask for the films", "--owner", "ana-1", "--due", "2026-12-09").out.split()[
        1
    ]
    line.records(
        "work", R, "--owner", "ana-1", "--waiting-for", "the films", "--why", "asked on the telephone"
    )
    line.records("note", R, "a note \x1b[31m of two\nlines")
    listed = line.records("list", "--waiting", "--due-by", "2026-12-09", "--order", "due")
    for words in (R, "Borderline", "the films", "2026-12-09", "ana-1", "1 referral"):
        assert words in listed.out
    (row,) = json.loads(line.records("list", "--format", "json").out)
    assert (row["reference"], row["out_of_date"], row["next_act"]) == (R, True, "ask for the films")
    assert "of an earlier version" in line.records("show", R).out
    assert "ask for the films: done" in line.records("done", act).out
    history = line.records("history", R).out
    assert "\x1b" not in history
    assert "why: seen again" in history
    head = line.records("head").out.strip()
    verified = line.records("verify", "--head", head)
    assert verified.status == 0
    assert "everything kept is as it was entered" in verified.out
    line.records("export", R, "--out", folder / "export.json", "--why", "for the patient")
    assert "as entered" in line.records("check", folder / "export.json").out
    altered = (folder / "export.json").read_text(encoding="utf-8").replace("of two", "of six")
    (folder / "altered.json").write_text(altered, encoding="utf-8")
    assert line.records("check", folder / "altered.json").status == 1
    assert line.records("check", folder / "export.json", "--head", f"3:{'0' * 64}").status == 1
    assert line.records("people", "--set", "bo-1", "--role", "clerk", "--may", "enter").out.count("\n") == 2
    assert line.records("list", "--person", "bo-1").status == 0
    assert line.records("verify", "--person", "cy-1").status == 2
    assert line.records("backup", folder / "copy.sqlite").status == 0
    again = folder / "again.sqlite"
    assert (
        "as it was entered"
        in line.records("restore", folder / "copy.sqlite", "--store", again, "--head", head).out
    )
    assert line.records("upgrade").out == "it is of the present form, 0003\n"
    assert R in line.records("unchanged", "2199-01-01").out
    early = line.records("remove", R, "--rule", "ten years", "--unchanged-since", "2020-01-01", "--yes")
    assert early.status == 2
    assert "the rule has this referral kept" in early.err
    assert line.records("work", R, "--close").status == 0
    assert "0 referrals" in line.records("list").out
    assert line.records("list", "--state", "all", "--format", "csv", "--out", folder / "list.csv").status == 0


def test_what_was_altered_makes_verify_end_with_1(line: Line, folder: Path) -> None:
    import sqlite3

    line.records("open")
    line.records("save", CASE)
    with sqlite3.connect(folder / "data" / "records.sqlite") as connection:
        connection.execute("UPDATE work SET owner = 'somebody'")
    found = line.records("verify")
    assert found.status == 1
    assert "List work: owner of row leaking-disc was altered." in found.out
    assert line.records("rebuild", "--why", "altered by hand").status == 0
    assert line.records("verify").status == 0


@pytest.mark.parametrize("words", [
    ("list", "--order", "age"), ("list", "--due-by", "soon"), ("save", "none.yaml"), ("show", "a b"), ("again", "7"),
    ("export", R, "--format", "pdf"), ("check", "none.json"), ("verify", "--head", "x"), ("act", R, "x", "--due", "2026-02-30"),
])  # fmt: skip
def test_wrong_usage_ends_with_2_and_says_why(line: Line, words: tuple[str, ...]) -> None:
    line.records("open")
    done = line.records(*words)
    assert done.status == 2
    assert done.err.strip()
    assert "Traceback" not in done.err


def test_a_person_that_the_system_does_not_name_is_asked_for(
    line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CANDIDACY_PERSON", "Ana Lee")
    done = line.records("open")
    assert done.status == 2
    assert "--person ID" in done.err


def python(code: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False,
                          env={**os.environ, **environment})  # fmt: skip


def test_other_commands_load_no_database() -> None:
    code = (
        "import sys, candidacy; from candidacy.cli import group, COMMANDS\n"
        "for name in COMMANDS: group.get_command(None, name)\n"
        "print([m for m in sys.modules if m in ('sqlalchemy', 'alembic', 'psycopg', 'rfc8785')])"
    )
    assert python(code).stdout.strip() == "[]"


def test_without_the_extra_it_says_how_to_get_it() -> None:
    code = (
        "import sys; sys.modules['sqlalchemy'] = None\n"
        "from candidacy.cli import main; main(['records', 'list', '--store', 'x'])"
    )
    done = python(code)
    assert done.returncode == 2
    assert "pip install 'candidacy[records]'" in done.stderr


@pytest.mark.parametrize(
    ("note", "told"),
    [
        ("", "✓ Candidate, no remarks"),
        ("asks about parking", "✓ Candidate, 1 remark not read"),
        ("cannot pass urine since Monday", "≈ Borderline"),
    ],
)
def test_lists_name_the_standing_as_the_answer_does(line: Line, folder: Path, note: str, told: str) -> None:
    """Lists show nothing else of an answer: a candidate with remarks that no rule read may not look like one without."""
    weight = "body_weight: {value: 71, unit: kg, source: clinic"
    text = (demo_cases_folder() / "one-disc-candidate.yaml").read_text(encoding="utf-8")
    (folder / "case.yaml").write_text(
        text.replace(weight, f"{weight}, note: {note}" if note else weight), encoding="utf-8"
    )
    line.records("open")
    line.records("save", folder / "case.yaml")
    line.records("assess", "one-disc-candidate", "--as-of", "2026-11-25")
    shown = line.records("show", "one-disc-candidate").out
    assert f"  {told} under practice_baseline" in shown
    listed = " ".join(line.records("list").out.split())
    assert "one-disc-candidate ✓" in listed or "one-disc-candidate ≈" in listed
    line("conference", "ask", "one-disc-candidate", "Treat?")
    # a sign of danger makes a case borderline where no criterion fails: the queue may not stand there without a reason
    assert ("danger: " in line("conference", "queue").out) == ("urine" in note)
    assert f"one-disc-candidate: {told} as of 2026-11-25" in line("conference", "queue").out
    assert line.records("verify").status == 0


def test_an_invented_clinic_that_was_stopped_leaves_no_half_and_can_be_made_again(folder: Path) -> None:
    place = folder / "clinic.sqlite"
    for stop in (OSError(28, "No space left on device"), KeyboardInterrupt()):

        def tell(what: str, done: int, of: int, stop: BaseException = stop) -> None:
            if done == 3:
                raise stop

        with pytest.raises(type(stop)):
            fill(place, tell)
        assert list(folder.glob("clinic*")) == []
    place.write_bytes(b"mine")
    with pytest.raises(StoreError, match="the file exists"):
        fill(place)
    assert place.read_bytes() == b"mine"
    place.unlink()
    assert fill(place) == 24


def test_the_invented_clinic(line: Line, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """24 referrals at work and one past conference; nothing in it is of a real person."""
    place = folder / "clinic.sqlite"
    made = line("demo", "--store", place)
    assert made.out.startswith("24 invented referrals and one past conference")
    assert line("demo", "--store", place).status == 2
    assert line("demo", "--store", place, "--full").status == 2
    with open_store(place, "physician-1", create=False) as store:
        rows = {row.reference: row for row in store.list_referrals(state=None)}
        assert len(rows) == 24
        assert all(row.invented and row.standing for row in rows.values())
        assert {row.standing for row in rows.values()} == {
            "urgent",
            "not_candidate",
            "incomplete",
            "borderline",
            "candidate",
        }
        (meeting,) = store.meetings()
        assert (meeting.state, len(meeting.members), meeting.quorum) == ("closed", 4, 3)
        items = store.items(meeting=meeting.seq)
        assert [item.state for item in items] == ["decided"] * 3
        assert store.ratings(items[0].seq, 2).complete
        assert [item.reference for item in store.items(meeting=0)] == [
            "no-control-disc",
            "discography-nine-days-ago",
        ]
        decisions = {item.reference: store.decisions(item.reference)[0] for item in items}
        assert {each.said.decision for each in decisions.values()} == {"treat", "not", "more_tests"}
        assert all(each.changed == () for each in decisions.values())
        assert any(each.said.dissent for each in decisions.values())
        assert rows["heavy-patient-for-conference"].version == 2
        answer = store.open_referral("leaking-disc").answer
        assert answer is not None
        assert store.make_again(answer.seq).same
        assert store.verify().sound
    monkeypatch.setenv("CANDIDACY_PERSON", "physician-1")
    shown = line.records("show", "thoughts-of-self-harm", "--store", place).out
    assert "STOP" in shown.splitlines()[1]
    assert rows["thoughts-of-self-harm"].stops
    assert (
        "because Several matters"
        in line.records("show", "older-patient-for-conference", "--store", place).out
    )


def test_a_letter_is_kept_with_the_version_it_was_drafted_from(line: Line, folder: Path) -> None:
    line.records("open")
    line.records("save", CASE)
    drafted = line("letter", "referrer", CASE, "--keep")
    assert drafted.err == f"kept as entry 4 with version 1 of {R}\n"
    assert "  4  referrer, " in line.records("show", R).out
    assert line.records("letter", 4).out == drafted.out
    other = folder / "other.yaml"
    other.write_text(
        CASE.read_text(encoding="utf-8").replace("title: ", "title: Again, ", 1), encoding="utf-8"
    )
    refused = line("letter", "referrer", other, "--keep")
    assert (refused.status, refused.out) == (2, "")
    assert "drafted from another record" in refused.err
    assert (
        "without --keep no letter is put into a store" in line("letter", "referrer", CASE, "--store", "x").err
    )
    assert line.records("letter", 3).status == 2
    assert "kept a letter: referrer, 1" in line.records("history", R).out
    assert line.records("verify").status == 0
    line.records("assess", R, "--as-of", "2026-11-25")
    with open_store(folder / "data" / "records.sqlite", "ana-1") as store:
        store.sign(R, "not", "approval", "x", responsible="ana-1", expected_version=1)
    for command in (
        ("letter", "payer", CASE, "--keep"),
        ("plan", CASE, "--on", "2026-12-14", "--store", folder / "data" / "records.sqlite"),
    ):
        told = line(*command).err
        assert "A signed decision on this referral is kept: do not treat (entry " in told
        assert "differs from version 1" not in told
    told = line("plan", other, "--on", "2026-12-14", "--store", folder / "data" / "records.sqlite").err
    assert "The record used here differs from version 1, on which that decision was made." in told
    line("letter", "referrer", CASE)
    assert line.records("show", R).out.count(", from version 1") == 2


REPORT = (
    "MRI LUMBAR SPINE 14 March 2026\nL4-5: 4 mm central protrusion. Modic type 1.\nL5-S1: \x1b[2Jplums.\n"
)


def test_a_report_is_kept_with_what_was_read_from_it_and_taken_over(line: Line, folder: Path) -> None:
    line.records("open")
    case, report = folder / "case.yaml", folder / "mri.txt"
    case.write_text("schema_version: '1'\nid: arrived-1\n", encoding="utf-8")
    report.write_text(REPORT, encoding="utf-8")
    before = case.read_text(encoding="utf-8")
    refused = line("read", report, "--into", case, "--keep")
    assert (refused.status, refused.out) == (2, "")
    assert "no such referral is kept" in refused.err
    assert case.read_text(encoding="utf-8") == before, "nothing is half done"
    line.records("save", case)
    done = line("read", report, "--into", case, "--keep")
    assert done.err == "the text is kept as entry 4 with arrived-1\n"
    assert "source: mri" in case.read_text(encoding="utf-8")
    assert "  4  imaging report, " in line.records("show", "arrived-1").out
    assert line.records("report", 4).out == REPORT.replace("\x1b", "\ufffd")
    whole = json.loads(line.records("report", 4, "--format", "json").out)
    assert (whole["text"], whole["document"], whole["day"]) == (REPORT, "mri", "2026-03-14")
    assert "displacement size of L4-L5: 4 mm" in whole["accepted"]
    assert whole["reading"]["text"] == REPORT
    again = line("read", report, "--into", case, "--keep")
    assert again.status == 0
    entry = int(again.err.split()[6])
    whole = json.loads(line.records("report", entry, "--format", "json").out)
    assert (whole["accepted"], "displacement size of L4-L5: 4 mm" in whole["refused"]) == ([], True)
    assert "kept a report: imaging_report" in line.records("history", "arrived-1").out
    assert line.records("letter", 4).status == line.records("report", 2).status == 2
    assert line.records("verify").status == 0


def test_a_record_that_changed_while_its_report_was_kept_is_not_overwritten(
    line: Line, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    line.records("open")
    case, report = folder / "case.yaml", folder / "mri.txt"
    case.write_text("schema_version: '1'\nid: arrived-1\n", encoding="utf-8")
    report.write_text(REPORT, encoding="utf-8")
    line.records("save", case)
    other, keep = "schema_version: '1'\nid: arrived-1\ntitle: edited meanwhile\n", Store.keep_reports

    def slow(*given: Any, **named: Any) -> Any:
        case.write_text(other, encoding="utf-8")
        return keep(*given, **named)

    monkeypatch.setattr(Store, "keep_reports", slow)
    done = line("read", report, "--into", case, "--keep")
    assert done.status == 2
    assert "the record was changed while the report was read" in done.err
    assert case.read_text(encoding="utf-8") == other


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (
            "discography_record",
            "DISCOGRAPHY L4-5 and L5-S1\nL4-5: concordant pain 8/10 at 30 psi. L5-S1: no pain.\n",
        ),
        (
            "referral_letter",
            "Dear colleague,\nThank you for seeing this 44 year old woman with low back pain for 3 years. She takes naproxen.\nKind regards\n",
        ),
    ],
)
def test_notes_and_letters_are_kept_as_reports_are(line: Line, folder: Path, kind: str, text: str) -> None:
    line.records("open")
    case, document = folder / "case.yaml", folder / "arrived.txt"
    case.write_text("schema_version: '1'\nid: arrived-1\n", encoding="utf-8")
    document.write_text(text, encoding="utf-8")
    line.records("save", case)
    assert line("read", document, "--into", case, "--keep").status == 0
    kept = json.loads(line.records("report", 4, "--format", "json").out)
    assert (kept["kind"], kept["text"]) == (kind, text)
    assert kept["accepted"]


def test_a_report_is_kept_only_where_its_facts_go(line: Line, folder: Path) -> None:
    report = folder / "mri.txt"
    report.write_text(REPORT, encoding="utf-8")
    assert "--keep goes with --into" in line("read", report, "--keep").err
    assert "without --keep no report is put into a store" in line("read", report, "--person", "ana-1").err
