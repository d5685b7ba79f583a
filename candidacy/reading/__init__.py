"""Imaging-report text to findings, each with the words behind it."""

from candidacy.reading.model import Finding, Modifier, Reading, Span
from candidacy.reading.reader import read_text

__all__ = ["Finding", "Modifier", "Reading", "Span", "read_text"]
