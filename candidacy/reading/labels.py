"""Labels over several levels: ``Foramina:`` and below it ``L4-5 severe stenosis``, which is said of the foramina."""

from collections.abc import Iterable, Mapping

from candidacy.reading.groups import LEAD_IN
from candidacy.reading.lexer import Tokens
from candidacy.reading.lexicon import Pair, grammar
from candidacy.reading.mention import Parts
from candidacy.reading.model import Span, Statement
from candidacy.reading.strangers import other_parts

_NEAR = 6
"""A label ends within so many words."""
_OF_DISC = frozenset(("disc", "contour"))
"""Things of which every finding of a disc is said."""
_BONE = grammar("bone") - {"<vert>"}
_GRADED = {"modic": "endplate_change"}


class Label:
    """The name of a thing that stands over the levels named below it or behind it, until another begins."""

    __slots__ = ("_bare", "_bone", "_line", "_section", "_span", "_things", "broken")

    def __init__(self) -> None:
        self._span: Span | None = None
        self._section = ""
        self._line = -1
        self._bare = False
        self._things: frozenset[str] = frozenset()
        self._bone: tuple[str, int, bool] | None = None
        self.broken = False

    def of_bone(self, sentence: Statement) -> bool:
        """Say whether a label such as ``Vertebral bodies:`` or ``Ligaments:`` stands over a statement: what is normal there is no disc."""
        if self._bone is None:
            return False
        section, line, bare = self._bone
        return sentence.section == section and (bare or sentence.line == line)

    def over(self, sentence: Statement, tokens: Tokens) -> Span | None:
        """Give the label in force for a statement that opens with a level; any other ends it."""
        if self._span is None:
            return None
        first = tokens.groups[0].start if tokens.groups else -1
        here = sentence.section == self._section and (self._bare or sentence.line == self._line)
        if first < 0 or not here or not LEAD_IN.issuperset(tokens.words[:first]):
            self._span, self.broken = None, False
        return self._span

    def interrupt(self, kinds: Iterable[str], pairs: Mapping[tuple[str, str], Pair]) -> None:
        """Note the kinds that a statement below the label finds by itself: another one leaves open what the next means."""
        if self._things.isdisjoint(_OF_DISC):
            mine = {p.kind for (_, thing), p in pairs.items() if thing in self._things}
            self.broken = self.broken or not mine.issuperset(_GRADED.get(k, k) for k in kinds)

    def note(self, sentence: Statement, tokens: Tokens, parts: Parts, added: int) -> bool:
        """Take a statement's own label, if it has one that only names a thing; say whether it is nothing else."""
        words = parts.words
        if added or ":" not in words[:_NEAR]:
            opens = bool(tokens.groups) and LEAD_IN.issuperset(words[: tokens.groups[0].start])
            if self._bone is not None and not (opens or sentence.line == self._bone[1]):
                self._bone = None
            return False
        at = words.index(":")
        inner = any(g.start < at for g in tokens.groups)
        things = [o for o in parts.objs if o.end <= at]
        said = any(x.start < at for rows in (parts.heads, parts.acts) for x in rows)
        if inner and parts.heads:
            self._bone = None  # "Marrow: normal. L4-5: bulge. L5-S1: normal."
        if inner or said:
            return False
        named = not things and not (_BONE | other_parts()).isdisjoint(words[:at])
        self._bone = (sentence.section, sentence.line, at == len(words) - 1) if named else None
        self._span = tokens.span(0, at) if things else None
        self._things, self.broken = frozenset(o.entry.kind for o in things), False
        self._section, self._line = sentence.section, sentence.line
        self._bare = at == len(words) - 1
        return self._bare and bool(things)
