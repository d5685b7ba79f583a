"""The sheet of the day as one self-contained page that prints; everything from a case is escaped."""

from functools import cache

from jinja2 import Environment

from candidacy.day.checklist import Checklist
from candidacy.day.sheet import DaySheet
from candidacy.day.sheet_text import head_lines, record_line
from candidacy.explain.wording import listed
from candidacy.foundation.templates import templates_of


@cache
def _templates() -> Environment:
    return templates_of("candidacy.day")


def sheet_page(sheet: DaySheet, words: Checklist) -> str:
    """The sheet as HTML."""
    parts = [
        (title, [(line, record_line(line, words)) for line in sheet.lines if line.part == part])
        for part, title in sheet.parts.items()
    ]
    return (
        _templates()
        .get_template("day.html")
        .render(
            sheet=sheet,
            discs=listed(list(sheet.discs)),
            head=head_lines(sheet, words),
            words=words.words,
            parts=[(title, lines) for title, lines in parts if lines],
            still_open=words.words.still_open.format(rule_set=sheet.rule_set),
        )
    )
