"""The same cases under another rule set: who moves, and because of which criterion."""

from typing import Any

import streamlit as st

from candidacy.explain.labels import standing_words
from candidacy.ui import show
from candidacy.ui.cohort.archive import csv_text, moved_csv
from candidacy.ui.cohort.run import SHOWN_ROWS, Compared, Run
from candidacy.ui.cohort.shown import counted, counts_table, masked_counts, table_downloads
from candidacy.ui.exports import Export
from candidacy.ui.head_line import rule_set_names
from candidacy.ui.session import keep, kept_choice, told_here

_MOVES = {
    "from": "From",
    "to": "To",
    "criterion": "Because of criterion",
    "change": "What differs",
    "cases": "Cases",
}
_CASES: Any = {
    "case_id": st.column_config.Column("Case", pinned=True),
    "standing_one": "From",
    "standing_other": "To",
    "because": st.column_config.Column("Because of", width="large"),
}


def other_rule_set(run: Run, below: int) -> None:
    """Draw the view."""
    used = run.cohort.rule_set
    names = {n: title for n, title in rule_set_names().items() if n != used.id or used.trial}
    with st.container(horizontal=True, vertical_alignment="bottom"):
        chosen = st.selectbox("Other rule set, as shipped", list(names), key=kept_choice("cohort-other", next(iter(names)), list(names)),
                              format_func=names.__getitem__, on_change=keep, args=("cohort-other", "kept-cohort-other"),
                              width=420)  # fmt: skip
        go = st.button("Compare", key="cohort-compare")
    if go:
        with (
            told_here("Refused; nothing was compared"),
            st.spinner("Reading every case under both", show_time=True),
        ):
            run.compare(chosen, names[chosen])
    if run.compared is not None:
        _outcome(run, run.compared, f"{used.file.title} {used.file.version}", below)


def _outcome(run: Run, found: Compared, title: str, below: int) -> None:
    st.subheader("Who moves")
    show.note(
        f"From {title} to {found.title}: {counted(found.comparison.count, 'case', below)} in another standing."
    )
    if found.comparison.moves.empty:
        return
    titles = {
        item.id: item.criterion.title for rules in found.comparison.rule_sets for item in rules.criteria
    }
    mark = "-masked" if below else ""
    moves = found.comparison.moves
    one, other = (rules.decisions.counted for rules in found.comparison.rule_sets)
    told = moves.assign(criterion=moves["criterion"].map(lambda name: titles.get(name, name)))
    told["from"] = told["from"].map(lambda code: standing_words(code, one.get(code, "")))
    told["to"] = told["to"].map(lambda code: standing_words(code, other.get(code, "")))
    counts_table(told, "Moves, and the criterion that makes the difference; a case counts at each such criterion",
                 _MOVES, below)  # fmt: skip
    files = [
        Export(
            "Moves (CSV)",
            f"cohort-moves{mark}.csv",
            "text/csv",
            lambda: csv_text(masked_counts(found.comparison.moves, below)),
        )
    ]
    if not below:
        files.append(Export("Cases that move, with references (CSV)", "cohort-cases-that-move.csv", "text/csv",
                            lambda: moved_csv(run)))  # fmt: skip
    table_downloads(files)
    if below:
        show.note("Case references are hidden while counts are masked.")
        return
    first = found.first.astype("string")
    orders = [rules.decisions for rules in found.comparison.rule_sets]
    for column, order in zip(("standing_one", "standing_other"), orders, strict=True):
        first[column] = first[column].map(order.counted, na_action="ignore")
    st.dataframe(
        first,
        hide_index=True,
        column_config=_CASES,
        alt="Cases that move, with both standings and the criteria",
    )
    if found.comparison.count > SHOWN_ROWS:
        show.note(
            f"The first {SHOWN_ROWS:,} of {found.comparison.count:,} cases by reference; the file has all."
        )
