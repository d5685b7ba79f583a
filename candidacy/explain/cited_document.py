"""What is cited, in a document: citations, parameters in use, sources."""

from candidacy.explain.part import Part


class CitationInfo(Part):
    """A source in use, with its verification tag."""

    source: str
    at: str
    supports: str
    tag: str
    note: str


class ParameterInfo(Part):
    """A parameter in use; ``replaces`` is the library default where the rule set departs from it."""

    name: str
    value: str
    meaning: str
    replaces: str | None
    reason: str
    cites: list[CitationInfo]
    alternatives: list[str]


class SourceInfo(Part):
    """A source that was cited."""

    key: str
    text: str
    seen_as: str
    limits: str
