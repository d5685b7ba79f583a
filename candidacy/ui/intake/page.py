"""The guided intake: one of six pages at a time, with what it asks, what may be denied together, and the way on."""

import streamlit as st

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.explain.document import AssessmentDocument
from candidacy.ui import show
from candidacy.ui.desk import Place
from candidacy.ui.intake.absent import LISTING, absent_block
from candidacy.ui.intake.plan import IntakePage, page_named, pages
from candidacy.ui.intake.rows import considered, count_open, fresh_rows, further, page_rows
from candidacy.ui.intake.source import enter, leave, source_first
from candidacy.ui.referral.fields import field
from candidacy.ui.referral.form import fields_that_matter
from candidacy.ui.referral.lists import entry_list
from candidacy.ui.session import desk, hold, keep, kept_choice, safely, told

PAGE = "intake-page"


def guided_intake(document: AssessmentDocument) -> None:
    """Draw the open page."""
    page = page_named(str(desk().kept.get(PAGE, "")))
    enter(page)
    names = [each.id for each in pages()]
    hold("intake-nav", page.id)
    st.segmented_control("Page", names, key="intake-nav", required=True, on_change=_choose, label_visibility="collapsed",
                         format_func=lambda name: _nav_words(page_named(name), document))  # fmt: skip
    place = names.index(page.id)
    show.put("intake_head.html", number=place + 1, count=len(names), title=page.title)
    ready = source_first(page)
    rows = page_rows(desk(), page, document)
    lists = {heading: [row for row in rows if row[1] in names] for heading, names in page.absent.items()}
    asked = [row for row in rows if not any(row in each for each in lists.values())]
    show.put("intake_part.html", title="To answer", text="Sorted by what they decide." if asked else "Nothing more to "
             "answer here under this rule set.")  # fmt: skip
    _fields(asked, ready=ready)
    words = "asked, and absent" if page.told_by == "conversation" else "stated as absent in the source"
    for number, (heading, deny) in enumerate(lists.items()):
        if deny:
            show.put("intake_part.html", title=heading, text="Answer what is there first; the rest can be recorded as "
                     "absent together, each line listed before it is.")  # fmt: skip
            _fields(deny, ready=ready)
            absent_block(number, deny, document, words, ready=ready)
    _further(page, document, rows, ready=ready)
    _ways(names, place)
    if told("intake-top"):
        show.move_to("intake-source")


def _nav_words(page: IntakePage, document: AssessmentDocument) -> str:
    return f"{page.title} ({count_open(desk(), page, document)})"


def _fields(rows: list[Place], *, ready: bool) -> None:
    """Fields of the patient, then disc by disc, then lists; locked until a source is chosen."""
    for subject in dict.fromkeys(["patient", *(each for each, _ in rows)]):
        own = [row for row in rows if row[0] == subject and row[1] not in LISTS]
        if own and subject != "patient":
            show.put("level.html", level=subject)
        if own:
            with st.container(horizontal=True, gap="small"):
                for _, name in own:
                    field(subject, catalogue()[name], "intake", spread=True, locked=not ready)
    for _, name in rows:
        if name in LISTS:
            show.put("level.html", level=name.replace("_", " ").capitalize())
            entry_list(name, fields_that_matter(desk().document()), locked=not ready)  # type: ignore[arg-type]


def _further(page: IntakePage, document: AssessmentDocument, rows: list[Place], *, ready: bool) -> None:
    more = further(desk(), page, fields_that_matter(document), rows)
    if not more:
        return
    key = f"intake-more-{page.id}"
    text = f"Also show {len(more)} on this page: answered, not needed now, or advisory"
    if st.toggle(text, key=kept_choice(key, False), on_change=keep, args=(key, f"kept-{key}")):
        _fields(more, ready=ready)
        if considered(desk()):
            show.note("Discs that are not under consideration are described under “Facts”, “Discs”.")


def _ways(names: list[str], place: int) -> None:
    with st.container(horizontal=True):
        if place > 0:
            st.button("Back", key="intake-back", on_click=_go, args=(names[place - 1],))
        if place + 1 < len(names):
            st.button(f"Next: {page_named(names[place + 1]).title}", key="intake-next", type="primary", on_click=_go,
                      args=(names[place + 1],))  # fmt: skip
        else:
            st.button("See what is missing", key="intake-end", type="primary", on_click=_to_missing)


@safely
def _choose() -> None:
    _turn_to(st.session_state["intake-nav"])


@safely
def _go(name: str) -> None:
    _turn_to(name)
    st.session_state["intake-top"] = True


def _turn_to(name: str) -> None:
    desk().kept[PAGE] = name
    desk().kept.pop(LISTING, None)
    desk().kept.pop("intake-new-document", None)
    fresh_rows(desk())


@safely
def _to_missing() -> None:
    leave()
    desk().kept["view"] = "Missing"
