"""People of a store: local ids, what they are, what they may do. The store asks this at every act, not the page.

On one machine whoever may open the file may act as anybody: the account of the computer is the guard there. Behind a
server the store trusts the id that the server hands over, and nothing else.
"""

from collections.abc import Iterable

from msgspec import Struct
from sqlalchemy import select

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.entries import ACCESS, Access, PersonSet
from candidacy.records.session import Session, Turn, body


class Person(Struct, frozen=True):
    """One person: local id, role, and what the person may do here (nothing once all was taken back)."""

    person: str
    role: str
    access: tuple[Access, ...]


class People(Session):
    """Who may do what."""

    def people(self) -> tuple[Person, ...]:
        """Everybody the store knows, by id."""
        with self._reading() as connection:
            rows = connection.execute(select(schema.person).order_by(schema.person.c.person)).mappings()
            return tuple(_person(row["person"], row["role"], row["access"]) for row in rows)

    def set_person(self, person: str, role: str, access: Iterable[Access], why: str = "") -> Person:
        """Say what a person is and may do: ``read``, ``enter``, ``decide``, ``administer``, or nothing any more.

        Raises
        ------
        StoreError
            E703 for who may not administer; E601 if nobody could administer the store afterwards.
        """
        asked = set(access)
        given = body(
            PersonSet, person=person, role=role, why=why,
            access=[*(each for each in ACCESS if each in asked), *sorted(asked - {*ACCESS})],
        )  # fmt: skip
        with self._writing("administer") as turn:
            set_person(turn, given)
            others = [
                row["person"]
                for row in turn.rows.where(schema.person)
                if "administer" in row["access"].split(",")
            ]
            if not others:
                raise StoreError([Problem(Code.USAGE, "nobody could administer this store any more", "access",
                                          found=person, next_step="let somebody else administer it first")])  # fmt: skip
        return Person(given.person, given.role, tuple(given.access))


def set_person(turn: Turn, given: PersonSet) -> None:
    """Enter what a person is and may do."""
    former = turn.rows.get(schema.person, given.person)
    turn.enter(given, replaces=former["seq"] if former else 0)


def _person(person: str, role: str, access: str) -> Person:
    held = access.split(",")
    return Person(person, role, tuple(each for each in ACCESS if each in held))
