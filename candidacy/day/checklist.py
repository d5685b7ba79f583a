"""The lines of the checklist of the day: shape of ``course/day_checklist.yaml`` and how it is read.

A library of one's own may bring its own file of this name, which then stands in the place of the shipped one.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from candidacy.case.element import Rows, Strict, Text
from candidacy.foundation.errors import Code, InputError, Problem, RuleError
from candidacy.foundation.shape import validate
from candidacy.rules.cited import Change, Citation
from candidacy.rules.libraries import library_in_use, shipped
from candidacy.rules.library import Library
from candidacy.rules.vocabulary import Identifier, Version

FILE = "day_checklist"
Word = Literal["wait", "stop"]
When = Literal["before", "arrival", "room", "leaving"]


class Otherwise(Strict):
    """What an answer of no means."""

    word: Word
    """``stop``: do not go on; ``wait``: do not go on until it is settled. A criterion of the line that fails by the record
    is told with the same word."""
    means: Annotated[str, Field(min_length=1)]
    """What is done then, in words."""


class Saying(Strict):
    """Words that stand beside a line for a value of the record."""

    element: str
    """Data element that is looked at."""
    is_: Annotated[str, Field(alias="is")]
    """``known``, ``unknown``, or a code of the element (``true`` and ``false`` for yes and no)."""
    words: Annotated[str, Field(min_length=1)]
    """The words; ``{value}`` is put in."""
    open: bool = False
    """Whether the line is open because of it."""


class ChecklistLine(Strict):
    """One line: what a person is asked, and what the rule sets say beside it."""

    id: Identifier
    """Its name in course records."""
    part: str
    """The part of the sheet it stands in."""
    asked: When
    """When it is asked: ``before`` the day, on ``arrival``, in the ``room``, before ``leaving``."""
    ask: Annotated[str, Field(min_length=1)]
    """What is checked, worded so that yes means go on; ``{disc}`` is the planned disc."""
    per_disc: bool = False
    """Whether each planned disc has the line for itself."""
    only: Literal["", "borderline"] = ""
    """The standing with which alone the line is asked; empty for every standing."""
    criteria: Rows[str] = ()
    """Criteria whose outcome as of the day stands beside it, where a rule set in use has them."""
    shows: Rows[str] = ()
    """Data elements whose value stands beside it."""
    says: Rows[Saying] = ()
    """Words for values of the record."""
    medicines: bool = False
    """Whether the medicines that have an interval are listed under it, each with its last dose."""
    not_applicable: str = ""
    """When it does not apply, in words; empty where it always applies."""
    no: Otherwise
    """What an answer of no means."""
    why: Annotated[str, Field(min_length=1)]
    """Why it is asked."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where it comes from."""


class SheetWords(Strict):
    """The words of the sheet around its lines."""

    asked: dict[When, str]
    """When a line is asked, in words."""
    wait: Text
    """Word for waiting."""
    stop: Text
    """Word for stopping."""
    open: Text
    """Word for what the record leaves undetermined."""
    undetermined: Text
    """What stands before what is undetermined."""
    not_recorded: Text
    """Word for a value that is not there."""
    yes: Text
    """Name of the first box."""
    no: Text
    """Name of the second box."""
    not_applicable: Text
    """Name of the third box."""
    if_no: Text
    """Head of the column that says what no means."""
    by: Text
    """Head of the column for who checked."""
    at: Text
    """Head of the column for the time."""
    record: Text
    """Head of the column of the lines."""
    label_box: Text
    """What the box for the patient's label is for."""
    planned: Text
    """Which disc the sheet is for; ``{discs}``."""
    untouched: Text
    """What the boxes and words mean."""
    no_checklist: Text
    """Heading where there is none."""
    no_checklist_urgent: Text
    """Why there is none, in an emergency."""
    no_checklist_not_candidate: Text
    """Why there is none; ``{rule_set}`` and ``{standing}``."""
    standing: Text
    """The standing; ``{day}``, ``{rule_set}``, ``{standing}``, ``{safety}``."""
    other_day: Text
    """Where the record plans another day; ``{recorded}`` and ``{day}``."""
    conference_known: Text
    """Where a decision of a conference was named; ``{decided}``."""
    conference_unknown: Text
    """Where none was."""
    conference_again: Text
    """Where what a decision rests on was changed since; ``{decided}``."""
    conference_other: Text
    """Where the last decision was not to treat every planned disc; ``{decided}``."""
    record_stop: Text
    """What stands behind WAIT or STOP that the record says."""
    dangers: Text
    """Heading of signs of danger that no line reads."""
    still_open: Text
    """Heading of what is undetermined elsewhere; ``{rule_set}``."""
    nothing_open: Text
    """Where nothing is."""
    more: Text
    """What is left out of a list; ``{count}``."""
    medicine: Text
    """A medicine with an interval; ``{name}``, ``{last}``, ``{by}``, ``{until}``, ``{ready}``."""
    no_medicine: Text
    """Where no medicine has an interval."""
    list_open: Text
    """Where the list of medicines is not complete."""
    ready: dict[Literal["met", "not_met", "unknown"], str]
    """Whether the interval is over, in words."""
    left_out: Text
    """In place of words that name another disc."""
    several_pages: Text
    """Where one page does not hold it; ``{pages}``."""
    page_for_one: Text
    """Where each disc has a page of its own; ``{disc}``."""
    signed: Text
    """Line for signing by hand."""
    foot: Text
    """What stands at the foot."""
    replaced: Text
    """Where the checklist is a practice's own."""


class Checklist(Strict):
    """The checklist of the day."""

    id: Literal["day_checklist"]
    """Name of the file."""
    version: Version
    """Version, as three numbers; the last of ``changes``."""
    title: Text
    """Heading of the sheet."""
    meaning: Text
    """What it is, and what it is not."""
    rule_set: str
    """Rule set of safety on the day, whose criteria stand beside the lines."""
    parts: Annotated[dict[str, str], Field(min_length=1)]
    """Parts of the sheet in order, each with its heading."""
    lines: Annotated[Rows[ChecklistLine], Field(min_length=1)]
    """The lines, in order of their parts."""
    words: SheetWords
    """The words around them."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """What changed, the latest last."""

    @model_validator(mode="after")
    def _lines_fit(self) -> "Checklist":
        names = [line.id for line in self.lines]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two lines have the id {twice[0]}")
        order = list(self.parts)
        for line in self.lines:
            if line.part not in self.parts:
                raise ValueError(f"line {line.id} stands in no part of the sheet: {', '.join(order)}")
        places = [order.index(line.part) for line in self.lines]
        if places != sorted(places):
            raise ValueError("lines stand in the order of their parts")
        return self

    def line(self, identifier: str) -> ChecklistLine | None:
        """A line by its id."""
        return next((line for line in self.lines if line.id == identifier), None)


def checklist(library: Library | None = None) -> Checklist:
    """The checklist of a library, by default of the one in use.

    Raises
    ------
    RuleError
        With everything that is wrong with its file.
    """
    library = library_in_use() if library is None else library
    path = library.care_files("course").get(FILE)
    if path is None:
        raise RuleError(
            [Problem(Code.UNREADABLE, "there is no such file in the library", f"course/{FILE}.yaml")]
        )
    try:
        return validate(Checklist, library.tree(path), str(path))
    except InputError as error:
        raise RuleError(error.problems) from None


def of_ones_own(library: Library | None = None) -> bool:
    """Whether the checklist in use is not the shipped one."""
    library = library_in_use() if library is None else library
    return library.care_files("course").get(FILE) != shipped().care_files("course").get(FILE)
