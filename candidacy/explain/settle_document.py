"""The published shape of what would settle a standing and of what would change it."""

from typing import Literal

from candidacy.explain.part import Part
from candidacy.rules.vocabulary import Standing


class AskedInfo(Part):
    """A missing fact, as it is asked for.

    ``answers`` are those that are spoken of, in words, or none where it is any. ``anew`` where what the record holds is out of date,
    so that only a new finding answers it.
    """

    element: str
    subject: str
    ask: str
    burden: str
    anew: bool
    answers: str


class EndingInfo(Part):
    """Answers that end the matter.

    Attributes
    ----------
    settled
        Whether nothing else can change the standing; otherwise a sign of an emergency could.
    safety_open
        Whether facts that forbid an injection, or may be an emergency, are still to be asked before one.
    """

    facts: list[AskedInfo]
    standing: Standing
    standing_name: str
    settled: bool
    safety_open: bool
    words: str


class LeadsInfo(Part):
    """Where some answers to a question lead; ``then`` is what to ask next."""

    answers: str
    standing: Standing
    standing_name: str
    settled: bool
    decided: bool
    words: str
    then: "StepInfo | None"


class StepInfo(Part):
    """One question of the tree, where its answers lead, and what to ask if it stays unknown.

    ``contradicting`` are answers that would contradict what the record says elsewhere, in words; empty where there are none.
    """

    asked: AskedInfo
    leads: list[LeadsInfo]
    contradicting: str
    if_unknown: AskedInfo | None


class SettleInfo(Part):
    """What would settle the standing.

    Attributes
    ----------
    settled
        Whether no missing fact can change it.
    ask_first
        At most three lines: what to ask first, and what the answers lead to.
    sets
        Sets of facts that settle it whatever the answers are, each minimal; ``smallest`` where no set of fewer facts does. A list
        settles it only where it is complete as recorded.
    endings
        Answers that end the matter, the shortest first, at most twelve; ``more_endings`` counts the others.
    first
        A tree of at most five questions.
    limits
        What was not looked at, in sentences; empty where the search was complete.
    """

    settled: bool
    ask_first: list[str]
    says: list[str]
    sets: list[list[AskedInfo]]
    smallest: bool
    endings: list[EndingInfo]
    more_endings: int
    first: StepInfo | None
    limits: list[str]


class ChangedInfo(Part):
    """One change of a fact or of time that was tried, in words.

    Attributes
    ----------
    criterion, subject
        What it makes pass.
    element, now, needed
        The fact that changes, what it is, and what it has to be; empty where what has to happen is an act.
    earliest
        The earliest day, or none where no day can be given.
    shown_by
        How it was tried: a ``fact`` was changed, a ``day`` was taken, or ``not_shown``: nothing could be tried.
    """

    criterion: str
    subject: str
    element: str
    now: str
    needed: str
    who: str
    earliest: str | None
    shown_by: Literal["fact", "day", "not_shown"]
    words: str


class LimitInfo(Part):
    """One parameter of the rule set at which an outcome turns; changing it is a committee's act.

    ``boundary`` is the value at which the criterion comes to pass; ``included`` whether it does at that value itself or only
    beyond it. ``allowed`` is false where the parameter may not be set so. ``standing`` is that of the case with it.
    """

    criterion: str
    subject: str
    parameter: str
    meaning: str
    now: str
    boundary: str
    included: bool
    allowed: bool
    standing: Standing | None
    standing_name: str
    words: str


class ChangeInfo(Part):
    """What would change the standing of the case and of each disc that may be treated.

    Attributes
    ----------
    mendable
        What time or an act can mend, each change as small as it may be.
    not_mendable
        What neither mends, by criterion and subject, in words.
    together
        The standing once everything that could be tried has changed, in words.
    limits
        Single parameters of the rule set that decide.
    cautions
        What a reader must know.
    """

    mendable: list[ChangedInfo]
    not_mendable: list[str]
    together: str
    limits: list[LimitInfo]
    says: list[str]
    cautions: list[str]
