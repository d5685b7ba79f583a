"""How hard a text is to read: the school grade of Kincaid and others 1975, and the hardest form of a patient's sheet.

grade = 0.39 words/sentences + 11.8 syllables/words - 15.59. A score is not understanding. Values of a record (days, discs,
names of medicines) are left out before scoring, and so are headings, sources and marks.
"""

import re
from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

from candidacy.letters.names import STATES
from candidacy.letters.template import NOT, PLACEHOLDER, LetterTemplate

HIGHEST_GRADE = 8
"""Highest grade of a sheet for patients."""
_MOST_CONDITIONS = 10
_WORD = re.compile(r"[A-Za-z]+(?:['’][A-Za-z]+)*")
_SENTENCE = re.compile(r"(?<=[.!?])\s+")
_VOWELS = re.compile(r"[aeiouy]+")
# Vowels that stand together and are spoken apart, and ends that are silent.
_APART = re.compile(
    r"ia(?!l\b|n\b|tr)|io(?!n|us)|iu|[^aeiou]ua|uou|(?<!g)eo(?!us)|(?<=[^q])uie|[aeiouy]ing\b|creat|dia|[^t]ien|[^cgtx]ious\b"
)
_SILENT = re.compile(r"(?:[^aeiouyl]e|(?<=[aeiouy])[lr]e|[^aeiouytd]ed|[^aeiouyscxzg]es)\b")
# Words that the rules miscount, by the dictionary.
_KNOWN = {
    "area": 3, "being": 2, "business": 2, "clothes": 1, "create": 2, "doing": 2, "every": 2, "everything": 3, "going": 2, "idea": 3,
    "medicine": 3, "medicines": 3, "people": 2, "quiet": 2, "science": 2, "several": 3, "something": 2, "sometimes": 2,
    "someone": 2, "somewhere": 2, "therefore": 2, "trial": 2, "trials": 2, "usual": 3, "usually": 4, "seeing": 2, "other": 2, "lying": 2,
    "saline": 2, "fever": 2, "one": 1, "done": 1, "someone's": 2, "used": 1, "cause": 1, "causes": 2, "whole": 1, "gone": 1,
    "discomfort": 3, "anyone": 3, "insurer": 3, "insurers": 3, "given": 2, "experience": 4, "radio": 3, "video": 3, "poem": 2,
    "evening": 2, "evenings": 2, "outcome": 2, "outcomes": 2, "time": 1, "times": 1, "home": 1, "moved": 1, "moderate": 3,
    "severe": 2, "site": 1, "bowel": 2, "bowels": 2, "diarrhea": 4, "our": 1, "hour": 1, "hours": 1, "fluid": 2, "ruin": 2,
}  # fmt: skip


class Counts(NamedTuple):
    """Words, sentences and syllables of a text."""

    words: int
    sentences: int
    syllables: int

    def __add__(self, other: object) -> "Counts":
        assert isinstance(other, Counts)
        return Counts(*(a + b for a, b in zip(self, other, strict=True)))


class Hardest(NamedTuple):
    """The hardest form of a sheet: its grade, the conditions under which it takes it, and its hardest sentence."""

    grade: float
    when: tuple[str, ...]
    sentence: str


def syllables(word: str) -> int:
    """Syllables of an English word, by its letters; words with a rule of their own are in a list.

    Examples
    --------
    >>> [syllables(word) for word in ("cat", "pain", "needle", "injection", "usually")]
    [1, 1, 2, 3, 4]
    """
    plain = word.lower().replace("’", "'").removesuffix("'s").replace("'", "")
    if plain in _KNOWN:
        return _KNOWN[plain]
    found = len(_VOWELS.findall(plain)) + len(_APART.findall(plain))
    if _SILENT.search(plain):
        found -= 1
    return max(1, found)


def counts(text: str) -> Counts:
    """Words, sentences and syllables of a text. What ends in no full stop is a sentence all the same."""
    sentences = [words for part in _SENTENCE.split(text) if (words := _WORD.findall(part))]
    spoken = [word for words in sentences for word in words]
    return Counts(len(spoken), len(sentences), sum(map(syllables, spoken)))


def grade(found: Counts) -> float | None:
    """The grade; none for a text without words.

    Examples
    --------
    >>> round(grade(Counts(100, 5, 140)), 2)
    8.73
    """
    if not found.words:
        return None
    return 0.39 * found.words / found.sentences + 11.8 * found.syllables / found.words - 15.59


def hardest(template: LetterTemplate) -> Hardest:
    """The hardest form of a sheet over all combinations of its conditions, with every list filled once, or left out."""
    pieces = [(frozenset((*part.when, *p.when, *([f"any_{p.each}"] if p.each else []))), _counted(p.texts))
              for part in template.parts for p in part.paragraphs]  # fmt: skip
    worst = Hardest(-99.0, (), "")
    for holding in _combinations({c.removeprefix(NOT) for when, _ in pieces for c in when}):
        total = Counts(0, 0, 0)
        for when, found in pieces:
            if all((c.removeprefix(NOT) in holding) is not c.startswith(NOT) for c in when):
                total = total + found
        reached = grade(total)
        if reached is not None and reached > worst.grade:
            worst = Hardest(reached, tuple(sorted(holding)), "")
    return worst._replace(sentence=_hardest_sentence(template))


def _combinations(conditions: set[str]) -> Iterator[frozenset[str]]:
    """Every set of conditions that may hold together: one state, and any of the others; past ten, all or none of the rest."""
    others = sorted(conditions - set(STATES))
    free, rest = others[:_MOST_CONDITIONS], others[_MOST_CONDITIONS:]
    for state in STATES:
        for chosen in product((True, False), repeat=len(free)):
            some = {name for name, holds in zip(free, chosen, strict=True) if holds}
            yield frozenset({state} | some)
            if rest:
                yield frozenset({state} | some | set(rest))


def scored(text: str) -> str:
    """A text as it is scored: the values of a record are left out."""
    return " ".join(PLACEHOLDER.sub("", text).split())


def _counted(texts: tuple[str, ...]) -> Counts:
    total = Counts(0, 0, 0)
    for text in texts:
        total = total + counts(scored(text))
    return total


def _hardest_sentence(template: LetterTemplate) -> str:
    sentences = [
        s
        for part in template.parts
        for p in part.paragraphs
        for text in p.texts
        for s in _SENTENCE.split(scored(text))
    ]
    return max(sentences, key=lambda s: grade(counts(s)) or -99.0, default="")
