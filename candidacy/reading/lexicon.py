"""The reader's vocabulary, loaded once from the data files beside this module.

It holds what words mean and how they may be spelled; it decides nothing about a report.
"""

import re
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, NamedTuple

from candidacy.foundation.errors import EngineError
from candidacy.reading.data_files import rows_of
from candidacy.reading.phrases import any_of, spelled_out
from candidacy.reading.spelling import Speller

Node = dict[str, Any]
"""A trie over lexicon words; the key ``""`` holds the entries that end at a node."""

_COMMON = {"id", "example", "counter", "phrases"}
_ALLOWED: dict[str, set[str]] = {
    "findings": {"kind", "value", "scope", "status", "not_before", "needs", "without", "not_of", "also"},
    "known": {"weak"},
    "objects": {"class", "weak"},
    "actions": {"class", "value"},
    "severity": {"value"},
    "attributes": {"kind", "value"},
    "modifiers": {"kind", "reach", "tight", "at_end"},
    "places": {"kind"},
}


_GAP = r"[\s.\-]+"
"""What stands between the words of a phrase of structure: spaces, dots, hyphens."""
_NOT_SURE = re.compile(r"not (?!.* that$)")
"""Of the phrases that say how sure something is, those that begin with "not"; "not true that" denies."""
_VERBS = ("is", "are", "was", "were", "has", "have", "does", "do", "did")
_NOUNS = ("findings", "known", "objects", "attributes")


class Entry(NamedTuple):
    """One trigger of the lexicon; what ``kind`` and ``value`` mean depends on ``group``, its file."""

    id: str
    group: str
    kind: str
    value: Any = None
    reach: str = ""
    tight: bool = False
    at_end: bool = False
    weak: bool = False
    scope: str = "disc"
    status: str = ""
    not_before: frozenset[str] = frozenset()
    needs: tuple[str, ...] = ()
    """Lists of ``grammar.yaml`` of each of which a word must stand in the statement."""
    without: str = ""
    """A list of ``grammar.yaml`` of which none may."""
    not_of: str = ""
    """A list of ``grammar.yaml`` of things whose finding it then is, and not the disc's."""
    also: tuple[str, ...] = ()


class Pair(NamedTuple):
    """An action said of a thing that together make a finding."""

    id: str
    kind: str
    value: Any
    graded: bool
    reach: int
    back_only: bool
    also: tuple[str, ...]
    only: frozenset[str]
    degree: bool
    instead: dict[str, str]

    def value_by(self, act: "Entry") -> Any:
        """Give the value that an action leaves: its own degree (contact, narrowing, compression) where it counts."""
        return act.value if self.degree and act.value else self.value


class Grade(NamedTuple):
    """A graded scale: the words that name it and the values it allows."""

    id: str
    kind: str
    form: str
    values: tuple[str, ...]
    of: frozenset[str]
    source: str


class Heading(NamedTuple):
    """Words that open a section of a report."""

    id: str
    section: str


_STUDY = frozenset(
    [
        "t",
        "tesla",
        "six",
        "five",
        "four",
        "6",
        "5",
        "4",
        "numbering",
        "numbered",
        "counting",
        "counted",
        "labeled",
        "labelled",
        "designated",
        "last",
        "lowest",
    ]
)
"""Words without which a statement says nothing of the study itself."""


class Lexicon:
    """Everything the reader knows about words. Build it with `lexicon`, which does so once."""

    def __init__(self, data: dict[str, Any]) -> None:
        words = data["words"]
        known: dict[str, str] = {}
        guess: dict[str, str] = {}
        for row in words:
            for spelling in (row["word"], *row["variants"]):
                known[spelling] = row["word"]
                if row.get("fuzzy", True) and len(spelling) >= 5:
                    guess[spelling] = row["word"]
        for group in _NOUNS:  # plurals of the words that phrases are made of
            for row in data[group]:
                for phrase in row["phrases"]:
                    for word in str(phrase).split():
                        if len(word) > 3 and word.isalpha() and not word.endswith("s"):
                            known.setdefault(word + "s", known.get(word, word))
        self.spell = Speller(known, guess, data["not_typos"])
        self.trie: Node = {}
        self.examples: list[tuple[str, str, str, str]] = [
            ("words", w["id"], w["example"], w["counter"]) for w in words
        ]
        for group, allowed in _ALLOWED.items():
            for row in data[group]:
                self._add(group, row, allowed)
        self.pairs: dict[tuple[str, str], Pair] = {}
        for row in data["pairs"]:
            self.examples.append(("pairs", row["id"], row["example"], row["counter"]))
            self.pairs[row["act"], row["obj"]] = Pair(
                row["id"],
                row["kind"],
                row.get("value"),
                row.get("graded", False),
                row["reach"],
                row.get("order") == "back",
                tuple(row.get("also", ())),
                frozenset(row.get("only", ())),
                row.get("degree", False),
                row.get("instead", {}),
            )
        self.acts_of: dict[str, frozenset[str]] = {
            act: frozenset(o for a, o in self.pairs if a == act) for act, _ in self.pairs
        }
        structure = data["structure"]
        self.headings = self._table(structure["sections"], "section")
        self.regions = self._table(structure["regions"], "region")
        self.modalities = self._table(structure["modalities"], "modality")
        self.study = {
            phrase: (row["id"], row["kind"], row["value"])
            for row in structure["study"]
            for phrase in row["phrases"]
        }
        self.examples += [("study", r["id"], r["example"], r["counter"]) for r in structure["study"]]
        self.title_words = frozenset(
            w for phrase in (*self.modalities, *self.regions, *self.headings) for w in phrase.split()
        )
        self.study_phrases = any_of(self.study, _GAP)
        self.region_words = any_of(self.regions, _GAP)
        self.modality_words = any_of(self.modalities, _GAP)
        self.modality_letters = frozenset(w for p in self.modalities for w in re.findall(r"[^\W\d_]+", p)[:1])
        self.study_words = (
            frozenset(w for p in (*self.modalities, *self.study) for w in p.split()[-1:]) | _STUDY
        )
        self.abbreviations = frozenset(structure["abbreviations"])
        self.before_small = frozenset(structure["before_small"])
        self.dangling = frozenset(structure["dangling"])
        self.continuing = frozenset(structure["continuing"])
        self.starting = frozenset(structure["starting"])
        self.severities = tuple(row["value"] for row in data["severity"])  # from the least to the most
        self.grade_of: dict[str, Grade] = {}
        self.grades: dict[tuple[str, ...], Grade] = {}
        for row in data["grades"]:
            self.examples.append(("grades", row["id"], row["example"], row["counter"]))
            values = row.get("values") or [str(n) for n in range(row["low"], row["high"] + 1)]
            of = frozenset(row.get("of", ()))
            grade = Grade(row["id"], row["kind"], row["form"], tuple(values), of, row["source"])
            self.grade_of.update(dict.fromkeys(of, grade))
            for name in row["names"]:
                self.grades[self.words(name)] = grade
        self.grade_names: dict[str, list[tuple[str, ...]]] = {}
        for key in self.grades:
            self.grade_names.setdefault(key[0], []).append(key)
        self.grade_first = frozenset(self.grade_names)
        self.grade_kinds = frozenset(self.grade_of)
        self.grade_words = self.grade_first | {"grade"}
        self.scales = self.grade_first | {"modic"}  # words before a grade that say of which scale it is
        self.grade_values = frozenset(
            v.lower() for g in self.grades.values() for v in g.values if len(v) > 1 and not v.isdigit()
        )
        """Values that are words of their own, as "iia"."""

    def words(self, phrase: str) -> tuple[str, ...]:
        """Split a phrase of a data file into lexicon words."""
        return tuple(w if w.startswith("<") else self.spell(w) for w in phrase.split())

    def _table(self, rows: list[dict[str, Any]], key: str) -> dict[str, Heading]:
        table = {}
        for row in rows:
            self.examples.append((key, row["id"], row["example"], row["counter"]))
            for phrase in row["phrases"]:
                table[" ".join(phrase.split())] = Heading(row["id"], row[key])
        return table

    def _add(self, group: str, row: dict[str, Any], allowed: set[str]) -> None:
        extra = set(row) - _COMMON - allowed
        missing = _COMMON - set(row)
        if extra or missing:
            raise EngineError(f"reading data {group}/{row.get('id')}: unknown {extra}, missing {missing}")
        entry = Entry(
            row["id"],
            group,
            row.get("kind") or row.get("class") or group,
            tuple(row["value"]) if isinstance(row.get("value"), list) else row.get("value"),
            row.get("reach", ""),
            row.get("tight", False),
            row.get("at_end", False),
            row.get("weak", False),
            row.get("scope", "disc"),
            row.get("status", ""),
            frozenset(self.spell(w) for w in row.get("not_before", ())),
            tuple(row.get("needs", ())),
            row.get("without", ""),
            row.get("not_of", ""),
            tuple(row.get("also", ())),
        )
        self.examples.append((group, row["id"], row["example"], row["counter"]))
        for phrase in _with_verbs(row["phrases"], entry):
            node = self.trie
            if not isinstance(phrase, str):
                raise EngineError(f"reading data {group}/{row['id']}: quote the phrase {phrase!r}")
            for word in self.words(phrase):
                node = node.setdefault(word, {})
            ends = node.setdefault("", [])
            if entry not in ends:
                ends.append(entry)


def _with_verbs(phrases: list[str], entry: Entry) -> list[str]:
    """Give phrases spelled out, and those that begin with "not" behind the verbs, too: "is not" alone would be read as the denial it begins."""
    phrases = [each for p in phrases for each in (spelled_out(p) if isinstance(p, str) else [p])]
    if entry.group != "modifiers" or entry.kind == "negation":
        return phrases
    return [*phrases, *(f"{verb} {p}" for p in phrases if _NOT_SURE.match(p) for verb in _VERBS)]


@cache
def _grammar() -> dict[str, frozenset[str]]:
    return {name: frozenset(words.split()) for name, words in rows_of("grammar").items()}


def grammar(name: str) -> frozenset[str]:
    """Give the function words that do one thing, by the name they have in ``grammar.yaml``."""
    return _grammar()[name]


@lru_cache(maxsize=1)
def lexicon() -> Lexicon:
    """Load the reader's vocabulary; later calls give the same object."""
    folder = files("candidacy.reading") / "data"
    names = (*_ALLOWED, "words", "pairs", "structure", "grades")
    data: dict[str, Any] = {name: rows_of(name) for name in names}
    lines = (folder / "not_typos.txt").read_text("utf-8").splitlines()
    data["not_typos"] = frozenset(w for line in lines if not line.startswith("#") for w in line.split())
    return Lexicon(data)
