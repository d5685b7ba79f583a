"""From report text to a reading. One pass over the sentences; no image, no inference beyond the words."""

import re

from candidacy.reading import checks
from candidacy.reading.document import Sentence, sentences
from candidacy.reading.grades import add_grades
from candidacy.reading.levels import KEYS, LUMBAR, LUMBAR_SIX
from candidacy.reading.lexer import Match, Tokens, match, tokenise
from candidacy.reading.lexicon import Lexicon, lexicon
from candidacy.reading.link import Mention, Parts, build
from candidacy.reading.measures import QUICK, measures
from candidacy.reading.model import ABSENT, Finding, Modifier, Reading, Span, Statement, Unplaced, Value
from candidacy.reading.place import ALL, OTHERS, Context, assign
from candidacy.reading.scope import apply
from candidacy.reading.study import study_facts

_NONE = ("none", "absent")
_PAST_KINDS = frozenset(
    (
        "fracture",
        "prior_surgery",
        "implant",
        "tumour",
        "infection",
        "transitional",
        "cauda_equina_compression",
    )
)
_KEYS = frozenset(KEYS)


def read_text(text: str) -> Reading:
    """Read one imaging report given as text.

    The reading holds every finding with the span of its words and of each modifier that shaped it. It is the
    same for the same text, on any machine; any text is accepted, and text without findings gives none.

    Examples
    --------
    >>> reading = read_text("L4-5: mild disc bulge without canal stenosis.")
    >>> [(f.disc, f.kind, f.value, f.status) for f in reading.findings]
    [('L4-L5', 'displacement', 'bulge', 'present'), ('L4-L5', 'canal_stenosis', 'present', 'absent')]
    """
    lex = lexicon()
    ctx = Context()
    out = _Output(text)
    rows = sentences(text, lex)
    for number, sentence in enumerate(rows):
        if sentence.region != "other":
            _read(text, number, sentence, ctx, lex, out)
    out.findings += study_facts(text, rows, lex)
    findings = tuple(_expand(out.findings, text))
    return Reading(
        text,
        tuple(Statement(Span(s.start, s.end), s.section, s.line) for s in rows),
        findings,
        checks.red_flags(findings),
        checks.contradictions(findings),
        tuple(out.left_over),
        tuple(d for d in KEYS if d in out.named or any(f.disc == d for f in findings)),
        tuple(dict.fromkeys(s.section for s in rows)),
    )


class _Output:
    __slots__ = ("findings", "left_over", "named")

    def __init__(self, text: str) -> None:
        self.findings: list[Finding] = []
        self.left_over: list[Unplaced] = []
        self.named: set[str] = set()


def _read(text: str, number: int, sentence: Sentence, ctx: Context, lex: Lexicon, out: _Output) -> None:
    tokens = tokenise(text, sentence.start, sentence.end, lex)
    parts = Parts(tokens.words, match(tokens.words, lex))
    mentions = build(parts, lex)
    unscaled = add_grades(parts, mentions, lex) if _may_grade(parts, mentions, lex) else []
    apply(parts, mentions)
    _normal_levels(parts, mentions, tokens, ctx, sentence)
    groups = assign(sentence, parts, tokens.groups, mentions, ctx)
    for g in groups:
        out.named.update(d for d in g.discs if d in _KEYS)
    for m in mentions:
        _emit(m, tokens, sentence, number, out)
    if mentions and QUICK.search(text, sentence.start, sentence.end):
        for size in measures(text, sentence.start, sentence.end, tokens, parts, mentions):
            value: Value = size.values[0] if len(size.values) == 1 else tuple(str(v) for v in size.values)
            kind = size.kind if len(size.values) == 1 or not size.range else size.kind
            _emit_child(
                size.parent, kind, value, Span(size.start, size.end), tokens, sentence, number, out, "measure"
            )
    for s, e in unscaled:
        out.left_over.append(Unplaced(Span(tokens.starts[s], tokens.ends[e - 1]), "scale not stated"))
    if (
        not mentions
        and sentence.section in ("findings", "impression")
        and _speaks_of_spine(parts, tokens)
        and (tokens.groups or not lex.modality_words.search(text, sentence.start, sentence.end))
    ):
        out.left_over.append(Unplaced(Span(sentence.start, sentence.end), "no finding recognised"))


def _may_grade(parts: Parts, mentions: list[Mention], lex: Lexicon) -> bool:
    return any(m.kind in lex.grade_of for m in mentions) or any(
        w in lex.grade_first or w == "grade" for w in parts.words
    )


def _speaks_of_spine(parts: Parts, tokens: Tokens) -> bool:
    if parts.known:
        return False
    if parts.heads or parts.objs:
        return True
    return bool(tokens.groups) and (len(tokens.words) > 3 or bool(parts.acts))


def _normal_levels(
    parts: Parts, mentions: list[Mention], tokens: Tokens, ctx: Context, sentence: Sentence
) -> None:
    """A disc called normal, or free of abnormality, by its name has no displacement."""
    if mentions or not parts.acts:
        return
    if (
        not tokens.groups
        and not parts.places
        and not (ctx.heading and (ctx.block or ctx.heading_line == sentence.line))
    ):
        return
    if parts.known and not tokens.groups:
        return
    for a in parts.acts:
        negated = [m for m in parts.mods if m.entry.kind == "negation" and m.end <= a.start]
        if (a.entry.kind == "normal" and not negated) or (a.entry.kind == "abnormality" and negated):
            if any(o.entry.kind in ("other", "vertebral_height", "cord", "cauda") for o in parts.objs):
                return
            m = Mention("displacement", "none", a.start, a.end, "level_normal")
            m.mods = list(negated[-1:])
            m.status = "present"
            mentions.append(m)
            return


def _emit(m: Mention, tokens: Tokens, sentence: Sentence, number: int, out: _Output) -> None:
    status = m.status
    value: Value = m.value
    if value in _NONE:
        if status == ABSENT and m.rule != "level_normal":
            return  # "not normal" says nothing exact
        status = ABSENT if status == "present" else status
    if status == "historical" and m.kind in _PAST_KINDS:
        status = "present"
    evidence = Span(tokens.starts[m.start], tokens.ends[m.end - 1])
    _put(m, m.kind, value, status, evidence, tokens, sentence, number, out, m.rule)
    for kind in m.also:
        other: Value = "absent" if value in _NONE else "present"
        _put(m, kind, other, status, evidence, tokens, sentence, number, out, m.rule)
    if m.kind == "listhesis" and m.obj:
        grades = tuple(m.obj.split("/"))
        _put(
            m,
            "meyerding_grade",
            grades[0] if len(grades) == 1 else grades,
            status,
            evidence,
            tokens,
            sentence,
            number,
            out,
            "g_meyerding",
        )
    for a in m.attributes:
        if a.entry.kind in ("site", "containment"):
            span = Span(tokens.starts[a.start], tokens.ends[a.end - 1])
            kind = f"displacement_{a.entry.kind}"
            val: Value = a.entry.value[0] if len(a.entry.value) == 1 else a.entry.value
            _put(m, kind, val, status, span, tokens, sentence, number, out, a.entry.id)


def _emit_child(
    m: Mention,
    kind: str,
    value: Value,
    span: Span,
    tokens: Tokens,
    sentence: Sentence,
    number: int,
    out: _Output,
    rule: str,
) -> None:
    _put(m, kind, value, m.status, span, tokens, sentence, number, out, rule)


def _put(
    m: Mention,
    kind: str,
    value: Value,
    status: str,
    evidence: Span,
    tokens: Tokens,
    sentence: Sentence,
    number: int,
    out: _Output,
    rule: str,
) -> None:
    report = m.scope == "report"
    discs = () if report else m.discs
    mods = tuple(_modifier(x, tokens) for x in m.mods)
    if m.severity_at is not None:
        start, end = m.severity_at
        mods += (Modifier("severity", "severity", Span(tokens.starts[start], tokens.ends[end - 1])),)
    placed = "report" if report or (m.scope == "both" and not discs) else (m.placed or "unplaced")
    place = Span(tokens.starts[m.group.start], tokens.ends[m.group.end - 1]) if m.group is not None else None
    for disc in discs or ("",):
        if disc and disc not in _KEYS and disc not in (*ALL, *OTHERS):
            continue
        out.findings.append(
            Finding(
                kind,
                value,
                status,
                disc,
                placed,
                evidence,
                place,
                mods,
                m.severity,
                m.sides,
                rule,
                sentence.section,
                number,
            )
        )


def _modifier(m: Match, tokens: Tokens) -> Modifier:
    return Modifier(m.entry.kind, m.entry.id, Span(tokens.starts[m.start], tokens.ends[m.end - 1]))


_SIX = re.compile(r"\bL\s?-?6\b|\b(?:six|6)\s+(?:non[\s-]?rib[\s-]?bearing\s+)?lumbar", re.IGNORECASE)


def _expand(findings: list[Finding], text: str) -> list[Finding]:
    """Spell out ``all lumbar levels`` and ``the other discs`` once everything else is known."""
    if not any(f.disc.startswith("*") for f in findings):
        return findings
    every = LUMBAR_SIX if _SIX.search(text) else LUMBAR
    described = {f.disc for f in findings}
    out: list[Finding] = []
    for f in findings:
        if f.disc == ALL[0]:
            out += [f._replace(disc=d) for d in every]
        elif f.disc == OTHERS[0]:
            out += [f._replace(disc=d) for d in every if d not in described]
        else:
            out.append(f)
    return out
