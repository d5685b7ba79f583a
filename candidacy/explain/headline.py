"""The standing in one line: its name, what it would take, and from which day."""

from candidacy.explain.cautions import GENERAL
from candidacy.explain.document import AssessmentDocument, NotYetInfo
from candidacy.explain.labels import STANDING_SYMBOLS
from candidacy.explain.trial import trial_clause


def headline(document: AssessmentDocument) -> str:
    """Sign and name of the standing, then `condition_words`."""
    sign = STANDING_SYMBOLS[document.shown]
    return f"{sign} {document.standing_name}{condition_words(document)}"


def condition_words(document: AssessmentDocument) -> str:
    """What stands after the name of a standing: the day of "not yet", remarks of a candidate that no rule read, and what
    a local trial takes for granted.
    """
    clause = trial_clause(document.rule_set.tried)
    return earliest_words(document.not_yet) + remarks_words(document) + (f" {clause}" if clause else "")


def remarks_words(document: AssessmentDocument) -> str:
    """How many remarks of a candidate no rule read, as it stands after the name; empty where there is none."""
    number = len(document.remarks) if document.standing == "candidate" else 0
    return f", {number} remark{'s' if number > 1 else ''} not read" if number else ""


def earliest_words(not_yet: NotYetInfo | None) -> str:
    """The day of "not yet" as it stands after the name; empty where nothing is waited for."""
    if not_yet is None:
        return ""
    return f", earliest {not_yet.earliest}" if not_yet.earliest else ", no date can be given"


def trial_footer(document: AssessmentDocument) -> str:
    """That a sheet shows a local trial, for the foot of each page; empty where it does not."""
    clause = trial_clause(document.rule_set.tried)
    return f"Local trial, valid only {clause}." if clause else ""


NOT_A_DECISION = GENERAL[0]


def foot_words(document: AssessmentDocument) -> str:
    """The foot of each printed page: a local trial first, then what it is and is not, and what it was made of."""
    d = document
    made_of = (
        f"{d.program}; engine {d.engine}; as of {d.as_of}; rule set {d.rule_set.id} {d.rule_set.version}"
    )
    words = f"{NOT_A_DECISION} {made_of} {d.rule_set.digest}; case {d.case.id} {d.case.digest}"
    return f"{trial_footer(d)} {words}".lstrip()
