"""What to ask the author of a report: the few facts that can still change the standing, and that the text lacks."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from functools import cache
from typing import NamedTuple

from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.evaluate import Trace
from candidacy.case.catalogue import catalogue
from candidacy.case.edit import empty_record, facts_of, with_document, with_fact
from candidacy.case.element import STANDARD_LEVELS
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.foundation.errors import CaseError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Why
from candidacy.reading.data_files import rows_of
from candidacy.reading.elements import ReadFact, facts
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import POSSIBLE, PRESENT, Reading
from candidacy.rules.resolved import RuleSet

_KEY = "report_read"
_PATIENT = "patient"
_CONSIDERED = "discs_under_consideration"
_DATED = (Why.OUT_OF_DATE, Why.UNDATED)


class Passage(NamedTuple):
    """Words of the report that gave no certain fact, and the discs they speak of (none: not told)."""

    words: str
    discs: tuple[str, ...]


class Told(NamedTuple):
    """What a report told, for the question what else to ask: its facts, what stayed open, and the kind of study."""

    facts: tuple[ReadFact, ...]
    open: tuple[Passage, ...]
    study: str
    abnormal: tuple[str, ...]


class Wanted(NamedTuple):
    """One thing to ask, for one or several discs or for the study, with the facts that it settles.

    ``words`` are those of the report that may tell it already; there are none where it is asked.
    """

    elements: tuple[str, ...]
    ask: str
    subjects: tuple[str, ...]
    words: str


class Request(NamedTuple):
    """What to ask, at most eight things; what the report may tell already, for a person to read; what study it is.

    ``more`` counts what was left off, for the eight weigh more.
    """

    items: tuple[Wanted, ...]
    told_already: tuple[Wanted, ...]
    more: int
    study: str


def told(reading: Reading, day: str = "", status: str = "") -> Told:
    """Give what an imaging report told."""
    denied = ("none", "absent")
    abnormal = {f.disc for f in reading.findings if f.status in (PRESENT, POSSIBLE) and f.value not in denied}
    of_statement: dict[int, list[str]] = {}
    for f in reading.findings:
        if f.disc:
            of_statement.setdefault(f.statement, []).append(f.disc)
    passages = [
        Passage(reading.words(a.span), tuple(dict.fromkeys(of_statement.get(a.statement, ()))))
        for a in reading.ledger
        if a.missed
    ]
    passages += [
        Passage(reading.words(f.quoted), (f.disc,) if f.disc else ())
        for f in reading.findings
        if f.status == POSSIBLE or not (f.disc or f.placed == "report")
    ]
    modality = {str(f.value) for f in reading.findings if f.kind == "imaging_modality"} & set(_asks().studies)
    study = modality.pop() if len(modality) == 1 else "mri"
    discs = tuple(d for d in STANDARD_LEVELS if d in abnormal)
    return Told(facts(reading, _KEY, day, status), tuple(passages), study, discs or STANDARD_LEVELS)


def request(
    reading: Reading | Told,
    rule_set: RuleSet,
    as_of: date,
    discs: tuple[str, ...] = (),
    day: str = "",
    status: str = "",
    case: CaseRecord | None = None,
) -> Request:
    """Give what to ask the author of a report, the weightiest first.

    Parameters
    ----------
    reading
        The reading of an imaging report, or what another kind of report told.
    discs
        The discs considered; left out, those of the case record, else those the report calls abnormal.
    case
        The case record the report belongs to: only what can still change its standing is asked. Left out, the
        report alone is assessed.
    """
    known = told(reading, day, status) if isinstance(reading, Reading) else reading
    record = _record(known, discs, day, case)
    considered = _considered(record)
    assessment = assess(case_from_record(record, "report"), rule_set, as_of, "direct")
    gathered = _Gathered(record, known)
    for element, subject, why in _open(assessment):
        if subject == _PATIENT or subject in considered:
            gathered.add(element, subject, why)
    return gathered.request()


def _record(known: Told, discs: tuple[str, ...], day: str, case: CaseRecord | None) -> CaseRecord:
    """Give the record with what the report told; what the record knows already stays."""
    record = case if case is not None else empty_record("report")
    if _KEY not in record.documents:
        record = with_document(record, _KEY, Document(kind="imaging_report", date=day or None))
    levels = {d for d in (*(f.subject for f in known.facts), *discs) if d != _PATIENT}
    if case is None:
        levels.update(STANDARD_LEVELS)
    empty: dict[str, dict[str, FactEntry]] = {level: {} for level in sorted(levels - set(record.discs))}
    record = record.model_copy(update={"discs": {**record.discs, **empty}})
    for fact in known.facts:
        old = facts_of(record, fact.subject).get(fact.element)
        if old is None or old.unknown is not None:
            more = with_fact(record, fact.subject, fact.element, fact.entry)
            record = more if case is None or _fits(more) else record
    if discs or not _considered(record):
        record = with_fact(record, _PATIENT, _CONSIDERED, FactEntry(value=discs or known.abnormal))
    return record


def _fits(record: CaseRecord) -> bool:
    """Say whether a record can hold a fact beside its own: two scales for one disc, for one, cannot stand together."""
    try:
        case_from_record(record, "report")
    except CaseError:
        return False
    return True


def _considered(record: CaseRecord) -> tuple[str, ...]:
    entry = facts_of(record, _PATIENT).get(_CONSIDERED)
    named = (entry.value if isinstance(entry.value, tuple) else entry.includes or ()) if entry else ()
    return tuple(str(d) for d in named)


def _open(assessment: Assessment) -> Iterator[tuple[str, str, Why | None]]:
    """Give the facts that can change the standing: those a criterion fails for want of, then those that decide."""
    for result in assessment.results:
        if result.outcome == "fail" and result.resolved.force != "advisory":
            for leaf in _leaves(result.evaluation.trace):
                if leaf.op == "known" and leaf.truth is Truth.NOT_MET:
                    yield leaf.element, result.subject, leaf.why
    for missing in assessment.missing:
        if missing.weight != "no":
            yield missing.element, missing.subject, missing.why


def _leaves(trace: Trace) -> Iterator[Trace]:
    if not trace.parts:
        yield trace
    for part in trace.parts:
        yield from _leaves(part)


class _Question(NamedTuple):
    """One row of the data file; ``place`` is its rank."""

    of: tuple[str, ...]
    ask: str
    by: str
    words: tuple[tuple[str, ...], ...]
    place: int


class _Asks(NamedTuple):
    most: int
    studies: Mapping[str, Mapping[str, str]]
    answers: Mapping[str, Sequence[str]]
    of: Mapping[str, _Question]


@cache
def _asks() -> _Asks:
    data, lex = rows_of("asks"), lexicon()
    of: dict[str, _Question] = {}
    for place, row in enumerate(data["questions"]):
        words = tuple(tuple(lex.words(w)) for w in row["words"])
        question = _Question(tuple(row["of"]), row["ask"], row["by"], words, place)
        of.update((name, question) for name in question.of)
    return _Asks(data["most"], data["studies"], data["answers"], of)


def study_words(study: str) -> Mapping[str, str]:
    """Give how a kind of study is spoken of in a request."""
    return _asks().studies[study]


class _Gathered:
    """Questions in the order they came up, discs with the same question together."""

    def __init__(self, record: CaseRecord, known: Told) -> None:
        self._record, self._known = record, known
        self._rows: dict[_Question, dict[str, str]] = {}

    def add(self, element: str, subject: str, why: Why | None) -> None:
        """Note a question, unless this study cannot answer it or only the day of a stated fact is missing."""
        question = _asks().of.get(element) or _own(element)
        if question is None or question.by not in _asks().answers[self._known.study]:
            return
        old = facts_of(self._record, subject).get(element)
        if old is not None and old.unknown is None and why in _DATED:
            return
        words = (old.words or "") if old is not None else ""
        rows = self._rows.setdefault(question, {})
        rows[subject] = rows.get(subject) or words

    def request(self) -> Request:
        """Give what is asked, what the report may tell already, and how many were left off."""
        asked: list[Wanted] = []
        told_already: dict[tuple[_Question, str], list[str]] = {}
        for question, rows in self._rows.items():
            lacking: list[str] = []
            for subject, words in rows.items():
                stands = words or self._stands(question, subject)
                if stands:
                    told_already.setdefault((question, stands), []).append(subject)
                else:
                    lacking.append(subject)
            if lacking and catalogue()[question.of[0]].scope == _PATIENT:
                lacking = [_PATIENT]
            if lacking:
                asked.append(Wanted(question.of, question.ask, tuple(lacking), ""))
        most = _asks().most
        pointed_out = tuple(
            Wanted(q.of, q.ask, tuple(subjects), words) for (q, words), subjects in told_already.items()
        )
        return Request(tuple(asked[:most]), pointed_out, len(asked[most:]), self._known.study)

    def _stands(self, question: _Question, subject: str) -> str:
        """Give the passage without a certain fact that speaks of what is asked, of this disc or of none that is told."""
        for passage in self._known.open:
            if subject == _PATIENT or not passage.discs or subject in passage.discs:
                words = tuple(lexicon().words(passage.words))
                if any(_within(w, words) for w in question.words):
                    return " ".join(passage.words.split())
        return ""


def _within(few: tuple[str, ...], many: tuple[str, ...]) -> bool:
    return any(many[i : i + len(few)] == few for i in range(len(many) - len(few) + 1))


def _own(name: str) -> _Question | None:
    """A question for an element of an own library that says reports tell it; its words are those of its own phrase."""
    element = catalogue().get(name)
    if element is None or element.supplied_by != "imaging" or "report" not in element.found_in:
        return None
    return _Question((name,), element.ask, "any", (), len(_asks().of))
