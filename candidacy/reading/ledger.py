"""Every word of a report accounted for: used, known to carry no weight, or not read, and why."""

import re
from collections.abc import Mapping, Sequence
from functools import cache
from typing import NamedTuple

from candidacy.reading.data_files import rows_of
from candidacy.reading.grades import ROMAN
from candidacy.reading.headings import heading, numeral
from candidacy.reading.lexer import Match, Tokens, match, tokenise
from candidacy.reading.lexicon import Lexicon, grammar, lexicon
from candidacy.reading.mention import Parts
from candidacy.reading.model import (
    ABSENT,
    KNOWN,
    PARTLY,
    UNREAD,
    USED,
    Account,
    Finding,
    Outside,
    Span,
    Statement,
    Unplaced,
)

_WORD = re.compile(r"[^\W_]+")
_GRADES = frozenset((*grammar("grade_cue"), *grammar("grade_filler"), *map(str.lower, ROMAN[1:])))
"""Words that are used where they stand in the words of a finding: a grade and what leads to it."""
_LETTER = re.compile(r"[^\W\d_]")
_MARKUP = " \t*#_=[]<>~-–—.,;()0123456789"
_MOST_WORDS = 8
"""So many words that no rule knows are named in a reason."""


class Heard(NamedTuple):
    """What the reader recognised in a statement; ``added`` words at its front stand in for the name of a column.

    ``seen`` is what it says of anything but the discs, denials among it.
    """

    parts: Parts
    tokens: Tokens
    added: int
    seen: Sequence[Outside]


class _Words(NamedTuple):
    """The data file, with its words as the lexicon spells them."""

    sections: Mapping[str, str]
    no_findings_in: frozenset[str]
    plain: frozenset[str]
    cuts: frozenset[str]
    in_order: frozenset[str]
    idle: Mapping[str, Sequence[tuple[tuple[str, ...], str, str]]]
    reasons: Mapping[str, str]


@cache
def words_of_ledger() -> _Words:
    """Load the data file once."""
    data, lex = rows_of("ledger"), lexicon()

    def several(name: str) -> frozenset[str]:
        given = data[name].split()
        return frozenset((*given, *(lex.spell(w) for w in given)))

    idle: dict[str, list[tuple[tuple[str, ...], str, str]]] = {}
    for row in data["idle"]:
        for phrase in row["phrases"]:
            words = lex.words(phrase)
            idle.setdefault(words[0], []).append((words, row["id"], row["why"]))
    return _Words(
        data["sections"],
        frozenset(data["no_findings_in"]),
        several("plain") | several("describing") | several("in_order"),
        several("cuts"),
        several("in_order"),
        idle,
        data["reasons"],
    )


def ledger(
    text: str,
    rows: Sequence[Statement],
    heard: Mapping[int, Heard],
    findings: Sequence[Finding],
    left_over: Sequence[Unplaced],
    dangers: Mapping[str, str],
) -> tuple[Account, ...]:
    """Account for every word of the text, in its order; each statement has exactly one entry.

    Parameters
    ----------
    dangers
        What a kind of finding would put on top of the reading, by kind.
    """
    mine: dict[int, list[int]] = {}
    listed = 0
    of_study = [n for n, f in enumerate(findings) if f.statement < 0]
    for n, f in enumerate(findings):
        mine.setdefault(f.statement, []).append(n)
    out: list[Account] = []
    at = 0
    for number, row in enumerate(rows):
        out += _between(text, at, row.start)
        numbers = mine.get(number, []) + [
            n for n in of_study if row.start <= findings[n].evidence.start < row.end
        ]
        told = [u for u in left_over if row.start <= u.span.start < row.end]
        account = _Entry(text, number, row, heard.get(number), findings, numbers, told, dangers).account()
        count = sum(o.status != ABSENT for o in heard[number].seen) if number in heard else 0
        out.append(account._replace(outside=tuple(range(listed, listed + count))))
        listed += count
        at = max(at, row.end)
    return (*out, *_between(text, at, len(text)))


def _between(text: str, start: int, end: int) -> list[Account]:
    """Account for what stands between two statements: headings, the numbers of a list, names of columns."""
    found = list(_WORD.finditer(text, start, end))
    if not found:
        return []
    span = Span(found[0].start(), found[-1].end())
    lex = lexicon()
    if all(m[0].isdigit() for m in found):
        return [Account(span, KNOWN, -1, rule="layout", why="number of an item")]
    if all(heading(p, 0, len(p), lex, colon=True, whole=True) is not None for p in _parts(text, span)):
        return [Account(span, KNOWN, -1, rule="layout", why="heading")]
    why = words_of_ledger().reasons["gap"]
    return [Account(span, UNREAD, -1, why=why, missed=(span,))]


def _parts(text: str, span: Span) -> list[str]:
    """Give what stands between colons and line ends, without the numbers of items and what marks a heading up."""
    lines = re.split(r"[:\r\n]", text[span.start : span.end])
    return [
        line[numeral(line, 0, len(line)) :]
        for line in (m.strip(_MARKUP) for m in lines)
        if _LETTER.search(line)
    ]


class _Entry:
    """One statement while it is being accounted for."""

    def __init__(
        self,
        text: str,
        number: int,
        row: Statement,
        heard: Heard | None,
        findings: Sequence[Finding],
        numbers: Sequence[int],
        told: Sequence[Unplaced],
        dangers: Mapping[str, str],
    ) -> None:
        self.text, self.number, self.row, self.heard = text, number, row, heard
        self.findings, self.numbers = [findings[n] for n in numbers], tuple(numbers)
        self.told, self.dangers, self.data = told, dangers, words_of_ledger()
        self.seen = heard.seen if heard is not None else ()
        rests_on: list[Finding | Outside] = [f for f in self.findings if f.statement >= 0]
        rests_on += self.seen
        self.used = [s for x in rests_on for s in (x.evidence, *(m.span for m in x.modifiers))]
        self.rest: frozenset[int] = frozenset()

    def account(self) -> Account:
        """Say what became of the statement."""
        row, data, heard = self.row, self.data, self.heard
        if heard is None:
            return self._unread(data.reasons["other_region"])
        if row.section in data.sections:
            listed = {o.evidence for o in self.seen}
            said = [f for f in self.findings if f.statement >= 0 and f.status in ("present", "possible")]
            said = [f for f in said if f.evidence not in listed]
            if said and row.section in data.no_findings_in:
                return self._unread(data.reasons["out_of_place"].format(section=row.section))
            return self._known(f"section:{row.section}", data.sections[row.section])
        self.rest = self._not_covered(heard)
        if self.told and not self.used:
            return self._unread(self._because(range(len(heard.parts.words)), self.told[0].reason))
        if not self.used:
            return self._of_study(heard)
        clauses = self._missed_clauses(heard)
        missed = [u.span for u in self.told] + clauses + self._odd_words(heard, clauses)
        if not missed:
            if not self.findings and all(o.status == ABSENT for o in self.seen):
                return self._known("outside", data.reasons["denied_outside"])
            return Account(row.span, USED, self.number, self.numbers)
        why = self._because(self._tokens_in(heard, missed), self.told[0].reason if self.told else "")
        found = Account(
            row.span, PARTLY, self.number, self.numbers, why=why, missed=tuple(sorted(set(missed)))
        )
        return self._with_danger(found)

    def _of_study(self, heard: Heard) -> Account:
        """Facts of the study alone explain a sentence only where nothing else in it is left over."""
        account, parts = self._nothing_found(heard), heard.parts
        if not self.findings:
            return account
        if account.state == KNOWN or not (self.rest or parts.heads or parts.acts):
            return Account(account.span, USED, self.number, self.numbers)
        return account._replace(state=PARTLY)

    def _odd_words(self, heard: Heard, clauses: Sequence[Span]) -> list[Span]:
        """Give the words that no rule knows in clauses that were used."""
        out: list[Span] = []
        last = -2
        for i in sorted(self.rest):
            span = heard.tokens.span(i, i + 1)
            if any(s.start <= span.start < s.end for s in clauses):
                continue
            if i == last + 1:
                out[-1] = Span(out[-1].start, span.end)
            else:
                out.append(span)
            last = i
        return out

    def _nothing_found(self, heard: Heard) -> Account:
        parts, data = heard.parts, self.data
        idle = self._idle(parts.words)
        things = [k for k in parts.known if k.entry.weak] + parts.objs
        if idle is not None and not parts.heads and not things and not heard.tokens.groups:
            return self._known(*idle)
        all_tokens = range(len(parts.words))
        if self.rest or parts.heads:
            return self._unread(self._because(all_tokens))
        if any(w[:1].isdigit() for w in parts.words[heard.added :]) and things:
            return self._unread(data.reasons["measure"])
        firm = next((k for k in parts.known if not k.entry.weak), None)
        if firm is not None and not parts.acts:
            return self._known(firm.entry.id, "of no weight here")
        if (things or firm) and self._in_order(parts):
            by = firm or things[0]
            return self._known(by.entry.id, "said to be in order; it makes no finding here")
        if firm is not None:
            return self._known(firm.entry.id, "of no weight here")
        label = self.text[self.row.start : self.row.end].rstrip().endswith(":") and not parts.acts
        said = parts.objs or parts.acts or parts.known or parts.mods or parts.severities or parts.attributes
        if label or not said:
            return self._known("layout", "names what follows; says nothing by itself")
        return self._unread(data.reasons["no_rule"])

    def _in_order(self, parts: Parts) -> bool:
        denied = any(m.entry.kind == "negation" for m in parts.mods)
        normal = any(a.entry.kind == "normal" for a in parts.acts)
        other = any(a.entry.kind not in ("normal",) for a in parts.acts)
        if denied:
            return other and not normal
        return not other and (normal or not self.data.in_order.isdisjoint(parts.words))

    def _idle(self, words: Sequence[str]) -> tuple[str, str] | None:
        for at, word in enumerate(words):
            for phrase, rule, why in self.data.idle.get(word, ()):
                if tuple(words[at : at + len(phrase)]) == phrase:
                    return rule, why
        return None

    # --- clauses of a statement that made findings

    def _missed_clauses(self, heard: Heard) -> list[Span]:
        """Give the clauses that no finding rests on and that hold more than words of no weight."""
        words, tokens = heard.parts.words, heard.tokens
        if self.data.cuts.isdisjoint(words):
            return []
        used = [*self.used, *(f.place for f in self.findings if f.place)]
        out: list[Span] = []
        low = heard.added
        for high in (*(i for i in range(low, len(words)) if words[i] in self.data.cuts), len(words)):
            if high > low:
                span = tokens.span(low, high)
                if not any(s.start < span.end and span.start < s.end for s in used) and self._says_something(
                    heard, low, high
                ):
                    out.append(span)
            low = high
        return out

    def _says_something(self, heard: Heard, low: int, high: int) -> bool:
        parts = heard.parts

        def within(rows: Sequence[Match]) -> list[Match]:
            return [m for m in rows if low <= m.start < high]

        if any(low <= i < high for i in self.rest) or within(parts.heads):
            return True
        acts = within(parts.acts)
        return bool(acts and within(parts.objs)) and not within(parts.known) and not self._normal(acts)

    @staticmethod
    def _normal(acts: Sequence[Match]) -> bool:
        return all(a.entry.kind == "normal" for a in acts)

    def _tokens_in(self, heard: Heard, spans: Sequence[Span]) -> list[int]:
        return [
            i
            for i, m in enumerate(heard.tokens.found)
            if i >= heard.added and any(s.start <= m.start() < s.end for s in spans)
        ]

    # --- words

    def _not_covered(self, heard: Heard) -> frozenset[int]:
        """Positions of words that no entry of the lexicon and no list of plain words covers."""
        parts, tokens = heard.parts, heard.tokens
        taken: set[int] = set()
        for rows in (
            parts.heads,
            parts.acts,
            parts.objs,
            parts.mods,
            parts.places,
            parts.attributes,
            parts.known,
        ):
            for m in rows:
                taken.update(range(m.start, m.end))
        for start, end, _ in parts.severities:
            taken.update(range(start, end))
        for g in tokens.groups:
            taken.update(range(g.start, g.end))
        used = [f.evidence for f in self.findings if f.statement < 0 or f.rule == "measure"]
        used += [s for o in self.seen for s in o.words]
        graded = [f.evidence for f in self.findings]
        plain, out = self.data.plain, set()
        for i in range(heard.added, len(parts.words)):
            word = parts.words[i]
            if i in taken or word in plain or not word[0].isalpha() or len(word) < 2:
                continue
            found = tokens.found[i]
            near = used + graded if word in _GRADES else used
            if found[0].lower() in plain or any(s.start <= found.start() < s.end for s in near):
                continue
            out.add(i)
        return frozenset(out)

    def _because(self, among: Sequence[int], reason: str = "") -> str:
        heard = self.heard
        assert heard is not None
        odd = list(dict.fromkeys(heard.tokens.found[i][0].lower() for i in among if i in self.rest))
        if not odd:
            return reason or self.data.reasons["no_rule"]
        named = ", ".join(odd[:_MOST_WORDS]) + (" ..." if len(odd) > _MOST_WORDS else "")
        foreign = self.data.reasons["foreign"].format(words=named)
        return f"{reason}; {foreign}" if reason else foreign

    # --- entries

    def _known(self, rule: str, why: str) -> Account:
        return Account(self.row.span, KNOWN, self.number, self.numbers, rule, why)

    def _unread(self, why: str) -> Account:
        span = self.row.span
        return self._with_danger(Account(span, UNREAD, self.number, self.numbers, why=why, missed=(span,)))

    def _with_danger(self, account: Account) -> Account:
        parts, tokens = self._all_parts()
        for kind, start in kinds_in(parts, lexicon()):
            if kind in self.dangers and any(
                s.start <= tokens.found[start].start() < s.end for s in account.missed
            ):
                return account._replace(danger=self.dangers[kind])
        return account

    def _all_parts(self) -> tuple[Parts, Tokens]:
        if self.heard is not None:
            return self.heard.parts, self.heard.tokens
        tokens = tokenise(self.text, self.row.start, self.row.end, lexicon())
        return Parts(tokens.words, match(tokens.words, lexicon())), tokens


def kinds_in(parts: Parts, lex: Lexicon) -> list[tuple[str, int]]:
    """Give the kinds of finding that the words of a statement could mean, each with the position of its word."""
    out = [(h.entry.kind, h.start) for h in parts.heads]
    out += [(kind, h.start) for h in parts.heads for kind in h.entry.also]
    severe = any("severe" in value for _, _, value in parts.severities)
    for a in parts.acts:
        for o in parts.objs:
            pair = lex.pairs.get((a.entry.kind, o.entry.kind))
            if pair is not None:
                out += [(kind, a.start) for kind in (*pair.also, *((pair.kind,) if severe else ()))]
    return out
