"""What may be answered to a question about a missing fact: the answers that a rule set can tell apart, and no more.

A number is cut at every limit with which a condition or a relation compares it, a coded value into its codes, a list of
codes into what is looked for in it; answers that every such test takes alike are one answer. What is known already
(an imprecise value) bounds the answers. A number or date that goes into a formula is cut where an outcome turns, found
by halving between a grid of values: then `Question.exact` is false, because a turn back within one step of the grid would
not be seen. Lists of many codes are not spelled out in full either.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from math import ceil, floor, isinf

from msgspec import Struct

from candidacy.assessment.missing import Missing
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, STANDARD_LEVELS, Element
from candidacy.foundation import dates
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Members, Options, Span, Value, Why, point
from candidacy.rules.operators import comparison
from candidacy.rules.tree import Compare, Elapsed, Node, walk
from candidacy.settle.situation import Reply
from candidacy.settle.suppose import Supposing

# More whole numbers than any grade or score has.
_MOST_WHOLE = 200
_MOST_CODES = 3
_MOST_LEVELS = 2
_STEPS = 12
_FINE = 1e-3
_FAR = 1e9
# Days before the as-of date at which a date may turn an outcome; between them it is looked for by halving.
_DAYS = (0, 1, 7, 14, 28, 42, 60, 90, 120, 180, 270, 365, 547, 730, 1095, 1825, 3650)
_PLANNED = "planned"
# Of these the value is told anew, whatever it was.
_TOLD_ANEW = (Why.OUT_OF_DATE, Why.UNDATED, Why.AFTER_AS_OF)


class Answer(Struct, frozen=True):
    """One answer, or a class of answers that nothing tells apart.

    Attributes
    ----------
    value
        One value of the class, exact.
    low, high, low_in, high_in
        Of a number or a date (day ordinals): the ends of the class, and whether each belongs to it.
    codes
        Of a coded value: the codes of the class. Of a list of codes: those that are in it.
    """

    reply: Reply
    low: float | None = None
    high: float | None = None
    low_in: bool = True
    high_in: bool = True
    codes: tuple[str | bool, ...] = ()


class Question(Struct, frozen=True):
    """A missing fact with the answers it may get. "It stays unknown" is always one more, and is not among them.

    ``exact`` is false where the answers are not known to be all that can be told apart; of a list of the record only the
    answer "it is complete as it is" is looked at. Answers that contradict the rest of the record are set apart as
    ``contradicting``.
    """

    missing: Missing
    answers: tuple[Answer, ...]
    exact: bool = True
    contradicting: tuple[Answer, ...] = ()

    @property
    def key(self) -> tuple[str, str]:
        return self.missing.element, self.missing.subject


class Answers:
    """The questions of one case."""

    def __init__(self, supposing: Supposing) -> None:
        self._supposing = supposing
        rule_set = supposing.rule_set
        self._tests: dict[str, list[Compare]] = {}
        self._elapsed: dict[str, list[Elapsed]] = {}
        nodes: list[Node] = [node for item in rule_set.criteria for node in item.conditions]
        nodes += [when for relation in rule_set.relations.values() for when in relation.conditions]
        for root in nodes:
            for node in walk(root):
                match node:
                    case Compare() if node.op != "known":
                        self._tests.setdefault(node.element, []).append(node)
                    case Elapsed():
                        for name in node.dates:
                            self._elapsed.setdefault(name, []).append(node)
                    case _:
                        pass
        self._into_formulas = {
            name
            for element in catalogue().all
            for name in (*element.reads, *(part for some in element.inputs for part in some))
        }

    def question(self, missing: Missing) -> Question | None:
        """The question of a missing fact, or nothing where no answer to it can be looked at.

        Contradictions are none: they are settled at their source. Neither is a fact that is known exactly and of the
        present, which only a new test can change.
        """
        if missing.to_settle:
            return None
        if missing.element in LISTS:
            reply = Reply(missing.element, "patient", None)
            return self._kept(missing, [Answer(reply)], exact=False)
        element = catalogue()[missing.element]
        known = self._supposing.view(()).fact(missing.element, missing.subject).value
        within = None if missing.why in _TOLD_ANEW else known
        if within is not None and within.exact:
            return None
        if element.kind == "date" and known is not None and known.exact:
            return None  # another day would be another event
        made, exact = self.possible(element, missing.subject, within)
        if missing.why in _TOLD_ANEW:
            self._supposing.tell_anew(missing.element, missing.subject, [answer.reply for answer in made])
        return self._kept(missing, made, exact=exact)

    def _kept(self, missing: Missing, made: Sequence[Answer], *, exact: bool) -> Question | None:
        """The question without answers that contradict the rest of the record."""
        apart = tuple(a for a in made if self._supposing.situation((a.reply,)).contradicts)
        possible = tuple(a for a in made if a not in apart)
        return Question(missing, possible, exact, apart) if possible else None

    def possible(self, element: Element, subject: str, within: Value | None) -> tuple[list[Answer], bool]:
        name = element.name
        if element.kind == "boolean":
            codes = within.codes if isinstance(within, Options) else (True, False)
            return [self._coded(name, subject, (c,)) for c in (True, False) if c in codes], True
        if element.kind == "choice":
            return self._choices(element, subject, within), True
        if element.kind == "members":
            return self._lists(element, subject, within)
        if element.kind in ("number", "integer"):
            return self._numbers(element, subject, within if isinstance(within, Span) else None)
        if element.kind == "date":
            return self._dates(element, subject, within if isinstance(within, Span) else None)
        return [], True

    def _coded(self, name: str, subject: str, codes: tuple[str | bool, ...]) -> Answer:
        return Answer(Reply(name, subject, Options(frozenset(codes[:1]))), codes=codes)

    def _choices(self, element: Element, subject: str, within: Value | None) -> list[Answer]:
        allowed = [c for c in element.codes if not isinstance(within, Options) or c in within.codes]
        if element.name in self._into_formulas or element.name in catalogue().covered_by:
            return [self._coded(element.name, subject, (code,)) for code in allowed]
        relation = self._supposing.rule_set.relations.get(element.name)
        said = [each.codes for each in relation.implied if each.value is not None] if relation else []
        alike: dict[tuple[object, ...], list[str | bool]] = {}
        for code in allowed:
            taken = self._taken(element, Options(frozenset((code,))))
            alike.setdefault((*taken, *(code in codes for codes in said)), []).append(code)
        return [self._coded(element.name, subject, tuple(codes)) for codes in alike.values()]

    def _taken(self, element: Element, value: Value) -> tuple[Truth, ...]:
        """How every test of an element takes a value."""
        tests = self._tests.get(element.name, ())
        dangers = [comparison(element, d.op, d.limits)(value) for d in element.danger]
        return (*(comparison(element, t.op, t.limits)(value) for t in tests if _whole(t)), *dangers)

    def _lists(self, element: Element, subject: str, within: Value | None) -> tuple[list[Answer], bool]:
        certain = within.certain if isinstance(within, Members) else frozenset()
        allowed = within.possible if isinstance(within, Members) else None
        if element.levels:
            named = (*(disc.level for disc in self._supposing.assessment.discs), *STANDARD_LEVELS)
            looked: Sequence[str] = tuple(dict.fromkeys(named))
            most, exact = _MOST_LEVELS, False
        else:
            tested = {str(code) for test in self._tests.get(element.name, ()) for code in test.limits} | {
                str(code) for danger in element.danger for code in danger.limits
            }
            others = [code for code in element.codes if code not in tested]
            looked = [*(code for code in element.codes if code in tested), *others[:1]]
            most = len(looked) if len(looked) <= _MOST_CODES + 1 else 1
            exact = most == len(looked) and element.name not in self._into_formulas
        looked = [c for c in looked if allowed is None or c in allowed]
        made = []
        for size in range(most + 1):
            for some in combinations(looked, size):
                codes = frozenset(some) | certain
                made.append(
                    Answer(Reply(element.name, subject, Members(codes, codes)), codes=tuple(sorted(codes)))
                )
        return list({a.reply: a for a in made}.values()), exact

    # --- numbers and dates

    def _numbers(self, element: Element, subject: str, within: Span | None) -> tuple[list[Answer], bool]:
        assert element.possible is not None
        low = -_FAR if element.possible.low is None else float(element.possible.low)
        high = _FAR if element.possible.high is None else float(element.possible.high)
        low_in = high_in = True
        if within is not None:
            if not isinf(within.low) and within.low >= low:
                low, low_in = within.low, not within.low_open
            if not isinf(within.high) and within.high <= high:
                high, high_in = within.high, not within.high_open
        cuts = sorted(
            {
                float(limit)
                for test in (*self._tests.get(element.name, ()), *element.danger)
                for limit in test.limits
                if isinstance(limit, int | float) and not isinstance(limit, bool) and low < limit < high
            }
            | {float(end) for end in self._said_of_number(element.name) if low < end < high}
        )
        formula = element.name in self._into_formulas
        if element.kind == "integer" and high - low <= _MOST_WHOLE:
            whole = range(
                ceil(low) + (not low_in and ceil(low) == low),
                floor(high) + 1 - (not high_in and floor(high) == high),
            )
            return self._grouped(element, subject, [float(n) for n in whole], by_outcome=formula), True
        ends = [low, *cuts, high]
        values = [low] if low_in else []
        for one, other in pairwise(ends):
            values += [(one + other) / 2, other] if one < other else []
        if not high_in and values:
            values.pop()
        if formula:
            wide = element.likely or element.possible
            start = low if wide.low is None else max(low, float(wide.low))
            end = high if wide.high is None else min(high, float(wide.high))
            step = max(end - start, 0) / _STEPS
            values = self._turning(
                element, subject, sorted({*values, *(start + step * n for n in range(_STEPS))}), _FINE
            )
        made = self._grouped(element, subject, values, by_outcome=formula)
        # of a number that is no whole one a class goes on up to the next limit
        limits = {*ends} - ({low} if not low_in else set()) - ({high} if not high_in else set())
        joined: list[Answer] = []
        for place, each in enumerate(made):
            first, last = each.low, each.high
            assert first is not None
            assert last is not None
            low_end = (
                (first, True)
                if place and first in limits
                else (joined[-1].high, not joined[-1].high_in)
                if place
                else (low, low_in)
            )
            after = made[place + 1].low if place + 1 < len(made) else None
            high_end = (
                (high, high_in) if after is None else (last, True) if last in limits else (after, False)
            )
            joined.append(
                replace(each, low=low_end[0], low_in=low_end[1], high=high_end[0], high_in=high_end[1])
            )
        unbounded = [
            replace(
                each,
                low=None if each.low == -_FAR else each.low,
                high=None if each.high == _FAR else each.high,
            )
            for each in joined
        ]
        return unbounded, not formula

    def _said_of_number(self, name: str) -> Iterator[float]:
        relation = self._supposing.rule_set.relations.get(name)
        for each in relation.implied if relation else ():
            if each.limits is not None:
                yield from (end for end in (each.limits.low, each.limits.high) if end is not None)

    def _dates(self, element: Element, subject: str, within: Span | None) -> tuple[list[Answer], bool]:
        today = self._supposing.assessment.as_of
        days = {today.toordinal() - before for before in _DAYS}
        for node in self._elapsed.get(element.name, ()):
            for limit in node.limits:
                for sign in (-1, 1):
                    try:
                        cut = dates.add(today, sign * int(limit), node.unit).toordinal()
                    except (OverflowError, ValueError):
                        continue
                    days |= {cut - 1, cut, cut + 1}
        if element.name.startswith(_PLANNED):
            days |= {today.toordinal() + after for after in _DAYS[:12]}
        else:
            days = {day for day in days if day <= today.toordinal()}
        if within is not None:
            days = {d for d in days if within.low <= d <= within.high}
            days |= {int(e) for e in (within.low, within.high) if not isinf(e)}
        found = self._turning(element, subject, sorted(map(float, days)), 1)
        return self._grouped(element, subject, found, by_outcome=True), False

    def _turning(self, element: Element, subject: str, values: list[float], fine: float) -> list[float]:
        """The values with those just before and at each place where an outcome turns between two of them."""
        found = dict.fromkeys(values)
        for one, other in pairwise(values):
            low, high = one, other
            below, above = self._outcomes(element, subject, low), self._outcomes(element, subject, high)
            if below == above:
                continue
            while high - low > fine:
                middle = float((low + high) // 2) if fine == 1 else (low + high) / 2
                if middle in (low, high):
                    break
                if self._outcomes(element, subject, middle) == below:
                    low = middle
                else:
                    high = middle
            neat = round(high, 2)
            if fine != 1 and low < neat < high + fine and self._outcomes(element, subject, neat) == above:
                high = neat
            found |= dict.fromkeys((low, high))
        return sorted(found)

    def _outcomes(self, element: Element, subject: str, value: float) -> object:
        situation = self._supposing.situation((Reply(element.name, subject, point(value)),))
        return frozenset(situation.changed.items()), situation.standing, situation.contradicts

    def _grouped(
        self, element: Element, subject: str, values: list[float], *, by_outcome: bool
    ) -> list[Answer]:
        """Values in ascending order, neighbours that are taken alike joined to one class."""
        groups: list[tuple[object, list[float]]] = []
        for value in values:
            alike: object = self._taken(element, point(value)), self._said(element, value)
            if by_outcome:
                alike = alike, self._outcomes(element, subject, value)
            if groups and groups[-1][0] == alike:
                groups[-1][1].append(value)
            else:
                groups.append((alike, [value]))
        return [
            Answer(Reply(element.name, subject, point(some[len(some) // 2])), some[0], some[-1])
            for _, some in groups
        ]

    def _said(self, element: Element, value: float) -> tuple[bool, ...]:
        """Which ranges that details allow a number lies in."""
        relation = self._supposing.rule_set.relations.get(element.name)
        found = []
        for each in relation.implied if relation else ():
            if each.limits is not None:
                low, high = each.limits.low, each.limits.high
                found.append((low is None or value >= low) and (high is None or value <= high))
        return tuple(found)


def _whole(test: Compare) -> bool:
    """Whether a test has all its operands, and names no disc that is only known where it is read."""
    return all(limit != "this_disc" for limit in test.limits)
