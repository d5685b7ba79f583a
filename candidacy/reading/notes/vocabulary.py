"""The words of notes, loaded once from ``note_words.yaml``, and the items that a stretch of text is made of."""

import re
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

import yaml

from candidacy.reading.levels import PATTERN, read_place

_TOKEN = re.compile(
    rf"{PATTERN}|\d+(?:\.\d+)?|\.\d+|[A-Za-z](?:\.[A-Za-z])+\.?|[A-Za-z]+(?:['’\-](?:\s*\n\s*)?[A-Za-z]+)*|[<>]=?|\S"
)
_LEVEL = re.compile(PATTERN)
_CLASSES = (
    "above", "reading", "out_of", "reach", "about", "at", "at_volume", "negations", "hedges", "hedges_all", "past",
    "mood", "compare", "others", "exceptions", "other_discs", "another_time", "all_discs", "intradiscal", "given", "strengths", "respectively",
    "sequence", "kinds_of_test", "undone", "corrections", "troubles", "tells", "hurts", "ignore", "plain_adverbs", "fillers",
)  # fmt: skip
PRESSURE_UNITS = ("psi", "kPa", "mmHg", "bar", "atm")
"""Units of pressure that a record holds; any other is only known for one."""
OTHER_PRESSURE = "other_pressure"
_TABLES = ("answers", "units", "bounds", "procedures")


class Role(NamedTuple):
    """One thing a phrase may be: its class, and what it stands for there."""

    name: str
    value: Any = None


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
    """Phrases in a tree of words, and the plain tables of the data file."""

    tree: dict[str, Any]
    data: dict[str, Any]
    labels: dict[str, dict[str, Any]]


@cache
def vocabulary() -> Vocabulary:
    """Load the words of notes; later calls give the same object."""
    text = (files("candidacy.reading") / "data" / "note_words.yaml").read_text("utf-8")
    data: dict[str, Any] = yaml.load(text, Loader=yaml.BaseLoader)  # words such as "no" and "on" stay words
    tree: dict[str, Any] = {}

    for row in data["labels"]:
        for phrase in row["phrases"]:
            plant(tree, phrase, Role("label", row["of"]))
    for row in data["says"]:
        for phrase in row["phrases"]:
            plant(tree, phrase, Role("say", row))
    for row in data["labelled"]:
        for phrase in row["phrases"]:
            plant(tree, phrase, Role("labelled", row))
    for name in _CLASSES:
        for phrase in data[name]:
            plant(tree, phrase, Role(name))
    for name in _TABLES:
        for value, phrases in data[name].items():
            for phrase in phrases:
                plant(tree, phrase, Role(name, value))
    return Vocabulary(tree, data, {row["of"]: row for row in data["labels"]})


@cache
def words_for(name: str) -> frozenset[str]:
    """Give the single words that do one thing, by the name they have under ``words`` in the data file."""
    return frozenset(vocabulary().data["words"][name])


def _words(text: str) -> list[str]:
    return [_plain_word(m) for m in _TOKEN.finditer(text)]


def _plain_word(found: re.Match[str]) -> str:
    """A word in small letters, joined again where a line broke it at its hyphen."""
    return "".join(found[0].lower().split()) if "\n" in found[0] else found[0].lower()


def plant(tree: dict[str, Any], phrase: str, role: Role) -> None:
    """Put a phrase into a tree of words."""
    node = tree
    for word in _words(phrase):
        node = node.setdefault(word, {})
    node.setdefault("", []).append(role)


def items(text: str, start: int, end: int, tree: dict[str, Any] | None = None) -> list[Item]:
    """Split ``text[start:end]`` into items, the longest phrase first; a word that is no phrase has no roles.

    ``tree`` holds the phrases, if not those of notes.
    """
    found = list(_TOKEN.finditer(text, start, end))
    words = [_plain_word(m) for m in found]
    tree = vocabulary().tree if tree is None else tree
    out: list[Item] = []
    at = 0
    while at < len(words):
        node, stop = tree, at
        roles: tuple[Role, ...] = ()
        for look in range(at, len(words)):
            node = node.get(words[look], {})
            if not node:
                break
            if "" in node:
                stop, roles = look + 1, tuple(node[""])
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
