"""A report's text cut into pieces, each with what was read from it and the facts that rest on it."""

import itertools
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.explain.said import statement_words, title_of
from candidacy.reading.model import Account, Reading, Span
from candidacy.reading.notes.model import NoteReading
from candidacy.reading.show import missed_pieces
from candidacy.reading.wording import kind_words, outside_words, value_words
from candidacy.ui.report.desk import Report, Row

_RANK = ("danger", "flag", "conflict", "unread", "read")
"""What a piece is marked as where several things hold of it: the first of these."""


class Piece(NamedTuple):
    """A stretch of the text: its words, how it is marked (empty: not at all), what was read there, and from which facts.

    ``facts`` are places in the rows of the report, the one whose words fit most closely first.
    """

    text: str
    mark: str
    says: str
    facts: tuple[int, ...] = ()


class _Layer(NamedTuple):
    span: Span
    mark: str
    says: str
    fact: int = -1


def marked(report: Report, rows: list[Row]) -> list[Piece]:
    """The whole text in order, cut wherever something that is marked begins or ends."""
    reading = report.reading
    layers = [*_facts(rows), *(_imaging(reading) if isinstance(reading, Reading) else _note(reading, rows))]
    text = report.text
    cuts = sorted({0, len(text), *(at for each in layers for at in each.span)})
    opening = sorted(layers, key=lambda each: each.span.start)
    pieces: list[Piece] = []
    over: list[_Layer] = []
    coming = 0
    for start, end in itertools.pairwise(cuts):
        over = [each for each in over if each.span.end > start]
        while coming < len(opening) and opening[coming].span.start <= start:
            over += [opening[coming]] if opening[coming].span.end > start else []
            coming += 1
        pieces.append(_piece(text[start:end], over))
    return list(_joined(pieces))


def first_pieces(pieces: list[Piece]) -> dict[int, int]:
    """For each fact the piece that leads to it, or else the first that it rests on."""
    found: dict[int, int] = {}
    for at, piece in enumerate(pieces):
        if piece.facts:
            found.setdefault(piece.facts[0], at)
    for at, piece in enumerate(pieces):
        for fact in piece.facts:
            found.setdefault(fact, at)
    return found


def _piece(text: str, over: list[_Layer]) -> Piece:
    if not over:
        return Piece(text, "", "")
    mark = min((each.mark for each in over), key=_RANK.index)
    closest = sorted(over, key=lambda each: each.span.end - each.span.start)
    facts = tuple(dict.fromkeys(each.fact for each in closest if each.fact >= 0))
    return Piece(text, mark, "; ".join(dict.fromkeys(each.says for each in closest if each.says)), facts)


def _joined(pieces: Iterable[Piece]) -> Iterator[Piece]:
    """Join neighbours that say the same."""
    last: Piece | None = None
    for piece in pieces:
        if last is not None and last[1:] == piece[1:]:
            last = last._replace(text=last.text + piece.text)
            continue
        if last is not None:
            yield last
        last = piece
    if last is not None:
        yield last


def _facts(rows: list[Row]) -> Iterator[_Layer]:
    for number, row in enumerate(rows):
        element = catalogue()[row.fact.element]
        says = f"{title_of(row.fact.subject, element)}: {statement_words(element, row.fact.entry)}"
        for span in row.fact.spans:
            yield _Layer(span, "read", says, number)


def _imaging(reading: Reading) -> Iterator[_Layer]:
    for finding in reading.findings:
        where = f"{finding.disc}, " if finding.disc else ""
        yield _Layer(finding.evidence, "read", f"{where}{kind_words(finding.kind)}: {value_words(finding)}")
    for contradiction in reading.contradictions:
        for finding in contradiction.findings:
            yield _Layer(finding.quoted, "conflict", f"contradiction: {contradiction.about}")
    for seen in reading.outside:
        yield _Layer(seen.quoted, "flag", f"outside the discs: {outside_words(seen)}")
    for flag in reading.red_flags:
        yield _Layer(flag.finding.quoted, "flag", f"look at first: {flag.about}")
    pieces = missed_pieces(reading)
    for account in reading.unread:
        yield from _unread(account, [s for s in pieces if _within(s, account)])


def _note(reading: NoteReading, rows: list[Row]) -> Iterator[_Layer]:
    taken = sorted({span for row in rows for span in row.fact.spans})
    for account in reading.unread:
        rest: list[Span] = []
        for span in account.missed:
            at = span.start
            for held in taken:
                if held.end > at and held.start < span.end:
                    rest += [Span(at, held.start)] if held.start > at else []
                    at = max(at, held.end)
            rest += [Span(at, span.end)] if at < span.end else []
        yield from _unread(account, rest)
    for question in reading.questions:
        for span in question.spans:
            yield _Layer(span, "conflict", f"to settle: {question.about}")


def _unread(account: Account, spans: list[Span]) -> Iterator[_Layer]:
    danger = f", holds a word of: {account.danger}" if account.danger else ""
    for span in spans:
        yield _Layer(span, "danger" if danger else "unread", f"not read: {account.why}{danger}")


def _within(span: Span, account: Account) -> bool:
    return any(missed.start <= span.start and span.end <= missed.end for missed in account.missed)
