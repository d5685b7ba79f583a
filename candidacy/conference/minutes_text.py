"""Minutes, the page of a case and the queue as text."""

import textwrap
from collections.abc import Iterable, Sequence

from candidacy.conference.again import Again
from candidacy.conference.case_page import CasePage
from candidacy.conference.minutes import (
    LOOK,
    NOT_A_DECISION,
    Minutes,
    case_line,
    case_lines,
    decision_lines,
    meeting_lines,
    round_lines,
    standing_lines,
)
from candidacy.conference.queue import Waiting
from candidacy.foundation.visible import clean
from candidacy.records.conference import Meeting
from candidacy.records.decisions import InForce

_WIDTH = 100
_RULE = "-" * _WIDTH


def minutes_text(minutes: Minutes) -> str:
    """A page for the meeting, then one for each case, with form feeds between them."""
    meeting = minutes.meeting
    page = [f"Minutes: {meeting.title}", _RULE, *_pairs(meeting_lines(meeting)), "", "Cases:"]
    for number, found in enumerate(minutes.cases, 1):
        reference, question, decided = case_line(found)
        page += _wrapped(f"{number}. {reference}: {question}") + _wrapped(decided, "   ")
    page += ["none"] * (not minutes.cases) + ["", NOT_A_DECISION]
    return "\f".join([_text(page), *(case_text(found) for found in minutes.cases)])


def case_text(page: CasePage) -> str:
    """The page of one case in the minutes."""
    on = f", {page.meeting.title} of {page.meeting.held_on}" if page.meeting else ""
    head = f"Case {page.item.reference} (item {page.item.seq}{on})"
    return _text([head, _RULE, *_pairs(case_lines(page)), "", NOT_A_DECISION])


def page_text(page: CasePage) -> str:
    """The page of a case before it is decided: everything to look at."""
    item = page.item
    on = f"at {page.meeting.title} of {page.meeting.held_on}" if page.meeting else "waits in the queue"
    lines = [f"Item {item.seq}: {item.reference}, version {page.version}; {item.state}, {on}", _RULE]
    lines += _pairs([("Question", item.question), ("Asked", f"{item.asked_at[:10]} by {item.asked_by or 'nobody named'}"),
                     ("Presented by", item.presenter or "not said"), *(("Recused", f"{person}: {why}") for person, why in page.recusals),
                     *(("NOTE WELL", each) for each in page.warnings), *standing_lines(page),
                     *(("FAILS, GRAVER", each) for each in page.graver)])  # fmt: skip
    for each in page.failing:
        of = "" if each.subject == "patient" else f"{each.subject}: "
        lines += [
            "",
            *_wrapped(f"FAILS {of}{each.found}" + (f" ({'; '.join(each.margins)})" if each.margins else "")),
        ]
        lines += _pairs([*(("because", why) for why in each.because), *(("value", fact) for fact in each.facts),
                         *(("limit", limit) for limit in each.parameters), ("published spread", each.spread or "not stated"),
                         ("sources", each.cites)], "  ")  # fmt: skip
    lines += _section("Other rule sets, same day", [f"{s.says}: {s.title}: {s.because}" + ("" if s.kept else " (worked out now, not kept)")
                                                    for s in page.sets])  # fmt: skip
    lines += _section("What would change it", page.changes)
    lines += _section("Words of reports and letters", page.said)
    lines += _section("Notes", page.notes)
    for one in page.rounds:
        own = [f"your own: {value}" for value in one.own.values()]
        lines += _section(f"Round {one.number}", [*own, *round_lines(one)])
    for decision, again in page.decisions:
        corrected = f" (CORRECTED by decision {decision.corrected_by})" if decision.corrected_by else ""
        lines += [
            "",
            f"Earlier decision{corrected}:"
            if decision.said.item != item.seq
            else f"Decision on this item{corrected}:",
        ]
        lines += _pairs(decision_lines(decision, again), "  ")
    return _text([*lines, "", NOT_A_DECISION])


def queue_text(waiting: Sequence[Waiting], again: Sequence[tuple[InForce, Again]]) -> str:
    """The queue, then decisions to be looked at again."""
    lines = []
    for number, each in enumerate(waiting, 1):
        item = each.item
        asked = f"item {item.seq}, asked {each.asked_on}" if item else "borderline, nobody has asked"
        shown = f", presented by {item.presenter}" if item and item.presenter else ""
        head = f"{each.reference}: {each.standing}" + (f" as of {each.as_of}" if each.as_of else "")
        lines += _wrapped(f"{head} ({asked}{shown})", f"{number:>3}. ")
        lines += _wrapped(item.question, "     ") if item else []
        lines += [line for failing in each.failing for line in _wrapped(failing, "     fails: ")]
        lines += [line for danger in each.dangers for line in _wrapped(danger, "     danger: ")]
        lines += [f"     {each.missing} fact{'s' * (each.missing != 1)} missing"]
        lines += _wrapped(each.waiting_for, "     waits for: ") if each.waiting_for else []
    lines = lines or ["The queue is empty."]
    for decided, why in again:
        lines += [
            "",
            *_wrapped(
                f"{LOOK}: {decided.reference}, {f'item {decided.item}' if decided.item else 'outside a conference'}, "
                f"decision {decided.seq}: {' '.join(why.reasons)}"
            ),
        ]
    return _text(lines)


def meetings_text(meetings: Sequence[Meeting]) -> str:
    """All meetings, with their members."""
    lines = []
    for each in meetings:
        lines += [f"Meeting {each.seq}: {each.title}", *_pairs(meeting_lines(each), "  "), ""]
    return _text(lines[:-1] or ["No meeting is kept."])


def _section(title: str, lines: Iterable[str]) -> list[str]:
    found = [line for each in lines for line in _wrapped(each, "  - ")]
    return ["", f"{title}:", *found] if found else []


def _pairs(pairs: Iterable[tuple[str, str]], before: str = "") -> list[str]:
    return [line for name, text in pairs for line in _wrapped(text, f"{before}{name}: ")]


def _wrapped(text: str, first: str = "") -> list[str]:
    """One text as lines: what it says can neither start a line of its own nor steer a terminal."""
    return textwrap.wrap(clean(text), _WIDTH, initial_indent=first, subsequent_indent=" " * min(len(first), 8),
                         break_on_hyphens=False) or [first.rstrip()]  # fmt: skip


def _text(lines: Iterable[str]) -> str:
    return "".join(f"{clean(line)}\n" for line in lines)
