"""Check the checklist of the day of a library: what it names must exist, and its words must be whole."""

from collections.abc import Iterator
from string import Formatter

from candidacy.day.checklist import FILE, Checklist, ChecklistLine, Saying, SheetWords, checklist
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.foundation.files import closest
from candidacy.rules.findings import Findings, no_such_source
from candidacy.rules.history import check_history
from candidacy.rules.library import Library

# What may be put into each of the words of the sheet.
_PLACES: dict[str, frozenset[str]] = {
    "planned": frozenset(("discs",)),
    "no_checklist_not_candidate": frozenset(("rule_set", "standing")),
    "standing": frozenset(("day", "rule_set", "standing", "safety")),
    "other_day": frozenset(("recorded", "day")),
    "conference_known": frozenset(("decided",)),
    "conference_again": frozenset(("decided",)),
    "conference_other": frozenset(("decided",)),
    "still_open": frozenset(("rule_set",)),
    "more": frozenset(("count",)),
    "medicine": frozenset(("name", "last", "by", "until", "ready")),
    "several_pages": frozenset(("pages",)),
    "page_for_one": frozenset(("disc",)),
}


def check_day(library: Library) -> list[Problem]:
    """Everything that is wrong with the checklist of this folder; nothing where it has none of its own."""
    path = library.layout.care["course"].get(FILE)
    if path is None:
        return []
    try:
        found = checklist(library)
        findings = Findings(path, library.tree(path))
        _check(found, library, findings)
    except InputError as error:
        return list(error.problems)
    return findings.problems


def _check(found: Checklist, library: Library, findings: Findings) -> None:
    if found.rule_set not in library.rule_set_names():
        findings.add(("rule_set",), Code.UNKNOWN_RULE_SET, "no such rule set", found=found.rule_set,
                     expected=", ".join(library.rule_set_names()))  # fmt: skip
    check_history(found.changes, found.version, findings)
    for number, line in enumerate(found.lines):
        _check_line(line, library, ("lines", number), findings)
    for name in SheetWords.model_fields:
        words = getattr(found.words, name)
        for text in words.values() if isinstance(words, dict) else (words,):
            _check_places(text, _PLACES.get(name, frozenset()), ("words", name), findings)


def _check_line(line: ChecklistLine, library: Library, at: tuple[str | int, ...], findings: Findings) -> None:
    names = set(library.criterion_names())
    for criterion in line.criteria:
        if criterion not in names:
            findings.add((*at, "criteria"), Code.UNKNOWN_CRITERION, "no such criterion", found=criterion,
                         expected=closest(criterion, names, "candidacy rules list shows them"))  # fmt: skip
    shelf = library.catalogue()
    for element in (*line.shows, *(saying.element for saying in line.says)):
        if element not in shelf:
            findings.add(at, Code.UNKNOWN_ELEMENT, "not a data element", found=element,
                         expected=shelf.nearest(element))  # fmt: skip
    for place, saying in enumerate(line.says):
        _check_saying(saying, library, (*at, "says", place), findings)
    _check_places(line.ask, frozenset(("disc",)), (*at, "ask"), findings)
    for cite in line.cites:
        if cite.source not in library.sources():
            findings.add_misfit(no_such_source((*at, "cites"), cite.source, library.sources()))


def _check_saying(saying: Saying, library: Library, at: tuple[str | int, ...], findings: Findings) -> None:
    _check_places(saying.words, frozenset(("value",)), (*at, "words"), findings)
    element = library.catalogue().get(saying.element)
    if element is None:
        return
    allowed = ["known", "unknown", *_codes(element.kind, element.choices)]
    if saying.is_ not in allowed:
        findings.add((*at, "is"), Code.BAD_CHOICE, "not a value of this element", found=saying.is_,
                     expected=", ".join(allowed))  # fmt: skip


def _codes(kind: str, choices: dict[str, str] | None) -> Iterator[str]:
    yield from ("true", "false") if kind == "boolean" else (choices or {})


def _check_places(text: str, allowed: frozenset[str], at: tuple[str | int, ...], findings: Findings) -> None:
    try:
        named = {name for _, name, _, _ in Formatter().parse(text) if name is not None}
    except ValueError:
        named = {text}
    for name in sorted(named - allowed):
        findings.add(at, Code.BAD_RULE, "nothing is put in here", found=f"{{{name}}}",
                     expected=", ".join(f"{{{each}}}" for each in sorted(allowed)) or "plain words")  # fmt: skip
