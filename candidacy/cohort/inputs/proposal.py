"""A proposed mapping as YAML: each column under a comment with what to check, each question marked as one."""

from dataclasses import dataclass, field
from typing import Any

import yaml

from candidacy.cohort.inputs.guessed_cells import OPEN

_WIDTH = 110
_HEAD = """\
# A proposal from headers and cell texts. Compare every line with the table and correct it: a wrong line gives
# wrong outcomes that look right. {questions}
# Then write confirmed: true. Columns under ignore are not read.
"""


@dataclass
class Proposal:
    """What is proposed for one table; comments stand by the column they are about."""

    scope: str
    case_id: str = ""
    case_note: str = ""
    disc: str = ""
    columns: dict[str, dict[str, Any]] = field(default_factory=dict)
    notes: dict[str, list[str]] = field(default_factory=dict)
    ignore: dict[str, str] = field(default_factory=dict)
    lists_complete: dict[str, str] = field(default_factory=dict)
    facts_dated_by: str = ""
    date_format: str | list[str] = ""
    date_note: str = ""
    head: list[str] = field(default_factory=list)
    header_row: int = 1
    header_notes: tuple[str, ...] = ()

    def lines(self) -> list[str]:
        """The table as lines of YAML."""
        found = [f"# {each}" for each in self.head]
        found += [_comment(f"check: {note}") for note in self.header_notes]
        found += _yaml({"header_row": self.header_row}) if self.header_row != 1 else []
        mark = "check" if self.case_id else "QUESTION case_id: name the column with the case reference"
        found += [_comment(f"{mark}: {self.case_note}"), *_yaml({"case_id": self.case_id or OPEN})]
        if self.scope == "disc":
            found += [] if self.disc else [_comment("QUESTION disc: name the column with the disc level")]
            found += _yaml({"disc": self.disc or OPEN})
        if self.facts_dated_by:
            found += _yaml({"facts_dated_by": self.facts_dated_by})
        if self.date_format:
            found += (
                [_comment(f"QUESTION of the columns with days: {self.date_note}")] if self.date_note else []
            )
            found += _yaml({"date_format": self.date_format})
        if self.lists_complete:
            found += _yaml({"lists_complete": self.lists_complete})
        found.append("columns:" if self.columns else "columns: {}")
        for column, entry in self.columns.items():
            found += [f"  {_comment(note)}" for note in self.notes.get(column, ())]
            found += [f"  {line}" for line in _yaml({column: entry})]
        found.append("ignore:" if self.ignore else "ignore: []")
        for column, why in self.ignore.items():
            found += [f"  {_comment(why)}", *(f"  {line}" for line in _yaml([column]))]
        return found


def written(proposals: dict[str, Proposal]) -> str:
    """The whole mapping file."""
    lines = ['version: "1"', "confirmed: false"]
    for name in ("patients", "discs"):
        if name in proposals:
            lines += [f"{name}:", *(f"  {line}" for line in proposals[name].lines())]
    lists = [name for name in proposals if name not in ("patients", "discs")]
    lines += ["lists:"] if lists else []
    for name in lists:
        lines += [f"  {name}:", *(f"    {line}" for line in proposals[name].lines())]
    count = sum("# QUESTION" in line for line in lines)
    told = (
        f"Answer the {count} marked QUESTION; a ? in the file stands where one is open."
        if count
        else "No question is open."
    )
    return _HEAD.format(questions=told) + "\n".join(lines) + "\n"


def one_line(text: str) -> str:
    """Foreign text for a comment: one line of ordinary length."""
    return "".join(ch if ch.isprintable() else " " for ch in text)[:80]


def _comment(text: str) -> str:
    return "# " + "".join(ch if ch.isprintable() else " " for ch in text)


def _yaml(content: Any) -> list[str]:
    text: str = yaml.safe_dump(content, sort_keys=False, allow_unicode=True, width=_WIDTH)
    return text.rstrip("\n").split("\n")
