"""Laws of intervals, bounds, curves and counts, over made-up data."""

from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.outcomes.document import counts_of
from candidacy.outcomes.intervals import clopper_pearson, wilson
from candidacy.outcomes.responding import ANSWERS, Answer, fall_meets, response
from candidacy.outcomes.survival import kaplan_meier
from candidacy.rules.outcome_files import ResponseTest

of = st.integers(1, 400)
shares = of.flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
answers = st.lists(st.sampled_from(sorted(ANSWERS)), max_size=60)


@given(shares)
def test_an_interval_stays_inside_and_holds_the_share(counts: tuple[int, int]) -> None:
    count, people = counts
    for interval in (wilson(count, people), clopper_pearson(count, people)):
        assert 0 <= interval.low <= count / people <= interval.high <= 1


@given(answers)
def test_bounds_hold_what_is_known_and_lose_nobody(found: list[Answer]) -> None:
    counted = response(found)
    assert counted.people == len(found) == counted.known + counted.unknown + counted.pending
    if counted.complete.share is not None:
        assert counted.worst.share is not None
        assert counted.best.share is not None
        assert counted.worst.share <= counted.complete.share <= counted.best.share
    assert response(found[::-1]) == counted


@settings(max_examples=40)
@given(st.lists(st.integers(1, 400), min_size=1, max_size=40))
def test_without_censoring_the_curve_is_the_naive_share(days: list[int]) -> None:
    curve = kaplan_meier(days, [True] * len(days))
    for day in days:
        assert abs(curve.free_at(day) - sum(each > day for each in days) / len(days)) < 1e-9


@given(answers, st.integers(3, 20))
def test_masked_counts_tell_no_small_count(found: list[Answer], below: int) -> None:
    """Shown together, the counts of a row fit any small count in it, as `masked` promises."""
    counted = response(found)
    shown = counts_of(counted, below)
    for name in ("responded", "not_responded", "unknown", "pending", "known", "people"):
        assert isinstance(shown[name], str)
        if shown[name].isdigit():
            assert int(shown[name]) % below == 0
    failed = counted.known - counted.responded
    if 0 < failed < below:
        assert shown["not_responded"] == f"<{below}"
        assert shown["complete"] is None
        if counted.known >= below and counted.responded >= below:
            # the sum and its other part still leave every small count open
            high = int(shown["known"]) + below - 1 - int(shown["responded"])
            low = int(shown["known"]) - (int(shown["responded"]) + below - 1)
            assert low <= 1
            assert high >= below - 1


@given(st.floats(0, 100), st.floats(0, 100), st.integers(1, 60))
def test_a_strict_fall_asks_for_more(before: float, after: float, limit: int) -> None:
    at_least = fall_meets(ResponseTest(measures=("m",), fall_percent_at_least=limit), before, after)
    above = fall_meets(ResponseTest(measures=("m",), fall_percent_above=limit), before, after)
    assert (at_least is None) == (above is None) == (before == 0)
    assert not above or at_least
