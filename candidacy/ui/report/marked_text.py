"""A report's text cut into pieces, each with what was read from it; the page only wraps the pieces."""

from typing import NamedTuple

from candidacy.reading.model import Reading, Span
from candidacy.reading.show import missed_pieces
from candidacy.reading.wording import kind_words, outside_words, value_words


class Piece(NamedTuple):
    """A stretch of the text: its words, how it is marked (empty: not at all), and what was read there."""

    text: str
    mark: str
    says: str


def marked(reading: Reading) -> list[Piece]:
    """The whole text in order; where marks overlap, the later one begins after the earlier one ends."""
    said: dict[Span, list[str]] = {}
    kind: dict[Span, str] = {}
    for finding in reading.findings:
        where = f"{finding.disc}, " if finding.disc else ""
        said.setdefault(finding.evidence, []).append(
            f"{where}{kind_words(finding.kind)}: {value_words(finding)}"
        )
        kind.setdefault(finding.evidence, "read")
    for contradiction in reading.contradictions:
        for finding in contradiction.findings:
            kind[finding.evidence] = "conflict"
            said.setdefault(finding.evidence, []).append(f"contradiction: {contradiction.about}")
    for seen in reading.outside:
        kind.setdefault(seen.evidence, "flag")
        said.setdefault(seen.evidence, []).append(f"outside the discs: {outside_words(seen)}")
    for flag in reading.red_flags:
        kind[flag.finding.evidence] = "flag"
        said.setdefault(flag.finding.evidence, []).append(f"look at first: {flag.about}")
    for span, why in missed_pieces(reading).items():
        kind.setdefault(span, "unread")
        said.setdefault(span, []).append(f"not read: {why}")
    pieces: list[Piece] = []
    at = 0
    for span in sorted(said, key=lambda s: (s.start, -s.end)):
        start = max(span.start, at)
        if start >= span.end:
            continue
        if start > at:
            pieces.append(Piece(reading.text[at:start], "", ""))
        words = "; ".join(dict.fromkeys(said[span]))
        pieces.append(Piece(reading.text[start : span.end], kind[span], words))
        at = span.end
    pieces.append(Piece(reading.text[at:], "", ""))
    return [piece for piece in pieces if piece.text]
