"""Things listed with their grade: ``Canal: Mild``, ``Foramina: R none, L mild``, where narrowing is meant and not said."""

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from candidacy.reading.lexer import Group, Match, Tokens, match
from candidacy.reading.lexicon import Entry, Lexicon, Node, grammar, lexicon
from candidacy.reading.mention import Parts

_THINGS = frozenset(("canal", "foramen", "recess"))
"""Things of which a grade alone can only mean that they are narrow."""
_SAYS = "stenosis"
_IN_ORDER = frozenset(("normal", "free"))
_KNOWN = frozenset((*_IN_ORDER, "narrow"))
"""Sorts of action words that may stand in such a list."""
_LOOSE = frozenset(("lateral", "exit", "subarticular"))
"""Words that name a place or a direction as well, and such a thing only before the word for narrowing."""
_SIDES = {"r": "right", "l": "left"}
"""Letters that mean a side where nothing but things, sides and grades is listed."""
_NONE = "none"
_FILLS = grammar("list_form_fill")
_CUTS = frozenset((",", ";"))
_OPENS, _CLOSES = frozenset("[("), frozenset("])")
_MOST = 40
"""A statement of more words is no list."""


class _Item(NamedTuple):
    """One thing with its grade, as positions in the statement."""

    thing: Match
    sides: tuple[Match, ...]
    group: Group | None
    grade: tuple[int, int]
    denied: bool


@cache
def _all_words() -> frozenset[str]:
    """List every word that may stand in such a list."""
    found = {*_SIDES, *_FILLS, *_CUTS, *grammar("form_no"), "<disc>", "<vert>"}
    _collect(lexicon().trie, (), found)
    return frozenset(found)


def _collect(node: Node, words: tuple[str, ...], found: set[str]) -> None:
    """Gather the words of all phrases that name a thing, a grade, a side, or say what of it."""
    for word, below in node.items():
        if word == "":
            if any(_belongs(entry) for entry in below):
                found.update(words)
        else:
            _collect(below, (*words, word), found)


def _belongs(entry: Entry) -> bool:
    kinds = {"objects": _THINGS, "attributes": ("side",), "actions": _KNOWN}.get(entry.group, ())
    return entry.group == "severity" or entry.kind in kinds


def listed_grades(tokens: Tokens, lex: Lexicon) -> list[Tokens]:
    """Give a statement for each thing of a list of things and grades, with the word for narrowing put in.

    Nothing where any word is used for anything else: then it is no such list.
    """
    if len(tokens.words) > _MOST or not _all_words().issuperset(tokens.words):
        return []
    words = [_SIDES.get(w, w) for w in tokens.words]
    if any(words[i] in _OPENS and words[i + 1] in _CLOSES for i in range(len(words) - 1)):
        return []  # a box that nobody ticked
    parts = Parts(words, match(words, lex))
    things = [o for o in parts.objs if o.entry.kind in _THINGS]
    if not parts.severities and grammar("form_no").isdisjoint(words):
        return []  # what is only called in order is read without
    if not things or len(things) != len(parts.objs) or parts.heads or parts.known or parts.places:
        return []
    if not _KNOWN.issuperset([a.entry.kind for a in parts.acts]):
        return []
    start = 0
    groups = tokens.groups
    if groups and groups[0].start < things[0].start:
        if len(groups) > 1 or not _FILLS.issuperset(words[: groups[0].start]):
            return []
        start, groups = groups[0].end, []
        start += words[start : start + 1] in ([":"], ["-"], ["–"], ["—"])
    items = _items(parts, things, groups, start)
    if groups and not all(i.group for i in items):
        return []  # "L3-4 mild, moderate": of which level is the second?
    return [_unit(tokens._replace(words=words), i, start) for i in items]


def _items(parts: Parts, things: Sequence[Match], groups: Sequence[Group], start: int) -> list[_Item]:
    words = parts.words
    cuts = [i for i, w in enumerate(words) if w in _CUTS and i >= start]
    items: list[_Item] = []
    thing: Match | None = None
    label_sides: tuple[Match, ...] = ()
    low = start
    for high in (*cuts, len(words)):
        own = [t for t in things if low <= t.start < high]
        at = [g for g in groups if low <= g.start < high]
        if len(own) > 1 or len(at) > 1:
            return []
        sides = tuple(a for a in parts.attributes if low <= a.start < high)
        if any(a.entry.kind != "side" and not any(t.start <= a.start < t.end for t in own) for a in sides):
            return []
        sides = tuple(a for a in sides if a.entry.kind == "side")
        if own:
            thing = own[0]
            label_sides = tuple(a for a in sides if a.end <= thing.start)
            if ":" in words[thing.end : high]:
                colon = words.index(":", thing.end)
                label_sides = tuple(a for a in sides if a.start < colon)
            if not sides[len(label_sides) :]:
                sides = label_sides
            elif label_sides:
                return []  # a side in the label and another behind it
        elif thing is None or label_sides:
            return []  # "R foramen: none, left mild" leaves open what is meant
        item = _item(parts, thing, sides, at[0] if at else None, bool(own), low, high)
        if item is None:
            return []
        items.append(item)
        low = high + 1
    return items


def _item(
    parts: Parts, thing: Match, sides: tuple[Match, ...], group: Group | None, own: bool, low: int, high: int
) -> _Item | None:
    """Take one thing with its grade: every word between two commas must be of either, or of no weight."""
    words = parts.words
    grades = [(s, e) for s, e, _ in parts.severities if low <= s < high]
    nones = [(i, i + 1) for i in range(low, high) if words[i] in grammar("form_no")]
    acts = [a for a in parts.acts if low <= a.start < high]
    nones += [(a.start, a.end) for a in acts if a.entry.kind in _IN_ORDER]
    said = [a for a in acts if a.entry.kind not in _IN_ORDER]
    loose = own and (thing.entry.weak or words[thing.start : thing.end] in [[w] for w in _LOOSE])
    if loose and not said:
        return None
    if said and not (own and len(said) == 1 and said[0].start == thing.end):
        return None
    if len(grades) + len(nones) != 1:
        return None
    grade = (grades or nones)[0]
    if own and grade[0] < thing.start:
        return None
    used = {i for m in (*((thing,) if own else ()), *sides, *said) for i in range(m.start, m.end)}
    used |= set(range(*grade)) | (set(range(group.start, group.end)) if group else set())
    rest = [words[i] for i in range(low, high) if i not in used]
    return _Item(thing, sides, group, grade, not grades) if _FILLS.issuperset(rest) else None


def _unit(tokens: Tokens, item: _Item, start: int) -> Tokens:
    """Write the item as a statement of its own: place, side, thing, narrowing, grade; every word keeps its span."""
    words, found = list(tokens.words[:start]), list(tokens.found[:start])
    groups: list[Group] = [g for g in tokens.groups if g.end <= start]

    def add(low: int, high: int) -> None:
        words.extend(tokens.words[low:high])
        found.extend(tokens.found[low:high])

    if item.group is not None:
        groups.append(
            item.group._replace(start=len(words), end=len(words) + item.group.end - item.group.start)
        )
        add(item.group.start, item.group.end)
    for side in item.sides:
        add(side.start, side.end)
    add(item.thing.start, item.thing.end)
    last = tokens.found[item.thing.end - 1]
    words += [_SAYS, ":"]
    found += [last, last]
    if item.denied:
        words.append(_NONE)
        found.append(tokens.found[item.grade[0]])
    else:
        add(*item.grade)
    return Tokens(words, found, groups)
