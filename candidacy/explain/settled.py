"""A document with what would settle its standing and what would change it; worked out only where it is asked for."""

from candidacy.assessment.assess import Assessment
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.settle import settle_info
from candidacy.explain.would_change import change_info
from candidacy.settle.changing import change
from candidacy.settle.settling import settle


def with_settle(document: AssessmentDocument, assessment: Assessment) -> AssessmentDocument:
    """The document of an assessment, with both added."""
    return document.model_copy(
        update={
            "settle": settle_info(settle(assessment), assessment.rule_set),
            "change": change_info(change(assessment), assessment.rule_set),
        }
    )
