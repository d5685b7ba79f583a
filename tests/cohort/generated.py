"""Generated cases for agreement: near a candidate, so that every standing occurs, with random facts mixed in."""

from collections.abc import Sequence
from functools import cache
from random import Random

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.load import Case, case_from_record, load_case
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.foundation.errors import CaseError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set, shipped
from candidacy.rules.resolved import RuleSet
from tests.strategies import Hints, elements_read, hints_of, random_case


@cache
def rule_sets() -> tuple[RuleSet, ...]:
    """Every shipped rule set."""
    return tuple(load_rule_set(name) for name in shipped().rule_set_files())


@cache
def elements() -> tuple[Element, ...]:
    """Everything that any shipped rule set reads."""
    found = {element.name for rule_set in rule_sets() for element in elements_read(rule_set)}
    return tuple(element for element in catalogue().all if element.name in found)


@cache
def hints() -> Hints:
    """The limits of all shipped rule sets together."""
    numbers: dict[str, tuple[float, ...]] = {}
    codes: dict[str, tuple[str, ...]] = {}
    elapsed: dict[str, tuple[tuple[int, str], ...]] = {}
    ages: tuple[tuple[int, str], ...] = ()
    for found in map(hints_of, rule_sets()):
        for name, values in found.numbers.items():
            numbers[name] = (*numbers.get(name, ()), *values)
        for name, texts in found.codes.items():
            codes[name] = (*codes.get(name, ()), *texts)
        for name, windows in found.elapsed.items():
            elapsed[name] = (*elapsed.get(name, ()), *windows)
        ages += found.ages
    return Hints(numbers, codes, tuple(dict.fromkeys(ages)), elapsed)


@cache
def _bases() -> tuple[CaseRecord, ...]:
    found = []
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            found.append(load_case(path).record)
        except CaseError:
            continue  # one is refused on purpose
    return tuple(found)


def cases(seed: int, count: int, levels: Sequence[str] = ("L3-L4", "L4-L5", "L5-S1")) -> list[Case]:
    """Cases with missing, imprecise, boundary, out-of-date and undated values; two in three near a demo case."""
    rng = Random(seed)
    found: list[Case] = []
    while len(found) < count:
        record = random_case(rng, elements(), hints=hints(), levels=[x for x in levels if rng.random() < 0.7])
        if rng.random() < 0.67:
            record = _near(rng, rng.choice(_bases()), record)
        try:
            found.append(case_from_record(record.model_copy(update={"id": f"case-{seed}-{len(found)}"})))
        except CaseError:
            continue  # a mixture that the loader refuses is no case
    return found


def _near(rng: Random, base: CaseRecord, other: CaseRecord) -> CaseRecord:
    """A known case with a few facts taken out or exchanged."""
    share = rng.choice((0.0, 0.02, 0.1, 0.3))

    def mixed(ours: dict[str, FactEntry], theirs: dict[str, FactEntry]) -> dict[str, FactEntry]:
        kept = {name: entry for name, entry in ours.items() if rng.random() > share}
        return {**kept, **{name: entry for name, entry in theirs.items() if rng.random() < share / 2}}

    discs = {level: mixed(table, other.discs.get(level, {})) for level, table in base.discs.items()}
    lists = {}
    for name in ("medicines", "treatments", "injections", "surgeries", "intradiscal_procedures"):
        lists[name] = getattr(other if rng.random() < share else base, name)
    return base.model_copy(
        update={
            "patient": mixed(base.patient, other.patient),
            "discs": discs,
            "documents": {**other.documents, **base.documents},
            **lists,
        }
    )
