"""From report text to a reading. One pass over the sentences; no image, no inference beyond the words."""

import re
from bisect import bisect_left
from collections.abc import Sequence
from typing import NamedTuple

from candidacy.reading import addendum, checks
from candidacy.reading.checklist import Form, form_of, signs_of_form
from candidacy.reading.clause_data import clause_data
from candidacy.reading.clauses import Unread, takes_back, withdraw
from candidacy.reading.coverage import Heard
from candidacy.reading.directions import ALL, NEXT
from candidacy.reading.distribute import cut_short, distribute
from candidacy.reading.document import sentences
from candidacy.reading.exam_date import exam_date
from candidacy.reading.gates import gate
from candidacy.reading.grades import add_grades
from candidacy.reading.groups import LUMBOSACRAL, OTHERS
from candidacy.reading.heights import of_vertebrae
from candidacy.reading.labels import Label
from candidacy.reading.ledger import ledger
from candidacy.reading.level_selection import own_normal
from candidacy.reading.levels import KEYS, LUMBAR, LUMBAR_SIX
from candidacy.reading.lexer import Group, Tokens, match, tokenise
from candidacy.reading.lexicon import Lexicon, grammar, lexicon
from candidacy.reading.link import build
from candidacy.reading.listing import spread
from candidacy.reading.measures import UNITS, measures
from candidacy.reading.mention import LASTING, Mention, Parts
from candidacy.reading.model import (
    ABSENT,
    APPROXIMATE,
    BODY,
    NOT_READ,
    POSSIBLE,
    PRESENT,
    Finding,
    Modifier,
    Outside,
    Reading,
    Span,
    Statement,
    Unplaced,
    Value,
)
from candidacy.reading.outside import findings_of, not_of_the_spine, outside
from candidacy.reading.place import UNDER_HEADING, Context, assign
from candidacy.reading.questions import questions
from candidacy.reading.scope import apply
from candidacy.reading.strangers import beside_unknown
from candidacy.reading.study import study_facts
from candidacy.reading.table import drop_bare, labelled
from candidacy.reading.unsaid import Unsaid, beside_unsaid, unsaid

_NONE = ("none", "absent")
_OF_OPENINGS = grammar("of_openings")
_OTHER_THINGS = frozenset(("other", "vertebral_height", "cord", "cauda"))
"""Things of which normality or change is no finding of a disc."""
_WHOLE_DISC = frozenset(("disc", "contour"))
"""Things that, called normal, leave the disc without displacement; its height or signal alone does not."""
_ALSO: dict[str, Value] = {"neural_compression": "narrowing"}
"""A narrow foramen leaves the root less room; that it is touched or compressed is not said."""
_NOT_TODAY = frozenset(("history", "comparison", "technique"))
"""Sections that say nothing of this study's images."""
_ANOTHER_STUDY = ("comparison", "history")
"""Sections of which what they say of a study is not said of this one."""
_SEVERAL = grammar("several_levels")
_SPINE = grammar("spine_place")
_SOMEWHERE = "operated_here"
"""Surgery of which the words do not say that it was of the spine."""
_ELSEWHERE = frozenset((*NEXT, "beyond", "which"))
"""Places that tell of a disc by where it lies."""
_OF_THE_CORD = "cord_compression"
_NOT_NAMED = ("unplaced", "carried")
"""How a finding is placed whose own words name no disc."""
_KEYS = frozenset(KEYS)
_LUMBAR = frozenset(LUMBAR)
_ALLOWED = _KEYS | {*ALL, *OTHERS, *LUMBOSACRAL}


def read_text(text: str) -> Reading:
    """Read one imaging report given as text.

    The reading holds every finding with the span of its words and of each modifier that shaped it. It is the
    same for the same text, on any machine; any text is accepted, and text without findings gives none. What
    stands in the way of reading it is told in ``marks``; a report that is refused (`Reading.refusal`) has no findings.

    Examples
    --------
    >>> reading = read_text("L4-5: mild disc bulge without canal stenosis.")
    >>> [(f.disc, f.kind, f.value, f.status) for f in reading.findings]
    [('L4-L5', 'displacement', 'bulge', 'present'), ('L4-L5', 'canal_stenosis', 'present', 'absent')]
    """
    lex = lexicon()
    ctx = Context()
    out = _Output()
    passed = gate(text, sentences(text, lex), lex)
    rows, forms = passed.rows, signs_of_form(text)
    for number, sentence in enumerate(rows):
        if sentence.region not in NOT_READ:
            form = None
            if bisect_left(forms, sentence.start - 1) < bisect_left(forms, sentence.end):
                form = form_of(text, sentence.start, sentence.end, lex)
            if form is None:
                tokens = tokenise(text, sentence.start, sentence.end, lex)
                _read(text, number, sentence, tokens, ctx, lex, out)
                continue
            _read_form(text, number, sentence, form, ctx, lex, out)
    if out.study:
        of_study = study_facts(text, out.study, lex)
        out.findings += of_study
        spans = {f.evidence for f in of_study}
        out.left_over = [u for u in out.left_over if u.span not in spans]
    settled = addendum.settle(
        text, rows, _expand(_not_of_all(out), text, out.described, out.astray), passed.addenda
    )
    findings = tuple(settled.findings)
    named = out.named | {f.disc for f in findings}
    disagreeing = (
        *checks.contradictions(findings),
        *settled.contradictions,
        *beside_unsaid(findings, out.unsaid),
        *checks.beside_unread(findings, out.withdrawn),
    )
    day, asked = exam_date(text, rows)
    said = (*findings, *settled.replaced)
    accounts = ledger(text, rows, out.heard, said, out.left_over, checks.dangers())
    return Reading(
        text,
        tuple(rows),
        findings,
        checks.red_flags((*findings, *out.withdrawn)),
        disagreeing,
        tuple(out.left_over),
        tuple(d for d in KEYS if d in named),
        tuple(dict.fromkeys(s.section for s in rows)),
        addendum.told(accounts, len(findings)) if settled.replaced else accounts,
        tuple(o for o in out.seen if o.status != ABSENT),
        (*asked, *questions(findings, disagreeing)),
        marks=(*passed.marks, *settled.marks),
        replaced=settled.replaced,
        addenda=passed.addenda,
        exam_date=day,
    )


def _take_back(number: int, section: str, out: "_Output") -> None:
    """Withdraw what a statement asserts to be there, since the one behind it takes it back."""
    said = [f for f in out.findings if f.statement == number and f.section == section]
    lost = [f for f in said if f.status == "present"]
    if lost:
        out.findings = [f for f in out.findings if f not in lost]
        out.withdrawn += lost
        span = Span(min(f.evidence.start for f in lost), max(f.evidence.end for f in lost))
        out.left_over.append(Unplaced(span, clause_data()["reasons"]["taken_back"]))


def _not_of_all(out: "_Output") -> list[Finding]:
    """Leave open of which disc a denial is that names none, where a withdrawn clause speaks of the same thing."""
    kinds = {f.kind for f in out.withdrawn}
    if not kinds:
        return out.findings
    return [
        f._replace(disc="", placed=UNDER_HEADING, place=None)
        if f.kind in kinds and f.status == ABSENT and f.placed in _NOT_NAMED
        else f
        for f in out.findings
    ]


class _Output:
    """What is gathered while a report is read.

    ``astray`` says that something was said of a disc that cannot be told: of which discs "the others" are is open then;
    ``study`` lists statements that may speak of the study itself, ``withdrawn`` what clauses say that cannot be
    trusted: nothing of it is asserted, but a red flag among it is raised all the same.
    """

    __slots__ = (
        "astray",
        "described",
        "findings",
        "heard",
        "label",
        "left_over",
        "named",
        "seen",
        "study",
        "unsaid",
        "withdrawn",
    )

    def __init__(self) -> None:
        self.astray = False
        self.label = Label()
        self.findings: list[Finding] = []
        self.withdrawn: list[Finding] = []
        self.unsaid: list[Unsaid] = []
        self.left_over: list[Unplaced] = []
        self.named: set[str] = set()
        self.described: set[str] = set()
        self.study: list[Statement] = []
        self.heard: dict[int, Heard] = {}
        self.seen: list[Outside] = []


def _read_form(
    text: str, number: int, sentence: Statement, form: Form, ctx: Context, lex: Lexicon, out: _Output
) -> None:
    """Read each marked answer of a form by itself; the statement was heard as a whole."""
    before, listed = len(out.findings) + len(out.left_over), len(out.seen)
    for tokens in form.units:
        _read(text, number, sentence, tokens, ctx, lex, out)
    out.left_over += [Unplaced(s, "no box marked") for s in form.unmarked]
    if before == len(out.findings) + len(out.left_over):
        out.left_over.append(Unplaced(sentence.span, "no finding recognised"))
    whole = tokenise(text, sentence.start, sentence.end, lex)
    parts = Parts(whole.words, match(whole.words, lex))
    out.heard[number] = Heard(parts, whole, 0, out.seen[listed:])


def _read(
    text: str, number: int, sentence: Statement, tokens: Tokens, ctx: Context, lex: Lexicon, out: _Output
) -> None:
    added = 0
    if sentence.column is not None and tokens.found:
        column = None if _says_all(tokens, lex) else sentence.column
        tokens, added = labelled(text, tokens, column, lex, sentence.level)
    elif tokens.found:
        label = out.label.over(sentence, tokens)
        if label is not None:
            own = _own(tokens, lex)
            if own:
                out.label.interrupt(own, lex.pairs)
            elif not out.label.broken:
                tokens, added = labelled(text, tokens, label, lex)
    parts = Parts(tokens.words, match(tokens.words, lex))
    if parts.places:
        parts.several = any(found[0].lower() in _SEVERAL for found in tokens.found)
    only_label = out.label.note(sentence, tokens, parts, added)
    seen = [] if sentence.section in _NOT_TODAY else outside(parts, tokens, sentence, number)
    out.heard[number] = Heard(parts, tokens, added, seen)
    if seen:
        out.seen += seen
        out.findings += findings_of(seen, sentence)
    if sentence.section not in _ANOTHER_STUDY and not lex.study_words.isdisjoint(parts.words):
        out.study.append(sentence)
    mentions = build(parts, lex)
    if seen and mentions:
        not_of_the_spine(seen, tokens, mentions)
    if sentence.section not in BODY and _SPINE.isdisjoint(parts.words):
        mentions = [m for m in mentions if m.rule != _SOMEWHERE or m.status == ABSENT or _denied(m, parts)]
    graded = not lex.grade_words.isdisjoint(parts.words) or not lex.grade_kinds.isdisjoint(
        [m.kind for m in mentions]
    )
    unscaled = add_grades(parts, mentions, lex) if graded else []
    apply(parts, mentions)
    for m in of_vertebrae(parts, tokens.groups, mentions):
        out.left_over.append(Unplaced(tokens.span(m.start, m.end), "height of a vertebra"))
    if added:
        drop_bare(parts, mentions, added)
    _normal_levels(parts, mentions, tokens, ctx, sentence, out.label.broken)
    groups = assign(sentence, parts, tokens.groups, mentions, ctx)
    listed = distribute(text, tokens, parts, groups, mentions, lex)
    if listed:
        unscaled = []
    else:
        own_normal(parts, groups, mentions)
        spread(parts, groups, mentions, lex)
    lost = [] if listed else withdraw(parts, groups, tokens.groups, mentions)
    if mentions and not listed and sentence.section not in _NOT_TODAY:
        lost += beside_unknown(parts, tokens, added, mentions)
    if mentions and not listed and cut_short(parts, groups):
        mentions.clear()
        out.left_over.append(Unplaced(sentence.span, clause_data()["reasons"]["levels"]))
        unscaled = []
    for clause in lost:
        out.left_over.append(Unplaced(tokens.span(clause.start, clause.end), clause.reason))
        for m in clause.mentions:
            if m not in mentions and m.status != ABSENT:
                _emit(m, tokens, sentence, number, out.withdrawn)
    if lost:
        ctx.graded = None
    if not mentions and takes_back(parts):
        _take_back(number - 1, sentence.section, out)
    if sentence.section in BODY and not listed:
        withdrawn = [m for clause in lost for m in clause.mentions if m not in mentions]
        out.unsaid += unsaid(number, parts, groups, mentions, withdrawn, ctx.last, lex)
    if sentence.section in BODY and _of_no_disc(parts, groups, mentions, lost):
        out.astray = True
    for g in groups:
        out.named.update(g.discs)
        if sentence.section in BODY and (mentions or lost or not _LUMBAR.issubset(g.discs)):
            out.described.update(g.discs)  # "L1-2 to L5-S1 were reviewed" describes none of them
    measured = bool(mentions) and not UNITS.isdisjoint(parts.words)
    sizes, unsized = measures(text, tokens, parts, groups, mentions) if measured else ([], [])
    for m in mentions:
        if m.kind != "known":
            _emit(m, tokens, sentence, number, out.findings)
    for size in sizes:
        value: Value = size.values[0] if len(size.values) == 1 else tuple(str(v) for v in size.values)
        if size.bound:
            value = f"{size.bound} {value}"
        frame = _frame(size.parent, size.parent.status, tokens, sentence, number)
        if size.about:
            near = Modifier(APPROXIMATE, "measure_about", tokens.span(*size.about))
            frame = frame._replace(modifiers=(*frame.modifiers, near))
        _put(out.findings, frame, size.kind, value, Span(size.start, size.end), "measure")
    out.left_over += [Unplaced(tokens.span(s, e), "size of what is not certain") for s, e in unsized]
    for s, e in unscaled:
        out.left_over.append(Unplaced(tokens.span(s, e), "scale not stated"))
    only_heading = ctx.block and ctx.heading_line == sentence.line
    if (
        not (mentions or lost or unscaled or unsized or only_heading or only_label or seen)
        and sentence.section in BODY
        and _speaks_of_spine(parts, tokens)
        and (tokens.groups or not lex.modality_words.search(text, sentence.start, sentence.end))
    ):
        out.left_over.append(Unplaced(Span(sentence.start, sentence.end), "no finding recognised"))


def _of_no_disc(
    parts: Parts, groups: Sequence[Group], mentions: Sequence[Mention], lost: Sequence[Unread]
) -> bool:
    """Say whether a statement tells of a disc by where it lies or without a name, and no finding of it has its disc."""
    if any(clause.reason == clause_data()["reasons"][">"] for clause in lost):
        return True
    if any(g.discs for g in groups):
        return False
    gone = [m for clause in lost for m in clause.mentions]
    if any(m.scope == "disc" and not m.discs and m.status in (PRESENT, POSSIBLE) for m in gone):
        return True
    if _ELSEWHERE.isdisjoint([p.entry.kind for p in parts.places]):
        return False
    return bool(lost) or not mentions or any(m.placed == "left_out" for m in mentions)


def _says_all(tokens: Tokens, lex: Lexicon) -> bool:
    """Say whether a cell names its findings itself, so that the name of its column adds nothing."""
    return bool(_own(tokens, lex))


def _own(tokens: Tokens, lex: Lexicon) -> set[str]:
    """Give the kinds of findings that a cell names itself; nothing where one is told without a thing."""
    alone = {pair.id for (_, thing), pair in lex.pairs.items() if thing == "alone"}
    mentions = build(Parts(tokens.words, match(tokens.words, lex)), lex)
    return set() if any(m.rule in alone for m in mentions) else {m.kind for m in mentions}


def _denied(m: Mention, parts: Parts) -> bool:
    return any(x.entry.kind == "negation" and (x.end == m.start or x.start >= m.end) for x in parts.mods)


def _speaks_of_spine(parts: Parts, tokens: Tokens) -> bool:
    if parts.known:
        return False
    if parts.heads or any(o.entry.kind not in _OTHER_THINGS for o in parts.objs):
        return True
    return any(g.discs for g in tokens.groups) and (len(tokens.words) > 3 or bool(parts.acts))


def _normal_levels(
    parts: Parts, mentions: list[Mention], tokens: Tokens, ctx: Context, sentence: Statement, broken: bool
) -> None:
    """A disc called normal, or free of abnormality, by its name has no displacement.

    Below a ``broken`` label it may be the thing of the label that is called so.
    """
    if mentions or not parts.acts or broken:
        return
    named = any(g.discs for g in tokens.groups)
    headed = bool(ctx.heading) and (ctx.block or ctx.heading_line == sentence.line)
    if not (named or headed or parts.places) or (parts.known and not named):
        return
    for a in parts.acts:
        if parts.words[a.start] in _OF_OPENINGS:
            continue
        negated = [m for m in parts.mods if m.entry.kind == "negation" and m.end <= a.start]
        if (a.entry.kind == "normal" and not negated) or (a.entry.kind == "abnormality" and negated):
            if any(o.entry.kind not in _WHOLE_DISC and not o.entry.weak for o in parts.objs):
                return
            m = Mention("displacement", "none", a.start, a.end, "level_normal")
            m.mods = tuple(negated[-1:])
            m.status = "present"
            mentions.append(m)
            return


def _emit(m: Mention, tokens: Tokens, sentence: Statement, number: int, rows: list[Finding]) -> None:
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
    frame = _frame(m, status, tokens, sentence, number)
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
    for a in m.attributes:
        val: Value = a.entry.value[0] if len(a.entry.value) == 1 else a.entry.value
        _put(rows, frame, f"displacement_{a.entry.kind}", val, tokens.span(a.start, a.end), a.entry.id)


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


def _frame(m: Mention, status: str, tokens: Tokens, sentence: Statement, number: int) -> _Frame:
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


_SIX = re.compile(r"\bL\s?-?6\b|\b(?:six|6)\s+(?:non[\s-]?rib[\s-]?bearing\s+)?lumbar", re.IGNORECASE)


def _expand(findings: list[Finding], text: str, named: set[str], astray: bool) -> list[Finding]:
    """Spell out ``all lumbar levels`` and ``the other discs`` once everything else is known.

    Which discs are the others is open where something was said of one that cannot be told.
    """
    if not any(disc.startswith("*") for disc in {f.disc for f in findings}):
        return findings
    every = LUMBAR_SIX if _SIX.search(text) else LUMBAR
    lowest = every[-1]
    findings = [f._replace(disc=lowest) if f.disc == LUMBOSACRAL[0] else f for f in findings]
    if LUMBOSACRAL[0] in named:
        named = named | {lowest}
    described = {f.disc for f in findings} | named
    out: list[Finding] = []
    for f in findings:
        if f.disc == ALL[0]:
            out += [f._replace(disc=d) for d in every]
        elif f.disc == OTHERS[0] and (astray or _homeless(findings, f)):
            out.append(f._replace(disc="", placed="left_out", place=None))
        elif f.disc == OTHERS[0]:
            out += [f._replace(disc=d) for d in every if d not in described]
        else:
            out.append(f)
    return out


def _homeless(findings: Sequence[Finding], others: Finding) -> bool:
    """Say whether a finding of the same kind stands before without its disc: it may be of one of "the others"."""
    return any(
        f.statement < others.statement
        and f.section == others.section
        and f.kind == others.kind
        and f.status in (PRESENT, POSSIBLE)
        and not f.disc
        and f.placed in ("unplaced", "left_out")
        for f in findings
    )
