"""Letters: choose a kind, read the draft, fill the practice's blanks, take it away as text, PDF or DOCX."""

from collections.abc import Callable
from datetime import date
from typing import Any

import streamlit as st

from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.letters.compose import runs_of
from candidacy.letters.draft import LONGEST_BLANK, Answered, answered, antithrombotics_of, checked
from candidacy.letters.forms import rendered
from candidacy.letters.frame import frame
from candidacy.letters.letter import Letter
from candidacy.letters.load import ADDENDUM, about, blanks_of, load
from candidacy.letters.names import OF_THE_PRACTICE, blanks
from candidacy.letters.text import letter_head, source_tag
from candidacy.reading.addendum_letter import any_letters
from candidacy.rules.libraries import library_in_use
from candidacy.ui import show
from candidacy.ui.exports import Export, downloads
from candidacy.ui.head_line import bar
from candidacy.ui.kept_decision import tell_kept_decision
from candidacy.ui.named_store import store_named
from candidacy.ui.not_counted import not_counted
from candidacy.ui.session import desk, hold, kept_choice, safely, told_here

_FIRST = "referrer"
_BLANKS, _OF_PRACTICE = "letter-blanks", "letter-practice"


def letters() -> None:
    """Draw the page."""
    bar()
    tell_kept_decision()
    choose, read = st.columns([1, 1.6], gap="medium")
    with told_here("No letter can be drafted"):
        with choose:
            kind = _kind()
            _day_field()
        answer = _answer()
        with choose:
            medicine = _medicine(kind, answer)
            filled = _fill(kind)
        found = any_letters(kind, answer, library_in_use(), filled, medicine)
        with choose:
            _take_away(kind, found)
        with read:
            _read(answer, found)
    if store_named():
        with choose, told_here("The kept letters could not be shown"):
            from candidacy.ui.kept_letters import kept_letters

            kept_letters()


def _kind() -> str:
    rows = about(library_in_use())
    first = _FIRST if _FIRST in rows else next(iter(rows))
    chosen: str = st.selectbox("Kind of letter", list(rows), key=kept_choice("letter-kind", first, list(rows)),
                               format_func=lambda kind: _title(kind), on_change=_keep, args=("letter-kind", "kept-letter-kind"))  # fmt: skip
    show.note(rows[chosen])
    return chosen


def _title(kind: str) -> str:
    if kind == ADDENDUM:
        return str(frame()[ADDENDUM]["title"])
    return load(library_in_use(), kind).template.title


def _day_field() -> None:
    hold("letter-day", desk().kept.get("letter-day", ""))
    st.text_input("Proposed day (YYYY-MM-DD)", key="letter-day", on_change=_keep, args=("letter-day", "letter-day"), max_chars=20,
                  placeholder="that of the referral", help="In place of the planned day of the referral, for this letter only.")  # fmt: skip


def _answer() -> Answered:
    """The open referral under the chosen rule set as it is written: a letter never rests on a local trial."""
    return answered(desk().case(), desk().rule_set(trial=False), desk().as_of(), _planned())


def _planned() -> date | None:
    text = str(desk().kept.get("letter-day", "")).strip()
    if not text:
        return None
    try:
        return day(text)
    except DateError as error:
        raise InputError([Problem(Code.BAD_DATE, str(error), "Proposed day", found=shorten(text),
                                  expected="a date, YYYY-MM-DD")]) from None  # fmt: skip


def _medicine(kind: str, answer: Answered) -> str:
    """Which of several antithrombotics the letter is about; empty for all of them."""
    if kind == ADDENDUM or not load(library_in_use(), kind).template.for_each:
        return ""
    found = antithrombotics_of(answer)
    if len(found) < 2:
        return ""
    options = ["", *found]
    chosen: str = st.selectbox("Blood thinner", options, key=kept_choice("letter-medicine", "", options), on_change=_keep,
                               args=("letter-medicine", "kept-letter-medicine"), format_func=lambda m: found.get(m, "a letter for each"))  # fmt: skip
    return chosen


def _fill(kind: str) -> dict[str, str]:
    """A field for each blank that the practice may fill in; what is wrong with one is told, and it stays a blank."""
    if kind == ADDENDUM:
        return {}
    names = blanks_of(load(library_in_use(), kind).template)
    found: dict[str, str] = {}
    if names:
        st.markdown("**Blanks**")
    for name in names:
        key, kept = f"letter-blank-{name}", _kept(name)
        hold(key, kept.get(name, ""))
        st.text_input(blanks()[name], key=key, max_chars=LONGEST_BLANK, on_change=_keep_blank, args=(name,))
        with told_here("Not taken over"):
            found |= checked({name: kept.get(name, "")})
    return found


def _take_away(kind: str, found: list[Letter]) -> None:
    left_out = [line.words for line in not_counted(desk())]
    if left_out:
        show.put("left_out.html", lines=left_out)
    if desk().rule_set().trial:
        show.note("The letter follows the rule set as it is written, without the local trial.", "notice")
    name = f"{desk().record.id}-{kind}"

    def form(which: str, paper: Any = "A4") -> Callable[[], str | bytes]:
        return lambda: rendered(found, which, paper)

    st.markdown("**Take away the draft**")
    with st.container(horizontal=True):
        downloads(
            [
                Export("Text", f"{name}.txt", "text/plain", form("text")),
                Export("Word (DOCX)", f"{name}.docx", "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
                       form("docx")),
                Export("PDF, A4", f"{name}.pdf", "application/pdf", form("pdf")),
                Export("PDF, Letter", f"{name}-letter.pdf", "application/pdf", form("pdf", "Letter")),
            ],
            width="content",
        )  # fmt: skip
    if store_named():
        st.button("Keep with the referral", key="letter-keep", on_click=_keep_letter, args=(kind, str(rendered(found, "text"))),
                  help="Keeps the draft, as text, in the store, with the version of the record that it was drafted from.")  # fmt: skip


@safely
def _keep_letter(kind: str, text: str) -> None:
    from candidacy.ui.store_line import store

    case = desk().case()
    kept = store().keep_letter(case.record.id, kind, text, record_digest=case.digest)
    st.session_state["notice"] = f"The draft is {kept.words}."


def _read(answer: Answered, found: list[Letter]) -> None:
    show.put("standing_line.html", d=answer.document)
    show.put("letter.html", letters=found, words=frame(), head=letter_head, tag=source_tag, runs=runs_of)


def _kept(name: str) -> dict[str, str]:
    """Where the text of a blank is kept: those of the practice for every referral, any other with its own."""
    found: dict[str, str] = desk().kept.get(_OF_PRACTICE if name in OF_THE_PRACTICE else _BLANKS, {})
    return found


@safely
def _keep_blank(name: str) -> None:
    place = _OF_PRACTICE if name in OF_THE_PRACTICE else _BLANKS
    desk().kept[place] = {**_kept(name), name: st.session_state[f"letter-blank-{name}"]}


@safely
def _keep(name: str, key: str) -> None:
    desk().kept[name] = st.session_state[key]
