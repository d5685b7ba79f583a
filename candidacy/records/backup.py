"""A copy of a store while it is in use, and a store made from such a copy.

A copy is a SQLite file, also of a store on PostgreSQL: it holds the record itself, from which all lists are made again.
"""

import contextlib
import os
import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, insert, select

from candidacy import __version__
from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.database import (
    APPLICATION,
    engine_for,
    is_url,
    named,
    reading,
    refused,
    telling,
    writing,
)
from candidacy.records.entries import BackedUp, Restored
from candidacy.records.lists_made import make_lists
from candidacy.records.migrations.run import latest, migrate, revision
from candidacy.records.rows import DatabaseRows
from candidacy.records.session import Turn, body, checked_person, local_person, role_of
from candidacy.records.store import Store, open_store
from candidacy.records.trail import Clock, head_of, now, put_head
from candidacy.records.verify import Verified, verify

_AT_ONCE = 500


def back_up(store: Store, to: Path, why: str = "") -> Verified:
    """Copy a store, while others may go on writing, into a new private file, and verify the copy.

    Raises
    ------
    StoreError
        E703 for who may not administer; E601 if there is a file already; E705 if the copy does not verify: it is kept for
        who has to find out why.
    """
    if to.exists():
        raise StoreError([Problem(Code.USAGE, "the file exists", str(to), next_step="choose another name")])
    with store._writing("administer") as turn:
        turn.enter(body(BackedUp, words=to.name, why=why))
    whole = False
    try:
        target = engine_for(to, create=True)
        try:
            if is_url(store.where):
                with reading(store._engine, store.where) as source:
                    copy_record(source, target, to)
            else:
                _copy_file(Path(store.where), to)
            whole = True
            with reading(target, to) as connection:
                found = verify(connection)
        finally:
            target.dispose()
    finally:
        if not whole:
            for suffix in ("", "-wal", "-shm"):
                with contextlib.suppress(OSError):
                    os.unlink(f"{to}{suffix}")
    if not found.sound:
        raise does_not_verify(to, found)
    return found


def restore(
    backup: Path,
    to: Path | str,
    person: str | None = None,
    *,
    heads: tuple[str, ...] = (),
    clock: Clock = now,
) -> Verified:
    """Make a store from a copy, at a place where there is none, and verify it.

    What was entered after the copy was made is not in it: a head that was printed later tells.

    Raises
    ------
    StoreError
        E703 for who may not administer the copied store; E601 if there is a store already; E705 if the copy does not
        verify, or is not what a given head was printed of: then nothing is made.
    """
    who = local_person() if person is None else checked_person(person)
    source = engine_for(backup, create=False)
    try:
        with reading(source, backup) as connection:
            if revision(connection) != latest():
                raise refused(
                    backup, "this copy is of another form", "candidacy records upgrade, then restore it"
                )
            role = role_of(DatabaseRows(connection), who, "administer", str(backup))
            found = verify(connection, heads)
            if not found.sound:
                raise does_not_verify(backup, found)
            _restore(connection, to, who, role, clock, found)
    finally:
        source.dispose()
    with open_store(to, who, create=False, clock=clock) as store:
        return store.verify(heads)


def _restore(
    source: Connection, to: Path | str, person: str, role: str, clock: Clock, found: Verified
) -> None:
    if not is_url(to) and Path(to).exists():
        raise StoreError(
            [Problem(Code.USAGE, "there is a file already", str(to), next_step="choose another place")]
        )
    target = engine_for(to, create=True)
    done = False
    try:
        copy_record(source, target, to)
        with writing(target, to) as connection:
            turn = Turn(connection, DatabaseRows(connection), person, role, clock)
            words = f"from a copy of {found.head.size} entries by candidacy {__version__}"
            turn.enter(body(Restored, words=words))
        done = True
    finally:
        target.dispose()
        if not done and not is_url(to):
            for suffix in ("", "-wal", "-shm"):
                with contextlib.suppress(OSError):
                    os.unlink(f"{to}{suffix}")


def does_not_verify(where: Path | str, found: Verified) -> StoreError:
    """The refusal of a store that is not what was entered, with the first findings."""
    return StoreError([
        Problem(Code.DOES_NOT_VERIFY, finding, named(where), next_step="candidacy records verify tells all")
        for finding in found.findings[:20]
    ])  # fmt: skip


def _copy_file(store: Path, to: Path) -> None:
    """Copy a SQLite file in use, by SQLite itself: whatever is committed when the last page is copied."""
    with (
        telling(to),
        contextlib.closing(sqlite3.connect(store)) as source,
        contextlib.closing(sqlite3.connect(to)) as copy,
    ):
        try:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, whole by itself
        except sqlite3.Error as error:
            raise refused(to, "the copy could not be made", "choose a place with room", str(error)) from None


def copy_record(source: Connection, target: Engine, to: Path | str) -> None:
    """Copy the record itself into a database without tables, and make the lists from it."""
    with writing(target, to) as connection:
        if revision(connection):
            raise StoreError(
                [Problem(Code.USAGE, "there is a store already", named(to), next_step="choose another")]
            )
        migrate(connection)
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION}")
        for table in schema.RECORD:
            _copy_table(source, connection, table)
        head, frontier = head_of(source)
        put_head(connection, frontier, head.last)
        make_lists(connection)


def _copy_table(source: Connection, target: Connection, table: Any) -> None:
    found = source.execute(select(table).order_by(*table.primary_key).execution_options(yield_per=_AT_ONCE))
    for part in found.mappings().partitions():
        target.execute(insert(table), [dict(row) for row in part])
