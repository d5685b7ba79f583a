"""The one queue of a referral: every report on its desk, those that need a person first."""

from typing import NamedTuple

import streamlit as st

from candidacy.case.record import CaseRecord
from candidacy.ui import show
from candidacy.ui.report.desk import KIND_WORDS, Report, Whose, rows, whose
from candidacy.ui.report.signs import signs_left
from candidacy.ui.session import desk, kept_choice, safely


class Line(NamedTuple):
    """One report in the queue: the signs in it that nobody has looked at, and how many facts wait for what."""

    signs: str
    undecided: int
    waiting: int
    """Accepted, and not in the referral."""
    unread: int
    is_taken: bool

    @property
    def rank(self) -> tuple[bool, bool, bool]:
        """What needs a person first comes first."""
        return (not self.signs, not self.undecided, not self.waiting)

    @property
    def words(self) -> str:
        """Where it stands."""
        told = ["look at first"] if self.signs else []
        told += [f"{self.undecided} to decide"] if self.undecided else []
        told += [f"{self.waiting} accepted, not put"] if self.waiting else []
        return ", ".join(told) or ("in the referral" if self.is_taken else "done")


def line_of(report: Report, record: CaseRecord, whose_it_is: Whose) -> Line:
    """Where a report stands to a referral."""
    open_ = [row for row in rows(record, report) if row.state != "same"]
    waiting = sum(report.choices.get(row.place) == "accept" for row in open_)
    undecided = sum(row.place not in report.choices for row in open_)
    return Line(
        signs_left(report, record, whose_it_is),
        undecided,
        waiting,
        len(report.reading.unread),
        report.is_taken(record),
    )


def _lines(reports: list[Report], record: CaseRecord) -> list[Line]:
    """The lines of all reports; what neither report nor referral changed is not worked out again."""
    kept = st.session_state.get("queue-lines", [])
    known = {id(report): line for at, report, line in kept if at is record}
    of = whose(record, reports)
    lines = [known.get(id(report)) or line_of(report, record, of) for report in reports]
    st.session_state["queue-lines"] = [
        (record, report, line) for report, line in zip(reports, lines, strict=True)
    ]
    return lines


def not_put_words(reports: list[Report], record: CaseRecord) -> str:
    """How many findings of the reports the standing does not count, for nobody put them into the referral; empty for none."""
    left = sum(line.undecided + line.waiting for line in _lines(reports, record))
    if not left:
        return ""
    return f"{left} {'finding' if left == 1 else 'findings'} read here {'counts' if left == 1 else 'count'} only once put into the referral."


def choose(reports: list[Report]) -> int:
    """Draw the queue and give the place, among the reports as they were added, of the one that is open."""
    number = min(int(desk().kept.get("report", 0)), len(reports) - 1)
    if len(reports) == 1:
        return 0
    lines = _lines(reports, desk().record)
    order = sorted(range(len(reports)), key=lambda n: (lines[n].rank, n))
    show.put(
        "queue.html", queue=[(reports[n], lines[n]) for n in order], kinds=KIND_WORDS, open=reports[number]
    )
    with st.container(horizontal=True, vertical_alignment="bottom"):
        key = kept_choice("report", number, order)
        st.selectbox("Report", order, key=key, on_change=_choose, args=(key, len(reports)),
                     format_func=lambda n: f"{n + 1}. {reports[n].name}")  # fmt: skip
        ahead = next((n for n in order if n != number and any(not done for done in lines[n].rank)), None)
        st.button(
            "Next to decide", key="report-next", disabled=ahead is None, on_click=_open, args=(ahead or 0,)
        )
    return number


@safely
def _choose(key: str, count: int) -> None:
    chosen = st.session_state[key]
    if chosen in range(count):  # a browser may still send the words of a report that has been taken off
        desk().kept["report"] = chosen


@safely
def _open(number: int) -> None:
    desk().kept["report"] = number
