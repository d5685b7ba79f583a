"""Where a store is, and how the database is opened: a private SQLite file, or PostgreSQL by URL.

SQLite: write-ahead log, every commit synced to disk, foreign keys checked, deleted content overwritten. The file is
readable by its owner alone. Encryption at rest is left to the disk.
"""

import contextlib
import os
import sqlite3
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import platformdirs
from sqlalchemy import Connection, Engine, create_engine, event, func, select
from sqlalchemy import exc as sql
from sqlalchemy.engine import make_url

from candidacy.foundation.errors import Code, Problem, StoreError, shorten

FILE = "records.sqlite"
APPLICATION = 0x63616E64  # marks the file as a store ("cand")
WAIT = 60.0  # seconds that a writer waits for its turn
_OTHERS = stat.S_IRWXG | stat.S_IRWXO
_SCHEMES = ("postgresql://", "postgresql+psycopg://")


def default_place() -> Path:
    """The store of this user, in the user's data folder."""
    return platformdirs.user_data_path("candidacy") / FILE


def is_url(where: Path | str) -> bool:
    """Whether a store is named by the URL of a database server."""
    return isinstance(where, str) and "://" in where


def named(where: Path | str) -> str:
    """A store as it is named in messages: never with a password."""
    if not is_url(where):
        return str(where)
    try:
        return make_url(str(where)).render_as_string(hide_password=True)
    except sql.ArgumentError:
        return "a URL that cannot be read"


def engine_for(where: Path | str, *, create: bool) -> Engine:
    """A pool of connections to a store; a new SQLite file is made private before anything is in it.

    Raises
    ------
    StoreError
        E701 for a place that is no store, that others may read, or that is not there and may not be made; E601 for a URL
        of another kind of database.
    """
    if is_url(where):
        text = str(where)
        if not text.startswith(_SCHEMES):
            raise StoreError([Problem(Code.USAGE, "a store is a SQLite file or a PostgreSQL database", "--store",
                                      found=named(where), expected="a path, or postgresql://HOST/NAME")])  # fmt: skip
        text = "postgresql+psycopg://" + text.split("://", 1)[1]
        try:
            return create_engine(
                text, pool_pre_ping=True, isolation_level="READ COMMITTED", hide_parameters=True
            )
        except ModuleNotFoundError:
            raise StoreError([Problem(Code.USAGE, "PostgreSQL needs an extra", "--store", found=named(where),
                                      next_step="pip install 'candidacy[postgres]'")]) from None  # fmt: skip
    path = Path(where)
    if not path.exists():
        if not create:
            raise refused(where, "there is no such store", "name another, or make it: candidacy records open")
        _make_private(path)
    else:
        _check_private(path)
    engine = create_engine(
        f"sqlite:///{path}", connect_args={"timeout": WAIT}, pool_size=4, hide_parameters=True
    )
    event.listen(engine, "connect", lambda connection, _: _checked(connection, path))
    event.listen(engine, "connect", _connected)
    event.listen(engine, "begin", _begun)
    return engine


def _make_private(path: Path) -> None:
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except FileExistsError:
        _check_private(path)  # another process was quicker
    except OSError as error:
        raise refused(
            path, "cannot be made", "name another place with --store", error.strerror or ""
        ) from None


def _check_private(path: Path) -> None:
    about = path.stat()
    if not stat.S_ISREG(about.st_mode):
        raise refused(path, "this is no file", "name the file of a store with --store")
    if hasattr(os, "geteuid") and about.st_mode & _OTHERS:
        raise refused(
            path, "others may read or write this store", f"chmod 600 {path}", oct(about.st_mode & 0o777)
        )


def _checked(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse a file that is no store before anything of it is changed.

    Its mark is asked of SQLite and never read from the file: a process that opens and closes the file by itself lets go of
    every lock that SQLite holds on it there, and another process then takes the log away under this one.
    """
    try:
        (mark,) = connection.execute("PRAGMA application_id").fetchone()
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode != sqlite3.SQLITE_NOTADB:
            raise
        mark = None
    if mark not in (0, APPLICATION):
        raise refused(path, "this is no store of kept referrals", "name the file of a store with --store")


def _connected(connection: sqlite3.Connection, _: Any) -> None:
    connection.isolation_level = None  # transactions begin where we say so
    for line in ("busy_timeout = 60000", "foreign_keys = ON", "journal_mode = WAL", "synchronous = FULL",
                 "recursive_triggers = ON", "secure_delete = ON", "trusted_schema = OFF"):  # fmt: skip
        connection.execute(f"PRAGMA {line}")


def _begun(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextlib.contextmanager
def writing(engine: Engine, where: Path | str) -> Iterator[Connection]:
    """One transaction that writes: alone until it ends, and on disk, whole or not at all, when it has ended.

    Raises
    ------
    StoreError
        E701 if the database cannot write, E702 if no turn came within a minute.
    """
    with telling(where), engine.connect().execution_options(writes=True) as connection, connection.begin():
        if connection.dialect.name != "sqlite":
            connection.execute(select(func.pg_advisory_xact_lock(APPLICATION)))
        yield connection


@contextlib.contextmanager
def reading(engine: Engine, where: Path | str) -> Iterator[Connection]:
    """One transaction that only reads, and sees the store as it is at one moment.

    Raises
    ------
    StoreError
        E701 if the database cannot be read.
    """
    with telling(where), engine.connect() as connection:
        if connection.dialect.name != "sqlite":
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        with connection.begin():
            yield connection


@contextlib.contextmanager
def telling(where: Path | str) -> Iterator[None]:
    """Tell what a database refuses as a `StoreError`, without its statements and values."""
    try:
        yield
    except sql.OperationalError as error:
        told = str(error.orig).lower()
        if "full" in told or "no space" in told or "i/o error" in told:
            raise refused(where, "the disk is full or cannot be written; nothing of this was kept",
                          "free some space and do it again", shorten(error.orig)) from None  # fmt: skip
        if "locked" in told or "timeout" in told:
            raise StoreError([Problem(Code.CHANGED_MEANWHILE, "others are writing; nothing of this was kept", named(where),
                                      next_step="do it again")]) from None  # fmt: skip
        raise refused(
            where, "the store cannot be used", "see that it is there and may be written", shorten(error.orig)
        ) from None
    except sql.DBAPIError as error:
        raise refused(
            where,
            "the store refuses this or is damaged",
            "candidacy records verify says what is wrong",
            shorten(error.orig),
        ) from None


def refused(where: Path | str, message: str, next_step: str, found: str = "") -> StoreError:
    """A problem with a store as a whole."""
    return StoreError([Problem(Code.BAD_STORE, message, named(where), found=found, next_step=next_step)])
