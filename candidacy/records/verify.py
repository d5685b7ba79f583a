"""Whether everything kept is what was entered: what was altered, removed, reordered or inserted, and where."""

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from msgspec import Struct
from sqlalchemy import Connection, func, select

from candidacy.foundation.errors import Code, InputError, Problem, StoreError, shown
from candidacy.records import schema
from candidacy.records.canonical import ZERO, sha256, unpack
from candidacy.records.entries import KINDS
from candidacy.records.lists import list_entry
from candidacy.records.merkle import Frontier, leaf_hash
from candidacy.records.rows import MemoryRows
from candidacy.records.rules_kept import files_named
from candidacy.records.trail import Entry, Head, body_from, entries, head_of

_MOST = 200  # findings that are told one by one
Progress = Callable[[int, int], None]


class Verified(Struct, frozen=True):
    """What was found.

    Attributes
    ----------
    findings
        What is not as it was entered, a sentence each; at most 200, then one that says how many more.
    head
        Where the trail ends, as worked out from its entries.
    removed
        Referrals that were removed under a retention rule, and leave their entries without what these said.
    """

    findings: tuple[str, ...]
    head: Head
    removed: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """Whether everything is as it was entered."""
        return not self.findings


def parse_head(text: str) -> tuple[int, str]:
    """Size and root of a printed head.

    Raises
    ------
    StoreError
        E601 for what is none.
    """
    found = re.fullmatch(r"\s*(\d{1,12}):([0-9a-fA-F]{64})\s*", text)
    if found is None:
        raise StoreError([Problem(Code.USAGE, "this is no printed head", "--head", found=shown(text),
                                  expected="SIZE:64 hexadecimal digits")])  # fmt: skip
    return int(found[1]), found[2].lower()


def verify(connection: Connection, heads: Sequence[str] = (), progress: Progress | None = None) -> Verified:
    """Verify a store as it is at one moment.

    Parameters
    ----------
    heads
        Heads that were printed before.
    progress
        Called now and then with how many of how many entries were looked at.
    """
    return _Verification(connection, heads, progress).run()


class _Verification:
    def __init__(self, connection: Connection, heads: Sequence[str], progress: Progress | None) -> None:
        self.connection = connection
        self.asked = [parse_head(text) for text in heads]
        self.progress = progress
        self.findings: list[str] = []
        removals = connection.execute(select(schema.removal.c.reference, schema.removal.c.seq))
        self.removed: dict[str, int] = {row.reference: row.seq for row in removals}
        self.lists = MemoryRows()
        self.listed = True  # whether every entry could be listed, so that lists may be compared

    def say(self, finding: str) -> None:
        self.findings.append(finding)

    def run(self) -> Verified:
        frontier, last = self._trail()
        self._removals()
        self._end(Head(frontier.size, last, frontier.head.hex()))
        self._content()
        if self.listed:
            self._lists()
        else:
            self.say("The lists were not compared with the trail, because it is damaged.")
        told = self.findings[:_MOST]
        if len(self.findings) > _MOST:
            told.append(f"{len(self.findings) - _MOST} further findings.")
        return Verified(
            tuple(told), Head(frontier.size, last, frontier.head.hex()), tuple(sorted(self.removed))
        )

    def _end(self, found: Head) -> None:
        """The place where the database says that the trail ends."""
        try:
            head, _ = head_of(self.connection)
        except StoreError:
            self.say("The end of the trail was altered: it cannot be read.")
            return
        if head != found:
            told = f"it says {head.size} entries, and there are {found.size}"
            self.say(
                f"The end of the trail was altered: {told}{', of another content' * (head.size == found.size)}."
            )

    def _trail(self) -> tuple[Frontier, str]:
        """Every entry in its order: its own hash, its place in the chain, its body."""
        total = self.connection.execute(select(func.count()).select_from(schema.trail)).scalar_one()
        frontier, last, place = Frontier(), ZERO, 0
        asked = dict.fromkeys(size for size, _ in self.asked)
        roots = {0: frontier.head.hex()}
        broken = False
        bodies = self._bodies()
        held = next(bodies, None)
        for entry in entries(self.connection):
            place += 1
            while place < entry.seq:
                self.say(f"Entry {place} was removed.")
                place, broken = place + 1, True
            hashed, own = entry.hashed
            if own != entry.hash:
                self.say(f"Entry {entry.seq} was altered: it is not what its hash was made of.")
                broken = True
            elif entry.prev != last:
                self.say(f"Entry {entry.seq} does not follow the entry before it.")
                broken = True
            while held is not None and held[0] < entry.seq:
                self.say(f"A body of entry {held[0]} is kept, and there is no such entry.")
                held = next(bodies, None)
            body = held[1:] if held is not None and held[0] == entry.seq else None
            held = next(bodies, None) if body is not None else held
            self._entry(entry, body)
            last = entry.hash
            frontier.append(leaf_hash(hashed))
            if frontier.size in asked:
                roots[frontier.size] = frontier.head.hex()
            if self.progress is not None and place % 1000 == 0:
                self.progress(place, total)
        for seq, *_ in [held, *bodies] if held is not None else []:
            self.say(f"A body of entry {seq} is kept, and there is no such entry.")
        if broken:
            self._moved()
        self._heads(roots, frontier.size)
        return frontier, last

    def _bodies(self) -> Any:
        columns = schema.trail_body.c
        found = select(columns.seq, columns.reference, columns.body).order_by(columns.seq)
        yield from self.connection.execute(found.execution_options(yield_per=200))

    def _entry(self, entry: Entry, body: tuple[str, bytes | None] | None) -> None:
        """What an entry says: its body is the one whose digest it holds, and is listed."""
        if entry.what in KINDS and not entry.after:
            self.say(f"Entry {entry.seq} ({entry.what}) should have a body.")
        if not entry.after:
            if body is not None:
                self.say(f"Entry {entry.seq} has no body, and one is kept for it.")
            return
        if body is None or body[1] is None:
            removal = self.removed.get(entry.reference, 0)
            if not (body is not None and entry.reference and entry.seq < removal):
                self.say(f"The body of entry {entry.seq} ({entry.what}) was removed without a removal.")
                self.listed = False
            return
        if body[0] != entry.reference:
            self.say(f"The body of entry {entry.seq} was put to another referral.")
        try:
            content = unpack(body[1])
        except ValueError as error:
            content = str(error).encode()
        if sha256(content) != entry.after:
            self.say(f"The body of entry {entry.seq} ({entry.what}) was altered.")
            self.listed = False
            return
        if entry.reference in self.removed:
            if entry.seq < self.removed[entry.reference]:
                self.say(
                    f"The body of entry {entry.seq} is still kept, though {entry.reference} was removed."
                )
            return
        try:
            row = {name: getattr(entry, name) for name in Entry.__struct_fields__}
            list_entry(self.lists, row, body_from(entry.what, content))
        except (ValueError, LookupError, InputError) as error:
            self.say(f"Entry {entry.seq} ({entry.what}) cannot be understood: {str(error).splitlines()[0]}")
            self.listed = False

    def _moved(self) -> None:
        """Where the chain of hashes has the entries that stand elsewhere."""
        after: dict[str, Entry] = {}
        for entry in entries(self.connection):
            after.setdefault(entry.prev, entry)
        place, last = 0, ZERO
        walked: set[str] = set()
        while (found := after.get(last)) is not None and found.hash not in walked:
            place, last = place + 1, found.hash
            walked.add(found.hash)
            if found.seq != place:
                self.say(f"Entry {place} was moved: it now stands at {found.seq}.")
        for entry in entries(self.connection):
            if entry.hash not in walked and entry.seq <= place:
                self.say(f"Entry {entry.seq} was inserted: nothing in the trail leads to it.")

    def _heads(self, roots: dict[int, str], size: int) -> None:
        for asked, root in self.asked:
            if asked > size:
                self.say(
                    f"A head over {asked} entries was printed, and there are {size}: later ones were removed."
                )
            elif roots.get(asked) != root:
                self.say(f"The first {asked} entries are not those of the head that was printed.")

    def _removals(self) -> None:
        for reference, seq in self.removed.items():
            row = self.connection.execute(
                select(schema.trail.c.what, schema.trail.c.reference).where(schema.trail.c.seq == seq)
            ).first()
            if row is None or tuple(row) != ("removed", reference):
                self.say(f"The removal of {reference} is not in the trail.")
        seen = self.connection.execute(
            select(schema.trail.c.reference, schema.trail.c.seq).where(schema.trail.c.what == "removed")
        )
        for reference, seq in seen:
            if self.removed.get(reference) != seq:
                self.say(
                    f"The removal of {reference} by entry {seq} is in the trail, and not among the removals."
                )

    def _content(self) -> None:
        """Kept rule text is that of its digest, and what kept answers name is there, down to each file."""
        there = set()
        named: dict[str, str] = {}  # digest of a file: its place in a library
        libraries = {row["library"] for row in self.lists.where(schema.assessment)}
        found = select(schema.content.c.digest, schema.content.c.body).execution_options(yield_per=200)
        for digest, packed in self.connection.execute(found):
            there.add(digest)
            try:
                content = unpack(packed)
            except ValueError:
                content = b""
            if sha256(content) != digest:
                self.say(f"Kept rule text {digest[:16]} was altered.")
            elif digest in libraries:
                named |= files_named(content)
        for row in self.lists.where(schema.assessment):
            if row["library"] not in there:
                self.say(f"The rule text of the answer of entry {row['seq']} was removed.")
        for digest in sorted(named.keys() - there):
            self.say(f"Kept rule text {digest[:16]}, {named[digest]}, was removed.")

    def _lists(self) -> None:
        """Every list holds what the trail says, row by row."""
        for table in schema.LISTS:
            wanted = dict(self.lists.tables[table.name])
            keys = [column.name for column in table.primary_key]
            for found in self.connection.execute(select(table)).mappings():
                key = tuple(found[name] for name in keys)
                row = wanted.pop(key, None)
                if row is None:
                    self.say(f"List {table.name}: row {_key(key)} was inserted.")
                else:
                    for name in _differs(row, found):
                        self.say(f"List {table.name}: {name} of row {_key(key)} was altered.")
            for key in wanted:
                self.say(f"List {table.name}: row {_key(key)} was removed.")


def _differs(row: dict[str, Any], found: Any) -> Iterable[str]:
    return (name for name in row if row[name] != found[name])


def _key(key: tuple[Any, ...]) -> str:
    return " ".join(str(part) for part in key)
