"""A store as one person works with it: every act is checked against what the store lets that person do."""

import contextlib
import getpass
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Protocol, TypeVar

from msgspec import Struct
from pydantic import ValidationError
from sqlalchemy import Connection, Engine, select

from candidacy.foundation.errors import Code, InputError, Problem, StoreError, shorten, shown
from candidacy.records import schema
from candidacy.records.database import named, reading, writing
from candidacy.records.entries import READ, REFERENCE, Access, Body
from candidacy.records.lists import Row
from candidacy.records.rows import DatabaseRows
from candidacy.records.trail import Clock, Entry, body_bytes, body_from, enter

PERSON_VARIABLE = "CANDIDACY_PERSON"
_Body = TypeVar("_Body", bound=Body)


class _OfAReferral(Protocol):
    @property
    def reference(self) -> str: ...


_Kept = TypeVar("_Kept", bound=_OfAReferral)


def local_person() -> str:
    """Who works on this machine: ``CANDIDACY_PERSON``, else the name of the user's account.

    Raises
    ------
    StoreError
        E601 where neither is a local id.
    """
    try:
        found = os.environ.get(PERSON_VARIABLE) or getpass.getuser()
    except (OSError, KeyError):
        found = ""
    return checked_person(found)


def checked_person(person: str) -> str:
    """The local id of a person.

    Raises
    ------
    StoreError
        E601 for what is none.
    """
    if not re.fullmatch(REFERENCE, person):
        raise StoreError([Problem(Code.USAGE, "this is no local id of a person", "person", found=shown(person),
                                  expected='1 to 64 letters, digits, ".", "_" and "-"',
                                  next_step=f"--person ID, or set {PERSON_VARIABLE}")])  # fmt: skip
    return person


def checked_reference(reference: str) -> str:
    """A local reference of a referral.

    Raises
    ------
    StoreError
        E203 for what is none, such as a name or an e-mail address.
    """
    if not isinstance(reference, str) or not re.fullmatch(REFERENCE, reference):
        raise StoreError([Problem(Code.WRONG_TYPE, "this is no local reference", "reference", found=shown(reference),
                                  expected='1 to 64 letters, digits, ".", "_" and "-"; never a name or a record number',
                                  next_step="use the reference under which the practice keeps the referral")])  # fmt: skip
    return reference


def body(kind: type[_Body], /, **fields: Any) -> _Body:
    """A body of what was given.

    Raises
    ------
    StoreError
        With everything in it that is not of its form, by field.
    """
    try:
        return kind(**fields)
    except ValidationError as error:
        raise StoreError([
            Problem(Code.WRONG_TYPE if found["type"] != "missing" else Code.MISSING_KEY, "not of the expected form",
                    kind.what, field=".".join(map(str, found["loc"])), found=shown(found.get("input")),
                    expected=shorten(found["msg"]))
            for found in error.errors(include_url=False)
        ]) from None  # fmt: skip


class Turn(Struct, frozen=True):
    """One transaction in which a person writes; other writers wait until it ends."""

    connection: Connection
    rows: DatabaseRows
    person: str
    role: str
    clock: Clock

    def enter(
        self, body: Body | None = None, reference: str = "", *, what: str = READ, replaces: int = 0
    ) -> Entry:
        """Add an entry, and change the lists by what it says."""
        kind = what if body is None else type(body).what
        return enter(self.connection, self.rows, at=self.clock(), person=self.person, role=self.role, what=kind,
                     reference=reference, body=body, replaces=replaces)  # fmt: skip

    def work(self, reference: str) -> Row:
        """The row of a referral in the work list.

        Raises
        ------
        StoreError
            E704 if there is none, or none any more.
        """
        found = self.rows.get(schema.work, checked_reference(reference))
        if found is None:
            raise no_referral(self.connection, reference)
        return found


class Session:
    """What all parts of a store share: the database, the person, the clock."""

    def __init__(self, engine: Engine, where: Path | str, person: str, clock: Clock) -> None:
        self._engine = engine
        self._clock = clock
        self.where = where
        self.person = person

    @property
    def name(self) -> str:
        """The store as it is named in messages, without a password."""
        return named(self.where)

    @contextlib.contextmanager
    def _writing(self, needs: Access) -> Iterator[Turn]:
        with writing(self._engine, self.where) as connection:
            rows = DatabaseRows(connection)
            yield Turn(
                connection, rows, self.person, role_of(rows, self.person, needs, self.name), self._clock
            )

    @contextlib.contextmanager
    def _reading(self, needs: Access = "read") -> Iterator[Connection]:
        with reading(self._engine, self.where) as connection:
            role_of(DatabaseRows(connection), self.person, needs, self.name)
            yield connection

    def _read_entry(self, seq: int, read: Callable[[Turn, int], _Kept]) -> _Kept:
        """An entry of a referral. This is entered as read."""
        with self._writing("read") as turn:
            found = read(turn, seq)
            turn.enter(reference=found.reference)
        return found

    def _read_all(self, reference: str, read: Callable[[Turn, str], tuple[_Kept, ...]]) -> tuple[_Kept, ...]:
        """The entries of a kind of a referral. This is entered as read."""
        with self._writing("read") as turn:
            turn.work(reference)
            found = read(turn, reference)
            turn.enter(reference=reference)
        return found


def role_of(rows: DatabaseRows, person: str, needs: Access, store: str) -> str:
    """What a person is in a store.

    Raises
    ------
    StoreError
        E703 for who may not do what is asked. Whoever may do anything may read.
    """
    found = rows.get(schema.person, person)
    access = found["access"].split(",") if found and found["access"] else []
    if found is None or not access:
        raise _not_allowed(store, f"{person} is not known to this store", needs)
    if needs != "read" and needs not in access:
        raise _not_allowed(store, f"{person} may not {needs} here", ", ".join(access))
    return str(found["role"])


def _not_allowed(store: str, message: str, may: str) -> StoreError:
    return StoreError([Problem(Code.NOT_ALLOWED, message, store, expected=f"access: {may}", next_step="someone who may administer: candidacy records people --set")])  # fmt: skip


def no_referral(connection: Connection, reference: str) -> StoreError:
    """The refusal of a reference under which nothing is kept."""
    removed = connection.execute(
        select(schema.trail.c.at)
        .join(schema.removal, schema.removal.c.seq == schema.trail.c.seq)
        .where(schema.removal.c.reference == reference)
    ).scalar()
    message = f"this referral was removed on {removed[:10]}" if removed else "no such referral is kept"
    return StoreError([Problem(Code.UNKNOWN_REFERRAL, message, "reference", found=shorten(reference),
                               next_step="candidacy records list shows what is kept")])  # fmt: skip


def kept_body(connection: Connection, seq: int, kind: type[_Body]) -> _Body:
    """The body of an entry of a kind.

    Raises
    ------
    StoreError
        E704 if no entry of that kind has it, E705 if what is kept there is damaged.
    """
    entry = connection.execute(select(schema.trail).where(schema.trail.c.seq == seq)).mappings().first()
    if entry is None or entry["what"] != kind.what:
        raise StoreError([Problem(Code.UNKNOWN_REFERRAL, f"no entry of this number is of the kind {kind.what}", "entry",
                                  found=str(seq), next_step="candidacy records show REFERENCE lists them")])  # fmt: skip
    try:
        content = body_bytes(connection, seq)
        found = None if content is None else body_from(kind.what, content)
    except (ValueError, InputError) as error:
        raise damaged(seq, str(error)) from None
    if not isinstance(found, kind):
        raise damaged(seq, "its body is gone")
    return found


def kept_entry(turn: Turn, seq: int, kind: type[_Body]) -> tuple[Row, _Body]:
    """The row of an entry of a kind in the trail, and its body.

    Raises
    ------
    StoreError
        As `kept_body`.
    """
    said = kept_body(turn.connection, seq, kind)
    entry = turn.rows.get(schema.trail, seq)
    assert entry is not None
    return entry, said


def damaged(seq: int, found: str) -> StoreError:
    """The refusal of an entry that is not what was entered."""
    return StoreError([Problem(Code.DOES_NOT_VERIFY, f"entry {seq} is damaged", "trail", found=shorten(found),
                               next_step="candidacy records verify; then restore a backup")])  # fmt: skip


def meanwhile(what: str, reference: str, expected: int, present: Row | None) -> StoreError:
    """The refusal of what rests on another version than the present one; ``what`` is "referral" or "course"."""
    if present is None:
        found, step = "none is kept", "save it as new: expected_version=0"
    else:
        found = f"version {present['version']} of {present['at'][:16].replace('T', ' ')} UTC by {present['person']}"
        found += f": {present['reason']}" if present["reason"] else ""
        step = "look at that version, put your changes into it, and save again; yours is not lost"
    said = f"somebody saved this {what} meanwhile" if present else f"this {what} was expected to be there"
    return StoreError([Problem(Code.CHANGED_MEANWHILE, said, reference, field="version", found=found,
                               expected=f"version {expected}", next_step=step)])  # fmt: skip
