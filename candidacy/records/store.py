"""Open a store of kept referrals.

with open_store("records.sqlite") as store:
    store.save_case("ref-17", case, expected_version=0)
    store.assess_and_keep("ref-17", as_of=date(2026, 12, 2))
    for row in store.list_referrals():
        ...
"""

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Engine, inspect

from candidacy import __version__
from candidacy.foundation.errors import StoreError
from candidacy.foundation.targets import put_new
from candidacy.records.answers import Answers
from candidacy.records.cases import Cases
from candidacy.records.conference import Conference
from candidacy.records.courses import Courses
from candidacy.records.database import (
    APPLICATION,
    default_place,
    engine_for,
    is_url,
    named,
    reading,
    refused,
    writing,
)
from candidacy.records.decisions import Decisions
from candidacy.records.entries import ACCESS, Opened, PersonSet, Upgraded
from candidacy.records.export import Exports
from candidacy.records.letters import Letters
from candidacy.records.lists_made import Lists
from candidacy.records.migrations.run import known, latest, migrate, revision
from candidacy.records.people import People, set_person
from candidacy.records.referral import Referrals
from candidacy.records.reports import Reports
from candidacy.records.retention import Retention
from candidacy.records.rows import DatabaseRows
from candidacy.records.session import Turn, body, checked_person, local_person, role_of
from candidacy.records.trail import Clock, Head, head_of, now
from candidacy.records.verify import Verified, verify
from candidacy.records.work import Work

LOCAL_ROLE = "local user"


class Store(
    Cases,
    Courses,
    Answers,
    Letters,
    Reports,
    Work,
    Decisions,
    Conference,
    Referrals,
    Exports,
    Retention,
    Lists,
    People,
):
    """A store as one person works with it. Several programs, threads and people may have it open at once."""

    def head(self) -> Head:
        """Where the trail ends now. Printed and kept elsewhere, it shows later that nothing before it was altered."""
        with self._reading() as connection:
            return head_of(connection)[0]

    def verify(
        self, heads: tuple[str, ...] = (), progress: Callable[[int, int], None] | None = None
    ) -> Verified:
        """Compare everything kept with the trail, and the trail with itself and with heads that were printed before.

        Raises
        ------
        StoreError
            E601 for a head that is none.
        """
        with self._reading() as connection:
            return verify(connection, heads, progress)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_store(
    where: Path | str | None = None,
    person: str | None = None,
    *,
    role: str = LOCAL_ROLE,
    create: bool = True,
    clock: Clock = now,
) -> Store:
    """Open a store, and make it where there is none.

    Parameters
    ----------
    where
        A SQLite file or the URL of a PostgreSQL database; the user's own store without it.
    person
        Who works with it; without it the local user.
    role
        What the person is; used when the store is made, whose first person may do everything.
    create
        Whether a store that is not there is made.
    clock
        Gives the moment of each entry.

    Raises
    ------
    StoreError
        E701 for a place that is no store, that others may read, or of an earlier or later form; E601 for a person that
        is none.
    """
    place = default_place() if where is None else where if is_url(where) else Path(where)
    who = local_person() if person is None else checked_person(person)
    if create and isinstance(place, Path) and not place.exists():
        _make_file(place, who, role, clock)
    engine = engine_for(place, create=create)
    try:
        with reading(engine, place) as connection:
            has = revision(connection)
        if not has:
            _make(engine, place, who, role, clock, create)
        elif has != latest():
            raise _other_form(place, has)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine, place, who, clock)


def _make_file(place: Path, person: str, role: str, clock: Clock) -> None:
    """Make a store beside its place, and give it its name once it is whole: what fails leaves nothing behind."""
    try:
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=place.parent, prefix=".new-")  # readable by its owner alone
    except OSError as error:
        raise refused(
            place, "cannot be made", "name another place with --store", error.strerror or ""
        ) from None
    os.close(handle)
    try:
        engine = engine_for(Path(beside), create=False)
        try:
            _make(engine, place, person, role, clock, create=True)
        finally:
            engine.dispose()
        if Path(f"{beside}-wal").exists():  # closing could not put all of it into the file
            raise refused(
                place, "the disk is full or cannot be written; nothing of this was kept", "free some space"
            )
        with contextlib.suppress(FileExistsError):  # another process was quicker
            put_new(beside, place)
    except OSError as error:
        raise refused(
            place, "cannot be made", "name another place with --store", error.strerror or ""
        ) from None
    finally:
        for suffix in ("", "-wal", "-shm", "-journal"):
            with contextlib.suppress(OSError):
                os.unlink(f"{beside}{suffix}")


def _make(engine: Engine, place: Path | str, person: str, role: str, clock: Clock, create: bool) -> None:
    with writing(engine, place) as connection:
        if revision(connection):  # another process was quicker
            return
        if not create or inspect(connection).get_table_names():
            raise refused(place, "this is no store of kept referrals", "name another with --store")
        migrate(connection)
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION}")
        turn = Turn(connection, DatabaseRows(connection), person, role, clock)
        turn.enter(body(Opened, program=f"candidacy {__version__}", schema_revision=latest()))
        set_person(
            turn, body(PersonSet, person=person, role=role, access=list(ACCESS), why="made this store")
        )


def upgrade(where: Path | str, person: str | None = None, clock: Clock = now) -> tuple[str, str]:
    """Bring a store of an earlier form to the present one: all of it or nothing. Make a backup first.

    Returns
    -------
    tuple of str
        The revisions before and after.

    Raises
    ------
    StoreError
        E701 if it is no store, or of a later form; E703 for who may not administer.
    """
    who = local_person() if person is None else checked_person(person)
    engine = engine_for(where, create=False)
    try:
        with writing(engine, where) as connection:
            has = revision(connection)
            if not has or not known(has):
                raise _other_form(where, has)
            rows = DatabaseRows(connection)
            role = role_of(rows, who, "administer", named(where))
            if has != latest():
                migrate(connection)
                words = f"from {has} to {latest()} by candidacy {__version__}"
                Turn(connection, rows, who, role, clock).enter(body(Upgraded, words=words))
            return has, latest()
    finally:
        engine.dispose()


def _other_form(where: Path | str, has: str) -> StoreError:
    if has and known(has):
        return refused(where, "this store was made by an earlier version", "candidacy records upgrade", has)
    if has:
        return refused(where, "this store was made by a later version", "use that version of candidacy", has)
    return refused(where, "this is no store of kept referrals", "name another with --store")
