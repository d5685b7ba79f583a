"""What was typed in a usual form is shown back in the unit of the element, and counts once it is taken as read."""

import streamlit as st

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import with_fact
from candidacy.case.typed_usual import read_typed
from candidacy.explain.said import title_of
from candidacy.foundation.errors import CaseError, Code, Problem, shorten
from candidacy.ui import show
from candidacy.ui.desk import Desk, Draft
from candidacy.ui.session import desk, safely


def type_in(on: Desk, subject: str, name: str, text: str) -> None:
    """Write what was typed; a usual form waits with its reading until it is taken, and nothing counts before."""
    element, place = catalogue()[name], (subject, name)
    try:
        read = read_typed(element, text)
        if read.entry is not None and read.shown:
            record = with_fact(on.record, subject, name, read.entry)
            on.case(record)  # a value that no record could hold is refused at once
    except CaseError as error:
        on.hold(place, text, error.problems)
        return
    old = on.entry(subject, name)
    if not read.shown or (old is not None and old.forms and _says(old) == _says(read.entry)):
        on.write(subject, name, lambda: read.entry, text)
        return
    waits = Problem(Code.EMPTY, f"read as {read.shown}; it does not count until it is taken so", field=name,
                    found=shorten(text.strip()))  # fmt: skip
    on.hold(place, text, (waits,))
    on.drafts[place] = Draft(text, (waits,), read.entry, read.shown)


def _says(entry: object) -> object:
    about = {"source", "date", "words", "by", "note"}
    return entry.model_dump(exclude=about) if entry is not None else None  # type: ignore[attr-defined]


def take_button(subject: str, name: str, place: str) -> None:
    """At a field whose text waits: its reading, and the button that takes it."""
    held = desk().drafts.get((subject, name))
    if held is None or held.reading is None:
        return
    show.note(
        f"“{shorten(str(held.text).strip())}” is read as {held.shown}. It does not count yet.", "notice"
    )
    title = show.label(title_of(subject, catalogue()[name]))
    st.button("Take it as read", key=f"take-{place}-{subject}-{name}", on_click=take, args=(subject, name),
              help=f"{title}: {show.label(held.shown)}")  # fmt: skip


@safely
def take(subject: str, name: str) -> None:
    """Callback: what was shown back is right, and counts from now on."""
    on = desk()
    held = on.drafts.get((subject, name))
    if held is not None and held.reading is not None:
        reading = held.reading
        on.write(subject, name, lambda: reading, held.text)
