"""What the standing does not count yet: refused, undated, conflicting and imprecise facts, and signs of danger in reports."""

import re
from typing import Literal

import streamlit as st
from msgspec import Struct

from candidacy.case.catalogue import catalogue
from candidacy.explain.document import FactInfo
from candidacy.explain.record import conflict_title
from candidacy.explain.said import statement_words, title_of
from candidacy.foundation.errors import shorten
from candidacy.foundation.values import Why
from candidacy.ui import show
from candidacy.ui.desk import REPORT_DRAFT, Desk, Place
from candidacy.ui.read_back import take
from candidacy.ui.referral.fields import ask_details
from candidacy.ui.session import desk, safely

Kind = Literal["refused", "shown back", "refused correction", "open", "undated", "report"]
# Of a recorded unknown, these say that something is there which nobody could use.
_UNUSABLE = ("conflicting", "uncertain_in_source", "not_readable")
_BUTTONS = {
    "open": "Settle it",
    "undated": "Date it",
    "refused": "Correct it",
    "shown back": "Take it as read",
    "refused correction": "Open the report",
    "report": "Open the report",
}


class Line(Struct, frozen=True):
    """One thing that is not counted: what it is, in words, and where it is mended."""

    kind: Kind
    words: str
    place: Place
    report: int = -1


def not_counted(on: Desk) -> list[Line]:
    """Everything entered or read that the standing on a desk does not count, in the order of the blocks above."""
    return [*_refused(on), *_facts(on), *_reports(on)]


def _refused(on: Desk) -> list[Line]:
    lines = []
    for (subject, name), draft in on.drafts.items():
        element, found = catalogue()[name], REPORT_DRAFT.fullmatch(subject)
        typed = f"refused: “{shorten(draft.text)}”"
        if found is not None:
            title = title_of(found[2], element)
            lines.append(
                Line(
                    "refused correction",
                    f"{title}, correction of a report {typed}",
                    (subject, name),
                    int(found[1]),
                )
            )
            continue
        entry = on.entry(subject, name)
        if draft.reading is not None:
            words = f"{title_of(subject, element)}, typed: “{shorten(str(draft.text).strip())}”, read as {draft.shown}"
            lines.append(Line("shown back", f"{words}; not taken yet", (subject, name)))
            continue
        instead = (
            f"counted instead: {statement_words(element, entry)}" if entry else "nothing is counted for it"
        )
        lines.append(Line("refused", f"{title_of(subject, element)}, {typed}; {instead}", (subject, name)))
    return lines


def _facts(on: Desk) -> list[Line]:
    document = on.document()
    lines: dict[Place, Line] = {}
    known = {(f.subject, f.element): f for f in document.facts if f.known and f.worked_out_from}
    for conflict in document.conflicts:
        place = (conflict.subject, conflict.element)
        lines[place] = Line(
            "open", f"{conflict_title(conflict)}, to settle first: {conflict.question}", place
        )
    for item in document.missing:
        place, element = (item.subject, item.element), catalogue().get(item.element)
        if element is None or place in lines:
            continue
        entry = on.entry(*place)
        if entry is None:
            worked_out = known.get(place)
            if worked_out is not None:
                lines[place] = _from_inputs(on, worked_out, item.why)
            continue
        if entry.unknown is not None and entry.unknown not in _UNUSABLE:
            continue
        said = "" if entry.unknown is not None else f", {statement_words(element, entry)}"
        kind: Kind = "undated" if item.why == Why.UNDATED.words else "open"
        lines[place] = Line(kind, f"{title_of(item.subject, element)}{said}: {item.why}", place)
    return list(lines.values())


def _from_inputs(on: Desk, fact: FactInfo, why: str) -> Line:
    """The line of a value that is worked out; it is mended at the first input that is not exact, if there is one."""
    inexact = [
        e.name
        for e in catalogue().all
        if e.label in fact.worked_out_from
        and (entry := on.entry(fact.subject, e.name)) is not None
        and entry.forms != ["value"]
    ]
    words = f"{title_of(fact.subject, catalogue()[fact.element])}, {fact.value}: {why}, as {', '.join(fact.worked_out_from)}"
    return Line("open", f"{words} {'are' if len(fact.worked_out_from) > 1 else 'is'} entered",
                (fact.subject, inexact[0] if inexact else fact.element))  # fmt: skip


def _reports(on: Desk) -> list[Line]:
    if not on.kept.get("reports"):
        return []
    from candidacy.ui.report.desk import whose  # reading reports is an extra
    from candidacy.ui.report.signs import signs_left

    lines, known = [], whose(on.record, on.kept["reports"])
    for number, report in enumerate(on.kept["reports"]):
        left = signs_left(report, on.record, known)
        if left:
            lines.append(
                Line("report", f"{report.name}, look at first: {left}", ("report", str(number)), number)
            )
    return lines


def standing_words(lines: list[Line], where: str = "") -> str:
    """The sentence at the standing; empty where everything is counted. ``where`` names the page of the block."""
    if not lines:
        return ""
    what = "one thing" if len(lines) == 1 else f"{len(lines)} things"
    return f"This standing does not count {what} entered or read: see “Not counted yet”{where}."


def block(lines: list[Line]) -> None:
    """The lines, each with what mends it."""
    if not lines:
        return
    with st.container(key="not-counted", gap="xxsmall"):
        show.put("not_counted.html", count=len(lines))
        for line in lines:
            show.note(
                line.words if line.kind == "report" else line.words[:1].upper() + line.words[1:]
            )  # the name of a file stays
            key, subject = re.sub(r"\W+", "-", "-".join(line.place)), line.words.split(":")[0]
            with st.container(horizontal=True, gap="small"):
                st.button(_BUTTONS[line.kind], key=f"mend-{key}", type="tertiary", on_click=_mend, args=(line,),
                          help=show.label(f"{_BUTTONS[line.kind]}: {subject}"))  # fmt: skip
                if line.kind in ("refused", "shown back", "refused correction"):
                    st.button("Drop the text", key=f"drop-text-{key}", type="tertiary", on_click=_drop, args=line.place,
                              help=show.label(f"Drop the refused text: {subject}"))  # fmt: skip
                elif line.kind == "report":
                    st.button("Looked at", key=f"seen-{key}", type="tertiary", on_click=_seen, args=(line.report,),
                              help="You have looked at it, and it needs no entry in this referral.")  # fmt: skip


@safely
def _mend(line: Line) -> None:
    from candidacy.ui.referral.form import go_to

    if line.kind == "shown back":
        take(*line.place)
    elif line.kind == "refused":
        go_to(*line.place)
    elif line.kind in ("report", "refused correction"):
        desk().kept["report"] = line.report
        st.session_state["go-to-page"] = "report"
    else:
        ask_details(*line.place)


@safely
def _drop(subject: str, element: str) -> None:
    desk().drafts.pop((subject, element), None)


@safely
def _seen(number: int) -> None:
    from candidacy.ui.report.desk import look_at

    look_at(desk(), number)
