"""What the program itself writes into the note of a fact that it read from a report, a note or a letter.

Whatever else stands in such a note was added by a person. A form that is missing here shows a remark too many.
"""

import re
from functools import cache

from candidacy.case.facts import SOURCES_CONFLICT

READER = "report reader"
"""Who recorded what the program read."""

_DAY = r"\d{4}(?:-\d{2}){0,2}"
_QUOTED = r'[^\s";]+ "[^"]*"'
OWN = (
    # of imaging reports
    "said of the whole study",
    rf"{SOURCES_CONFLICT} \([^()]*\): {_QUOTED}(?:; {_QUOTED})*",
    "denied of one side only",
    "only a recent one is denied, not an older one that nobody explained",
    "approximate, by its own words",
    r"another day was given than the report states: the report says [\w ,./-]{1,40}",
    "status of the message",
    "the report calls itself preliminary",
    "the report calls itself amended or corrected",
    "the message sends it as (?:preliminary|amended)",
    r"not described: [TLS]\d+-[LS]\d+(?:, [TLS]\d+-[LS]\d+)*",
    "all described",
    "a degeneration grade has its scale",
    "a grade is written without its scale",
    # of letters, discography and procedure notes
    "another value that was not read stands beside it",
    "a passage that was not read may tell of it",
    "also named in a passage that was not read",
    "a passage that was not read seems to say otherwise",
    "a passage that was not read corrects the levels",
    "a medicine or a count that is named says otherwise",
    "a passage tells of being off work",
    "outside what is possible",
    "words behind it correct it",
    "the list is said not to be taken",
    rf"of {_DAY}",
    "said to be approximate",
    "said without a number(?:, or to come and go)?",
    rf"up to the letter's date, {_DAY}",
    "day as given, not in the text",
    "said of all discs",
    "read as month, day, year",
    "read as day, month, year",
    rf"the note and the day given \({_DAY}\) differ",
    "pain is denied and scored",
    "pain is told and scored 0",
    "no pain was reported",
    "pressed so far without pain",
    "volume when the pain came",
    "lower than the opening pressure: perhaps meant above opening",
    "the highest pressure is lower than the opening pressure",
    "the highest pressure is lower than that at pain",
    r"relief lasted [\w ./-]{1,40}",
)
"""Forms of those notes, as regular expressions; `tests/case/test_reader_notes.py` holds them to what the readers write."""


def is_own(note: str) -> bool:
    """Whether a note of what the program read says nothing but what the program itself writes there."""
    return not note.strip() or _notes().fullmatch(" ".join(note.split())) is not None


@cache
def _notes() -> re.Pattern[str]:
    """Made when the first such note is asked about, which most starts of the program do not."""
    one = "|".join(f"(?:{each})" for each in OWN)
    return re.compile(rf"(?:{one})(?:; (?:{one}))*")
