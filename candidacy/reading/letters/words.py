"""The words of letters, loaded once from ``letter_words.yaml``: phrases in a tree, each with what it may be."""

import re
from functools import cache
from typing import Any, NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.reading.data_files import rows_of
from candidacy.reading.notes.vocabulary import Item, items, words_of
from candidacy.reading.phrase_steps import Phrases, Role, expanded, shortest

_FLAT = (
    "documents", "allergic", "was", "together", "before", "reactions", "no_allergies", "back_pain", "leg_pain", "onset", "vague", "about", "as_needed", "last_dose", "taking", "PT", "lumbar", "relief", "done",
    "deny_all", "deny", "denied_behind", "state", "stated_behind", "history", "fillers", "labels", "date_labels",
    "worse_with", "worse_behind", "qualifiers", "supervised", "once", "several", "helped", "outcomes", "up_to", "other_care", "treated", "examined", "off_work", "of_back", "because", "born", "qualifying", "dealings",
)  # fmt: skip
_KEYED = (
    "complete",
    "sex_letters",
    "units",
    "quality",
    "frequency",
    "route",
    "surgeries",
    "injections",
    "treatments",
    "results",
    "block_results",
    "sides",
    "stops",
)
_ROWS = ("findings", "values", "allergens", "numbers", "postures")
_BOUNDS = ("more_than", "at_least", "less_than")
_NAME = 7
"""Letters of the shortest word that may be a medicine's name by its ending: ``april`` is none."""
_SHORT = 2
"""An abbreviation of so many letters or fewer, written in capitals, counts in capitals only: ``M`` is no metre."""

_NAMES = re.compile(r"\bLes?\b")
"""Short forms that, written so, are part of a name, or words of another language: ``Mr Le``."""


class Words(NamedTuple):
    """The data as written, its phrases, headings by their words, and short forms that need capitals."""

    data: dict[str, Any]
    phrases: Phrases
    headings: dict[str, str]
    capitals: dict[str, frozenset[str]]


@cache
def words() -> Words:
    """Load the words of letters; later calls give the same object."""
    data: dict[str, Any] = rows_of("letter_words")
    sought = Phrases(words_of, data["short_forms"])
    capitals: dict[str, set[str]] = {}
    small: dict[str, set[str]] = {}

    def add(some: list[str], role: Role) -> None:
        plain = [str(phrase) for phrase in some]
        sought.add([*plain, *(p.replace("'", "’") for p in plain if "'" in p)], role)
        for phrase in (each for each in plain if shortest(each) <= _SHORT):
            for one in expanded(phrase):
                if len(one) <= _SHORT and one.isalpha():
                    held = capitals if one.isupper() else small
                    held.setdefault(one.lower(), set()).add(role.name)

    for name in _FLAT:
        add(data[name], Role(name))
    for name in _BOUNDS:
        add(data[name], Role("bound", name))
    for name in _KEYED:
        for value, phrases in data[name].items():
            add(phrases, Role(name, value))
    for name in _ROWS:
        for row in data[name]:
            add(row["phrases"], Role(name, row))
    listed = {name for names in data["medicines"].values() for name in names}
    for agent in catalogue()["medicine_agent"].choices or ():
        if agent not in listed and not agent.startswith("other") and agent != "thrombolytic":
            add([agent.replace("_", " ")], Role("medicines", agent))
    for agent, names in data["medicines"].items():
        add(names, Role("medicines", agent))
    headings = {
        phrase.lower(): section
        for section, phrases in data["sections"].items()
        for one in phrases
        for phrase in expanded(one)
    }
    return Words(data, sought, headings, {k: frozenset(v - small.get(k, set())) for k, v in capitals.items()})


def items_of(text: str, start: int, end: int) -> list[Item]:
    """Split ``text[start:end]`` into phrases, numbers and words, each with all it may be."""
    capitals = words().capitals
    out = []
    for item in items(text, start, end, words().phrases):
        held = capitals.get(item.text.lower())
        if held and not item.text.isupper():
            item = item._replace(roles=tuple(r for r in item.roles if r.name not in held))
        if item.roles and "Le" in item.text and _NAMES.search(item.text):
            item = item._replace(roles=())
        if not item.roles and len(item.text) >= _NAME and item.text.lower().endswith(_medicine_endings()):
            item = item._replace(roles=(Role("medicines", ""),))
        out.append(item)
    return out


@cache
def _medicine_endings() -> tuple[str, ...]:
    return tuple(words().data["medicine_endings"])


@cache
def greets(said: str) -> bool:
    """Say whether words in small letters begin with a greeting: whole words, so that "rectal" is no "re"."""
    return any(
        said.startswith(g) and not said[len(g) : len(g) + 1].isalnum() for g in alternatives("greetings")
    )


def alternatives(name: str) -> tuple[str, ...]:
    """Give the phrases of a plain list of the data file, in small letters."""
    return tuple(p.lower() for one in words().data[name] for p in expanded(one))
