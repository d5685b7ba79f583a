"""The lists of a database made from its trail: for a store made from a copy, and where somebody altered a list."""

from sqlalchemy import Connection, delete, select

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.canonical import unpack
from candidacy.records.entries import Rebuilt
from candidacy.records.lists import list_entry
from candidacy.records.rows import DatabaseRows
from candidacy.records.session import Session, body, role_of
from candidacy.records.trail import as_dict, body_from, entries
from candidacy.records.verify import verify


class Lists(Session):
    """Making the lists anew."""

    def rebuild(self, why: str) -> None:
        """Make all lists anew from the trail. What the trail says is not touched.

        Raises
        ------
        StoreError
            E703 for who may not administer, by the trail too; E705 if the trail itself is damaged.
        """
        with self._writing("administer") as turn:
            wrong = [each for each in verify(turn.connection).findings if not each.startswith("List ")]
            if wrong:
                raise StoreError([Problem(Code.DOES_NOT_VERIFY, "the trail itself is damaged", self.name, found=wrong[0],
                                          next_step="restore a backup")])  # fmt: skip
            for table in reversed(schema.LISTS):
                turn.connection.execute(delete(table))
            make_lists(turn.connection)
            role_of(turn.rows, self.person, "administer", self.name)
            turn.enter(body(Rebuilt, why=why))


def make_lists(connection: Connection) -> None:
    """Put into the lists of a database what its trail says."""
    rows = DatabaseRows(connection)
    columns = schema.trail_body.c
    for entry in entries(connection):
        packed = connection.execute(select(columns.body).where(columns.seq == entry.seq)).scalar()
        removed = entry.reference and rows.get(schema.removal, entry.reference) is not None
        if packed is not None and not removed:
            list_entry(rows, as_dict(entry), body_from(entry.what, unpack(packed)))
