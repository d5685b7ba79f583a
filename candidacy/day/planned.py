"""Which discs are planned, and the case as it stands with these alone considered on a day."""

from datetime import date

from candidacy.assessment.assess import Assessment, assess
from candidacy.case.facts import Fact, normal_level
from candidacy.case.load import Case
from candidacy.explain.wording import listed
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.foundation.values import Members, Span
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import STANDING_ORDER, Standing

MAX_DISCS = 2


def planned_discs(case: Case, asked: tuple[str, ...]) -> tuple[str, ...]:
    """The planned discs as this program spells them, from the top down.

    Raises
    ------
    InputError
        E209 for a text that is no disc, E601 for none, one twice, or more than two, E211 for a disc that the record
        does not name among those considered.
    """
    found: list[str] = []
    problems: list[Problem] = []
    known = considered(case)
    if not asked:
        problems.append(Problem(Code.USAGE, "no disc is named", "--disc", expected=listed(sorted(known)) or "a disc",
                                next_step="name the planned disc, such as --disc L4-L5"))  # fmt: skip
    for text in asked:
        level = normal_level(text)
        if level is None:
            problems.append(Problem(Code.BAD_LEVEL, "not a disc", "--disc", found=shorten(text),
                                    expected="a lumbar disc, such as L4-L5"))  # fmt: skip
        elif level in found:
            problems.append(Problem(Code.USAGE, "this disc is named twice", "--disc", found=level))
        elif level not in known:
            problems.append(Problem(
                Code.CONTRADICTION, "this disc is not among those considered in the record", "--disc", found=level,
                expected=listed(sorted(known), "or") or "none is known to be considered",
                next_step="name a considered disc; if the decision changed, enter it under discs_under_consideration first"))  # fmt: skip
        else:
            found.append(level)
    if len(found) > MAX_DISCS:
        problems.append(Problem(Code.USAGE, "more discs than are treated in one session", "--disc", found=listed(found),
                                expected=f"at most {MAX_DISCS} (common practice)"))  # fmt: skip
    if problems:
        raise InputError(problems)
    return tuple(sorted(found))


def considered(case: Case) -> frozenset[str]:
    """The discs that the record is known to consider."""
    fact = case.facts.patient.get("discs_under_consideration")
    return fact.value.certain if fact is not None and isinstance(fact.value, Members) else frozenset()


def as_planned(case: Case, discs: tuple[str, ...], on: date) -> Case:
    """The case with these discs alone considered, and the procedure planned for a day; everything else as recorded."""
    only = frozenset(discs)
    at = Span(on.toordinal(), on.toordinal())
    patient = dict(case.facts.patient)
    for name, value in (("discs_under_consideration", Members(only, only)), ("planned_procedure_date", at)):
        told = patient.get(name)
        patient[name] = (
            replace(told, value=value, why=None) if told is not None else Fact(name, "patient", value)
        )
    return replace(case, facts=replace(case.facts, patient=patient))


def assessed_for(case: Case, rule_set: RuleSet, discs: tuple[str, ...], on: date) -> Assessment:
    """The assessment as of the day, for the planned discs alone."""
    return assess(as_planned(case, discs, on), rule_set, on)


def standings(found: Assessment, discs: tuple[str, ...]) -> dict[Standing, str]:
    """The standing of the case and of each planned disc with its name, the gravest first.

    A case may pass by one disc while another one that is planned with it does not.
    """
    named: dict[Standing, str] = {found.standing: found.outlook.name}
    for disc in found.discs:
        if disc.level in discs:
            named.setdefault(disc.decision.standing, f"{disc.level}: {found.outlook.discs[disc.level]}")
    return dict(sorted(named.items(), key=lambda each: STANDING_ORDER.index(each[0])))
