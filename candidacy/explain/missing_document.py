"""The published shape of missing facts: one row for those that differ only in the entry of a list they are of."""

from collections.abc import Iterable
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BeforeValidator, Field, PlainSerializer

from candidacy.explain.part import Part
from candidacy.explain.wording import listed, subject_words
from candidacy.rules.vocabulary import Force


class _Asked(Part):
    element: str
    subject: str
    ask: str
    why: str
    weight: Literal["alone", "later", "no"]
    burden: str
    supplied_by: str
    force: Force
    criteria: list[str]


class MissingInfo(_Asked):
    """A missing fact: what to ask for, whether it could decide, and how burdensome it is to obtain."""


class MissingOfEntriesInfo(_Asked):
    """The same missing fact of several entries of a list: ``subject`` is the list, ``entries`` the number of each entry.

    It stands for one `MissingInfo` of each entry; all else is the same for all of them.
    """

    entries: Annotated[list[Annotated[int, Field(ge=1)]], Field(min_length=2)]


class Asked(NamedTuple):
    """Missing facts that are asked for in one line: the first of them, and the entries of a list where there are several."""

    row: MissingInfo
    list_name: str = ""
    entries: tuple[int, ...] = ()

    @property
    def facts(self) -> int:
        """How many facts it stands for."""
        return len(self.entries) or 1

    @property
    def of(self) -> str:
        """Whose the fact is, as the record names it; several entries by all their numbers."""
        if not self.entries:
            return self.row.subject
        return f"{self.list_name.replace('_', ' ')} {_numbers(self.entries)} ({self.facts} entries)"

    @property
    def whose(self) -> str:
        """Whose the fact is, as a reader names it."""
        return self.of if self.entries else subject_words(self.row.subject)


def asked_together(missing: Iterable[MissingInfo]) -> list[Asked]:
    """Missing facts of which those that differ only in the entry are one, at the place of the first, entries by number."""
    found: dict[tuple[object, ...], list[tuple[int, MissingInfo]]] = {}
    for row in missing:
        name, number = _entry(row.subject)
        said = (row.element, name, row.ask, row.why, row.weight, row.burden, row.supplied_by, row.force)
        found.setdefault((*said, *row.criteria), []).append((number, row))
    told = []
    for key, rows in found.items():
        if len(rows) == 1:
            told.append(Asked(rows[0][1]))
        else:
            rows.sort(key=lambda each: each[0])
            told.append(Asked(rows[0][1], str(key[1]), tuple(number for number, _ in rows)))
    return told


def each_asked(together: Iterable[Asked]) -> list[MissingInfo]:
    """A row for every fact again, those asked together one after the other."""
    return [
        row
        for asked in together
        for row in (
            [asked.row.model_copy(update={"subject": f"{asked.list_name}[{n}]"}) for n in asked.entries]
            or [asked.row]
        )
    ]


def _entry(subject: str) -> tuple[str, int]:
    """The list and number of an entry; any other subject with number 0."""
    if not subject.endswith("]"):
        return subject, 0
    name, number = subject[:-1].split("[")
    return name, int(number)


def _numbers(entries: tuple[int, ...]) -> str:
    """Numbers in words, three or more that follow each other as "1 to 3"."""
    runs: list[list[int]] = []
    for number in entries:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return listed(
        [
            words
            for run in runs
            for words in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run])
        ]
    )


def _written(missing: list[MissingInfo]) -> list[MissingInfo | MissingOfEntriesInfo]:
    return [
        MissingOfEntriesInfo.of(**asked.row.__dict__ | {"subject": asked.list_name, "entries": list(asked.entries)})
        if asked.entries
        else asked.row
        for asked in asked_together(missing)
    ]  # fmt: skip


def _read(rows: Any) -> Any:
    """Rows as written, with one row for each entry; what is no list of rows is left to the shape to refuse."""
    if not isinstance(rows, list):
        return rows
    found: list[Any] = []
    for row in rows:
        if isinstance(row, dict) and "entries" in row:
            several = MissingOfEntriesInfo.model_validate(row)
            one = {name: value for name, value in row.items() if name != "entries"}
            found += [{**one, "subject": f"{several.subject}[{number}]"} for number in several.entries]
        else:
            found.append(row)
    return found


MissingRows = Annotated[
    list[MissingInfo],
    BeforeValidator(_read, json_schema_input_type=list[MissingInfo | MissingOfEntriesInfo]),
    PlainSerializer(_written, return_type=list[MissingInfo | MissingOfEntriesInfo]),
]
"""Missing facts, one row each; written with one row for those that differ only in the entry."""
