"""Which missing facts settle a standing.

Definitions
-----------
*Answers.* A missing fact may get any of the answers that the rule set can tell apart (`candidacy.settle.answers`) and that do
not contradict the rest of the record, or stay unknown.

*Settled.* Some facts with their answers settle the standing if, once they are known, the standing is the same whatever
becomes known of any other fact, and whatever stays unknown. "Whatever becomes known" is judged as the reading itself
judges it: a criterion that is open may come to pass or to fail, a conflict of the record may be settled either way. So a standing
that is called settled stays in every completion of the record; one that only a contradiction inside or between criteria
would keep from changing is not called so.

*Settles whatever the answers are.* A set of facts for which every combination of answers settles. It is minimal where no
fact of it can be left out, and smallest where no set of fewer facts does the same.

*Ends the matter.* A combination of answers that settles, of which no part does.

*Decides but for an emergency.* The same, but a sign of an emergency that is still unknown could yet make the case urgent.

Where a search stops at a bound, its result says so. Of an urgent case nothing is worked out: the act comes first.
"""

from msgspec import Struct

from candidacy.assessment.assess import Assessment
from candidacy.assessment.missing import Missing
from candidacy.rules.vocabulary import Standing
from candidacy.settle.endings import Ending, endings, safety_open
from candidacy.settle.guaranteed import Guaranteed, guaranteed
from candidacy.settle.search import Search
from candidacy.settle.steps import Step, steps
from candidacy.settle.suppose import Supposing


class Settle(Struct, frozen=True):
    """What would settle the standing of one case.

    Attributes
    ----------
    settled
        Whether no missing fact can change the standing.
    emergency_open
        Whether criteria of possible emergencies are open.
    safety_open
        Whether criteria that forbid an injection, or may be an emergency, are open: they are asked before any injection, also
        where no answer changes the standing.
    guaranteed
        Sets of facts that settle it whatever the answers are; nothing where it is settled.
    endings
        Answers that end the matter, the shortest first; ``endings_bounded`` where not every pair of answers was looked at.
    first
        What to ask first, and then; ``steps_cut`` where the tree was cut short.
    unasked
        Missing facts that could decide of which no answer could be looked at: contradictions, which are settled at their
        source, and facts that only a new test can change.
    sampled
        Facts of which the answers may not be all that can be told apart.
    """

    standing: Standing
    settled: bool
    emergency_open: bool = False
    safety_open: bool = False
    guaranteed: Guaranteed | None = None
    endings: tuple[Ending, ...] = ()
    endings_bounded: bool = False
    first: Step | None = None
    steps_cut: bool = False
    unasked: tuple[Missing, ...] = ()
    sampled: tuple[Missing, ...] = ()


def settle(assessment: Assessment) -> Settle:
    """What would settle the standing of an assessed case.

    Raises
    ------
    EngineError
        If a law of the engine is broken.
    """
    standing = assessment.standing
    if standing == "urgent":
        return Settle(standing, settled=True)
    supposing = Supposing(assessment)
    if supposing.now.settled:
        return Settle(standing, settled=True, safety_open=safety_open(supposing, supposing.now))
    search = Search.of(supposing)
    short, bounded = endings(search)
    first, cut = steps(search)
    return Settle(
        standing,
        settled=False,
        emergency_open=_emergency_open(supposing),
        safety_open=safety_open(supposing, supposing.now),
        guaranteed=guaranteed(search),
        endings=short,
        endings_bounded=bounded,
        first=first,
        steps_cut=cut,
        unasked=search.unasked,
        sampled=tuple(q.missing for q in search.questions if not q.exact),
    )


def _emergency_open(supposing: Supposing) -> bool:
    """Whether a criterion of a possible emergency is open."""
    return any(supposing.reads.forces[name] == "stop" for name, _ in supposing.open(supposing.now))
