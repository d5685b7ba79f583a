"""How firm an answer is, in plain words beside its margins."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from candidacy.assessment.assess import Assessment
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.explain.cited import citation_info, parameter_info, sources_of
from candidacy.explain.cited_document import SourceInfo
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.firm_document import FirmFigureInfo, FirmInfo, FirmSourceInfo
from candidacy.explain.wording import listed, value_words
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import STANDINGS

if TYPE_CHECKING:  # loaded only where firmness is asked for
    from candidacy.firm.published import Published, Unusable
    from candidacy.firm.sources import Source
    from candidacy.firm.told import Firm, Why

FIRM = "How firm it is"
ASKS = (
    "Asked is: if the same unchanged patient were measured once more by the same means, or the same images read by another "
    "reader, would it still come out so?",
    "Both the recorded and the repeated value bear the published error of one measurement (SEM), so they differ by the "
    "square root of two times it; scores that go by steps are rounded to them and end at the ends of their scale. Of readers, "
    "a model stands for the table of grades against grades that nobody printed.",
    "It is no score of the patient and no chance of benefit. Nothing is worked out for safety criteria, so that no error of "
    "measurement excuses them, nor for facts of history.",
)
_WHY: "dict[Why, str]" = {
    "safety": "nothing is worked out: safety decides here, and no error of measurement excuses it",
    "facts": "nothing is worked out while facts are missing",
    "record": "nothing is worked out while a contradiction or an unread sign of danger of the record decides",
    "no_figure": "nothing is worked out: no value with a published error bears on it",
}


def with_firm(document: AssessmentDocument, assessment: Assessment) -> AssessmentDocument:
    """The document of an assessment, with how firm it is."""
    return document.model_copy(update={"firm": firm_info(assessment)})


def firm_info(assessment: Assessment) -> FirmInfo:
    """How firm an assessment is, with words, figures and sources."""
    from candidacy.firm.firmness import firmness
    from candidacy.firm.published import ERRORS, READERS

    told, rule_set = firmness(assessment), assessment.rule_set
    firms = (told.case, *told.discs, *told.criteria)
    rows = [row for firm in firms for source in firm.sources for row in source.figures]
    used = {cite.source for row in (*rows, *(u.row for _, u in told.unusable)) for cite in row.cites}
    not_told = []
    for unusable, facts in _by_row(told.unusable):
        at_most = unusable.differ_at_most
        bound = (
            f"; two readers would differ in at most {round(100 * at_most)} of 100"
            if at_most is not None
            else ""
        )
        not_told.append(
            f"{_named(facts)}: {unusable.row.figure} ({source_names(unusable.row, rule_set)}), but how common each grade "
            f"is was not printed{bound}"
        )
    if told.imprecise:
        not_told.append(f"Recorded as a range: {_named(told.imprecise)}")
    if told.unpublished:
        not_told.append(f"No published error was found, held as recorded: {_named(told.unpublished)}")
    return FirmInfo(
        asks=list(ASKS),
        case=_figure(told.case, rule_set),
        discs=[_figure(firm, rule_set) for firm in told.discs],
        criteria=[_figure(firm, rule_set) for firm in told.criteria],
        not_told=not_told,
        settings=[
            parameter_info(rule_set.settings[name])
            for name in (f"{ERRORS}_in_use", f"{READERS}_in_use")
            if name in rule_set.settings
        ],
        sources=sources_of(used, rule_set),
    )


def _by_row(found: "Iterable[tuple[Fact, Unusable]]") -> "list[tuple[Unusable, list[Fact]]]":
    """Facts by the row that is about them; one for all discs."""
    rows: dict[str, tuple[Unusable, list[Fact]]] = {}
    for fact, unusable in found:
        rows.setdefault(unusable.row.key, (unusable, []))[1].append(fact)
    return list(rows.values())


def _figure(firm: "Firm", rule_set: RuleSet) -> FirmFigureInfo:
    return FirmFigureInfo(
        criterion=firm.criterion,
        subject=firm.subject,
        now=firm.now,
        stands=None if firm.stands is None else _short(firm.stands.value),
        error=0.0 if firm.stands is None else _short(firm.stands.error),
        least=None if firm.least is None else _short(firm.least.value),
        most=None if firm.most is None else _short(firm.most.value),
        becomes={name: _short(share) for name, share in firm.becomes.items()},
        why="" if firm.why is None else _WHY[firm.why],
        words=firm_words(firm, rule_set),
        sources=[_source(source, rule_set) for source in firm.sources],
    )


def _source(source: "Source", rule_set: RuleSet) -> FirmSourceInfo:
    element, row = catalogue()[source.fact.element], source.figures.in_use
    others = dict.fromkeys(
        r.figure for r in (source.figures.smallest, source.figures.largest) if r.key != row.key
    )
    return FirmSourceInfo(
        element=element.name,
        label=element.label,
        subject=source.fact.subject,
        value=value_words(source.fact.value, element, written=source.fact.provenance.as_written),
        figure=f"{row.figure} ({source_names(row, rule_set)})",
        spread=listed(list(others)) if others else "",
        sample=row.sample,
        model=row.modelled,
        borrowed=row.borrowed,
        note=row.note,
        cites=[citation_info(cite) for cite in row.cites],
    )


def firm_words(firm: "Firm", rule_set: RuleSet) -> str:
    """How firm an outcome or a standing is, in one phrase without a full stop."""
    if firm.stands is None or firm.crosses is None:
        return _WHY[firm.why or "no_figure"]
    what = _what(firm)
    if not firm.becomes:
        return f"{what} would not change it, as far as published errors go"
    often = one_in(firm.crosses)
    error = f", give or take {100 * firm.stands.error:.1g} of 100" if firm.stands.error else ""
    ends = ""
    if firm.least is not None and firm.most is not None:
        most, least = (one_in(1 - end.value).removeprefix("about ") for end in (firm.most, firm.least))
        ends = f"; by study {most} to {least}" if most != least else ""
    figures = (
        ""
        if not firm.criterion
        else "; ".join(dict.fromkeys(_said(s.figures.in_use, rule_set) for s in firm.sources))
    )
    verb = _crosses(firm) if firm.criterion else f"would change it{_becomes(firm)}"
    said = f"{figures}{ends}".removeprefix("; ")
    return f"{what} {verb} {often}{error}" + (f" ({said})" if said else "")


def _what(firm: "Firm") -> str:
    kinds = {source.figures.in_use.kind for source in firm.sources}
    if kinds == {"readers"}:
        return "another reader"
    if len(kinds) == 2:
        return "measuring and reading everything once more"
    return "a repeat measurement" if len(firm.sources) == 1 else "measuring everything once more"


def _crosses(firm: "Firm") -> str:
    readers = {source.figures.in_use.kind for source in firm.sources} == {"readers"}
    return "would read it to the other side of the limit" if readers else "would cross the limit"


def _becomes(firm: "Firm") -> str:
    names = [STANDINGS.get(name, name).lower() for name in firm.becomes]
    return f" (to {listed(names, 'or')})"


def _said(row: "Published", rule_set: RuleSet) -> str:
    more = ", a model" if row.modelled else ", borrowed from another measure" if row.borrowed else ""
    return f"{row.figure}, {source_names(row, rule_set)}{more}"


def source_names(row: "Published", rule_set: RuleSet) -> str:
    """The sources of a row as one cites them in a sentence: authors and year, or the title."""
    names = []
    for key in dict.fromkeys(cite.source for cite in row.cites):
        source = rule_set.sources.get(key)
        who = (source.authors or source.body or source.title) if source is not None else key
        names.append(f"{who} {source.year}" if source is not None and source.year else who)
    return listed(names)


def one_in(share: float) -> str:
    """A probability as one says it: "about 1 time in 4"."""
    if share <= 0:
        return "never"
    if share < 0.005:
        return "less than 1 time in 200"
    if share > 0.995:
        return "nearly always"
    if share > 0.55:
        return f"about {round(10 * share)} times in 10" if share < 0.95 else "more than 9 times in 10"
    return f"about 1 time in {round(1 / share)}"


def firm_lines(info: FirmInfo) -> list[str]:
    """Everything about the case and its discs, a line each; outcomes stand beside their criteria."""
    lines = [f"The standing of the case: {info.case.words}"]
    lines += [f"The standing of {firm.subject}: {firm.words}" for firm in info.discs]
    return lines


def figure_lines(info: FirmInfo) -> list[str]:
    """The published figures that were used, each once."""
    firms = (info.case, *info.discs, *info.criteria)
    found = {}
    for source in (source for firm in firms for source in firm.sources):
        spread = f"; elsewhere {source.spread}" if source.spread else ""
        note = f". {source.note}" if source.note else ""
        tags = ", ".join(dict.fromkeys(cite.tag for cite in source.cites))
        found[source.label] = (
            f"{source.label}: {source.figure} [{tags}], {source.sample}{spread}{note}".rstrip(" ,")
        )
    return list(found.values())


def _short(number: float) -> float:
    return round(number, 4)


def _named(facts: Iterable[Fact]) -> str:
    return ", ".join(dict.fromkeys(catalogue()[fact.element].label for fact in facts))


def all_sources(document: AssessmentDocument) -> list[SourceInfo]:
    """The sources of a document and of its figures of firmness, each once, by key."""
    more = document.firm.sources if document.firm is not None else []
    return [*{source.key: source for source in (*document.sources, *more)}.values()]
