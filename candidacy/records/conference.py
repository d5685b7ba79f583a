"""What a case conference keeps: meetings, members with declared interests, items, recusals, and ratings that stay hidden
until all have rated. What ratings amount to, and minutes, are made elsewhere from what is kept here."""

from collections.abc import Collection, Sequence
from typing import Any, Literal

from msgspec import Struct
from sqlalchemy import func, select

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records import schema
from candidacy.records.entries import READ, ItemSet, MeetingSet, MemberSet, Rated, Recused, State, Vote
from candidacy.records.lists import Row
from candidacy.records.session import Session, Turn, body
from candidacy.records.trail import Entry, body_bytes, body_from, head_of

ItemState = Literal["queued", "rating", "decided", "withdrawn"]


class Member(Struct, frozen=True):
    """A member of a meeting: role there, declared interest (empty: none declared), and whether present."""

    person: str
    role: str
    interest: str
    present: bool


class Meeting(Struct, frozen=True):
    """A meeting; ``quorum`` is a local choice, since no number is published."""

    seq: int
    held_on: str
    title: str
    quorum: int
    scale: Literal["appropriateness", "vote"]
    state: State
    members: tuple[Member, ...]


class Item(Struct, frozen=True):
    """A question to a conference about one referral, asked at a moment in UTC; ``meeting`` is 0 while it waits in the queue."""

    seq: int
    reference: str
    meeting: int
    question: str
    asked_by: str
    presenter: str
    place: int
    state: ItemState
    round: int
    asked_at: str
    recused: tuple[str, ...]


class Ratings(Struct, frozen=True):
    """Ratings of one round of an item.

    Attributes
    ----------
    awaited
        Who has still to rate.
    quorate
        Whether as many take part as the meeting asks for.
    values
        Value by person and disc (empty: the case); of oneself alone as long as anybody is awaited.
    changed
        Whether the record or its answer became another after the first of them was given, and before it was decided.
    """

    item: int
    round: int
    awaited: tuple[str, ...]
    quorate: bool
    values: dict[tuple[str, str], int | Vote]
    changed: bool = False

    @property
    def complete(self) -> bool:
        """Whether all who take part have rated."""
        return not self.awaited


class Conference(Session):
    """Keeping what a conference is about and what was said there; `Store.sign` keeps its decisions."""

    def set_meeting(
        self,
        held_on: str,
        title: str,
        *,
        quorum: int,
        scale: Literal["appropriateness", "vote"] = "appropriateness",
        state: State = "open",
        meeting: int = 0,
        why: str = "",
    ) -> int:
        """Make a meeting, or change the one given; returns its number.

        Raises
        ------
        StoreError
            E704 for a meeting that there is not, E202 for another quorum, or a change of a meeting that is over, without a reason.
        """
        given = body(MeetingSet, meeting=meeting, held_on=held_on, title=title, quorum=quorum, scale=scale, state=state,
                     why=why)  # fmt: skip
        with self._writing("enter") as turn:
            former = _there(turn, schema.meeting, meeting) if meeting else None
            if former and not why.strip() and (former["state"] == "closed" or former["quorum"] != quorum):
                raise StoreError([Problem(Code.MISSING_KEY, "another quorum, or a change of a meeting that is over, needs its reason",
                                          "meeting", field="why")])  # fmt: skip
            entry = turn.enter(given, replaces=meeting)
        return meeting or entry.seq

    def set_member(
        self,
        meeting: int,
        person: str,
        role: str,
        *,
        interest: str | None = None,
        present: bool | None = None,
        why: str = "",
        former: Member | Literal["new"] | None = None,
    ) -> Member:
        """Add a member to a meeting, or say something else of one.

        Parameters
        ----------
        interest, present
            As it was, where it is not given; of a new member none declared, and present.
        former
            The member as somebody looked at it; ``"new"`` where it was not there.

        Raises
        ------
        StoreError
            E704 for a meeting that there is not; E702 for one that is over, or a member who is not as looked at any more.
        """
        with self._writing("enter") as turn:
            there = _there(turn, schema.meeting, meeting)
            if there["state"] == "closed":
                raise over("meeting", meeting, "open it again with a reason: candidacy conference meeting")
            found = turn.rows.get(schema.member, meeting, person)
            known = (
                Member(found["person"], found["role"], found["interest"], bool(found["present"]))
                if found
                else None
            )
            if former is not None and known != (None if former == "new" else former):
                raise StoreError([Problem(Code.CHANGED_MEANWHILE, "somebody said something else of this member meanwhile", "member",
                                          field=person, next_step="look at it again, and enter what is different")])  # fmt: skip
            if interest is None:
                interest = known.interest if known else ""
            if present is None:
                present = known.present if known else True
            turn.enter(body(MemberSet, meeting=meeting, person=person, role=role, interest=interest, present=present,
                            why=why))  # fmt: skip
        return Member(person, role, interest, present)

    def ask(
        self,
        reference: str,
        question: str,
        *,
        presenter: str = "",
        asked_by: str | None = None,
        place: int = 0,
        why: str = "",
    ) -> Item:
        """Put a question about a referral into the queue of the conference."""
        given = body(ItemSet, question=question, presenter=presenter, place=place, why=why,
                     asked_by=self.person if asked_by is None else asked_by)  # fmt: skip
        with self._writing("enter") as turn:
            turn.work(reference)
            entry = turn.enter(given, reference)
            return _item(turn, _there(turn, schema.item, entry.seq))

    def set_item(self, item: int, *, why: str = "", **fields: Any) -> Item:
        """Change an item: ``meeting``, ``question``, ``presenter``, ``place``, ``state``, ``round``; the rest stays.

        Raises
        ------
        StoreError
            E704 for an item or meeting that there is not; E702 for an item that is over, and for a second round while the
            first is not complete.
        """
        with self._writing("enter") as turn:
            row = _there(turn, schema.item, item)
            if row["state"] in ("decided", "withdrawn"):
                raise over("item", item, "ask again: candidacy conference ask")
            if unknown := sorted(
                set(fields) - {"meeting", "question", "presenter", "place", "state", "round"}
            ):
                raise StoreError(
                    [Problem(Code.UNKNOWN_KEY, "an item has no such field", "item", field=unknown[0])]
                )
            names = ("meeting", "question", "asked_by", "presenter", "place", "state", "round")
            given = body(ItemSet, item=item, why=why, **{name: fields.get(name, row[name]) for name in names})
            if given.meeting:
                _there(turn, schema.meeting, given.meeting)
            if given.round > row["round"] and not _ratings(turn, row, row["round"], self.person).complete:
                raise StoreError([Problem(Code.CHANGED_MEANWHILE, "not all have rated in the round before", "item",
                                          found=str(item), next_step="wait, or say who is not present")])  # fmt: skip
            turn.enter(given, row["reference"], replaces=item)
            return _item(turn, _there(turn, schema.item, item))

    def recuse(self, item: int, person: str, why: str) -> None:
        """Say that a member takes no part in an item, and why."""
        given = body(Recused, item=item, person=person, why=why)
        if not why.strip():
            raise StoreError([Problem(Code.MISSING_KEY, "a recusal needs its reason", "item", field="why")])
        with self._writing("enter") as turn:
            turn.enter(given, _there(turn, schema.item, item)["reference"])

    def rate(self, item: int, value: int | Vote, *, disc: str = "") -> Ratings:
        """Rate as oneself, in the present round; it may be changed until all have rated.

        Raises
        ------
        StoreError
            E703 for who is no member, not present or recused; E702 once the round is complete; E208 for a value of the
            other scale.
        """
        with self._writing("decide") as turn:
            row = _there(turn, schema.item, item)
            meeting = _there(turn, schema.meeting, row["meeting"])
            given = body(Rated, item=item, round=row["round"], person=self.person, disc=disc, value=value)
            if isinstance(value, int) != (meeting["scale"] == "appropriateness"):
                raise StoreError([Problem(Code.BAD_CHOICE, "the meeting rates on another scale", "item", field="value",
                                          found=str(value), expected=meeting["scale"])])  # fmt: skip
            if self.person not in taking_part_now(turn, row):
                raise StoreError([Problem(Code.NOT_ALLOWED, f"{self.person} takes no part in this item", "item",
                                          found=str(item), expected="a member who is present and not recused",
                                          next_step="say who is present: candidacy conference member")])  # fmt: skip
            if (
                row["state"] in ("decided", "withdrawn")
                or _ratings(turn, row, row["round"], self.person).complete
            ):
                raise StoreError([Problem(Code.CHANGED_MEANWHILE, "this round is complete", "item", found=str(item),
                                          next_step="rate in the second round")])  # fmt: skip
            turn.enter(given, row["reference"])
            return _ratings(turn, row, row["round"], self.person)

    def ratings(self, item: int, round: int | None = None) -> Ratings:
        """The ratings of a round, the present one unless another is asked for; one's own alone until all have rated."""
        with self._writing("read") as turn:
            row = _there(turn, schema.item, item)
            found = _ratings(turn, row, round or row["round"], self.person)
            turn.enter(reference=row["reference"])
        return found

    def last_change(self, references: Collection[str]) -> int:
        """The last entry, other than of reading, of these referrals or of no referral, such as one about a meeting."""
        columns = schema.trail.c
        found = select(func.max(columns.seq)).where(
            columns.what != READ, columns.reference.in_(["", *references])
        )
        with self._reading() as connection:
            return int(connection.execute(found).scalar() or 0)

    def meetings(self) -> tuple[Meeting, ...]:
        """All meetings with their members, the last first."""
        with self._reading() as connection:
            rows = connection.execute(
                select(schema.meeting).order_by(schema.meeting.c.held_on.desc(), schema.meeting.c.seq.desc())
            ).mappings()
            members: dict[int, list[Member]] = {}
            for row in connection.execute(select(schema.member).order_by(schema.member.c.person)).mappings():
                members.setdefault(row["meeting"], []).append(
                    Member(row["person"], row["role"], row["interest"], bool(row["present"]))
                )
            return tuple(Meeting(**row, members=tuple(members.get(row["seq"], ()))) for row in rows.all())

    def items(
        self, *, meeting: int | None = None, states: Sequence[ItemState] = (), reference: str | None = None
    ) -> tuple[Item, ...]:
        """Items of a meeting (0: of the queue), of some states, of a referral; in their order."""
        columns = schema.item.c
        asked = schema.trail.c.at.label("asked_at")
        found = select(schema.item, asked).join(schema.trail, schema.trail.c.seq == columns.seq)
        found = found.order_by(columns.place, columns.seq)
        if meeting is not None:
            found = found.where(columns.meeting == meeting)
        if states:
            found = found.where(columns.state.in_(states))
        if reference is not None:
            found = found.where(columns.reference == reference)
        with self._reading() as connection:
            rows = connection.execute(found).mappings().all()
            out: dict[int, list[str]] = {}
            for row in connection.execute(
                select(schema.recusal).order_by(schema.recusal.c.person)
            ).mappings():
                out.setdefault(row["item"], []).append(row["person"])
            return tuple(Item(**row, recused=tuple(out.get(row["seq"], ()))) for row in rows)


def over(what: str, number: int, step: str) -> StoreError:
    """The refusal of what is over."""
    return StoreError(
        [Problem(Code.CHANGED_MEANWHILE, f"this {what} is over", what, found=str(number), next_step=step)]
    )


def _there(turn: Turn, table: Any, number: int) -> Row:
    found = turn.rows.get(table, number)
    if found is None:
        listed = "meetings lists them" if table is schema.meeting else "queue and meetings list them"
        raise StoreError([Problem(Code.UNKNOWN_REFERRAL, f"there is no such {table.name}", table.name, found=str(number),
                                  next_step=f"candidacy conference {listed}")])  # fmt: skip
    return found


def _item(turn: Turn, row: Row) -> Item:
    recused = turn.rows.where(schema.recusal, item=row["seq"])
    asked = turn.rows.get(schema.trail, row["seq"])
    assert asked is not None
    return Item(**row, asked_at=asked["at"], recused=tuple(each["person"] for each in recused))


def taking_part_now(turn: Turn, row: Row) -> list[str]:
    """Who is present at the meeting of an item and not recused from it."""
    recused = {each["person"] for each in turn.rows.where(schema.recusal, item=row["seq"])}
    members = turn.rows.where(schema.member, meeting=row["meeting"], present=1)
    return [each["person"] for each in members if each["person"] not in recused]


def not_to_be_seen(turn: Turn, entry: Entry, person: str) -> bool:
    """Whether an entry is a rating of somebody else's in a round that others have still to rate in."""
    if entry.what != "rated":
        return False
    content = body_bytes(turn.connection, entry.seq)
    if content is None:
        return False
    said = body_from(entry.what, content)
    assert isinstance(said, Rated)
    if said.person == person:
        return False
    row = turn.rows.get(schema.item, said.item)
    return row is not None and (said.person, said.disc) not in _ratings(turn, row, said.round, person).values


def _ratings(turn: Turn, row: Row, round: int, person: str) -> Ratings:
    taking_part = taking_part_now(turn, row)
    given = list(turn.rows.where(schema.rating, item=row["seq"], round=round))
    rated = {each["person"] for each in given}
    over = row["state"] == "decided" or row["round"] > round  # who joins later has nothing to rate in it
    awaited = () if over else tuple(each for each in taking_part if each not in rated)
    meeting = turn.rows.get(schema.meeting, row["meeting"])
    values = {
        (each["person"], each["disc"]): _value(each["value"])
        for each in given
        if (not awaited and (taking_part or over)) or each["person"] == person
    }
    quorate = meeting is not None and len(taking_part) >= meeting["quorum"]
    changed = bool(given) and _changed_after(turn, row, min(each["seq"] for each in given))
    return Ratings(row["seq"], round, awaited, quorate, values, changed)


def _changed_after(turn: Turn, item: Row, first: int) -> bool:
    """Whether the record of an item, or its last answer, became another after an entry and before the item was decided."""
    reference = item["reference"]
    decided = [
        each["seq"] for each in turn.rows.where(schema.decision, reference=reference, item=item["seq"])
    ]
    until = min(decided, default=head_of(turn.connection)[0].size + 1)
    if any(first < each["seq"] < until for each in turn.rows.where(schema.version, reference=reference)):
        return True
    answers = [
        each for each in turn.rows.where(schema.assessment, reference=reference) if each["seq"] < until
    ]
    before = [each["document_digest"] for each in answers if each["seq"] < first]
    return answers[-1:] != [] and [answers[-1]["document_digest"]] != before[-1:]


def _value(text: str) -> int | Vote:
    if text.isdigit():
        return int(text)
    assert text in ("for", "against", "defer")
    return text  # type: ignore[return-value]
