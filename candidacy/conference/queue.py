"""The queue of a conference: what was asked for, and borderline referrals that nobody has asked about yet."""

from collections.abc import MutableMapping

from msgspec import Struct

from candidacy.conference.case_page import failing_of
from candidacy.conference.found import item_of, meeting_of
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.labels import standing_words
from candidacy.explain.record import danger_lines
from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records.answers import OF_ANOTHER_FORM
from candidacy.records.conference import Item, over
from candidacy.records.store import Store
from candidacy.records.work import WorkRow

MOST = 200  # referrals shown at once; how many more there are is told


class Waiting(Struct, frozen=True):
    """One line of the queue.

    Attributes
    ----------
    item
        ``None`` for a borderline referral that nobody has asked about.
    standing
        In words, with what makes it doubtful; stops come first.
    failing
        Relative criteria that fail, each with its margin.
    dangers
        Recorded signs of danger that no deciding criterion reads: they make a case borderline where nothing fails.
    missing
        How many facts are missing.
    """

    item: Item | None
    reference: str
    invented: bool
    standing: str
    as_of: str
    failing: tuple[str, ...]
    dangers: tuple[str, ...]
    missing: int
    waiting_for: str

    @property
    def asked_on(self) -> str:
        """The day on which it was asked, in UTC; empty where it was not."""
        return self.item.asked_at[:10] if self.item else ""


Read = MutableMapping[tuple[str, str], tuple[tuple[str, ...], tuple[str, ...]]]
"""What fails, and signs of danger, by reference and moment of the last change."""


def queue_of(store: Store, read: Read | None = None) -> tuple[Waiting, ...]:
    """Items that wait, in their order, then borderline referrals nobody has asked about, the longest unchanged first.

    What was decided does not come back by itself; `candidacy.conference.again.all_to_look_at` lists what should.

    Each referral is opened for it, and that is entered as read.

    Parameters
    ----------
    read
        What a caller that shows the queue again and again has read before; it is filled, and not read again.
    """
    known = {} if read is None else read
    items = store.items(meeting=0, states=("queued", "rating"))
    rows = {row.reference: row for row in _asked_about(store, {item.reference for item in items})}
    told = {item.reference for item in store.items(states=("rating", "decided"))}
    new = [
        row
        for row in store.list_referrals(standing=("borderline",), asked=False, order="changed", limit=MOST)
        if row.reference not in told
    ]
    found = [_waiting(store, item, rows[item.reference], known) for item in items if item.reference in rows]
    return (*found, *(_waiting(store, None, row, known) for row in reversed(new)))


def _asked_about(store: Store, wanted: set[str]) -> list[WorkRow]:
    found: list[WorkRow] = []
    while wanted - {row.reference for row in found}:
        more = store.list_referrals(asked=True, state=None, order="reference", limit=MOST, start=len(found))
        found += more
        if len(more) < MOST:
            break
    return found


def _waiting(store: Store, item: Item | None, row: WorkRow, known: Read) -> Waiting:
    key = (row.reference, row.changed)
    if key not in known:
        answer = store.open_referral(row.reference).answer
        document = answer.readable if answer else None
        if document is not None:
            known[key] = _fails(document), tuple(danger_lines(document, cited=False))
        else:
            known[key] = ((f"{OF_ANOTHER_FORM}: assess it again",) if answer else ()), ()
    failing, dangers = known[key]
    return Waiting(
        item,
        row.reference,
        row.invented,
        standing_told(row),
        row.as_of,
        failing,
        dangers,
        row.missing,
        row.waiting_for,
    )


def _fails(document: AssessmentDocument) -> tuple[str, ...]:
    return tuple(
        ("" if each.subject == "patient" else f"{each.subject}: ")
        + each.found
        + (f" ({'; '.join(each.margins)})" if each.margins else "")
        for each in failing_of(document)
    )


def standing_told(row: WorkRow) -> str:
    """The standing of a referral in a list, with what makes it doubtful."""
    if not row.standing:
        return "not assessed"
    told = ("STOP; " if row.stops else "") + standing_words(row.shown, row.standing_name)
    return f"{told}, of an earlier version" if row.out_of_date else told


def ask_about(store: Store, reference: str, question: str, *, presenter: str = "", why: str = "") -> Item:
    """Put a question about a referral at the end of the queue."""
    last = max((item.place for item in store.items(meeting=0)), default=0)
    return store.ask(reference, question, presenter=presenter, place=last + 1, why=why)


def put_at(store: Store, item: int, place: int) -> None:
    """Put an item at a place, counted from 1, of its queue or meeting; the others keep their order.

    Raises
    ------
    StoreError
        E704 for an item that there is not, E205 for a place that there is not.
    """
    here = item_of(store, item)
    among = [each for each in store.items(meeting=here.meeting) if each.state in ("queued", "rating")]
    numbers = [each.seq for each in among if each.seq != item]
    if here not in among or not 1 <= place <= len(among):
        raise StoreError([Problem(Code.IMPOSSIBLE_VALUE, "there is no such place in this order", "place", found=str(place),
                                  expected=f"1 to {len(among)}" if here in among else "an item that is not over")])  # fmt: skip
    numbers.insert(place - 1, item)
    for number, seq in enumerate(numbers, 1):
        if next(each.place for each in among if each.seq == seq) != number:
            store.set_item(seq, place=number, why="put in order")


def take_up(store: Store, item: int, meeting: int) -> Item:
    """Take an item from the queue to a meeting, where it can be rated.

    Raises
    ------
    StoreError
        E704 for an item or meeting that there is not, E702 for a meeting or item that is over.
    """
    there, here = meeting_of(store, meeting), item_of(store, item)
    if there.state == "closed":
        raise over("meeting", there.seq, "make another: candidacy conference meeting")
    if here.state in ("decided", "withdrawn"):
        raise over("item", item, "ask again: candidacy conference ask")
    if here.meeting and here.meeting != meeting and (here.round > 1 or any(_rated(store, here))):
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "this item was rated at another meeting", "item", found=str(item),
                                  next_step="withdraw it and ask again")])  # fmt: skip
    last = max((each.place for each in store.items(meeting=meeting)), default=0)
    return store.set_item(item, meeting=meeting, state="rating", place=last + 1)


def withdraw(store: Store, item: int, why: str) -> Item:
    """Take an item out of the queue or its meeting; what was entered of it stays in the trail.

    Raises
    ------
    StoreError
        E202 without a reason, E702 for an item that is over.
    """
    if item_of(store, item).state in ("decided", "withdrawn"):
        raise over("item", item, "a decision is corrected by another: candidacy conference decide --corrects")
    if not why.strip():
        raise StoreError([Problem(Code.MISSING_KEY, "a withdrawal needs its reason", "item", field="why")])
    return store.set_item(item, state="withdrawn", why=why)


def _rated(store: Store, item: Item) -> list[bool]:
    there = meeting_of(store, item.meeting)
    part = {m.person for m in there.members if m.present and m.person not in item.recused}
    return [bool(part - set(store.ratings(item.seq).awaited))]
