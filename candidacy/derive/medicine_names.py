"""What the written name of a medicine says of its class, by generic names and the stems that they share."""

import re
import unicodedata
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, ClassVar

from candidacy.derive.base import Inputs, Underivable, derives, once_a_case
from candidacy.foundation.values import FALSE, TRUE, Options, Why

_TABLE = "medicine_names"
_BESIDE, _UNKNOWN = "words_beside", "not_recognised"
_APART = "no_weight_counted_apart"
_NO_WEIGHT = frozenset(("no_weight", _APART, "antibody_counted_apart"))
# Forms that act where they are put, and what a name of these classes tells then: nothing that bears on an injection.
_SURFACE, _ON_SURFACE = "only_on_a_surface", {"systemic_steroid": _APART, "nsaid": "nsaid_on_a_surface"}
# What is swallowed or injected all the same: "liquid gel capsules".
_TAKEN = re.compile(
    r"\b(?:tab(?:let)?s?|cap(?:sule)?s?|soft|liquid|oral(?:ly)?|po|mouth|rectal(?:ly)?|enemas?|suppositor(?:y|ies)|injection|im|iv|sc)\b"
)
# What parts a form from a name, so that it is of something else: "prednisolone 20 mg and moisturising cream".
_PARTED = re.compile(
    r"[,;:+&/]|\((?!\d|\s*$)|\b(?:and|plus|with|also|then|uses?|using|und|et|y|e|con|avec|mit)\b"
)
_MASS = re.compile(r"\d ?mg\b(?! ?(?:/|per\b))|\d ?mg/(?:d|day)\b")
_STRENGTH = re.compile(r"\bw/[wv]\b|\d[\d.,]* ?(?:mg|mcg|µg|g) ?/ ?\d*(?:g|ml|dose|spray|puff)\b")
# A spray in the nose brings an anti-inflammatory into the blood.
_THROUGH_THE_NOSE = re.compile(r"\bnasal spray\b")
_WORD = re.compile(r"[^\W\d_]+(?:-\d+)?")
# How other languages spell the same international name: "metotrexato", "Kortison", "acide alendronique".
_SPELLINGS = (
    (re.compile(r"ique?s?\b|ik\b"), "ic"), (re.compile("ph"), "f"), (re.compile("th"), "t"), (re.compile("rh"), "r"),
    (re.compile("ou"), "u"), (re.compile("ae|oe"), "e"), (re.compile("[yj]"), "i"), (re.compile("k"), "c"),
    (re.compile(r"([^\W\d_])\1"), r"\1"), (re.compile(r"(?<=[^\W\d_]{4})[aeo]\b"), ""),
)  # fmt: skip
_BRACKET = re.compile(r"\([^)]*\)|\[[^\]]*\]")


@derives("medicine_named_class")
def medicine_named_class(inputs: Inputs) -> Options | None:
    """The class that the written name tells; one of two ``no_weight`` for a name without bearing, else ``not_recognised``.

    Source: generic names and stems of the table ``medicine_names`` (international nonproprietary names, recalled;
    common practice). A combination is of the class of its gravest part. Nothing is guessed from near spellings, but the
    spellings that other languages give the same name are the same name.
    """
    key = _of_name(inputs)
    return None if key is None else Options(frozenset((key,)))


@derives("medicine_not_recognised")
def medicine_not_recognised(inputs: Inputs) -> Options | None:
    """Whether a medicine of no named class bears a name that is not known, so that nothing here can weigh it.

    A stated class other than ``other``, or an agent, says what an unknown name leaves open. Without a class it is to be
    asked what the medicine is, for not every rule set asks for the class. Source: common practice.
    """
    key = _of_name(inputs)
    if key != _UNKNOWN:
        return None if key is None else FALSE
    for element in ("medicine_agent", "medicine_class"):
        stated = inputs.options(element)
        if stated is not None and "other" not in stated.codes:
            return FALSE
        if stated is not None and len(stated.codes) > 1:
            return None  # it may be a named one
    if inputs.options("medicine_class") is None:
        raise Underivable(Why.TOO_IMPRECISE, "its name is not known here, and no class is recorded")
    return TRUE


@once_a_case
def _of_name(inputs: Inputs) -> str | None:
    text = inputs.words("medicine_name")
    return class_of_name(text, inputs.table(_TABLE)) if text.strip() else None


def class_of_name(text: str, table: Mapping[str, Mapping[str, Any]]) -> str:
    """The row of ``medicine_names`` that a written name belongs to, or ``not_recognised``."""
    lowered = text.casefold().replace("’", "'")
    found = _class_of(lowered, _Names.of(table, _as_it_is))
    return (
        found
        if found != _UNKNOWN
        else _class_of(_common_spelling(lowered), _Names.of(table, _common_spelling))
    )


def _as_it_is(text: str) -> str:
    return text


def _common_spelling(text: str) -> str:
    """A name in small letters as all languages would spell it: without accents, double letters and a last vowel."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    for spelling, common in _SPELLINGS:
        plain = spelling.sub(common, plain)
    return plain


@lru_cache(maxsize=4096)
def _class_of(text: str, names: "_Names") -> str:
    outside = _BRACKET.sub(" ", text)
    # a name in brackets counts only where it is graver, or nothing stands outside: "apixaban (for the heart)"
    inside = names.found_in(text)
    found = [row for row, _ in names.rows if row in inside]
    if found and found[0] in _ON_SURFACE and len(inside) == 1 and names.only_on_a_surface(text):
        nose = found[0] == "nsaid" and _THROUGH_THE_NOSE.search(text)
        return found[0] if nose else _ON_SURFACE[found[0]]
    if found and found[0] not in _NO_WEIGHT:
        return found[0]
    rest = names.rest_of(outside if outside.strip() else text)
    return found[0] if found and not rest else _UNKNOWN


class _Names:
    """One table made ready; it is the same object for the same table."""

    _made: ClassVar["dict[tuple[int, str], tuple[object, _Names]]"] = {}

    def __init__(self, table: Mapping[str, Mapping[str, Any]], spelt: Callable[[str], str]) -> None:
        self.rows = [(key, row) for key, row in table.items() if key not in (_BESIDE, _SURFACE)]
        surface = table[_SURFACE]["names"] if _SURFACE in table else ()
        self._surface = re.compile(
            rf"(?<![\w-])(?:{'|'.join(map(re.escape, map(spelt, surface))) or '(?!)'})(?![\w-])"
        )
        self._beside = frozenset(map(spelt, table[_BESIDE]["names"])) if _BESIDE in table else frozenset()
        self._whole = {spelt(name): key for key, row in reversed(self.rows) for name in row["names"]}
        self._longest_first = sorted(self._whole, key=len, reverse=True)
        self._ends = [(spelt(end), key) for key, row in self.rows for end in row["endings"]]
        self._begins = [(spelt(start), key) for key, row in self.rows for start in row["beginnings"]]

    @classmethod
    def of(cls, table: Mapping[str, Mapping[str, Any]], spelt: Callable[[str], str]) -> "_Names":
        """The names of a table in one spelling, made ready once."""
        key = id(table), spelt.__name__
        kept = cls._made.get(key)
        if kept is None or kept[0] is not table:
            kept = cls._made[key] = (table, cls(table, spelt))
        return kept[1]

    def only_on_a_surface(self, text: str) -> bool:
        """Whether the one medicine that is named is written with a form that acts where it is put."""
        names = self._names_in(text).findall(text) + [
            w for w in self._others(text) if self._by_stem(w) is not None
        ]
        form = self._surface.search(text)
        if len(names) != 1 or form is None or _TAKEN.search(text):
            return False
        at = text.index(names[0])
        between = text[at + len(names[0]) : form.start()] if at < form.start() else text[form.end() : at]
        return not _PARTED.search(_STRENGTH.sub("1", between)) and not _MASS.search(text)

    def found_in(self, text: str) -> set[str]:
        found = {self._whole[match] for match in self._names_in(text).findall(text)}
        return found.union(key for word in self._others(text) if (key := self._by_stem(word)) is not None)

    def _names_in(self, text: str) -> re.Pattern[str]:
        """Finds the names of a text. Only those whose letters stand in it are sought: of hundreds, mostly one."""
        return _any_of(tuple(name for name in self._longest_first if name in text))

    def rest_of(self, text: str) -> list[str]:
        """Words of a name that tell nothing here."""
        return [word for word in self._others(text) if self._by_stem(word) is None]

    def _others(self, text: str) -> list[str]:
        rest = self._names_in(text).sub(" ", text)
        return [word for word in _WORD.findall(rest) if len(word) > 1 and word not in self._beside]

    def _by_stem(self, word: str) -> str | None:
        for end, key in self._ends:
            if word.endswith(end) and len(word) > len(end):
                return key
        return next((key for start, key in self._begins if word.startswith(start)), None)


@lru_cache(maxsize=4096)
def _any_of(names: tuple[str, ...]) -> re.Pattern[str]:
    """Whole names of a text, the first of those that begin at one place; without a name, nothing."""
    return re.compile(
        r"(?<![\w-])(?:" + "|".join(map(re.escape, names)) + r")(?![\w-])" if names else r"(?!)"
    )
