"""The assessment as a document: the published JSON shape, from which text and pages are made.

Order of keys and rows is fixed, so equal assessments give equal bytes.
"""

from typing import Literal

from candidacy.assessment.outlook import How
from candidacy.explain.cited_document import CitationInfo, ParameterInfo, SourceInfo
from candidacy.explain.firm_document import FirmInfo
from candidacy.explain.found import Shown
from candidacy.explain.holds_document import HoldsInfo
from candidacy.explain.missing_document import MissingRows
from candidacy.explain.part import Part, TruthWord
from candidacy.explain.settle_document import ChangeInfo, SettleInfo
from candidacy.rules.vocabulary import Force, Group, Outcome, ShownStanding, Standing


class CaseInfo(Part):
    """Which case was assessed; the digest is over the whole record."""

    id: str
    title: str
    invented: bool
    digest: str


class ReplacedInfo(Part):
    """Content of one's own in the place of shipped content of the same id, and why.

    ``version`` and ``replaced_version`` are empty for what bears no version of its own, such as a data element.
    """

    kind: str
    id: str
    version: str
    replaced_version: str
    reason: str


class TriedInfo(Part):
    """A parameter changed for a local trial: what it means, the value tried, and the one it is tried in place of.

    ``shipped`` says whether that one stands in a shipped rule set, or in one of one's own.
    """

    criterion: str
    parameter: str
    meaning: str
    value: str
    instead_of: str
    shipped: bool


class RuleSetInfo(Part):
    """Which rule set was used; the digest covers criteria, parameters, decision rules, settings, tables, relations and
    data elements of one's own. ``extends`` names the rule set it extends, with its version. ``trial`` and ``tried`` hold
    what is changed for a local trial, as the rules write it and in words.
    """

    id: str
    version: str
    title: str
    status: str
    digest: str
    scope: str
    extends: str
    replaced: list[ReplacedInfo]
    trial: list[str]
    tried: list[TriedInfo]


class MendingInfo(Part):
    """What can be done about one criterion that fails or is open.

    Attributes
    ----------
    how
        ``time`` passes, an ``act`` is done, ``discs``: by what mends the discs it counts, ``settle`` for one that is open
        because facts of the record contradict each other, ``ask`` for any other open one, or ``no``.
    act
        What must have happened, as it reads after "after"; of an open one, what to ask for or to settle.
    earliest
        The earliest day, or none where no date can be worked out.
    """

    criterion: str
    subject: str
    how: How
    act: str
    who: str
    earliest: str | None
    words: str


class NotYetInfo(Part):
    """What a case waits for, where everything that keeps it from passing can be mended by time or an act.

    ``earliest`` is the latest of the earliest days; none where one of them has none.
    """

    earliest: str | None
    after: list[MendingInfo]


class FactInfo(Part):
    """A value that was read, or why there is none, and where it came from."""

    element: str
    label: str
    subject: str
    value: str
    known: bool
    why: str | None
    unit: str
    as_written: str
    document: str
    document_kind: str
    date: str
    words: str
    recorded_by: str
    worked_out_from: list[str]
    note: str


class TestInfo(Part):
    """One node of what was read: a test, a join or a count, with its truth and margin to the limit."""

    kind: str
    truth: TruthWord
    subject: str
    element: str
    op: str
    limits: list[str]
    parameters: list[str]
    unit: str
    value: str
    why: str | None
    margin: list[float | None] | None
    age_days: list[float] | None
    words: str
    parts: list["TestInfo"]


class CriterionInfo(Part):
    """Outcome of one criterion for one subject, with everything needed to judge it.

    Attributes
    ----------
    found
        What was found, in words.
    passing
        What it states where it passes: the label of a row with one mark for each disc or rule set.
    shown
        How it is marked: its outcome, or ``does_not_apply``, or ``noted`` and ``not_seen`` for an advisory finding
        that only ``supports``.
    mendable
        What can be done about it, where it fails or is open.
    replaces
        Of a criterion of one's own in the place of a shipped one: which, and why; empty for any other.
    sameness
        What it asks for a case to pass, without its limits: equal for criteria of any id that ask the same thing.
    """

    id: str
    version: str
    title: str
    group: Group
    subject: str
    kind: Literal["inclusion", "exclusion"]
    force: Force
    force_reason: str
    status: str
    outcome: Outcome
    condition: TruthWord
    applies: TruthWord
    found: str
    passing: str
    shown: Shown
    supports: bool
    mendable: MendingInfo | None
    rule: str
    replaces: str
    sameness: str
    because: list[str]
    tests: TestInfo
    applies_tests: TestInfo | None
    parameters: list[ParameterInfo]
    cites: list[CitationInfo]
    why: str
    spread: str
    act: str
    ask_for: str
    cautions: list[str]


class FiredInfo(Part):
    """A decision rule that fired, and what made it fire."""

    rule: str
    means: str
    because: list[str]


class DiscInfo(Part):
    """Standing of one disc; ``shown`` is how it is marked, the standing itself or ``not_yet``."""

    level: str
    considered: TruthWord
    standing: Standing
    standing_name: str
    shown: ShownStanding
    decided_by: str
    fired: list[FiredInfo]


class ConflictInfo(Part):
    """A fact to settle first: the record says two things of it that cannot both be true, or its value is doubtful.

    ``facts`` holds what conflicts, the stated fact first, or the doubtful one; ``question`` is what settles it.
    """

    element: str
    label: str
    subject: str
    says: str
    question: str
    facts: list[FactInfo]


class DisputedInfo(Part):
    """A sign of danger that acts in spite of a denial; ``denials`` are the facts that deny it."""

    fact: FactInfo
    denials: list[FactInfo]


class DangerInfo(Part):
    """A declared sign of danger: the test, why it matters, and where that comes from."""

    test: str
    why: str
    source: str
    at: str
    tag: str


class UnreadInfo(Part):
    """A recorded fact that no criterion of the rule set reads.

    ``dangers`` are the signs of danger its value shows; ``advisory`` is true where only criteria that decide
    nothing read it.
    """

    fact: FactInfo
    dangers: list[DangerInfo]
    advisory: bool


class RemarkInfo(Part):
    """Free text of the record that no rule reads, in its own words, and where it stands."""

    where: str
    text: str


class OtherDiscInfo(Part):
    """A disc that passes every disc criterion and is not known to be considered.

    ``alone`` is the standing of the case if it alone were considered, where that was asked, and ``alone_name`` what the
    rule set calls it.
    """

    level: str
    considered: TruthWord
    alone: Standing | None
    alone_name: str


class WhichDiscInfo(Part):
    """Which recorded discs pass, fail or wait, and which pass or are positive without being considered.

    ``judged`` is false where no deciding criterion of the rule set chooses among discs. ``says`` is the same in sentences.
    """

    judged: bool
    passing: list[str]
    failing: list[str]
    waiting: list[str]
    others: list[OtherDiscInfo]
    positive_not_considered: list[str]
    not_known_whether_considered: list[str]
    says: list[str]


class CompanionInfo(Part):
    """Another rule set, and the standing under it on the same day.

    Attributes
    ----------
    applies
        Whether it applies on this day, with ``because`` in words.
    standing
        ``None`` where it does not apply or could not be assessed; ``problem`` says why it could not. ``standing_name``
        is what that rule set calls it, ``shown`` how it is marked, and ``not_yet`` what it waits for.
    stops
        Whether the whole answer says stop because of it; where only time or an act is wanting, the word is wait.
    answers
        What it answers, in words.
    fails
        What fails already of the patient while other facts are waited for, which alone the standing would say.
    """

    id: str
    title: str
    version: str
    status: str
    digest: str
    answers: str
    applies: bool
    because: str
    standing: Standing | None
    standing_name: str
    shown: ShownStanding | None
    not_yet: NotYetInfo | None
    stops: bool
    reason: list[str]
    problem: str
    fails: tuple[str, ...] = ()


class AssessmentDocument(Part):
    """One case under one rule set as of one day, complete and reproducible.

    ``settings`` are those that were read for a value that was worked out. ``holds`` is there where the rule set
    asks about holding medicines and a procedure date is planned. ``standing_name`` is what the rule set calls the
    standing; ``not_yet`` is there where everything behind a standing ``not_candidate`` or ``borderline`` can be mended.
    ``shown`` is how the standing is marked: itself, or ``not_yet`` where it bears that name.
    ``grounds`` are what the standing rests on, each in words and the first the gravest; ``reason`` sums them up.
    ``stops`` holds a sentence for each companion rule set that says stop, whatever the standing. ``firm`` is there
    where it was asked how firm the answer is; ``settle`` and ``change`` where it was asked what would settle the standing
    and what would change it.
    """

    schema_version: Literal["1"]
    program: str
    engine: str
    as_of: str
    case: CaseInfo
    rule_set: RuleSetInfo
    standing: Standing
    standing_name: str
    shown: ShownStanding
    not_yet: NotYetInfo | None
    decided_by: str
    grounds: list[str]
    reason: list[str]
    next_step: str
    stops: list[str]
    companions: list[CompanionInfo]
    conflicts: list[ConflictInfo]
    disputed: list[DisputedInfo]
    unread: list[UnreadInfo]
    remarks: list[RemarkInfo]
    which_disc: WhichDiscInfo
    fired: list[FiredInfo]
    discs: list[DiscInfo]
    criteria: list[CriterionInfo]
    missing: MissingRows
    facts: list[FactInfo]
    settings: list[ParameterInfo]
    holds: HoldsInfo | None
    notices: list[str]
    cautions: list[str]
    sources: list[SourceInfo]
    firm: FirmInfo | None = None
    settle: SettleInfo | None = None
    change: ChangeInfo | None = None

    def firm_words(self, criterion: str, subject: str) -> str:
        """How firm an outcome is, in words; nothing where it was not asked or nothing is told."""
        found = self.firm.criteria if self.firm is not None else ()
        return next((f.words for f in found if (f.criterion, f.subject) == (criterion, subject)), "")

    def to_json(self) -> str:
        """The document as JSON text, two-space indented, with a final newline."""
        return self.model_dump_json(indent=2) + "\n"
