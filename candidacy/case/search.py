"""Find data elements by what they are called, what they mean, their codes and their synonyms, near misses included."""

from difflib import SequenceMatcher

from candidacy.case.catalogue import Catalogue
from candidacy.case.element import Element

_NEAR = 80.0
_MOST_NEAR = 8


def find_elements(shelf: Catalogue, text: str) -> tuple[list[Element], bool]:
    """Elements for a text, and whether they only come near it.

    Every word of the text must stand in the name, the synonyms, the group, the meaning, the codes or the unit of an
    element; those named so come first, then synonyms, then the others. Where there is none, the closest names and synonyms.
    """
    words = text.lower().replace("_", " ").split()
    ranked = [(rank, e) for e in shelf.all if (rank := _rank(shelf, e, words)) is not None]
    if ranked:
        return [e for _, e in sorted(ranked, key=lambda pair: pair[0])], False
    scored = sorted(
        ((_nearness(text, e), shelf.place(e.name), e) for e in shelf.all), key=lambda row: (-row[0], row[1])
    )
    return [e for score, _, e in scored[:_MOST_NEAR] if score >= _NEAR], True


def _rank(shelf: Catalogue, element: Element, words: list[str]) -> int | None:
    name = element.name.replace("_", " ")
    synonyms = " ".join(element.synonyms).lower().replace("_", " ")
    group = f"{shelf.group_of(element.name)} {shelf.groups[shelf.group_of(element.name)]}".lower()
    codes = " ".join([*element.codes, *(element.choices or {}).values()]).lower().replace("_", " ")
    more = f"{element.meaning} {element.unit or ''} {element.ask}".lower()
    if element.code is not None:
        more += f" {element.code.system} {element.code.code} {element.code.name}".lower()
    fields = (name, synonyms, group, codes, more)
    for rank in range(len(fields)):
        told = " ".join(fields[: rank + 1])
        if all(word in told for word in words):
            return rank
    return None


def _nearness(text: str, element: Element) -> float:
    """How close a text comes to a name or a synonym, or each of its words to one of theirs; from 0 to 100."""
    wanted = text.lower().replace("_", " ")
    names = [name.lower().replace("_", " ") for name in (element.name, *element.synonyms)]
    by_word = [
        max(_ratio(word, other) for name in names for other in name.split()) for word in wanted.split()
    ]
    return max(*(_ratio(wanted, name) for name in names), min(by_word, default=0))


def _ratio(one: str, other: str) -> float:
    try:
        from rapidfuzz import fuzz
    except ImportError:  # an optional part; the standard library serves, slower
        return 100 * SequenceMatcher(None, one, other).ratio()
    return float(fuzz.ratio(one, other))
