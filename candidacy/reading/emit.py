"""From what a statement says to findings: each with its words, its place and everything that shaped it."""

from typing import NamedTuple

from candidacy.reading.directions import ALL
from candidacy.reading.groups import LUMBOSACRAL, OTHERS
from candidacy.reading.levels import KEYS
from candidacy.reading.lexer import Tokens
from candidacy.reading.measures import Measure
from candidacy.reading.mention import LASTING, Mention
from candidacy.reading.model import ABSENT, APPROXIMATE, Finding, Modifier, Span, Statement, Value
from candidacy.reading.singled import COUNTED_NAMES

_NONE = ("none", "absent")
_ALSO: dict[str, Value] = {"neural_compression": "narrowing"}
"""A narrow foramen leaves the root less room; that it is touched or compressed is not said."""
_OF_THE_CORD = "cord_compression"
_ALLOWED = frozenset((*KEYS, *ALL, *OTHERS, *LUMBOSACRAL, *COUNTED_NAMES))


def emit(m: Mention, tokens: Tokens, sentence: Statement, number: int, rows: list[Finding]) -> None:
    """Add what one mention says to the findings, with what follows from it by its words alone."""
    status = m.status
    value: Value = m.value
    if status == ABSENT and m.rule == _OF_THE_CORD and not m.discs:
        return  # "no conus compression" says nothing of the roots
    if value in _NONE:
        if status == ABSENT and m.rule != "level_normal":
            return  # "not normal" says nothing exact
        status = ABSENT if status == "present" else status
    if status == "historical" and m.kind in LASTING:
        status = "present"
    frame = _frame_of(m, status, tokens, sentence, number)
    evidence = tokens.span(m.start, m.end)
    _put(rows, frame, m.kind, value, evidence, m.rule)
    for kind in () if m.kind == "implant" and status == ABSENT else m.also:  # "no hardware" denies no surgery
        more = value if m.kind == "neural_compression" else _ALSO.get(kind, "present")
        _put(rows, frame, kind, "absent" if value in _NONE else more, evidence, m.rule)
    if m.kind == "listhesis" and m.obj:
        grades = tuple(m.obj.split("/"))
        _put(
            rows, frame, "meyerding_grade", grades[0] if len(grades) == 1 else grades, evidence, "g_meyerding"
        )
    for a in (
        m.attributes if status != ABSENT else ()
    ):  # "no contained herniation" does not say that one is not contained
        val: Value = a.entry.value[0] if len(a.entry.value) == 1 else a.entry.value
        _put(rows, frame, f"displacement_{a.entry.kind}", val, tokens.span(a.start, a.end), a.entry.id)


def emit_size(size: Measure, tokens: Tokens, sentence: Statement, number: int, rows: list[Finding]) -> None:
    """Add a measurement to the findings, with its limit and whether it is only approximate."""
    value: Value = size.values[0] if len(size.values) == 1 else tuple(str(v) for v in size.values)
    if size.bound:
        value = f"{size.bound} {value}"
    frame = _frame_of(size.parent, size.parent.status, tokens, sentence, number)
    if size.about:
        near = Modifier(APPROXIMATE, "measure_about", tokens.span(*size.about))
        frame = frame._replace(modifiers=(*frame.modifiers, near))
    _put(rows, frame, size.kind, value, Span(size.start, size.end), "measure")


class _Frame(NamedTuple):
    """What all findings of one mention share."""

    status: str
    discs: tuple[str, ...]
    placed: str
    place: Span | None
    modifiers: tuple[Modifier, ...]
    severity: tuple[str, ...]
    sides: tuple[str, ...]
    section: str
    number: int


def _frame_of(m: Mention, status: str, tokens: Tokens, sentence: Statement, number: int) -> _Frame:
    report = m.scope == "report"
    discs = () if report else m.discs
    if not _ALLOWED.issuperset(discs):
        discs = tuple(d for d in discs if d in _ALLOWED) or ("S1-S2",)
    mods = [Modifier(x.entry.kind, x.entry.id, tokens.span(x.start, x.end)) for x in m.mods] if m.mods else []
    if m.severity_at is not None:
        mods.append(Modifier("severity", "severity", tokens.span(*m.severity_at)))
    placed = "report" if report or (m.scope == "both" and not discs) else (m.placed or "unplaced")
    place = tokens.span(m.group.start, m.group.end) if m.group is not None else None
    return _Frame(
        status, discs or ("",), placed, place, tuple(mods), m.severity, m.sides, sentence.section, number
    )


def _put(rows: list[Finding], frame: _Frame, kind: str, value: Value, evidence: Span, rule: str) -> None:
    status, discs, placed, place, mods, severity, sides, section, number = frame
    for disc in discs:
        if disc != "S1-S2":  # the disc below the sacral endplate is no lumbar disc
            rows.append(
                Finding(
                    kind,
                    value,
                    status,
                    disc,
                    placed,
                    evidence,
                    place,
                    mods,
                    severity,
                    sides,
                    rule,
                    section,
                    number,
                )
            )
