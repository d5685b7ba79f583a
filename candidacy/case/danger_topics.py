"""Words of free text that may tell a sign of danger, topic by topic, from `danger_words.txt`.

Most texts hold none, and most of the rest words of one or two topics. So a text is first looked through for texts of which the
expressions of a topic need one (`candidacy.foundation.literals`), and only expressions that may match are made ready.
"""

import hashlib
import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

from candidacy.foundation.kept_shapes import HERE as KEPT
from candidacy.foundation.literals import needed
from candidacy.foundation.parsed import keep_of

_FILE = Path(__file__).with_name("danger_words.txt")
# What stands between two words of danger without denying them, as `danger_words.txt` writes it.
_GAP = re.compile(r"<(?P<most>\d+)(?P<commas>,?)>")
_NO_DENIAL = r"(?!\b(?:no(?! doubt)|not(?! only)|without(?! doubt)|never|none|nil)\b)"
# The element in words that a formula reads.
MEDICINE_NAME = "medicine_name"
# Letters at the beginning of a needed text by which it is sought first.
_FIRST = 4


class Topic(NamedTuple):
    name: str
    elements: frozenset[str]
    expressions: str

    @property
    def words(self) -> re.Pattern[str]:
        return _whole_words(self.expressions)

    @property
    def by_name(self) -> bool:
        """Whether its words are names of medicines."""
        return MEDICINE_NAME in self.elements


@cache
def _whole_words(expressions: str) -> re.Pattern[str]:
    return re.compile(rf"(?<![\w-])(?:{expressions})(?!\w)")


@cache
def topics() -> tuple[Topic, ...]:
    """The topics of danger in the order of their file."""
    found = []
    for line in _text().splitlines():
        if line and not line.startswith("#"):
            name, rest = line.split(":", 1)
            elements, *words = rest.split(" | ") if " | " in rest else rest.split("| ")
            pattern = "|".join(each.strip() for each in words)
            found.append(Topic(name, frozenset(elements.split()), _GAP.sub(_gap, pattern)))
    return tuple(found)


@cache
def _text() -> str:
    return _FILE.read_text("utf-8")


def _gap(written: re.Match[str]) -> str:
    within = "[^.;]" if written["commas"] else "[^.;,]"
    return f"(?:{_NO_DENIAL}{within}){{0,{written['most']}}}"


def topics_in(text: str) -> Iterator[Topic]:
    """Topics of which a text in small letters without accents may hold words, in the order of their file."""
    needs = _needs()
    found = {topic for short, of in needs.short.items() if short in text for topic in of}
    for begin in needs.long.keys() & {text[at : at + _FIRST] for at in range(len(text) - _FIRST + 1)}:
        for needed_text, of in needs.long[begin].items():
            if needed_text in text:
                found.update(of)
    every = topics()
    return (every[number] for number in sorted(found))


class _Needs(NamedTuple):
    """Numbers of the topics that need a text: of short texts, and of longer ones by their first letters."""

    short: dict[str, list[int]]
    long: dict[str, dict[str, list[int]]]


@cache
def _needs() -> _Needs:
    # looking through all expressions takes half as long as making them ready
    keep, mark = keep_of(KEPT), hashlib.sha256(_text().encode()).hexdigest()
    kept = keep.remembered("danger words", (mark,))
    if kept:
        return _Needs(*json.loads(kept))
    made = _Needs({}, {})
    for number, topic in enumerate(topics()):
        # without any, every text may hold words of the topic: each holds the empty text
        for text in needed(topic.expressions) or ("",):
            table = made.short if len(text) < _FIRST else made.long.setdefault(text[:_FIRST], {})
            table.setdefault(text, []).append(number)
    keep.remember("danger words", (mark,), json.dumps(made))
    return made
