"""What a reading is: findings with the words behind them, what was not understood, what disagrees."""

from typing import NamedTuple

from candidacy.foundation.notebook import table

Value = str | bool | int | float | tuple[str, ...]
"""One value, or the closed set of values the words leave open."""

PRESENT, ABSENT, POSSIBLE = "present", "absent", "possible"
HISTORICAL, RESOLVED, OTHER_PERSON, HYPOTHETICAL = "historical", "resolved", "other_person", "hypothetical"

STATUSES = (PRESENT, ABSENT, POSSIBLE, HISTORICAL, RESOLVED, OTHER_PERSON, HYPOTHETICAL)
"""How a finding is meant. Only ``present`` and ``absent`` say something certain of the patient today."""


APPROXIMATE = "approximate"
"""Kind of modifier by which a measurement is only approximate."""
NOT_READ = ("other", "another_language", "unfilled", "correction", "refused", "table", "row_name")
"""Regions of statements that are not read: another part of the body, and what the gates hold back."""
BODY = ("findings", "impression", "addendum")
"""Sections that say what this study shows."""


class Span(NamedTuple):
    """A stretch of the report text: ``text[start:end]``."""

    start: int
    end: int


class Modifier(NamedTuple):
    """Words that shaped a finding: which kind of change, by which trigger, and where they stand."""

    kind: str
    rule: str
    span: Span


def around(evidence: Span, modifiers: tuple[Modifier, ...]) -> Span:
    """Give the words of something read with every word that shaped it, however far off in its sentence."""
    spans = (evidence, *(m.span for m in modifiers))
    return Span(min(s.start for s in spans), max(s.end for s in spans))


class Finding(NamedTuple):
    """One thing the report says of one disc or of the whole study.

    ``kind`` and ``value`` are the reader's own closed vocabulary (``kinds`` in the data file
    ``to_elements.yaml``); ``disc`` is empty for the whole report and for findings whose place the report
    leaves open (``placed`` tells which). ``severity`` holds the severity words as they were ranked, lowest
    and highest, never a number. ``place`` is the span that named the disc, if one did.
    """

    kind: str
    value: Value
    status: str
    disc: str
    placed: str
    evidence: Span
    place: Span | None
    modifiers: tuple[Modifier, ...]
    severity: tuple[str, ...]
    sides: tuple[str, ...]
    rule: str
    section: str
    statement: int

    @property
    def quoted(self) -> Span:
        """The words to quote: never without a denial or a doubt that belongs to them."""
        return around(self.evidence, self.modifiers)


class Statement(NamedTuple):
    """One sentence, list item or heading line of the report.

    ``order`` is its place in its line, ``fresh`` says a blank line or a new section stands before it,
    ``item`` that its line begins with a bullet or a number, counted from 1 by the columns before it (0: none),
    ``listed`` that the number of a list stands before it within its line, ``column`` where the name of its column stands if it is a cell of a table, ``level`` where its disc stands if that
    heads the column.
    """

    start: int
    end: int
    section: str
    region: str
    line: int
    order: int
    fresh: bool
    item: int
    column: Span | None = None
    level: Span | None = None
    listed: bool = False

    @property
    def span(self) -> Span:
        """Where it stands in the text."""
        return Span(self.start, self.end)


SECTIONS_DIFFER = "findings and impression differ"
TWO_GRADES = "two grades"
TWO_SEVERITIES = "two severities"
"""What a contradiction is about where each side states a value."""


class Contradiction(NamedTuple):
    """Two or more findings that cannot all be right; raised, never resolved."""

    about: str
    disc: str
    kind: str
    findings: tuple[Finding, ...]


class Question(NamedTuple):
    """What a person has to settle: where a finding belongs, what a section is, which of two statements holds.

    ``about`` asks in plain words; ``disc`` is empty and ``kind`` too where it concerns the whole report.
    """

    about: str
    disc: str
    kind: str
    findings: tuple[Finding, ...]


class RedFlag(NamedTuple):
    """A finding that must be looked at first, with the reason it is on top."""

    about: str
    finding: Finding


class Unplaced(NamedTuple):
    """Words that the reader saw but could not use, with the reason."""

    span: Span
    reason: str


class Outside(NamedTuple):
    """Something seen outside the discs: an organ, what is said of it, how it is meant, and the
    words (``words`` are those of the organ and of what is said of it, ``evidence`` runs from one to the other).

    ``kind`` is the kind of finding it also makes, if criteria read one; ``doubt`` says never for
    certain, ``denies`` that its denial is a denial of that finding too. ``danger`` is what it may be a sign of, if that
    is none of the findings that criteria read.
    """

    organ: str
    about: str
    status: str
    evidence: Span
    words: tuple[Span, ...]
    modifiers: tuple[Modifier, ...]
    rule: str
    kind: str
    doubt: bool
    denies: bool
    statement: int
    danger: str = ""

    @property
    def quoted(self) -> Span:
        """The words to quote: never without a denial or a doubt that belongs to them."""
        return around(self.evidence, self.modifiers)


USED, PARTLY, KNOWN, UNREAD = "used", "partly unread", "known", "unread"


class Account(NamedTuple):
    """One sentence, or the layout between two, and what became of it.

    ``state`` is ``used``, ``partly unread``, ``known`` (of no weight, by ``rule``) or ``unread``; ``statement`` is
    the position in `Reading.statements`, -1 for layout; ``findings`` are positions in `Reading.findings`.
    ``outside`` positions in `Reading.outside`, ``why`` is the reason in plain words, ``missed`` what of it was not used, ``danger`` what a word in that
    part would put on top of the reading, if it is one of those.
    """

    span: Span
    state: str
    statement: int
    findings: tuple[int, ...] = ()
    rule: str = ""
    why: str = ""
    missed: tuple[Span, ...] = ()
    danger: str = ""
    outside: tuple[int, ...] = ()


class Mark(NamedTuple):
    """A reservation about a whole report, told before anything read from it.

    ``kind`` is one of `MARKS`; ``about`` says in plain words what is the matter; ``refuses`` that nothing was read
    because of it; ``span`` the words it rests on, if it rests on words; ``next_step`` the way out.
    """

    kind: str
    about: str
    refuses: bool = False
    span: Span | None = None
    next_step: str = ""


MARKS = (
    "language",  # words in another language than English
    "region",  # another part of the body
    "no_level",  # no lumbar disc or vertebra is named
    "withdrawn",  # entered in error, cancelled, void
    "preliminary",
    "amended",
    "status_unknown",
    "replaces",  # earlier versions of the same report were set aside
    "versions",  # several versions, and nothing says which holds
    "addendum",
    "addendum_unread",  # an addendum corrects something that was not read
    "template",  # options or blanks that nobody filled in
    "left_out",  # struck, hidden or deleted words, lines of a message without standing, sections of no use
    "page_without_text",
    "layout",  # text side by side, of which the order is not certain
)
"""Every kind of mark."""


class ExamDate(NamedTuple):
    """The day of the study as the report states it: ``YYYY-MM-DD``, and the words that give it."""

    day: str
    span: Span


class Reading(NamedTuple):
    """Everything read from one report, in the order of the text, red flags apart."""

    text: str
    statements: tuple[Statement, ...]
    findings: tuple[Finding, ...]
    red_flags: tuple[RedFlag, ...]
    contradictions: tuple[Contradiction, ...]
    not_understood: tuple[Unplaced, ...]
    discs_named: tuple[str, ...]
    sections: tuple[str, ...]
    ledger: tuple[Account, ...]
    outside: tuple[Outside, ...]
    questions: tuple[Question, ...]
    marks: tuple[Mark, ...] = ()
    replaced: tuple[Finding, ...] = ()
    addenda: tuple[Span, ...] = ()
    exam_date: ExamDate | None = None

    @property
    def stated_day(self) -> str:
        """The day of the study that the report states, ``YYYY-MM-DD``; empty where it states none."""
        return "" if self.exam_date is None else self.exam_date.day

    @property
    def refusal(self) -> Mark | None:
        """The mark for which nothing was read, if there is one."""
        return next((m for m in self.marks if m.refuses), None)

    def of_addendum(self, finding: Finding) -> bool:
        """Say whether a finding stands in an addendum."""
        return any(s.start <= finding.evidence.start < s.end for s in self.addenda)

    @property
    def unread(self) -> tuple[Account, ...]:
        """Sentences that were not used, or not wholly; those with a word of danger in them come first."""
        rows = (a for a in self.ledger if a.missed)
        return tuple(sorted(rows, key=lambda a: (not a.danger, a.span)))

    @property
    def share_unread(self) -> float:
        """Share of the sentences, 0 to 1, of which something was not used; 0 where there is none."""
        of = [a for a in self.ledger if a.statement >= 0]
        return sum(bool(a.missed) for a in of) / len(of) if of else 0.0

    def __repr__(self) -> str:
        discs = f" at {', '.join(self.discs_named)}" if self.discs_named else ""
        told = [f"{len(self.findings)} findings{discs}", f"{len(self.red_flags)} to look at first"]
        told += [
            f"{len(self.questions)} questions",
            f"{len(self.unread)} sentences not wholly read",
        ]
        return f"Reading({'; '.join(told)})"

    def _repr_html_(self) -> str:
        rows = [
            (f.disc or f.placed, f.kind, " or ".join(map(str, f.value)) if isinstance(f.value, tuple) else f.value,
             f.status, self.words(f.quoted))
            for f in self.findings
        ]  # fmt: skip
        notes = [f"{'Refused' if each.refuses else 'Mark'}: {each.about}" for each in self.marks]
        notes += [
            f"Look at first: {flag.about}: {self.words(flag.finding.quoted)}" for flag in self.red_flags
        ]
        notes += [
            f"Seen, outside the discs ({each.status}): {each.organ}, {each.about}: {self.words(each.quoted)}"
            for each in self.outside
        ]
        notes += [f"Question: {each.disc or 'whole report'}: {each.about}" for each in self.questions]
        for each in self.unread:
            danger = f", holds a word of: {each.danger}" if each.danger else ""
            notes.append(f"Not read ({each.why}{danger}): {self.words_missed(each)}")
        notes.append("Read by rules from the words alone; a person accepts each finding.")
        return table("Imaging report", ("disc", "finding", "value", "status", "words"), rows, notes)

    def words_missed(self, account: Account) -> str:
        """Give the words of a sentence that were not used, blanks as one; passages apart by an ellipsis."""
        return " … ".join(" ".join(self.words(s).split()) for s in account.missed)

    def words(self, span: Span) -> str:
        """Give the exact words of a span."""
        return self.text[span.start : span.end]
