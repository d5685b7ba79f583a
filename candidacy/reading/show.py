"""A reading for people and programs: plain text, JSON-ready data, and one self-contained page."""

import json
from collections.abc import Iterable
from functools import cache
from html import escape
from typing import Any

from markupsafe import Markup

from candidacy.foundation.templates import templates_of
from candidacy.reading.levels import KEYS
from candidacy.reading.model import Finding, Reading, Span, Value
from candidacy.reading.wording import (
    CAUTION,
    OUTSIDE,
    distinct_flags,
    exam_date_words,
    first_few,
    kind_words,
    mark_words,
    meant,
    outside_words,
    question_words,
    unread_words,
    value_words,
)


def as_data(reading: Reading, name: str = "") -> dict[str, Any]:
    """Give a reading as JSON-ready data; spans are offsets into ``text``, the words stand beside them."""

    def span(s: Span | None) -> dict[str, Any] | None:
        return None if s is None else {"start": s.start, "end": s.end, "words": reading.words(s)}

    kept = {id(f): n for n, f in enumerate(reading.findings)}
    replaced = {id(f): n for n, f in enumerate(reading.replaced)}  # a question may be about one of these

    def finding(f: Finding) -> dict[str, Any]:
        return {
            "kind": f.kind,
            "value": list(f.value) if isinstance(f.value, tuple) else f.value,
            "status": f.status,
            "disc": f.disc or None,
            "placed": f.placed,
            "evidence": span(f.evidence),
            "quoted": span(f.quoted),
            "place": span(f.place),
            "modifiers": [{"kind": m.kind, "rule": m.rule, **(span(m.span) or {})} for m in f.modifiers],
            "severity": list(f.severity),
            "sides": list(f.sides),
            "rule": f.rule,
            "section": f.section,
            "of_addendum": reading.of_addendum(f),
        }

    return {
        "schema": "candidacy.reading/2",
        "name": name,
        "caution": CAUTION,
        "marks": [
            {
                "kind": m.kind,
                "about": m.about,
                "refuses": m.refuses,
                "next_step": m.next_step or None,
                "words": None if m.span is None else span(m.span),
            }
            for m in reading.marks
        ],
        "red_flags": [{"about": r.about, "finding": finding(r.finding)} for r in reading.red_flags],
        "contradictions": [
            {
                "about": c.about,
                "disc": c.disc or None,
                "kind": c.kind,
                "findings": [finding(f) for f in c.findings],
            }
            for c in reading.contradictions
        ],
        "outside": [
            {
                "organ": o.organ,
                "about": o.about,
                "status": o.status,
                "evidence": span(o.evidence),
                "quoted": span(o.quoted),
                "rule": o.rule,
                "danger": o.danger or None,
            }
            for o in reading.outside
        ],
        "questions": [
            {
                "about": q.about,
                "disc": q.disc or None,
                "kind": q.kind or None,
                "findings": [kept[id(f)] for f in q.findings if id(f) not in replaced],
                "replaced": [replaced[id(f)] for f in q.findings if id(f) in replaced],
            }
            for q in reading.questions
        ],
        "exam_date": None
        if reading.exam_date is None
        else {"day": reading.exam_date.day, **(span(reading.exam_date.span) or {})},
        "discs_named": list(reading.discs_named),
        "findings": [finding(f) for f in reading.findings],
        "replaced": [finding(f) for f in reading.replaced],
        "not_understood": [{"reason": u.reason, **(span(u.span) or {})} for u in reading.not_understood],
        "share_unread": round(reading.share_unread, 4),
        "ledger": [
            {
                **(span(a.span) or {}),
                "state": a.state,
                "section": reading.statements[a.statement].section if a.statement >= 0 else None,
                "findings": list(a.findings),
                "rule": a.rule or None,
                "why": a.why or None,
                "missed": [span(s) for s in a.missed],
                "danger": a.danger or None,
            }
            for a in reading.ledger
        ],
        "text": reading.text,
    }


def to_json(data: Any) -> str:
    """Give JSON that is the same for the same data."""
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def disc_table(reading: Reading) -> list[tuple[str, list[Finding]]]:
    """Give the findings of each disc the report speaks of, one row for each thing said."""
    rows = []
    for disc in (k for k in KEYS if k in reading.discs_named):
        rows.append((disc, unique(f for f in reading.findings if f.disc == disc)))
    return rows


def unique(findings: Iterable[Finding]) -> list[Finding]:
    """Leave out a finding that only says again what another one says as fully or more so."""
    seen: dict[tuple[str, Value, str], list[Finding]] = {}
    for f in findings:
        rows = seen.setdefault((f.kind, f.value, f.status), [])
        rows[:] = [r for r in rows if not (r.sides != f.sides and set(r.sides) < set(f.sides))]
        if not any(set(f.sides) <= set(r.sides) for r in rows):
            rows.append(f)
    return sorted((f for rows in seen.values() for f in rows), key=lambda f: (f.evidence, f.kind))


def as_text(reading: Reading, name: str = "") -> str:
    """Give a reading as plain text that needs no colour."""
    out = [f"Report: {name}" if name else "Report", ""]
    if reading.exam_date is not None:
        out += [f"Day of the study, by the report: {exam_date_words(reading)}", ""]

    def words(f: Finding) -> str:
        addendum = " (addendum)" if reading.of_addendum(f) else ""
        return '"' + " ".join(reading.words(f.quoted).split()) + '"' + addendum

    if reading.marks:
        out.append("BEFORE YOU READ")
        out += [f"  * {mark_words(m)}" for m in reading.marks]
        out.append("")
    if reading.red_flags:
        out.append("LOOK AT FIRST")
        for r in distinct_flags(reading):
            where = f" at {r.finding.disc}" if r.finding.disc else ""
            status = meant(r.finding)
            out.append(f"  ! {r.about}{where}{f' ({status})' if status else ''}: {words(r.finding)}")
        out.append("")
    if reading.outside:
        out.append(OUTSIDE.upper())
        for o in reading.outside:
            quote = " ".join(reading.words(o.quoted).split())
            out.append(f'  ! {outside_words(o)}: "{quote}"')
        out.append("")
    if reading.questions:
        out.append("QUESTIONS")
        for q in reading.questions:
            said = dict.fromkeys(f"{value_words(f)} {words(f)}" for f in q.findings)
            out.append(f"  ~ {question_words(q)}: {'; '.join(first_few(said))}")
        out.append("")
    for disc, rows in disc_table(reading):
        out.append(disc)
        for f in rows:
            out.append(f"  {kind_words(f.kind):<30} {value_words(f):<34} {words(f)}")
        if not rows:
            out.append("  named, nothing recognised")
        out.append("")
    rest = unique(f for f in reading.findings if not f.disc)
    if rest:
        out.append("WHOLE REPORT, OR NO DISC NAMED")
        for f in rest:
            out.append(f"  {kind_words(f.kind):<30} {value_words(f):<34} {words(f)}")
        out.append("")
    if reading.replaced:
        out.append("REPLACED BY AN ADDENDUM")
        out += [
            f"  - {f.disc or 'whole report'}, {kind_words(f.kind)}: {value_words(f)} {words(f)}"
            for f in unique(reading.replaced)
        ]
        out.append("")
    if reading.unread:
        out.append(f"NOT READ: {unread_words(reading)}")
        for a in reading.unread:
            danger = f"holds a word of: {a.danger}; " if a.danger else ""
            out.append(f'  {"!" if a.danger else "?"} {danger}{a.why}: "{reading.words_missed(a)}"')
        out.append("")
    out.append(CAUTION)
    return "\n".join(out) + "\n"


def missed_pieces(reading: Reading) -> dict[Span, str]:
    """Give what was not used, cut where a finding rests on words inside it, with the reason for each piece."""
    taken = sorted({f.evidence for f in reading.findings})
    out: dict[Span, str] = {}
    for account in reading.unread:
        for span in account.missed:
            at = span.start
            for s in (
                *(t for t in taken if t.end > span.start and t.start < span.end),
                Span(span.end, span.end),
            ):
                if s.start > at and reading.text[at : s.start].strip():
                    out[Span(at, s.start)] = account.why
                at = max(at, s.end)
    return out


@cache
def _template() -> Any:
    environment = templates_of("candidacy.reading")
    environment.filters.update(
        kind=kind_words, value=value_words, outside=outside_words, asks=question_words, mark=mark_words
    )
    return environment.get_template("reading.html")


def as_html(reading: Reading, name: str = "") -> str:
    """Give a reading as one page that prints: the report with its evidence marked beside the disc table.

    Every mark carries a number and, in words, what it was read as; the report's own text is escaped.
    """
    notes: dict[tuple[Span, str, str, str], int] = {}
    marks: dict[Span, list[tuple[int, str]]] = {}
    numbers: dict[int, int] = {}
    for f in reading.findings:
        key = (f.evidence, f.kind, str(f.value), f.status)
        if key not in notes:
            notes[key] = len(notes) + 1
            label = f"{kind_words(f.kind)}: {value_words(f)}"
            marks.setdefault(f.evidence, []).append((notes[key], label))
        numbers[id(f)] = notes[key]
    flags = distinct_flags(reading)
    page: str = _template().render(
        name=name,
        reading=reading,
        exam_date=exam_date_words(reading),
        flags=flags,
        report=_marked(reading, marks),
        table=disc_table(reading),
        rest=unique(f for f in reading.findings if not f.disc),
        number=lambda f: notes.get(
            (f.evidence, f.kind, str(f.value), f.status), ""
        ),  # a withdrawn one has none
        words=lambda s: " ".join(reading.words(s).split()),
        unread=unread_words(reading),
        outside_title=OUTSIDE,
        caution=CAUTION,
    )
    return page


def _marked(reading: Reading, marks: dict[Span, list[tuple[int, str]]]) -> Markup:
    """Set the marks into the text; where two overlap, the later one begins after the earlier one ends."""
    out: list[str] = []
    at = 0
    text = reading.text
    missed = missed_pieces(reading)
    seen = {o.evidence: outside_words(o) for o in reading.outside}
    spans = sorted({*marks, *missed, *seen}, key=lambda s: (s.start, -s.end))
    for span in spans:
        start = max(span.start, at)
        out.append(escape(text[at:start]))
        rows = marks.get(span, [])
        if start < span.end:
            body = escape(text[start : span.end])
            tag = "mark" if rows or span in seen else "u"
            out.append(f"<{tag}>{body}</{tag}>")
        if rows:
            title = escape("; ".join(label for _, label in rows), quote=True)
            out.append(f'<sup class="n" title="{title}">{",".join(str(n) for n, _ in rows)}</sup>')
        elif span in seen:
            out.append(f'<sup class="n" title="outside the discs: {escape(seen[span], quote=True)}">!</sup>')
        else:
            why = escape(missed[span], quote=True)
            out.append(f'<sup class="n" title="not read: {why}">?</sup>')
        at = max(at, span.end)
    out.append(escape(text[at:]))
    return Markup("".join(out))
