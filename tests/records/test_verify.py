"""Whatever is done to a store behind its back is found, and the row is named. On both databases."""

import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from candidacy.foundation.errors import StoreError
from candidacy.records.canonical import canonical, pack
from candidacy.records.store import Store, open_store
from candidacy.records.verify import verify
from tests.records.conftest import new_database
from tests.records.kept import DAY, Minutes, record

R = "ref-1"


Found = Callable[..., tuple[str, ...]]


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def filled(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Entries 1 to 10: opened, person, saved, noted, saved again, act, work, decision, read, noted; then one removed."""
    place: Path | str = tmp_path_factory.mktemp("filled") / "records.sqlite"
    if request.param == "postgresql":
        place = new_database(request.getfixturevalue("postgres"))
    clock = Minutes()
    with open_store(place, "ana-1", role="physician", clock=clock) as store:
        store.save_case(R, record(), expected_version=0)
        store.add_note(R, "first")
        store.save_case(R, record(pain=3), expected_version=1, reason="better")
        store.add_act(R, "call", owner="ana-1")
        store.set_work(R, waiting_for="MRI")
        store.sign(R, "not", "approval", "better", responsible="ana-1", expected_version=2)
        store.load_case(R)
        store.add_note(R, "last")
        store.assess_and_keep(R, as_of=DAY)
        store.save_case("gone", record("gone"), expected_version=0)
        clock.at += timedelta(days=4000)
        store.remove("gone", rule="a rule", keep_until_after=DAY)
        yield store


@pytest.fixture
def found(filled: Store) -> Iterator[Found]:
    """What verifying finds once statements ran without guards, in a transaction that is taken back."""
    with filled._engine.connect() as connection, connection.begin() as whole:
        sqlite = connection.dialect.name == "sqlite"
        if sqlite:
            connection.execute(text("PRAGMA defer_foreign_keys = ON"))
            for (name,) in connection.execute(
                text("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            ).all():
                connection.execute(text(f"DROP TRIGGER {name}"))
        else:
            connection.execute(text("SET LOCAL session_replication_role = replica"))

        def run(*statements: str, heads: tuple[str, ...] = ()) -> tuple[str, ...]:
            for statement in statements:
                connection.exec_driver_sql(
                    BYTES.sub("x'\\1'" if sqlite else "decode('\\1', 'hex')", statement)
                )
            return verify(connection, heads).findings

        yield run
        whole.rollback()


BYTES = re.compile(r"<([0-9a-f]+)>")


def test_a_store_that_nobody_touched_verifies(filled: Store) -> None:
    verified = filled.verify(
        (filled.head().words, f"0:{'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855'}")
    )
    assert verified.sound
    assert verified.head == filled.head()
    assert verified.head.size == 13
    assert verified.removed == ("gone",)


@pytest.mark.parametrize(
    "column", ["at", "person", "role", "what", "reference", "before", "after", "prev", "hash"]
)
def test_an_altered_entry_is_named(found: Found, column: str) -> None:
    told = found(f"UPDATE trail SET {column} = 'x' WHERE seq = 6")
    assert any(line.startswith(("Entry 6 was altered", "Entry 6 does not follow")) for line in told)


@pytest.mark.parametrize("seq", [1, 6])
def test_a_removed_entry_is_named(found: Found, seq: int) -> None:
    told = found(f"DELETE FROM trail_body WHERE seq = {seq}", f"DELETE FROM trail WHERE seq = {seq}")
    assert f"Entry {seq} was removed." in told


def test_the_last_entry_removed_is_found_by_the_end_of_the_trail(found: Found) -> None:
    told = found(
        "DELETE FROM removal", "DELETE FROM trail_body WHERE seq = 13", "DELETE FROM trail WHERE seq = 13"
    )
    assert "The end of the trail was altered: it says 13 entries, and there are 12." in told


def test_reordered_entries_are_named(found: Found) -> None:
    told = found("UPDATE trail SET seq = 99 WHERE seq = 6", "UPDATE trail SET seq = 6 WHERE seq = 7",
                 "UPDATE trail SET seq = 7 WHERE seq = 99")  # fmt: skip
    assert "Entry 6 was moved: it now stands at 7." in told
    assert "Entry 7 was moved: it now stands at 6." in told


def test_an_inserted_entry_is_named(found: Found) -> None:
    move = [f"UPDATE trail SET seq = {seq + 1} WHERE seq = {seq}" for seq in range(13, 6, -1)]
    told = found(*move, "INSERT INTO trail SELECT 7, at, person, role, what, reference, before, after, prev, "
                 "'0123' FROM trail WHERE seq = 6")  # fmt: skip
    assert "Entry 7 was inserted: nothing in the trail leads to it." in told
    assert "Entry 7 was moved: it now stands at 8." in told


OTHER = pack(canonical({"what": "note_added", "text": "other", "why": "", "salt": "0" * 32})).hex()


@pytest.mark.parametrize(("change", "finding"), [
    ("UPDATE trail_body SET body = {other} WHERE seq = 4", "The body of entry 4 (note_added) was altered."),
    ("UPDATE trail_body SET body = <00ff> WHERE seq = 4", "The body of entry 4 (note_added) was altered."),
    ("UPDATE trail_body SET body = NULL WHERE seq = 4", "The body of entry 4 (note_added) was removed without a removal."),
    ("DELETE FROM trail_body WHERE seq = 4", "The body of entry 4 (note_added) was removed without a removal."),
    ("UPDATE trail_body SET reference = 'ref-2' WHERE seq = 4", "The body of entry 4 was put to another referral."),
    ("INSERT INTO trail_body VALUES (9, 'ref-1', {other})", "Entry 9 has no body, and one is kept for it."),
    ("INSERT INTO trail_body VALUES (77, 'ref-1', {other})", "A body of entry 77 is kept, and there is no such entry."),
    ("INSERT INTO removal VALUES ('ref-1', 9)", "The removal of ref-1 is not in the trail."),
    ("UPDATE head SET size = 9, peaks = '[]'", "The end of the trail was altered: it cannot be read."),
    ("UPDATE head SET last = 'x'", "The end of the trail was altered: it says 13 entries, and there are 13, of another content."),
    ("DELETE FROM removal", "The removal of gone by entry 13 is in the trail, and not among the removals."),
    ("UPDATE trail_body SET body = {other} WHERE seq = 12", "The body of entry 12 (case_saved) was altered."),
    ("UPDATE work SET standing = 'candidate'", "List work: standing of row ref-1 was altered."),
    ("DELETE FROM note WHERE seq = 4", "List note: row 4 was removed."),
    ("INSERT INTO act VALUES (44, 'ref-1', 'x', '', '', 'open', '')", "List act: row 44 was inserted."),
    ("UPDATE version SET digest = 'x' WHERE version = 2", "List version: digest of row ref-1 2 was altered."),
    ("UPDATE person SET access = 'read'", "List person: access of row ana-1 was altered."),
    ("UPDATE decision SET meaning = 'authorship'", "List decision: meaning of row 8 was altered."),
])  # fmt: skip
def test_every_change_of_a_body_or_a_list_is_named(found: Found, change: str, finding: str) -> None:
    assert finding in found(change.replace("{other}", f"<{OTHER}>"))


def test_kept_rule_text_is_verified(filled: Store, found: Found) -> None:
    with filled._engine.connect() as connection:
        library = connection.execute(text("SELECT library FROM assessment WHERE seq = 11")).scalar()
    told = found(
        f"UPDATE content SET body = <00> WHERE digest = (SELECT min(digest) FROM content WHERE digest <> '{library}')"
    )
    assert len(told) == 1
    assert told[0].endswith("was altered.")
    told = found(
        f"DELETE FROM content WHERE digest = (SELECT max(digest) FROM content WHERE digest <> '{library}')"
    )
    assert len(told) == 2
    assert told[1].startswith("Kept rule text ")
    assert told[1].endswith(".yaml, was removed.")
    assert "The rule text of the answer of entry 11 was removed." in found(
        f"DELETE FROM content WHERE digest = '{library}'"
    )


def test_who_rewrites_all_of_it_is_found_by_a_head_that_was_printed(filled: Store, folder: Path) -> None:
    """A store made anew with other content fits itself; only what was printed tells."""
    head = filled.head().words
    with open_store(folder / "forged", "ana-1") as forged:
        for number in range(12):
            forged.save_case(f"ref-{number}", record(f"ref-{number}"), expected_version=0)
        assert forged.verify().sound
        assert forged.verify((head,)).findings == (
            "The first 13 entries are not those of the head that was printed.",
        )
    with open_store(folder / "short", "ana-1") as short:
        assert short.verify((head,)).findings == (
            "A head over 13 entries was printed, and there are 2: later ones were removed.",
        )


@pytest.mark.parametrize("head", ["", "10", "10:xyz", "x:" + "0" * 64, "10:" + "0" * 63])
def test_a_head_that_is_none_is_refused(file_store: Store, head: str) -> None:
    with pytest.raises(StoreError, match="no printed head"):
        file_store.verify((head,))


REFUSED = (
    "UPDATE trail SET person = 'x'", "DELETE FROM trail", "UPDATE trail_body SET body = NULL", "DELETE FROM trail_body",
    "UPDATE trail_body SET reference = 'x'", "UPDATE trail_body SET body = body WHERE reference = 'gone'",
    "UPDATE content SET body = body", "DELETE FROM content", "UPDATE removal SET seq = 1", "DELETE FROM removal",
    "INSERT INTO trail SELECT 99, at, person, role, what, reference, before, after, prev, hash FROM trail WHERE seq = 5",
)  # fmt: skip


def test_the_database_itself_refuses_to_change_the_record(filled: Store) -> None:
    before = filled.head()
    for statement in REFUSED:
        with pytest.raises(DBAPIError, match="never changed"), filled._engine.begin() as connection:
            connection.execute(text(statement))
    if isinstance(filled.where, str):
        for table in ("trail", "trail_body", "content", "removal"):
            with pytest.raises(DBAPIError, match="never changed"), filled._engine.begin() as connection:
                connection.execute(text(f"TRUNCATE {table} CASCADE"))
    assert filled.head() == before
    assert filled.verify().sound


@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_replacing_a_row_is_refused_too(file_store: Store, recursive: str, folder: Path) -> None:
    import sqlite3

    with sqlite3.connect(folder / "records.sqlite") as connection:
        connection.execute(f"PRAGMA recursive_triggers = {recursive}")
        for table, columns in (("trail", "seq, 'x', person, role, what, reference, before, after, prev, hash"),
                               ("trail_body", "seq, 'x', body")):  # fmt: skip
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                connection.execute(
                    f"INSERT OR REPLACE INTO {table} SELECT {columns} FROM {table} WHERE seq = 2"
                )
    assert file_store.verify().sound
