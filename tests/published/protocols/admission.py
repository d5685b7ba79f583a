"""Published protocols as rule sets: load them, read one clause, and say which demonstration case each would refuse.

``python -m tests.published.protocols.admission`` prints the table as Markdown. For checking and for the
documents only: research eligibility is no treatment indication, and what was not seen of a protocol is left out.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

from candidacy.assessment.assess import assessor_for
from candidacy.case.load import Case, load_case
from candidacy.foundation.dates import day
from candidacy.foundation.errors import CaseError
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.resolved import RuleSet

FOLDER = Path(__file__).resolve().parent
DEMO_CASES = FOLDER.parents[2] / "demo_cases"
REFUSED = "record refused"
NOT_WEIGHED = "danger not weighed"
# What a standing under a protocol says in this table. A protocol has no relative criterion, so what is borderline is a
# recorded danger that none of its clauses seen weighs.
# What was not seen of a protocol is not here: meeting every clause seen is not admission.
WORDS = {
    "candidate": "meets all seen",
    "not_candidate": "refused",
    "incomplete": "open",
    "borderline": NOT_WEIGHED,
}
FOOTNOTE = (
    "Only clauses that were seen; safety clauses were mostly not. Meeting them all is neither admission to a "
    "study nor a reason to treat."
)


@dataclass(frozen=True, slots=True)
class Admission:
    """Answer of one protocol for one case.

    ``because`` names the clauses that refuse or stay open, and the facts that conflict or are not weighed.
    """

    case: str
    protocol: str
    answer: str
    because: tuple[str, ...]


def keys() -> tuple[str, ...]:
    """Keys of the encoded protocols, as in the register of sources."""
    return tuple(sorted(path.parent.name for path in FOLDER.glob("*/ruleset.yaml")))


@cache
def protocol(key: str) -> RuleSet:
    """One protocol as a rule set, loaded by path as a reader would."""
    return load_rule_set(str(FOLDER / key))


def outcome(key: str, criterion: str, case: Case, as_of: date, subject: str) -> str:
    """Outcome of one clause of a protocol for the patient or a disc.

    Raises
    ------
    KeyError
        If the protocol has no such clause about this subject.
    """
    for result in assessor_for(protocol(key)).assess(case, as_of).results:
        if result.id == criterion and result.subject == subject:
            return result.outcome
    raise KeyError(f"{key} has no criterion {criterion} about {subject}")


def admission(case: Case, key: str, as_of: date) -> Admission:
    """Whether a protocol refuses a case, leaves it open, or has no seen clause against it."""
    assessment = assessor_for(protocol(key)).assess(case, as_of)
    wanted = {"not_candidate": "fail", "incomplete": "undetermined"}.get(assessment.standing)
    said = [r.id for r in assessment.results if r.outcome == wanted]
    if assessment.standing == "incomplete":
        said += [fact.element for fact in assessment.conflicts]
    if assessment.standing == "borderline":
        said += [unread.fact.element for unread in assessment.unread if unread.dangers]
    because = tuple(dict.fromkeys(said))
    return Admission(case.record.id, key, WORDS[assessment.standing], because)


def admission_table(paths: Iterable[Path] | None = None) -> list[Admission]:
    """Every protocol's answer for every case, cases and protocols in order of their names.

    A record that cannot be read gives one row with the answer ``record refused``.
    """
    rows: list[Admission] = []
    for path in sorted(DEMO_CASES.glob("*.yaml") if paths is None else paths):
        try:
            case = load_case(path)
        except CaseError as error:
            rows.append(Admission(path.stem, "", REFUSED, (error.problems[0].code.value,)))
            continue
        as_of = day(case.record.as_of or "")
        rows += [admission(case, key, as_of) for key in keys()]
    return rows


def markdown(rows: list[Admission]) -> str:
    """The table for a document: one line a protocol, one column a case."""
    cases = list(dict.fromkeys(row.case for row in rows if row.protocol))
    by_place = {(row.protocol, row.case): row.answer for row in rows}
    lines = ["| protocol | " + " | ".join(cases) + " |", "|---" * (len(cases) + 1) + "|"]
    for key in dict.fromkeys(row.protocol for row in rows if row.protocol):
        lines.append(f"| {key} | " + " | ".join(by_place[key, case] for case in cases) + " |")
    refused = [row.case for row in rows if row.answer == REFUSED]
    if refused:
        lines += ["", "Records refused as contradictory or unclear: " + ", ".join(refused) + "."]
    return "\n".join([*lines, "", FOOTNOTE])


if __name__ == "__main__":
    print(markdown(admission_table()))
