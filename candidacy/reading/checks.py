"""What a reading must put on top: red flags, and findings that disagree. Nothing is resolved here."""

from collections.abc import Iterable, Mapping, Sequence
from functools import cache, lru_cache
from math import inf
from types import MappingProxyType

from candidacy.case.catalogue import catalogue
from candidacy.foundation.errors import Code, Problem, RuleError
from candidacy.reading.elements import mapping
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import (
    ABSENT,
    BODY,
    POSSIBLE,
    PRESENT,
    SECTIONS_DIFFER,
    TWO_GRADES,
    TWO_SEVERITIES,
    Contradiction,
    Finding,
    RedFlag,
)
from candidacy.rules.libraries import library_in_use
from candidacy.rules.library import Library
from candidacy.rules.vocabulary import REPORT_RED_FLAGS

_Flags = dict[str, tuple[str, frozenset[str] | None]]


@lru_cache(maxsize=4)
def _flags(library: Library) -> _Flags:
    """By kind of finding, what is put on top and for which values; for any where there are none. From the rule files.

    Raises
    ------
    RuleError
        E204 for an element of which the reader finds nothing: a flag that can never be raised would mislead.
    """
    tables = library.tables()
    kinds = {
        rule["element"]: (kind, *rule.get("with", ()))
        for scope in ("disc", "patient")
        for kind, rule in mapping()[scope].items()
    }

    def kinds_of(element: str) -> tuple[str, ...]:
        if element not in kinds:
            raise RuleError([Problem(Code.UNKNOWN_ELEMENT, "no report is read for this element",
                                     str(library.table_files()[REPORT_RED_FLAGS]), field=element,
                                     expected=", ".join(sorted(kinds)))])  # fmt: skip
        return kinds[element]

    found: _Flags = {}
    for element, row in tables(REPORT_RED_FLAGS).items():
        if row["scales"] is None:
            found.update(dict.fromkeys(kinds_of(element), (row["says"], None)))
            continue
        for scale, grades in tables(row["scales"]).items():
            graded = row["says"], _from(scale, grades["severe_from"])
            found.update(dict.fromkeys(kinds_of(scale), graded))
    return found


def _from(element: str, least: str | int) -> frozenset[str]:
    """A grade of a scale and all above it, as findings write them."""
    scale, possible = catalogue()[element].codes, catalogue()[element].possible
    if isinstance(least, str):
        return frozenset(scale[scale.index(least) :])
    assert possible is not None
    assert possible.high is not None
    return frozenset(str(grade) for grade in range(least, int(possible.high) + 1))


def dangers() -> Mapping[str, str]:
    """Give what is put on top of a reading, by kind of finding."""
    return _dangers(library_in_use())


@lru_cache(maxsize=4)
def _dangers(library: Library) -> Mapping[str, str]:
    return MappingProxyType({kind: about for kind, (about, _) in _flags(library).items()})


def red_flags(findings: Sequence[Finding]) -> tuple[RedFlag, ...]:
    """List what needs a look first. Only a clear negation keeps a finding off the list."""
    out: list[RedFlag] = []
    flags = _flags(library_in_use())
    for f in findings:
        flag = flags.get(f.kind)
        if f.rule == _OF_THE_CORD and f.kind == _ROOT and f.status != ABSENT:
            out.append(RedFlag(_CORD_PRESSED, f))
        if flag is None or f.status == ABSENT:
            continue
        about, values = flag
        if not about or (values is not None and values.isdisjoint(_values(f))):
            continue
        out.append(RedFlag(about, f))
    return tuple(out)


_SIDES_DIFFER = "left and right differ"
_ROOT, _SITE = "neural_compression", "displacement_site"
_OF_THE_CORD, _CORD_PRESSED = "cord_compression", "compression of the spinal cord"
_OF_ROOTS = frozenset(("root_compression",))
_SIDED = frozenset(("displacement", "foraminal_stenosis", "recess_stenosis", _ROOT))
_NARROWS = ("foraminal_stenosis", "recess_stenosis", "facet_arthropathy", "listhesis")
"""What may meet a root as well as a displaced disc."""
_LEAST = "mild"
_NO_VALUE = frozenset(("present", "absent", "none"))


def _values(f: Finding) -> tuple[str, ...]:
    return tuple(str(v) for v in f.value) if isinstance(f.value, tuple) else (str(f.value),)


@cache
def _scales() -> frozenset[str]:
    """Kinds of finding that are a grade on a scale: a disc has one of each."""
    return frozenset(grade.kind for grade in lexicon().grades.values())


@cache
def _graded() -> frozenset[str]:
    """Kinds of finding that are told by a severity word."""
    return frozenset(kind for kind, rule in mapping()["disc"].items() if rule["form"] == "graded")


@cache
def _compared() -> frozenset[str]:
    """Kinds of finding of which findings and impression must give one value: what is measured, and the Modic type."""
    numbers = {kind for kind, rule in mapping()["disc"].items() if rule["form"] == "number"}
    return frozenset((*numbers, "endplate_change"))


def _apart(said: Sequence[Finding]) -> bool:
    """Whether findings and impression give values that have none in common; a value left open is no other value."""
    body, final = (
        {v for f in said if f.section == section for v in _values(f) if v not in _NO_VALUE}
        for section in ("findings", "impression")
    )
    return bool(body and final) and body.isdisjoint(final)


def contradictions(findings: Sequence[Finding]) -> tuple[Contradiction, ...]:
    """Raise what cannot all be right of one disc: said and denied, two grades, two severities, left and right."""
    by: dict[tuple[str, str], list[Finding]] = {}
    for f in findings:
        if (
            f.placed not in ("unplaced", "under_heading")
            and f.section in BODY
            and f.status in (PRESENT, ABSENT, POSSIBLE)
        ):
            by.setdefault((f.disc, f.kind), []).append(f)
    out: list[Contradiction] = []
    for (disc, kind), rows in by.items():
        if len(rows) == 1:
            continue
        said = [f for f in rows if f.status == PRESENT]
        denied = [f for f in rows if f.status == ABSENT]
        if said and denied and _clash(kind, said, denied):
            about = SECTIONS_DIFFER if _sections_differ(said, denied) else "said and denied"
            out.append(Contradiction(about, disc, kind, (*said, *denied)))
        if kind in _scales() and len({f.value for f in said}) > 1:
            out.append(Contradiction(TWO_GRADES, disc, kind, tuple(said)))
        if kind in _graded() and not _overlap(_one_side(said)):
            out.append(Contradiction(TWO_SEVERITIES, disc, kind, tuple(f for f in said if f.severity)))
        if kind == "displacement" and len({f.value for f in said if f.section == "findings"}) >= 1:
            out += _sections(said, disc, kind)
        if kind in _compared() and _apart(said):
            out.append(Contradiction(SECTIONS_DIFFER, disc, kind, tuple(said)))
        if kind in _SIDED:
            out += _sides([f for f in said if f.kind != _ROOT or f.rule in _OF_ROOTS], disc, kind)
    return (*out, *_crossed(by), *_denied_of_all(findings, by), *_slips(by))


def _denied_of_all(
    findings: Sequence[Finding], by: Mapping[tuple[str, str], list[Finding]]
) -> list[Contradiction]:
    """Raise what the impression denies without a disc and the findings say of one, or the other way round."""
    out: list[Contradiction] = []
    for f in findings:
        if f.status != ABSENT or f.disc or f.placed != "unplaced" or f.section not in BODY:
            continue
        for (disc, kind), rows in by.items():
            said = [g for g in rows if g.status == PRESENT and g.section != f.section]
            if kind != f.kind or not disc or not said or _slight(said):
                continue
            if _clash(kind, said, [f]) or (kind == "foraminal_stenosis" and not f.sides and not f.severity):
                out.append(Contradiction(SECTIONS_DIFFER, disc, kind, (*said, f)))
    return out


def _slight(said: Sequence[Finding]) -> bool:
    """``No significant stenosis`` of the whole leaves room for what is called slight at a disc."""
    return all(f.severity and f.severity[-1] == _LEAST for f in said)


NOT_READ_BESIDE = "a clause about it was not read and may say otherwise"


def beside_unread(findings: Sequence[Finding], withdrawn: Sequence[Finding]) -> tuple[Contradiction, ...]:
    """Raise what is said of a disc where a clause that could not be taken apart may say otherwise of the same."""
    others: dict[tuple[str, str], list[Finding]] = {}
    for f in withdrawn:
        if f.disc and f.section in BODY and f.kind in mapping()["disc"]:
            others.setdefault((f.disc, f.kind), []).append(f)
    out: list[Contradiction] = []
    for (disc, kind), rows in others.items():
        said = [f for f in findings if (f.disc, f.kind) == (disc, kind) and f.section in BODY]
        said = [f for f in said if f.status in (PRESENT, ABSENT)]
        known = {(f.value, f.severity, f.status) for f in said}
        more = [f for f in rows if (f.value, f.severity, PRESENT) not in known]
        if said and more:
            out.append(Contradiction(NOT_READ_BESIDE, disc, kind, tuple(said)))
    return tuple(out)


@lru_cache(maxsize=4)
def _meyerding(library: Library) -> dict[str, tuple[float, float]]:
    """Slip in percent at which each grade begins and ends, by the table in use; an edge counts for both sides."""
    rows = library.tables()("meyerding_grades").values()
    return {str(row["grade"]): (row["above"], inf if row["to"] is None else row["to"]) for row in rows}


def _slips(by: Mapping[tuple[str, str], list[Finding]]) -> list[Contradiction]:
    """Raise a slip grade that its own percentage does not bear out."""
    out = []
    for (disc, kind), rows in by.items():
        percents = by.get((disc, "slip_percent"), [])
        if kind != "meyerding_grade" or not percents:
            continue
        value, grade = percents[0].value, rows[0].value
        if not isinstance(value, float) or not isinstance(grade, str):
            continue
        lower, upper = _meyerding(library_in_use())[grade]
        if not lower <= value <= upper:
            out.append(Contradiction("grade and percentage differ", disc, kind, (*rows, *percents)))
    return out


def _one_side(said: list[Finding]) -> list[Finding]:
    """Leave out findings of a single side: left and right may well differ."""
    return [f for f in said if len(f.sides) != 1]


def _sections_differ(said: Iterable[Finding], denied: Iterable[Finding]) -> bool:
    return {f.section for f in said}.isdisjoint({f.section for f in denied})


def _clash(kind: str, said: list[Finding], denied: list[Finding]) -> bool:
    """A denial clashes with a statement if it denies the whole kind or the very value said."""
    if kind == "displacement":
        values, several = {f.value for f in said}, mapping()["disc"][kind]["values"]
        for d in denied:
            if d.value == "none" or d.value in values:
                return True
            if not values.isdisjoint(several.get(d.value, ())):
                return True
        return False
    if kind in _graded():
        ungraded = [d for d in denied if d.value in ("none", "present") and not _across(d, said)]
        return bool(ungraded) and kind != "foraminal_stenosis"
    if kind == "neural_compression":
        pairs = [(s, d) for d in denied for s in said if d.rule == s.rule and _may_be_one_root(s, d)]
        return any(_degree(d) <= _degree(s) for s, d in pairs)  # contact without compression is no clash
    if kind == "listhesis":
        values = {f.value for f in said}
        return any(d.value in values or "unstated" in (d.value, *values) for d in denied)
    return True


def _may_be_one_root(said: Finding, denied: Finding) -> bool:
    """Another sentence of the same section may speak of another root; the same one does so by naming another side."""
    if said.statement == denied.statement:
        return not (said.sides and denied.sides) or bool(set(said.sides) & set(denied.sides))
    return _sections_differ([said], [denied])


def _degree(f: Finding) -> int:
    """The most that a finding about nerve or sac may mean."""
    order = mapping()["disc"]["neural_compression"]["order"]
    return max((order.index(v) for v in _values(f) if v in order), default=0)


def _overlap(said: list[Finding]) -> bool:
    graded = [set(f.severity) for f in said if f.severity]
    return not graded or bool(set.intersection(*graded)) or _ranged(graded)


def _ranged(graded: list[set[str]]) -> bool:
    return len(set(map(frozenset, graded))) == 1


def _sections(said: list[Finding], disc: str, kind: str) -> list[Contradiction]:
    body = {str(f.value) for f in said if f.section == "findings"}
    final = {str(f.value) for f in said if f.section == "impression"}
    if not body or not final:
        return []
    size = mapping()["disc"][kind]["size"]
    if max(size.get(v, 0) for v in body) == max(size.get(v, 0) for v in final):
        return []
    return [Contradiction(SECTIONS_DIFFER, disc, kind, tuple(said))]


def _crossed(by: Mapping[tuple[str, str], list[Finding]]) -> list[Contradiction]:
    """Raise a disc that is displaced to one side only and a root of the other side that it is said to meet.

    Both stand in one statement, or in one section; not where anything else of that side may be what meets the root.
    """
    out: list[Contradiction] = []
    for (disc, kind), rows in by.items():
        if kind != _ROOT or not disc:
            continue
        roots = [f for f in rows if f.status == PRESENT and f.rule in _OF_ROOTS and len(f.sides) == 1]
        moved = [
            f for f in by.get((disc, "displacement"), ()) if f.status != ABSENT and f.value not in _NO_VALUE
        ]
        others = [f for k in _NARROWS for f in by.get((disc, k), ()) if f.status != ABSENT]
        for root in roots:
            near = [f for f in moved if f.statement == root.statement]
            within = [f for f in (near or moved) if f.section == root.section]
            sides = {f.sides for f in within}
            if len(sides) != 1 or len(next(iter(sides))) != 1 or root.sides in sides:
                continue
            if not any(
                f.section == root.section and (not f.sides or root.sides[0] in f.sides) for f in others
            ):
                out.append(Contradiction(_SIDES_DIFFER, disc, _SITE, (*within, root)))
    return out


def _across(denied: Finding, said: Sequence[Finding]) -> bool:
    """Say whether one side is denied and only the other said: ``recess stenosis: left none, right mild``."""
    return len(denied.sides) == 1 and all(len(f.sides) == 1 and f.sides != denied.sides for f in said)


def _sides(said: list[Finding], disc: str, kind: str) -> list[Contradiction]:
    sided = [f for f in said if len(f.sides) == 1]
    body = {f.sides[0] for f in sided if f.section == "findings"}
    final = {f.sides[0] for f in sided if f.section == "impression"}
    if body and final and body.isdisjoint(final):
        about = _SITE if kind == _ROOT else kind  # that a root is met is not in doubt
        return [Contradiction(_SIDES_DIFFER, disc, about, tuple(sided))]
    return []
