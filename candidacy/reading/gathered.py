"""What is gathered while a report is read, and what later statements take back of it."""

from candidacy.reading.clause_data import clause_data
from candidacy.reading.coverage import Heard
from candidacy.reading.labels import Label
from candidacy.reading.model import ABSENT, Finding, Outside, Span, Statement, Unplaced
from candidacy.reading.place import UNDER_HEADING
from candidacy.reading.unsaid import Unsaid

_NOT_NAMED = ("unplaced", "carried")
"""How a finding is placed whose own words name no disc."""


class Gathered:
    """What is gathered while a report is read.

    ``astray`` says that something was said of a disc that cannot be told: of which discs "the others" are is open then;
    ``study`` lists statements that may speak of the study itself, ``withdrawn`` what clauses say that cannot be
    trusted: nothing of it is asserted, but a red flag among it is raised all the same.
    """

    __slots__ = (
        "astray",
        "described",
        "findings",
        "heard",
        "label",
        "left_over",
        "named",
        "seen",
        "study",
        "unsaid",
        "withdrawn",
    )

    def __init__(self) -> None:
        self.astray = False
        self.label = Label()
        self.findings: list[Finding] = []
        self.withdrawn: list[Finding] = []
        self.unsaid: list[Unsaid] = []
        self.left_over: list[Unplaced] = []
        self.named: set[str] = set()
        self.described: set[str] = set()
        self.study: list[Statement] = []
        self.heard: dict[int, Heard] = {}
        self.seen: list[Outside] = []


def take_back(number: int, section: str, out: Gathered) -> None:
    """Withdraw what a statement asserts to be there, since the one behind it takes it back."""
    said = [f for f in out.findings if f.statement == number and f.section == section]
    lost = [f for f in said if f.status == "present"]
    if lost:
        out.findings = [f for f in out.findings if f not in lost]
        out.withdrawn += lost
        span = Span(min(f.evidence.start for f in lost), max(f.evidence.end for f in lost))
        out.left_over.append(Unplaced(span, clause_data()["reasons"]["taken_back"]))


def not_of_all(out: Gathered) -> list[Finding]:
    """Leave open of which disc a denial is that names none, where a withdrawn clause speaks of the same thing."""
    kinds = {f.kind for f in out.withdrawn}
    if not kinds:
        return out.findings
    return [
        f._replace(disc="", placed=UNDER_HEADING, place=None)
        if f.kind in kinds and f.status == ABSENT and f.placed in _NOT_NAMED
        else f
        for f in out.findings
    ]
