"""A stretch read whole: its values, what was not used, and what stands beside it and is taken back."""

from itertools import pairwise

from candidacy.reading.model import Span
from candidacy.reading.notes.model import Said
from candidacy.reading.notes.numbers import is_code, number
from candidacy.reading.notes.quantities import Part
from candidacy.reading.notes.sayings import answers, says
from candidacy.reading.notes.stretch import Bound, Stretch, says_annulus
from candidacy.reading.notes.vocabulary import vocabulary, words_for

_WORD = 4
"""Letters of the shortest word of concordance that is none of the signs of a table."""
_SIGNS = frozenset(("+", "±", "↑", "↓"))
_CLOSING = frozenset((")", ".", ":"))
_CODE = "a code for the pain, of which the scale is not named"
_DASHES = frozenset(("-", "–", "—"))
_VERDICTS = frozenset(("result",))
_OF_PAIN = ("discography_concordance", "discography_pain_nrs")


def read_stretch(row: Stretch) -> Bound:
    answers(row)
    says(row)
    row.pain |= any(p.unit == "score" and (p.high or 0) > 0 for p in row.parts)
    for i, part in enumerate(row.parts):
        if part.low is not None and not part.used:
            number(row, i)
    return settle(row)


def settle(row: Stretch) -> Bound:
    """Take back, comma by comma, what stands beside something that was not used; make doubted values unknown."""
    pieces: list[list[int]] = [[]]
    for i, part in enumerate(row.parts):
        if part.low is None and part.item.text in (",", ";"):
            pieces.append([])
        else:
            pieces[-1].append(i)
    said: list[Said] = []
    missed: list[tuple[Span, str]] = list(row.unplaced)
    missed += _not_understood(row)
    for piece in pieces:
        if not piece:
            continue
        span = Span(row.parts[piece[0]].start, max(row.parts[i].end for i in piece))
        here = [s for s, at in row.said if at in piece]
        why = _left(row, piece)
        if why:
            missed.append((span, why))
            continue
        missed += (
            []
            if any(s.start < span.end and span.start < s.end for s, _ in missed)
            else _silent(row, piece, span, bool(here))
        )
        if here:
            told = [s for s, _ in missed]
            missed += [(s, "nothing recognised") for s in _joined_on(row, piece)
                       if not any(t.start < s.end and s.start < t.end for t in told)]  # fmt: skip
        hedged = [i for i in piece if row.parts[i].is_("hedges") and not row.parts[i].used]
        if hedged and here:
            for one in here:
                wide = Span(min(one.span.start, *(row.parts[i].start for i in hedged)),
                            max(one.span.end, *(row.parts[i].end for i in hedged)))  # fmt: skip
                said.append(one._replace(form={"unknown": "uncertain_in_source"}, span=wide, note=""))
        else:
            said += here
    return Bound(said, missed)


def _silent(row: Stretch, piece: list[int], span: Span, said: bool) -> list[tuple[Span, str]]:
    """Give what of a piece would be lost: signs and verdicts that nothing took, or all of it where it holds only such words."""
    out: list[tuple[Span, str]] = []
    bare = False
    for i in piece:
        part = row.parts[i]
        if part.used or part.low is not None:
            continue
        if part.item.text in _SIGNS:
            lead = row.parts[i - 1] if i else part
            glued = lead.end == part.start and lead.low is None
            start = lead.start if glued else part.start
            if out and start < out[-1][0].end:
                start = out.pop()[0].start
            out.append((Span(start, part.end), "a sign that is not understood"))
        elif any(r.value["of"] in _VERDICTS for r in part.item.roles_of("labelled")) and not part.is_filler():
            out.append((Span(part.start, part.end), "a verdict without its label"))
        elif not part.is_filler() and part.item.text[0].isalpha():
            bare = True  # "2 mL of contrast; firm": what of is not said
    return out or ([(span, "nothing recognised")] if bare and row.said and not said else [])


def _joined_on(row: Stretch, piece: list[int]) -> list[Span]:
    """``took 1 ml and was silent``, ``8/10 (pus aspirated)``: behind such a word, words of which nothing was used and one is not known."""
    cuts = [k for k, i in enumerate(piece) if row.parts[i].item.text.lower() in words_for("joins_on")]
    out = []
    for cut, end in pairwise((*cuts, len(piece))):
        rest = [row.parts[i] for i in piece[cut + 1 : end]]
        unknown = any(not p.item.roles and p.low is None and p.item.text[0].isalpha() for p in rest)
        if unknown and not any(p.used or p.low is not None or p.item.text in _SIGNS for p in rest):
            out.append(Span(rest[0].start, max(p.end for p in rest)))
    return out


def _answers(row: Stretch, i: int) -> bool:
    """An answer stands alone or behind a label: the "no" of "no valid control" is none."""
    if not row.parts[i].is_("answers"):
        return False
    behind = row.parts[i + 1].item.text if i + 1 < len(row.parts) else ""
    return not behind[:1].isalnum() or (i > 0 and row.parts[i - 1].item.text in (":", "=", "|"))


def _not_understood(row: Stretch) -> list[tuple[Span, str]]:
    """Words that say which pain it was, or a value in words, and are not known; what stands beside them may hold."""
    out = []
    endings = tuple(vocabulary().data["deed_endings"])
    for i, part in enumerate(row.parts):
        if part.is_("troubles") and not part.used:
            out.append((Span(part.start, part.end), "what may have gone wrong"))
        if row.kind != "discography":
            continue
        if _of_concordance(part):
            out.append((Span(part.start, part.end), "a word of concordance without its label"))
        hurts = part.is_("hurts") and not part.used and not part.is_("say")
        if hurts and not any(one.element in _OF_PAIN for one, _ in row.said):
            out.append((Span(part.start, part.end), "pain is told without what it was like"))
        if part.low is not None or part.item.roles or not part.item.text.isalpha():
            continue
        word = part.item.text.lower()
        after = row.parts[i + 1] if i + 1 < len(row.parts) else None
        pain = after is not None and after.low is None and after.item.text.lower() in words_for("bare_pain")
        if (
            after is not None
            and pain
            and not word.endswith(endings)
            and word not in words_for("plain_of_pain")
        ):
            out.append((Span(part.start, after.end), "words about the pain that are not understood"))
        elif word in words_for("numbers_in_words") and row.before(i, lambda p: p.is_("label")) >= 0:
            out.append((Span(part.start, part.end), "a number in words"))
    return out


def _of_concordance(part: Part) -> bool:
    """A word that is a concordance after its label or in its column only: "similar 5/10"."""
    if (
        part.used
        or part.low is not None
        or len(part.item.text) < _WORD
        or part.is_("say")
        or part.is_filler()
    ):
        return False
    return any(r.value["of"] == "concordance" for r in part.item.roles_of("labelled"))


def _left(row: Stretch, piece: list[int]) -> str:
    last = next((row.parts[i] for i in reversed(piece) if row.parts[i].item.text not in _CLOSING), None)
    if last is not None and len(piece) > 1 and last.item.text in _DASHES and not last.used:
        return "a dash behind it says neither no nor not recorded"  # "leak -"
    for i in piece:
        part = row.parts[i]
        if part.used:
            continue
        if part.low is not None:
            return _CODE if is_code(row, i) else "a number without its label, unit or disc"
        if part.is_("negations") and not _answers(row, i):
            return "a denial of something not understood"
        if part.is_("say") and not says_annulus(part):
            return "a denial that cannot be read" if part.is_("say") else ""
        if part.is_("bounds") and i and row.parts[i - 1].low is not None:
            return "a number with words behind it that are not understood"  # "at 20 psi above"
        if part.is_("reach") and not part.is_filler():
            return "words that reach to something not understood"
    return ""
