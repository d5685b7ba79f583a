"""Stores on both databases, and small invented records to keep in them."""

import itertools
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("sqlalchemy", reason="kept referrals are an optional part")

from sqlalchemy import create_engine
from sqlalchemy.engine import make_url

from candidacy.records.store import Store, open_store
from tests.records.kept import Minutes
from tests.records.server import server

_NUMBERS = itertools.count(1)


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    with server() as url:
        yield url


def new_database(url: str) -> str:
    """The URL of an empty database of a server."""
    name = f"kept_{next(_NUMBERS)}"
    found = make_url(url).set(drivername="postgresql+psycopg")
    engine = create_engine(found, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"DROP DATABASE IF EXISTS {name}")
        connection.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE template0")
    engine.dispose()
    return found.set(drivername="postgresql", database=name).render_as_string(hide_password=False)


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder for stores, in memory where there is such a place: every commit waits for the disk, and tests commit much."""
    shared = Path("/dev/shm")
    made = tempfile.mkdtemp(prefix="kept-", dir=shared if os.access(shared, os.W_OK) else None)
    yield Path(made)
    shutil.rmtree(made, ignore_errors=True)


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request: pytest.FixtureRequest, folder: Path) -> Path | str:
    """A place for a store, on each database."""
    if request.param == "sqlite":
        return folder / "data" / "records.sqlite"
    return new_database(request.getfixturevalue("postgres"))


@pytest.fixture
def store(where: Path | str) -> Iterator[Store]:
    with open_store(where, "ana-1", role="physician", clock=Minutes()) as opened:
        yield opened


@pytest.fixture
def file_store(folder: Path) -> Iterator[Store]:
    """A store in a file, for what is the same on both."""
    with open_store(folder / "records.sqlite", "ana-1", role="physician", clock=Minutes()) as opened:
        yield opened
