"""Plan: a proposed day for the open referral; what stands against it first, then the timeline and steps by owner or day."""

from base64 import b64encode
from datetime import date

import streamlit as st

from candidacy.plan.document import PlanDocument
from candidacy.plan.page import timeline
from candidacy.plan.picture import picture
from candidacy.plan.text import changes_lines
from candidacy.ui import show
from candidacy.ui.exports import downloads
from candidacy.ui.head_line import bar
from candidacy.ui.kept_decision import tell_kept_decision
from candidacy.ui.plan.files import BEFORE, DAY, files, proposed_day
from candidacy.ui.plan.made import made
from candidacy.ui.plan.take_away import exports, work_list
from candidacy.ui.session import desk, hold, keep, kept_choice, safely, told_here

_GROUPS = ["Owner", "Day"]


def plan_page() -> None:
    """Draw the page."""
    bar()
    if desk().untouched:
        show.note("Open a referral first; the plan is worked out from it.")
        return
    with st.container(horizontal=True, vertical_alignment="bottom", key="plan-head"):
        day = proposed_day()
        hold("plan-day-field", day)
        st.date_input(
            "Proposed day of injection", key="plan-day-field", min_value=desk().as_of(), on_change=_move, width=200,
            help=f"From {desk().as_of().isoformat()}, the day of this plan",
        )  # fmt: skip
        files()
    tell_kept_decision()
    with told_here("The plan could not be made"):
        plan = made(day)
        _draw(plan)


@safely
def _move() -> None:
    chosen = st.session_state["plan-day-field"]
    if isinstance(chosen, date):
        before = proposed_day()
        desk().kept[BEFORE] = before.isoformat() if before != chosen else desk().kept.get(BEFORE, "")
        desk().kept[DAY] = chosen.isoformat()


def _draw(plan: PlanDocument) -> None:
    show.put("plan_head.html", p=plan, changes=[line[2:] for line in changes_lines(plan)])
    if plan.kind == "urgent":
        return
    found = picture(plan)
    if found is not None:
        # as an image: the page takes no drawing into its markup
        source = b64encode(timeline(plan).encode("utf-8")).decode("ascii")
        show.put("plan_timeline.html", source=source, words=found.words)
    with st.container(horizontal=True, vertical_alignment="bottom", key="plan-take-away"):
        downloads(exports(plan), width="content")
        work_list(plan)
    by = st.segmented_control("Steps by", _GROUPS, key=kept_choice("plan-by", "Owner", _GROUPS), required=True, on_change=keep,
                              args=("plan-by", "kept-plan-by"))  # fmt: skip
    show.put("plan_steps.html", p=plan, groups=_groups(plan, by or "Owner"))
    show.put("plan_more.html", p=plan)


def _groups(plan: PlanDocument, by: str) -> list[tuple[str, list[object]]]:
    """Steps in the order of the plan, under their owner or all together."""
    if by == "Day":
        return [("By day", list(plan.steps))]
    owners = dict.fromkeys(step.owner_words for step in plan.steps)
    return [(owner, [step for step in plan.steps if step.owner_words == owner]) for owner in owners]
