"""What a discography before the injection would have to hold: discs, controls, limits with sources, questions, a form to fill."""

from collections.abc import Iterator
from datetime import date, timedelta

from candidacy.case.catalogue import catalogue
from candidacy.case.element import STANDARD_LEVELS
from candidacy.derive.anaesthetic import dosing_weight, limit_mg, volume_ml
from candidacy.derive.base import Inputs
from candidacy.explain.cited import cites_words
from candidacy.explain.wording import code_words, listed, span_words, value_words
from candidacy.foundation import dates
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Members, Options, Span, number_words, truth_of
from candidacy.plan.content import Rules
from candidacy.plan.document import DiscographyInfo
from candidacy.plan.ground import Ground
from candidacy.plan.obstacles import wait_after_discography
from candidacy.rules.resolved import ResolvedParameter

_TOLD_OF_A_CONTROL = ("modified_pfirrmann_grade", "pfirrmann_grade", "annular_fissure", "displacement")


def discography_info(ground: Ground, rules: Rules) -> DiscographyInfo:
    """The part of a plan about discography, as of the day of the plan."""
    view = ground.today.view
    patient = Inputs(view, "patient")
    done = truth_of(view.fact("discography_done", "patient").value) is Truth.MET
    considered = view.fact("discs_under_consideration", "patient").value
    discs = sorted(considered.certain) if isinstance(considered, Members) else []
    controls = _controls(discs)
    wait, cites = wait_after_discography(ground, rules)
    latest = ground.on - timedelta(wait)
    says = []
    if done:
        day = patient.span("discography_date")
        says.append(rules.word("d_done", day=dates.words(day) if day is not None else "?"))
    says.append(
        rules.word("d_considered", discs=listed(discs)) if discs else rules.word("d_considered_unknown")
    )
    if discs:
        told = [_told(patient, level) for level in controls]
        says.append(
            rules.word("d_controls", discs=listed(told, "or")) if controls else rules.word("d_no_controls")
        )
    says += _limits(ground, rules)
    says += _anaesthetics(ground, patient, rules)
    says += _antibiotic(patient, rules)
    says += [rules.word("d_wait", wait=wait, cites=cites), rules.word("d_form")]
    return DiscographyInfo(done=done, discs=discs, controls=controls, says=says, latest="" if done else latest.isoformat(),
                           form="" if done else form(rules, discs, controls, None))  # fmt: skip


def form(rules: Rules, discs: list[str], controls: list[str], on: date | None) -> str:
    """The form: a note with gaps, which ``candidacy read`` reads once it is filled in."""
    head = rules.file.words["form_head"].format(date=on.isoformat() if on else "____")
    parts = [
        rules.file.words["form_disc"].format(level=level)
        for level in STANDARD_LEVELS
        if level in {*discs, *controls}
    ]
    return "\n".join([head, *parts]) + "\n"


def _controls(discs: list[str]) -> list[str]:
    """Neighbours of the considered discs that are not considered themselves; a physician chooses among them."""
    places = [STANDARD_LEVELS.index(level) for level in discs if level in STANDARD_LEVELS]
    near = {place + step for place in places for step in (-1, 1)} - set(places)
    return [level for place, level in enumerate(STANDARD_LEVELS) if place in near]


def _told(patient: Inputs, level: str) -> str:
    aside = patient.apart(level)
    known = []
    for name in _TOLD_OF_A_CONTROL:
        fact, element = aside.fact(name), catalogue()[name]
        if fact.value is not None:
            known.append(
                f"{element.label} {value_words(fact.value, element, written=fact.provenance.as_written)}"
            )
    return f"{level} ({'; '.join(known) if known else 'nothing recorded'})"


def _limits(ground: Ground, rules: Rules) -> Iterator[str]:
    for criterion, parameter, word, field in (("discography_pressure_ceiling", "ceiling", "d_ceiling", "pressure"),
                                              ("discography_volume_limit", "volume_limit", "d_volume", "volume")):  # fmt: skip
        found = _parameter(ground, criterion, parameter)
        if found is not None:
            yield rules.word(word, **{field: f"{found.value} {found.unit}"}, cites=cites_words(found.cites))


def _parameter(ground: Ground, criterion: str, parameter: str) -> ResolvedParameter | None:
    """A parameter of the rule set, or of the first of its companions that has it."""
    sets = [ground.rule_set]
    if ground.rule_set.library is not None:
        sets += [ground.rule_set.library(companion.id) for companion in ground.rule_set.companions]
    for each in sets:
        try:
            return each.criterion(criterion).parameters[parameter]
        except KeyError:
            continue
    return None


def _anaesthetics(ground: Ground, patient: Inputs, rules: Rules) -> Iterator[str]:
    """The highest dose of each agent that is planned, or of all in the table, for the weight on record; and the load of a plan."""
    weight = dosing_weight(patient)
    if weight is None:
        yield rules.word("d_weight_unknown")
        return
    planned = patient.members("planned_local_anaesthetics")
    column = patient.setting("local_anaesthetic_limit")
    table = ground.rule_set.tables.table("local_anaesthetic_limits")
    wanted = set(planned.certain) if planned is not None and planned.certain else {"lidocaine", "bupivacaine"}
    for row in table.rows:
        agent = str(row.values["agent"])
        if agent not in wanted:
            continue
        limit = limit_mg(row.values, column, weight)
        said = "with epinephrine" if row.values["epinephrine"] else "without epinephrine"
        strength = patient.span(f"planned_{agent}_strength")
        # without a planned strength the two that are easily reckoned with
        percents = (strength.high,) if strength is not None and strength.bounded else (1, 2)
        volumes = [
            rules.word(
                "d_limit_volume", volume=number_words(_down(volume_ml(limit.low, p))), percent=f"{p:g}"
            )
            for p in percents
        ]
        yield rules.word("d_limit", agent=agent, epinephrine=said, mg=number_words(_down(limit.low)),
                         weight=span_words(Span(round(weight.low, 1), round(weight.high, 1)), "kg"), cites=cites_words(row.cites)) + (f" {'; '.join(volumes)}." if volumes else "")  # fmt: skip
    load = patient.span("local_anaesthetic_load")
    if load is not None:
        yield rules.word("d_load", load=span_words(load))


def _down(number: float) -> float:
    """Rounded down to a tenth, so that no limit is passed by rounding."""
    return int(round(number * 10, 6)) / 10


def _antibiotic(patient: Inputs, rules: Rules) -> Iterator[str]:
    planned = patient.value("planned_antibiotic")
    if isinstance(planned, Options) and planned.exact:
        yield rules.word("d_antibiotic", planned=code_words(next(iter(planned.codes))))
    else:
        yield rules.word("d_antibiotic_unknown")
    allergy = patient.truth("antibiotic_allergy")
    yield rules.word(
        "d_allergy", allergy={Truth.MET: "yes", Truth.NOT_MET: "no", Truth.UNKNOWN: "not known: ask"}[allergy]
    )
