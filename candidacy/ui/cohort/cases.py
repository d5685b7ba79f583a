"""Single cases of the cohort: the first of them as a table, any of them by its reference, and rows set aside."""

from collections import Counter
from typing import Any

import streamlit as st

from candidacy.case.edit import with_header
from candidacy.explain.build import build_document
from candidacy.foundation.errors import shorten
from candidacy.ui import show
from candidacy.ui.cohort.run import SHOWN_ROWS, Run
from candidacy.ui.exports import Export, downloads
from candidacy.ui.session import desk, hold, keep, kept_choice, safely, told_here

_PATIENT = "the patient"
_HIDDEN = "Case references are hidden while counts are masked."


def cases(run: Run, below: int) -> None:
    """Draw the view of cases."""
    if below:
        show.note(_HIDDEN)
        return
    levels, named = run.cohort.levels, run.cohort.rule_set.decisions.counted
    with st.container(horizontal=True):
        standing = st.selectbox("Standing", ["", *named], key=kept_choice("cohort-only", "", ["", *named]), on_change=keep,
                                args=("cohort-only", "kept-cohort-only"), width=240,
                                format_func=lambda name: named.get(name, "any"))  # fmt: skip
        about = st.selectbox("Outcomes of", [_PATIENT, *levels], key=kept_choice("cohort-about", _PATIENT, [_PATIENT, *levels]),
                             on_change=keep, args=("cohort-about", "kept-cohort-about"), width=240)  # fmt: skip
    frame = run.first_of(standing) if standing else run.first_cases()
    if about == _PATIENT:
        chosen = [c for c in frame if not any(str(c).startswith(f"{level}: ") for level in levels)]
    else:
        chosen = ["case_id", *(c for c in frame if str(c).startswith(f"{about}: "))]
    shown = frame[chosen].astype("string")
    for column in (c for c in chosen if str(c).endswith("standing")):
        shown[column] = shown[column].map(named, na_action="ignore")
    picked = st.dataframe(shown, hide_index=True, key=f"cohort-cases-{about}-{standing}", on_select="rerun", selection_mode="single-row",
                          placeholder="", column_config=_headers(run, chosen), alt=f"Outcomes of {about}, one row per case"
                          ).selection.rows  # fmt: skip
    _rest(run, standing)
    _pick(str(frame.iloc[picked[0]]["case_id"]) if picked else None)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        reference = st.text_input("Case reference", key="cohort-case", width=320, max_chars=200).strip()
        st.button("Open as the referral", key="cohort-open", on_click=_open)
    if reference:
        with told_here("Not found"):
            _found(run, reference)


def _rest(run: Run, standing: str) -> None:
    """Say how many cases there are that the table does not show."""
    counts = {row["standing"]: int(row["cases"]) for row in run.frame("standings").to_dict("records")}
    total = counts[standing] if standing else run.cohort.cases
    if total > SHOWN_ROWS:
        which = "of this standing" if standing else "by reference; the first are shown"
        show.note(
            f"{SHOWN_ROWS:,} of {total:,} cases {which}. Find any other below; “Files” writes all of them to a file."
        )
    elif not total:
        show.note("No case has this standing.")


def _headers(run: Run, columns: list[str]) -> dict[str, Any]:
    """Titles of criteria instead of their ids; reference and standing stay in view."""
    titles = {item.id: item.criterion.title for item in run.cohort.rule_set.criteria}
    found: dict[str, Any] = {"case_id": st.column_config.Column("Case", pinned=True)}
    for column in columns[1:]:
        name = column.split(": ")[-1]
        words = titles.get(name, name.capitalize())
        found[column] = st.column_config.Column(words, width="medium" if name in titles else None, pinned=name == "standing",
                                                help=show.label(words))  # fmt: skip
    return found


def _pick(reference: str | None) -> None:
    """Take the reference of a row when it is chosen, and leave what is typed after that alone."""
    if reference != st.session_state.get("cohort-picked"):
        st.session_state["cohort-picked"] = reference
        if reference is not None:
            hold("cohort-case", reference)


def _found(run: Run, reference: str) -> None:
    document = build_document(run.find(reference))
    show.put("standing.html", d=document, counts=Counter(c.shown for c in document.criteria))


@safely
def _open() -> None:
    run: Run | None = desk().kept.get("cohort-run")
    reference = st.session_state["cohort-case"].strip()
    if run is None or not reference:
        return
    case = run.find(reference).case
    record = case.record
    as_of = run.cohort.as_of
    if desk().as_of(record) != as_of:
        record = with_header(record, as_of=as_of.isoformat())
    desk().open(record, f"opened case {shorten(reference)} of the table")
    same = desk().rule_set().digest == run.cohort.rule_set.digest
    st.session_state["notice"] = (
        f"Opened as the referral as of {as_of.isoformat()}, "
        + (
            "with the same outcomes"
            if same
            else "but another rule set is chosen above than that of the results"
        )
        + "; undo brings the former one back."
        + "".join(f" Not read, and not in the record: {r.where}: “{r.text}”." for r in case.facts.remarks)
    )


def _cells_not_read(run: Run) -> None:
    """Draw the cells that could not be read; their rows count above."""
    cohort = run.cohort
    show.note("A cell that cannot be read makes its fact unknown, which neither passes nor fails; its row counts above. Mend "
              "the cell in the table, or say in the mapping how it is written, and screen again.")  # fmt: skip
    st.dataframe(run.first_unread_cells(), hide_index=True, placeholder="",
                 alt="Cells not read, with table, row, case, column, value, reason and what is allowed")  # fmt: skip
    if cohort.cells_not_read > SHOWN_ROWS:
        show.note(f"The first {SHOWN_ROWS:,} of {cohort.cells_not_read:,} cells; the file has all.")
    show.note("The file holds cells of the table as they are, case references included.", "notice")
    downloads([Export("Cells not read (CSV)", "cohort-cells-not-read.csv", "text/csv",
                      lambda: run.without_folders(cohort.cells_not_read_path.read_text("utf-8")))], width="content")  # fmt: skip


def set_aside(run: Run, below: int) -> None:
    """Draw the view of rows that could not be used."""
    cohort = run.cohort
    if below and (cohort.set_aside or cohort.cells_not_read or run.set_aside_elsewhere):
        show.note("Rows of the table are hidden while counts are masked.")
        return
    if cohort.cells_not_read:
        _cells_not_read(run)
    if not cohort.set_aside and not run.set_aside_elsewhere:
        show.note("No row was set aside.")
        return
    show.note("A row set aside counts nowhere above. Mend it in the table, and screen again.")
    frame = run.first_set_aside()
    st.dataframe(frame, hide_index=True, placeholder="", alt="Rows set aside, with row number and reason",
                 column_config={"reason": st.column_config.TextColumn("reason", width="large")})  # fmt: skip
    total = cohort.set_aside + run.set_aside_elsewhere
    if total > SHOWN_ROWS:
        show.note(f"The first {SHOWN_ROWS:,} of {total:,} rows; the file has all.")
    show.note("The file holds rows of the table as they are, case references included.", "notice")
    downloads([Export("Rows set aside (CSV)", "cohort-set-aside.csv", "text/csv",
                      lambda: run.without_folders(cohort.set_aside_path.read_text("utf-8")))], width="content")  # fmt: skip
