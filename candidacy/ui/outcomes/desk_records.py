"""Course and case records on the desk, and what was counted of them; in memory only, gone when the server stops."""

from datetime import date
from typing import NamedTuple

import streamlit as st

from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import CaseError, Code, InputError, Problem, shorten
from candidacy.foundation.files import text_from_bytes
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.limits import said_of_limits
from candidacy.outcomes.practice import practice_of_texts
from candidacy.rules.libraries import library_in_use
from candidacy.ui.session import desk

YEAR = "the invented year of a clinic"
FILES, FOUND, NAME = "outcomes-files", "outcomes-found", "outcomes-name"


class Held(NamedTuple):
    """What was counted, and of what."""

    texts: dict[str, str]
    chosen: dict[str, str]
    found: Outcomes


def files() -> dict[str, str]:
    """Texts by the names of their files."""
    found: dict[str, str] = desk().kept.get(FILES, {})
    return found


def add(uploads: list[tuple[str, bytes]]) -> None:
    """Put files on the desk beside those that lie there; one of the same name takes the place of the former.

    Raises
    ------
    InputError
        E103 for a file that is no text; nothing is taken then.
    """
    texts = {shorten(name): text_from_bytes(content, shorten(name)) for name, content in uploads}
    if texts:
        desk().kept[FILES] = {**files(), **texts}
        desk().kept.pop(NAME, None)


def add_year() -> None:
    """Take the invented year of a clinic instead of everything else."""
    folder = demo_cases_folder() / "clinic_year"
    desk().kept[FILES] = {
        path.name: path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.yaml"))
    }
    desk().kept[NAME] = YEAR


def remove() -> None:
    """Take all of them off the desk, and what was counted."""
    for name in (FILES, FOUND, NAME):
        desk().kept.pop(name, None)


def as_of() -> date:
    """The day as of which everything is seen.

    Raises
    ------
    CaseError
        E207 if what was typed is no day.
    """
    typed = str(desk().kept.get("outcomes-as-of", "")).strip()
    try:
        return day(typed) if typed else desk().today()
    except DateError:
        raise CaseError([Problem(Code.BAD_DATE, "not a date", field="As of", found=shorten(typed),
                                 expected="YYYY-MM-DD, or nothing for today")]) from None  # fmt: skip


def counted() -> Outcomes | None:
    """What is counted of the records on the desk, kept while nothing changes; None where there are none.

    Raises
    ------
    InputError
        With everything that is wrong where none of the records can be used.
    """
    if not files():
        return None
    kept = desk().kept
    when, texts, library = as_of(), files(), library_in_use()
    chosen = {"at": kept.get("outcomes-at", ""), "declared": kept.get("outcomes-declared", "")}
    held: Held | None = kept.get(FOUND)
    if held is not None and held.texts is texts and held.found.on == when and held.found.library is library:
        if held.chosen == chosen:
            return held.found
        found = held.found.looked_at(**chosen)
    else:
        with st.spinner("Counting", show_time=True):
            practice = practice_of_texts(texts, when, str(kept.get(NAME, "")))
            found = Outcomes(practice, library, **chosen)
            assert found.again  # the assessments are what takes time
    kept[FOUND] = Held(texts, chosen, found)
    return found


def of_rule_set(identifier: str) -> dict[str, list[str]]:
    """What the practice's own data says about each limit of a rule set, by criterion, masked; empty where nothing is counted.

    Only where a definition of response was declared and the injections rested on this rule set.
    """
    try:
        found = counted()
    except InputError:  # told on the page of outcomes
        return {}
    return said_of_limits(found, identifier) if found is not None else {}
