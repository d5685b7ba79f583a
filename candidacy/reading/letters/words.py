"""The words of letters, loaded once from ``letter_words.yaml``: phrases in a tree, each with what it may be."""

import itertools
import re
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

import yaml

from candidacy.case.catalogue import catalogue
from candidacy.reading.notes.vocabulary import Item, Role, items, plant

_CHOICE = re.compile(r"\(([^()]*\|[^()]*)\)")
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


class Words(NamedTuple):
    """The data as written, the tree of its phrases, headings by their words, and short forms that need capitals."""

    data: dict[str, Any]
    tree: dict[str, Any]
    headings: dict[str, str]
    capitals: dict[str, frozenset[str]]


def expanded(phrase: str) -> list[str]:
    """Give the phrases that one with choices stands for: ``(a|b) c`` is ``a c`` and ``b c``."""
    parts = _CHOICE.split(phrase)
    options = [p.split("|") if i % 2 else [p] for i, p in enumerate(parts)]
    return [" ".join("".join(some).split()) for some in itertools.product(*options)]


@cache
def words() -> Words:
    """Load the words of letters; later calls give the same object."""
    text = (files("candidacy.reading") / "data" / "letter_words.yaml").read_text("utf-8")
    data: dict[str, Any] = yaml.safe_load(text)
    tree: dict[str, Any] = {}
    capitals: dict[str, set[str]] = {}
    small: dict[str, set[str]] = {}

    def add(phrases: list[str], role: Role) -> None:
        plain = list(itertools.chain.from_iterable(map(expanded, map(str, phrases))))
        curly = [p.replace("'", "’") for p in plain if "'" in p]
        for phrase in dict.fromkeys([*plain, *curly]):
            plant(tree, phrase, role)
            if len(phrase) <= _SHORT and phrase.isalpha():
                held = capitals if phrase.isupper() else small
                held.setdefault(phrase.lower(), set()).add(role.name)

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
    return Words(data, tree, headings, {k: frozenset(v - small.get(k, set())) for k, v in capitals.items()})


def items_of(text: str, start: int, end: int) -> list[Item]:
    """Split ``text[start:end]`` into phrases, numbers and words, each with all it may be."""
    capitals = words().capitals
    out = []
    for item in items(text, start, end, words().tree):
        held = capitals.get(item.text.lower())
        if held and not item.text.isupper():
            item = item._replace(roles=tuple(r for r in item.roles if r.name not in held))
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
