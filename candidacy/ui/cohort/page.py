"""Cohort: screen a table of referrals, see who is left and why, try limits, open a case."""

import streamlit as st

from candidacy.foundation.errors import InputError
from candidacy.ui import show
from candidacy.ui.cohort.form import asked, reading_fields, setup_form
from candidacy.ui.cohort.job import Job
from candidacy.ui.cohort.results import cautions, results
from candidacy.ui.cohort.run import Run, run
from candidacy.ui.cohort.setup import Asked
from candidacy.ui.exports import Export
from candidacy.ui.head_line import bar
from candidacy.ui.session import desk, safely

_LOOK_EVERY = 0.3  # seconds


def cohort() -> None:
    """Draw the page."""
    found: Run | None = desk().kept.get("cohort-run")
    bar([_summary(found)] if found else [])
    now: Asked | None = None
    setup = setup_form()
    if setup.cases is not None:
        with st.container(horizontal=True, vertical_alignment="bottom"):
            reading_fields(setup)
            _buttons()
        try:
            now = asked()
        except InputError as error:
            show.problems(error.problems)
    elif found is None:
        show.put("cohort_start.html")
    _watch()
    _told()
    if found is not None:
        results(found, now)
    cautions(found)


def _summary(found: Run) -> Export:
    return Export(
        "Cohort summary to print (HTML, not masked)", "cohort-summary.html", "text/html", found.summary
    )


# --- screening


def _buttons() -> None:
    st.button(
        "Screen the table", type="primary", key="cohort-go", on_click=_start, disabled=_job() is not None
    )
    if _job() is not None:
        st.button("Stop", key="cohort-stop", on_click=_stop)


def _job() -> Job | None:
    job: Job | None = desk().kept.get("cohort-job")
    return job


@safely
def _start() -> None:
    wanted = asked()
    desk().kept.pop("cohort-refused", None)
    desk().kept["cohort-job"] = Job(lambda tell: run(wanted, tell))


@safely
def _stop() -> None:
    job = desk().kept.pop("cohort-job", None)
    if job is not None:
        job.give_up()
        st.session_state["notice"] = "Stopped; nothing was screened."


def _watch() -> None:
    """Show how far the screening is until it ends, then take what it gave; another page may be opened meanwhile."""
    job = _job()
    if job is None:
        return
    place = st.empty()
    while job.running:
        what, done, of = job.step
        with place.container():
            st.progress(done / of, text=f"Step {min(done + 1, of)} of {of}: {what}; {job.seconds} s")
            show.note("The results come up here when it is done. Other pages can be used meanwhile.")
        job.wait(_LOOK_EVERY)
    place.empty()
    desk().kept.pop("cohort-job", None)
    if job.result is not None:
        desk().kept["cohort-run"] = job.result
    elif job.failed:
        st.session_state["fault"] = True
    else:
        desk().kept["cohort-refused"] = job.problems
    st.rerun()


def _told() -> None:
    refused = desk().kept.get("cohort-refused")
    if refused:
        show.put("table_problems.html", problems=refused, heading="Refused; nothing was screened")
