"""What was entered on the page of the day: kept with the open referral, apart for each plan of discs and day."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import streamlit as st

from candidacy.day.filled_answers import is_role
from candidacy.day.sheet import DaySheet, SheetLine
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.ui.session import desk, hold, safely

KEPT = "day"
ROLE = "by"
_BESIDE = "beside"  # what the record said beside a line when its note was written


def held() -> Mapping[str, Any]:
    """Everything that was entered for the open referral."""
    found: dict[str, Any] = desk().kept.get(KEPT, {})
    return found


def put(name: str, value: Any) -> None:
    """Keep one entry; an empty one is taken out."""
    rest = {key: each for key, each in held().items() if key != name}
    desk().kept[KEPT] = rest if value in (None, "", []) else {**rest, name: value}


def field(name: str) -> str:
    """Prepare the widget of an entry; returns its key. Use with `taken` as callback."""
    key = f"day-{name}".replace(" ", "-")
    hold(key, held().get(name, None if name.rsplit("/", 1)[-1] in _CHOSEN else ""))
    return key


# Entries that are chosen and not typed; nothing is chosen before a person chooses it.
_CHOSEN = frozenset(("answer", "level", "contrast_in_injectate", "ended_because", "disposition", "because"))


@safely
def taken(name: str, key: str) -> None:
    """Callback: keep what a widget holds."""
    value = st.session_state[key]
    put(name, value.strip() if isinstance(value, str) else value)


def plan_of(sheet: DaySheet) -> str:
    """Under what the entries of a plan are kept: another disc or day begins blank, and coming back finds them again."""
    return f"{'+'.join(sheet.discs)} {sheet.on}"


def line_name(sheet: DaySheet, line: SheetLine, what: str) -> str:
    """Name of an entry of a line."""
    return f"{plan_of(sheet)}/{line.id}/{line.disc}/{what}"


def of_line(sheet: DaySheet, line: SheetLine, what: str) -> str:
    """An entry of a line; empty where there is none."""
    return str(held().get(line_name(sheet, line, what)) or "")


def needs_reason(sheet: DaySheet, line: SheetLine) -> bool:
    """Whether an answer of this line must say why: it was no, or the record stops or waits there."""
    answer = of_line(sheet, line, "answer")
    return answer == "no" or (bool(answer) and line.state in ("stop", "wait"))


def reason(sheet: DaySheet, line: SheetLine) -> str:
    """The reason of a line; empty where the record says something else there since it was written."""
    return of_line(sheet, line, "note") if of_line(sheet, line, _BESIDE) == _beside(line) else ""


def _beside(line: SheetLine) -> str:
    return digest([line.state, *line.record])


@safely
def noted(sheet: DaySheet, line: SheetLine, key: str) -> None:
    """Callback: keep a note, with what the record said beside the line when it was written."""
    taken(line_name(sheet, line, "note"), key)
    put(line_name(sheet, line, _BESIDE), _beside(line) if of_line(sheet, line, "note") else None)


def unresolved(sheet: DaySheet, line: SheetLine) -> str:
    """``stop`` or ``wait`` while a line keeps the day from going on; empty where it does not."""
    if needs_reason(sheet, line) and reason(sheet, line):
        return ""
    if of_line(sheet, line, "answer") == "no":
        return line.if_no
    return line.state if line.state in ("stop", "wait") else ""


@safely
def answer(sheet: DaySheet, line: SheetLine, key: str) -> None:
    """Callback: keep an answer with who gave it and when; nobody's answer is kept."""
    given = st.session_state[key]
    role = str(held().get(ROLE) or "")
    if given is not None and not is_role(role):
        raise InputError([Problem(Code.MISSING_KEY, "say first who checks: the answer was not kept", "The day", field="who checks",
                                  found=shorten(role) or "nothing",
                                  expected="a role or local id in small letters, such as nurse or physician-2")])  # fmt: skip
    put(line_name(sheet, line, "answer"), given)
    for what, value in (("by", role), ("at", _now(sheet))):  # another answer is of who gives it, and of now
        put(line_name(sheet, line, what), None if given is None else value)


def _now(sheet: DaySheet) -> str:
    """The time, on the day itself; on any other day it is written by hand."""
    return f"{datetime.now():%H:%M}" if desk().today().isoformat() == sheet.on else ""


def moment(text: str, on: str) -> str:
    """A time as the form holds it: hours of the day, or a day and time as they were written."""
    return f"{on}T{text.zfill(5)}" if text and ":" in text and "T" not in text else text
