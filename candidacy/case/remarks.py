"""Remarks of a record: free text that somebody wrote for a reader, and that no rule reads.

`candidacy.case.free_text` looks through all free text for words of danger; whatever else a remark says is compared with
nothing. So every remark is shown beside an answer, in its own words, with the place where it stands: notes, titles of
documents that say more than what the document is, and words of a source that say more than the denial recorded from them.
"""

import re
from collections.abc import Iterator

from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import CHECKED
from candidacy.case.element import LISTS, Element
from candidacy.case.facts import Remark, normal_level
from candidacy.case.reader_notes import READER, is_own
from candidacy.case.record import CaseRecord, FactEntry

_WORD = re.compile(r"[^\W\d_][\w-]*")
# A note that says no more than that, and by whom, or when.
_ONLY_CHECKED = re.compile(
    rf"{CHECKED}(?:,? by(?: (?!on\b)[\w-]+){{1,2}})?(?:,? on [\d./-]+(?: [a-z]+ \d{{4}})?)?\W*", re.IGNORECASE
)
_FILE_NAME = re.compile(r"[^\s/]+\.\w{2,5}")
# Words of which the title of a document may be made without saying anything of the patient.
_OF_TITLES = frozenset(_WORD.findall(
    "a after and at before by clinic clinical checklist consultation contrast ct date day discogram discographic discography "
    "dynamic examination extension film films final first flexion follow-up for form forms from gp history imaging in laboratory "
    "lateral letter list low lumbar lumbosacral medication medications medicine medicines mri non-contrast note notes of on or pain "
    "physician plain practice procedure protocol questionnaire questionnaires radiograph radiographs radiology record records "
    "referral report result results sacral scan second spine standing study summary the therapy to up visit with without x-ray x-rays"
))  # fmt: skip
# Values that deny something, as a reader sees them, and words of which a denial may be made.
_DENIALS: dict[bool | str, str] = {
    False: "no", "none": "none", "normal": "normal", "negative": "negative", "not_pregnant": "not pregnant",
    "intact": "intact", "never": "never",
}  # fmt: skip
_OF_DENIALS = frozenset(_WORD.findall(
    "a absent all an and any are as asked at been by clear denied denies did do does ever excluded for found free from had has have "
    "he her his history in intact is it its known mentioned moment negative neither never nil no non none nor normal not noted now of "
    "on or out past patient present reported reports ruled says seen she signs since so symptoms than that the there they this time to "
    "today unremarkable was were with without"
))  # fmt: skip
# Without one of the first nothing is denied, and with one of the second nothing was told.
_DENIES = re.compile(
    r"\b(?:absent|clear|denied|denies|excluded|free|intact|negative|neither|never|nil|no|non|none|nor|normal|not|unremarkable|without)\b"
)
_NOT_TOLD = re.compile(r"\?|\b(?:not|never)\b[^.;,]*\b(?:asked|mentioned|clear|known|denied|excluded)\b")
_STEM = 5
# Where words of a value take back or narrow what they said; what they compare or count is not that.
_GOES_ON = re.compile(r"\b(?:though|although|however|but|except|unless|despite|yet)\b|\?|\bdoubt\w*\b")


def remarks_of(record: CaseRecord) -> tuple[Remark, ...]:
    """The remarks of a record, each text once, with where it stands: of the record, of documents, of facts in their order.

    The order of facts in a file makes no difference.
    """
    places: dict[str, list[str]] = {}
    for _, where, text in sorted(_written(record)):
        places.setdefault(" ".join(text.split()), []).append(where)
    return tuple(Remark(_joined(found), text) for text, found in places.items())


def _joined(places: list[str]) -> str:
    first, *others = places
    return f"{first}, and {len(others)} more" if others else first


# The place in the order, where it stands, and the text.
_Written = tuple[tuple[int, str, int], str, str]


def _written(record: CaseRecord) -> Iterator[_Written]:
    if record.note.strip():
        yield (0, "", 0), "note of the record", record.note
    for key, document in record.documents.items():
        if document.title and not _says_nothing(document.title):
            yield (1, key, 0), f"title of the document {key}", document.title
        if document.note.strip():
            yield (1, key, 1), f"note of the document {key}", document.note
    yield from _beside_facts(2, "", record.patient)
    for written, table in record.discs.items():
        yield from _beside_facts(3, normal_level(written) or written, table)
    for place, name in enumerate(LISTS, 4):
        listed = getattr(record, name)
        if listed is not None:
            for number, table in zip(listed.numbers, listed.entries, strict=True):
                yield from _beside_facts(place, f"{name}[{number}]", table)


def _beside_facts(place: int, subject: str, table: dict[str, FactEntry]) -> Iterator[_Written]:
    of = f" of {subject}" if subject else ""
    for name, entry in table.items():
        if not (entry.note or entry.words) or (entry.by == READER and is_own(entry.note or "")):
            continue
        element, order = catalogue().get(name), (place, subject, catalogue().place(name))
        label = element.label if element is not None else name
        if entry.note and entry.note.strip() and not _ONLY_CHECKED.fullmatch(entry.note.strip()):
            yield order, f"note of {label}{of}", entry.note
        if entry.words and element is not None and entry.by != READER:
            code = _code(entry)
            if _say_more(element, code, entry.words):
                yield order, f"words of {label}{of}, recorded as {_DENIALS[code]}", entry.words
            elif code not in _DENIALS and _GOES_ON.search(entry.words.casefold()):
                yield order, f"words of {label}{of}", entry.words


def _code(entry: FactEntry) -> bool | str:
    return entry.value if isinstance(entry.value, bool | str) else ""


def _say_more(element: Element, code: bool | str, words: str) -> bool:
    """Whether the words of something denied hold more than a denial of it."""
    if code not in _DENIALS:
        return False
    plain = words.casefold()
    if not _DENIES.search(plain) or _NOT_TOLD.search(plain):
        return True
    asked = {word[:_STEM] for word in _words(f"{element.label} {element.meaning} {element.ask}")}
    return any(word not in _OF_DENIALS and word[:_STEM] not in asked for word in _words(words))


def _says_nothing(title: str) -> bool:
    return _OF_TITLES.issuperset(_words(title)) or _FILE_NAME.fullmatch(title.strip()) is not None


def _words(text: str) -> list[str]:
    return _WORD.findall(text.casefold())
