"""One row for one assessment, for tables of many cases."""

from candidacy.explain.document import AssessmentDocument
from candidacy.explain.record import flags
from candidacy.foundation.errors import CandidacyError, Code, InputError

# Columns in their order; every row has all of them, and an empty cell says that there is nothing to say. `invented` is "yes"
# for demonstration data.
COLUMNS = (
    "file",
    "id",
    "invented",
    "standing",
    "standing_name",
    "look_at_first",
    "why",
    "discs_considered",
    "discs_passing",
    "missing",
    "first_ask",
    "first_ask_element",
    "first_ask_subject",
    "earliest",
    "as_of",
    "rule_set",
    "rule_set_version",
    "rule_set_status",
    "in_place_of_shipped",
    "rule_set_digest",
    "case_digest",
    "error",
)
Row = dict[str, str | int | None]


def row_of(file: str, document: AssessmentDocument) -> Row:
    """An assessment as a row; ``missing`` counts facts that could change the standing."""
    deciding = [m for m in document.missing if m.weight != "no"]
    first = deciding[0] if deciding else None
    return _whole(
        file=file,
        id=document.case.id,
        invented="yes" if document.case.invented else "",
        standing=document.shown,
        standing_name=document.standing_name,
        look_at_first="; ".join(flags(document)),
        why=document.reason[0].split(": ", 1)[1].rstrip("."),
        discs_considered=" ".join(d.level for d in document.discs if d.considered == "met"),
        discs_passing=" ".join(document.which_disc.passing),
        missing=len(deciding),
        first_ask=first.ask if first else "",
        first_ask_element=first.element if first else "",
        first_ask_subject=first.subject if first else "",
        earliest=(document.not_yet.earliest or "") if document.not_yet else "",
        as_of=document.as_of,
        rule_set=document.rule_set.id,
        rule_set_version=document.rule_set.version,
        rule_set_status=document.rule_set.status,
        in_place_of_shipped="; ".join(f"{each.kind} {each.id}" for each in document.rule_set.replaced),
        rule_set_digest=document.rule_set.digest,
        case_digest=document.case.digest,
    )


def failed_row(file: str, error: CandidacyError) -> Row:
    """A row for a case that could not be assessed: the first problem, and how many there are."""
    if not isinstance(error, InputError):
        return _whole(file=file, error=f"{Code.INTERNAL.value} {error}")
    problem = error.problems[0]
    place = f" (line {problem.line})" if problem.line else ""
    more = f", and {len(error.problems) - 1} more" if len(error.problems) > 1 else ""
    said = " ".join(f"{problem.message} {problem.field}".split())
    return _whole(file=file, error=f"{problem.code.value} {said}{place}{more}")


def _whole(**cells: str | int) -> Row:
    return {name: cells.get(name, None if name == "missing" else "") for name in COLUMNS}
