"""A reading for people and programs: plain text, JSON-ready data, and one self-contained page."""

import json
from collections.abc import Iterable
from functools import cache
from html import escape
from typing import Any

from markupsafe import Markup

from candidacy.foundation.templates import templates_of
from candidacy.reading.levels import KEYS
from candidacy.reading.model import (
    ABSENT,
    BODY,
    PARTLY,
    POSSIBLE,
    PRESENT,
    UNREAD,
    Finding,
    Outside,
    Question,
    Reading,
    RedFlag,
    Span,
    Value,
)
from candidacy.reading.questions import WHICH_DISC

KIND_WORDS = {
    "displacement": "disc displacement",
    "displacement_size": "size, mm",
    "displacement_site": "site",
    "displacement_containment": "containment",
    "displacement_migrated": "migration",
    "desiccation": "desiccation",
    "height_loss": "height loss",
    "disc_height_loss": "height loss, %",
    "annular_fissure": "annular fissure",
    "high_intensity_zone": "high-intensity zone",
    "endplate_change": "endplate change (Modic type)",
    "endplate_defect": "endplate defect",
    "canal_stenosis": "canal stenosis",
    "foraminal_stenosis": "foraminal stenosis",
    "recess_stenosis": "lateral recess stenosis",
    "neural_compression": "nerve root or sac",
    "facet_arthropathy": "facet arthropathy",
    "listhesis": "slip",
    "slip_mm": "slip, mm",
    "slip_percent": "slip, %",
    "meyerding_grade": "Meyerding grade",
    "pfirrmann_grade": "Pfirrmann grade (I-V)",
    "modified_pfirrmann_grade": "modified Pfirrmann (1-8)",
    "schizas_grade": "Schizas grade",
    "lee_central_grade": "Lee central grade",
    "lee_foraminal_grade": "Lee foraminal grade",
    "weishaupt_grade": "Weishaupt grade",
    "fujiwara_grade": "Fujiwara grade",
    "pathria_grade": "Pathria grade",
    "castellvi_type": "Castellvi type",
    "pars_defect": "pars defect",
    "vacuum_sign": "vacuum sign",
    "prior_surgery": "earlier surgery",
    "implant": "implant",
    "tumour": "tumour, mass or lesion",
    "mass_elsewhere": "mass outside the spine",
    "aortic_aneurysm": "aneurysm of the aorta",
    "sacroiliac_change": "sacroiliac joint change",
    "cauda_equina_compression": "cauda equina compression",
    "infection": "sign of infection",
    "fracture": "fracture",
    "transitional": "transitional vertebra",
    "normal_study": "study called normal",
    "lumbar_vertebra_count": "lumbar-type vertebrae",
    "field_strength": "field strength, T",
    "imaging_modality": "modality",
    "translation_on_flexion_extension": "translation on flexion-extension, mm",
    "angulation_on_flexion_extension": "angulation on flexion-extension, degrees",
}
STATUS_WORDS = {
    "present": "",
    "absent": "denied",
    "possible": "possible",
    "historical": "in the past",
    "resolved": "resolved",
    "other_person": "another person",
    "hypothetical": "only supposed",
}
_UNSTATED = {"unstated": "direction not stated", "herniation": "herniation, type not stated", "present": ""}
CAUTION = (
    "Read by program from the words of the report; compare with the report before use. "
    "Not a diagnosis. What is not listed is not stated, which is not the same as absent."
)


def kind_words(kind: str) -> str:
    """Name a kind of finding in a few plain words."""
    return KIND_WORDS.get(kind, kind.replace("_", " "))


def value_words(f: Finding) -> str:
    """Give a finding's value with its status in words; nothing depends on colour or place."""
    status = STATUS_WORDS[f.status]
    value = _plain(f.value)
    if f.value in ("none", "absent"):
        value, status = ("none", "") if f.status == ABSENT else ("none", status)
    elif f.value == "present" and f.status in (PRESENT, ABSENT):
        value = (
            "present, severity not stated"
            if f.kind.endswith("stenosis") or f.kind == "height_loss"
            else "present"
        )
        if f.status == ABSENT:
            value = ""
    side = " and ".join(f.sides)
    return ", ".join(w for w in (value, side, status, elsewhere(f)) if w) or "present"


def elsewhere(f: Finding) -> str:
    """Say under which section a finding stands, where that is none that tells of this study's images."""
    return f"under {f.section}" if f.section and f.section not in BODY else ""


def meant(f: Finding) -> str:
    """Say how a red flag is meant; nothing where it is plainly there."""
    return ", ".join(w for w in (STATUS_WORDS[f.status], elsewhere(f)) if w)


def _plain(value: Value) -> str:
    if isinstance(value, tuple):
        return " or ".join(str(v) for v in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    text = _UNSTATED.get(str(value), str(value))
    return text.replace("_", " ") or "present"


def as_data(reading: Reading, name: str = "") -> dict[str, Any]:
    """Give a reading as JSON-ready data; spans are offsets into ``text``, the words stand beside them."""

    def span(s: Span | None) -> dict[str, Any] | None:
        return None if s is None else {"start": s.start, "end": s.end, "words": reading.words(s)}

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
        }

    return {
        "schema": "candidacy.reading/2",
        "name": name,
        "caution": CAUTION,
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
            }
            for o in reading.outside
        ],
        "questions": [
            {
                "about": q.about,
                "disc": q.disc or None,
                "kind": q.kind or None,
                "findings": [reading.findings.index(f) for f in q.findings],
            }
            for q in reading.questions
        ],
        "discs_named": list(reading.discs_named),
        "findings": [finding(f) for f in reading.findings],
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

    def words(f: Finding) -> str:
        return '"' + " ".join(reading.words(f.quoted).split()) + '"'

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
    if reading.unread:
        out.append(f"NOT READ: {unread_words(reading)}")
        for a in reading.unread:
            danger = f"holds a word of: {a.danger}; " if a.danger else ""
            out.append(f'  {"!" if a.danger else "?"} {danger}{a.why}: "{reading.words_missed(a)}"')
        out.append("")
    out.append(CAUTION)
    return "\n".join(out) + "\n"


OUTSIDE = "Seen, outside the discs: tell someone"
_FEW = 6


def first_few(rows: Iterable[str]) -> list[str]:
    """Give a few rows, and how many more there are."""
    all_rows = list(rows)
    more = [f"and {len(all_rows) - _FEW} more"] if len(all_rows) > _FEW else []
    return [*all_rows[:_FEW], *more]


def outside_words(o: Outside) -> str:
    """Say what was seen outside the discs, and how it is meant."""
    status = "doubtful" if o.status == POSSIBLE else STATUS_WORDS[o.status]
    return f"{o.organ}: {o.about}" + (f" ({status})" if status else "")


def question_words(q: Question) -> str:
    """Say where a question belongs and what it asks."""
    where = q.disc or ("whole report" if not q.kind or q.about != WHICH_DISC else "no disc named")
    return f"{where}, {kind_words(q.kind)}: {q.about}" if q.kind else f"{where}: {q.about}"


def unread_words(reading: Reading) -> str:
    """Say how many sentences were not read, and how many not wholly."""
    of = [a for a in reading.ledger if a.statement >= 0]
    whole, part = (sum(a.state == state for a in of) for state in (UNREAD, PARTLY))
    return f"{whole} of {len(of)} sentences, and {part} in part ({reading.share_unread:.0%} together)"


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


def distinct_flags(reading: Reading) -> list[RedFlag]:
    """Leave out a red flag that only says again in the same words what another says."""
    seen: dict[tuple[str, str, str, str], RedFlag] = {}
    for r in reading.red_flags:
        words = " ".join(reading.words(r.finding.quoted).lower().split())
        seen.setdefault((r.about, r.finding.disc, meant(r.finding), words), r)
    return list(seen.values())


@cache
def _template() -> Any:
    environment = templates_of("candidacy.reading")
    environment.filters.update(kind=kind_words, value=value_words, outside=outside_words, asks=question_words)
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
        flags=flags,
        report=_marked(reading, marks),
        table=disc_table(reading),
        rest=unique(f for f in reading.findings if not f.disc),
        number=lambda f: notes[(f.evidence, f.kind, str(f.value), f.status)],
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
