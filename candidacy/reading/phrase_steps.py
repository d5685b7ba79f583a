"""Phrases that are sought in a text word by word, each with what it may be.

A phrase may hold choices: "(a|b) c" is "a c" and "b c", and an empty choice "(|a)" leaves the word out. Some stand for
thousands of phrases, of which a text asks for few, so how a phrase goes on is worked out only where a text gets there.
"""

import itertools
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

_CHOICE = re.compile(r"\(([^()]*\|[^()]*)\)")
# What may touch a choice without becoming one word with it.
_APART = (" ", ":")

Choices = tuple[tuple[str, ...], ...]


class Role(NamedTuple):
    """One thing a phrase may be: its class, and what it stands for there."""

    name: str
    value: Any = None


class _Phrase(NamedTuple):
    """A phrase part by part, each with its choices word by word; ``added`` numbers those that were added together."""

    parts: tuple[Choices, ...]
    role: Role
    added: int


class _Place(NamedTuple):
    """How far a text has come, by numbers: behind so many words of a choice of a part of a phrase."""

    phrase: int
    part: int
    choice: int
    word: int


class Phrases:
    """Phrases, each added with what it may be.

    Parameters
    ----------
    split
        Gives the words of a text as they are asked for.
    short
        Words that stand for others wherever these stand in a phrase: ``{"wt": ["weight"], "le": ["leg", "lower extremity"]}``.
    """

    def __init__(
        self, split: Callable[[str], list[str]], short: Mapping[str, Sequence[str]] | None = None
    ) -> None:
        self._split = split
        self.short = {word: [split(one) for one in some] for word, some in (short or {}).items()}
        self._all: list[_Phrase] = []
        self._added = 0
        self._begin: Step | None = None

    def add(self, phrases: Iterable[str], role: Role) -> None:
        """Add phrases that may hold choices."""
        for phrase in phrases:
            self._all += [_Phrase(parts, role, self._added) for parts in self._parts(phrase)]
        self._added, self._begin = self._added + 1, None

    def begin(self) -> "Step":
        """Before the first word of any phrase."""
        if self._begin is None:
            self._begin = Step(self, [_Place(number, -1, 0, 0) for number in range(len(self._all))])
        return self._begin

    def _parts(self, phrase: str) -> list[tuple[Choices, ...]]:
        written = _choices(phrase)
        if not _stand_apart(written):
            return [((tuple(self._split(one)),),) for one in expanded(phrase)]
        return [tuple(tuple(tuple(self._split(choice)) for choice in part) for part in written)]

    def onward(self, place: _Place) -> Iterator[tuple[str, _Place]]:
        """The words that may follow, each with the place behind it; no word, with a place of the phrase, where it may end."""
        parts = self._all[place.phrase].parts
        if place.part >= 0:
            words = parts[place.part][place.choice]
            if place.word < len(words):
                yield words[place.word], place._replace(word=place.word + 1)
                return
        for part in range(place.part + 1, len(parts)):
            for number, words in enumerate(parts[part]):
                if words:
                    yield words[0], _Place(place.phrase, part, number, 1)
            if all(parts[part]):
                return
        yield "", place

    def role_of(self, place: _Place) -> tuple[int, Role]:
        phrase = self._all[place.phrase]
        return phrase.added, phrase.role


class Step:
    """Where a text stands behind some words.

    Attributes
    ----------
    roles
        What these words may be, in the order in which they were added; nothing where no phrase ends here.
    """

    __slots__ = ("_made", "_next", "_phrases", "roles")

    def __init__(self, phrases: Phrases, places: Iterable[_Place]) -> None:
        self._phrases = phrases
        self._next: dict[str, dict[_Place, None]] = {}
        self._made: dict[str, Step | None] = {}
        ends: dict[int, Role] = {}
        for place in places:
            for word, behind in phrases.onward(place):
                if word:
                    self._next.setdefault(word, {})[behind] = None
                else:
                    ends.setdefault(*phrases.role_of(behind))
        self.roles = tuple([ends[added] for added in sorted(ends)])

    def step(self, word: str) -> "Step | None":
        """Behind one word more; nothing where no phrase goes on with it."""
        if word not in self._made:
            places = self._next.get(word, {})
            for words in self._phrases.short.get(word, ()):
                places = places | self._behind(words)
            self._made[word] = Step(self._phrases, places) if places else None
        return self._made[word]

    def _behind(self, words: list[str]) -> dict[_Place, None]:
        found = self._next.get(words[0], {})
        for each in words[1:]:
            found = {
                behind: None
                for place in found
                for word, behind in self._phrases.onward(place)
                if word == each
            }
        return found


def expanded(phrase: str) -> list[str]:
    """Give the phrases that one with choices stands for: ``(a|b) c`` is ``a c`` and ``b c``."""
    return [" ".join("".join(some).split()) for some in itertools.product(*_choices(phrase))]


def shortest(phrase: str) -> int:
    """A number of letters that no phrase that one with choices stands for has fewer of."""
    return sum(min(len(choice.strip()) for choice in part) for part in _choices(phrase))


def _choices(phrase: str) -> list[list[str]]:
    parts = _CHOICE.split(phrase)
    return [part.split("|") if number % 2 else [part] for number, part in enumerate(parts)]


def _stand_apart(parts: list[list[str]]) -> bool:
    """Whether no word of a part becomes one with a word of the next, or of one behind a part that may be left out."""
    for number, part in enumerate(parts):
        for other in parts[number + 1 :]:
            if any(not _apart(before, behind) for before in part for behind in other):
                return False
            if "" not in other:
                break
    return True


def _apart(before: str, behind: str) -> bool:
    return not before or not behind or before.endswith(_APART) or behind.startswith(_APART)
