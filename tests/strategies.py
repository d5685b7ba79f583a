"""Random valid case records over the catalogue, for laws that must hold on every case.

``random_case(rng, elements)`` needs nothing but a source of randomness; ``case_records`` wraps it for hypothesis.
Records hold exact and imprecise values, reasons for not knowing, values on and beside the limits of a rule set,
partial dates, dated and undated facts, several units, complete and open lists, and missing facts.

A derived element is never stated together with elements it may be worked out from: where the two disagree there is
no right answer, and the loader refuses the plain cases of it.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import isfinite
from random import Random
from typing import Any

from hypothesis import strategies as st

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS, LISTS, STANDARD_LEVELS, Element
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord
from candidacy.derive.discography import FINDINGS
from candidacy.foundation import units
from candidacy.foundation.dates import add
from candidacy.foundation.values import RECORDABLE, point
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import Compare, Elapsed, elements_of, walk

AS_OF = date(2026, 11, 25)
# Free text of every awkward kind: markup, code, colours of a terminal, right-to-left, line ends.
TEXTS = (
    "plain words",
    "[bold red]not markup[/]",
    "<script>alert(1)</script> & <b>bold</b>",
    "{{ 7 * 7 }} {% raw %}",
    "\x1b[31mred\x1b[0m",
    "naïve Ω – 漢字 🙂",
    "\u202eright to left",
    "two\nlines",
    "30",
    "true",
    "~",
    "'; DROP TABLE cases; --",
    "",
)


@dataclass(frozen=True)
class Hints:
    """Limits of a rule set, so that generated values fall on and beside them often.

    ``numbers`` and ``codes`` by element; ``ages`` are (amount, calendar unit) of recency windows; ``elapsed`` the same
    by date element.
    """

    numbers: dict[str, tuple[float, ...]] = field(default_factory=dict)
    codes: dict[str, tuple[str, ...]] = field(default_factory=dict)
    ages: tuple[tuple[int, str], ...] = ()
    elapsed: dict[str, tuple[tuple[int, str], ...]] = field(default_factory=dict)


def hints_of(rule_set: RuleSet) -> Hints:
    """Gather the limits that the criteria of a rule set compare with."""
    numbers: dict[str, set[float]] = {}
    codes: dict[str, set[str]] = {}
    ages: set[tuple[int, str]] = set()
    elapsed: dict[str, set[tuple[int, str]]] = {}
    for item in rule_set.criteria:
        criterion = item.criterion
        if criterion.recency is not None:
            limit = item.parameters[criterion.recency.max_age.parameter]
            ages.add((int(str(limit.value)), limit.unit or "day"))
        for node in [node for root in item.conditions for node in walk(root)]:
            for value in node.limits if isinstance(node, Elapsed | Compare) else ():
                if isinstance(node, Elapsed):
                    if not isinstance(value, str):
                        elapsed.setdefault(node.since, set()).add((int(value), node.unit))
                elif isinstance(value, str):
                    codes.setdefault(node.element, set()).add(value)
                elif not isinstance(value, bool):
                    numbers.setdefault(node.element, set()).add(float(value))
    return Hints(
        {k: tuple(sorted(v)) for k, v in sorted(numbers.items())},
        {k: tuple(sorted(v)) for k, v in sorted(codes.items())},
        tuple(sorted(ages)),
        {k: tuple(sorted(v)) for k, v in sorted(elapsed.items())},
    )


def elements_read(rule_set: RuleSet) -> tuple[Element, ...]:
    """Statable elements that a rule set may read, directly or to work a derived one out, in catalogue order."""
    shelf = catalogue()
    wanted: set[str] = set()
    for item in rule_set.criteria:
        criterion = item.criterion
        wanted |= set(elements_of(*item.conditions))
        if criterion.recency is not None and criterion.recency.dated_by is not None:
            wanted.add(criterion.recency.dated_by)
    wanted |= {"discs_under_consideration"}
    reads = inputs_by_formula()
    todo = list(wanted)
    while todo:
        for name in reads.get(todo.pop(), ()):
            if name not in wanted:
                wanted.add(name)
                todo.append(name)
    return tuple(e for e in shelf.all if e.name in wanted and e.statable)


def inputs_by_formula() -> dict[str, set[str]]:
    """For every derived element, the elements named in its formula's module; more than it reads, never fewer."""
    import inspect

    from candidacy.derive import FORMULAS

    names = {e.name for e in catalogue().all}
    found: dict[str, set[str]] = {}
    texts: dict[str, set[str]] = {}
    for element, formula in FORMULAS.items():
        module = inspect.getmodule(formula)
        assert module is not None
        if module.__name__ not in texts:
            words = set(_identifiers(inspect.getsource(module)))
            numbered = {n for n in names if n.rstrip("0123456789") in words}
            texts[module.__name__] = (names & words) | numbered
        found[element] = texts[module.__name__] - {element}
    return found


def _identifiers(text: str) -> list[str]:
    import re

    return re.findall(r"[a-z][a-z0-9_]+", text)


@dataclass(frozen=True)
class Mix:
    """How often things happen, as probabilities."""

    stated: float = 0.6
    unknown: float = 0.08
    imprecise: float = 0.25
    on_a_limit: float = 0.4
    dated: float = 0.85
    other_unit: float = 0.15
    list_given: float = 0.7
    text: float = 0.1
    yes: float = 0.5


# Nearly everything known and exact, few alarms: cases that get as far as the later decision rules.
FULL = Mix(stated=0.97, unknown=0.02, imprecise=0.08, on_a_limit=0.5, dated=0.97, list_given=0.95, yes=0.1)
# Little known, and that vaguely.
SPARSE = Mix(stated=0.3, unknown=0.2, imprecise=0.5)


class _Maker:
    def __init__(self, rng: Random, hints: Hints, mix: Mix, as_of: date) -> None:
        self.rng, self.hints, self.mix, self.as_of = rng, hints, mix, as_of
        self.documents: dict[str, dict[str, Any]] = {}

    def chance(self, probability: float) -> bool:
        return self.rng.random() < probability

    # --- values

    def fact(self, element: Element) -> dict[str, Any]:
        entry: dict[str, Any]
        if self.chance(self.mix.unknown):
            entry = {"unknown": self.rng.choice(RECORDABLE).value}
        else:
            entry = _MAKERS[element.kind](self, element)
        if self.chance(self.mix.dated) and self.documents:
            entry["source"] = self.rng.choice(sorted(self.documents))
        if self.chance(0.2):
            entry["date"] = self.day_text(self.near_day())
        if self.chance(self.mix.text):
            entry["words"] = self.rng.choice(TEXTS)
        return entry

    def number(self, element: Element) -> dict[str, Any]:
        whole = element.kind == "integer"
        value, other = self.one_number(element, whole), self.one_number(element, whole)
        low, high = sorted((value, other))
        forms: list[dict[str, Any]] = [{"value": value}]
        if self.chance(self.mix.imprecise):
            forms = [
                {"between": [low, high]},
                {"at_least": value},
                {"at_most": value},
                {"one_of": [low, high]},
            ]
            limits = element.possible
            assert limits is not None
            step = 1 if whole else 0
            if limits.high is None or value + step < limits.high:
                forms.append({"more_than": value})
            if limits.low is None or value - step > limits.low:
                forms.append({"less_than": value})
        entry = self.rng.choice(forms)
        if element.unit is not None:
            entry = self.with_unit(element, entry)
        return entry

    def one_number(self, element: Element, whole: bool) -> float | int:
        possible = element.possible
        assert possible is not None
        low = possible.low if possible.low is not None else -1000
        high = possible.high if possible.high is not None else 1000
        likely = element.likely
        if likely is not None and self.chance(0.8):
            low = likely.low if likely.low is not None else low
            high = likely.high if likely.high is not None else high
        limits = self.hints.numbers.get(element.name, ())
        if limits and self.chance(self.mix.on_a_limit):
            step = 1 if whole else self.rng.choice((0.1, 1, 5))
            value: float = self.rng.choice(limits) + self.rng.choice((-step, 0, 0, step))
        else:
            value = low + self.rng.random() * (high - low)
        low = possible.low if possible.low is not None else low
        high = possible.high if possible.high is not None else high
        value = min(max(round(value, 2), low), high)
        return int(value) if whole else value

    def with_unit(self, element: Element, entry: dict[str, Any]) -> dict[str, Any]:
        unit = element.unit
        assert unit is not None
        others = [u for u in element.accepted_units if u != unit]
        if others and self.chance(self.mix.other_unit):
            given = self.rng.choice(others)
            changed = {form: _convert(value, unit, given) for form, value in entry.items()}
            if None not in changed.values() and _still_possible(element, changed, given):
                return {**changed, "unit": given}
        return {**entry, "unit": unit}

    def boolean(self, element: Element) -> dict[str, Any]:
        return {"value": self.chance(self.mix.yes)}

    def choice(self, element: Element) -> dict[str, Any]:
        codes = element.codes
        near = self.hints.codes.get(element.name, ())
        first = self.rng.choice(near) if near and self.chance(self.mix.on_a_limit) else self.rng.choice(codes)
        if self.chance(self.mix.imprecise) and len(codes) > 1:
            some = {first, *(self.rng.choice(codes) for _ in range(2))}
            return {"one_of": sorted(some, key=codes.index)}
        return {"value": first}

    def members(self, element: Element) -> dict[str, Any]:
        codes = STANDARD_LEVELS if element.levels else element.codes
        some = [code for code in codes if self.chance(2 / len(codes))]
        if some and self.chance(self.mix.imprecise):
            return {"includes": some}
        return {"value": some}

    def date(self, element: Element) -> dict[str, Any]:
        day = self.near_day(self.hints.elapsed.get(element.name, ()))
        if self.chance(self.mix.imprecise):
            return self.rng.choice(
                (
                    {"not_before": self.day_text(day)},
                    {"not_after": self.day_text(day)},
                    {"between": [day.isoformat(), (day + timedelta(self.rng.randint(0, 400))).isoformat()]},
                )
            )
        return {"value": self.day_text(day)}

    def words(self, element: Element) -> dict[str, Any]:
        return {"value": self.rng.choice(TEXTS)}

    # --- days

    def near_day(self, windows: Sequence[tuple[int, str]] = ()) -> date:
        windows = (*windows, *self.hints.ages)
        if windows and self.chance(self.mix.on_a_limit):
            amount, unit = self.rng.choice(windows)
            return add(self.as_of, -amount, unit) + timedelta(self.rng.choice((-1, 0, 0, 1)))
        if self.chance(0.1):
            return self.as_of - timedelta(self.rng.randint(-60, 30_000))
        return self.as_of - timedelta(self.rng.randint(-20, 900))

    def day_text(self, day: date) -> str:
        text = day.isoformat()
        return text if self.chance(0.8) else self.rng.choice((text[:7], text[:4]))

    # --- parts of a record

    def make_documents(self) -> None:
        for number in range(self.rng.randint(0, 3)):
            document: dict[str, Any] = {
                "kind": self.rng.choice(("imaging_report", "referral_letter", "other"))
            }
            if self.chance(0.9):
                document["date"] = self.day_text(self.near_day())
            if self.chance(0.2):
                document["author"] = self.rng.choice(TEXTS)
            self.documents[f"document{number}"] = document

    def table(self, elements: Iterable[Element], lists_given: bool) -> dict[str, Any]:
        """Facts of one subject; what is worked out is either stated or may be worked out, not both."""
        stated: list[Element] = []
        blocked: set[str] = set()
        pool = list(elements)
        for element in pool:
            lone = element.inputs or not lists_given or element.kind == "members"
            if element.derived and self.chance(0.5) and lone:
                sources = {name for some in element.inputs for name in some} | _ALSO_FROM.get(
                    element.name, set()
                )
                taken = {e.name for e in stated}
                if element.name not in blocked and not sources & taken:
                    stated.append(element)
                    blocked |= sources
        told_twice = {name for some in _TOLD_TWICE for name in set(some) - {self.rng.choice(some)}}
        stated += [e for e in pool if not e.derived and e.name not in blocked | told_twice]
        facts = {e.name: self.fact(e) for e in stated if self.chance(self.mix.stated)}
        for element in pool:
            if element.name in facts and "unknown" not in facts[element.name]:
                for other in element.excludes:  # one scale for one disc
                    facts.pop(other, None)
            # a summary that denies a present sign is refused by the loader
            if element.covers and _says(facts.get(element.name), False):
                for sign in element.covers:
                    facts.pop(sign, None)
        return facts


# Elements of the same subject that a derived one without stated inputs may be worked out from.
_ALSO_FROM = {"opioid_mme_per_day": {"opioid_use"}}
# Elements of which one implies the others, so that several at random would mostly contradict each other.
_TOLD_TWICE = (
    ("medicine_agent", "medicine_class"),
    ("canal_stenosis", "schizas_grade", "lee_central_grade"),
    ("anaesthetic_relief_reported", "anaesthetic_pain_after"),
)

_MAKERS: dict[str, Callable[[_Maker, Element], dict[str, Any]]] = {
    "number": _Maker.number,
    "integer": _Maker.number,
    "boolean": _Maker.boolean,
    "choice": _Maker.choice,
    "members": _Maker.members,
    "date": _Maker.date,
    "words": _Maker.words,
}


def _name_injected(patient: dict[str, Any], discs: dict[str, dict[str, Any]]) -> None:
    """A list of the discs injected names at least those with findings of it; else the two contradict each other."""
    shown = [
        lvl
        for lvl, table in discs.items()
        if any("unknown" not in table.get(n, {"unknown": ""}) for n in FINDINGS)
    ]
    for form in ("value", "includes"):
        if form in patient.get("discography_levels", {}):
            named = {*patient["discography_levels"][form], *shown}
            patient["discography_levels"][form] = [level for level in LEVELS if level in named]


def _says(entry: dict[str, Any] | None, answer: bool) -> bool:
    return entry is not None and entry.get("value") is answer


def _convert(value: Any, storage: str, given: str) -> Any:
    if isinstance(value, list):
        parts = [_convert(part, storage, given) for part in value]
        return None if None in parts else parts
    try:
        found = units.convert(point(value), storage, given)
    except ValueError:
        return None
    return found.low if found.exact and isfinite(found.low) else None


def _still_possible(element: Element, entry: dict[str, Any], given: str) -> bool:
    """Whether every number, converted back as the loader will, lies strictly inside what is possible."""
    possible = element.possible
    assert possible is not None
    assert element.unit is not None
    for value in entry.values():
        for number in value if isinstance(value, list) else [value]:
            back = units.convert(point(number), given, element.unit)
            if element.kind == "integer" and not float(number).is_integer():
                return False
            if possible.low is not None and back.low <= possible.low:
                return False
            if possible.high is not None and back.high >= possible.high:
                return False
    return True


def random_case(
    rng: Random,
    elements: Sequence[Element] | None = None,
    *,
    hints: Hints | None = None,
    mix: Mix | None = None,
    as_of: date = AS_OF,
    levels: Sequence[str] | None = None,
) -> CaseRecord:
    """One random valid case record.

    Parameters
    ----------
    rng
        Where randomness comes from; ``Random(seed)`` makes it repeatable.
    elements
        Which elements may be stated; all statable ones if not given.
    hints
        Limits to fall on and beside; see `hints_of`.
    mix
        How often things happen.
    levels
        Discs that may occur; the five usual ones, now and then one of a transitional spine, if not given.
    """
    maker = _Maker(rng, hints or Hints(), mix or Mix(), as_of)
    pool = [e for e in (elements if elements is not None else catalogue().all) if e.statable]
    by_scope: dict[str, list[Element]] = {}
    for element in pool:
        by_scope.setdefault(element.scope, []).append(element)
    maker.make_documents()
    lists: dict[str, Any] = {}
    for name, scope in LISTS.items():
        if by_scope.get(scope) and maker.chance(maker.mix.list_given):
            entries = [maker.table(by_scope[scope], True) for _ in range(rng.randint(0, 3))]
            lists[name] = {"entries": entries} | rng.choice(({"complete": True}, {"complete": False}, {}))
    patient = maker.table(by_scope.get("patient", ()), bool(lists))
    chosen = (
        levels
        if levels is not None
        else [x for x in LEVELS if maker.chance(0.5 if x in STANDARD_LEVELS else 0.03)]
    )
    discs = {level: maker.table(by_scope["disc"], False) for level in chosen} if by_scope.get("disc") else {}
    _name_injected(patient, discs)
    return CaseRecord.model_validate(
        {
            "schema_version": "1",
            "id": f"random-{rng.randint(0, 10**9)}",
            "invented": True,
            "documents": maker.documents,
            "patient": patient,
            "discs": discs,
            **lists,
        }
    )


def random_loaded_case(rng: Random, elements: Sequence[Element] | None = None, **more: Any) -> Case:
    """The same, checked and gathered as a case."""
    return case_from_record(random_case(rng, elements, **more))


def case_records(
    elements: Sequence[Element] | None = None, *, hints: Hints | None = None, mix: Mix | None = None
) -> st.SearchStrategy[CaseRecord]:
    """Case records for hypothesis; failures are reported by the seed that makes them."""
    return st.integers(0, 2**32).map(lambda seed: random_case(Random(seed), elements, hints=hints, mix=mix))
