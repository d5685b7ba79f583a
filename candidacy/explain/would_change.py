"""What would change a standing, in words."""

from math import ceil, floor

from candidacy.assessment.results import CriterionResult
from candidacy.case.catalogue import catalogue
from candidacy.explain.found import found_words
from candidacy.explain.settle import URGENT_FIRST
from candidacy.explain.settle_document import ChangedInfo, ChangeInfo, LimitInfo
from candidacy.explain.wording import code_words, value_words, with_unit
from candidacy.foundation.values import Span, number_words
from candidacy.rules.resolved import RuleSet
from candidacy.settle.boundary import Boundary
from candidacy.settle.changing import Change, Changed

_COMMITTEE = (
    "Changing a limit is an act of the committee that owns the rule set, with a reason and for every patient; a limit is "
    "never moved for one case."
)
_TRUE_FACTS = (
    "Only what is true is recorded: a change counts once it has happened and was measured or dated anew."
)
_NOTHING = "No criterion that decides fails, so no change is asked for."
_MENDED = "Everything else must still pass then."


def change_info(found: Change, rule_set: RuleSet) -> ChangeInfo:
    """What would change a standing, as a document holds it."""
    return _Writer(rule_set).info(found)


class _Writer:
    def __init__(self, rule_set: RuleSet) -> None:
        self._name, self._rule_set = rule_set.decisions.name_of, rule_set

    def info(self, found: Change) -> ChangeInfo:
        if found.standing == "urgent":
            return ChangeInfo(
                mendable=[], not_mendable=[], together="", limits=[], says=[URGENT_FIRST], cautions=[]
            )
        mendable = [self._changed(each) for each in found.mendable]
        limits = [self._limit(each) for each in found.limits]
        cautions = [_TRUE_FACTS] if mendable else []
        return ChangeInfo(
            mendable=mendable,
            not_mendable=list(dict.fromkeys(map(_fixed, found.not_mendable))),
            together=self._together(found),
            limits=limits,
            says=self._says(found, mendable),
            cautions=[*cautions, _COMMITTEE] if limits else cautions,
        )

    def _says(self, found: Change, mendable: list[ChangedInfo]) -> list[str]:
        """At most two lines for an answer on one screen."""
        if not found.mendable and not found.not_mendable:
            return [_NOTHING] if not found.limits else []
        lines = []
        shown = [each.words for each in mendable if each.shown_by != "not_shown"]
        if shown:
            more = f" And {len(shown) - 1} more: --full." if len(shown) > 1 else ""
            lines.append(f"What would change it: {shown[0]}{more}")
        if found.not_mendable:
            many = len(dict.fromkeys(map(_fixed, found.not_mendable)))
            lines.append(
                f"Neither time nor an act mends {many} failing criteri{'on' if many == 1 else 'a'}: {_fixed(found.not_mendable[0])}."
            )
        return lines

    def _changed(self, each: Changed) -> ChangedInfo:
        mending = each.mending
        who = code_words(mending.who)
        day = f"; earliest {each.day.isoformat()}" if each.day else "; no date can be given"
        now = needed = ""
        if each.element and each.needed is not None:
            element = catalogue()[each.element]
            now = value_words(_rounded(each.now), element) if isinstance(each.now, Span) else ""
            needed = f"at {'most' if each.at_most else 'least'} {with_unit(number_words(each.needed), element.unit or '')}"
            height = " at this height" if each.element == "body_weight" else ""
            words = f"{element.label} {now} -> {needed}{height} ({who}){day}"
        else:
            tried = "" if each.shown_by != "not_shown" else "; what it takes in numbers was not worked out"
            words = f"After {mending.act} ({who}){day}{tried}"
        where = "" if mending.subject == "patient" else f"{mending.subject}: "
        return ChangedInfo(
            criterion=mending.criterion,
            subject=mending.subject,
            element=each.element,
            now=now,
            needed=needed,
            who=mending.who,
            earliest=each.day.isoformat() if each.day else None,
            shown_by=each.shown_by,
            words=f"{where}{words}.",
        )

    def _together(self, found: Change) -> str:
        if found.together is None or found.day is None:
            return ""
        left = (
            f"; {found.open} criteri{'on is' if found.open == 1 else 'a are'} open now" if found.open else ""
        )
        dated = all(each.day is not None for each in found.mendable if each.shown_by != "not_shown")
        when = f"on {found.day.isoformat()}" if dated else "once they have happened"
        return (
            f"With all of these that could be tried, and everything else as recorded, the case would stand as "
            f"{self._name(found.together)} {when}{left}. {_MENDED}"
        )

    def _limit(self, each: Boundary) -> LimitInfo:
        parameter = each.parameter
        unit = parameter.unit or ""
        value = _toward(each)
        boundary = with_unit(number_words(value), unit)
        # a boundary that had to be rounded is told by a value that does
        exactly = each.included or value != each.value
        side = ("at most" if each.lower else "at least") if exactly else ("below" if each.lower else "above")
        now = with_unit(number_words(float(str(parameter.value))), unit)
        item = self._rule_set.criterion(each.criterion).criterion
        meaning = parameter.declared.meaning
        where = "" if each.subject == "patient" else f"{each.subject}: "
        words = f"{where}{item.title}: {_within(meaning)} is {now}; it would have to be {side} {boundary}"
        if not each.allowed:
            words += ", which the rule set does not allow"
        elif each.standing is not None:
            words += f"; the case would then stand as {self._name(each.standing)}"
        return LimitInfo(
            criterion=each.criterion,
            subject=each.subject,
            parameter=parameter.name,
            meaning=meaning,
            now=now,
            boundary=boundary,
            included=exactly,
            allowed=each.allowed,
            standing=each.standing,
            standing_name=self._name(each.standing) if each.standing else "",
            words=f"{words}.",
        )


def _fixed(result: CriterionResult) -> str:
    where = "" if result.subject == "patient" else f"{result.subject}: "
    return f"{where}{found_words(result)}"


def _within(meaning: str) -> str:
    """A meaning within a sentence; an abbreviation keeps its capitals."""
    first = meaning.partition(" ")[0]
    return meaning if first[1:] != first[1:].lower() else f"{meaning[:1].lower()}{meaning[1:]}"


def _rounded(value: Span) -> Span:
    return Span(round(value.low, 2), round(value.high, 2), value.low_open, value.high_open)


def _toward(each: Boundary) -> float:
    """The boundary to two decimals, rounded away from the limit in use, so that what is said does pass."""
    value = each.value * 100
    if abs(value - round(value)) < 1e-6:
        return round(value) / 100
    return (floor(value) if each.lower else ceil(value)) / 100
