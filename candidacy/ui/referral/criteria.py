"""Criteria as rows that open in place; the disc-by-criterion table."""

import streamlit as st

from candidacy.explain.document import AssessmentDocument, CriterionInfo, FactInfo, TestInfo
from candidacy.explain.firm import FIRM
from candidacy.explain.labels import OUTCOMES
from candidacy.explain.marks import marks_of
from candidacy.explain.page import disc_rows
from candidacy.rules.vocabulary import GROUPS
from candidacy.ui import show
from candidacy.ui.session import desk, keep, kept_choice


def criteria_rows(document: AssessmentDocument) -> None:
    """Rows by group in reading order; each opens to values, limits, provenance, rules and sources."""
    subjects = ["all", "patient", *(disc.level for disc in document.discs)]
    with st.container(horizontal=True, vertical_alignment="bottom"):
        counts = {key: sum(c.outcome == key for c in document.criteria) for key in OUTCOMES}
        outcomes = st.segmented_control(
            "Outcome", ["fail", "undetermined", "pass"], selection_mode="multi", key=kept_choice("outcomes", []),
            format_func=lambda o: f"{OUTCOMES[o][0]} {OUTCOMES[o][1]} ({counts[o]})", on_change=keep,
            args=("outcomes", "kept-outcomes"),
            help="None chosen: all are shown. Counted here are also discs that are not considered, and as pass what does not apply; "
                 "beside the standing they are not.")  # fmt: skip
        subject = st.selectbox("Of", subjects, key=kept_choice("subject", "all", subjects), on_change=keep,
                               args=("subject", "kept-subject"), width=130)  # fmt: skip
    marks = marks_of(document)
    facts = {(fact.element, fact.subject): fact for fact in document.facts}
    sources = {source.key: source for source in document.sources}
    shown = [
        c
        for c in document.criteria
        if (not outcomes or c.outcome in outcomes) and subject in ("all", c.subject)
    ]
    whole = desk().whole_document() if document is desk().document() else document
    if not shown:
        show.note("No criterion matches.")
    for group, title in GROUPS.items():
        rows = [c for c in shown if c.group == group]
        if rows:
            st.subheader(title)
            with st.container(gap=None):
                for row in rows:
                    fired = [f for f in document.fired if row.id in f.because]
                    show.put("criterion.html", c=row, facts=_facts_of(row, facts), sources=sources, fired=fired,
                             decided=document.decided_by, m=marks, firm_name=FIRM,
                             firm=whole.firm_words(row.id, row.subject))  # fmt: skip


def _facts_of(row: CriterionInfo, facts: dict[tuple[str, str], FactInfo]) -> list[FactInfo]:
    found: dict[tuple[str, str], FactInfo] = {}

    def visit(test: TestInfo) -> None:
        for subject in (test.subject, "patient"):
            fact = facts.get((test.element, subject))
            if fact is not None:
                found.setdefault((fact.element, fact.subject), fact)
                break
        for part in test.parts:
            visit(part)

    visit(row.tests)
    if row.applies_tests is not None:
        visit(row.applies_tests)
    return list(found.values())


def disc_table(document: AssessmentDocument) -> None:
    """Criteria about discs as rows, discs as columns."""
    if not document.discs:
        show.note("No disc is named yet.")
        return
    show.put("disc_table.html", d=document, table=disc_rows(document))
