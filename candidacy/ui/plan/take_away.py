"""What can be taken away from a plan, and its steps put into the work list of a store."""

import streamlit as st

from candidacy.plan.document import PlanDocument
from candidacy.ui.exports import Export
from candidacy.ui.named_store import store_named
from candidacy.ui.session import desk, safely


def exports(plan: PlanDocument) -> list[Export]:
    """The files of a plan."""
    from candidacy.plan.ics import plan_calendar
    from candidacy.plan.page import plan_page
    from candidacy.plan.pdf import plan_pdf
    from candidacy.plan.table import plan_csv

    name = f"{plan.case.id}-plan-{plan.day}"
    found = [
        Export("Calendar (ics)", f"{name}.ics", "text/calendar", lambda: plan_calendar(plan)),
        Export("Steps (CSV)", f"{name}.csv", "text/csv", lambda: plan_csv(plan)),
        Export("PDF, A4", f"{name}.pdf", "application/pdf", lambda: plan_pdf(plan)),
        Export("PDF, Letter", f"{name}-letter.pdf", "application/pdf", lambda: plan_pdf(plan, "Letter")),
        Export("To print (HTML)", f"{name}.html", "text/html", lambda: plan_page(plan)),
        Export("JSON", f"{name}.json", "application/json", plan.to_json),
    ]
    if plan.discography is not None and plan.discography.form:
        form = plan.discography.form
        found.append(
            Export("Discography form", f"{plan.case.id}-discography-form.txt", "text/plain", lambda: form)
        )
    return found


def work_list(plan: PlanDocument) -> None:
    """A button that puts the steps into the work list, where a store was named at the start and holds this referral."""
    if not store_named():
        return
    from candidacy.ui.kept_referral import base_of

    st.button("Put the steps into the work list", key="plan-work", on_click=_put, args=(plan,), disabled=not base_of(desk()),
              help=None if base_of(desk()) else "Save the referral to the store first, on the page “Work list”")  # fmt: skip


@safely
def _put(plan: PlanDocument) -> None:
    from candidacy.records.plan_work import put_into_work
    from candidacy.ui.store_line import store

    st.session_state["notice"] = put_into_work(store(), plan).words
