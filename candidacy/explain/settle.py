"""What would settle a standing, in words."""

from collections.abc import Sequence
from math import inf

from candidacy.assessment.missing import Missing
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, Element
from candidacy.explain.labels import BURDEN_WORDS
from candidacy.explain.settle_document import AskedInfo, EndingInfo, LeadsInfo, SettleInfo, StepInfo
from candidacy.explain.settle_lines import burden_words
from candidacy.explain.wording import capped, listed, value_words
from candidacy.foundation.values import Members, Options, Span, Why
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import Standing
from candidacy.settle.answers import Answer, Question
from candidacy.settle.endings import Ending
from candidacy.settle.guaranteed import Guaranteed
from candidacy.settle.settling import Settle
from candidacy.settle.steps import Leads, Step

_MOST_ENDINGS = 12
_NOTHING_ELSE = "nothing else matters for the standing"
_EMERGENCY_MAY = "only a sign of an emergency could still change it"
_SAFETY = "facts that could forbid an injection are still unknown and have to be asked before any"
URGENT_FIRST = "Act on the emergency first; what else is missing is not the question now."
SETTLED = "No missing fact can change the standing."


def settle_info(found: Settle, rule_set: RuleSet) -> SettleInfo:
    """What would settle a standing, as a document holds it."""
    return _Writer(rule_set).info(found)


class _Writer:
    def __init__(self, rule_set: RuleSet) -> None:
        self._name = rule_set.decisions.name_of
        # what keeps a standing from being settled where no criterion that matters is open
        self._held_open = "other facts could change it"

    def info(self, found: Settle) -> SettleInfo:
        if found.settled:
            says = [URGENT_FIRST if found.standing == "urgent" else SETTLED]
            # on one screen too, where the rest is not told
            first = [f"{_SAFETY[:1].upper()}{_SAFETY[1:]}."] if found.safety_open else []
            says += first
            return SettleInfo(
                settled=True, ask_first=first, says=says, sets=[], smallest=False, endings=[], more_endings=0,
                first=None, limits=[],
            )  # fmt: skip
        sets = found.guaranteed.sets if found.guaranteed else ()
        if any(m.to_settle for m in found.unasked):
            apart = any(m.why is Why.CONFLICTING for m in found.unasked)
            self._held_open = (
                "the record contradicts itself" if apart else "a doubtful value is to be checked first"
            )
        told = _without_signs(found.endings)
        return SettleInfo(
            settled=False,
            ask_first=self._first(found),
            says=self._says(found),
            sets=[[_asked(question.missing) for question in some] for some in sets],
            smallest=found.guaranteed.smallest if found.guaranteed else False,
            endings=[self._ending(ending) for ending in told[:_MOST_ENDINGS]],
            more_endings=max(len(told) - _MOST_ENDINGS, 0),
            first=self._step(found.first),
            limits=_limits(found),
        )

    # --- at most three lines

    def _first(self, found: Settle) -> list[str]:
        lines = []
        conflicts = [m for m in found.unasked if m.to_settle]
        if conflicts:
            lines.append(f"Settle first, at the source: {capped([_named(m) for m in conflicts])}.")
        two = self._two(found)
        if two:
            lines.append(two)
        elif found.first is not None:
            lines.append(f"{_phrase(found.first.question)}: {self._leads_words(found.first)}")
        if found.guaranteed is not None:
            lines.append(_for_sure(found.guaranteed))
        return lines[:3]

    def _two(self, found: Settle) -> str:
        """Two questions of one burden of which one answer, yes, ends the matter: "if either is yes"."""
        single = [
            e
            for e in _without_signs(found.endings)
            if len(e.parts) == 1 and e.settled and _is_yes(e.parts[0].answers)
        ]
        single.sort(key=lambda e: found.first is None or e.parts[0].question.key != found.first.question.key)
        if len(single) < 2:
            return ""
        one = single[0]
        same = [
            e
            for e in single[1:]
            if e.standing == one.standing
            and e.parts[0].question.missing.burden == one.parts[0].question.missing.burden
        ]
        first = found.first.question.key if found.first is not None else None
        if not same or one.parts[0].question.key != first:
            return ""
        questions = [one.parts[0].question, same[0].parts[0].question]
        burden = BURDEN_WORDS[questions[0].missing.burden]
        how = "both in the chart" if questions[0].missing.burden == "in_chart" else f"each {burden}"
        asks = listed([_named(q.missing) for q in questions])
        open_ = one.safety_open or same[0].safety_open
        return f"Ask these two, {how}: {asks}. If either is yes: {self._end(one.standing, True, open_)}."

    def _leads_words(self, step: Step) -> str:
        words = []
        for lead in step.leads:
            answers = answer_words(step.question, lead.answers)
            if lead.settled or lead.decided:
                words.append(f"if {answers}: {self._end(lead.standing, lead.settled, lead.safety_open)}")
            elif lead.then is not None:
                words.append(f"if {answers}: then ask {_named(lead.then.question.missing)}")
            else:
                words.append(f"if {answers}: {self._open_words(lead)}")
        if step.question.contradicting:
            answers = answer_words(step.question, step.question.contradicting)
            words.append(f"if {answers}: that contradicts what the record says elsewhere")
        return "; ".join(words) + "."

    def _end(self, standing: Standing, settled: bool, safety_open: bool) -> str:
        """What a standing that is decided means for what is still open; never that nothing matters where safety does."""
        name = self._name(standing)
        if not settled:
            return f"{name}, and {_EMERGENCY_MAY}: {_SAFETY}"
        if standing == "urgent":
            return f"{name}, act on it now; {_NOTHING_ELSE}"
        if safety_open:
            return f"{name}, and no other answer changes that; {_SAFETY}"
        return f"{name}, and {_NOTHING_ELSE}"

    # --- the whole

    def _says(self, found: Settle) -> list[str]:
        says = []
        if found.guaranteed is not None:
            says.append(_for_sure(found.guaranteed))
            says += [
                f"So does: {listed([_named(q.missing) for q in some])}."
                for some in found.guaranteed.sets[1:4]
            ]
        if found.emergency_open:
            says.append("Facts about possible emergencies are missing; they are asked for first.")
        return says

    def _ending(self, ending: Ending) -> EndingInfo:
        facts = [
            _asked(part.question.missing, answer_words(part.question, part.answers)) for part in ending.parts
        ]
        said = listed(
            [f"{_named(p.question.missing)} is {f.answers}" for p, f in zip(ending.parts, facts, strict=True)]
        )
        return EndingInfo(
            facts=facts,
            standing=ending.standing,
            standing_name=self._name(ending.standing),
            settled=ending.settled,
            safety_open=ending.safety_open,
            words=f"If {said}: {self._end(ending.standing, ending.settled, ending.safety_open)}.",
        )

    def _open_words(self, lead: Leads) -> str:
        if not lead.open:
            return f"{self._name(lead.standing)} still: {self._held_open}"
        return f"{lead.open} criteri{'on' if lead.open == 1 else 'a'} still open"

    def _step(self, step: Step | None) -> StepInfo | None:
        if step is None:
            return None
        return StepInfo(
            asked=_asked(step.question.missing),
            leads=[self._lead(step.question, lead) for lead in step.leads],
            contradicting=answer_words(step.question, step.question.contradicting),
            if_unknown=_asked(step.if_unknown.missing) if step.if_unknown else None,
        )

    def _lead(self, question: Question, lead: Leads) -> LeadsInfo:
        ended = lead.settled or lead.decided
        return LeadsInfo(
            answers=answer_words(question, lead.answers),
            standing=lead.standing,
            standing_name=self._name(lead.standing),
            settled=lead.settled,
            decided=lead.decided,
            words=self._end(lead.standing, lead.settled, lead.safety_open)
            if ended
            else self._open_words(lead),
            then=self._step(lead.then),
        )


def _without_signs(endings: Sequence[Ending]) -> list[Ending]:
    """The endings without single signs of a summary that ends it as well."""
    covered_by = catalogue().covered_by
    alone = {(*e.parts[0].question.key, e.standing) for e in endings if len(e.parts) == 1}
    return [
        e
        for e in endings
        if not any(
            (covered_by.get(p.question.missing.element), p.question.missing.subject, e.standing) in alone
            for p in e.parts
        )
    ]


def _for_sure(found: Guaranteed) -> str:
    """Which facts settle it whatever their answers are."""
    if not found.sets:
        if found.bounded:
            return "Whether all missing facts together settle it for sure was not found out within the bound of the search."
        return "Even with every missing fact answered, some answers would open further questions."
    some = found.sets[0]
    lists = [_named(q.missing) for q in some if q.missing.element in LISTS]
    if lists and len(some) == 1:
        return (
            f"One answer settles it: that {lists[0]} is complete as it is recorded; a further entry may not."
        )
    if len(some) == 1:
        return f"One fact settles it whatever the answer is: {_named(some[0].missing)}."
    names = capped([_named(q.missing) for q in some], 4)
    how = "no fewer do" if found.smallest else "none of them can be left out"
    given = (
        f", as long as {listed(lists)} {'is' if len(lists) == 1 else 'are'} complete as recorded"
        if lists
        else ""
    )
    return f"Whatever the answers are{given}, {len(some)} facts together settle it ({how}): {names}."


def _limits(found: Settle) -> list[str]:
    said = []
    if found.guaranteed is not None and found.guaranteed.bounded:
        said.append(
            "The search for sets that settle it for sure stopped at its bound: other or smaller sets may exist."
        )
    if found.endings_bounded:
        said.append("Not every pair of answers was looked at.")
    if found.steps_cut:
        said.append("The tree of questions was cut short.")
    lists = [m for m in found.sampled if m.element in LISTS]
    if lists:
        said.append(
            f"Of {listed([_named(m) for m in lists])} only the answer that it is complete as it is was looked at; a further "
            "entry opens further questions."
        )
    others = [m for m in found.sampled if m.element not in LISTS]
    if others:
        said.append(
            f"The answers to {capped([_named(m) for m in others])} were tried at steps: an outcome that turns twice between "
            "two steps would not be seen."
        )
    tests = [m for m in found.unasked if not m.to_settle]
    if tests:
        said.append(
            f"Not looked at, because only a new test could tell: {capped([_named(m) for m in tests])}."
        )
    return said


def _asked(missing: Missing, answers: str = "") -> AskedInfo:
    return AskedInfo(
        element=missing.element,
        subject=missing.subject,
        ask=missing.ask,
        burden=missing.burden,
        anew=missing.why is Why.OUT_OF_DATE,
        answers=answers,
    )


def _named(missing: Missing) -> str:
    """A missing fact by its name, with its disc or entry."""
    element = catalogue().get(missing.element)
    label = element.label if element is not None else f"the list of {missing.element.replace('_', ' ')}"
    return label if missing.subject == "patient" else f"{label} of {missing.subject}"


def _phrase(question: Question) -> str:
    return f"Ask first: {_named(question.missing)} ({burden_words(_asked(question.missing))})"


def _is_yes(answers: Sequence[Answer]) -> bool:
    return [a.codes for a in answers] == [(True,)]


# --- answers


def answer_words(question: Question, answers: Sequence[Answer]) -> str:
    """Some answers to a question, as a person says them."""
    element = catalogue().get(question.missing.element)
    if not answers:
        return ""
    if element is None:
        return "complete as it is recorded"
    if element.kind == "members":
        return listed([_members(answer, element) for answer in answers], "or")
    if element.kind in ("number", "integer", "date"):
        return listed([value_words(span, element) for span in _joined(answers, element)], "or")
    codes = frozenset(code for answer in answers for code in answer.codes)
    return value_words(Options(codes), element)


def _members(answer: Answer, element: Element) -> str:
    codes = frozenset(str(code) for code in answer.codes)
    return value_words(Members(codes, codes), element)


def _joined(answers: Sequence[Answer], element: Element) -> list[Span]:
    """Classes of numbers that follow one another as one range."""
    whole = element.kind in ("integer", "date")
    ranges: list[Span] = []
    for answer in sorted(answers, key=lambda a: (-inf if a.low is None else a.low, not a.low_in)):
        low = -inf if answer.low is None else answer.low
        high = inf if answer.high is None else answer.high
        last = ranges[-1] if ranges else None
        follows = last is not None and (
            low <= last.high + (1 if whole else 0) if whole or answer.low_in or not last.high_open else False
        )
        if last is not None and follows:
            ranges[-1] = Span(last.low, high, last.low_open, not answer.high_in and high != inf)
        else:
            ranges.append(Span(low, high, not answer.low_in, not answer.high_in))
    return ranges
