"""The lower half of the page: what came of a screening, one view at a time."""

from collections.abc import Callable

import streamlit as st

from candidacy.cohort.answers.masking import shown_flow
from candidacy.explain.cautions import GENERAL
from candidacy.explain.labels import force_words, standing_words
from candidacy.foundation.errors import Code, Problem
from candidacy.ui import show
from candidacy.ui.cohort.archive import csv_text
from candidacy.ui.cohort.cases import cases, set_aside
from candidacy.ui.cohort.firm import how_firm
from candidacy.ui.cohort.other import other_rule_set
from candidacy.ui.cohort.run import Run
from candidacy.ui.cohort.setup import Asked
from candidacy.ui.cohort.shown import (
    counted,
    counts_table,
    mask_switch,
    masked_counts,
    number,
    table_downloads,
)
from candidacy.ui.cohort.take_away import take_away
from candidacy.ui.cohort.what_if import what_if
from candidacy.ui.exports import Export
from candidacy.ui.session import keep, kept_choice

_CRITERION = {"title": "Criterion", "subject": "About", "force": "Force"}


def results(run: Run, now: Asked | None) -> None:
    """Draw the results; ``now`` is what would be screened now, to say where that differs."""
    below = mask_switch()
    differs = run.asked.differs_from(now) if now else ["choice"]
    if differs:
        show.note(
            f"These results are of the former {', '.join(differs)}. Screen again to use what is chosen now.",
            "notice",
        )
    if below is None:
        return
    _head(run, below)
    if run.notes:
        show.put(
            "unread.html", columns=[(note.file, note.field, _not_read(note, below)) for note in run.notes]
        )
    view = st.segmented_control("Result", list(_VIEWS), key=kept_choice("cohort-view", "Standings", list(_VIEWS)), on_change=keep,
                                args=("cohort-view", "kept-cohort-view"), required=True, label_visibility="collapsed")  # fmt: skip
    with st.spinner("Counting", show_time=True):  # it comes up only where the counting takes its time
        _VIEWS[view or "Standings"](run, below)


def _not_read(note: Problem, below: int) -> str:
    """What stands beside the name of a column that was not read: why, or that it holds words; masked, without their number."""
    if note.code is Code.BAD_TABLE:
        return note.message
    return note.found if not below or not note.found else "words, which no rule reads"


def _head(run: Run, below: int) -> None:
    cohort, file = run.cohort, run.cohort.rule_set.file
    counts = [
        f"{counted(cohort.cases, 'case', below)} read",
        f"{counted(cohort.set_aside, 'row', below)} set aside",
    ]
    if cohort.cells_not_read:
        counts.append(f"{counted(cohort.cells_not_read, 'cell', below)} not read, their facts unknown")
    if cohort.with_remarks:
        counts.append(
            f"{counted(cohort.with_remarks, 'record', below)} with remarks that no rule read: open the case to read them"
        )
    if run.set_aside_elsewhere:
        counts.append(f"{counted(run.set_aside_elsewhere, 'row', below)} of the other tables set aside")
    trial = f"; local trial: {'; '.join(cohort.rule_set.trial)}" if cohort.rule_set.trial else ""
    trial += "".join(f"; {words}" for words in cohort.rule_set.own_words)
    show.put("cohort_head.html", title=f"{file.title} {file.version}", status=file.status.replace("_", " "), trial=trial,
             as_of=cohort.as_of.isoformat(), name=cohort.name, counts=", ".join(counts))  # fmt: skip


def _standings(run: Run, below: int) -> None:
    frame = run.frame("standings")
    named = run.cohort.rule_set.decisions.counted
    rows = [
        (standing_words(r["standing"], named[r["standing"]]), r["standing"], number(int(r["cases"]), below))
        for r in frame.to_dict("records")
        if r["standing"] in named
    ]
    show.put("tallies.html", rows=rows, head="Cases by standing")
    discs = run.frame("disc_standings")
    if not discs.empty:
        names = {name: words for name, words in named.items() if name in discs}
        counts_table(discs, "Discs by level and standing", {"disc": "Disc", **names}, below, narrow=True)
    files = [_csv("Standings (CSV)", "standings", lambda: csv_text(masked_counts(frame, below)), below)]
    if not discs.empty:
        files.append(
            _csv("Discs (CSV)", "disc-standings", lambda: csv_text(masked_counts(discs, below)), below)
        )
    table_downloads(files)


def _csv(label: str, name: str, make: Callable[[], str], below: int) -> Export:
    return Export(label, f"cohort-{name}{'-masked' if below else ''}.csv", "text/csv", make)


def _criteria(run: Run, below: int) -> None:
    frame = run.frame("tallies")
    counts_table(frame, "Each criterion on its own; those about discs count discs",
                 {**_CRITERION, "pass": "Pass", "fail": "Fail", "undetermined": "Undetermined"}, below)  # fmt: skip
    table_downloads(
        [_csv("Criteria (CSV)", "criteria", lambda: csv_text(masked_counts(frame, below)), below)]
    )


def _reasons(run: Run, below: int) -> None:
    frame = run.frame("reasons")
    if frame.empty:
        show.note("No case and no disc fails a criterion that ends candidacy.")
        return
    counts_table(frame, "Criteria that end candidacy, the most frequent first",
                 {**_CRITERION, "failing": "Fail it", "sole": "Fail only this"}, below)  # fmt: skip
    table_downloads([_csv("Reasons (CSV)", "reasons", lambda: csv_text(masked_counts(frame, below)), below)])


def _missing(run: Run, below: int) -> None:
    frame = run.frame("missing_ranking")
    if frame.empty:
        show.note("No fact is missing that could decide.")
        return
    counts_table(frame, "Missing facts, by how many cases each would settle",
                 {"ask": "Ask for", "burden": "How", "settles": "Would settle the standing, as the one fact missing", "waiting": "Cases waiting"},
                 below)  # fmt: skip
    table_downloads(
        [_csv("Missing facts (CSV)", "missing", lambda: csv_text(masked_counts(frame, below)), below)]
    )


def _left(run: Run, below: int) -> None:
    flows = run.flows()
    if not flows:
        show.note("No case and no disc enters.")
    for flow in flows:
        shown = shown_flow(flow, below)
        st.subheader(f"Flow of {flow.unit}")
        words = f"Flow of {flow.unit}: {shown['start']} enter, {shown['excluded']} excluded, {shown['waiting']} wait for facts, {shown['passing']} pass every deciding criterion"
        st.image(
            run.diagram(flow, "png", below),
            width=820,
            alt=f"{words}. The same numbers stand in the table below.",
        )
        mark = "-masked" if below else ""
        table_downloads(
            [
                Export(f"Diagram of {flow.unit} ({form.upper()})", f"flow-of-{flow.unit}{mark}.{form}", mime,
                       lambda f=flow, k=form: run.diagram(f, k, below))  # type: ignore[misc]
                for form, mime in (("svg", "image/svg+xml"), ("png", "image/png"))
            ]
        )  # fmt: skip
        rows = [[s["title"], force_words(s["force"]), *(s[k] for k in ("entering", "excluded", "remaining", "waiting"))]
                for s in shown["steps"]]  # fmt: skip
        show.put("counts.html", head=f"{words}. Criteria at which none leaves or waits are left out.", rows=rows, narrow=False,
                 columns=["Criterion", "Force", "Entering", "Excluded", "Left", "Failing nothing, waiting here"],
                 numbers=[2, 3, 4, 5])  # fmt: skip
    table_downloads(
        [
            _csv("Flow, every criterion (CSV)", "flow",
                 lambda: csv_text(masked_counts(run.frame("attrition"), below)), below)
        ]
    )  # fmt: skip


_VIEWS: dict[str, Callable[[Run, int], None]] = {
    "Standings": _standings,
    "Who is left": _left,
    "Reasons": _reasons,
    "Criteria": _criteria,
    "Missing": _missing,
    "How firm": how_firm,
    "What if": what_if,
    "Compare": other_rule_set,
    "Set aside": set_aside,
    "Cases": cases,
    "Files": take_away,
}


def cautions(run: Run | None) -> None:
    """The cautions of the rule set used and of every output."""
    own = run.cohort.rule_set.file.cautions if run else ()
    show.put("cautions.html", cautions=dict.fromkeys((*GENERAL, *own)))
