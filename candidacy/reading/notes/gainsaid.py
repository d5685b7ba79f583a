"""What a passage that was not read may say against a concordance that was: the value is raised, not asserted."""

from collections.abc import Iterator, Sequence

from candidacy.reading.gate_words import gate_words
from candidacy.reading.model import Account, Span
from candidacy.reading.notes.bind import OF_OTHERS
from candidacy.reading.notes.model import PATIENT, Clause, NoteFact
from candidacy.reading.notes.quantities import Part, parts_of
from candidacy.reading.notes.stretch import label_of
from candidacy.reading.notes.vocabulary import Item, items, words_for
from candidacy.reading.renamed import renames

_CONCORDANCE = "discography_concordance"
_INTENSITY = "discography_pain_nrs"
_OTHERWISE = "a passage that was not read seems to say otherwise"
_PAIN = frozenset(("unfamiliar", "similar", "exact"))
_WHOLE = {
    "says_negative": frozenset(("none", "unfamiliar")),
    "says_positive": frozenset(("similar", "exact")),
}
_NEAR = 4
"""So many words on may the disc stand that a verdict is of: ``negative discography at L4-5``."""
_RIGHT_BEFORE = 2
"""So many words before another may the one stand that denies it."""
_ELSEWHERE = ("of an earlier time", "not said to be so", "of another", "compares discs")
"""A passage unread for such a reason speaks of something else than this injection of this disc, or may."""


def gainsaid(
    text: str, rows: Sequence[Clause], ledger: Sequence[Account], facts: Sequence[NoteFact]
) -> tuple[NoteFact, ...]:
    """Make unknown what an unread passage speaks against: a concordance, a relief, or all values of a corrected level."""
    against: dict[str, list[tuple[Span, frozenset[str]]]] = {}
    corrected: set[str] = set()
    voided: set[str] = set()
    pressed: set[str] = set()
    helped_not = False
    for clause, account in zip(rows, ledger, strict=True):
        if clause.skip or account.why.startswith(_ELSEWHERE):
            continue
        if account.missed:
            corrected |= _corrected(text, clause, facts) if not account.findings else frozenset()
            helped_not |= any(_no_relief(text, span) for span in account.missed)
            discs, of_pressure = _voided(text, clause, account, facts)
            if of_pressure:
                pressed |= discs
            else:
                voided |= discs
        if account.why == OF_OTHERS and not any(i.role("discs") for i in items(text, *clause.span)):
            continue  # "The other discs were painless"
        if disc := _one_disc(text, clause):
            for span in account.missed:
                against.setdefault(disc, []).extend((span, o) for o in _told(text, span))
        elif account.missed:
            for disc, verdict in _verdicts(text, clause.span):
                against.setdefault(disc, []).append((clause.span, verdict))
    doubted = voided | {
        f.subject for f in facts if f.element == _CONCORDANCE and _against(f, against.get(f.subject, []))
    }
    out = (_unknown(f, _OTHERWISE) if f.subject in doubted and _hangs(f) else f for f in facts)
    if voided:
        out = (
            _unknown(f, _OTHERWISE)
            if f.subject in voided and f.element == _INTENSITY and "unknown" not in f.form
            else f
            for f in out
        )
    if pressed:
        out = (
            _unknown(f, _OTHERWISE) if f.subject in pressed and "_pressure" in f.element else f for f in out
        )
    if helped_not:
        out = (_unknown(f, _OTHERWISE) if f.element.endswith("_relief") else f for f in out)
    return tuple(_unknown(f, "a passage that was not read corrects the levels") if f.subject in corrected else f
                 for f in out)  # fmt: skip


def _corrected(text: str, clause: Clause, facts: Sequence[NoteFact]) -> frozenset[str]:
    """The discs of which a passage says that they were named wrongly; all, where it names none."""
    sentence = text[clause.span.start : clause.span.end]
    named = renames(sentence)
    if named is None and not gate_words().levels_wrong.search(sentence):
        return frozenset()
    return named or frozenset(f.subject for f in facts if f.subject != PATIENT)


def _voided(
    text: str, clause: Clause, account: Account, facts: Sequence[NoteFact]
) -> tuple[frozenset[str], bool]:
    """The discs of which a passage says that their response cannot be relied on, all where it names none; and whether it is the pressures instead."""
    row = items(text, *clause.span)
    missed = [i for i in row if any(s.start <= i.start < s.end for s in account.missed)]
    said = {w for i in missed for w in i.text.lower().split()}
    unable = any(i.role("negations") for i in missed) and not said.isdisjoint(words_for("answers_not"))
    if not unable and not any(_voids(missed, at) for at in range(len(missed))):
        return frozenset(), False
    named = {d for i in row for r in i.roles_of("discs") for d in r.value}
    if said.isdisjoint(words_for("of_all_discs")):
        named = named or set(clause.discs)
    discs = frozenset(named or {f.subject for f in facts if f.subject != PATIENT})
    return discs, not said.isdisjoint(words_for("of_pressure"))


def _voids(row: Sequence[Item], at: int) -> bool:
    """Say whether a word makes an answer or a pressure doubtful, and none right before it denies that: ``never asleep``."""
    if words_for("voids").isdisjoint(row[at].text.lower().split()):
        return False
    return not any(i.role("negations") for i in row[max(0, at - _RIGHT_BEFORE) : at])


def _verdicts(text: str, span: Span) -> Iterator[tuple[str, frozenset[str]]]:
    """``negative at L4-5, positive at L5-S1``: the concordance that each verdict would leave of the disc behind or before it."""
    row = items(text, *span)
    discs = [(at, r.value) for at, i in enumerate(row) for r in i.roles_of("discs")]
    for at, item in enumerate(row):
        for name, verdict in _WHOLE.items():
            if item.text.lower() not in words_for(name):
                continue
            behind = next((d for a, d in discs if at < a <= at + _NEAR and row[a - 1].role("at")), None)
            before = next((d for a, d in reversed(discs) if a < at), None)
            for disc in behind or before or ():
                yield disc, verdict


def _no_relief(text: str, span: Span) -> bool:
    """``no relief``, beside a relief that was read: of another injection, place or time."""
    parts = parts_of(items(text, *span))
    return any(label_of("relief")(p) and _denied(parts, at) for at, p in enumerate(parts))


def _one_disc(text: str, clause: Clause) -> str:
    named = {d for i in items(text, *clause.span) for r in i.roles_of("discs") for d in r.value}
    named = named or set(clause.discs)
    return named.pop() if len(named) == 1 else ""


def _told(text: str, span: Span) -> Iterator[frozenset[str]]:
    """The concordances that each word of a passage would leave; a denied one is not weighed."""
    parts = parts_of(items(text, *span))
    before = any(label_of("score_before", "score_after")(p) for p in parts)
    control = any("discography_role" in r.value["is"] for p in parts for r in p.item.roles_of("say"))
    for at, part in enumerate(parts):
        if part.unit == "score" and (part.low or 0) > 0 and not before:
            yield _PAIN
        if part.low is not None or _denied(parts, at):
            if part.low is None and part.item.text.lower() in words_for("reproduces"):
                yield _WHOLE["says_negative"]  # "on repeat injection pain was not reproduced"
            continue
        if part.item.text.lower() in words_for("reproduces"):
            yield _PAIN
        for role in part.item.roles_of("say"):
            if _CONCORDANCE in role.value["is"]:
                value = role.value["is"][_CONCORDANCE]
                yield frozenset([value] if isinstance(value, str) else value)
        if not control:
            yield from (o for name, o in _WHOLE.items() if part.item.text.lower() in words_for(name))


def _denied(parts: Sequence[Part], at: int) -> bool:
    return any(p.is_("negations") for p in parts[:at])


def _against(fact: NoteFact, told: Sequence[tuple[Span, frozenset[str]]]) -> bool:
    if "unknown" in fact.form:
        return False
    options = frozenset(fact.form.get("one_of", [fact.form.get("value")]))
    return any(not options & other for span, other in told if span not in fact.spans)


def _hangs(fact: NoteFact) -> bool:
    return fact.element == _CONCORDANCE or fact.form == {"unknown": "not_applicable"}


def _unknown(fact: NoteFact, why: str) -> NoteFact:
    return fact._replace(form={"unknown": "conflicting"}, note=why)
