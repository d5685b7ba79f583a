"""Many people at one served program: nobody ever gets to see a word of another's case."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
pytest.importorskip("websockets", reason="comes with the ui extra")
from tests.ui.conftest import demo
from tests.ui.sockets import Person, served

NAMES = [f"case-of-person-{letter * 6}" for letter in "klmnopqr"]


def check(person: Person, name: str) -> None:
    """Of all names only the person's own stands in what the page was sent."""
    answer = b"".join(person.heard).decode("utf-8", "replace")
    assert [other for other in NAMES if other in answer] == [name]


def test_no_page_shows_a_word_of_another_persons_case_while_all_edit_leave_and_come_back() -> None:
    cases = ("one-disc-candidate", "two-discs-candidate", "stale-mri", "extruded-disc")
    # The same case on two desks each, so that all but the name is the same.
    records = [
        demo(cases[number // 2]).model_copy(update={"title": name}) for number, name in enumerate(NAMES)
    ]
    with served() as server, ThreadPoolExecutor(len(NAMES)) as together:
        people = list(together.map(lambda record: Person(server, record), records))

        def edits(number: int) -> None:
            person = people[number]
            for weight in (5, 6, 5 + number):
                person.edit(weight)
                check(person, NAMES[number])

        list(together.map(edits, range(len(NAMES))))
        for person in people[::2]:
            person.close()

        def come_back(number: int) -> None:
            if number % 2 == 0:
                people[number].open()
            else:
                people[number].edit(20 + number)
            check(people[number], NAMES[number])
            assert f"{(65 if number % 2 == 0 else 80) + number}".encode() in b"".join(people[number].heard)

        list(together.map(come_back, range(len(NAMES))))
        stranger = Person(server, demo("one-disc-candidate"))
        stranger.close()
        stranger._query = people[0]._query  # another's address, in a browser that is not theirs
        stranger.open()
        shown = b"".join(stranger.heard).decode("utf-8", "replace")
        assert not any(name in shown for name in NAMES)
        assert "no longer kept here" in shown
        assert Path(server.folder).is_dir()
