"""What a discography shows: discs injected, pressures, the published pressure band, and relief by anaesthetic."""

from candidacy.case.catalogue import catalogue
from candidacy.derive.arithmetic import common, minus, percent_fall
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.truth import Truth, of
from candidacy.foundation.values import Members, Options, Span, Why, truth_of

# Facts of which one is enough to show that a disc was injected.
FINDINGS = (
    "discography_role",
    "discography_concordance",
    "discography_pain_nrs",
    "discography_opening_pressure",
    "discography_pain_pressure",
    "discography_peak_pressure",
    "discography_volume",
    "discography_end_point",
    "discography_fissure_grade",
    "discography_leak",
)


@derives("discography_levels")
def discography_levels(inputs: Inputs) -> Members | None:
    """Discs that have a finding of discography; others may have been injected too, so the list stays open.

    Source: definition of the case record.
    """
    certain = set()
    for disc in inputs.discs():
        aside = inputs.apart(disc.subject)
        shown = next((fact for fact in map(aside.fact, FINDINGS) if fact.value is not None), None)
        if shown is not None:
            inputs.read.append(shown)
            certain.add(disc.subject)
    return Members(frozenset(certain), None) if certain else None


@derives("discography_pressure_above_opening")
def discography_pressure_above_opening(inputs: Inputs) -> Span | None:
    """Pressure at pain minus opening pressure, in psi.

    Not applicable where no pain occurred (the pressure at pain is recorded as such).

    Source: common practice; the same limit is printed both ways, so both numbers are kept
    (``spine_questions_page``, ``derby_2026``).
    """
    return _above_opening(inputs, "discography_pain_pressure")


@derives("pressure_category")
def pressure_category(inputs: Inputs) -> Options | None:
    """Pressure band at concordant pain, by the table ``discography_pressure_bands``.

    Normal where no pain occurred at any tested pressure. Not applicable to pain that is not concordant, and
    above the highest band.

    Source: Derby, Spine 1999;24:364-71 (``derby_1999``), recalled.
    """
    painless = painless_disc(inputs)
    if painless is Truth.MET:
        return Options(frozenset(("normal",)))
    concordant = concordant_pain(inputs)
    if concordant is Truth.NOT_MET and painless is Truth.NOT_MET:
        raise Underivable(Why.DOES_NOT_APPLY, "the pain was not concordant")
    above = inputs.span("discography_pressure_above_opening")
    if above is None or concordant is not Truth.MET:
        return None
    found: set[str | bool] = set()
    highest = 0.0
    for row in inputs.table("discography_pressure_bands").values():
        band = Span(row["low"], row["high"], row["low_left_out"], row["high_left_out"])
        highest = max(highest, band.high)
        if common(above, band) is not None:
            found.add(row["category"])
    if above.low > highest:
        raise Underivable(Why.DOES_NOT_APPLY, "above the highest published band")
    return None if above.high > highest else Options(frozenset(found))


@derives("anaesthetic_relief")
def anaesthetic_relief(inputs: Inputs) -> Span | None:
    """100 x (pain before - pain after) / pain before, in percent; negative when worse.

    Where the two scores are not both known, the relief as reported; where it stands beside them everything between the two,
    and no value if they lie further apart than rounding explains. Not interpretable once contrast has left
    the disc: the anaesthetic may then act outside it. No value while it is unknown whether contrast left. Not
    applicable without pain before.

    Source: rule common practice, on the concern of Bartynski 2006 (``bartynski_2006``); no limit of relief is
    validated.
    """
    before, after = inputs.span("anaesthetic_pain_before"), inputs.span("anaesthetic_pain_after")
    leak = left_the_disc(inputs)
    if leak is Truth.MET:
        raise Underivable(Why.NOT_INTERPRETABLE, "contrast left the disc, so relief may come from outside it")
    reported = _reported_relief(inputs)
    if before is not None and before.high <= 0:
        if reported is not None:
            raise Underivable(
                Why.CONFLICTING, "relief is reported, yet there was no pain before the anaesthetic"
            )
        raise Underivable(Why.DOES_NOT_APPLY, "there was no pain before the anaesthetic")
    if leak is Truth.UNKNOWN:
        return None
    fall = None if before is None or after is None else percent_fall(before, after)
    if reported is None or fall is None:
        return fall if reported is None else reported
    slack = catalogue()["anaesthetic_relief_reported"].agrees_within
    if reported.low > fall.high + slack or fall.low > reported.high + slack:
        raise Underivable(Why.CONFLICTING, "the relief as reported is not that of the two scores")
    return Span(min(reported.low, fall.low), max(reported.high, fall.high))


def _reported_relief(inputs: Inputs) -> Span | None:
    """Relief as reported; it counts as read only where there is one, so that the scores are asked for first."""
    fact = inputs.apart(inputs.subject).fact("anaesthetic_relief_reported")
    if not isinstance(fact.value, Span):
        return None
    inputs.read.append(fact)
    return fact.value


def left_the_disc(inputs: Inputs) -> Truth:
    """Whether contrast left the disc: as stated, or by an end point or fissure grade that means it.

    Raises
    ------
    Underivable
        If a leak is denied and shown at once.
    """
    stated = truth_of(inputs.value("discography_leak"))
    grade = inputs.span("discography_fissure_grade")
    grades = inputs.table("discogram_fissure_grades")
    torn = grade is not None and grade.exact and grades[str(int(grade.low))]["leak"]
    shown = torn or inputs.code("discography_end_point") == "leak"
    if shown and stated is Truth.NOT_MET:
        note = "a leak is denied, yet the end point or the fissure grade means that contrast left the disc"
        raise Underivable(Why.CONFLICTING, note)
    return Truth.MET if shown else stated


def painless_disc(inputs: Inputs) -> Truth:
    """Whether the injection of this disc caused no pain at all.

    Raises
    ------
    Underivable
        If the score and the answer about concordance contradict each other, or sources of either do.
    """
    inputs.refuse_conflicts("discography_concordance", "discography_pain_nrs")
    concordance, pain = inputs.options("discography_concordance"), inputs.span("discography_pain_nrs")
    by_answer = Truth.UNKNOWN if concordance is None else concordance.one_of(frozenset(("none",)))
    by_score = Truth.UNKNOWN if pain is None else pain.at_most(0)
    if by_answer is Truth.UNKNOWN or by_score is Truth.UNKNOWN:
        return by_score if by_answer is Truth.UNKNOWN else by_answer
    if by_answer is not by_score:
        note = f"the pain score at {inputs.subject} and the answer about concordance contradict each other"
        raise Underivable(Why.CONFLICTING, note)
    return by_answer


def concordant_pain(inputs: Inputs) -> Truth:
    """Whether the provoked pain is the usual one, by the codes of the setting ``discography_concordant``."""
    concordance = inputs.options("discography_concordance")
    if concordance is None:
        return Truth.UNKNOWN
    return concordance.one_of(frozenset(inputs.setting("discography_concordant")))


def peak_above_opening(inputs: Inputs) -> Span | None:
    """Highest pressure reached minus opening pressure, in psi."""
    return _above_opening(inputs, "discography_peak_pressure")


def too_deeply_sedated(inputs: Inputs) -> Truth:
    """Whether sedation was too deep for an answer about pain, where the setting says that this matters."""
    if not inputs.setting("discography_deep_sedation_invalidates"):
        return of(False)
    depth = inputs.options("discography_sedation")
    return Truth.UNKNOWN if depth is None else depth.one_of(frozenset(("deep",)))


def _above_opening(inputs: Inputs, element: str) -> Span | None:
    opening, pressure = inputs.span("discography_opening_pressure"), inputs.span(element)
    if opening is None or pressure is None:
        return None
    difference = minus(pressure, opening)
    if difference.high < 0:
        raise Underivable(Why.CONFLICTING, "the pressure lies below the opening pressure")
    return common(difference, Span(0, max(0.0, difference.high)))
