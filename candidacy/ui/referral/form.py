"""The form: groups of the catalogue in the order in which a clinician asks; only open groups are built."""

from collections.abc import Callable
from functools import partial

import streamlit as st

from candidacy.assessment.assess import elements_used
from candidacy.case.catalogue import catalogue
from candidacy.case.edit import ListName, facts_of
from candidacy.case.element import LISTS, Element
from candidacy.explain.document import AssessmentDocument
from candidacy.ui import show
from candidacy.ui.referral.disc_grid import disc_grid
from candidacy.ui.referral.fields import field
from candidacy.ui.referral.lists import entry_list
from candidacy.ui.session import desk, keep, kept_choice, safely, told

# Under which group a list of the record is asked for.
_LIST_TITLES = {
    "treatments": "Each treatment",
    "injections": "Each injection",
    "surgeries": "Each surgery",
    "intradiscal_procedures": "Each intradiscal procedure",
    "medicines": "Each medicine",
}
_LISTS_IN: dict[str, tuple[ListName, ...]] = {
    "care_so_far": ("treatments", "injections", "surgeries", "intradiscal_procedures"),
    "each_medicine": ("medicines",),
}
_DISC_GROUP = "disc"  # the disc grid stands here; its fields come from four groups
_OPEN_AT_START = ("person", "pain_and_function")


def fields_that_matter(document: AssessmentDocument) -> set[str]:
    """Elements the rule set reads, what those are worked out from as far as read, and what is recorded."""
    names = set(elements_used(desk().rule_set())) | {fact.element for fact in document.facts}
    record = desk().record
    names |= set(record.patient) | {name for table in record.discs.values() for name in table}
    return names | {element for _, element in desk().drafts}


def fact_form(document: AssessmentDocument) -> None:
    """Every group as a section that opens; sections with facts the rule set reads come first to hand."""
    matter = _shown_before(fields_that_matter(document))
    shelf = catalogue()
    disc_groups = [
        g for g in shelf.groups if any(e.scope == "disc" and shelf.group_of(e.name) == g for e in shelf.all)
    ]
    for group, title in shelf.groups.items():
        elements = [e for e in shelf.statable("patient").values() if shelf.group_of(e.name) == group]
        if group == _DISC_GROUP:
            _section(group, "Discs", lambda: disc_grid(matter, disc_groups), _disc_count())
        if elements:
            _patient_section(group, title, elements, matter)
        for name in _LISTS_IN.get(group, ()):
            _section(
                f"list-{name}",
                _LIST_TITLES[name],
                partial(entry_list, name, matter),
                _list_count(name),
            )


def _shown_before(matter: set[str]) -> set[str]:
    """These and those that mattered when the form was drawn before, so that an answer takes no field from under the hands.

    An age given makes the birth date matter no more: the fields behind it would move up, and the one in use lose the focus.
    """
    form = (desk().rules, desk().record.id)
    last, before = st.session_state.get("fields-shown", (form, frozenset()))
    shown = matter | before if last == form else matter
    st.session_state["fields-shown"] = (form, shown)
    return shown


def _patient_section(group: str, title: str, elements: list[Element], matter: set[str]) -> None:
    first = [e for e in elements if e.name in matter]
    rest = [e for e in elements if e.name not in matter]
    known = sum(
        1 for e in first if (entry := desk().entry("patient", e.name)) is not None and entry.unknown is None
    )
    count = f"{known} of {len(first)}" if first else "not read by this rule set"

    def build() -> None:
        _fields(first)
        if rest:
            text = (
                f"Also show {len(rest)} fields this rule set does not read"
                if first
                else f"Show the {len(rest)} fields"
            )
            name = f"all-{group}"
            if st.toggle(text, key=kept_choice(name, False), on_change=keep, args=(name, f"kept-{name}")):
                _fields(rest)

    _section(group, title, build, count)


def _fields(elements: list[Element]) -> None:
    with st.container(horizontal=True, gap="small"):
        for element in elements:
            field("patient", element)


def _section(name: str, title: str, build: Callable[[], None], count: str) -> None:
    """A heading that opens and closes; what is closed is not built."""
    opened = is_open(name)
    sign = ":material/expand_more:" if opened else ":material/chevron_right:"
    st.button(f"**{title}** {count}", key=f"section-{name}", icon=sign, width="stretch", on_click=_toggle, args=(name,),
              help=f"{'Close' if opened else 'Open'} {title.lower()}")  # fmt: skip
    if opened:
        with st.container(key=f"body-{name}", gap="small"):
            build()


def is_open(name: str) -> bool:
    """Whether a section is open."""
    return bool(desk().kept.get(f"open-{name}", name in _OPEN_AT_START))


@safely
def _toggle(name: str) -> None:
    desk().kept[f"open-{name}"] = not is_open(name)


def _disc_count() -> str:
    count = len(desk().record.discs)
    return f"{count} described" if count else "none described"


def _list_count(name: str) -> str:
    listed = getattr(desk().record, name)
    count = len(listed.entries) if listed else 0
    if listed is not None and listed.complete:
        return f"{count}, complete"
    return f"{count}, not stated to be complete"


def go_to(subject: str, element: str) -> None:
    """Open the section of a field and have the page move to it."""
    shelf = catalogue()
    if element in LISTS:
        section = f"list-{element}"
    elif subject == "patient":
        section = shelf.group_of(element)
        if element not in fields_that_matter(desk().document()):
            desk().kept[f"all-{section}"] = True
    elif "[" in subject:
        section = f"list-{subject.split('[')[0]}"
    else:
        section = _DISC_GROUP
        desk().kept["disc-view"] = shelf.group_of(element)
    desk().kept[f"open-{section}"] = True
    desk().kept["view"] = "Facts"
    st.session_state["move-to"] = (subject, element)


def move() -> None:
    """Bring the field that was asked for into view and put the cursor into it."""
    asked = told("move-to")
    if asked is None:
        return
    subject, element = asked
    place = "grid" if subject not in ("patient",) and "[" not in subject else "form"
    known = facts_of(desk().record, subject) is not None and (element in catalogue() or element in LISTS)
    if known:
        show.move_to(f"section-list-{element}" if element in LISTS else f"{place}-{subject}-{element}")
