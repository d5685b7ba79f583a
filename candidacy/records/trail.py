"""The trail: entries that are only ever added, each chained to the one before and counted in a Merkle tree."""

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

from msgspec import Struct
from msgspec.structs import asdict
from sqlalchemy import Connection, insert, select, update
from sqlalchemy.exc import NoResultFound

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.canonical import ZERO, body_of, canonical, chained, pack, salted, sha256, unpack
from candidacy.records.entries import KINDS, Body
from candidacy.records.lists import Rows, list_entry
from candidacy.records.merkle import Frontier, leaf_hash

Clock = Callable[[], datetime]
_HASHED = ("seq", "at", "person", "role", "what", "reference", "before", "after", "prev")


def now() -> datetime:
    """This moment, in UTC."""
    return datetime.now(UTC)


def moment(at: datetime) -> str:
    """A moment as the trail writes it, to the microsecond.

    Raises
    ------
    ValueError
        For a moment without a time zone.
    """
    if at.tzinfo is None:
        raise ValueError("a moment without a time zone")
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


class Entry(Struct, frozen=True):
    """One entry of the trail as it stands there; ``after`` is the digest of its body, ``before`` of what it replaces."""

    seq: int
    at: str
    person: str
    role: str
    what: str
    reference: str
    before: str
    after: str
    prev: str
    hash: str

    @property
    def hashed(self) -> tuple[bytes, str]:
        """The bytes it is hashed over, and the hash they give."""
        return chained({name: getattr(self, name) for name in _HASHED})


class Head(Struct, frozen=True):
    """Where a trail ends: how many entries, the hash of the last, and the head of the tree over all of them."""

    size: int
    last: str
    root: str

    @property
    def words(self) -> str:
        """What is printed and kept elsewhere: ``size:root``."""
        return f"{self.size}:{self.root}"


def head_of(connection: Connection) -> tuple[Head, Frontier]:
    """The head as it stands in the database.

    Raises
    ------
    StoreError
        E705 if it is damaged: then nothing can be entered.
    """
    try:
        row = connection.execute(select(schema.head)).mappings().one()
        frontier = Frontier(row["size"], [bytes.fromhex(peak) for peak in json.loads(row["peaks"])])
    except (NoResultFound, ValueError, TypeError) as error:
        raise StoreError([Problem(Code.DOES_NOT_VERIFY, "the end of the trail is damaged", "head",
                                  found=type(error).__name__, next_step="candidacy records verify; then restore a backup")]) from None  # fmt: skip
    return Head(row["size"], row["last"], frontier.head.hex()), frontier


def put_head(connection: Connection, frontier: Frontier, last: str) -> None:
    """Write where the trail ends."""
    peaks = json.dumps([peak.hex() for peak in frontier.peaks])
    connection.execute(update(schema.head).values(size=frontier.size, last=last, peaks=peaks))


def enter(
    connection: Connection,
    rows: Rows,
    *,
    at: datetime,
    person: str,
    role: str,
    what: str,
    reference: str = "",
    body: Body | None = None,
    replaces: int = 0,
) -> Entry:
    """Add an entry with its body, and change the lists by what it says; within a transaction that writes.

    Parameters
    ----------
    replaces
        The entry of which the body stood before; its digest becomes ``before``.
    """
    head, frontier = head_of(connection)
    after, packed = "", None
    if body is not None:
        content = canonical(salted({"what": what, **body.model_dump(mode="json")}))
        after, packed = sha256(content), pack(content)
    before = ""
    if replaces:
        before = connection.execute(
            select(schema.trail.c.after).where(schema.trail.c.seq == replaces)
        ).scalar_one()
    fields: dict[str, Any] = {
        "seq": head.size + 1, "at": moment(at), "person": person, "role": role, "what": what, "reference": reference,
        "before": before, "after": after, "prev": head.last,
    }  # fmt: skip
    content, own = chained(fields)
    fields["hash"] = own
    connection.execute(insert(schema.trail).values(fields))
    if packed is not None:
        connection.execute(
            insert(schema.trail_body).values(seq=fields["seq"], reference=reference, body=packed)
        )
    frontier.append(leaf_hash(content))
    put_head(connection, frontier, own)
    list_entry(rows, fields, body)
    return Entry(**fields)


def entries(connection: Connection, *, reference: str | None = None, after: int = 0) -> Iterator[Entry]:
    """Entries in their order, all or of one referral."""
    found = select(schema.trail).where(schema.trail.c.seq > after).order_by(schema.trail.c.seq)
    if reference is not None:
        found = found.where(schema.trail.c.reference == reference)
    for row in connection.execute(found.execution_options(yield_per=1000)).mappings():
        yield Entry(**row)


def body_bytes(connection: Connection, seq: int) -> bytes | None:
    """The canonical JSON of a body, or ``None`` where there is none or it was removed.

    Raises
    ------
    ValueError
        If what is kept cannot be unpacked.
    """
    packed = connection.execute(
        select(schema.trail_body.c.body).where(schema.trail_body.c.seq == seq)
    ).scalar()
    return None if packed is None else unpack(packed)


def body_from(what: str, content: bytes) -> Body:
    """The body that canonical JSON says, checked against its kind.

    Raises
    ------
    ValueError
        If it is of another kind, or not of its shape.
    """
    plain = body_of(content)
    if plain.pop("what", None) != what or what not in KINDS:
        raise ValueError("is of another kind")
    plain.pop("salt", None)
    return KINDS[what].model_validate(plain)


def as_dict(entry: Entry) -> Mapping[str, Any]:
    """The entry as plain data."""
    return asdict(entry)


__all__ = [
    "ZERO", "Clock", "Entry", "Head", "as_dict", "body_bytes", "body_from", "enter", "entries", "head_of", "moment", "now",
    "put_head",
]  # fmt: skip
