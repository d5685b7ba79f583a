"""Unfinished work of a person, kept so that it can be taken up again. It is no record: it is overwritten, and leaves no
trace in the trail."""

from msgspec import Struct
from sqlalchemy import ColumnElement, delete, select
from sqlalchemy.dialects import postgresql, sqlite

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.canonical import pack, unpack
from candidacy.records.session import Session
from candidacy.records.trail import moment

_MOST = 16 * 1024 * 1024  # signs


class Draft(Struct, frozen=True):
    """Unfinished work: of which referral (may be empty), what, and when in UTC it was kept."""

    slot: str
    reference: str
    text: str
    saved_at: str


class Drafts(Session):
    """Keeping and taking up unfinished work."""

    def keep_draft(self, slot: str, text: str, reference: str = "") -> str:
        """Keep unfinished work of this person, in place of what the slot held before.

        Parameters
        ----------
        slot
            What it is of, such as a referral or a page.
        text
            Anything that the caller can take up again, such as JSON.
        reference
            The referral it belongs to, with which it is removed.

        Returns
        -------
        str
            When it was kept, in UTC: only then is it on disk.

        Raises
        ------
        StoreError
            E102 for more than 16 million signs; E701 if it could not be kept.
        """
        if len(text) > _MOST:
            raise StoreError([Problem(Code.TOO_LARGE, "this is too large for unfinished work", slot, field="text",
                                      found=f"{len(text)} signs", expected=f"at most {_MOST}")])  # fmt: skip
        with self._writing("enter") as turn:
            at = moment(self._clock())
            dialect = sqlite if turn.connection.dialect.name == "sqlite" else postgresql
            row = {"person": self.person, "slot": slot, "reference": reference, "saved_at": at,
                   "body": pack(text.encode())}  # fmt: skip
            added = dialect.insert(schema.draft).values(row)
            rest = {name: added.excluded[name] for name in ("reference", "saved_at", "body")}
            turn.connection.execute(added.on_conflict_do_update(index_elements=["person", "slot"], set_=rest))
        return at

    def draft(self, slot: str) -> Draft | None:
        """What this person left in a slot, or ``None``."""
        with self._reading() as connection:
            row = connection.execute(select(schema.draft).where(*self._of(slot))).mappings().first()
        if row is None:
            return None
        return Draft(row["slot"], row["reference"], unpack(row["body"]).decode(), row["saved_at"])

    def drafts(self) -> tuple[tuple[str, str, str], ...]:
        """Slot, referral and moment of all unfinished work of this person, the last first."""
        columns = schema.draft.c
        with self._reading() as connection:
            rows = connection.execute(
                select(columns.slot, columns.reference, columns.saved_at)
                .where(columns.person == self.person)
                .order_by(columns.saved_at.desc(), columns.slot)
            )
            return tuple((slot, reference, at) for slot, reference, at in rows)

    def drop_draft(self, slot: str) -> None:
        """Drop unfinished work of this person, as when it was saved."""
        with self._writing("enter") as turn:
            turn.connection.execute(delete(schema.draft).where(*self._of(slot)))

    def _of(self, slot: str) -> tuple[ColumnElement[bool], ...]:
        return schema.draft.c.person == self.person, schema.draft.c.slot == slot
