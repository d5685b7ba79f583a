"""Why a standing is what it is, in two sentences."""

from collections.abc import Callable, Iterable, Sequence
from datetime import date

from candidacy.assessment.assess import Assessment
from candidacy.assessment.evaluate import Trace
from candidacy.assessment.missing import open_leaves
from candidacy.assessment.record_grounds import ground_name
from candidacy.assessment.results import CriterionResult, DiscResult, UnreadFact
from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import is_doubtful
from candidacy.case.facts import Fact
from candidacy.explain.ahead import not_yet_words
from candidacy.explain.discs import next_step
from candidacy.explain.found import found_words, in_sentence
from candidacy.explain.trial import trial_clause, tried_info
from candidacy.explain.wording import (
    MAX_NAMED,
    capped,
    deciding,
    listed,
    subject_words,
    trace_words,
    value_words,
)
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Why
from candidacy.rules.tree import elements_of


def because_words(result: CriterionResult, words: Callable[[Trace], str] = trace_words) -> list[str]:
    """What made a criterion come out as it did, one phrase for each deciding test."""
    evaluation = result.evaluation
    if (
        evaluation.outcome == "pass"
        and evaluation.applies is Truth.NOT_MET
        and evaluation.applies_trace is not None
    ):
        return ["Does not apply: " + "; ".join(words(t) for t in deciding(evaluation.applies_trace))]
    said = [words(t) for t in deciding(evaluation.trace)]
    if (
        evaluation.outcome == "undetermined"
        and evaluation.applies is Truth.UNKNOWN
        and evaluation.applies_trace is not None
    ):
        said += ["whether it applies: " + words(t) for t in deciding(evaluation.applies_trace)]
    return list(dict.fromkeys(said))


def reason(assessment: Assessment) -> list[str]:
    """Two plain pieces: why this standing, and what comes next."""
    ahead = assessment.outlook
    begun = opening([(ahead.name, assessment.rule_set.file.title)], assessment.as_of)
    clause = trial_clause(tried_info(assessment.rule_set))
    begun += f", {clause}" if clause else ""
    wait = f"{not_yet_words(ahead.not_yet)} " if ahead.not_yet else ""
    return [f"{begun}: {cause(assessment)}.", wait + _next(assessment, next_step(assessment))]


def opening(standings: Sequence[tuple[str, str]], as_of: date) -> str:
    """Which standing under which rule set, and on which day; several standings in one sentence."""
    words = [
        f"{name if not place else in_sentence(name)} under {title}"
        for place, (name, title) in enumerate(standings)
    ]
    return f"{listed(words)} as of {as_of.isoformat()}"


def cause(assessment: Assessment) -> str:
    """What the deciding rule rests on, as part of a sentence; a contradiction of the record is always named."""
    names, named = _named(assessment)
    # a contradiction of the record is settled before anything else is asked
    phrases = _record_phrases(assessment, names) + _case_phrases(assessment, names, named)
    if assessment.standing == "incomplete" and len(named) > MAX_NAMED:
        titles = [f"“{in_sentence(r.resolved.criterion.title)}”" for r in named[:2]]
        waits = f"{len(named)} criteria that can decide wait for facts, among them {listed(titles)}"
        return "; ".join([*_contradictions(assessment, waits), waits])
    if phrases:
        said = capped(phrases)
        besides = _contradictions(assessment, said) if assessment.standing == "incomplete" else []
        return "; ".join([*besides, said])
    return _nothing_against(assessment)


def grounds(assessment: Assessment) -> list[str]:
    """Each thing that the deciding rule rests on, as a part of a sentence, none left out."""
    names, named = _named(assessment)
    told = _told(assessment)
    found = [told[name] for name in names if name in told]
    if assessment.standing == "incomplete":
        found = _loose_contradictions(assessment, "; ".join(found)) + found
    found += _case_phrases(assessment, names, named)
    return [phrase for phrase in found if phrase] or [_nothing_against(assessment)]


def _named(assessment: Assessment) -> tuple[tuple[str, ...], list[CriterionResult]]:
    """Names of the grounds, and the criteria of the patient among them in that order."""
    fired = next(f for f in assessment.decision.fired if f.rule == assessment.decision.rule)
    named = [r for r in assessment.of_subject("patient") if r.id in fired.because]
    return tuple(fired.because), sorted(named, key=lambda r: fired.because.index(r.id))


def _case_phrases(
    assessment: Assessment, names: Sequence[str], named: Sequence[CriterionResult]
) -> list[str]:
    discs = [d for d in assessment.discs if d.level in names and d.level not in {r.id for r in named}]
    return [_phrase(assessment, r) for r in named] + [_disc_phrase(assessment, disc) for disc in discs]


def _nothing_against(assessment: Assessment) -> str:
    treated = [
        d.level for d in assessment.discs if d.considered is Truth.MET and d.decision.standing == "candidate"
    ]
    discs = f" (discs that pass: {capped(treated, 5)})" if treated else ""
    return f"every deciding criterion passes{discs}"


def _told(assessment: Assessment) -> dict[str, str]:
    """Facts of the record that are grounds by themselves, by the name of the ground, each in words."""
    found = {ground_name(u.fact): _unread_words(u) for u in assessment.unread if u.dangers}
    return found | {ground_name(fact): _contradiction(fact) for fact in assessment.conflicts}


def _record_phrases(assessment: Assessment, because: Iterable[str]) -> list[str]:
    told = _told(assessment)
    found = [told[name] for name in because if name in told]
    return [_apart(found)] if found else []


def _apart(said: list[str]) -> str:
    """Phrases that are half sentences themselves, kept apart by more than a comma."""
    more = [f"{len(said) - MAX_NAMED} more"] if len(said) > MAX_NAMED else []
    return "; ".join([*said[:MAX_NAMED], *more])


def _contradictions(assessment: Assessment, said: str) -> list[str]:
    """Contradictions that leave the case open and are not yet said, as one phrase."""
    found = _loose_contradictions(assessment, said)
    return [_apart(found)] if found else []


def _loose_contradictions(assessment: Assessment, said: str) -> list[str]:
    """Contradictions that leave the case open and are not yet said; those of discs that are not considered apart."""
    apart = {disc.level for disc in assessment.discs if disc.considered is Truth.NOT_MET}
    return [
        _contradiction(fact)
        for fact in assessment.conflicts
        if fact.value is None
        and fact.subject not in apart
        and not (fact.note and in_sentence(fact.note) in said)
    ]


def _contradiction(fact: Fact) -> str:
    """What contradicts what; a sign that stands in spite of a denial says so too."""
    label = catalogue()[fact.element].label
    of = "" if fact.subject == "patient" else f"{subject_words(fact.subject)}: "
    if is_doubtful(fact):
        return in_sentence(fact.note)
    return of + in_sentence(fact.note or f"the sources of {label} conflict")


def _unread_words(unread: UnreadFact) -> str:
    fact = unread.fact
    element = catalogue()[fact.element]
    of = "" if fact.subject == "patient" else f" of {subject_words(fact.subject)}"
    value = value_words(fact.value, element, written=fact.provenance.as_written)
    return f"{in_sentence(element.label)}{of} ({value}) is on record, and no deciding criterion reads it"


def _phrase(assessment: Assessment, result: CriterionResult) -> str:
    title, open_ = in_sentence(result.resolved.criterion.title), result.outcome == "undetermined"
    found = f"“{title}” waits" if open_ else in_sentence(found_words(result))
    if "disc_standing" in elements_of(result.resolved.when):
        discs = [
            _disc_phrase(assessment, disc)
            for disc in assessment.discs
            if disc.considered is not Truth.NOT_MET and disc.decision.standing != "candidate"
        ]
        detail = "; ".join(d for d in discs if d) or "; ".join(because_words(result)[:1])
        return f"{found} ({detail})"
    if open_:
        return f"“{title}” waits for {capped(_waited_for(result), 2)}"
    return f"{found} ({'; '.join(because_words(result)[:2])})"


def _waited_for(result: CriterionResult) -> list[str]:
    """What an undetermined criterion waits for, each with the reason why it is not known."""
    traces = [result.evaluation.trace]
    if result.evaluation.applies_trace is not None:
        traces.append(result.evaluation.applies_trace)
    found: dict[str, None] = {}
    for leaf in (leaf for trace in traces for leaf in open_leaves(trace)):
        element = catalogue().get(leaf.element)
        told = leaf.fact.note if leaf.why is Why.CONFLICTING and leaf.fact is not None else ""
        why = f" ({leaf.why.words}{f': {in_sentence(told)}' if told else ''})" if leaf.why else ""
        found[f"{element.label if element else 'the list of ' + leaf.element.replace('_', ' ')}{why}"] = None
    return list(found) or ["facts of its discs"]


def _disc_phrase(assessment: Assessment, disc: DiscResult) -> str:
    """Why a disc stands where it stands: the criteria that its deciding rule names."""
    fired = next(f for f in disc.decision.fired if f.rule == disc.decision.rule)
    told = _record_phrases(assessment, fired.because)
    if told:
        return "; ".join(told)
    results = [r for r in assessment.of_subject(disc.level) if r.id in fired.because]
    if disc.decision.standing == "incomplete":
        titles = [f"“{in_sentence(r.resolved.criterion.title)}”" for r in results]
        return f"{disc.level} waits for {capped(titles, 2)}" if titles else ""
    phrases = [in_sentence(found_words(r)) for r in results]
    return f"{disc.level}: {capped(phrases, 2)}" if phrases else ""


def _next(assessment: Assessment, step: str) -> str:
    asks = [
        in_sentence(m.ask) + ("" if m.subject == "patient" else f" ({subject_words(m.subject)})")
        for m in assessment.missing
        if m.weight == "alone"
    ]
    if assessment.standing == "incomplete" and asks:
        return f"{step.rstrip('.')}: {_apart(asks)}."
    stops = [in_sentence(m.ask) for m in assessment.missing if m.force == "stop"]
    if assessment.standing != "urgent" and stops:
        return f"{step.rstrip('.')} (still asked: {capped(stops)})."
    if assessment.standing == "urgent":
        acts = [
            r.resolved.criterion.act
            for r in assessment.results
            if r.outcome == "fail" and r.resolved.force == "stop"
        ]
        return f"{step.rstrip('.')}: {' '.join(dict.fromkeys(acts))}"
    return step
