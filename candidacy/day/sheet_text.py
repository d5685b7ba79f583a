"""The sheet of the day as plain text."""

import textwrap

from candidacy.day.checklist import Checklist
from candidacy.day.sheet import DaySheet, SheetLine
from candidacy.explain.wording import listed

_WIDTH = 100


def head_lines(sheet: DaySheet, words: Checklist) -> list[str]:
    """What stands above the lines in every form."""
    told = words.words
    discs = listed(list(sheet.discs))
    standing = told.standing.format(
        day=sheet.on,
        rule_set=f"{sheet.rule_set} {sheet.rule_set_version}",
        standing=sheet.standing_name,
        safety=sheet.safety,
    )
    return [told.planned.format(discs=discs), standing, *sheet.notices]


def state_words(line: SheetLine, words: Checklist) -> str:
    """What the record says of a line, in one word; empty where it neither stops nor waits."""
    told = words.words
    named = {"stop": told.stop, "wait": told.wait}
    return f"{named[line.state]} {told.record_stop}" if line.state in named else ""


def record_line(line: SheetLine, words: Checklist) -> str:
    """What the record says beside a line, in one paragraph."""
    begun = state_words(line, words)
    said = " · ".join(line.record)
    return ": ".join(filter(None, (begun, said))) if begun else said


def sheet_text(sheet: DaySheet, words: Checklist) -> str:
    """The sheet as text for a terminal or a file."""
    told = words.words
    found = [f"{sheet.title}: {sheet.case}, {sheet.on}", *_wrapped(head_lines(sheet, words))]
    if sheet.no_checklist:
        found += ["", told.no_checklist.upper(), *_wrapped(sheet.no_checklist, "- ")]
        return "\n".join([*found, "", *_wrapped([f"{sheet.made_of}."])]) + "\n"
    found += ["", told.untouched, told.label_box]
    if sheet.dangers:
        found += ["", f"‼ {told.dangers}", *_wrapped(sheet.dangers, "- ")]
    for part, title in sheet.parts.items():
        rows = [line for line in sheet.lines if line.part == part]
        found += ["", title] if rows else []
        for line in rows:
            found += _line(line, words)
    rule_set = sheet.rule_set
    if sheet.still_open:
        found += ["", told.still_open.format(rule_set=rule_set), *_wrapped(sheet.still_open, "- ")]
    found += ["", told.signed, told.foot, *_wrapped([f"{sheet.made_of}."])]
    return "\n".join(found) + "\n"


def _line(line: SheetLine, words: Checklist) -> list[str]:
    told = words.words
    third = f"  ☐ {told.not_applicable} ({line.not_applicable})" if line.not_applicable else ""
    answer = getattr(told, line.if_no)
    found = _wrapped([f"{line.ask} ({told.asked[line.asked]})"], "• ")
    found += _wrapped(
        [record_line(line, words)] if line.record or line.state in ("stop", "wait") else [], "    "
    )
    found += _wrapped(line.medicines, "    – ")
    found += [f"    ☐ {told.yes}  ☐ {told.no}{third}    {told.by}: ________  {told.at}: __:__"]
    return [*found, *_wrapped([f"{told.if_no}: {answer}. {line.means}"], "    ")]


def _wrapped(lines: "list[str] | tuple[str, ...]", lead: str = "") -> list[str]:
    found: list[str] = []
    for line in lines:
        found += textwrap.wrap(line, _WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead),
                               break_long_words=False) or [""]  # fmt: skip
    return found
