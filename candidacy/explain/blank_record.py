"""A blank case record for a rule set: every fact that it reads, commented out, with units, codes and ranges."""

from collections.abc import Iterable, Iterator
from textwrap import wrap

from candidacy.assessment.record_grounds import read_elements
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, Element
from candidacy.rules.resolved import RuleSet

_HOW = """\
# Take away the # before a line and write the value behind the colon. What is not written is unknown, and unknown
# neither passes nor fails. Text that explains stands behind a second #.
#
# A fact may say more:      {value: 46, unit: "%", source: letter, date: 2026-01-31, words: "ODI 46", by: referrer}
# what is imprecise:        {between: [4, 6], unit: mm}   {at_least: 6, unit: months}   {one_of: [III, IV]}
# or why it is not known:   {unknown: not_stated}   not_asked, not_applicable, uncertain_in_source, not_readable, conflicting
# No names, no record numbers."""
_DOCUMENTS = """\
#documents:                # where facts come from; a fact names one as its source
#  letter: {kind: referral_letter, date: 2026-01-31, title: "", author: ""}   # kinds: candidacy schema"""
_LEVEL = "L4-L5"
_WIDTH = 120
_KINDS = {"boolean": "true or false", "date": "YYYY-MM-DD, YYYY-MM or YYYY", "integer": "whole number"}


def blank_record(rule_set: RuleSet, identifier: str = "new-referral") -> str:
    """The text of a case record that says nothing yet, with every fact that a rule set reads as a comment.

    Read as it is, it is an empty, valid record.
    """
    shelf = catalogue()
    read = read_elements(rule_set.criteria, rule_set)
    elements = [e for e in shelf.all if e.name in read and e.statable]
    rules = f"{rule_set.id} {rule_set.file.version} ({rule_set.file.title})"
    parts = [
        f"# Case record with the {len(elements)} facts that the rule set {rules} reads.\n{_HOW}",
        f'schema_version: "1"\nid: {identifier}   # a local reference\n#as_of: 2026-01-31   # the day for which it is assessed',
        _DOCUMENTS,
        _section("patient:   # the person", [e for e in elements if e.scope == "patient"], "  "),
        _section(f"discs:   # copy the block of {_LEVEL} for each disc\n#  {_LEVEL}:",
                 [e for e in elements if e.scope == "disc"], "    "),
    ]  # fmt: skip
    for name, scope in LISTS.items():
        found = [e for e in elements if e.scope == scope]
        if found:
            head = f"{name}:   # copy the block for each {scope.replace('_', ' ')}\n#  complete: true   # there are no others\n#  entries:\n#    -"
            parts.append(_section(head, found, "      "))
    return "\n\n".join(part for part in parts if part) + "\n"


def _section(head: str, elements: Iterable[Element], indent: str) -> str:
    lines = list(_lines(elements, indent))
    return "\n".join([f"#{head}", *lines]) if lines else ""


def _lines(elements: Iterable[Element], indent: str) -> Iterator[str]:
    """Each fact on a line, under the titles of its groups."""
    shelf, group = catalogue(), ""
    for element in elements:
        if shelf.group_of(element.name) != group:
            group = shelf.group_of(element.name)
            yield f"#{indent}# --- {shelf.groups[group]}"
        start, about = f"#{indent}{element.name}: {_form(element)}", _about(element)
        if len(start) + len(about) + 5 <= _WIDTH:
            yield f"{start}   # {about}"
        else:
            yield from (f"#{indent}# {line}" for line in wrap(about, _WIDTH - len(indent) - 3))
            yield start


def _form(element: Element) -> str:
    """How the value is written."""
    if element.unit is not None:
        return f'{{value: , unit: "{element.unit}"}}'
    return "[]" if element.kind == "members" else ""


def _about(element: Element) -> str:
    """Meaning, kind, range and codes."""
    pieces: list[str] = [" ".join(element.meaning.split()).rstrip(".")]
    if element.codes:
        pieces.append(("any of " if element.kind == "members" else "one of ") + ", ".join(element.codes))
    else:
        pieces.append(_KINDS.get(element.kind, element.kind))
    possible = element.possible
    if possible is not None:
        low, high = ("" if end is None else _number(end) for end in (possible.low, possible.high))
        pieces.append(
            f"{low} to {high}"
            if low and high
            else f"at least {low}"
            if low
            else f"at most {high}"
            if high
            else ""
        )
    if len(element.accepted_units) > 1:
        pieces.append("also in " + ", ".join(unit for unit in element.accepted_units if unit != element.unit))
    return "; ".join(piece for piece in pieces if piece)


def _number(end: float) -> str:
    return f"{end:.0f}" if end == int(end) else f"{end:g}"
