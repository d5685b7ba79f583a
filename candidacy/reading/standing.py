"""Lines by which a report says how it stands: entered in error, void, preliminary, amended. Sentences are not looked at."""

import re
from collections.abc import Sequence

from candidacy.reading.gate_words import gate_words, words_of
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import Mark, Span

_LINE = re.compile(r"[^\r\n\v\f\u2028\u2029]+")
_WORD = re.compile(r"[^\W_]+")
_LONGEST = 80
_MORE = 6
"""Words that may follow a phrase of two words or more: by whom and when."""
ABOUT = {
    "withdrawn": "the report says that it does not count",
    "preliminary": "the report calls itself preliminary",
    "amended": "the report calls itself amended or corrected",
}


def standing_marks(text: str, known: Sequence[str] | None = None) -> list[Mark]:
    """Give a mark for each standing that a line of its own states; one that takes the report back refuses it.

    ``known`` are the words of the text, where they are known already (`words_of`).
    """
    words = gate_words()
    found: dict[str, Mark] = {}
    told = False
    if text.isascii() and words.standing_pieces.isdisjoint(words_of(text) if known is None else known):
        return []
    for line in _LINE.finditer(text):
        if len(line[0]) > _LONGEST:
            continue
        written = [w.lower() for w in _WORD.findall(line[0])]
        if words.first_words.isdisjoint(written):
            continue
        told = told or words.standing_words.search(text) is not None
        if not told:
            return []
        for kind, phrases in words.standing.items():
            if kind not in found and written and _says(written, phrases, words.about):
                refuses = kind == "withdrawn"
                step = "ask the sender for the report that holds" if refuses else ""
                found[kind] = Mark(kind, ABOUT[kind], refuses, Span(line.start(), line.end()), step)
    return list(found.values())


def _says(written: list[str], phrases: frozenset[tuple[str, ...]], about: frozenset[str]) -> bool:
    left = tuple(written)
    for phrase in phrases:
        if left == phrase:
            return True
        at = next((n for n in range(len(left)) if left[n : n + len(phrase)] == phrase), -1)
        if at < 0 or not about.issuperset(left[:at]):
            continue
        rest = left[at + len(phrase) :]
        if about.issuperset(rest) or (
            len(phrase) > 1 and len(rest) <= _MORE and about.intersection(left[:at])
        ):
            return True
    return False


def report_number(text: str) -> str:
    """Give the number a report states of itself, with the title that stands first, by which versions are told."""
    found = gate_words().number.search(text)
    if found is None or not any(ch.isdigit() for ch in found[1]):
        return ""
    title = next((line[0] for line in _LINE.finditer(text) if _title(line[0])), "")
    return " ".join(["number", found[1].upper(), *(w.lower() for w in _WORD.findall(title))])


def _title(line: str) -> bool:
    return len(line) <= _LONGEST and lexicon().modality_words.search(line) is not None
