"""What was done: the form of the day on a page, checked whole as a filled file is, and the course record to take away."""

from typing import Any

import streamlit as st
import yaml

from candidacy.case.load import yaml_dumper
from candidacy.course.entries import LUMBAR
from candidacy.course.load import parse_course
from candidacy.day.checklist import Checklist
from candidacy.day.sheet import DaySheet
from candidacy.day.take import read_filled, take_day, with_session
from candidacy.foundation.digest import digest
from candidacy.foundation.files import text_from_bytes
from candidacy.ui import show
from candidacy.ui.day.answered import (
    field,
    held,
    moment,
    needs_reason,
    of_line,
    plan_of,
    put,
    reason,
    taken,
)
from candidacy.ui.exports import Export, downloads
from candidacy.ui.head_line import MAX_CASE_MB
from candidacy.ui.session import safely

_DISPOSITIONS = ("used_whole", "rest_discarded")
_ENDED = ("volume_given", "pressure", "pain", "leak", "other")
_BECAUSE = ("conference", "physician", "trial", "other")
_NAME = "the day"
# Entries of a disc, and of a container: name, label, choices where it is chosen, width.
_Fields = tuple[tuple[str, str, tuple[str, ...], int], ...]
_DISC: _Fields = (
    ("level", "Disc injected, as counted on the live image", LUMBAR, 320),
    ("material", "Material in plain words, no trade name", (), 320),
    ("volume", "Volume (mL)", (), 120),
    ("pressure", "Highest pressure (psi); empty: not measured", (), 300),
    ("contrast_in_injectate", "Contrast in the injectate itself", ("yes", "no"), 220),
    ("injected_at", "Time of injection (HH:MM)", (), 190),
    ("ended_because", "Ended because", _ENDED, 170),
    ("again_because", "Why again, where it had been injected before", (), 320),
    ("note", "Note on this disc", (), 320),
)
_UNIT: _Fields = (
    ("code", "Code on the label", (), 190),
    ("lot", "Lot", (), 120),
    ("expires", "Expiry (YYYY-MM-DD)", (), 160),
    ("thaw_began", "Thaw began (HH:MM)", (), 150),
    ("thaw_ended", "Thaw ended (HH:MM)", (), 150),
    ("disposition", "What became of it", _DISPOSITIONS, 160),
)
_SESSION: _Fields = (
    ("recovery", "Recovery in words", (), 420),
    ("discharged", "Left at (HH:MM)", (), 140),
    (
        "differs_because",
        "Why it differs from the plan, or a container was past its expiry, where it did",
        (),
        560,
    ),
)
_WENT_ON: _Fields = (
    ("because", "Who decided to go on", _BECAUSE, 180),
    ("reason", "Why, in words (no name of a person)", (), 420),
)


def after(sheet: DaySheet, lines: Checklist) -> None:
    """Draw the form, and what came of checking it."""
    plan = plan_of(sheet)
    for number in range(len(sheet.discs)):
        st.subheader(
            "What was injected where"
            if len(sheet.discs) == 1
            else f"Injection {number + 1} of {len(sheet.discs)}"
        )
        _fields(f"{plan}/disc {number}", _DISC)
        count = _containers(plan, number)
        for unit in range(count):
            show.note(f"Container {unit + 1} of {count}")
            _fields(f"{plan}/disc {number}/unit {unit}", _UNIT)
        st.button(
            "Another container for this disc", key=f"day-more-{number}", on_click=_more, args=(plan, number)
        )
    st.subheader("Recovery and leaving")
    _fields(f"{plan}/session", _SESSION)
    if sheet.standing != "candidate":
        show.note(f"The standing was {sheet.standing_name}: say who decided to go on, and why.", "notice")
        _fields(f"{plan}/went on", _WENT_ON)
    st.file_uploader("Course record of this case (YAML), where there is one", key="day-course-file", type=["yaml", "yml", "json"],
                     max_upload_size=MAX_CASE_MB)  # fmt: skip
    st.button(
        "Check all of it and make the course record",
        key="day-take",
        type="primary",
        on_click=_take,
        args=(sheet, lines),
    )
    _made(sheet)


def _containers(plan: str, number: int) -> int:
    return int(held().get(f"{plan}/disc {number}/containers", 1))


@safely
def _more(plan: str, number: int) -> None:
    put(f"{plan}/disc {number}/containers", _containers(plan, number) + 1)


def _fields(place: str, fields: _Fields) -> None:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        for name, label, choices, width in fields:
            key = field(f"{place}/{name}")
            if choices:
                st.selectbox(label, choices, key=key, index=None, placeholder="choose", on_change=taken, width=width,
                             args=(f"{place}/{name}", key), format_func=_plain)  # fmt: skip
            else:
                st.text_input(
                    label,
                    key=key,
                    max_chars=2000,
                    on_change=taken,
                    args=(f"{place}/{name}", key),
                    width=width,
                )


def _plain(code: str) -> str:
    return code.replace("_", " ")


# --- from the entries to the form as a file holds it


def filled_text(sheet: DaySheet, lines: Checklist) -> str:
    """The entries as the text of a filled form."""
    plan = plan_of(sheet)
    form: dict[str, Any] = {
        "schema_version": "1",
        "case": sheet.case,
        "invented": sheet.invented,
        "date": sheet.on,
        "planned": list(sheet.discs),
        "checklist": lines.version,
        "assessed": {"on": sheet.on, "rule_set": sheet.rule_set, "version": sheet.rule_set_version, "standing": sheet.standing},
        "checks": [
            {"id": line.id, "disc": line.disc, "answer": of_line(sheet, line, "answer") or None, "by": of_line(sheet, line, "by") or None,
             "at": moment(of_line(sheet, line, "at"), sheet.on) or None, "note": (reason(sheet, line) if needs_reason(sheet, line) else of_line(sheet, line, "note")) or None}
            for line in sheet.lines
        ],
        "discs": [_disc(plan, number, sheet.on) for number in range(len(sheet.discs))],
        **{name: _at(f"{plan}/session", name, sheet.on) for name, *_ in _SESSION},
    }  # fmt: skip
    if sheet.standing != "candidate":
        form["went_on"] = {name: _at(f"{plan}/went on", name, sheet.on) for name, *_ in _WENT_ON}
    return yaml.dump(form, Dumper=yaml_dumper(), sort_keys=False, allow_unicode=True)


def _disc(plan: str, number: int, on: str) -> dict[str, Any]:
    place = f"{plan}/disc {number}"
    found = {name: _at(place, name, on) for name, *_ in _DISC}
    volume, pressure, contrast = (found.pop(name) for name in ("volume", "pressure", "contrast_in_injectate"))
    units = [
        {name: _at(f"{place}/unit {unit}", name, on) for name, *_ in _UNIT}
        for unit in range(_containers(plan, number))
    ]
    return found | {
        "contrast_in_injectate": None if contrast is None else contrast == "yes",
        "volume": {"value": _number(volume), "unit": "mL"} if volume else None,
        "peak_pressure": {"value": _number(pressure), "unit": "psi"} if pressure else None,
        "units": units,
    }


def _at(place: str, name: str, on: str) -> Any:
    value = held().get(f"{place}/{name}") or None
    timed = name in ("injected_at", "thaw_began", "thaw_ended", "discharged")
    return moment(str(value), on) if value and timed else value


def _number(text: str) -> Any:
    """A number, or the text as it was typed, which is then refused with what is allowed."""
    try:
        return float(text)
    except ValueError:
        return text


@safely
def _take(sheet: DaySheet, lines: Checklist) -> None:
    st.session_state.pop("day-made", None)
    text = filled_text(sheet, lines)
    filled, tree = read_filled(text, _NAME)
    file = st.session_state.get("day-course-file")
    course = text_from_bytes(file.getvalue(), file.name) if file is not None else ""
    found = take_day(
        filled, tree, _NAME, parse_course(course, file.name) if file is not None else None, asked=lines
    )
    st.session_state["day-made"] = digest(text), with_session(course, found, _NAME), found.loud, found.events


def _made(sheet: DaySheet) -> None:
    """The course record, while the entries it was made of are those on the page."""
    made: tuple[str, str, tuple[str, ...], int] | None = st.session_state.get("day-made")
    if made is None:
        return
    from candidacy.day.checklist import checklist

    mark, text, loud, events = made
    if mark != digest(filled_text(sheet, checklist())):
        show.note("Something was changed since: check it again.", "notice")
        return
    for words in loud:
        show.note(f"‼ {words}", "alarm")
    more = (
        f" {events} event{'s' if events > 1 else ''} entered, not graded: judge and report." if events else ""
    )
    show.note(f"Everything is answered and fits. Take the course record away and keep it.{more}", "good")
    downloads(
        [Export("Course record (YAML)", f"{sheet.case}-course.yaml", "application/yaml", lambda: text)],
        width="content",
    )
