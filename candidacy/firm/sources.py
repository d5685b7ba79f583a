"""Which recorded values of a case would be measured or read again, and what a repeat of each may show."""

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from msgspec import Struct

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.facts import Fact
from candidacy.firm.published import Figures, Published, Shelf, Unusable
from candidacy.firm.readers import model, second
from candidacy.firm.repeat import Scale, drawn, repeats
from candidacy.firm.view import Key, RepeatedView
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options, Span, Value
from candidacy.rules.operators import comparison
from candidacy.rules.tree import Compare

PICKS = ("in_use", "smallest", "largest")


class Source(Struct, frozen=True):
    """One recorded value with a published figure.

    Attributes
    ----------
    fact
        The value as recorded.
    figures
        The row in use, and the smallest and largest of any study.
    values
        Values of a repeat that no test tells apart; the recorded one is among the first that holds it. None where the
        value is drawn instead, because something is worked out from it and it has no steps.
    weights
        For each of ``PICKS``, the probability of each of ``values``.
    """

    fact: Fact
    figures: Figures
    values: tuple[Value, ...] = ()
    weights: tuple[tuple[float, ...], ...] = ()

    @property
    def key(self) -> Key:
        return self.fact.element, self.fact.subject

    @property
    def drawn(self) -> bool:
        return not self.values

    def at(self, point: float, pick: int) -> tuple[int, Value]:
        """The repeat at a point of its distribution, and its place among the values."""
        if self.drawn:
            row = self.figures[pick]
            assert isinstance(self.fact.value, Span)
            scale = _scale(catalogue()[self.fact.element], row)
            found = drawn(self.fact.value.low, row.size, scale, point)
            return -1, Span(found, found)
        for place, weight in enumerate(self.weights[pick]):
            if point < weight or place == len(self.values) - 1:
                return place, self.values[place]
            point -= weight
        raise AssertionError(self.key)


def measured(view: View, shelf: Shelf, levels: Iterable[str]) -> dict[Key, tuple[Fact, Figures]]:
    """Recorded values that have a published figure and are exact, by element and subject."""
    found: dict[Key, tuple[Fact, Figures]] = {}
    of_discs = list(levels)
    for element in shelf.elements:
        figures = shelf.of(element)
        if figures is None or isinstance(figures, Unusable):
            continue
        for subject in ["patient"] if catalogue()[element].scope == "patient" else of_discs:
            fact = view.fact(element, subject)
            if _place(fact.value, figures.in_use) is not None:
                found[element, subject] = fact, figures
    return found


def _place(value: Value | None, row: Published) -> Any:
    """The exact recorded number, or the place of the recorded grade; nothing for a range or a grade of no row."""
    if row.kind == "error":
        return value.low if isinstance(value, Span) and value.exact else None
    if isinstance(value, Span):
        return row.grades.index(value.low) if value.exact and value.low in row.grades else None
    if not isinstance(value, Options) or not value.exact:
        return None
    (code,) = value.codes
    # Schizas A1 to A4 were counted together as A
    return next((n for n, grade in enumerate(row.grades) if str(code).startswith(str(grade)) and _same(code, grade, row)),
                None)  # fmt: skip


def _same(code: Any, grade: Any, row: Published) -> bool:
    """Whether a code is a grade, or a finer one of it and no grade of the row itself."""
    return code == grade or (code not in row.grades and str(code)[len(str(grade)) :].isdigit())


def source_of(fact: Fact, figures: Figures, tests: Iterable[Compare], feeds: bool) -> Source:
    """What a repeat may show, as far as the tests that read it can tell.

    Parameters
    ----------
    tests
        The tests that read the element itself.
    feeds
        Whether something else that is read is worked out from it, for which every value counts.
    """
    element = catalogue()[fact.element]
    row = figures.in_use
    compares = [comparison(element, test.op, test.limits) for test in tests if test.op != "known"]
    cuts = [float(limit) for test in tests for limit in test.limits if type(limit) in (int, float)]
    if row.kind == "error":
        assert isinstance(fact.value, Span)
        spread = [_numbers(fact.value.low, each, element, cuts) for each in figures]
        stepless = (
            element.kind != "integer"
            and len({len(s) for s in spread}) == 1
            and not _stepped(fact.value, figures, element)
        )
        if feeds and stepless:
            return Source(fact, figures)
        parts: list[tuple[Value, list[float]]] = _zipped(spread)
    else:
        parts = _graded(fact.value, figures, element)
    return _merged(fact, figures, parts, compares, feeds)


def _stepped(value: Span, figures: Figures, element: Element) -> bool:
    from candidacy.firm.repeat import on_steps

    return on_steps(value.low, _scale(element, figures.in_use))


def _scale(element: Element, row: Published) -> Scale:
    possible = element.possible
    if possible is None:
        return Scale(None, None, row.step)
    return Scale(possible.low, possible.high, row.step)


def _numbers(value: float, row: Published, element: Element, cuts: list[float]) -> list[tuple[float, float]]:
    return [(cell.value, cell.probability) for cell in repeats(value, row.size, _scale(element, row), cuts)]


def _zipped(spread: list[list[tuple[float, float]]]) -> list[tuple[Value, list[float]]]:
    """The same values under each figure, with their three probabilities."""
    every: dict[float, list[float]] = {}
    for place, cells in enumerate(spread):
        for value, share in cells:
            every.setdefault(value, [0.0] * len(spread))[place] += share
    return [(Span(value, value), shares) for value, shares in every.items()]


def _graded(value: Value | None, figures: Figures, element: Element) -> list[tuple[Value, list[float]]]:
    place = _place(value, figures.in_use)
    grades = figures.in_use.grades
    rows = []
    for row in figures:
        joint = model(row.shares, 1 - row.size, ordered=element.ordered or element.kind == "integer")
        rows.append(second(joint, place))
    found: list[tuple[Value, list[float]]] = []
    for number, grade in enumerate(grades):
        shares = [row[number] for row in rows]
        if number == place:
            assert value is not None
            found.append((value, shares))
        elif element.kind == "integer":
            found.append((Span(grade, grade), shares))
        else:
            # of finer codes counted as one grade, the one next to the recorded grade
            codes = [
                c for c in element.codes if c == grade or (c not in grades and str(c).startswith(str(grade)))
            ]
            found.append((Options(frozenset([codes[-1] if number < place else codes[0]])), shares))
    return found


def _merged(
    fact: Fact, figures: Figures, parts: list[tuple[Value, list[float]]],
    compares: list[Callable[[Any], Truth]], feeds: bool,
) -> Source:  # fmt: skip
    """Values that no test tells apart become one, unless something is worked out from them.

    The recorded value stands for those that are told as it is, the likeliest one for the others.
    """

    def sign(value: Value) -> Any:
        return value if feeds else tuple(compare(value) for compare in compares)

    assert fact.value is not None
    groups: dict[Any, list[tuple[Value, list[float]]]] = {}
    for value, shares in parts:
        if any(shares):
            groups.setdefault(sign(value), []).append((value, shares))
    values, sums = [], []
    for told, group in groups.items():
        likeliest = max(group, key=lambda part: part[1][0])[0]
        values.append(fact.value if told == sign(fact.value) else likeliest)
        sums.append([sum(shares[n] for _, shares in group) for n in range(len(PICKS))])
    weights = tuple(tuple(shares[n] for shares in sums) for n in range(len(PICKS)))
    return Source(fact, figures, tuple(values), weights)


def follows_from(view: View, sources: Iterable[Key], read: Iterable[Key]) -> dict[Key, frozenset[Key]]:
    """Facts that are worked out from repeated values, of those that are read and of what they rest on; each with its sources.

    A fact that the record states, or that comes out otherwise when it is worked out anew from the recorded values, because
    details of the record settle it, does not follow.
    """
    keys = set(sources)
    found: dict[Key, frozenset[Key]] = {}

    def rests_on(fact: Fact) -> frozenset[Key]:
        key = fact.element, fact.subject
        if key in keys:
            return frozenset((key,))
        if key in found:
            return found[key]
        if not fact.derived_from or view.states(*key) or not catalogue()[fact.element].derived:
            return frozenset()
        under = frozenset().union(*(rests_on(part) for part in fact.derived_from))
        if under:
            found[key] = under
        return under

    for key in read:
        rests_on(view.fact(*key))
    again = RepeatedView(view, {}, frozenset(found))
    return {key: under for key, under in found.items() if again.fact(*key).value == view.fact(*key).value}


def compare_nodes(nodes: Iterable[Any]) -> Iterator[Compare]:
    """The tests of elements among nodes."""
    return (node for node in nodes if isinstance(node, Compare))
