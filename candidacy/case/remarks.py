"""Remarks of a record: free text that somebody wrote for a reader, and that no rule reads.

`candidacy.case.free_text` looks through all free text for words of danger; whatever else a remark says is compared with
nothing. So every remark is shown beside an answer, in its own words, with the place where it stands.
"""

import re
from collections.abc import Iterator

from candidacy.case.catalogue import LISTS, catalogue
from candidacy.case.doubtful import CHECKED
from candidacy.case.facts import Remark
from candidacy.case.record import CaseRecord, FactEntry

# A note that says no more than that, and by whom, or when.
_ONLY_CHECKED = re.compile(rf"{CHECKED}(?:[ ,]+(?:by|on)(?: [\w-]+){{1,4}})*\W*", re.IGNORECASE)
# Words of which the title of a document may be made without saying anything of the patient.
_OF_TITLES = frozenset(
    [
        "a",
        "after",
        "and",
        "at",
        "before",
        "by",
        "clinic",
        "clinical",
        "checklist",
        "consultation",
        "contrast",
        "ct",
        "date",
        "day",
        "discogram",
        "discographic",
        "discography",
        "dynamic",
        "examination",
        "extension",
        "film",
        "films",
        "final",
        "first",
        "flexion",
        "follow-up",
        "for",
        "form",
        "forms",
        "from",
        "gp",
        "history",
        "imaging",
        "in",
        "laboratory",
        "letter",
        "lateral",
        "list",
        "low",
        "lumbar",
        "lumbosacral",
        "lspine",
        "medication",
        "medications",
        "medicine",
        "medicines",
        "mri",
        "non-contrast",
        "note",
        "notes",
        "of",
        "on",
        "or",
        "pain",
        "physician",
        "plain",
        "practice",
        "procedure",
        "protocol",
        "questionnaire",
        "questionnaires",
        "radiograph",
        "radiographs",
        "radiology",
        "record",
        "records",
        "referral",
        "report",
        "result",
        "results",
        "sacral",
        "scan",
        "second",
        "spine",
        "standing",
        "study",
        "summary",
        "the",
        "therapy",
        "to",
        "up",
        "visit",
        "with",
        "without",
        "x-ray",
        "x-rays",
    ]
)
_FILE_NAME = re.compile(r"[^\s/]+\.\w{2,5}")


def remarks_of(record: CaseRecord) -> tuple[Remark, ...]:
    """The remarks of a record in its order, each text once, with every place where it stands."""
    places: dict[str, list[str]] = {}
    for where, text in _written(record):
        places.setdefault(" ".join(text.split()), []).append(where)
    return tuple(Remark(_joined(found), text) for text, found in places.items())


def _joined(places: list[str]) -> str:
    first, *others = places
    return first if not others else f"{first}, and {len(others)} more"


def _written(record: CaseRecord) -> Iterator[tuple[str, str]]:
    if record.note.strip():
        yield "note of the record", record.note
    for key, document in record.documents.items():
        if document.title and not _says_nothing(document.title):
            yield f"title of the document {key}", document.title
        if document.note.strip():
            yield f"note of the document {key}", document.note
    yield from _notes("", record.patient)
    for level, table in record.discs.items():
        yield from _notes(f" of {level}", table)
    for name in LISTS:
        listed = getattr(record, name)
        if listed is not None:
            for number, table in zip(listed.numbers, listed.entries, strict=True):
                yield from _notes(f" of {name}[{number}]", table)


def _notes(of: str, table: dict[str, FactEntry]) -> Iterator[tuple[str, str]]:
    shelf = catalogue()
    for name, entry in table.items():
        if entry.note and entry.note.strip() and not _ONLY_CHECKED.fullmatch(entry.note.strip()):
            element = shelf.get(name)
            yield f"note of {element.label if element is not None else name}{of}", entry.note


def _says_nothing(title: str) -> bool:
    words = re.findall(r"[^\W\d_][\w-]*", title.casefold())
    return _OF_TITLES.issuperset(words) or _FILE_NAME.fullmatch(title.strip()) is not None
