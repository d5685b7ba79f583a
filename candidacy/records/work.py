"""The work list: which referrals there are, how they stand, what they wait for and since when, what comes next."""

from collections.abc import Iterable
from typing import Any, Literal

from msgspec import Struct
from msgspec.structs import fields
from sqlalchemy import Select, func, select

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.entries import ActAdded, ActEnded, NoteAdded, State, WorkSet
from candidacy.records.rows import DatabaseRows
from candidacy.records.session import Session, Turn, body, kept_body
from candidacy.rules.vocabulary import Standing

Order = Literal["changed", "reference", "waiting", "due"]
_ORDERS = {
    "changed": (schema.work.c.changed.desc(), schema.work.c.reference),
    "reference": (schema.work.c.reference,),
    "waiting": (schema.work.c.waiting_since == "", schema.work.c.waiting_since, schema.work.c.reference),
    "due": (schema.work.c.next_due == "", schema.work.c.next_due, schema.work.c.reference),
}


class WorkRow(Struct, frozen=True):
    """One referral in the work list.

    Attributes
    ----------
    invented
        Demonstration data.
    opened, changed
        When the first version was saved, and when anything was last entered; UTC.
    version
        The present version of the record.
    owner
        Who has it in hand; empty where nobody has.
    state
        ``open`` or ``closed``.
    standing, standing_name, shown, rules, as_of
        The last kept assessment: its standing, what its rule set calls that and, of a candidate, how many remarks no rule
        read, how it is marked, the rule set, the day. Empty where none is kept.
    stops
        How many companion rule sets say stop, which comes before any standing.
    out_of_date
        The record was changed since that assessment.
    missing
        How many facts that assessment misses.
    waiting_for, waiting_since
        What it waits for, and since when.
    next_act, next_due, next_owner
        The open act that is due first.
    asked
        How many questions to a case conference are open.
    """

    reference: str
    invented: bool
    opened: str
    changed: str
    version: int
    owner: str
    state: State
    standing: Standing | Literal[""]
    standing_name: str
    shown: str
    stops: int
    rules: str
    as_of: str
    out_of_date: bool
    missing: int
    waiting_for: str
    waiting_since: str
    next_act: str
    next_due: str
    next_owner: str
    asked: int


class Act(Struct, frozen=True):
    """Something that somebody has to do; ``state`` is ``open``, ``done`` or ``dropped``."""

    seq: int
    reference: str
    what: str
    owner: str
    due: str
    state: str
    ended: str


class Note(Struct, frozen=True):
    """A note, with who wrote it and when in UTC."""

    seq: int
    at: str
    person: str
    text: str


class Work(Session):
    """The work list, acts and notes."""

    def row_of(self, reference: str) -> WorkRow | None:
        """The row of one referral, as `list_referrals` gives it; ``None`` where none is kept under that reference.

        Raises
        ------
        StoreError
            E703 for who may not read here.
        """
        with self._reading() as connection:
            row = DatabaseRows(connection).get(schema.work, reference)
        return work_row(row) if row else None

    def list_referrals(
        self,
        *,
        standing: Iterable[Standing] = (),
        owner: str | None = None,
        state: State | None = "open",
        waiting: bool | None = None,
        due_by: str | None = None,
        asked: bool | None = None,
        text: str = "",
        order: Order = "changed",
        limit: int = 200,
        start: int = 0,
    ) -> tuple[WorkRow, ...]:
        """Referrals of the work list. It shows references and standings and is no reading of a referral: nothing is entered.

        Parameters
        ----------
        standing
            Only these standings; all without.
        owner
            Only those of one person; an empty text for those nobody has in hand.
        state
            ``open``, ``closed``, or ``None`` for both.
        waiting, asked
            Only those that wait for something, or that a conference is asked about, or only the others.
        due_by
            Only those of which an act is due by this day.
        text
            Only references that begin so.
        order
            Last changed first, by reference, longest waiting first, or due first.
        limit, start
            How many, and how many to pass over.

        Raises
        ------
        StoreError
            E703 for who may not read here.
        """
        given = {"standing": tuple(standing), "owner": owner, "state": state, "waiting": waiting, "due_by": due_by,
                 "asked": asked, "text": text}  # fmt: skip
        found = _filtered(select(schema.work), given).order_by(*_ORDERS[order]).limit(limit).offset(start)
        with self._reading() as connection:
            return tuple(work_row(row) for row in connection.execute(found).mappings())

    def count_referrals(self) -> dict[str, int]:
        """How many open referrals there are of each standing; of an empty one, those without a kept assessment."""
        counted = select(schema.work.c.standing, func.count().label("number")).where(
            schema.work.c.state == "open"
        )
        with self._reading() as connection:
            return {row.standing: row.number for row in connection.execute(counted.group_by("standing"))}

    def set_work(
        self,
        reference: str,
        *,
        owner: str | None = None,
        waiting_for: str | None = None,
        state: State | None = None,
        why: str = "",
    ) -> None:
        """Say who has a referral in hand, what it waits for (empty: nothing), and whether anything is still to be done.

        What is not given stays as it is.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference.
        """
        with self._writing("enter") as turn:
            row = turn.work(reference)
            given = body(
                WorkSet,
                owner=row["owner"] if owner is None else owner,
                waiting_for=row["waiting_for"] if waiting_for is None else waiting_for,
                state=row["state"] if state is None else state,
                why=why,
            )
            turn.enter(given, reference)

    def add_note(self, reference: str, text: str) -> Note:
        """Add a note."""
        with self._writing("enter") as turn:
            turn.work(reference)
            entry = turn.enter(body(NoteAdded, text=text), reference)
        return Note(entry.seq, entry.at, entry.person, text)

    def notes(self, reference: str) -> tuple[Note, ...]:
        """The notes of a referral, first to last. This is entered as read."""
        with self._writing("read") as turn:
            turn.work(reference)
            found = notes_of(turn, reference)
            turn.enter(reference=reference)
        return found

    def add_act(self, reference: str, what: str, *, owner: str = "", due: str = "", why: str = "") -> Act:
        """Add something that somebody has to do, by a day (YYYY-MM-DD) or without one."""
        with self._writing("enter") as turn:
            turn.work(reference)
            entry = turn.enter(body(ActAdded, act=what, owner=owner, due=due, why=why), reference)
        return Act(entry.seq, reference, what, owner, due, "open", "")

    def end_act(self, act: int, state: Literal["done", "dropped"] = "done", why: str = "") -> Act:
        """Say that an act is done, or that nobody will do it.

        Raises
        ------
        StoreError
            E704 if there is no such act, E702 if it ended before.
        """
        with self._writing("enter") as turn:
            found = turn.rows.get(schema.act, act)
            if found is None:
                raise StoreError(
                    [Problem(Code.UNKNOWN_REFERRAL, "there is no such act", "act", found=str(act))]
                )
            if found["state"] != "open":
                raise StoreError([Problem(Code.CHANGED_MEANWHILE, "this act has ended", found["reference"], field="act",
                                          found=f"{found['state']} on {found['ended'][:10]}")])  # fmt: skip
            turn.enter(body(ActEnded, act=act, state=state, why=why), found["reference"], replaces=act)
            row = turn.rows.get(schema.act, act)
        assert row is not None
        return Act(**row)

    def acts(
        self, reference: str | None = None, *, owner: str | None = None, state: str | None = "open"
    ) -> tuple[Act, ...]:
        """Acts of a referral, of a person, or all; those due first come first."""
        columns = schema.act.c
        wanted = [
            column == given
            for column, given in (
                (columns.reference, reference),
                (columns.owner, owner),
                (columns.state, state),
            )
            if given is not None
        ]
        found = select(schema.act).where(*wanted).order_by(columns.due == "", columns.due, columns.seq)
        with self._reading() as connection:
            return tuple(Act(**row) for row in connection.execute(found).mappings())


def notes_of(turn: Turn, reference: str) -> tuple[Note, ...]:
    """The notes of a referral within a transaction."""
    rows = turn.rows.where(schema.note, reference=reference)
    return tuple(
        Note(row["seq"], row["at"], row["person"], kept_body(turn.connection, row["seq"], NoteAdded).text)
        for row in rows
    )


def work_row(row: Any) -> WorkRow:
    """A row of the database as it is shown."""
    given = {
        each.name: row[each.name] for each in fields(WorkRow) if each.name not in ("invented", "out_of_date")
    }
    out_of_date = bool(row["standing"]) and row["assessed_version"] < row["version"]
    if given["standing"] == "candidate" and "remark" not in given["standing_name"]:
        given["standing_name"] += ", remarks not counted"  # kept by a version that did not count them
    return WorkRow(**given, invented=bool(row["invented"]), out_of_date=out_of_date)


def _filtered(found: Select[Any], given: dict[str, Any]) -> Select[Any]:
    columns = schema.work.c
    if given["standing"]:
        found = found.where(columns.standing.in_(given["standing"]))
    if given["owner"] is not None:
        found = found.where(columns.owner == given["owner"])
    if given["state"] is not None:
        found = found.where(columns.state == given["state"])
    if given["waiting"] is not None:
        found = found.where((columns.waiting_for != "") == given["waiting"])
    if given["due_by"] is not None:
        found = found.where(columns.next_due != "", columns.next_due <= given["due_by"])
    if given["asked"] is not None:
        found = found.where((columns.asked > 0) == given["asked"])
    if given["text"]:
        found = found.where(func.substr(columns.reference, 1, len(given["text"])) == given["text"])
    return found
