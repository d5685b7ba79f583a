"""What became of one statement: used, known to carry no weight, or not read, and why."""

from collections.abc import Mapping, Sequence

from candidacy.reading.coverage import (
    Heard,
    ledger_words,
    left_aside,
    lost_shares,
    lost_sides,
    lost_sites,
    missed_clauses,
    not_covered,
    odd_words,
    repeats,
    together,
    tokens_in,
)
from candidacy.reading.dangers import described, named, told_before, unknown_of
from candidacy.reading.lexer import Match, match, tokenise
from candidacy.reading.lexicon import Lexicon, lexicon
from candidacy.reading.mention import Parts
from candidacy.reading.model import (
    ABSENT,
    BODY,
    KNOWN,
    PARTLY,
    UNREAD,
    USED,
    Account,
    Finding,
    Outside,
    Statement,
    Unplaced,
)
from candidacy.reading.outside import outside

_TITLE = 4
"""A line of so many words may be a title that names what the next ones are about."""
_NEAR = 4
"""A word that takes a limit of the study back stands so many words before it at most."""
_SIGNS = frozenset(("+", "r", "l", "rt", "lt"))
_SIDES_ALONE = frozenset(("r", "l", "rt", "lt", "right", "left", "bilateral", "both", "and", "side", "sided"))
_MOST_WORDS = 8
"""So many words that no rule knows are named in a reason."""


class Entry:
    """One statement while it is being accounted for."""

    __slots__ = (
        "dangers",
        "data",
        "findings",
        "heard",
        "number",
        "numbers",
        "rest",
        "rests_on",
        "row",
        "seen",
        "text",
        "told",
    )

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
        self.told, self.dangers, self.data = told, dangers, ledger_words()
        self.seen = heard.seen if heard is not None else ()
        rests_on: list[Finding | Outside] = [f for f in self.findings if f.statement >= 0]
        rests_on += self.seen
        self.rests_on = rests_on
        self.rest: frozenset[int] = frozenset()

    def account(self) -> Account:
        """Say what became of the statement."""
        row, data, heard = self.row, self.data, self.heard
        if row.region == "row_name":
            return self._known("layout", data.reasons["label"])
        if heard is None:
            return self._unread(data.reasons[f"region_{row.region}"])
        if row.section in data.sections:
            listed = {o.evidence for o in self.seen}
            said = [f for f in self.findings if f.statement >= 0 and f.status in ("present", "possible")]
            said = [f for f in said if f.evidence not in listed]
            if said and row.section in data.no_findings_in:
                return self._unread(data.reasons["out_of_place"].format(section=row.section))
            told = told_before(self.text[row.start : row.end], row.section)
            if told:
                return self._unread(data.reasons["told_before"])._replace(danger=told)
            if (
                heard.parts.heads
                and not self.findings
                and self.told
                and row.section in data.findings_shown_in
            ):
                return self._unread(self.told[0].reason)
            if row.section == "technique" and self._limit(heard.parts.words):
                return self._unread(data.reasons["limit"])
            return self._known(f"section:{row.section}", data.sections[row.section])
        self.rest = not_covered(heard, self.findings, self.data)
        if self.told and not self.rests_on:
            return self._unread(self._because(range(len(heard.parts.words)), self.told[0].reason))
        if not self.rests_on:
            return self._of_study(heard)
        spans = [u.span for u in self.told]
        if heard.parts.acts or heard.parts.heads:
            aside = [x.quoted for x in self.rests_on] + [w for o in self.seen for w in o.words]
            spans += left_aside(heard, [*aside, *spans])
        if not data.cuts.isdisjoint(heard.parts.words):
            used = [x.evidence for x in self.rests_on]
            used += [m.span for x in self.rests_on for m in x.modifiers]
            used += [f.place for f in self.findings if f.place]
            spans += missed_clauses(heard, used, self.rest, self.data)
        if heard.tokens.groups:
            spans += repeats(heard)
        sides = lost_sides(heard, self.findings) + lost_sites(heard, self.findings)
        spans += lost_shares(heard, self.findings)
        odd = odd_words(heard, self.rest, spans) if self.rest else []
        missed = together(spans + sides + odd) if spans or sides or odd else ()
        if not missed:
            if not self.findings and all(o.status == ABSENT for o in self.seen):
                return self._known("outside", data.reasons["denied_outside"])
            return Account(row.span, USED, self.number, self.numbers)
        reason = self.told[0].reason if self.told else data.reasons["side"] if sides and not spans else ""
        why = self._because(tokens_in(heard, missed), reason)
        found = Account(row.span, PARTLY, self.number, self.numbers, why=why, missed=missed)
        return self._with_danger(found)

    def _of_study(self, heard: Heard) -> Account:
        """Facts of the study alone explain a sentence only where nothing else in it is left over."""
        account, parts = self._nothing_found(heard), heard.parts
        if not self.findings:
            return account
        if account.state == KNOWN or not (self.rest or parts.heads or parts.acts):
            return Account(account.span, USED, self.number, self.numbers)
        return account._replace(state=PARTLY)

    def _nothing_found(self, heard: Heard) -> Account:
        parts, data = heard.parts, self.data
        idle = self._idle(parts.words)
        things = [k for k in parts.known if k.entry.weak] + parts.objs
        if idle is not None and not parts.heads and not things and not heard.tokens.groups:
            return self._known(*idle)
        all_tokens, groups = range(len(parts.words)), heard.tokens.groups
        if self.rest or parts.heads:
            return self._unread(self._because(all_tokens))
        if any(w[:1].isdigit() for w in parts.words[heard.added :]) and things:
            return self._unread(data.reasons["measure"])
        firm = next((k for k in parts.known if not k.entry.weak), None)
        if any(g.discs for g in groups) and self._grades_a_disc(parts, firm):
            return self._unread(data.reasons["no_rule"])
        if firm is not None and not parts.acts:
            return self._known(firm.entry.id, data.reasons["no_weight"])
        if (things or firm) and self._in_order(parts):
            by = firm or things[0]
            return self._known(by.entry.id, data.reasons["in_order"])
        if firm is not None:
            return self._known(firm.entry.id, data.reasons["no_weight"])
        words = self.text[self.row.start : self.row.end].rstrip()
        title = self.row.order == 0 and self.text[self.row.end : self.row.end + 1] in ("\r", "\n")
        label = not parts.acts and (words.endswith(":") or (title and len(words.split()) <= _TITLE))
        if parts.acts and self._in_order(parts) and len(parts.words) > len(parts.acts) + 1 and not groups:
            return self._known(parts.acts[0].entry.id, data.reasons["in_order"])
        said = parts.objs or parts.acts or parts.known or parts.mods or parts.severities or parts.attributes
        repeated = bool(groups) and not (data.repeats | _SIGNS).isdisjoint(
            parts.words
        )  # "L4-5: same", "L5-S1 - + +"
        repeated |= any(
            parts.words[i][0].isdigit() for g in groups[:1] for i in range(g.end, len(parts.words))
        )
        spelled = {w for w in parts.words if w[0].isalpha()}
        repeated |= bool(spelled) and spelled <= _SIDES_ALONE and not words.endswith(":")  # "Protrusion. R."
        if not repeated and (label or not said):
            return self._known("layout", data.reasons["label"])
        return self._unread(data.reasons["no_rule"])

    def _limit(self, words: Sequence[str]) -> bool:
        """``Technique: motion artefact degrades the axial images``: a limit of the study is no detail of its making."""
        data = self.data
        return any(
            w in data.limits and data.no_limit.isdisjoint(words[max(0, i - _NEAR) : i])
            for i, w in enumerate(words)
        )

    def _grades_a_disc(self, parts: Parts, firm: Match | None) -> bool:
        """``Severe degenerative changes at L5-S1``, ``worst at L5-S1``: a degree of a disc is not of no weight."""
        stressed = any(p.entry.kind == "emphasis" for p in parts.places)
        if firm is None:
            return stressed
        return bool(parts.severities or stressed) and firm.entry.id in self.data.graded

    def _in_order(self, parts: Parts) -> bool:
        denied = any(m.entry.kind == "negation" for m in parts.mods)
        normal = any(a.entry.kind == "normal" for a in parts.acts)
        other = any(a.entry.kind != "normal" for a in parts.acts)
        if denied:
            return not normal
        return not other and (normal or not self.data.in_order.isdisjoint(parts.words))

    def _idle(self, words: Sequence[str]) -> tuple[str, str] | None:
        for at, word in enumerate(words):
            for phrase, rule, why in self.data.idle.get(word, ()):
                if tuple(words[at : at + len(phrase)]) == phrase:
                    return rule, why
        return None

    # --- entries

    def _because(self, among: Sequence[int], reason: str = "") -> str:
        heard = self.heard
        assert heard is not None
        rest = self.rest
        odd = (
            list(dict.fromkeys(heard.tokens.found[i][0].lower() for i in among if i in rest)) if rest else []
        )
        if not odd:
            return reason or self.data.reasons["no_rule"]
        named = ", ".join(odd[:_MOST_WORDS]) + (" ..." if len(odd) > _MOST_WORDS else "")
        foreign = self.data.reasons["foreign"].format(words=named)
        return f"{reason}; {foreign}" if reason else foreign

    def _known(self, rule: str, why: str) -> Account:
        return Account(self.row.span, KNOWN, self.number, self.numbers, rule, why)

    def _unread(self, why: str) -> Account:
        span = self.row.span
        return self._with_danger(Account(span, UNREAD, self.number, self.numbers, why=why, missed=(span,)))

    def _with_danger(self, account: Account) -> Account:
        heard = self.heard or self._hear()
        told = [(kind, at) for kind, at in kinds_in(heard.parts, lexicon()) if kind in self.dangers]
        found = [(kind, heard.tokens.span(at, at + 1)) for kind, at in told]
        found += [(o.kind, o.evidence) for o in heard.seen if o.status != ABSENT and o.kind in self.dangers]
        for kind, span in found:
            if any(s.start <= span.start < s.end for s in account.missed):
                return account._replace(danger=self.dangers[kind])
        if self.row.section not in BODY:
            return account
        levels = bool(heard.tokens.groups)
        danger = next((d for s in account.missed if (d := named(self.text[s.start : s.end]))), "")
        danger = danger or described(self.text, account.span, account.missed, names_level=levels)
        if not danger and account.state == UNREAD and self.rest:
            danger = self._perhaps(heard, account)
        return account._replace(danger=danger) if danger else account

    def _perhaps(self, heard: Heard, account: Account) -> str:
        """Name the danger that a sentence may tell of by what it speaks of, where nothing that is said in it is known."""
        parts = heard.parts
        of_roots = {i for o in parts.objs for i in range(o.start, o.end)}
        vertebra = any(g.vertebra and g.start not in of_roots for g in heard.tokens.groups)
        in_order = any(a.entry.kind == "normal" for a in parts.acts)
        if parts.heads or in_order or any(not k.entry.weak for k in parts.known):
            return ""
        of_disc = bool(parts.acts) and any(g.discs for g in heard.tokens.groups)
        sentence = self.text[account.span.start : account.span.end]
        return "" if of_disc else unknown_of(sentence, names_vertebra=vertebra, half_known=bool(parts.acts))

    def _hear(self) -> Heard:
        tokens = tokenise(self.text, self.row.start, self.row.end, lexicon())
        parts = Parts(tokens.words, match(tokens.words, lexicon()))
        return Heard(parts, tokens, 0, outside(parts, tokens, self.row, self.number))


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
