"""The day: planned disc and day, the checklist line by line, and what was done. Nothing is chosen before a person chooses it."""

from collections.abc import Callable

import streamlit as st

from candidacy.day.checklist import Checklist, checklist
from candidacy.day.planned import MAX_DISCS, considered
from candidacy.day.sheet import DaySheet, SheetLine, conference_told, day_sheet
from candidacy.day.sheet_text import head_lines, record_line
from candidacy.foundation.dates import day
from candidacy.ui import show
from candidacy.ui.day import decisions
from candidacy.ui.day.after import after
from candidacy.ui.day.answered import (
    ROLE,
    answer,
    field,
    held,
    line_name,
    needs_reason,
    noted,
    of_line,
    put,
    reason,
    taken,
    unresolved,
)
from candidacy.ui.days import day_typed
from candidacy.ui.exports import Export, downloads
from candidacy.ui.head_line import bar
from candidacy.ui.session import desk, hold, keep, kept_choice, safely, told_here

_VIEWS = ["Checklist", "Afterwards"]


def the_day() -> None:
    """Draw the page."""
    bar()
    levels = sorted(considered(desk().case()))
    if not levels:
        show.note(
            "No disc is known to be considered: enter on the referral which discs are under consideration.",
            "notice",
        )
        return
    with told_here("The checklist could not be made"):
        discs = _plan(levels)
        on = str(held().get("on") or "")
        if not discs or not on:
            show.note(
                "Choose the planned disc and the day. The checklist is worked out for them alone.", "notice"
            )
            return
        lines = checklist()
        sheet = _sheet(lines, tuple(discs), on)
        _head(sheet, lines)
        if sheet.no_checklist:
            show.put("day_none.html", title=lines.words.no_checklist, lines=sheet.no_checklist)
            return
        view = st.segmented_control("View", _VIEWS, key=kept_choice("day-view", _VIEWS[0], _VIEWS), on_change=keep,
                                    args=("day-view", "kept-day-view"), required=True, label_visibility="collapsed")  # fmt: skip
        if view == "Afterwards":
            after(sheet, lines)
        else:
            _checklist(sheet, lines)


def _plan(levels: list[str]) -> list[str]:
    with st.container(horizontal=True, vertical_alignment="bottom", key="day-plan"):
        hold("day-discs", [level for level in held().get("discs", []) if level in levels])
        st.multiselect("Planned disc", levels, key="day-discs", max_selections=MAX_DISCS, placeholder="choose", on_change=_discs,
                       width=260)  # fmt: skip
        if st.session_state.get("day-on-refused") != desk().referral:
            hold("day-on", held().get("on", ""))
        st.text_input(
            "Day of the injection (YYYY-MM-DD)", key="day-on", max_chars=30, on_change=_on, width=230
        )
        key = field(ROLE)
        st.text_input(
            "Who checks (role or local id)",
            key=key,
            max_chars=40,
            on_change=taken,
            args=(ROLE, key),
            width=220,
        )
        key = field("conference")
        st.text_input("Decision of the conference, if one was asked (day or number)", key=key, max_chars=80, on_change=taken,
                      args=("conference", key), width=330)  # fmt: skip
    chosen: list[str] = list(held().get("discs", []))
    return [level for level in chosen if level in levels]


@safely
def _discs() -> None:
    put("discs", list(st.session_state["day-discs"]))


@safely
def _on() -> None:
    text = st.session_state["day-on"].strip()
    st.session_state["day-on-refused"] = desk().referral
    written, shown = day_typed(text) if text else ("", "")
    if written:
        written = day(written).isoformat()
    st.session_state["day-on-refused"] = None
    put("on", written)
    if shown:
        st.session_state["notice"] = f"The day is {shown}."


def _sheet(lines: Checklist, discs: tuple[str, ...], on: str) -> DaySheet:
    """The sheet, worked out again only where something it rests on has changed; a kept referral is read no more often."""
    case, rule_set, conference = desk().case(), desk().rule_set(), str(held().get("conference") or "")
    kept_at = decisions.last_change(case.record.id)
    key = (case.digest, rule_set.digest, discs, on, conference, lines, kept_at)
    kept: tuple[object, DaySheet] | None = st.session_state.get("day-sheet")
    if kept is None or kept[0] != key:
        decided = conference_told(lines, conference)
        if kept_at:
            decided = decisions.told(decided, case, discs, lines)
        kept = key, day_sheet(case, rule_set, discs, day(on), decided, asked=lines)
        st.session_state["day-sheet"] = kept
    return kept[1]


def _head(sheet: DaySheet, lines: Checklist) -> None:
    stops = [line for line in sheet.lines if unresolved(sheet, line) == "stop"]
    waits = [line for line in sheet.lines if unresolved(sheet, line) == "wait"]
    left = [line for line in sheet.lines if not of_line(sheet, line, "answer")]
    show.put("day_head.html", head=head_lines(sheet, lines), stops=stops, waits=waits, left=len(left), count=len(sheet.lines),
             dangers=sheet.dangers, still_open=sheet.still_open, words=lines.words, rule_set=sheet.rule_set,
             none=bool(sheet.no_checklist))  # fmt: skip
    with st.container(horizontal=True):
        downloads([_print(sheet, lines, "Letter"), _print(sheet, lines, "A4")], width="content")


def _print(sheet: DaySheet, lines: Checklist, paper: str) -> Export:
    def made() -> bytes:
        from candidacy.day.sheet_pdf import sheet_pdf

        return sheet_pdf(sheet, lines, "A4" if paper == "A4" else "Letter")

    make: Callable[[], bytes] = made
    return Export(
        f"Blank checklist to print (PDF, {paper})",
        f"{sheet.case}-day-{sheet.on}-{paper}.pdf",
        "application/pdf",
        make,
    )


def _checklist(sheet: DaySheet, lines: Checklist) -> None:
    part = ""
    for number, line in enumerate(sheet.lines):
        if line.part != part:
            part = line.part
            rows = [each for each in sheet.lines if each.part == part]
            show.put("group_head.html", title=sheet.parts[part], count=len(rows))
        with st.container(key=f"day-line-{number}"):
            _line(sheet, line, lines)


def _line(sheet: DaySheet, line: SheetLine, lines: Checklist) -> None:
    words = lines.words
    still = unresolved(sheet, line)
    given = of_line(sheet, line, "answer")
    show.put("day_line.html", line=line, beside=record_line(line, lines), asked=words.asked[line.asked], words=words, still=still,
             given=given, reason=reason(sheet, line) if needs_reason(sheet, line) else "",
             old=needs_reason(sheet, line) and bool(of_line(sheet, line, "note")) and not reason(sheet, line))  # fmt: skip
    options = {"yes": words.yes, "no": words.no} | (
        {"not_applicable": words.not_applicable} if line.not_applicable else {}
    )
    with st.container(horizontal=True, vertical_alignment="bottom"):
        key = field(line_name(sheet, line, "answer"))
        st.segmented_control(show.label(line.ask), list(options), key=key, format_func=options.__getitem__, on_change=answer,
                             args=(sheet, line, key), label_visibility="collapsed", width="content")  # fmt: skip
        if given:
            _entry(sheet, line, "by", "Who", 40, 150)
            _entry(sheet, line, "at", "Time (HH:MM)", 16, 150)
            required = needs_reason(sheet, line)
            key = field(line_name(sheet, line, "note"))
            st.text_input("Reason, and how it was resolved (required)" if required else "Note", key=key, max_chars=2000, width=420,
                          on_change=noted, args=(sheet, line, key))  # fmt: skip


def _entry(sheet: DaySheet, line: SheetLine, what: str, label: str, most: int, width: int) -> None:
    name = line_name(sheet, line, what)
    key = field(name)
    st.text_input(label, key=key, max_chars=most, on_change=taken, args=(name, key), width=width)
