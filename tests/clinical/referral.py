"""Invented referrals: a base record and the changes that make one referral of it, as a case."""

from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

from candidacy.case.load import Case, parse_case
from candidacy.rules.vocabulary import STANDINGS
from tests.quick_yaml import read_yaml, write_yaml

HERE = Path(__file__).parent
# Who is taken to have recorded a changed fact of a disc, by the start of its name; else the imaging report.
_DISC_SOURCES = {
    "discography": "disco",
    "anaesthetic": "disco",
    "prior": "letter",
    "implant": "letter",
    "translation": "films",
    "angulation": "films",
}
_LIST_SOURCES = {"medicines": "meds", "injections": "clinic", "intradiscal_procedures": "clinic"}

Facts = dict[str, Any]


class Referral(BaseModel):
    """One referral and what a careful physician expects of it.

    Attributes
    ----------
    base, as_of
        The record that it changes, and the day; the day of the base unless given.
    set, discs, add, lists, documents
        Facts of the patient and of discs (``null`` takes one away, and a disc), entries added to lists, lists and
        documents put in place of those of the base (``null`` takes a list away).
    rules
        The rule set that is asked.
    expect
        Acceptable standings; where there are several, ``either`` says why.
    deciding
        Criteria or elements of which one must be named where the standing is not candidate.
    because, source
        The clinical reasoning in one sentence, and the row of the reference sheets or "clinical knowledge".
    revised
        What was changed on a second reading, and why.
    """

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")

    id: Annotated[str, Field(pattern=r"^[a-z0-9-]+$")]
    base: str = "complete"
    rules: str = "practice_baseline"
    as_of: str | None = None
    set: Facts = {}
    discs: dict[str, Facts | None] = {}
    add: dict[str, list[Facts]] = {}
    lists: dict[str, dict[str, Any] | None] = {}
    documents: dict[str, dict[str, str]] = {}
    expect: Annotated[list[str], Field(min_length=1)]
    either: str = ""
    deciding: list[str] = []
    because: Annotated[str, Field(min_length=8)]
    source: Annotated[str, Field(min_length=4)]
    revised: str = ""

    @model_validator(mode="before")
    @classmethod
    def _one_standing(cls, data: dict[str, Any]) -> dict[str, Any]:
        expect = data["expect"]
        return data | {"expect": [expect] if isinstance(expect, str) else expect}

    @model_validator(mode="after")
    def _reasoned(self) -> "Referral":
        if not set(self.expect) <= set(STANDINGS):
            raise ValueError(f"{self.id}: no such standing among {self.expect}")
        if len(self.expect) > 1 and not self.either:
            raise ValueError(f"{self.id}: several standings are acceptable, but not why")
        if "candidate" not in self.expect and not self.deciding:
            raise ValueError(f"{self.id}: what decides is not named")
        return self


@cache
def referrals() -> dict[str, Referral]:
    """Every referral by its id, in the order of the files."""
    found: dict[str, Referral] = {}
    for path in sorted((HERE / "referrals").glob("*.yaml")):
        for row in read_yaml(path.read_text(encoding="utf-8"))["referrals"]:
            referral = Referral.model_validate(row)
            if referral.id in found:
                raise ValueError(f"two referrals are called {referral.id}")
            found[referral.id] = referral
    return found


@cache
def _base(name: str) -> dict[str, Any]:
    """A base record as plain data, each fact with its source."""
    file = read_yaml((HERE / "base" / f"{name}.yaml").read_text(encoding="utf-8"))
    plain: dict[str, Any] = deepcopy(_base(file["extends"])) if "extends" in file else {"schema_version": "1"}
    plain |= {"id": name, "as_of": file["as_of"], "invented": True}
    plain.setdefault("documents", {}).update(file.get("documents", {}))
    _put(plain.setdefault("patient", {}), file.get("patient", {}))
    for level, facts in file.get("discs", {}).items():
        disc = plain.setdefault("discs", {}).setdefault(level, {})
        _put(disc, file.get("every_disc", {}))
        _put(disc, facts)
    for each, content in file.get("lists", {}).items():
        plain[each] = _listed(content)
    for element in file.get("remove", ()):
        del plain["patient"][element]
    return plain


def _put(facts: Facts, by_source: dict[str, Facts]) -> None:
    for source, table in by_source.items():
        for element, value in table.items():
            facts[element] = _fact(value, source)


def _fact(value: Any, source: str) -> Facts:
    fact = dict(value) if isinstance(value, dict) else {"value": value}
    return fact if "source" in fact or "unknown" in fact else fact | {"source": source}


def _entry(entry: Facts, source: str) -> Facts:
    return {element: _fact(value, source) for element, value in entry.items()}


def _listed(content: dict[str, Any]) -> dict[str, Any]:
    return {
        "complete": content["complete"],
        "entries": [_entry(entry, content["source"]) for entry in content["entries"]],
    }


def _disc_source(element: str) -> str:
    return _DISC_SOURCES.get(element.split("_")[0], "mri")


def record(referral: Referral) -> dict[str, Any]:
    """The record of a referral as plain data."""
    plain = deepcopy(_base(referral.base))
    plain["id"] = referral.id
    plain["as_of"] = referral.as_of or plain["as_of"]
    plain["documents"] |= referral.documents
    today = "day" if "day" in plain["documents"] else "clinic"
    _change(plain["patient"], referral.set, lambda element: today)
    for level, facts in referral.discs.items():
        if facts is None:
            del plain["discs"][level]
        else:
            _change(plain["discs"].setdefault(level, {}), facts, _disc_source)
    for name, content in referral.lists.items():
        if content is None:
            del plain[name]
        else:
            plain[name] = _listed(content)
    for name, entries in referral.add.items():
        source = _LIST_SOURCES.get(name, "letter")
        plain[name]["entries"] += [_entry(entry, source) for entry in entries]
    return plain


def _change(facts: Facts, changes: Facts, source_of: Any) -> None:
    for element, value in changes.items():
        if value is not None:
            facts[element] = _fact(value, source_of(element))
        elif element in facts:
            del facts[element]
        else:
            raise KeyError(f"nothing to take away: {element}")


def case(referral: Referral) -> Case:
    """The case of a referral, through the door that every record file goes through.

    Raises
    ------
    CaseError
        Where the record is refused.
    """
    return parse_case(write_yaml(record(referral)), referral.id)
