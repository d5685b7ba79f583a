"""Elements worked out from others, one topic a module, each with its formula, units and source."""

from candidacy.derive import (
    anaesthetic,
    counts,
    disc_height,
    discography,
    discography_class,
    grading,
    holds,
    intervals,
    likelihood,
    opioids,
    pain,
    person,
    questionnaires,
    renal,
    slip,
)
from candidacy.derive.base import FORMULAS, Derived, Inputs, Underivable, derives, work_out

__all__ = [
    "FORMULAS",
    "Derived",
    "Inputs",
    "Underivable",
    "anaesthetic",
    "counts",
    "derives",
    "disc_height",
    "discography",
    "discography_class",
    "grading",
    "holds",
    "intervals",
    "likelihood",
    "opioids",
    "pain",
    "person",
    "questionnaires",
    "renal",
    "slip",
    "work_out",
]
