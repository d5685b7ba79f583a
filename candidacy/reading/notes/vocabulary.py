"""The words of notes, loaded once from ``note_words.yaml``, and the items that a stretch of text is made of."""

import re
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

import yaml

from candidacy.reading.levels import PATTERN, read_place
from candidacy.reading.phrase_steps import Phrases, Role

_TOKEN = re.compile(
    rf"{PATTERN}|\d+(?:\.\d+)?|\.\d+|[A-Za-z](?:\.[A-Za-z])+\.?|[A-Za-z]+(?:['’\-](?:\s*\n\s*)?[A-Za-z]+)*|[<>]=?|\S"
)
_LEVEL = re.compile(PATTERN)
_CLASSES = (
    "above", "reading", "out_of", "reach", "about", "at", "at_volume", "negations", "hedges", "hedges_all", "past",
    "mood", "compare", "others", "exceptions", "other_discs", "another_time", "all_discs", "intradiscal", "given", "strengths", "respectively",
    "sequence", "kinds_of_test", "undone", "troubles", "tells", "hurts", "ignore", "plain_adverbs", "fillers",
)  # fmt: skip
PRESSURE_UNITS = ("psi", "kPa", "mmHg", "bar", "atm")
"""Units of pressure that a record holds; any other is only known for one."""
OTHER_PRESSURE = "other_pressure"
_NOTHING: tuple[Role, ...] = ()
_TABLES = ("answers", "units", "bounds", "procedures")


class Item(NamedTuple):
    """A phrase, number, level or unknown word at ``text[start:end]`` with all it may be."""

    start: int
    end: int
    text: str
    roles: tuple[Role, ...]

    def role(self, name: str) -> Role | None:
        """Give its role of that class, if it has one."""
        return next((r for r in self.roles if r.name == name), None)

    def roles_of(self, name: str) -> tuple[Role, ...]:
        """Give all its roles of a class: ``response`` names two columns."""
        return tuple(r for r in self.roles if r.name == name)


class Vocabulary(NamedTuple):
    """Phrases, and the plain tables of the data file."""

    phrases: Phrases
    data: dict[str, Any]
    labels: dict[str, dict[str, Any]]


@cache
def vocabulary() -> Vocabulary:
    """Load the words of notes; later calls give the same object."""
    text = (files("candidacy.reading") / "data" / "note_words.yaml").read_text("utf-8")
    loader = getattr(yaml, "CBaseLoader", yaml.BaseLoader)  # words such as "no" and "on" stay words
    data: dict[str, Any] = yaml.load(text, Loader=loader)
    phrases = Phrases(words_of)
    for row in data["labels"]:
        phrases.add(row["phrases"], Role("label", row["of"]))
    for row in data["says"]:
        phrases.add(row["phrases"], Role("say", row))
    for row in data["labelled"]:
        phrases.add(row["phrases"], Role("labelled", row))
    for name in _CLASSES:
        phrases.add(data[name], Role(name))
    for name in _TABLES:
        for value, some in data[name].items():
            phrases.add(some, Role(name, value))
    return Vocabulary(phrases, data, {row["of"]: row for row in data["labels"]})


@cache
def words_for(name: str) -> frozenset[str]:
    """Give the single words that do one thing, by the name they have under ``words`` in the data file."""
    return frozenset(vocabulary().data["words"][name])


def words_of(text: str) -> list[str]:
    """The words of a text as phrases hold them."""
    return [_plain_word(m) for m in _TOKEN.finditer(text)]


def _plain_word(found: re.Match[str]) -> str:
    """A word in small letters, joined again where a line broke it at its hyphen."""
    return "".join(found[0].lower().split()) if "\n" in found[0] else found[0].lower()


def items(text: str, start: int, end: int, phrases: Phrases | None = None) -> list[Item]:
    """Split ``text[start:end]`` into items, the longest phrase first; a word that is no phrase has no roles.

    ``phrases`` are those to look for, if not those of notes.
    """
    found = list(_TOKEN.finditer(text, start, end))
    words = [_plain_word(m) for m in found]
    begin = (vocabulary().phrases if phrases is None else phrases).begin()
    out: list[Item] = []
    at = 0
    while at < len(words):
        stop, roles, step = at, _NOTHING, begin
        for look in range(at, len(words)):
            behind = step.step(words[look])
            if behind is None:
                break
            step = behind
            if step.roles:
                stop, roles = look + 1, step.roles
        if stop == at:
            stop, roles = at + 1, _plain(found[at][0])
        first, last = found[at], found[stop - 1]
        out.append(Item(first.start(), last.end(), text[first.start() : last.end()], roles))
        at = stop
    return out


def _plain(word: str) -> tuple[Role, ...]:
    if word[0].isdecimal() or (word[0] == "." and len(word) > 1):
        return (Role("number", float(word)),)
    if _LEVEL.fullmatch(word):
        place = read_place(word)
        if place.discs:
            return (Role("discs", place.discs),)
        return (Role("vertebra", place.vertebra),)
    return ()
