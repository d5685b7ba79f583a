"""What a report does not state, and the request for it: each point may be unticked, and the letter then lacks it."""

import streamlit as st

from candidacy.case.facts import normal_level
from candidacy.reading.ask import Request, Wanted, request
from candidacy.reading.model import Reading
from candidacy.reading.notes.elements import told
from candidacy.reading.request_letter import letter, places
from candidacy.ui import show
from candidacy.ui.head_line import rule_set_names
from candidacy.ui.report.desk import Report, change, reports_of
from candidacy.ui.session import desk, hold, keep, kept_choice, safely


def ask_for_the_rest(number: int, report: Report) -> None:
    """Draw it; an author of a letter or procedure note is not asked."""
    if report.kind not in ("imaging", "discography"):
        return
    st.subheader("What the report does not state")
    names = rule_set_names()
    left, right = st.columns([1, 1.25], gap="medium", wrap=False)
    with left:
        chosen = st.selectbox("Needed by", list(names), key=kept_choice("ask-rules", desk().rules, list(names)),
                              format_func=names.__getitem__, on_change=keep, args=("ask-rules", "kept-ask-rules"))  # fmt: skip
        rule_set = desk().rule_set(chosen)
        asked = _asked(report, chosen)
        ticked = _points(number, report, asked)
        show.put("wanted.html", asked=asked)
    with right:
        if asked.items and not ticked:
            show.note("No point is ticked, so there is no letter.", "notice")
            return
        text = letter(asked._replace(items=ticked), rule_set.file.title, report.day)
        st.markdown("**Request for an addendum**")
        st.code(text, language=None, wrap_lines=True)
        st.download_button("Download the request", text, file_name="addendum-request.txt", mime="text/plain", key=f"ask-{number}",
                           on_click="ignore")  # fmt: skip


def _asked(report: Report, rules: str) -> Request:
    reading = report.reading if isinstance(report.reading, Reading) else told(report.reading)
    return request(
        reading,
        desk().rule_set(rules),
        desk().as_of(),
        discs=_considered(),
        day=report.day,
        status=report.sent.status,
        case=desk().record,
    )


def _points(number: int, report: Report, asked: Request) -> tuple[Wanted, ...]:
    """A box for each point; the points that are ticked."""
    if not asked.items:
        return ()
    st.markdown("**Points of the letter**")
    with st.container(key="points", gap="xsmall"):
        return _boxes(number, report, asked)


def _boxes(number: int, report: Report, asked: Request) -> tuple[Wanted, ...]:
    ticked = []
    for item in asked.items:
        key = f"ask-{number}-{'-'.join(item.elements)}"
        hold(key, item.elements not in report.unticked)
        if st.checkbox(
            f"{item.ask}{places(item)}",
            key=key,
            on_change=_tick,
            args=(number, item.elements, key),
        ):
            ticked.append(item)
    return tuple(ticked)


@safely
def _tick(number: int, elements: tuple[str, ...], key: str) -> None:
    left_out = reports_of(desk())[number].unticked - {elements}
    change(desk(), number, unticked=left_out if st.session_state[key] else left_out | {elements})


def _considered() -> tuple[str, ...]:
    """The discs the referral names as considered; none leaves the choice to the reader of the report."""
    entry = desk().entry("patient", "discs_under_consideration")
    named = (
        (entry.value if isinstance(entry.value, tuple) else entry.includes or ()) if entry is not None else ()
    )
    return tuple(level for level in (normal_level(str(n)) for n in named) if level)
