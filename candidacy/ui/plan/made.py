"""The plan of the open referral, made once for what it is made of."""

from datetime import date

import streamlit as st

from candidacy.plan.content import load_plan
from candidacy.plan.document import PlanDocument
from candidacy.plan.make import plan
from candidacy.rules.libraries import library_in_use
from candidacy.ui.plan.files import BEFORE, calendar, entries
from candidacy.ui.session import desk

_KEPT = "plan-made"


def made(on: date) -> PlanDocument:
    """The plan for a day, with what changed since the day that was proposed before.

    Raises
    ------
    InputError
        With what is wrong with the plan file, the entries or the calendar.
    """
    rules, case, rule_set, as_of = (
        load_plan(library_in_use()),
        desk().case(),
        desk().rule_set(),
        desk().as_of(),
    )
    days, said, before = calendar(rules), entries(), str(desk().kept.get(BEFORE) or "")
    earlier = (
        date.fromisoformat(before)
        if before and before != on.isoformat() and date.fromisoformat(before) >= as_of
        else None
    )
    key = (case.digest, rule_set.digest, rules.digest, days, said.digest if said else "", on, as_of, earlier)
    kept = st.session_state.get(_KEPT)
    if kept is None or kept[0] != key:
        found = plan(case, rule_set, rules, on, as_of, calendar=days, entries=said, earlier=earlier)
        kept = st.session_state[_KEPT] = (key, found)
    document: PlanDocument = kept[1]
    return document
