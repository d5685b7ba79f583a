"""Parameters, citations and sources as shown: every number with where it comes from."""

from collections.abc import Iterable, Mapping

from candidacy.explain.cited_document import CitationInfo, ParameterInfo, SourceInfo
from candidacy.explain.wording import code_words, listed, with_unit
from candidacy.rules.cited import Citation, Setting, Source
from candidacy.rules.resolved import ResolvedParameter, RuleSet


def parameter_info(parameter: ResolvedParameter) -> ParameterInfo:
    """A parameter in use, with the default it replaces and what other sources say."""
    declared, unit = parameter.declared, parameter.declared.unit
    choices = declared.choices or {} if isinstance(declared, Setting) else {}
    return ParameterInfo.of(
        name=parameter.name,
        value=_value(parameter.value, parameter.unit, choices),
        meaning=declared.meaning,
        replaces=_value(declared.value, unit, choices) if parameter.departs else None,
        reason=parameter.change.reason if parameter.change else "",
        cites=[citation_info(c) for c in parameter.cites],
        alternatives=[
            f"{_value(a.value, unit, choices)}: {a.note}" + (f" ({cites_words(a.cites)})" if a.cites else "")
            for a in declared.alternatives
        ],
    )


def parameter_value(parameter: ResolvedParameter) -> str:
    """The value in use with its unit."""
    return value_in_words(parameter.value, parameter.unit)


def value_in_words(value: object, unit: str | None) -> str:
    """The value of a parameter with its unit."""
    return _value(value, unit, {})


def _value(value: object, unit: str | None, choices: Mapping[str, str]) -> str:
    """A value in words; a choice by what it means."""
    values = value if isinstance(value, tuple) else (value,)
    words = listed([choices.get(str(v)) or code_words(v) for v in values], "or")
    return with_unit(words, unit or "") if all(not isinstance(v, str | bool) for v in values) else words


def cites_words(cites: Iterable[Citation | CitationInfo]) -> str:
    """Citations in one line: source, place and tag of each."""
    return "; ".join(f"{c.source}{', ' + c.at if c.at else ''} [{c.tag}]" for c in cites)


def citation_info(cite: Citation) -> CitationInfo:
    """A citation as shown."""
    return CitationInfo.of(
        source=cite.source, at=cite.at, supports=cite.supports, tag=cite.tag, note=cite.note
    )


def source_info(key: str, source: Source) -> SourceInfo:
    """A source as one line of text."""
    year = str(source.year) if source.year else ""
    pieces = [source.authors or source.body, source.title, source.journal, year, source.identifier]
    return SourceInfo.of(
        key=key, text=". ".join(p for p in pieces if p), seen_as=source.seen_as, limits=source.limits
    )


def keys_of(parameters: Iterable[ResolvedParameter]) -> set[str]:
    """Keys of the sources behind parameters or settings, those of the alternatives included."""
    return {
        cite.source
        for parameter in parameters
        for cites in (parameter.cites, *(a.cites for a in parameter.declared.alternatives))
        for cite in cites
    }


def sources_of(keys: Iterable[str], rule_set: RuleSet) -> list[SourceInfo]:
    """The sources of some keys, each once and in the order of the keys."""
    return [source_info(key, rule_set.sources[key]) for key in sorted(set(keys)) if key in rule_set.sources]
