"""The lists made from the trail: what each entry changes in them.

It is said once, over `Rows`, and used twice: on the database when an entry is written, and in memory when a store is
verified, so that a list that somebody altered differs from what the trail says.
"""

from collections.abc import Iterable, Mapping
from typing import Any, Protocol

from sqlalchemy import Table

from candidacy.records import schema
from candidacy.records.entries import (
    ActAdded,
    ActEnded,
    Assessed,
    Body,
    CaseSaved,
    CourseSaved,
    ItemSet,
    LetterKept,
    MeetingSet,
    MemberSet,
    NoteAdded,
    PersonSet,
    Rated,
    Recused,
    ReportKept,
    Signed,
    WorkSet,
)

Row = dict[str, Any]
# Lists that hold rows of a referral, those that refer to others first.
OF_REFERRAL = (
    schema.item,
    schema.decision,
    schema.act,
    schema.note,
    schema.report,
    schema.assessment,
    schema.version,
    schema.course,
)


class Rows(Protocol):
    """Rows of the lists, by their keys."""

    def get(self, table: Table, *key: Any) -> Row | None:
        """The row of a key, or ``None``."""

    def put(self, table: Table, row: Row) -> None:
        """Add a row, or put it in the place of the one with its key."""

    def drop(self, table: Table, **equal: Any) -> None:
        """Take out the rows of which columns equal what is given."""

    def where(self, table: Table, **equal: Any) -> Iterable[Row]:
        """The rows of which columns equal what is given, in the order of their keys."""


def list_entry(rows: Rows, entry: Mapping[str, Any], body: Body | None) -> None:
    """Change the lists by what one entry says. Entries without a body, of reading, change nothing."""
    reference, seq, at = entry["reference"], entry["seq"], entry["at"]
    who = {"at": at, "person": entry["person"]}
    match body:
        case PersonSet():
            access = ",".join(body.access)
            rows.put(schema.person, {"person": body.person, "role": body.role, "access": access, "seq": seq})
        case CaseSaved():
            work = rows.get(schema.work, reference) or _new(reference, at)
            work |= {"version": body.version, "invented": int(body.invented)}
            rows.put(schema.work, work | {"changed": at})
            rows.put(schema.version, {"reference": reference, "version": body.version, "seq": seq, "digest": body.digest,
                                      "reason": body.why, **who})  # fmt: skip
        case CourseSaved():
            rows.put(schema.course, {"reference": reference, "version": body.version, "case_version": body.case_version,
                                     "seq": seq, "digest": body.digest, "reason": body.why, **who})  # fmt: skip
            _change(rows, reference, at)
        case Assessed():
            same = {name: getattr(body, name) for name in ("rules", "rules_version", "rules_digest", "record_digest",
                    "program", "as_of", "standing", "document_digest", "library", "version")}  # fmt: skip
            rows.put(schema.assessment, {"seq": seq, "reference": reference, **same})
            _change(rows, reference, at, standing=body.standing, standing_name=body.standing_name, shown=body.shown, stops=body.stops, rules=body.rules,
                    rules_digest=body.rules_digest, as_of=body.as_of, assessed_version=body.version,
                    missing=body.missing)  # fmt: skip
        case ReportKept():
            rows.put(schema.report, {"seq": seq, "reference": reference, "kind": body.kind, "digest": entry["after"],
                                     "accepted": len(body.accepted), **who})  # fmt: skip
            _change(rows, reference, at)
        case LetterKept():
            _change(rows, reference, at)
        case NoteAdded():
            rows.put(schema.note, {"seq": seq, "reference": reference, **who})
            _change(rows, reference, at)
        case ActAdded():
            rows.put(schema.act, {"seq": seq, "reference": reference, "what": body.act, "owner": body.owner,
                                  "due": body.due, "state": "open", "ended": ""})  # fmt: skip
            _change(rows, reference, at, **_next_act(rows, reference))
        case ActEnded():
            rows.put(
                schema.act,
                _found(rows.get(schema.act, body.act)) | {"state": body.state, "ended": at},
            )
            _change(rows, reference, at, **_next_act(rows, reference))
        case WorkSet():
            former = _found(rows.get(schema.work, reference))
            since = former["waiting_since"] if body.waiting_for == former["waiting_for"] else at
            _change(rows, reference, at, owner=body.owner, waiting_for=body.waiting_for, state=body.state,
                    waiting_since=since if body.waiting_for else "")  # fmt: skip
        case Signed():
            _decided(rows, reference, seq, body)
            _change(rows, reference, at)
        case MeetingSet() | MemberSet() | ItemSet() | Recused() | Rated():
            _of_conference(rows, reference, seq, at, body)


def forget(rows: Rows, reference: str) -> None:
    """Take a removed referral out of every list."""
    for row in rows.where(schema.item, reference=reference):
        rows.drop(schema.rating, item=row["seq"])
        rows.drop(schema.recusal, item=row["seq"])
    for table in (*OF_REFERRAL, schema.work):
        rows.drop(table, reference=reference)


def _decided(rows: Rows, reference: str, seq: int, body: Signed) -> None:
    same = {name: getattr(body, name) for name in ("item", "decision", "meaning", "responsible", "review_on", "version",
            "record_digest", "assessment", "rules_digest")}  # fmt: skip
    rows.put(schema.decision, {"seq": seq, "reference": reference, "discs": ",".join(body.discs), "corrected_by": 0, **same})  # fmt: skip
    if body.corrects:
        rows.put(schema.decision, _found(rows.get(schema.decision, body.corrects)) | {"corrected_by": seq})
    if body.item:
        rows.put(schema.item, _found(rows.get(schema.item, body.item)) | {"state": "decided"})
        _asked(rows, reference)


def _of_conference(rows: Rows, reference: str, seq: int, at: str, body: Body) -> None:
    match body:
        case MeetingSet():
            fields = {name: getattr(body, name) for name in ("held_on", "title", "quorum", "scale", "state")}
            rows.put(schema.meeting, {"seq": body.meeting or seq, **fields})
        case MemberSet():
            fields = {name: getattr(body, name) for name in ("meeting", "person", "role", "interest")}
            rows.put(schema.member, {**fields, "present": int(body.present)})
        case ItemSet():
            names = ("meeting", "question", "asked_by", "presenter", "place", "state", "round")
            fields = {name: getattr(body, name) for name in names}
            rows.put(schema.item, {"seq": body.item or seq, "reference": reference, **fields})
            _asked(rows, reference)
            _change(rows, reference, at)
        case Recused():
            rows.put(schema.recusal, {"item": body.item, "person": body.person, "seq": seq})
        case Rated():
            fields = {name: getattr(body, name) for name in ("item", "round", "person", "disc")}
            rows.put(schema.rating, {**fields, "value": str(body.value), "seq": seq})


def _new(reference: str, at: str) -> Row:
    empty: Row = dict.fromkeys((column.name for column in schema.work.columns), "")
    zeros = dict.fromkeys(("invented", "stops", "version", "assessed_version", "missing", "asked"), 0)
    return empty | zeros | {"reference": reference, "opened": at, "changed": at, "state": "open"}


def _change(rows: Rows, reference: str, at: str, **fields: Any) -> None:
    rows.put(schema.work, _found(rows.get(schema.work, reference)) | {"changed": at} | fields)


def _asked(rows: Rows, reference: str) -> None:
    waiting = [
        row for row in rows.where(schema.item, reference=reference) if row["state"] in ("queued", "rating")
    ]
    rows.put(schema.work, _found(rows.get(schema.work, reference)) | {"asked": len(waiting)})


def _next_act(rows: Rows, reference: str) -> Row:
    """The open act that is due first; those without a day come last, in the order in which they were added."""
    waiting = list(rows.where(schema.act, reference=reference, state="open"))
    first = min(waiting, key=lambda row: (not row["due"], row["due"], row["seq"]), default=None)
    if first is None:
        return {"next_act": "", "next_due": "", "next_owner": ""}
    return {"next_act": first["what"], "next_due": first["due"], "next_owner": first["owner"]}


def _found(row: Row | None) -> Row:
    if row is None:
        raise LookupError("an entry speaks of a row that no entry before it made")
    return row
