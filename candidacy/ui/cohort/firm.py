"""How firm the standings of a cohort are: of how many one repeat of what was measured would change them."""

import streamlit as st

from candidacy.explain.labels import standing_words
from candidacy.ui import show
from candidacy.ui.cohort.archive import csv_text
from candidacy.ui.cohort.run import Run
from candidacy.ui.cohort.shown import counted, counts_table, masked_counts, table_downloads
from candidacy.ui.exports import Export
from candidacy.ui.session import told_here

ASKED = 200  # cases of a sample; each is assessed by itself, so more take their time
_COLUMNS = {
    "standing": "Standing",
    "cases": "Cases",
    "asked": "Asked",
    "told": "A figure can be told",
    "moving": "Would change more than 1 time in 20",
}


def how_firm(run: Run, below: int) -> None:
    """Draw the view."""
    show.note(
        "The same patients are measured once more, by published error of measurement and disagreement of readers. A figure is "
        "told where neither safety nor a missing fact decides; what a case says of itself stands under “Cases”, opened as the referral."
    )
    if st.button(f"Ask up to {ASKED} cases", key="cohort-firm"):
        with told_here("Refused; nothing was asked"), st.spinner("Measuring again", show_time=True):
            run.ask_how_firm(ASKED)
    if run.firm is None:
        return
    named = run.cohort.rule_set.decisions.counted
    frame = run.firm.drop(columns="share")
    frame = frame[frame["standing"].isin(list(named))]
    asked, cases = int(frame["asked"].sum()), int(run.cohort.cases)
    drawn = f"A random sample of {counted(asked, 'case', below)}" if asked < cases else "All cases"
    told = frame.assign(standing=[standing_words(s, named[s]) for s in frame["standing"]])
    counts_table(
        told, f"{drawn}: standings that one repeat of what was measured would change", _COLUMNS, below
    )
    mark = "-masked" if below else ""
    table_downloads(
        [
            Export(
                "How firm (CSV)", f"cohort-how-firm{mark}.csv", "text/csv",
                lambda: csv_text(masked_counts(frame, below)),
            )
        ]
    )  # fmt: skip
