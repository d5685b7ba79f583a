"""A case as a conference sees it on one page: the question, what fails and by how much, and where each figure is from."""

from msgspec import Struct

from candidacy.assessment.assess import assess
from candidacy.case.load import Case
from candidacy.conference.again import Again, look_again
from candidacy.conference.margins import deciding_tests, margins_of
from candidacy.conference.rounds import Round, rounds_of
from candidacy.explain.ahead import not_yet_lines
from candidacy.explain.build import build_document
from candidacy.explain.cautions import INVENTED
from candidacy.explain.cited import cites_words
from candidacy.explain.document import AssessmentDocument, CriterionInfo, FactInfo
from candidacy.explain.firm import with_firm
from candidacy.explain.headline import headline
from candidacy.explain.labels import BURDEN_WORDS
from candidacy.explain.marks import marks_of
from candidacy.explain.record import beside_standing, fact_words
from candidacy.foundation.dates import day
from candidacy.foundation.errors import InputError
from candidacy.records.answers import OF_ANOTHER_FORM, KeptAnswer
from candidacy.records.conference import Item, Meeting
from candidacy.records.decisions import Decision
from candidacy.records.referral import Referral
from candidacy.records.store import Store
from candidacy.rules.libraries import library_in_use, load_rule_set


class Failing(Struct, frozen=True):
    """A relative criterion that fails: what was found, by how much, from which sources, and what they say of its limit.

    Attributes
    ----------
    subject
        ``patient`` or a disc.
    margins
        How far each value is from its limit.
    parameters
        Each parameter in use with its value and citations, and a replaced or other published value on a line of its own.
    spread
        What the sources range over.
    facts
        The values behind it with document, day and words.
    mends
        What time or an act would do about it.
    firm
        How often a repeat of what was measured would come out otherwise, in words; empty where nothing is told.
    """

    id: str
    subject: str
    found: str
    because: tuple[str, ...]
    margins: tuple[str, ...]
    parameters: tuple[str, ...]
    cites: str
    spread: str
    facts: tuple[str, ...]
    mends: str
    firm: str = ""


class OtherSet(Struct, frozen=True):
    """What another rule set says on the same day. It was kept with the answer, or is worked out now and not kept."""

    title: str
    says: str
    because: str
    kept: bool


class Standing(Struct, frozen=True):
    """The kept answer that a case is looked at with."""

    seq: int
    words: str
    rules: str
    as_of: str
    version: int
    record_digest: str
    rules_digest: str
    document_digest: str
    missing: int
    discs: tuple[str, ...]


class CasePage(Struct, frozen=True):
    """Everything on the page of a case.

    Attributes
    ----------
    version
        The present version of the record.
    recusals
        Who takes no part in this item, and why.
    warnings
        What a standing must not hide, and what makes this page doubtful; before everything else.
    standing
        ``None`` where no assessment is kept.
    failing
        Relative criteria that fail, of the patient and of discs that are or may be considered.
    graver
        Stops and absolute criteria that fail: not for a conference to weigh.
    changes
        What would change the standing.
    said
        Words of reports and letters behind what fails.
    decisions
        Earlier and present ones, with what makes each to be looked at again.
    """

    item: Item
    meeting: Meeting | None
    version: int
    recusals: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    standing: Standing | None
    failing: tuple[Failing, ...]
    graver: tuple[str, ...]
    sets: tuple[OtherSet, ...]
    changes: tuple[str, ...]
    said: tuple[str, ...]
    notes: tuple[str, ...]
    decisions: tuple[tuple[Decision, Again], ...]
    rounds: tuple[Round, ...]

    @property
    def decision(self) -> tuple[Decision, Again] | None:
        """The decision on this item that stands: the last that none corrects."""
        own = [
            each for each in self.decisions if each[0].said.item == self.item.seq and not each[0].corrected_by
        ]
        return own[-1] if own else None


def case_page(store: Store, item: Item, *, others: bool = True, as_decided: bool = False) -> CasePage:
    """The page of a case. What is read for it is entered as read.

    Parameters
    ----------
    others
        Whether further rule sets of the library in use are asked; this takes a moment for each.
    as_decided
        Show the answer that the decision on the item rests on, where there is one, in place of the last.

    Raises
    ------
    StoreError
        E704 if the referral is not kept any more, E705 if what is kept is damaged.
    """
    referral = store.open_referral(item.reference)
    meeting = next((each for each in store.meetings() if each.seq == item.meeting), None)
    in_force = {each.seq: each for each in store.in_force()}
    decisions = tuple(
        (each, look_again(referral, each, in_force.get(each.seq))) for each in referral.decisions
    )
    answer = referral.answer
    rests_on = next(
        (d.said.assessment for d, _ in decisions if d.said.item == item.seq and not d.corrected_by), 0
    )
    if as_decided and rests_on and (answer is None or answer.seq != rests_on):
        answer = store.kept_answer(rests_on)
    found = answer.readable if answer is not None else None
    failing = failing_of(_with_firm(referral.case, found) if others else found) if found is not None else ()
    return CasePage(
        item=item,
        meeting=meeting,
        version=referral.work.version,
        recusals=_recusals(store, item),
        warnings=_warnings(referral, found, answer),
        standing=_standing(answer, found),
        failing=failing,
        graver=_graver(found) if found is not None else (),
        sets=_kept_sets(found) + (_other_sets(referral.case, found) if others else ())
        if found is not None
        else (),
        changes=_changes(found, failing) if found is not None else (),
        said=tuple(dict.fromkeys(fact for each in failing for fact in each.facts if "“" in fact)),
        notes=tuple(f"{note.at[:10]} {note.person}: {note.text}" for note in referral.notes),
        decisions=decisions,
        rounds=rounds_of(store, item),
    )


def _with_firm(case: Case, document: AssessmentDocument) -> AssessmentDocument:
    """A kept answer with how firm it is, where the same record and the same rules give it today."""
    try:
        rule_set = load_rule_set(document.rule_set.id)
    except InputError:
        return document
    if (case.digest, rule_set.digest) != (document.case.digest, document.rule_set.digest):
        return document
    return with_firm(document, assess(case, rule_set, day(document.as_of)))


def failing_of(document: AssessmentDocument) -> tuple[Failing, ...]:
    """Relative criteria that fail for the patient, or for a disc that is or may be considered."""
    return tuple(_failing(document, each) for each in _counting(document) if each.force == "relative")


def _counting(document: AssessmentDocument) -> list[CriterionInfo]:
    out = {disc.level for disc in document.discs if disc.considered == "not_met"}
    return [each for each in document.criteria if each.outcome == "fail" and each.subject not in out]


def _failing(document: AssessmentDocument, found: CriterionInfo) -> Failing:
    parameters = []
    for each in found.parameters:
        words = f"{each.meaning}: {each.value} ({cites_words(each.cites)})"
        if each.replaces is not None:
            words += f"; in place of {each.replaces}: {each.reason}"
        parameters += [words, *(f"other published value: {other}" for other in each.alternatives)]
    facts = [fact_words(fact) for fact in _facts(document, found)]
    return Failing(found.id, found.subject, found.found, tuple(found.because), margins_of(found), tuple(parameters),
                   cites_words(found.cites), found.spread, tuple(dict.fromkeys(facts)),
                   found.mendable.words if found.mendable else "", document.firm_words(found.id, found.subject))  # fmt: skip


def _facts(document: AssessmentDocument, found: CriterionInfo) -> list[FactInfo]:
    """The facts that an outcome rests on, and the recorded ones that they were worked out from."""
    wanted = {(test.subject, test.element) for test in deciding_tests(found)}
    direct = [fact for fact in document.facts if (fact.subject, fact.element) in wanted]
    behind = [
        fact
        for each in direct
        for fact in document.facts
        if fact.label in each.worked_out_from and fact.subject in ("patient", each.subject)
    ]
    return direct + behind


def _graver(document: AssessmentDocument) -> tuple[str, ...]:
    return tuple(
        f"{each.force}: {'' if each.subject == 'patient' else each.subject + ': '}{each.found} ({'; '.join(each.because)})"
        for each in _counting(document)
        if each.force in ("stop", "absolute")
    )


def _recusals(store: Store, item: Item) -> tuple[tuple[str, str], ...]:
    if not item.recused:
        return ()
    said = [event.said for event in store.history(item.reference) if event.entry.what == "recused"]
    return tuple((person, next((str(each["why"]) for each in reversed(said) if each.get("item") == item.seq
                                and each.get("person") == person), "")) for person in item.recused)  # fmt: skip


def _warnings(
    referral: Referral, document: AssessmentDocument | None, answer: KeptAnswer | None
) -> tuple[str, ...]:
    work = referral.work
    found = []
    if answer is not None and document is None:
        found.append(
            f"{OF_ANOTHER_FORM[:1].upper()}{OF_ANOTHER_FORM[1:]}: assess it again before it is talked about."
        )
    elif document is None:
        found.append("No assessment of this referral is kept: assess it before it is talked about.")
    else:
        if document.standing == "urgent":
            found.append("The standing is urgent: act on it now, outside this conference.")
        found += document.stops
        found += beside_standing(document)
        found += document.notices
    if work.out_of_date and answer is not None and answer == referral.answer:
        found.append(
            f"The record was changed since it was assessed and is version {work.version} now: assess it again."
        )
    if work.invented:
        found.append(INVENTED)
    return tuple(found)


def _standing(answer: KeptAnswer | None, document: AssessmentDocument | None) -> Standing | None:
    if answer is None or document is None:
        return None
    rules, said = document.rule_set, answer.said
    marks = marks_of(document)
    discs = tuple(f"{disc.level} {marks.disc(disc)}" for disc in document.discs)
    return Standing(
        seq=answer.seq, words=headline(document),
        rules=f"{rules.title} ({rules.id} {rules.version}, {rules.status.replace('_', ' ')})", as_of=document.as_of,
        version=said.version, record_digest=said.record_digest, rules_digest=said.rules_digest,
        document_digest=said.document_digest, missing=len(document.missing), discs=discs,
    )  # fmt: skip


def _kept_sets(document: AssessmentDocument) -> tuple[OtherSet, ...]:
    found = []
    for each in document.companions:
        title = f"{each.title} ({each.id} {each.version})".replace(" )", ")")
        if each.standing is None or each.shown is None:
            found.append(
                OtherSet(title, "no answer", each.problem or f"does not apply: {each.because}", True)
            )
        else:
            found.append(
                OtherSet(
                    title,
                    marks_of(document).standing(each.shown, each.standing_name),
                    _reason(each.reason),
                    True,
                )
            )
    return tuple(found)


def _other_sets(case: Case, document: AssessmentDocument) -> tuple[OtherSet, ...]:
    known = {document.rule_set.id, *(each.id for each in document.companions)}
    found = []
    for name in library_in_use().rule_set_names():
        if name in known:
            continue
        try:
            other = build_document(assess(case, load_rule_set(name), day(document.as_of)))
        except InputError as error:
            found.append(OtherSet(name, "no answer", str(error.problems[0]), False))
            continue
        title = f"{other.rule_set.title} ({other.rule_set.id} {other.rule_set.version})"
        found.append(OtherSet(title, headline(other), _reason(other.reason), False))
    return tuple(found)


def _reason(sentences: list[str]) -> str:
    return sentences[0].split(": ", 1)[-1] if sentences else ""


def _changes(document: AssessmentDocument, failing: tuple[Failing, ...]) -> tuple[str, ...]:
    found = [f"{each.found}: {each.mends}" for each in failing if each.mends]
    found += not_yet_lines(document)
    found += [
        f"{'' if each.subject == 'patient' else each.subject + ': '}to be known: {each.ask} "
        f"({each.why}; {BURDEN_WORDS.get(each.burden, each.burden)}), which could change the standing by itself"
        for each in document.missing
        if each.weight == "alone"
    ]
    return tuple(dict.fromkeys(found))
