"""Totals and published bands of the ODI, PHQ-9 and GAD-7. Item wording is neither shipped nor needed."""

from collections.abc import Callable, Mapping
from typing import Any

from candidacy.case.facts import Fact
from candidacy.derive.arithmetic import common, corners, tidy, total
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.values import Options, Span, Why

# A record may say of an item that the form holds no answer; any other gap leaves open what was answered.
_BLANK = frozenset((Why.NOT_STATED, Why.NOT_ASKED, Why.NOT_APPLICABLE))
_ODI = tuple(f"odi_item{number + 1}" for number in range(10))
_PHQ9 = tuple(f"phq9_item{number + 1}" for number in range(9))


@derives("odi_percent")
def odi_percent(inputs: Inputs) -> Span | None:
    """100 x sum / (highest score per section x sections answered), in percent, 0 to 100.

    Each section left blank lowers the denominator; with more blank sections than the table
    ``questionnaires`` allows there is no score. A section that is simply not in the record may have been
    answered or not, which gives a range. From the ten sections, or from their sum and the number answered.

    Source: ODI scoring handout (``odi_form``); refusal beyond two blank sections is common practice.
    """
    rule = inputs.table("questionnaires")["odi"]
    scale = 100 / rule["highest_per_item"]
    return _scaled_mean(inputs, _ODI, ("odi_items_total", "odi_items_answered"), rule, scale)


@derives("phq9_total")
def phq9_total(inputs: Inputs) -> Span | None:
    """Sum of nine items of 0 to 3, 0 to 27; up to two blank items take the mean of the answered ones.

    Not rounded. More blank items give no score.

    Source: Kroenke 2001 (``kroenke_2001``); the rule for blank items is common practice.
    """
    rule = inputs.table("questionnaires")["phq9"]
    return _scaled_mean(inputs, _PHQ9, ("phq9_items_total", "phq9_items_answered"), rule, rule["items"])


@derives("odi_band")
def odi_band(inputs: Inputs) -> Options | None:
    """Published band of the Oswestry score; all bands that an imprecise score may be in.

    The printed bands leave gaps between whole numbers; the setting ``odi_band_edge`` closes them.

    Source: ODI scoring handout (``odi_form``).
    """
    return _band(inputs, "odi", "odi_percent", inputs.setting("odi_band_edge"))


@derives("phq9_band")
def phq9_band(inputs: Inputs) -> Options | None:
    """Published band of the PHQ-9 total; 5, 10, 15 and 20 open the bands.

    Source: Kroenke 2001 (``kroenke_2001``).
    """
    return _band(inputs, "phq9", "phq9_total", "lower_band_ends_before_next")


@derives("gad7_band")
def gad7_band(inputs: Inputs) -> Options | None:
    """Published band of the GAD-7 total; 5, 10 and 15 open the bands.

    Source: Spitzer 2006 as given in a secondary page (``phq_gad_digest``).
    """
    return _band(inputs, "gad7", "gad7_total", "lower_band_ends_before_next")


def _band(inputs: Inputs, instrument: str, element: str, edge: str) -> Options | None:
    score = inputs.span(element)
    if score is None:
        return None
    rows = [row for row in inputs.table("score_bands").values() if row["instrument"] == instrument]
    return Options(frozenset(str(row["band"]) for row, span in _edges(rows, edge) if common(score, span)))


def _edges(rows: list[Mapping[str, Any]], edge: str) -> list[tuple[Mapping[str, Any], Span]]:
    """The numbers that belong to each band, lowest band first, without gaps."""
    ordered = sorted(rows, key=lambda row: float(row["lowest"]))
    found = []
    for place, row in enumerate(ordered):
        if edge == "upper_edge_in_lower_band":
            below = ordered[place - 1]["highest"] if place else row["lowest"]
            found.append((row, Span(below, row["highest"], place > 0, False)))
        else:
            last = place + 1 == len(ordered)
            above = row["highest"] if last else ordered[place + 1]["lowest"]
            found.append((row, Span(row["lowest"], above, False, not last)))
    return found


def _scaled_mean(
    inputs: Inputs, items: tuple[str, ...], sums: tuple[str, str], rule: Mapping[str, Any], scale: float
) -> Span | None:
    """Mean score of the answered items times a factor: from the items, from their sum and number, or both."""
    by_sum, sum_refused = _tried(lambda: _from_sum(inputs, sums, rule, scale))
    if by_sum is not None and by_sum.exact and not _any_stated(inputs, items):
        return by_sum
    by_items, items_refused = _tried(lambda: _from_items(inputs, items, rule, scale))
    refused = sum_refused or items_refused
    if refused is not None and by_sum is None and by_items is None:
        raise refused
    both = common(by_sum, by_items) if by_sum is not None and by_items is not None else by_sum or by_items
    if refused is not None or (both is None and by_sum is not None):
        raise Underivable(Why.CONFLICTING, "the items and their stated sum do not agree")
    return both


def _tried(score: Callable[[], Span | None]) -> tuple[Span | None, Underivable | None]:
    try:
        return score(), None
    except Underivable as refused:
        return None, refused


def _any_stated(inputs: Inputs, items: tuple[str, ...]) -> bool:
    aside = inputs.apart(inputs.subject)
    return any(aside.fact(name).why is not Why.NOT_RECORDED for name in items)


def _from_sum(inputs: Inputs, sums: tuple[str, str], rule: Mapping[str, Any], scale: float) -> Span | None:
    points, count = inputs.span(sums[0]), inputs.span(sums[1])
    if points is None or count is None:
        return None
    fewest = rule["items"] - rule["most_blank"]
    if count.high < fewest:
        raise Underivable(Why.NOT_INTERPRETABLE, _too_many_blank(rule))
    if points.low > rule["highest_per_item"] * count.high:
        raise Underivable(Why.CONFLICTING, "the sum is higher than the answered items allow")
    if count.low < fewest:
        return None
    score = corners(lambda sum_, number: scale * sum_ / number, points, count)
    return common(score, Span(0, scale * rule["highest_per_item"]))


def _from_items(inputs: Inputs, items: tuple[str, ...], rule: Mapping[str, Any], scale: float) -> Span | None:
    facts: list[Fact] = [inputs.fact(name) for name in items]
    scores = [fact.value for fact in facts if isinstance(fact.value, Span)]
    blank = sum(fact.value is None and fact.why in _BLANK for fact in facts)
    open_ = len(items) - len(scores) - blank
    if blank > rule["most_blank"]:
        raise Underivable(Why.NOT_INTERPRETABLE, _too_many_blank(rule))
    if blank + open_ > rule["most_blank"]:
        return None
    if blank:
        inputs.say(f"{blank} blank, scored over the {len(items) - blank} answered")
    known, most = total(scores), rule["highest_per_item"]
    count = len(scores)
    # Each open item was answered lowest, answered highest, or left blank.
    low = min(known.low / (count + answered) for answered in range(open_ + 1))
    high = max((known.high + most * answered) / (count + answered) for answered in range(open_ + 1))
    return Span(tidy(scale * low), tidy(scale * high))


def _too_many_blank(rule: Mapping[str, Any]) -> str:
    return f"more than {rule['most_blank']} items are blank, so there is no score"
