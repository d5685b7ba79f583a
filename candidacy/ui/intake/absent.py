""" "Asked, and absent: all of these": the open facts of yes and no of a page, listed one by one, denied in one step."""

import streamlit as st

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import with_fact
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.said import source_words, title_of
from candidacy.ui import show
from candidacy.ui.desk import Desk, Place
from candidacy.ui.session import desk, safely

LISTING = "intake-listing"


def unanswered(on: Desk, places: list[Place], document: AssessmentDocument) -> list[Place]:
    """Those of some facts that are open, bear no answer and no refused text, and are not in conflict.

    A summary is left out where one of its signs is answered otherwise than with no, or not known: its denial would answer
    that sign too.
    """
    still_open = {(m.subject, m.element) for m in document.missing}
    disputed = {(c.subject, c.element) for c in document.conflicts}
    return [
        place
        for place in places
        if place in still_open
        and place not in disputed
        and place not in on.drafts
        and on.entry(*place) is None
        and not any(_answered_otherwise(on, place[0], sign) for sign in catalogue()[place[1]].covers)
    ]


def _answered_otherwise(on: Desk, subject: str, sign: str) -> bool:
    entry = on.entry(subject, sign)
    return (subject, sign) in on.drafts or (entry is not None and entry.value not in (False, "normal"))


def denied(on: Desk, places: list[Place]) -> CaseRecord:
    """The record of a desk in which each of these facts is denied, from the source that is chosen."""
    record = on.record
    for subject, name in places:
        record = with_fact(record, subject, name, _no(on))
    return record


def _no(on: Desk) -> FactEntry:
    return FactEntry(value=False).model_copy(update=on.provenance)


def without_contradictions(on: Desk, places: list[Place]) -> list[Place]:
    """Those of some open facts whose denial contradicts nothing in the record."""
    known = {(c.subject, c.element) for c in on.document().conflicts}

    def contradicts(group: list[Place]) -> bool:
        return any((c.subject, c.element) not in known for c in on.document(denied(on, group)).conflicts)

    if not places or not contradicts(places):
        return places
    return [place for place in places if not contradicts([place])]


def absent_block(
    number: int, places: list[Place], document: AssessmentDocument, words: str, *, ready: bool
) -> None:
    """The button that lists what would be denied, and then the list with the button that records it.

    ``number`` counts the lists of a page from 0; ``words`` say what a denial says ("asked, and absent").
    """
    on = desk()
    waiting = unanswered(on, places, document)
    opened = on.kept.get(LISTING) == number
    if not opened or not waiting:
        st.button(f"{words.capitalize()}: all of these {len(waiting)} …", key=f"absent-list-{number}", disabled=not ready or not waiting,
                  on_click=_open, args=(number,), help="Lists each line first; nothing is recorded yet.")  # fmt: skip
        return
    safe = without_contradictions(on, waiting)
    with st.container(border=True, key="absent-listed", gap="small"):
        left_out = [
            title_of(subject, catalogue()[name]) for subject, name in waiting if (subject, name) not in safe
        ]
        show.put("absent.html", words=words, lines=[title_of(s, catalogue()[n]) for s, n in safe], left_out=left_out,
                 source=source_words(_no(on)))  # fmt: skip
        with st.container(horizontal=True):
            st.button(f"Record these {len(safe)} as absent", key="absent-record", type="primary", disabled=not safe,
                      on_click=_record, args=(tuple(safe), words))  # fmt: skip
            st.button("Not now", key="absent-close", on_click=_close)


@safely
def _open(number: int) -> None:
    desk().kept[LISTING] = number


@safely
def _close() -> None:
    desk().kept.pop(LISTING, None)


@safely
def _record(listed: tuple[Place, ...], words: str) -> None:
    """Deny what was listed, and of that only what is still open: one step of the history."""
    on = desk()
    on.kept.pop(LISTING, None)
    places = unanswered(on, list(listed), on.document())
    if not places:
        return
    titles = "; ".join(title_of(subject, catalogue()[name]) for subject, name in places)
    on.take(
        denied(on, places),
        f"{words} ({len(places)}, {source_words(_no(on))}): {titles}",
    )
