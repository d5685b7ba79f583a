"""What the record says beside a line, in words: criteria as of the day, values, and the last doses of medicines."""

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

from candidacy.assessment.assess import Assessment
from candidacy.assessment.results import CriterionResult
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.day.checklist import ChecklistLine, Saying, SheetWords
from candidacy.day.other_discs import OtherDiscs
from candidacy.explain.found import found_words
from candidacy.explain.hold_plan import hold_title, holds_info
from candidacy.explain.holds_document import HoldInfo
from candidacy.explain.reason import because_words
from candidacy.explain.record import fact_info, value_words
from candidacy.explain.wording import deciding, subject_words
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options

State = Literal["stop", "wait", "open", "recorded", "asked"]
# What stands at the head of the sheet already.
_OF_THE_SHEET = ("planned_procedure_date", "discs_under_consideration")
_ORDER: tuple[State, ...] = ("stop", "wait", "open", "recorded", "asked")


class Said(NamedTuple):
    """Something that the record says, and what follows for the line."""

    state: State
    text: str

    @staticmethod
    def failing(result: CriterionResult, others: OtherDiscs, state: State = "stop") -> "Said":
        """A criterion that fails: what was found, by which values, and where these stand."""
        values = [others.kept(words) for words in _deciding_values(result)]
        subject = "" if result.subject == "patient" else f"{subject_words(result.subject)}: "
        found = others.kept(f"{subject}{found_words(result)}")
        return Said(state, found + (f" ({'; '.join(values)})" if values else ""))


def worst(said: Iterable[Said]) -> State:
    """The gravest of what was said; ``asked`` where nothing was."""
    return min((each.state for each in said), key=_ORDER.index, default="asked")


def said_beside(
    line: ChecklistLine,
    words: SheetWords,
    assessments: Sequence[Assessment],
    discs: tuple[str, ...],
    others: OtherDiscs,
) -> list[Said]:
    """What the record says beside a line, the gravest first.

    Parameters
    ----------
    assessments
        The case as of the day under each rule set in use; where several read a criterion, the gravest outcome is told.
    discs
        The discs that the line speaks of.
    """
    subjects = ("patient", *discs)
    found: dict[tuple[str, str], Said] = {}
    for assessment in assessments:
        for result in assessment.results:
            key = (result.id, result.subject)
            if result.id in line.criteria and result.subject in subjects:
                said = _criterion(line, result, others)
                if said is not None and (key not in found or worst((said, found[key])) != found[key].state):
                    found[key] = said
    asked = dict.fromkeys(said.text for said in found.values() if said.state == "open")
    told = [said for said in found.values() if said.state != "open"]
    told += [Said("open", f"{words.open}: {'; '.join(asked)}")] if asked else []
    told += _sayings(line.says, words, assessments[0], others)
    told += [
        said
        for element in line.shows
        for said in _values(element, words, assessments[0], subjects, others)
        # what is open has been asked for already, and what fails has been told with its values
        if not (said.state == "asked" and asked) and not any(said.text in each.text for each in told)
    ]
    return sorted(told, key=lambda said: _ORDER.index(said.state))


def _criterion(line: ChecklistLine, result: CriterionResult, others: OtherDiscs) -> Said | None:
    """What a criterion says: nothing where it does not apply, and no words where it passes."""
    advisory = result.resolved.force == "advisory"
    if result.evaluation.applies is Truth.NOT_MET:
        return None
    if result.outcome == "fail":
        if advisory:
            return Said.failing(result, others, "recorded")
        grave = result.resolved.force in ("stop", "absolute") and line.no.word == "stop"
        return Said.failing(result, others, "stop" if grave else "wait")
    if result.outcome == "undetermined":
        if advisory:
            return None
        criterion = result.resolved.criterion
        return Said("open", others.kept(_lower(criterion.ask_for or criterion.title)))
    return Said("recorded", "")


def _sayings(
    says: Iterable[Saying], words: SheetWords, assessment: Assessment, others: OtherDiscs
) -> list[Said]:
    found = []
    for saying in says:
        fact = assessment.view.fact(saying.element, "patient")
        if saying.is_ in _marks(fact):
            text = saying.words.format(value=_value(fact, words))
            found.append(Said("open" if saying.open else "recorded", others.kept(text)))
    return found


def _marks(fact: Fact) -> set[str]:
    """What a fact may be asked for: whether it is known, and its code where it is settled."""
    if fact.value is None:
        return {"unknown"}
    if isinstance(fact.value, Options):
        if not fact.value.exact:
            return {"unknown"}
        return {"known", *(_code(code) for code in fact.value.codes)}
    return {"known"}


def _code(code: object) -> str:
    return str(code).lower() if isinstance(code, bool) else str(code)


def _values(
    element: str, words: SheetWords, assessment: Assessment, subjects: Sequence[str], others: OtherDiscs
) -> list[Said]:
    scope = catalogue()[element].scope
    found = []
    for subject in subjects if scope == "disc" else ("patient",):
        if scope == "disc" and subject == "patient":
            continue
        fact = assessment.view.fact(element, subject)
        info = fact_info(fact)
        if not info.known:
            found.append(Said("asked", others.kept(f"{_upper(info.label)}: {words.not_recorded}")))
            continue
        found.append(Said("recorded", others.kept(_with_source(fact))))
    return found


def _value(fact: Fact, words: SheetWords) -> str:
    info = fact_info(fact)
    if not info.known:
        return words.not_recorded
    choices = catalogue()[fact.element].choices or {}
    if isinstance(fact.value, Options) and fact.value.exact:
        return choices.get(_code(next(iter(fact.value.codes))), info.value)
    return info.value


def _deciding_values(result: CriterionResult) -> list[str]:
    """The values by which a criterion came out, with kind and day of their documents; else the test in words."""
    found: dict[str, dict[str, None]] = {}
    for trace in deciding(result.evaluation.trace):
        for fact in [trace.fact, *(part.fact for part in trace.parts if trace.kind == "elapsed")]:
            if fact is not None and fact.value is not None and fact.element not in _OF_THE_SHEET:
                found.setdefault(_sources(fact), {})[_of_value(fact)] = None
    named = [", ".join(filter(None, ("; ".join(values), where))) for where, values in found.items()]
    return named or because_words(result)


def _of_value(fact: Fact) -> str:
    info = fact_info(fact)
    return f"{_upper(info.label)}: {value_words(info)}"


def _with_source(fact: Fact) -> str:
    return ", ".join(filter(None, (_of_value(fact), _sources(fact))))


def _sources(fact: Fact) -> str:
    """Kind and day of the document of a value; of one that was worked out, those of what it was worked out from."""
    where: dict[str, None] = {}
    for each in _stated(fact):
        p = each.provenance
        words = " ".join(filter(None, (p.kind.replace("_", " ") or p.document or p.recorded_by, p.day_words)))
        where |= {words: None} if words else {}
    return ", ".join(where)


def _stated(fact: Fact) -> list[Fact]:
    """A fact, or where it was worked out the stated facts below it."""
    below = [part for each in fact.derived_from for part in _stated(each)]
    return below or [fact]


# --- medicines


def medicines_beside(words: SheetWords, safety: Assessment, others: OtherDiscs) -> list[Said]:
    """The medicines that have an interval, each with its last dose and room for the hour; and whether the list is whole."""
    plan = safety.holds
    if plan is None:
        return []
    info = holds_info(plan, safety.rule_set)
    rows = [_medicine(each, words, others) for each in info.medicines if _asked(each)]
    found = rows or [Said("recorded", words.no_medicine)]
    return [*found, *([] if info.list_complete else [Said("open", words.list_open)])]


def _asked(medicine: HoldInfo) -> bool:
    """Whether its last dose matters: it has an interval, it may have one, or it was stopped unagreed."""
    return bool(medicine.intervals or medicine.alarm) or medicine.ready != "met"


def _medicine(medicine: HoldInfo, words: SheetWords, others: OtherDiscs) -> Said:
    ready = medicine.ready
    text = words.medicine.format(
        name=hold_title(medicine),
        last=medicine.last_dose or words.not_recorded,
        by=medicine.last_dose_by or "?",
        until=medicine.hold_until or medicine.no_date_because or "?",
        ready=words.ready[ready],
    )
    more = "; ".join(filter(None, (medicine.alarm, medicine.goes_on)))
    state: State = (
        "wait" if ready == "not_met" or medicine.alarm else "open" if ready != "met" else "recorded"
    )
    return Said(state, others.kept(text + (f" {_upper(more)}." if more else "")))


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:] if text[1:2].islower() else text
