"""The proposed day that is kept with a referral, and the two files a plan may be given: entries and the practice's calendar."""

from datetime import date, timedelta

import streamlit as st

from candidacy.foundation.dates import day
from candidacy.foundation.files import parse, text_from_bytes
from candidacy.foundation.values import Span
from candidacy.plan.content import Rules
from candidacy.plan.entries import Entries, entries_of
from candidacy.plan.working_days import WorkingDays, calendar_of, working_days
from candidacy.ui import show
from candidacy.ui.session import desk, menu_moved, safely

DAY, BEFORE, ENTRIES, CALENDAR = "plan-day", "plan-before", "plan-entries", "plan-calendar"
_AHEAD = 14
_MAX_MB = 1


def proposed_day() -> date:
    """The day that was chosen, else the planned one of the record, else one two weeks ahead; never one that has passed."""
    first = desk().as_of()
    kept = desk().kept.get(DAY)
    if kept:
        return max(day(str(kept)), first)
    planned = desk().case().facts.patient.get("planned_procedure_date")
    if planned is not None and isinstance(planned.value, Span) and planned.value.exact:
        return max(date.fromordinal(int(planned.value.low)), first)
    return first + timedelta(_AHEAD)


def files() -> None:
    """Take entries for this referral, and a calendar of the practice; say what is in use, and let it be dropped."""
    with st.popover("Entries and calendar", width="content", key="plan-files", on_change=menu_moved) as menu:
        if not menu.open:
            return
        for name, label, told in (
            (
                ENTRIES,
                "Entries for this plan (YAML)",
                "hour, order lead, cost, discography, decision, log of the material",
            ),
            (CALENDAR, "Calendar of the practice (YAML)", "holidays and weekend days"),
        ):
            count = st.session_state.get(f"{name}-count", 0)
            st.file_uploader(
                label,
                key=f"{name}-{count}",
                on_change=_take,
                args=(name, count),
                max_upload_size=_MAX_MB,
                help=told,
            )
            if desk().kept.get(name):
                show.note(f"In use: {desk().kept[name][0]}")
                st.button("Leave it out", key=f"{name}-drop", on_click=_drop, args=(name,))


@safely
def _take(name: str, count: int) -> None:
    upload = st.session_state[f"{name}-{count}"]
    if upload is None:
        return
    st.session_state[f"{name}-count"] = count + 1
    text = text_from_bytes(upload.getvalue(), upload.name)
    if name == ENTRIES:
        entries_of(parse(text, upload.name), upload.name, desk().record.id)
    else:
        calendar_of(parse(text, upload.name), upload.name, ())
    desk().kept[name] = (upload.name, text)


@safely
def _drop(name: str) -> None:
    desk().kept.pop(name, None)


def calendar(rules: Rules) -> WorkingDays:
    """The calendar that was given, else the weekend of the plan."""
    weekend = rules.setting("weekend_days")
    name, text = desk().kept.get(CALENDAR) or ("", "")
    return calendar_of(parse(text, name), name, weekend) if text else working_days(weekend)


def entries() -> Entries | None:
    """The entries that were given for this referral."""
    name, text = desk().kept.get(ENTRIES) or ("", "")
    return entries_of(parse(text, name), name, desk().record.id) if text else None
