"""Rating, and recording what people decided. Nothing is proposed: every word of a decision is given by a person."""

from collections.abc import Sequence

from msgspec import Struct

from candidacy.case.element import LEVELS
from candidacy.conference.found import item_of, meeting_of
from candidacy.conference.rounds import Round, round_of
from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records.conference import Item, Meeting, over
from candidacy.records.decisions import Decision
from candidacy.records.entries import Meaning, Recommendation, Vote
from candidacy.records.store import Store

DECISIONS: dict[Recommendation, str] = {
    "treat": "treat",
    "not": "do not treat",
    "not_yet": "not yet",
    "more_tests": "more tests",
}
# what a decision says more than itself, and how that is asked for; any other detail belongs to another decision
_MORE: dict[Recommendation, dict[str, str]] = {
    "treat": {"discs": "which disc"},
    "not": {},
    "not_yet": {"until": "until which day", "after": "after what"},
    "more_tests": {"tests": "which tests"},
}
QUORUM = "a choice of this conference; no number is published"


class Said(Struct, frozen=True):
    """What was decided, as people say it; see `Store.sign` for what each decision needs.

    Attributes
    ----------
    dissent
        Person and reason of each who would have decided otherwise.
    """

    decision: Recommendation
    reason: str
    responsible: str
    discs: Sequence[str] = ()
    until: str = ""
    after: str = ""
    tests: Sequence[str] = ()
    conditions: Sequence[str] = ()
    dissent: Sequence[tuple[str, str]] = ()
    review_on: str = ""


def rate(store: Store, item: int, value: int | Vote, *, looked_at: int = 0) -> Round:
    """Rate an item as oneself, in the present round; what others gave stays hidden until all have rated.

    Parameters
    ----------
    looked_at
        The round that was looked at, where somebody looked.

    Raises
    ------
    StoreError
        E702 for an item that waits in the queue, or is over, or in another round than was looked at; otherwise as `Store.rate`.
    """
    here, _ = _at_meeting(store, item)
    if looked_at and here.round != looked_at:
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "another round was begun meanwhile", "item", found=f"round {here.round}",
                                  expected=f"round {looked_at}", next_step="look at it again")])  # fmt: skip
    return round_of(store.rate(item, value), store.person)


def second_round(store: Store, item: int) -> Item:
    """Begin the second round, once all have rated in the first and talked about it.

    Raises
    ------
    StoreError
        E702 while the first is not complete, or where it is the second already.
    """
    here, _ = _at_meeting(store, item)
    if here.round > 1:
        raise StoreError(
            [Problem(Code.CHANGED_MEANWHILE, "this is the second round already", "item", found=str(item))]
        )
    if not store.ratings(item).values:
        raise StoreError(
            [Problem(Code.CHANGED_MEANWHILE, "nobody has rated in the first round", "item", found=str(item))]
        )
    return store.set_item(item, round=2)


def recuse(store: Store, item: int, person: str, why: str) -> None:
    """Say that a member takes no part in an item, and why.

    Raises
    ------
    StoreError
        E208 for who is no member of its meeting, E202 without a reason, E702 for an item that waits or is over, or that
        the member rated.
    """
    here, meeting = _at_meeting(store, item)
    members = [m.person for m in meeting.members]
    if person not in members:
        raise StoreError([Problem(Code.BAD_CHOICE, "who is recused is no member of the meeting", "item", field="person",
                                  found=person, expected=", ".join(members))])  # fmt: skip
    if person in taking_part(here, meeting) and person not in store.ratings(item).awaited:
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "this member has rated the item", "item", field="person",
                                  found=person, next_step="withdraw the item and ask again")])  # fmt: skip
    store.recuse(item, person, why)


def decide(
    store: Store,
    item: int,
    said: Said,
    *,
    version: int,
    answer: int | None = None,
    meaning: Meaning = "approval",
    corrects: int = 0,
) -> Decision:
    """Sign what a conference decided about an item.

    Parameters
    ----------
    version
        The version of the record that was looked at; the decision binds to its digest, to the assessment of it that is
        kept, and to that assessment's rule set.
    answer
        The entry of the kept assessment that was looked at; where it is not given, the last one of that version counts.
    corrects
        The entry of the decision on this item that it corrects.

    Raises
    ------
    StoreError
        E202 for a reason or detail that is wanted, E702 for an item that is over, that some have still to rate, of which
        fewer take part than the quorum, of which no assessment of that version is kept, or that was assessed again since with
        another answer; E703 for who is recused from it; E208 for who dissents without taking part; E209 for what is no disc;
        E205 for a day before the meeting.
    """
    here = item_of(store, item)
    if not here.meeting:
        raise _waits(item)
    meeting = meeting_of(store, here.meeting)
    if store.person in here.recused:
        raise StoreError([Problem(Code.NOT_ALLOWED, f"{store.person} is recused from this item", "item", found=str(item),
                                  expected="a signature of who is not recused")])  # fmt: skip
    if here.state == "withdrawn" or (here.state == "decided" and not corrects):
        raise over("item", item, "give the decision that is corrected, or ask again")
    if not corrects:
        _may_decide(store, here, meeting)
    referral = store.open_referral(here.reference)
    corrected = next((each.said.took_part for each in referral.decisions if each.seq == corrects), None)
    _complete(said, here, meeting, taking_part(here, meeting) if corrected is None else corrected)
    work = referral.work
    if work.version == version and (not work.standing or work.out_of_date):
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "no assessment of that version of the record is kept", here.reference,
                                  found=f"version {version}", next_step=f"candidacy records assess {here.reference}")])  # fmt: skip
    return store.sign(
        here.reference, said.decision, meaning, said.reason, responsible=said.responsible, expected_version=version,
        expected_answer=answer, discs=said.discs, until=said.until, after=said.after, tests=said.tests, conditions=said.conditions,
        dissent=said.dissent, review_on=said.review_on, item=item, corrects=corrects,
    )  # fmt: skip


def kept_decision_words(store: Store, reference: str, record_digest: str) -> str:
    """That a signed decision on a referral is kept, beside what is worked out from its record alone; empty where none is.

    Nothing is read of what it says.

    Parameters
    ----------
    record_digest
        Digest of the record that is worked from, which may be another than any that is kept.
    """
    last = next((each for each in store.in_force() if each.reference == reference), None)
    if last is None:
        return ""
    since = "" if last.same_record and last.same_answer else "; the record or its answer changed since"
    other = "" if record_digest == last.record_digest else (
        f"The record used here differs from version {last.version}, on which that decision was made. ")  # fmt: skip
    return (f"A signed decision on this referral is kept: {DECISIONS[last.decision]} (entry {last.seq}{since}). {other}What stands here is "
            "worked out from the record and does not know of it: read it first, under Conference or with candidacy records show.")  # fmt: skip


def taking_part(item: Item, meeting: Meeting) -> tuple[str, ...]:
    """Members who are present and not recused from an item."""
    return tuple(m.person for m in meeting.members if m.present and m.person not in item.recused)


def _at_meeting(store: Store, item: int) -> tuple[Item, Meeting]:
    here = item_of(store, item)
    if here.state in ("decided", "withdrawn"):
        raise over("item", item, "ask again: candidacy conference ask")
    if not here.meeting:
        raise _waits(item)
    meeting = meeting_of(store, here.meeting)
    if meeting.state == "closed":
        raise over("meeting", meeting.seq, "take the item to another: candidacy conference take")
    return here, meeting


def _waits(item: int) -> StoreError:
    return StoreError([Problem(Code.CHANGED_MEANWHILE, "this item waits in the queue", "item", found=str(item),
                               next_step="take it to a meeting: candidacy conference take")])  # fmt: skip


def _may_decide(store: Store, item: Item, meeting: Meeting) -> None:
    if meeting.state == "closed":
        raise over("meeting", meeting.seq, "take the item to another: candidacy conference take")
    part = taking_part(item, meeting)
    if not part:
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "nobody takes part in this item", "item", found="0",
                                  expected="a member who is present and not recused",
                                  next_step="say who is present: candidacy conference member")])  # fmt: skip
    if len(part) < meeting.quorum:
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "fewer take part than the quorum", "item", found=str(len(part)),
                                  expected=f"at least {meeting.quorum}, {QUORUM}",
                                  next_step="wait for members, or change the quorum with its reason")])  # fmt: skip
    awaited = set(store.ratings(item.seq).awaited)
    if awaited and awaited != set(part):
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "some have still to rate in this round", "item",
                                  found=", ".join(sorted(awaited)), next_step="wait, or say who is not present")])  # fmt: skip
    if awaited and item.round > 1:
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "nobody has rated in the second round", "item",
                                  found=str(item.seq), next_step="rate, or say who is not present")])  # fmt: skip


def _more(said: Said, reference: str) -> list[Problem]:
    """What a decision wants beside its reason and has not, and what it bears that only another decision says."""
    wanted = _MORE[said.decision]
    given = {name: getattr(said, name) for needs in _MORE.values() for name in needs if getattr(said, name)}
    found = []
    if wanted and not wanted.keys() & given.keys():
        found.append(Problem(Code.MISSING_KEY, f"the decision {said.decision} has to say {' or '.join(wanted.values())}", reference,
                             field=next(iter(wanted)), expected=" or ".join(wanted)))  # fmt: skip
    for name, value in given.items():
        if name in wanted:
            continue
        of = next(decision for decision, needs in _MORE.items() if name in needs)
        words = (
            "only a decision to treat names discs"
            if of == "treat"
            else f"only the decision {of} says {_MORE[of][name]}"
        )
        step = (
            "say in the reason or conditions which disc is meant"
            if of == "treat"
            else f"decide {of}, or say it as a condition"
        )
        found.append(Problem(Code.BAD_CHOICE, words, reference, field=name,
                             found=value if isinstance(value, str) else ", ".join(value), next_step=step))  # fmt: skip
    return found


def _complete(said: Said, item: Item, meeting: Meeting, part: Sequence[str]) -> None:
    found = []
    if not said.reason.strip():
        found.append(Problem(Code.MISSING_KEY, "a decision needs its reason", item.reference, field="reason",
                             expected="why, in the words of the conference"))  # fmt: skip
    wrong = [disc for disc in said.discs if disc not in LEVELS]
    if wrong:
        found.append(Problem(Code.BAD_LEVEL, "not a lumbar disc level", item.reference, field="discs",
                             found=", ".join(wrong), expected=", ".join(LEVELS)))  # fmt: skip
    twice = sorted({disc for disc in said.discs if said.discs.count(disc) > 1})
    if twice:
        found.append(Problem(Code.BAD_CHOICE, "this disc stands twice", item.reference, field="discs", found=", ".join(twice),
                             next_step="name each disc once"))  # fmt: skip
    found += _more(said, item.reference)
    for person, reason in said.dissent:
        if person not in part:
            found.append(Problem(Code.BAD_CHOICE, "who dissents takes no part in this item", item.reference, field="dissent",
                                 found=person, expected=", ".join(part)))  # fmt: skip
        if not reason.strip():
            found.append(
                Problem(
                    Code.MISSING_KEY,
                    "a dissent needs its reason",
                    item.reference,
                    field="dissent",
                    found=person,
                )
            )
    for field in ("until", "review_on"):
        value = getattr(said, field)
        if value and value < meeting.held_on and value[:4].isdigit():
            found.append(Problem(Code.IMPOSSIBLE_VALUE, "this day lies before the meeting", item.reference, field=field,
                                 found=value, expected=f"a day from {meeting.held_on} on"))  # fmt: skip
    if found:
        raise StoreError(found)
