"""Recognise a mistyped word of the lexicon without taking a correct word for a mistake."""

from collections.abc import Mapping


def distance(a: str, b: str, limit: int) -> int:
    """Count insertions, deletions, changes and swaps of neighbours, giving up above a limit.

    Optimal string alignment distance; Boytsov, ACM J Exp Algorithmics 2011;16:1.1.

    Examples
    --------
    >>> distance("protruion", "protrusion", 2), distance("protection", "protrusion", 2)
    (1, 3)
    """
    if abs(len(a) - len(b)) > limit:
        return limit + 1
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        older, before, row = before, row, [i]
        for j, y in enumerate(b, 1):
            cost = before[j - 1] if x == y else 1 + min(before[j - 1], before[j], row[j - 1])
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                cost = min(cost, older[j - 2] + 1)
            row.append(cost)
        if min(row) > limit:
            return limit + 1
    return row[-1]


class Speller:
    """Maps a written word to the lexicon word it stands for, remembering a bounded number of answers.

    Parameters
    ----------
    known
        Every accepted spelling with its lexicon word.
    guessable
        The spellings a mistyped word may be compared with.
    correct
        Ordinary words that lie near a lexicon word and must be left alone.
    """

    _KEPT = 16_384

    def __init__(
        self, known: Mapping[str, str], guessable: Mapping[str, str], correct: frozenset[str]
    ) -> None:
        self._known = dict(known)
        self._correct = correct
        self._by_first: dict[str, list[tuple[str, str, frozenset[str]]]] = {}
        for spelling, word in guessable.items():
            self._by_first.setdefault(spelling[0], []).append((spelling, word, frozenset(spelling)))
        self.memory: dict[str, str] = {}

    def __call__(self, raw: str) -> str:
        """Give the lexicon word for one written word, or the word itself in lower case."""
        if not raw.isalpha() and any(ch.isdigit() for ch in raw):
            return self._find(raw)  # perhaps a level, which the memory holds by what it stands for
        return self.memory.get(raw) or self.keep(raw, self._find(raw))

    def knows(self, word: str) -> bool:
        """Say whether a word in lower case is an accepted spelling."""
        return word in self._known

    def spellings(self) -> frozenset[str]:
        """Give every accepted spelling."""
        return frozenset(self._known)

    def keep(self, raw: str, word: str) -> str:
        """Remember an answer; the memory is emptied when it is full."""
        if len(self.memory) >= self._KEPT:
            self.memory.clear()
        self.memory[raw] = word
        return word

    def _find(self, raw: str) -> str:
        word = raw.lower().replace("’", "'")
        exact = self._known.get(word)
        if exact is not None:
            return exact
        if word.endswith("'s"):
            return self._find(word[:-2])
        size = len(word)
        if size < 4 or word in self._correct or not word.isalpha():
            return word
        limit = 1 if size < 9 else 2
        letters = frozenset(word)
        best, answers = limit + 1, set()
        for first in dict.fromkeys(word[:2]):
            for spelling, target, their in self._by_first.get(first, ()):
                if abs(len(spelling) - size) > limit or len(letters ^ their) > 2 * limit:
                    continue
                away = distance(word, spelling, limit)
                if away < best:
                    best, answers = away, {target}
                elif away == best:
                    answers.add(target)
        return answers.pop() if best <= limit and len(answers) == 1 else word
