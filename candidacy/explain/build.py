"""From an assessment to its document. It rephrases and orders; it never evaluates."""

from collections.abc import Callable, Iterable, Mapping
from enum import Enum
from math import isinf
from operator import attrgetter
from typing import Any, NamedTuple

from msgspec.structs import asdict

from candidacy.assessment.assess import Assessment
from candidacy.assessment.evaluate import Trace
from candidacy.assessment.outlook import Outlook
from candidacy.assessment.results import CriterionResult, DiscResult
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.engine.decision import Decision
from candidacy.explain.ahead import mending_info, not_yet_info
from candidacy.explain.cautions import EMERGENCY, GENERAL, INVENTED
from candidacy.explain.cited import citation_info, keys_of, parameter_info, parameter_value, sources_of
from candidacy.explain.companions import companion_info, stop_sentences
from candidacy.explain.discs import next_step, which_disc_info
from candidacy.explain.document import (
    AssessmentDocument,
    CaseInfo,
    CriterionInfo,
    DiscInfo,
    FiredInfo,
    RemarkInfo,
    ReplacedInfo,
    RuleSetInfo,
    TestInfo,
)
from candidacy.explain.found import found_words, passing_words, shown_as
from candidacy.explain.hold_plan import holds_info
from candidacy.explain.holds_document import HoldsInfo
from candidacy.explain.missing_document import MissingInfo, asked_together, each_asked
from candidacy.explain.reason import because_words, grounds, reason
from candidacy.explain.record import conflict_info, disputed_facts, disputed_info, fact_info, unread_info
from candidacy.explain.trial import tried_info
from candidacy.explain.wording import code_words, condition_words, span_words, trace_words, value_words
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span
from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter, RuleSet
from candidacy.rules.sameness import sameness
from candidacy.rules.vocabulary import GROUPS


def build_document(assessment: Assessment) -> AssessmentDocument:
    """The complete document of an assessment."""
    rule_set, record = assessment.rule_set, assessment.case.record
    results = in_reading_order(assessment)
    facts = _facts_read(results)
    plan = assessment.holds
    used = {name for fact in facts for name in fact.settings} | set(plan.settings if plan else ())
    settings = [setting for name, setting in rule_set.settings.items() if name in used]
    holds = holds_info(plan, rule_set) if plan else None
    rule = next(r for r in rule_set.decisions.rules if r.id == assessment.decision.rule)
    ahead, fixed, words = assessment.outlook, _fixed_words(rule_set), _remembering(trace_words)
    cautions = [INVENTED] if record.invented else []
    if "urgent" in (
        assessment.standing,
        *(c.assessment.standing for c in assessment.companions if c.assessment),
    ):
        cautions.insert(0, EMERGENCY)
    return AssessmentDocument(
        schema_version="1",
        program=f"candidacy {assessment.version}",
        engine=assessment.engine,
        as_of=assessment.as_of.isoformat(),
        case=CaseInfo(
            id=record.id, title=record.title, invented=record.invented, digest=assessment.case.digest
        ),
        rule_set=RuleSetInfo(
            id=rule_set.id,
            version=rule_set.file.version,
            title=rule_set.file.title,
            status=rule_set.file.status,
            digest=rule_set.digest,
            scope=rule_set.file.scope,
            extends=rule_set.extended,
            replaced=[ReplacedInfo(**asdict(each)) for each in rule_set.replaced],
            trial=list(rule_set.trial),
            tried=tried_info(rule_set),
        ),
        standing=rule.standing,
        standing_name=ahead.name,
        shown=ahead.shown("patient", rule.standing),
        not_yet=not_yet_info(ahead.not_yet) if ahead.not_yet else None,
        decided_by=rule.id,
        grounds=grounds(assessment),
        reason=reason(assessment),
        next_step=next_step(assessment),
        stops=stop_sentences(assessment, assessment.companions),
        companions=[companion_info(companion) for companion in assessment.companions],
        conflicts=[conflict_info(fact) for fact in assessment.conflicts if not fact.disputed],
        disputed=[disputed_info(fact) for fact in disputed_facts(assessment, facts)],
        unread=[unread_info(unread) for unread in assessment.unread],
        remarks=[RemarkInfo.of(where=each.where, text=each.text) for each in assessment.case.facts.remarks],
        which_disc=which_disc_info(assessment.disc_choice, ahead),
        fired=_fired(assessment.decision, rule_set),
        discs=[
            DiscInfo(
                level=disc.level,
                considered=disc.considered.value,
                standing=disc.decision.standing,
                standing_name=ahead.discs[disc.level],
                shown=ahead.shown(disc.level, disc.decision.standing),
                decided_by=disc.decision.rule,
                fired=_fired(disc.decision, rule_set),
            )
            for disc in considered_first(assessment.discs)
        ],
        criteria=[_criterion(result, ahead, fixed[result.id].fields, words) for result in results],
        missing=_missing(assessment),
        facts=[fact_info(fact) for fact in facts],
        settings=[parameter_info(setting) for setting in settings],
        holds=holds,
        notices=list(assessment.notices),
        cautions=[*cautions, *GENERAL, *rule_set.file.cautions],
        sources=sources_of(
            _cited((fixed[result.id] for result in results), settings, holds)
            | {d.source for u in assessment.unread for d in u.dangers},
            rule_set,
        ),
    )


def _missing(assessment: Assessment) -> list[MissingInfo]:
    """Missing facts in their order, those that differ only in the entry of a list one after the other."""
    shelf = catalogue()
    rows = [
        MissingInfo.of(
            element=m.element,
            subject=m.subject,
            ask=m.ask,
            why=m.why.words,
            weight=m.weight,
            burden=m.burden,
            supplied_by=shelf[m.element].supplied_by if m.element in shelf else "referrer",
            force=m.force,
            criteria=list(m.criteria),
        )
        for m in assessment.missing
    ]
    return each_asked(asked_together(rows))


def in_reading_order(assessment: Assessment) -> list[CriterionResult]:
    """Results in the order in which a clinician thinks: by group, then as declared, then by disc, considered ones first."""
    groups = list(GROUPS)
    declared = {item.id: place for place, item in enumerate(assessment.rule_set.criteria)}
    levels = {disc.level: place for place, disc in enumerate(considered_first(assessment.discs))}
    return sorted(
        assessment.results,
        key=lambda r: (groups.index(r.resolved.criterion.group), declared[r.id], levels.get(r.subject, -1)),
    )


_FIRST = (Truth.MET, Truth.UNKNOWN, Truth.NOT_MET)


def considered_first(discs: Iterable[DiscResult]) -> list[DiscResult]:
    """Discs that are considered, then those that may be, then the others; within each from the top down."""
    return sorted(discs, key=lambda disc: _FIRST.index(disc.considered))


def _fired(decision: Decision, rule_set: RuleSet) -> list[FiredInfo]:
    means = {rule.id: rule.means for rule in rule_set.decisions.rules}
    return [FiredInfo(rule=f.rule, means=means[f.rule], because=list(f.because)) for f in decision.fired]


_Words = Callable[[Trace], str]


def _remembering(words: _Words) -> _Words:
    """The words of each node of what was read, put once: a node is shown as a test and again among the reasons."""
    said: dict[int, str] = {}

    def put(trace: Trace) -> str:
        # the nodes belong to the assessment, which outlives its document being built
        found = said.get(id(trace))
        if found is None:
            found = said[id(trace)] = words(trace)
        return found

    return put


class _Fixed(NamedTuple):
    """What a rule set says of a criterion whatever the case: every field of its part, and the sources it cites."""

    fields: Mapping[str, Any]
    cited: frozenset[str]


_said: dict[str, dict[str, _Fixed]] = {}
_KEPT = 16


def _fixed_words(rule_set: RuleSet) -> Mapping[str, _Fixed]:
    """What a rule set says of each criterion whatever the case, put once for each content."""
    found = _said.get(rule_set.digest)
    if found is None:
        found = {item.id: _fixed(item) for item in rule_set.criteria}
        if len(_said) >= _KEPT:
            _said.clear()
        _said[rule_set.digest] = found
    return found


_LISTS = ("parameters", "cites", "cautions")


def _fixed(item: ResolvedCriterion) -> _Fixed:
    criterion = item.criterion
    said = {
        "id": criterion.id,
        "version": criterion.version,
        "title": criterion.title,
        "group": criterion.group,
        "kind": criterion.kind,
        "force": item.force,
        "force_reason": item.force_change.reason if item.force_change else criterion.force_reason,
        "status": criterion.status,
        "passing": passing_words(criterion),
        "supports": criterion.supports,
        "rule": rule_sentence(item),
        "replaces": replaced_words(item),
        "sameness": sameness(item),
        "parameters": [parameter_info(p) for p in item.parameters.values()],
        "cites": [citation_info(c) for c in criterion.cites],
        "why": criterion.why.strip(),
        "spread": criterion.spread,
        "act": criterion.act,
        "ask_for": criterion.ask_for,
        "cautions": list(criterion.cautions),
    }
    cited = {c.source for c in criterion.cites} | keys_of(item.parameters.values())
    return _Fixed({name: said.get(name) for name in CriterionInfo.model_fields}, frozenset(cited))


def _criterion(
    result: CriterionResult, ahead: Outlook, fixed: Mapping[str, Any], words: _Words
) -> CriterionInfo:
    evaluation = result.evaluation
    mending = ahead.mendings.get((result.id, result.subject))
    said = dict(fixed)  # it has the fields in their order; no list is shared between documents
    for name in _LISTS:
        said[name] = fixed[name].copy()
    said["subject"] = evaluation.subject
    said["outcome"] = evaluation.outcome
    said["condition"] = _word(evaluation.truth)
    said["applies"] = _word(evaluation.applies)
    said["found"] = found_words(result)
    said["shown"] = shown_as(result)
    said["mendable"] = mending_info(mending) if mending else None
    said["because"] = because_words(result, words)
    said["tests"] = _test(evaluation.trace, words)
    said["applies_tests"] = _test(evaluation.applies_trace, words) if evaluation.applies_trace else None
    return CriterionInfo.of(**said)


def rule_sentence(item: ResolvedCriterion) -> str:
    """The rule as one sentence, with the parameters in use; and another one where it replaces a shipped criterion."""
    criterion = item.criterion
    verb = "Passes when" if criterion.kind == "inclusion" else "Fails when"
    sentence = f"{verb} {condition_words(item.when)}"
    if item.applies_when is not None:
        sentence += f"; applies only when {condition_words(item.applies_when)}"
    if criterion.recency is not None:
        limit = item.parameters[criterion.recency.max_age.parameter]
        sentence += f"; facts older than {parameter_value(limit)} count as unknown"
        if item.danger_stands:
            sentence += ", except a sign of the emergency, which acts however old it is"
    return " ".join(filter(None, (sentence + ".", replaced_words(item))))


def replaced_words(item: ResolvedCriterion) -> str:
    """Of a criterion of one's own in the place of a shipped one: which, and why."""
    replaces = item.criterion.replaces
    if replaces is None:
        return ""
    return f"Replaces {item.id} {replaces.version} of the shipped library: {replaces.reason.strip().rstrip('.')}."


def _test(trace: Trace, words: _Words) -> TestInfo:
    kind, fact, age, value, margin = trace.kind, trace.fact, trace.age, "", None
    if kind == "test" and fact is not None:
        element = catalogue().get(trace.element)
        written = fact.provenance.as_written
        value = value_words(fact.value, element, trace.limits, written) if element is not None else ""
        margin = trace.margin if isinstance(fact.value, Span) else None
    elif kind == "elapsed" and trace.tally is not None:
        value = span_words(trace.tally, trace.unit)
        margin = trace.margin
    return TestInfo.of(
        kind=kind,
        truth=_word(trace.truth),
        subject=trace.subject,
        element=trace.element,
        op=trace.op,
        limits=[code_words(limit) for limit in trace.limits] if trace.limits else [],
        parameters=list(trace.parameters),
        unit=trace.unit,
        value=value,
        why=None if trace.why is None else _word(trace.why),
        margin=[None if isinf(m) else m for m in margin] if margin else None,
        age_days=[age.low, age.high] if age else None,
        words=words(trace),
        parts=[_test(part, words) for part in trace.parts] if trace.parts else [],
    )


# the value of a member of an enumeration, without the descriptor before it, which takes ten times as long
_word: Callable[[Enum], str] = attrgetter("_value_")


def _facts_read(results: Iterable[CriterionResult]) -> list[Fact]:
    """Every fact that was read, once, in a fixed order; derived ones bring what they were worked out from."""
    found: dict[tuple[str, str], Fact] = {}

    def take(fact: Fact) -> None:
        if (fact.element, fact.subject) not in found and fact.element != "disc_standing":
            found[fact.element, fact.subject] = fact
            for part in (*fact.derived_from, *((fact.told_again,) if fact.told_again else ())):
                take(part)

    def visit(trace: Trace) -> None:
        if trace.fact is not None:
            take(trace.fact)
        for part in trace.parts:
            visit(part)

    for result in results:
        visit(result.evaluation.trace)
        if result.evaluation.applies_trace is not None:
            visit(result.evaluation.applies_trace)
    return sorted(found.values(), key=lambda f: (catalogue().place(f.element), f.subject))


def _cited(
    criteria: Iterable[_Fixed], settings: Iterable[ResolvedParameter], holds: HoldsInfo | None
) -> set[str]:
    """Keys of every source that is cited."""
    keys = keys_of(settings).union(*(fixed.cited for fixed in criteria))
    return keys | {c.source for medicine in (holds.medicines if holds else ()) for c in medicine.cites}
