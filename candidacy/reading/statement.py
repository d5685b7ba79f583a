"""One statement into findings: its label and place, what it mentions, what of it cannot be trusted."""

import re
from collections.abc import Sequence
from itertools import pairwise

from candidacy.reading.bracketed_shares import without_shares
from candidacy.reading.checklist import Form
from candidacy.reading.clause_data import clause_data
from candidacy.reading.clauses import Unread, withdraw
from candidacy.reading.coverage import Heard
from candidacy.reading.directions import NEXT, of_a_range
from candidacy.reading.distribute import cut_short, distribute, in_a_row
from candidacy.reading.emit import emit, emit_size
from candidacy.reading.gathered import Gathered, take_back
from candidacy.reading.grades import add_grades
from candidacy.reading.groups import OTHERS, written_as_vertebrae
from candidacy.reading.heights import of_vertebrae
from candidacy.reading.level_selection import called_beside, denied_there, own_normal
from candidacy.reading.levels import LUMBAR
from candidacy.reading.lexer import Group, Match, Tokens, match, tokenise
from candidacy.reading.lexicon import Lexicon, grammar
from candidacy.reading.link import build
from candidacy.reading.list_forms import listed_grades
from candidacy.reading.listing import spread
from candidacy.reading.measures import UNITS, measures
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import ABSENT, BODY, POSSIBLE, PRESENT, Finding, Span, Statement, Unplaced
from candidacy.reading.outside import findings_of, not_of_the_spine, outside
from candidacy.reading.place import Context, assign
from candidacy.reading.scope import apply
from candidacy.reading.sides import add_way
from candidacy.reading.strangers import beside_unknown, other_parts
from candidacy.reading.table import drop_bare, labelled
from candidacy.reading.taken_back import begins_anew, takes_back
from candidacy.reading.unsaid import unsaid
from candidacy.reading.whole_disc import WHOLE, may_be_of_what_stands_before, of_a_part

_OF_OPENINGS = grammar("of_openings")
_OTHER_THINGS = frozenset(("other", "vertebral_height", "cord", "cauda"))
"""Things of which normality or change is no finding of a disc."""
_NOT_TODAY = frozenset(("history", "comparison", "technique"))
"""Sections that say nothing of this study's images."""
_ANOTHER_STUDY = ("comparison", "history")
"""Sections of which what they say of a study is not said of this one."""
_SEVERAL = grammar("several_levels")
_SPINE = grammar("spine_place")
_MOOD = "mood"
_PUT_IN = frozenset(("replacement", "arthroplasty", "tdr"))
_SPOKEN_OF, _SURGERY_DONE = grammar("surgery_spoken_of"), grammar("surgery_done")
_DEPARTMENTS = grammar("departments")
_GROWN_TOGETHER = grammar("grown_together")
_SOMEWHERE = "operated_here"
"""Surgery of which the words do not say that it was of the spine."""
_SURGERY_ITSELF = frozenset(("surgery", "operation", "operated", "change"))
_OF_SURGERY = frozenset(
    (
        "change",
        "appearance",
        "intervention",
        "procedure",
        "treatment",
        "at",
        "in",
        "of",
        "on",
        "here",
        "or",
        "and",
        "is",
        "seen",
        "<disc>",
    )
)
"""Behind "postoperative": with one of these, or nothing, it is the operation that is denied."""
_ELSEWHERE = frozenset((*NEXT, "beyond", "which"))
"""Places that tell of a disc by where it lies."""
_LUMBAR = frozenset(LUMBAR)
_LESION = "lesion"
_ANY_LESION, _JOINS = grammar("any_lesion"), frozenset(("or", "and", "nor"))
_AGAIN = frozenset(("recurrent", "residual", "recurring", "persistent", "remaining"))
_CLAUSE_ENDS = frozenset((",", ";", "."))
_ELSE = frozenset(("else", "elsewhere"))
_THE_REST = "the rest of the disc is meant, whatever that is"
_REST_OF_ONE = re.compile(
    r"(?:the )?(?:rest|remainder) of (?:the|this|that) (?:level|dis[ck]|segment|interspace)\b"
)
_LESS_SO = "how far what is said holds for the disc compared with is not told"
_NEAR_LEVEL = 2
_COMPARING = frozenset(("lesser", "less", "greater", "more", "milder", "worse"))
_OF_WATER = frozenset(("bright", "brighter", "hyperintense", "hydrated", "white"))
_PREDICATE, _ADJECTIVES = (
    ("ed", "ic"),
    frozenset(("narrow", "irregular", "thick", "abnormal", "worn", "torn")),
)
_PLURAL = re.compile(r"[^isu]s$")
_VERBS = frozenset(("bulges", "protrudes", "herniates", "extrudes"))
_TIES = ("-", "–", "—", "--")


def read_form(
    text: str, number: int, sentence: Statement, form: Form, ctx: Context, lex: Lexicon, out: Gathered
) -> None:
    """Read each marked answer of a form by itself; the statement was heard as a whole."""
    before, listed = len(out.findings) + len(out.left_over), len(out.seen)
    for tokens in form.units:
        read_statement(text, number, sentence, tokens, ctx, lex, out)
    out.left_over += [Unplaced(s, "no box marked") for s in form.unmarked]
    if before == len(out.findings) + len(out.left_over):
        out.left_over.append(Unplaced(sentence.span, "no finding recognised"))
    whole = tokenise(text, sentence.start, sentence.end, lex)
    parts = Parts(whole.words, match(whole.words, lex))
    out.heard[number] = Heard(parts, whole, 0, out.seen[listed:])


def read_statement(
    text: str, number: int, sentence: Statement, tokens: Tokens, ctx: Context, lex: Lexicon, out: Gathered
) -> None:
    """Read a statement under the label in force; a list of things and grades is read item by item."""
    added = 0
    tokens, shares = without_shares(tokens, lex)
    out.left_over += [Unplaced(s, clause_data()["reasons"]["share"]) for s in shares]
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
    items = listed_grades(tokens, lex)
    if not items:
        _take(text, number, sentence, tokens, added, ctx, lex, out)
        return
    listed = len(out.seen)
    for item in items:
        _take(text, number, sentence, item, 0, ctx, lex, out)
    parts = Parts(tokens.words, match(tokens.words, lex))
    out.heard[number] = Heard(parts, tokens, added, out.seen[listed:])


def _take(
    text: str,
    number: int,
    sentence: Statement,
    tokens: Tokens,
    added: int,
    ctx: Context,
    lex: Lexicon,
    out: Gathered,
) -> None:
    """Read the words of a statement; the first ``added`` of them stand in for the name of a column."""
    parts = Parts(tokens.words, match(tokens.words, lex))
    if parts.places:
        parts.places = [
            p for p in parts.places if not of_a_range(p, tokens.groups) and not _of_one(p, tokens)
        ]
        parts.several = any(found[0].lower() in _SEVERAL for found in tokens.found)
    if parts.mods and len(parts.heads) > 1:
        parts.hyphened = _hyphened(text, tokens)
    if parts.mods and "and" in parts.words:
        raw = [m[0].lower() for m in tokens.found]
        parts.predicates = frozenset(
            i
            for i, w in enumerate(raw)
            if w.endswith(_PREDICATE)
            or w in _ADJECTIVES
            or (w in _VERBS and raw[i - 1] == "and" and not _PLURAL.search(raw[i - 2]))
        )
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
    mentions = _surely_done(mentions, parts, tokens)
    if sentence.section not in BODY and _SPINE.isdisjoint(parts.words):
        mentions = [m for m in mentions if m.rule != _SOMEWHERE or m.status == ABSENT or _denied(m, parts)]
    graded = not lex.grade_words.isdisjoint(parts.words) or not lex.grade_kinds.isdisjoint(
        [m.kind for m in mentions]
    )
    unscaled = add_grades(parts, mentions, lex) if graded else []
    for m in mentions:
        add_way(m, parts)
    apply(parts, mentions)
    _of_a_part(parts, mentions)
    for m in of_vertebrae(parts, tokens.groups, mentions):
        out.left_over.append(Unplaced(tokens.span(m.start, m.end), "height of a vertebra"))
    if added:
        drop_bare(parts, mentions, added)
    broken = out.label.broken or out.label.of_bone(sentence)
    _normal_levels(parts, mentions, tokens, ctx, sentence, broken, out.heard.get(number - 1), out.left_over)
    groups = assign(sentence, parts, tokens.groups, mentions, ctx)
    written_as_vertebrae(tokens, mentions)
    listed = distribute(text, tokens, parts, groups, mentions, lex)
    if listed:
        unscaled = []
    else:
        own_normal(parts, groups, tokens.groups, mentions)
        spread(parts, groups, mentions, lex)
    _left_open(parts, mentions)
    if parts.places:
        _to_a_lesser_degree(parts, groups, mentions)
    if "otherwise" in parts.words:
        out.left_over += [Unplaced(tokens.span(m.start, m.end), _THE_REST) for m in _rest(mentions, out)]
        _of_the_others(mentions, out.findings)
    lost = [] if listed else withdraw(parts, groups, tokens.groups, mentions)
    if mentions and not listed and sentence.section not in _NOT_TODAY:
        lost += beside_unknown(parts, tokens, added, mentions)
        lost += of_a_part(parts, tokens, added, mentions)
    mixed = [] if listed else in_a_row(parts, groups, mentions, lex)
    if mixed:
        mentions[:] = [m for m in mentions if m not in mixed]
        out.left_over.append(Unplaced(sentence.span, clause_data()["reasons"]["levels"]))
    if mentions and not listed and cut_short(parts, groups):
        mentions.clear()
        out.left_over.append(Unplaced(sentence.span, clause_data()["reasons"]["levels"]))
        unscaled = []
    if parts.places:
        out.left_over += [
            Unplaced(tokens.span(a, b), clause_data()["reasons"][">"])
            for a, b in called_beside(parts, mentions)
        ]
    if parts.places and not lost:
        out.left_over += [
            Unplaced(tokens.span(a, b), _LESS_SO) for a, b in _less_so(parts, tokens.groups, mentions)
        ]
    for clause in lost:
        out.left_over.append(Unplaced(tokens.span(clause.start, clause.end), clause.reason))
        for m in clause.mentions:
            if m not in mentions and m.status != ABSENT:
                emit(m, tokens, sentence, number, out.withdrawn)
    if parts.places:
        denials = denied_there(parts, tokens.groups, mentions)
        out.left_over += [Unplaced(tokens.span(s, e), clause_data()["reasons"]["!"]) for s, e in denials]
    if lost:
        ctx.graded = None
    if begins_anew(parts) or (
        not mentions and takes_back(parts) and not _of_others(parts, tokens, number, out)
    ):
        take_back(number - 1, sentence.section, out)
    if sentence.section in BODY and not listed:
        withdrawn = [m for clause in lost for m in clause.mentions if m not in mentions]
        out.unsaid += unsaid(
            number,
            parts,
            groups,
            mentions,
            withdrawn,
            ctx.last,
            lex,
            everywhere=sentence.section == "addendum",
        )
    if sentence.section in BODY and _of_no_disc(parts, groups, mentions, lost):
        out.astray = True
    for g in groups:
        out.named.update(g.discs)
        if sentence.section in BODY and (mentions or lost or not _LUMBAR.issubset(g.discs)):
            out.described.update(g.discs)  # "L1-2 to L5-S1 were reviewed" describes none of them
    if sentence.section in BODY and any(g.discs == OTHERS for g in groups):
        out.described.update(d for g in tokens.groups for d in g.discs)  # "apart from L5-S1, the other discs"
    measured = bool(mentions) and not UNITS.isdisjoint(parts.words)
    sizes, unsized = measures(text, tokens, parts, groups, mentions) if measured else ([], [])
    for m in mentions:
        if m.kind != "known":
            emit(m, tokens, sentence, number, out.findings)
    for size in sizes:
        emit_size(size, tokens, sentence, number, out.findings)
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


def _of_a_part(parts: Parts, mentions: Sequence[Mention]) -> None:
    """``No surgical lesion``: behind a word that picks some of them out, other lesions are not denied.

    ``No postoperative collection`` denies the collection, and not that there was an operation.
    """
    for m in mentions:
        if m.rule == _SOMEWHERE and m.status == ABSENT and _names_no_surgery(parts.words, m.end):
            m.status = POSSIBLE
        if m.rule != _LESION or m.status != ABSENT:
            continue
        low = max((x.end for x in m.mods if x.entry.kind == "negation" and x.end <= m.start), default=m.start)
        at = m.start
        while at > low and parts.words[at - 1][0].isalpha() and parts.words[at - 1] not in _JOINS:
            at -= 1
        if not _ANY_LESION.issuperset(parts.words[at : m.start]):
            m.rule = f"{_LESION}_in_part"


def _names_no_surgery(words: Sequence[str], end: int) -> bool:
    behind = words[end : end + 1]
    return (
        words[end - 1] not in _SURGERY_ITSELF
        and bool(behind)
        and behind[0].isalpha()
        and behind[0] not in _OF_SURGERY
    )


def _of_one(p: Match, tokens: Tokens) -> bool:
    """``The rest of the level is normal``: of the one spoken of, and no other disc."""
    raw = " ".join(m[0].lower() for m in tokens.found[p.start : p.end + _NEAR_LEVEL + 1])
    return _REST_OF_ONE.match(raw) is not None


def _left_open(parts: Parts, mentions: Sequence[Mention]) -> None:
    """``Moderate L4-5 stenosis; otherwise no stenosis``: at the disc of which it is said it is not denied.

    ``No recurrent herniation`` without a disc speaks of the one that was treated, whichever that is.
    """
    for m in mentions:
        if m.value in ("none", "absent") and parts.words[m.end : m.end + 1] == ["elsewhere"]:
            m.discs, m.placed, m.group = (), "left_out", None  # "foramina narrow at L5-S1, normal elsewhere"
        behind = parts.words[m.group.end : m.group.end + 2] if m.group and m.group.start >= m.end else []
        if m.kind == "desiccation" and m.status == PRESENT and not _OF_WATER.isdisjoint(behind):
            m.discs, m.placed, m.group = (), "left_out", None  # "L3-4 dark, L4-5 bright"
    bulges = [m for m in mentions if m.kind == "displacement" and len(m.discs) == 1]
    doubted = {(m.value, m.discs, m.sides) for m in bulges if m.status == POSSIBLE}
    for m in bulges if doubted else ():
        if m.status == PRESENT and (m.value, m.discs, m.sides) in doubted:
            m.status = POSSIBLE  # "migrated fragment, likely sequestered"
    if not _AGAIN.isdisjoint(parts.words):
        for m in mentions:
            denied = [x.start for x in m.mods if x.entry.kind == "negation" and x.end <= m.start]
            again = denied and not _AGAIN.isdisjoint(parts.words[min(denied) : m.end])
            if m.status == ABSENT and again and not m.placed and not m.discs:
                m.placed = "left_out"
    if "otherwise" not in parts.words:
        return
    at = parts.words.index("otherwise")
    for m in mentions:
        if (
            m.end > at
            and (m.status == ABSENT or m.value in ("none", "absent"))
            and any(
                k.kind == m.kind
                and k.status == PRESENT
                and k.value not in ("none", "absent")
                and k.end <= at
                and k.discs == m.discs
                for k in mentions
            )
        ):  # "moderate stenosis at L4-5, otherwise patent"
            m.discs, m.placed, m.group = (), "left_out", None
            continue
        denials = [x for x in m.mods if x.entry.kind == "negation" and x.start and x.end <= m.start]
        if m.status == ABSENT and any(parts.words[x.start - 1] == "otherwise" for x in denials):
            said = [k for k in mentions if k.kind == m.kind and k.status == PRESENT and k.discs == m.discs]
            if said and m.discs:
                m.discs, m.placed, m.group = (), "left_out", None


def _rest(mentions: list[Mention], out: Gathered) -> list[Mention]:
    """Take out what calls a disc ``otherwise normal`` of which a displacement was told: the rest of it is meant."""
    told = {f.disc for f in out.findings if f.kind == "displacement" and f.status == PRESENT and f.disc}
    lost = [
        m for m in mentions if m.kind == "displacement" and m.value == "none" and not told.isdisjoint(m.discs)
    ]
    mentions[:] = [m for m in mentions if m not in lost]
    return lost


def _of_the_others(mentions: Sequence[Mention], findings: Sequence[Finding]) -> None:
    """``L4-5: mild stenosis. Otherwise no stenosis``: not denied at the disc of which it was said."""
    for m in mentions:
        none = m.value in ("none", "absent")
        if m.group is None and m.discs and (m.status == ABSENT or none):
            told = {
                f.disc
                for f in findings
                if f.kind == m.kind
                and f.status == PRESENT
                and (none or m.kind != "displacement" or f.value == m.value)
            }
            if not told.isdisjoint(m.discs):
                m.discs, m.placed = (), "left_out"


def _to_a_lesser_degree(parts: Parts, groups: Sequence[Group], mentions: list[Mention]) -> None:
    """``Moderate stenosis at L3-4, to a lesser degree at L2-3``: how much it is at the second is not said."""
    for p in parts.places:
        if p.entry.kind != "also" or _COMPARING.isdisjoint(parts.words[p.start : p.end]):
            continue
        behind = {d for g in groups if g.start >= p.end for d in g.discs}
        for m in list(mentions):
            if m.severity_at is None or m.severity_at[0] >= p.start or behind.isdisjoint(m.discs):
                continue
            twin = m.copy()
            twin.severity, twin.severity_at = (), None
            twin.set_severity(None)
            twin.discs = tuple(d for d in m.discs if d in behind)
            m.discs = tuple(d for d in m.discs if d not in behind)
            if m.discs:
                mentions.append(twin)
            else:
                mentions[mentions.index(m)] = twin


def _less_so(parts: Parts, named: Sequence[Group], mentions: Sequence[Mention]) -> list[tuple[int, int]]:
    """``Bulge at L4-5 more than L3-4``: something is said of the second disc too, though not what."""
    if not any(m.status == PRESENT and m.discs for m in mentions):
        return []
    told = {d for m in mentions for d in m.discs}
    rows = [p for p in parts.places if p.entry.kind == "compared" and "than" in parts.words[p.start : p.end]]
    behind = [(p, g) for p in rows for g in named if 0 <= g.start - p.end < _NEAR_LEVEL]
    return [(p.start, g.end) for p, g in behind if told.isdisjoint(g.discs)]


def _hyphened(text: str, tokens: Tokens) -> frozenset[int]:
    """List the words that nothing but a dash parts from the one before."""
    gaps = pairwise(tokens.span(i, i + 1) for i in range(len(tokens.words)))
    return frozenset(i for i, (a, b) in enumerate(gaps, 1) if text[a.end : b.start] in _TIES)


def _surely_done(mentions: list[Mention], parts: Parts, tokens: Tokens) -> list[Mention]:
    """Doubt an operation that was only spoken of (``fusion was discussed``), and drop the name of a department."""
    surgery = [m for m in mentions if m.status == PRESENT and _is_operation(m, parts)]
    if surgery and not _GROWN_TOGETHER.isdisjoint(parts.words):
        for m in surgery:
            m.status = POSSIBLE
    if not surgery or not _SURGERY_DONE.isdisjoint(parts.words):
        return mentions
    if any(x.entry.kind == _MOOD for x in parts.mods):
        return mentions  # withdrawn as a whole
    if not _SPOKEN_OF.isdisjoint(parts.words):
        for m in surgery:
            m.status = POSSIBLE
    elif not _DEPARTMENTS.isdisjoint(parts.words) and not tokens.groups:
        return [m for m in mentions if m not in surgery]
    return mentions


def _is_operation(m: Mention, parts: Parts) -> bool:
    """An operation, or an implant told by the word for putting it in."""
    return m.kind == "prior_surgery" or (
        m.kind == "implant" and not _PUT_IN.isdisjoint(parts.words[m.start : m.end])
    )


def _of_another_part(parts: Parts, tokens: Tokens, low: int, high: int) -> bool:
    """``L5-S1: pars intact``, ``normal ligaments at L4-5``: what is in order is something else than the disc."""
    levels = {i for g in tokens.groups for i in range(g.start, g.end)}
    named = any(i not in levels and parts.words[i] in other_parts() for i in range(low, high))
    return named or any(low <= k.start < high for k in parts.known)


def _of_others(parts: Parts, tokens: Tokens, number: int, out: Gathered) -> bool:
    """``Fissures at L3-4 and L4-5. None at L5-S1.``, ``None elsewhere.``: what stands before is not taken back."""
    named = {d for g in tokens.groups for d in g.discs}
    before = {f.disc for f in out.findings if f.statement == number - 1}
    if "" in before or not before:
        return False
    return named.isdisjoint(before) if named else not _ELSE.isdisjoint(parts.words)


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
    parts: Parts,
    mentions: list[Mention],
    tokens: Tokens,
    ctx: Context,
    sentence: Statement,
    broken: bool,
    before: Heard | None,
    left_over: list[Unplaced],
) -> None:
    """A disc called normal, or free of abnormality, by its name has no displacement.

    Below a ``broken`` label, or one of bone, it may be the thing of the label that is called so.
    """
    if mentions or not parts.acts or broken:
        return
    # the level behind a landmark is where that stands, and it is called normal itself: "conus at L1-2, normal"
    marks = [p.end for p in parts.places if p.entry.kind == "landmark"]
    own = {min((g.start for g in tokens.groups if g.start >= end), default=-1) for end in marks}
    named = any(g.discs and g.start not in own for g in tokens.groups)
    headed = bool(ctx.heading) and (ctx.block or ctx.heading_line == sentence.line)
    if not (named or headed or parts.places) or ((parts.known or marks) and not named):
        return
    for a in parts.acts:
        if parts.words[a.start] in _OF_OPENINGS:
            continue
        negated = [m for m in parts.mods if m.entry.kind == "negation" and m.end <= a.start]
        if (a.entry.kind == "normal" and not negated) or (a.entry.kind == "abnormality" and negated):
            if any(o.entry.kind not in WHOLE and not o.entry.weak for o in parts.objs):
                return
            cuts = [i for i, w in enumerate(parts.words) if w in _CLAUSE_ENDS]
            low = max((i + 1 for i in cuts if i < a.start), default=0)
            high = min((i for i in cuts if i >= a.start), default=len(parts.words))
            if _of_another_part(parts, tokens, low, high):
                continue
            # "ligaments thick at L3-4, normal at L4-5": the part named before may be meant
            if _of_another_part(parts, tokens, 0, low) or may_be_of_what_stands_before(
                sentence, parts, tokens, before
            ):
                left_over.append(
                    Unplaced(tokens.span(0, len(parts.words)), clause_data()["reasons"]["strange"])
                )
                return
            m = Mention("displacement", "none", a.start, a.end, "level_normal")
            m.mods = tuple(negated[-1:])
            m.status = "present"
            mentions.append(m)
            return
