"""Minutes: one page for the meeting, one for each case. They say what people gave and decided, and what it rests on."""

from collections.abc import Sequence

from msgspec import Struct

from candidacy.conference.again import Again
from candidacy.conference.appropriateness import SCALE, Verdict, figure
from candidacy.conference.case_page import CasePage, case_page
from candidacy.conference.deciding import DECISIONS, QUORUM, taking_part
from candidacy.conference.found import meeting_of
from candidacy.conference.rounds import Round, Seen
from candidacy.records.conference import Meeting
from candidacy.records.decisions import Decision
from candidacy.records.store import Store

NOT_A_DECISION = "Records what people decided; this program decided and proposed nothing."
LOOK = "LOOK AT IT AGAIN"
RATED_BEFORE = (
    "The record or its assessment was changed after rating began: say whether these ratings still hold."
)


class Minutes(Struct, frozen=True):
    """A meeting with the pages of its cases, in their order."""

    meeting: Meeting
    cases: tuple[CasePage, ...]


def minutes_of(store: Store, meeting: int) -> Minutes:
    """The minutes of a meeting. Its referrals are entered as read.

    Raises
    ------
    StoreError
        E704 for a meeting that there is not.
    """
    found = meeting_of(store, meeting)
    items = [item for item in store.items(meeting=meeting) if item.state != "withdrawn"]
    return Minutes(found, tuple(case_page(store, item, others=False, as_decided=True) for item in items))


def decision_words(decision: Decision) -> str:
    """What was decided, in a phrase."""
    said = decision.said
    more = [f" {', '.join(said.discs)}"] if said.discs else []
    more += [f", until {said.until}"] if said.until else []
    more += [f", after {said.after}"] if said.after else []
    more += [f": {'; '.join(said.tests)}"] if said.tests else []
    return DECISIONS[said.decision] + "".join(more)


def meeting_lines(meeting: Meeting) -> list[tuple[str, str]]:
    """What the page of a meeting says of it, as pairs of a name and a text."""
    scale = (
        f"1 to 9 of the RAND/UCLA method ({SCALE})"
        if meeting.scale == "appropriateness"
        else "for, against, defer"
    )
    return [
        ("Held on", meeting.held_on),
        ("State", "over" if meeting.state == "closed" else "open"),
        (
            "Quorum",
            f"{meeting.quorum} member{'' if meeting.quorum == 1 else 's'} present and not recused; {QUORUM}",
        ),
        ("Rating", scale),
        *_short(meeting),
        *(
            ("Member" if m.present else "Absent", member_words(m.person, m.role, m.interest))
            for m in meeting.members
        ),
    ]


def _short(meeting: Meeting) -> list[tuple[str, str]]:
    """That fewer are present than the quorum, if so: a list of members alone does not show it, least of all an empty one."""
    present = [m.person for m in meeting.members if m.present]
    return (
        []
        if quorum_met(present, meeting.quorum)
        else [("Present", f"{len(present) or 'nobody'}; quorum NOT met")]
    )


def quorum_met(part: Sequence[str], quorum: int) -> bool:
    """Whether as many take part as the conference asks for; nobody is no quorum, whatever it asks for."""
    return bool(part) and len(part) >= quorum


def took_part(page: CasePage, meeting: Meeting) -> tuple[Sequence[str], int]:
    """Who takes part in a case, and the quorum; of a case that is decided, as it was then, whoever came or left since."""
    said = page.decision[0].said if page.decision is not None else None
    if said is not None and said.took_part is not None and said.quorum is not None:
        return said.took_part, said.quorum
    return taking_part(page.item, meeting), meeting.quorum


def member_words(person: str, role: str, interest: str) -> str:
    """A member with role and declared interest."""
    return f"{person}, {role}; declared interest: {interest or 'none declared'}"


def case_line(page: CasePage) -> tuple[str, str, str]:
    """A case on the page of the meeting: reference, question, and what was decided with what warns of it."""
    if page.decision is None:
        return page.item.reference, page.item.question, "not decided"
    decision, again = page.decision
    warn = f". {LOOK}: {' '.join(again.reasons)}" if again.reasons else ""
    return page.item.reference, page.item.question, f"{decision_words(decision)}{warn}"


def case_lines(page: CasePage) -> list[tuple[str, str]]:
    """What the page of a case says, as pairs of a name and a text."""
    item, meeting = page.item, page.meeting
    lines = [("Question", item.question), ("Presented by", item.presenter or "not said")]
    if meeting is not None:
        part, quorum = took_part(page, meeting)
        enough = "quorum met" if quorum_met(part, quorum) else "quorum NOT met"
        lines.append(("Took part", f"{', '.join(part) or 'nobody'}; {enough} ({quorum}; {QUORUM})"))
    lines += [("Recused", f"{person}: {why}") for person, why in page.recusals]
    lines += [("Note well", warning) for warning in page.warnings]
    lines += standing_lines(page)
    lines += [("Fails", failing) for failing in failing_lines(page)]
    lines += [("Fails, graver", each) for each in page.graver]
    for each in page.rounds:
        lines += [(f"Round {each.number}", words) for words in round_lines(each)]
    found = page.decision
    return lines + (decision_lines(*found) if found else [("Decision", "none is recorded")])


def standing_lines(page: CasePage) -> list[tuple[str, str]]:
    """Which kept answer the case was looked at with."""
    if page.standing is None:
        return [("Standing", "none: no assessment is kept")]
    s = page.standing
    return [
        (
            "Standing",
            f"{s.words} under {s.rules} as of {s.as_of}; version {s.version} of the record, entry {s.seq}; {s.missing} facts missing",
        ),
        ("Discs", "; ".join(s.discs) or "none recorded"),
    ]


def failing_lines(page: CasePage) -> list[str]:
    """Each relative criterion that fails, with its margin."""
    return [
        ("" if each.subject == "patient" else f"{each.subject}: ")
        + each.found
        + f" ({'; '.join(each.margins or each.because)})"
        for each in page.failing
    ]


def round_lines(found: Round) -> list[str]:
    """A round: who is awaited, or what came of it."""
    told = [RATED_BEFORE] if found.changed else []
    if found.open:
        return [*told, f"hidden until all have rated; awaited: {', '.join(found.awaited)}"]
    if not found.seen:
        return ["nobody rated"]
    return told + [line for seen in found.seen for line in seen_lines(seen)]


def seen_lines(seen: Seen) -> list[str]:
    """What one question came to: median and counts, then what published rules say of disagreement."""
    of = f"{seen.disc}: " if seen.disc else ""
    if seen.tally is None:
        return [of + ", ".join(f"{vote} {number}" for vote, number in seen.votes.items())]
    t = seen.tally
    low, middle, high = t.thirds
    return [
        f"{of}median {figure(t.median)} of {len(t.values)} ratings ({', '.join(map(str, t.values))}); "
        f"{low} in 1-3, {middle} in 4-6, {high} in 7-9",
        *(verdict_words(each) for each in t.verdicts),
    ]


def verdict_words(verdict: Verdict) -> str:
    """Whether there is disagreement by one rule, with its figures and where it is from."""
    return f"disagreement: {verdict.answer}. {verdict.words} ({verdict.source})"


def decision_lines(decision: Decision, again: Again) -> list[tuple[str, str]]:
    """A decision with everything that was said of it."""
    said = decision.said
    lines = [(LOOK, reason) for reason in again.reasons]
    lines += [("Decision", decision_words(decision)), ("Reason", said.reason)]
    lines += [("Condition", each) for each in said.conditions]
    lines += [("Dissent", f"{each.person}: {each.reason}") for each in said.dissent]
    lines += [("Responsible", said.responsible)]
    lines += [("To be looked at again on", said.review_on)] if said.review_on else []
    signed = (
        f"{decision.at[:16].replace('T', ' ')} UTC by {decision.person} ({decision.role}): {said.meaning}"
    )
    rests = f"record version {said.version} {said.record_digest[:23]}"
    if said.assessment:
        rests += f"; assessment entry {said.assessment}; rule set {said.rules} {said.rules_digest[:23]}"
    lines += [("Signed", f"{signed}; entry {decision.seq}"), ("Rests on", rests)]
    if said.corrects:
        lines.append(("Corrects", f"decision {said.corrects}; why: {said.reason}"))
    return lines
