"""What is missing: each fact can be answered in its row, and no row moves while a person works through the list."""

import streamlit as st

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.case.record import FactEntry
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.labels import BURDEN_WORDS, WEIGHT_WORDS
from candidacy.explain.missing_document import MissingInfo
from candidacy.explain.said import source_words, statement_words
from candidacy.explain.wording import subject_words
from candidacy.ui import show
from candidacy.ui.desk import Place
from candidacy.ui.referral.fields import ask_details, field
from candidacy.ui.referral.form import go_to
from candidacy.ui.referral.lists import entry_list
from candidacy.ui.session import desk, keep, kept_choice, safely

_SHOWN = 12
ROWS, UNLOCKED = "missing-rows", "missing-unlocked"


def missing_facts(document: AssessmentDocument) -> None:
    """The rows in the order in which they were first shown; what was answered stays where it was."""
    rows = _rows(document)
    open_now = dict.fromkeys((m.subject, m.element) for m in document.missing)
    if not rows:
        show.note("Nothing is missing under this rule set.")
        return
    done = sum(place not in open_now for place in rows)
    shown = list(rows.items())
    with st.container(horizontal=True, vertical_alignment="center"):
        if len(shown) > _SHOWN and not st.toggle(f"Show all {len(shown)}", key=kept_choice("all-missing", False),
                                                 on_change=keep, args=("all-missing", "kept-all-missing")):  # fmt: skip
            shown = shown[:_SHOWN]
        words = f"Sort anew, without the {done} answered" if done else "Sort anew"
        st.button(words, key="missing-anew", disabled=list(rows) == list(open_now), on_click=_anew,
                  help="Rows stay where they are until you ask for this; what came up since stands at the end.")  # fmt: skip
    last = ""
    for place, item in shown:
        if item.weight != last:
            last = item.weight
            st.subheader(WEIGHT_WORDS[item.weight].capitalize())
        _row(document, item, place in open_now)


def _rows(document: AssessmentDocument) -> dict[Place, MissingInfo]:
    """The rows by fact; one that comes up later is put at the end, where it moves no other."""
    made_for, kept = desk().kept.get(ROWS, ("", {}))
    rows: dict[Place, MissingInfo] = dict(kept) if made_for == document.rule_set.id else {}
    for item in document.missing:
        place = (item.subject, item.element)
        group = rows[place].weight if place in rows else item.weight
        rows[place] = item.model_copy(update={"weight": group})
    desk().kept[ROWS] = (document.rule_set.id, rows)
    return rows


def fresh_rows() -> None:
    """Have the list made anew when it is next shown."""
    desk().kept.pop(ROWS, None)
    desk().kept.pop(UNLOCKED, None)


@safely
def _anew() -> None:
    fresh_rows()


def _row(document: AssessmentDocument, item: MissingInfo, still_open: bool) -> None:
    place = (item.subject, item.element)
    left, right = st.columns([1.35, 1], vertical_alignment="top")
    titles = [c.title for c in document.criteria if c.id in item.criteria]
    entry = desk().entry(*place) if item.element in catalogue() else None
    element = catalogue().get(item.element)
    recorded = f"{statement_words(element, entry)} ({source_words(entry)})" if element and entry else ""
    with left, st.container(gap="xxsmall"):
        show.put("missing.html", m=item, titles=list(dict.fromkeys(titles)), burden=BURDEN_WORDS[item.burden],
                 recorded=recorded, still_open=still_open)  # fmt: skip
        if item.element in LISTS or (element is not None and element.statable):
            st.button("Go to the field", key=f"go-{item.subject}-{item.element}", type="tertiary", on_click=_go,
                      args=place, help=show.label(f"{item.ask}, {subject_words(item.subject)}"))  # fmt: skip
    with right:
        if element is not None and element.statable:
            answered = entry is not None and not still_open
            locked = answered and place not in desk().kept.get(UNLOCKED, ())
            field(item.subject, element, "ask", locked=locked)
            _acts(place, entry, locked)
        elif item.element in LISTS:
            entry_list(item.element, set())  # type: ignore[arg-type]


def _acts(place: Place, entry: FactEntry | None, locked: bool) -> None:
    """What can be done about an answer; drawn also before it is given, so that no row below moves when it is."""
    key = f"{place[0]}-{place[1]}"
    of = show.label(f" ({place[1].replace('_', ' ')}, {subject_words(place[0])})")
    acts = (
        ("change", "Change the answer", f"change-{key}", locked, _unlock),
        ("asked today", "Asked today: dates the answer", f"today-{key}", entry is not None, _today),
        ("document, date", "Document, day and exact words", f"date-{key}", entry is not None, ask_details),
    )
    with st.container(horizontal=True, gap="small"):
        for word, more, name, ready, act in acts:
            st.button(
                word, key=name, type="tertiary", disabled=not ready, on_click=act, args=place, help=more + of
            )


@safely
def _today(subject: str, element: str) -> None:
    desk().asked_today(subject, element)


@safely
def _unlock(subject: str, element: str) -> None:
    desk().kept[UNLOCKED] = {*desk().kept.get(UNLOCKED, ()), (subject, element)}


@safely
def _go(subject: str, element: str) -> None:
    go_to(subject, element)
