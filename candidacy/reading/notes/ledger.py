"""What became of every clause of a note: used, used in part, known to be of no weight, or unread with the reason."""

from collections.abc import Iterable, Sequence
from typing import Any

from candidacy.reading.dangers import MATTERS, named
from candidacy.reading.model import KNOWN, PARTLY, UNREAD, USED, Account
from candidacy.reading.notes.model import Clause, NoteFact
from candidacy.reading.notes.stretch import Bound
from candidacy.reading.notes.vocabulary import Item, items, vocabulary, words_for

_TITLE = "title"


def accounts(
    text: str, rows: Sequence[Clause], read: Sequence[Bound], facts: Sequence[NoteFact], why: str
) -> tuple[Account, ...]:
    """Account for the clauses in their order; ``why`` says why nothing of the note is used, where that is so."""
    resting: dict[int, list[int]] = {}
    for at, fact in enumerate(facts):
        for n in fact.clauses:
            resting.setdefault(n, []).append(at)
    pairs = enumerate(zip(rows, read, strict=True))
    told = (_account(text, n, c, b, tuple(resting.get(n, ())), why) for n, (c, b) in pairs)
    return tuple(_with_danger(text, a) for a in told)


def _with_danger(text: str, account: Account) -> Account:
    """Name the danger that the unread words tell of: a complication is no value of a record, and nobody may miss it."""
    told = (named(text[s.start : s.end], MATTERS) for s in account.missed)
    return account._replace(danger=next((d for d in told if d), ""))


def _account(text: str, n: int, clause: Clause, read: Bound, facts: tuple[int, ...], why: str) -> Account:
    span = clause.span
    if clause.skip in ("heading", "head"):
        return Account(span, KNOWN, n, rule="heading")
    if clause.skip:
        return Account(span, UNREAD, n, why=clause.skip, missed=(span,))
    missed = tuple(s for s, _ in read.missed)
    reasons = "; ".join(dict.fromkeys(w for _, w in read.missed))
    if facts:
        return Account(span, PARTLY if missed else USED, n, facts, why=reasons, missed=missed)
    if missed:  # with nothing used, the whole clause is shown: its disc too
        return Account(span, UNREAD, n, why=reasons, missed=(span,))
    if read.said:
        return Account(span, UNREAD, n, why=why or "no element of the record holds it", missed=(span,))
    reason = _known(text, clause)
    if reason:
        return Account(span, KNOWN, n, rule=reason)
    return Account(span, UNREAD, n, why="nothing recognised", missed=(span,))


def _known(text: str, clause: Clause) -> str:
    words = " ".join(text[clause.span.start : clause.span.end].lower().split())
    row = items(text, *clause.span)
    if any(i.role(n) for i in row for n in ("past", "mood", "others")):
        return ""
    if any(i.role("troubles") or i.role("tells") or i.role("undone") for i in row) or named(words, MATTERS):
        return ""
    weighty = [i for i in row if i.role("number") or i.role("say")]
    if clause.label:
        return "an empty answer"
    if not weighty and all(i.role("fillers") or i.role("discs") or i.role("label") for i in row):
        return "heading"
    if weighty or any(i.role("hedges") for i in row):
        return ""
    table: dict[str, Iterable[Any]] = vocabulary().data["known"]
    reason = next((reason for reason, phrases in table.items() if any(p in words for p in phrases)), "")
    return "" if reason == _TITLE and not _is_title(row) else reason


def _is_title(row: Sequence[Item]) -> bool:
    """A title holds words of titles only: one that goes on to tell something is no title."""
    own = {w for p in vocabulary().data["known"][_TITLE] for w in p.split()} | words_for("title")
    return all(
        i.role("fillers") or i.role("discs") or i.role("units") or not i.text[0].isalnum()
        or all(w in own for w in i.text.lower().split())
        for i in row
    )  # fmt: skip
