"""Which disc: of the recorded discs, which pass, which fail, and which pass or are positive though nobody considers them.

It reads standings that an assessment has already; only to say whether another disc would help does it assess
the case again, as if that disc alone were considered.
"""

from msgspec import Struct

from candidacy.assessment.assessed import Assessed
from candidacy.assessment.outlook import outlook
from candidacy.assessment.results import DiscResult
from candidacy.case.facts import Fact
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Members, Options
from candidacy.rules.vocabulary import STANDINGS, Standing

_DECIDING = ("stop", "absolute", "relative")
# Groups of criteria that choose among discs; to pass others (waiting times, a complete report) recommends no disc.
_CHOOSING = ("which_disc", "disc_source")
# From the worst to the best standing, as they are declared.
_RANK = {standing: place for place, standing in enumerate(STANDINGS)}


class OtherDisc(Struct, frozen=True):
    """A disc that passes every disc criterion and is not known to be considered.

    ``alone`` is the standing the case would have if this disc alone were considered; ``None`` where it was not asked.
    ``name`` is what the rule set calls it.
    """

    level: str
    considered: Truth
    alone: Standing | None = None
    name: str = ""


class DiscChoice(Struct, frozen=True):
    """The recorded discs of a case by what a reader must know to choose among them.

    Attributes
    ----------
    judged
        Whether the rule set has deciding criteria that choose among discs and applied to one of them.
    passing, failing, waiting
        Discs known to be considered: they pass every disc criterion, fail one, or wait for facts.
    others
        Discs that pass every disc criterion and are not known to be considered.
    positive
        Discs with a positive discography, under the definition in use, that are not known to be considered.
    unsettled
        Discs of which it is not known whether they are considered.
    helpful
        Of ``others``, those that would give the case a better standing.
    """

    judged: bool
    passing: tuple[str, ...]
    failing: tuple[DiscResult, ...]
    waiting: tuple[str, ...]
    others: tuple[OtherDisc, ...]
    positive: tuple[str, ...]
    unsettled: tuple[str, ...]
    helpful: tuple[str, ...]


def disc_choice(assessment: Assessed) -> DiscChoice:
    """Sort the recorded discs of an assessment."""
    passed = {disc.level for disc in assessment.discs if _passes(assessment, disc)}
    considered = [disc for disc in assessment.discs if disc.considered is Truth.MET]
    rest = [disc for disc in assessment.discs if disc.considered is not Truth.MET]
    passing = tuple(disc.level for disc in considered if disc.level in passed)
    others = tuple(OtherDisc(disc.level, disc.considered) for disc in rest if disc.level in passed)
    if others and not passing and assessment.standing not in ("urgent", "candidate"):
        others = tuple(_alone(assessment, other) for other in others)
    return DiscChoice(
        judged=any(_judged(assessment, disc) for disc in assessment.discs),
        passing=passing,
        failing=tuple(
            d for d in considered if d.decision.standing in ("urgent", "not_candidate", "borderline")
        ),
        waiting=tuple(d.level for d in considered if d.decision.standing == "incomplete"),
        others=others,
        positive=_positive(assessment, [disc.level for disc in rest]),
        unsettled=tuple(disc.level for disc in rest if disc.considered is Truth.UNKNOWN),
        helpful=tuple(
            o.level
            for o in others
            if o.alone is not None and _RANK[o.alone] > _RANK[assessment.decision.standing]
        ),
    )


def _judged(assessment: Assessed, disc: DiscResult) -> bool:
    """Whether a deciding criterion that chooses among discs applied to one; without it, a standing recommends nothing."""
    return any(
        result.resolved.force in _DECIDING
        and result.resolved.criterion.group in _CHOOSING
        and result.evaluation.applies is not Truth.NOT_MET
        for result in assessment.of_subject(disc.level)
    )


def _passes(assessment: Assessed, disc: DiscResult) -> bool:
    return disc.decision.standing == "candidate" and _judged(assessment, disc)


def _positive(assessment: Assessed, levels: list[str]) -> tuple[str, ...]:
    found = []
    for level in levels:
        value = assessment.view.fact("discography_class", level).value
        if isinstance(value, Options) and value.codes == {"positive"}:
            found.append(level)
    return tuple(found)


def _alone(assessment: Assessed, other: OtherDisc) -> OtherDisc:
    """With the standing of the case if this disc alone were considered, everything else as recorded."""
    facts = assessment.case.facts
    one = frozenset((other.level,))
    told = facts.patient.get("discs_under_consideration")
    supposed = (
        replace(told, value=Members(one, one), why=None)
        if told is not None
        else Fact("discs_under_consideration", "patient", Members(one, one))
    )
    patient = {**facts.patient, "discs_under_consideration": supposed}
    case = replace(assessment.case, facts=replace(facts, patient=patient))
    found = assessment.again(case)
    return replace(other, alone=found.standing, name=outlook(found).name)
