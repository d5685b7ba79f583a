"""A small invented clinic with one meeting, made once and copied for each test."""

import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

pytest.importorskip("sqlalchemy", reason="kept referrals are an optional part")

from candidacy.case.load import load_case
from candidacy.conference.queue import ask_about, take_up
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.records.store import Store, open_store
from tests.records.kept import Minutes

HEAVY, OLDER, DISC = "heavy-patient-for-conference", "older-patient-for-conference", "one-disc-candidate"
MEMBERS = {"physician-1": "physician", "surgeon-1": "spine surgeon", "radiologist-1": "radiologist"}
DAY = date(2026, 11, 25)


class Seat:
    """A store as each member works with it; ``item`` is the case at the meeting."""

    def __init__(self, file: Path, stack: ExitStack) -> None:
        self.file = file
        clock = Minutes(datetime(2026, 11, 26, 8, tzinfo=UTC))
        self._stores = {who: stack.enter_context(open_store(file, who, clock=clock)) for who in MEMBERS}
        self.store = self.of("physician-1")
        self.meeting = self.store.meetings()[0].seq
        self.item = next(i.seq for i in self.store.items(meeting=self.meeting))

    def of(self, who: str) -> Store:
        return self._stores[who]

    def entries(self) -> int:
        return self.store.head().size


def make_seat(file: Path) -> None:
    """Two borderline referrals and one candidate; the heavy one is at a meeting of three."""
    with open_store(file, "physician-1", role="physician", clock=Minutes()) as store:
        for who, role in MEMBERS.items():
            if who != "physician-1":
                store.set_person(who, role, ("read", "decide"))
        for reference in (HEAVY, OLDER, DISC):
            store.save_case(
                reference, load_case(demo_cases_folder() / f"{reference}.yaml"), expected_version=0
            )
            store.assess_and_keep(reference, as_of=DAY)
        meeting = store.set_meeting("2026-11-26", "Disc conference", quorum=2)
        for who, role in MEMBERS.items():
            store.set_member(meeting, who, role)
        take_up(
            store,
            ask_about(store, HEAVY, "Treat in spite of the weight?", presenter="surgeon-1").seq,
            meeting,
        )


@pytest.fixture(scope="session")
def made_seat(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("seat") / "records.sqlite"
    make_seat(file)
    return file


@pytest.fixture
def seat_file(made_seat: Path, tmp_path: Path) -> Path:
    file = tmp_path / "records.sqlite"
    shutil.copy(made_seat, file)
    file.chmod(0o600)
    return file


@pytest.fixture
def seat(seat_file: Path) -> Iterator[Seat]:
    with ExitStack() as stack:
        yield Seat(seat_file, stack)
