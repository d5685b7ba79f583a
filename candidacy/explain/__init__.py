"""Explanations of an assessment: a complete plain document, and its text, page and JSON forms."""

from candidacy.explain.build import build_document
from candidacy.explain.document import AssessmentDocument

__all__ = ["AssessmentDocument", "build_document"]
