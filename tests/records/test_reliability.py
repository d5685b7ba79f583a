"""Killed at any moment, out of room, twenty at once, from the first form of the tables: nothing acknowledged is lost."""

import os
import random
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy import MetaData, create_engine, inspect, text

from candidacy.foundation.errors import Code, StoreError
from candidacy.records import schema
from candidacy.records.migrations.run import migrate
from candidacy.records.store import Store, open_store, upgrade
from tests.records.kept import Minutes, record

R = "ref-1"
# Writes notes until it is killed, and says the number of each once the store has taken it.
WRITER = """
import gc, os, sys
from candidacy.records.store import open_store
store = open_store(sys.argv[1], "ana-1")
store.add_note("ref-1", "note")  # what the first note makes ready, no child makes again
gc.freeze()
for line in sys.stdin:  # a line asks for a child, which writes until it is killed
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        store._engine.dispose(close=False)
        while True:
            seq = store.add_note("ref-1", "note").seq
            os.write(writer, f"{seq}\\n".encode())
    os.close(writer)
    os.set_blocking(reader, True)
    import select, signal, time
    heard = os.read(reader, 1)  # it is writing
    time.sleep(float(line))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while part := os.read(reader, 65536):
        heard += part
    os.close(reader)
    last = heard.decode().rsplit("\\n", 2)[-2]
    print(last, flush=True)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_killed_at_200_moments_of_writing_nothing_acknowledged_is_lost(folder: Path) -> None:
    place = folder / "records.sqlite"
    with open_store(place, "ana-1") as store:
        store.save_case(R, record(), expected_version=0)
    moments = random.Random(17)
    acknowledged = 3
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(place)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        cwd=Path(__file__).resolve().parents[2],
    ) as process:  # fmt: skip
        assert process.stdin is not None
        assert process.stdout is not None
        for _ in range(200):
            process.stdin.write(f"{moments.uniform(0, 0.02)}\n")
            process.stdin.flush()
            told = int(process.stdout.readline())
            assert told > acknowledged
            acknowledged = told
            with sqlite3.connect(f"file:{place}?mode=ro", uri=True) as connection:
                (size,) = connection.execute("SELECT size FROM head").fetchone()
                assert size >= acknowledged
        process.stdin.close()
        assert process.wait(60) == 0
    with open_store(place, "ana-1") as store:
        assert store.verify().sound
        head = store.head()
        assert head.size >= acknowledged
        assert len(store.notes(R)) == head.size - 3
        with sqlite3.connect(place) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def test_on_a_full_disk_nothing_is_half_kept_and_work_goes_on_once_there_is_room(
    small_disk: Callable[[str], Path],
) -> None:
    disk = small_disk("1500k")
    with open_store(disk / "records.sqlite", "ana-1") as store:
        store.save_case(R, record(), expected_version=0)
        (disk / "other").write_bytes(os.urandom(300_000))
        kept: list[int] = []

        def fill() -> None:
            while len(kept) < 2000:
                kept.append(store.add_note(R, os.urandom(2000).hex()).seq)

        with pytest.raises(StoreError, match="disk is full") as caught:
            fill()
        assert [problem.code for problem in caught.value.problems] == [Code.BAD_STORE]
        assert store.head().size == 3 + len(kept)
        assert store.verify().sound
        (disk / "other").unlink()
        store.add_note(R, "room again")
        assert [note.text for note in store.notes(R)][-1] == "room again"
        assert store.verify().sound


@pytest.mark.parametrize("size", ["8k", "64k", "300k"])
def test_no_store_is_made_where_there_is_no_room(small_disk: Callable[[str], Path], size: str) -> None:
    disk = small_disk(size)
    with pytest.raises(StoreError):
        open_store(disk / "records.sqlite", "ana-1")
    assert list(disk.iterdir()) == []


def test_a_limit_of_pages_is_a_full_disk(file_store: Store) -> None:
    file_store.save_case(R, record(), expected_version=0)
    before = file_store.head()
    with file_store._engine.connect() as connection:  # the pool hands out the same connection again
        connection.exec_driver_sql("PRAGMA max_page_count = 1")
    with pytest.raises(StoreError, match="disk is full"):
        file_store.add_note(R, os.urandom(100_000).hex())
    assert file_store.head() == before


def test_twenty_write_at_once(store: Store, where: Path | str) -> None:
    store.save_case(R, record(), expected_version=0)

    def write(number: int) -> list[int]:
        with open_store(where, "ana-1") as own:
            own.save_case(f"own-{number}", record(f"own-{number}"), expected_version=0)
            return [own.add_note(R, f"{number} {turn}").seq for turn in range(5)]

    with ThreadPoolExecutor(20) as pool:
        found = list(pool.map(write, range(20)))
    entered = [seq for part in found for seq in part]
    assert len(set(entered)) == 100
    assert all(part == sorted(part) for part in found)
    assert {note.text for note in store.notes(R)} == {
        f"{number} {turn}" for number in range(20) for turn in range(5)
    }
    assert store.head().size == 2 + 21 + 100 + 1
    assert store.verify().sound


def test_two_people_of_one_program_and_another_program_lose_nothing_of_each_other(folder: Path) -> None:
    """A program that opens the file of its own store beside SQLite lets go of its locks, and another takes its log away."""
    place = folder / "records.sqlite"
    note = "from candidacy.records.store import open_store\nwith open_store({!r}, 'ana-1') as store: store.add_note('ref-1', 'other')"
    with open_store(place, "ana-1", role="physician") as first:
        first.save_case("ref-1", record(), expected_version=0)
        first.set_person("ben-1", "nurse", ("read",))
        with open_store(place, "ben-1"):
            subprocess.run([sys.executable, "-c", note.format(str(place))], check=True, timeout=60)
        first.add_note("ref-1", "first")
        subprocess.run([sys.executable, "-c", note.format(str(place))], check=True, timeout=60)
        assert [each.text for each in first.open_referral("ref-1").notes] == ["other", "first", "other"]
    with open_store(place, "ana-1") as again:
        assert [each.text for each in again.open_referral("ref-1").notes] == ["other", "first", "other"]
        assert again.verify().sound


def test_twenty_correct_the_same_referral_and_one_is_first(store: Store, where: Path | str) -> None:
    store.save_case(R, record(), expected_version=0)

    def correct(number: int) -> list[Code]:
        with open_store(where, "ana-1") as own:
            try:
                pain = (0, 1, 2, 3, 4, 5, 6, 8, 9, 10)[number % 10]  # never what is kept already
                own.save_case(R, record(pain=pain), expected_version=1, reason=f"by {number}")
            except StoreError as error:
                return [problem.code for problem in error.problems]
            return []

    with ThreadPoolExecutor(10) as pool:
        done = list(pool.map(correct, range(20)))
    versions = store.versions(R)
    assert [version.version for version in versions] == [1, 2]
    assert 1 <= done.count([]) <= 2  # one, and one more that saved the very same record
    assert all(codes in ([], [Code.CHANGED_MEANWHILE]) for codes in done)
    assert store.verify().sound


def test_twenty_open_a_store_that_is_not_there_and_one_makes_it(where: Path | str) -> None:
    def make(_: int) -> int:
        with open_store(where, "ana-1") as own:
            return own.head().size

    with ThreadPoolExecutor(10) as pool:
        assert set(pool.map(make, range(20))) == {2}


# --- the form of the tables


def test_the_steps_make_the_tables_that_the_program_uses(store: Store) -> None:
    found = inspect(store._engine)
    assert set(found.get_table_names()) == {*schema.metadata.tables, "schema_step"}
    reflected = MetaData()
    reflected.reflect(store._engine)
    for name, table in schema.metadata.tables.items():
        there = reflected.tables[name]
        kinds = {"TEXT": str, "INTEGER": int, "BLOB": bytes, "BYTEA": bytes}
        assert [(c.name, c.nullable, kinds[str(c.type)]) for c in there.columns] == [
            (c.name, bool(c.nullable), c.type.python_type) for c in table.columns
        ], name
        assert [c.name for c in there.primary_key] == [c.name for c in table.primary_key]
        assert {(k.parent.name, k.target_fullname) for k in there.foreign_keys} == {
            (k.parent.name, k.target_fullname) for k in table.foreign_keys
        }
        assert {(i.name, *(c.name for c in i.columns)) for i in there.indexes} == {
            (i.name, *(c.name for c in i.columns)) for i in table.indexes
        }


def test_a_file_is_opened_as_it_must_be(file_store: Store) -> None:
    wanted = {
        "journal_mode": "wal",
        "foreign_keys": 1,
        "synchronous": 2,
        "secure_delete": 1,
        "recursive_triggers": 1,
    }
    with file_store._engine.connect() as connection:
        found = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in wanted}
        strict = connection.exec_driver_sql(
            "SELECT name, strict FROM pragma_table_list WHERE schema = 'main'"
        ).all()
    assert found == wanted
    assert {name for name, is_strict in strict if not is_strict} <= {"sqlite_schema", "schema_step"}


@pytest.fixture
def first_form(where: Path | str, monkeypatch: pytest.MonkeyPatch) -> Path | str:
    """A store of the first form, filled by writing its rows as the present program does."""
    from candidacy.records import store as module

    monkeypatch.setattr(module, "migrate", lambda connection: migrate(connection, "0001"))
    monkeypatch.setattr(module, "latest", lambda: "0001")
    with open_store(where, "ana-1", role="physician", clock=Minutes()) as opened:
        opened.save_case(R, record(), expected_version=0)
        opened.save_case(R, record(pain=2), expected_version=1, reason="better")
        opened.add_note(R, "first form")
        opened.add_act(R, "call")
    monkeypatch.undo()
    return where


def test_a_store_of_the_first_form_is_brought_to_the_present_one_with_everything_in_it(
    first_form: Path | str,
) -> None:
    with pytest.raises(StoreError, match="records upgrade") as caught:
        open_store(first_form, "ana-1")
    assert [problem.code for problem in caught.value.problems] == [Code.BAD_STORE]
    with pytest.raises(StoreError) as caught:
        upgrade(first_form, "stranger")
    assert [problem.code for problem in caught.value.problems] == [Code.NOT_ALLOWED]
    before = rows_of(first_form)
    assert upgrade(first_form, "ana-1", Minutes()) == ("0001", "0003")
    after = rows_of(first_form)
    for table, rows in before.items():
        if table not in ("head", "schema_step"):
            assert after[table][: len(rows)] == rows, table
    with open_store(first_form, "ana-1") as opened:
        assert opened.verify().sound
        assert opened.load_case(R).digest == record(pain=2).digest
        assert opened.notes(R)[0].text == "first form"
        opened.ask(R, "Treat?")
        assert opened.verify().sound
    assert upgrade(first_form, "ana-1") == ("0003", "0003")


def rows_of(where: Path | str) -> dict[str, list[tuple[object, ...]]]:
    url = (
        f"sqlite:///{where}"
        if isinstance(where, Path)
        else where.replace("postgresql:", "postgresql+psycopg:")
    )
    engine = create_engine(url)
    with engine.connect() as connection:
        found = {
            name: sorted(map(tuple, connection.execute(text(f'SELECT * FROM "{name}"')).all()), key=str)
            for name in inspect(engine).get_table_names()
        }
    engine.dispose()
    return {
        name: sorted(rows, key=lambda row: (not isinstance(row[0], int), row[0]))
        for name, rows in found.items()
    }


def test_an_upgrade_that_fails_leaves_the_store_as_it_was(
    first_form: Path | str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from candidacy.records.migrations.versions import step_0002

    before = rows_of(first_form)

    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("half way")

    with monkeypatch.context() as patch:
        patch.setattr("candidacy.records.migrations.tables.index", fail)
        patch.setattr(step_0002, "index", fail)
        with pytest.raises(RuntimeError, match="half way"):
            upgrade(first_form, "ana-1")
    assert rows_of(first_form) == before
    assert upgrade(first_form, "ana-1") == ("0001", "0003")


def test_lists_that_were_damaged_are_made_again_from_the_trail(file_store: Store) -> None:
    file_store.save_case(R, record(), expected_version=0)
    file_store.add_note(R, "x")
    with file_store._engine.begin() as connection:
        connection.execute(text("UPDATE work SET owner = 'somebody'"))
    assert not file_store.verify().sound
    file_store.rebuild("altered by hand")
    assert file_store.verify().sound
    assert file_store.list_referrals()[0].owner == ""
    with file_store._engine.begin() as connection:
        connection.execute(text("INSERT INTO person VALUES ('thief', 'x', 'administer', 1)"))
    with open_store(file_store.where, "thief") as thief, pytest.raises(StoreError) as caught:
        thief.rebuild("mine")  # the trail knows nobody of that id
    assert [problem.code for problem in caught.value.problems] == [Code.NOT_ALLOWED]
