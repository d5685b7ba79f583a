"""What leaves a store: exports with their proofs, removal under a retention rule, copies and what is made of them."""

import copy
import json
import threading
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from candidacy.foundation.errors import Code, StoreError
from candidacy.records.backup import back_up, restore
from candidacy.records.export import check_export, events_of, export_text
from candidacy.records.export_pdf import export_pdf
from candidacy.records.store import Store, open_store
from tests.records.kept import DAY, Minutes, record

R, MARK = "ref-1", "unmistakable words of a patient"


def codes(caught: pytest.ExceptionInfo[StoreError]) -> list[Code]:
    return [problem.code for problem in caught.value.problems]


@pytest.fixture
def filled(store: Store) -> Store:
    for reference in (R, "ref-2"):
        store.save_case(reference, record(reference), expected_version=0)
        store.add_note(reference, f"{MARK} {reference}")
    store.keep_draft(R, MARK, R)
    store.sign(R, "not", "approval", "x", responsible="ana-1", expected_version=1)
    return store


# --- exports


def test_an_export_is_whole_and_can_be_checked_without_the_store(filled: Store) -> None:
    exported = json.loads(export_text(filled.export(R, why="for the patient")))
    assert check_export(exported) == ()
    head = filled.head()
    assert (exported["head"]["size"], exported["head"]["root"]) == (head.size, head.root)
    told = json.dumps(exported)
    assert f"{MARK} {R}" in told
    assert "ref-2" not in told
    assert [part["entry"]["what"] for part in exported["entries"]] == [
        "case_saved", "note_added", "decision_signed", "exported"]  # fmt: skip


@pytest.mark.parametrize(("change", "finding"), [
    (lambda e: e["entries"][1]["body"].update(text="other"), "says was altered"),
    (lambda e: e["entries"][1]["body"].update(salt="0" * 32), "says was altered"),
    (lambda e: e["entries"][1]["entry"].update(person="other"), "not in the trail"),
    (lambda e: e["entries"][1]["entry"].update(seq=5), "not in the trail"),
    (lambda e: e["head"].update(root="0" * 64), "not in the trail"),
    (lambda e: e["head"].update(size=3), "not in the trail"),
    (lambda e: e["entries"].insert(0, e["entries"][2]), "stands twice"),
    (lambda e: e.update(reference="ref-2"), "another referral"),
    (lambda e: e["entries"][1].update(body=None), "says was left out"),
    (lambda e: e["entries"].pop(1), "3 entries were exported, and 2 are here"),
    (lambda e: e["entries"].pop(), "entry of this export is not the last one"),
])  # fmt: skip
def test_an_altered_export_is_found(file_store: Store, change: Callable[[Any], None], finding: str) -> None:
    file_store.save_case(R, record(), expected_version=0)
    file_store.add_note(R, "mine")
    exported = copy.deepcopy(file_store.export(R))
    assert check_export(exported) == ()
    change(exported)
    assert any(finding in line for line in check_export(exported))


@pytest.mark.parametrize(
    "thing", [None, [], {}, "x", {"shape": "candidacy.records/1"}, {"shape": "other", "entries": []}]
)
def test_what_is_no_export_is_refused(thing: Any) -> None:
    with pytest.raises(StoreError) as caught:
        check_export(thing)
    assert codes(caught) == [Code.WRONG_TYPE]


def test_an_export_prints(file_store: Store) -> None:
    pytest.importorskip("reportlab", reason="PDF is an optional part")
    pypdf = pytest.importorskip("pypdf")
    import io

    danger = record().with_fact("body_weight", 80, unit="kg", note="saddle numbness since yesterday")
    file_store.save_case(R, danger, expected_version=0)
    kept = file_store.assess_and_keep(R, as_of=DAY)
    file_store.add_note(R, MARK)
    first = file_store.sign(
        R, "more_tests", "responsibility", "no MRI", tests=("MRI",), responsible="ana-1", expected_version=1
    )
    file_store.sign(
        R, "not", "responsibility", "no", responsible="ana-1", expected_version=1, corrects=first.seq
    )
    exported = file_store.export(R)
    pdf = export_pdf(exported)
    assert pdf == export_pdf(exported)
    read = pypdf.PdfReader(io.BytesIO(pdf))
    assert read.metadata.creation_date.isoformat()[:19] == events_of(exported)[-1].entry.at[:19]
    told = " ".join(" ".join(page.extract_text() for page in read.pages).split())
    for words in (
        MARK,
        kept.said.standing_name,
        "Sign of danger that no deciding criterion reads: Danger in text",
        f"corrected by entry {first.seq + 1}",
        "no MRI",
        "responsibility",
        "2026-11-01",
        exported["head"]["root"][:20],
    ):
        assert words in told


# --- removal


def later(store: Store) -> None:
    store._clock.at += timedelta(days=4000)  # type: ignore[attr-defined]


def test_what_is_removed_is_gone_and_its_tombstone_verifies(filled: Store, where: Path | str) -> None:
    head = filled.head().words
    later(filled)
    filled.add_note("ref-2", "still seen")
    assert filled.unchanged_since(DAY) == ((R, filled.list_referrals(text=R)[0].changed),)
    filled.open_referral(R)  # reading is no change
    seq = filled.remove(R, rule="ten years after the last entry", keep_until_after=DAY)
    verified = filled.verify((head,))
    assert verified.findings == ()
    assert verified.removed == (R,)
    history = filled.history(R)
    assert history[0].said == {}
    (tombstone,) = [event for event in history if event.entry.seq == seq]
    assert (tombstone.entry.what, tombstone.why) == ("removed", "ten years after the last entry")
    assert [row.reference for row in filled.list_referrals(state=None)] == ["ref-2"]
    assert filled.draft(R) is None
    for act in (lambda: filled.open_referral(R), lambda: filled.save_case(R, record(), expected_version=0),
                lambda: filled.remove(R, rule="again", keep_until_after=DAY)):  # fmt: skip
        with pytest.raises(StoreError, match="was removed on") as caught:
            act()
        assert codes(caught) == [Code.UNKNOWN_REFERRAL]
    exported = filled.export(R)
    assert check_export(exported) == ()
    assert MARK not in json.dumps(exported)
    if isinstance(where, Path):
        filled.close()
        left = b"".join(path.read_bytes() for path in where.parent.iterdir())
        assert b"pain" not in left
    assert filled.open_referral("ref-2").notes[0].text.startswith(MARK)


def test_nothing_of_what_is_removed_stays_in_the_file(folder: Path) -> None:
    """Content that does not compress is looked for byte by byte."""
    import secrets

    place, words = folder / "records.sqlite", [secrets.token_hex(3000) for _ in range(3)]
    with open_store(place, "ana-1", clock=Minutes()) as store:
        from candidacy.records.canonical import unpack

        store.save_case(R, record(), expected_version=0)
        for each in words:
            store.add_note(R, each)
        with store._engine.connect() as connection:
            packed = [
                body for (body,) in connection.execute(text("SELECT body FROM trail_body WHERE seq > 3"))
            ]
        assert all(words[place] in unpack(body).decode() for place, body in enumerate(packed))
        later(store)
        store.remove(R, rule="a rule", keep_until_after=DAY)
        left = b"".join(path.read_bytes() for path in folder.iterdir())
        for body in packed:
            assert not any(body[start : start + 40] in left for start in range(0, len(body) - 40, 400))


@pytest.mark.parametrize("day", [date(2026, 11, 1), date(2030, 1, 1)])
def test_what_the_rule_has_kept_is_not_removed(file_store: Store, day: date) -> None:
    file_store.save_case(R, record(), expected_version=0)
    for rule in ("a rule", ""):
        with pytest.raises(StoreError) as caught:
            file_store.remove(R, rule=rule, keep_until_after=day)
        assert codes(caught) == [Code.USAGE if rule else Code.MISSING_KEY]
    assert file_store.open_referral(R).work.reference == R


# --- copies


def test_a_copy_made_while_others_write_is_whole(filled: Store, where: Path | str, folder: Path) -> None:
    writing, ended = threading.Event(), threading.Event()

    def write() -> None:
        with open_store(where, "ana-1") as other:
            while not ended.is_set():
                other.add_note(R, "meanwhile")
                writing.set()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert writing.wait(60)
        found = back_up(filled, folder / "copy.sqlite")
    finally:
        ended.set()
        writer.join()
    assert found.sound
    assert (folder / "copy.sqlite").stat().st_mode & 0o777 == 0o600
    head = filled.head().words
    made = restore(folder / "copy.sqlite", folder / "again.sqlite", "ana-1", clock=Minutes())
    assert made.sound
    with open_store(folder / "again.sqlite", "ana-1", create=False) as again:
        assert again.open_referral("ref-2").notes[0].text == f"{MARK} ref-2"
        assert again.versions(R) == filled.versions(R)
        assert [event.entry.what for event in again.history(R)][:3] == [
            "case_saved",
            "note_added",
            "decision_signed",
        ]
        assert again.verify((found.head.words,)).sound
        later_than_copy = again.verify((head,)).findings
        assert later_than_copy == () or "printed" in later_than_copy[0]


def test_a_copy_of_one_database_becomes_a_store_on_the_other(
    filled: Store, folder: Path, postgres: str
) -> None:
    from tests.records.conftest import new_database

    back_up(filled, folder / "copy.sqlite")
    target = new_database(postgres) if isinstance(filled.where, Path) else folder / "again.sqlite"
    assert restore(folder / "copy.sqlite", target, "ana-1", clock=Minutes()).sound
    with open_store(target, "ana-1", create=False) as again:
        assert again.list_referrals() == filled.list_referrals()
    with pytest.raises(StoreError) as caught:
        restore(folder / "copy.sqlite", target, "ana-1")
    assert codes(caught) == [Code.USAGE]


def test_a_damaged_copy_or_one_of_another_head_is_not_restored(file_store: Store, folder: Path) -> None:
    import sqlite3

    file_store.save_case(R, record(), expected_version=0)
    back_up(file_store, folder / "copy.sqlite")
    file_store.add_note(R, "later")
    place = folder / "again.sqlite"
    with pytest.raises(StoreError) as caught:
        restore(folder / "copy.sqlite", place, "ana-1", heads=(file_store.head().words,))
    assert codes(caught) == [Code.DOES_NOT_VERIFY]
    with pytest.raises(StoreError) as caught:
        restore(folder / "copy.sqlite", place, "stranger")
    assert codes(caught) == [Code.NOT_ALLOWED]
    with sqlite3.connect(folder / "copy.sqlite") as connection:
        connection.execute("UPDATE work SET owner = 'x'")
    with pytest.raises(StoreError) as caught:
        restore(folder / "copy.sqlite", place, "ana-1")
    assert codes(caught) == [Code.DOES_NOT_VERIFY]
    assert not place.exists()
    (folder / "half").write_bytes((folder / "copy.sqlite").read_bytes()[:5000])
    (folder / "half").chmod(0o600)
    with pytest.raises(StoreError):
        restore(folder / "half", place, "ana-1")
    assert not place.exists()


def test_a_copy_replaces_nothing(file_store: Store, folder: Path) -> None:
    (folder / "mine").write_text("mine", encoding="utf-8")
    with pytest.raises(StoreError) as caught:
        back_up(file_store, folder / "mine")
    assert codes(caught) == [Code.USAGE]
    assert (folder / "mine").read_text(encoding="utf-8") == "mine"
    file_store.set_person("b-1", "clerk", ["enter"])
    with open_store(file_store.where, "b-1") as other, pytest.raises(StoreError) as caught:
        back_up(other, folder / "copy")
    assert codes(caught) == [Code.NOT_ALLOWED]
    assert not (folder / "copy").exists()
