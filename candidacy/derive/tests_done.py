"""Whether a test that may be omitted was done: "not done" is an answer, and any result shows that it was."""

from collections.abc import Iterable

from candidacy.case.facts import Fact
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.derive.discography import FINDINGS
from candidacy.foundation.values import FALSE, TRUE, Members, Options, Why

# Facts of which each shows that an anaesthetic test of the disc was done; the results come first.
_RELIEF = ("anaesthetic_relief_reported", "anaesthetic_pain_before", "anaesthetic_pain_after")
_ANAESTHETIC = (
    *_RELIEF,
    "anaesthetic_minutes",
    "anaesthetic_agent",
    "anaesthetic_strength",
    "anaesthetic_volume",
    "anaesthetic_test_date",
)


@derives("discography_done")
def discography_done(inputs: Inputs) -> Options | None:
    """Whether any lumbar disc was injected at discography.

    Yes with a disc in the list of injected discs, a finding of discography at any disc, its date, a manometer or a
    CT after it; no where the list is empty or recorded as not applicable.

    Raises
    ------
    Underivable
        If the list says that none was injected and the rest shows that one was.

    Source: definition of the case record.
    """
    levels = inputs.fact("discography_levels")
    if isinstance(levels.value, Members) and levels.value.certain:
        return TRUE
    shown = _first_known(inputs, ("discography_date",)) or _first_true(
        inputs, ("discography_manometry", "discography_ct_done")
    )
    none = levels.why is Why.NOT_APPLICABLE or levels.value == Members(frozenset(), frozenset())
    if none and shown is None:
        shown = _finding(inputs, FINDINGS)
    if none and shown is not None:
        note = "no disc is said to have been injected at discography, yet its date or findings are recorded"
        raise Underivable(Why.CONFLICTING, note)
    return FALSE if none else None if shown is None else TRUE


@derives("discography_ct_done")
def discography_ct_done(inputs: Inputs) -> Options | None:
    """Whether CT followed the discography: yes with a grade of the annulus at any disc, which is read on CT.

    Source: common practice; the grades describe the CT after a discogram, as recalled of Sachs 1987.
    """
    return None if _finding(inputs, ("discography_fissure_grade",)) is None else TRUE


@derives("anaesthetic_test_done")
def anaesthetic_test_done(inputs: Inputs) -> Options | None:
    """Whether local anaesthetic was put into this disc as a test.

    Yes with any fact of it; no where the reported relief and both pain scores are recorded as not applicable.

    Source: definition of the case record.
    """
    return _done(inputs, _ANAESTHETIC, _RELIEF)


@derives("facet_block_done")
def facet_block_done(inputs: Inputs) -> Options | None:
    """Whether facet or medial branch blocks were done; no where their result is recorded as not applicable.

    Source: definition of the case record.
    """
    return _done(
        inputs, ("facet_block_result", "facet_block_relief", "facet_block_date"), ("facet_block_result",)
    )


@derives("sacroiliac_block_done")
def sacroiliac_block_done(inputs: Inputs) -> Options | None:
    """Whether sacroiliac joint blocks were done; no where their result is recorded as not applicable.

    Source: definition of the case record.
    """
    return _done(
        inputs,
        ("sacroiliac_block_result", "sacroiliac_block_relief", "sacroiliac_block_date"),
        ("sacroiliac_block_result",),
    )


@derives("bone_densitometry_done")
def bone_densitometry_done(inputs: Inputs) -> Options | None:
    """Whether bone density was measured; no where the T-score is recorded as not applicable.

    Source: definition of the case record.
    """
    return _done(inputs, ("bone_density_t_score_lowest",), ("bone_density_t_score_lowest",))


def _done(inputs: Inputs, traces: Iterable[str], results: tuple[str, ...]) -> Options | None:
    """Yes with any trace; no where every result is recorded as not applicable; otherwise open.

    Raises
    ------
    Underivable
        If every result is recorded as not applicable and another trace shows that the test was done.
    """
    shown = _first_known(inputs, traces)
    asked = [inputs.apart(inputs.subject).fact(name) for name in results]
    none = all(fact.why is Why.NOT_APPLICABLE for fact in asked)
    if none:
        inputs.read += asked
        if shown is not None:
            note = "the results are recorded as not applicable, yet other facts of the test are recorded"
            raise Underivable(Why.CONFLICTING, note)
        return FALSE
    return None if shown is None else TRUE


def _first_known(inputs: Inputs, names: Iterable[str]) -> Fact | None:
    """The first known fact; only it counts as read, so that nothing is asked for that need not exist."""
    aside = inputs.apart(inputs.subject)
    found = next((fact for fact in map(aside.fact, names) if fact.value is not None), None)
    if found is not None:
        inputs.read.append(found)
    return found


def _first_true(inputs: Inputs, names: Iterable[str]) -> Fact | None:
    aside = inputs.apart(inputs.subject)
    found = next((fact for fact in map(aside.fact, names) if fact.value == TRUE), None)
    if found is not None:
        inputs.read.append(found)
    return found


def _finding(inputs: Inputs, names: tuple[str, ...]) -> Fact | None:
    """The first of these facts at any disc, as in `_first_known`."""
    for disc in inputs.discs():
        found = _first_known(disc, names)
        if found is not None:
            return found
    return None
