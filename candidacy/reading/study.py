"""Facts of the study itself: modality, field strength, count and numbering of the lumbar vertebrae."""

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache

from candidacy.reading.lexicon import Lexicon, grammar
from candidacy.reading.model import BODY, Finding, Span, Statement

_FIELD = re.compile(
    r"(\d(?<![\w.].)(?:\.\d{1,2})?)\s?-?(?:tesla\b"
    r"|T\b(?=\s*(?:[.,;:)]|$|magnet|scanner|MR|unit|system|field)))",
    re.IGNORECASE,
)
_COUNT = re.compile(
    r"\b(four|five|six|[456])\s+(?:(?:non[\s-]?rib[\s-]?bearing|lumbar[\s-]?type|lumbar|typical|mobile|true|complete)\s+)+"
    r"(?:(?:vertebral\s+)?bod(?:y|ies)|vertebra[el]?|segments?)",
    re.IGNORECASE,
)
_NUMBERING = re.compile(
    r"\b(?:numbering|numbered|count(?:ing|ed) (?:down|up)|(?:last|lowest) (?:well[\s-]formed|fully formed)|"
    r"labell?ed as L5|designated (?:as )?L5)\b",
    re.IGNORECASE,
)
_ADVICE = grammar("advice")
_OTHER_STUDY = grammar("other_study")
_UNFIT = re.compile(
    r"\b(?:non[\s-]?diagnostic|uninterpretable|degraded|unavailable|omitted|missing|aborted|abandoned|failed|declined"
    r"|refused|unable|not\s+(?:be\s+|been\s+)?(?:[a-z]+ed|available|done|diagnostic|made|part|possible))\b",
    re.IGNORECASE,
)
"""In a statement about a sequence: it was not made, or is of no use."""
_POSTURE = "imaging_posture"
_UNABLE = re.compile(
    r"\b(?:(?:unable|cannot|not|refused|declined)\s+(?:[a-z]+\s+){0,3}|(?:no|without)\s+)\Z", re.IGNORECASE
)
"""Right before a posture: the patient was not imaged in it."""
_LACKING = re.compile(r"\b(?:no|without|lacks?|lacking|neither|nor)\s+(?:[a-z0-9]+\s+)?\Z", re.IGNORECASE)
"""Right before a sequence: there was none."""
_ON = re.compile(
    r"\b(?:on|by|in|from|to|than|per|via)\s+(?:(?:the|a|an|her|his|their|that)\s+)?(?:last\s+)?\Z",
    re.IGNORECASE,
)
_SHOWED = re.compile(r"(?:\s+(?:of|from)\s+\S+)?\s+(?:showed|revealed|demonstrated)\b", re.IGNORECASE)
"""Around the name of a study in the body of a report: it is looked up there, so it may be another one."""
_LEAKS = re.compile(
    r"\s+(?:which\s+|that\s+)?(?:extend|leak|confin|contain|within|in|into|reach|fill|escap|spread|extravas|pool|track|opacif)",
    re.IGNORECASE,
)
"""Behind "with contrast" in the body of a report: it was put into a disc or into the sac."""
_MISTER = "Mr"
_OF_MRI, _SEQUENCE = "mri_contrast_given", "fat_suppressed_sequence"
_LETTERS = re.compile(r"[^\W\d_]+")
_WORDS = {"four": 4, "five": 5, "six": 6}


_STUDY_LABEL = frozenset(grammar("study_label"))
_DAY = re.compile(r"\b(?:\d{1,2}[/.-]\d{1,2}[/.-](?:\d{4}|\d{2})|\d{4}-\d{2}-\d{2})\b")
_WORD_OR_NUMBER = re.compile(r"[a-z]+|\d+")
_LONGEST_LABEL = 90


@lru_cache(maxsize=1024)
def plain(words: str) -> str:
    """Give a phrase as the data files write it: lower case, single spaces, no dots or hyphens."""
    return " ".join(w for w in re.split(r"[\s.\-]+", words.lower()) if w)


def is_study_label(text: str, start: int, stop: int, lex: Lexicon) -> bool:
    """``CT``, ``MRI L-spine 3/1/2026``: no more than which of several studies is told of."""
    named = lex.modality_words.search(text, start, stop) if stop - start <= _LONGEST_LABEL else None
    if named is None:
        return False
    rest = _DAY.sub(" ", f"{text[start : named.start()]} {text[named.end() : stop]}").lower()
    return _STUDY_LABEL.issuperset(_WORD_OR_NUMBER.findall(rest))


def study_facts(text: str, rows: Sequence[Statement], lex: Lexicon) -> list[Finding]:
    """Find the facts about the study in the statements given; each is taken where it is first said.

    Two counts, or labels of two kinds of study, stand beside one another.
    """
    out: dict[str, Finding] = {}

    def put(
        kind: str, value: str | int | float, start: int, end: int, rule: str, *, beside: bool = False
    ) -> None:
        if kind not in out or (beside and out[kind].value != value):
            kind_at = kind if kind not in out else f"{kind} {value}"
            out[kind_at] = Finding(
                kind, value, "present", "", "report", Span(start, end), None, (), (), (), rule, "", -1
            )

    for row in rows:
        if not _ADVICE.isdisjoint(m[0].lower() for m in _LETTERS.finditer(text, row.start, row.end)):
            continue  # "CT is advised" was not made
        modality = next((m for m in _modalities(text, row, lex) if not _looked_up(text, row, m)), None)
        if modality is not None and not _of_another(text, row):
            heading = lex.modalities[plain(modality.group())]
            label = is_study_label(text, row.start, row.end, lex)
            put("imaging_modality", heading.section, *modality.span(), heading.id, beside=label)
        field = _FIELD.search(text, row.start, row.end)
        if field is not None and 0.2 <= float(field[1]) <= 7:
            put("field_strength", float(field[1]), field.start(), field.end(), "field_strength")
        count = _COUNT.search(text, row.start, row.end)
        if count is not None:
            number = _WORDS.get(count[1].lower()) or int(count[1])
            put("lumbar_vertebra_count", number, *count.span(), "vertebra_count", beside=True)
        if _NUMBERING.search(text, row.start, row.end):
            put("numbering_method", text[row.start : row.end].strip(), row.start, row.end, "numbering")
        own = "" if modality is None else lex.modalities[plain(modality.group())].section
        unfit = _UNFIT.search(text, row.start, row.end)
        for m in lex.study_phrases.finditer(text, row.start, row.end):
            rule, kind, value = lex.study[plain(m.group())]
            if kind == _OF_MRI and (own or "mri") != "mri":
                continue  # "CT without contrast"
            if kind == _OF_MRI and row.section in BODY and _LEAKS.match(text, m.end(), row.end):
                continue  # "a tear with contrast extending to the outer annulus"
            if kind == _SEQUENCE and (unfit or _LACKING.search(text, row.start, m.start())):
                continue  # "STIR is non-diagnostic", "no STIR was obtained"
            if kind == _POSTURE and _UNABLE.search(text, row.start, m.start()):
                continue  # "unable to tolerate supine"
            put(kind, value, m.start(), m.end(), rule)
    made = out.get("imaging_modality")
    if made is not None and made.value != "mri" and _OF_MRI in out and not _names_mri(text, rows, lex):
        del out[_OF_MRI]
    return list(out.values())


def _names_mri(text: str, rows: Sequence[Statement], lex: Lexicon) -> bool:
    return any(
        lex.modalities[plain(m[0])].section == "mri" for row in rows for m in _modalities(text, row, lex)
    )


def _modalities(text: str, row: Statement, lex: Lexicon) -> Iterator[re.Match[str]]:
    """Give the names of modalities in a statement; ``Mr Smith`` names none."""
    return (m for m in lex.modality_words.finditer(text, row.start, row.end) if m[0] != _MISTER)


def _looked_up(text: str, row: Statement, named: re.Match[str]) -> bool:
    """``Vacuum was noted on the CT``, ``CT showed a defect``: whether that is the study of the report is not said."""
    if row.section not in BODY:
        return False
    return (
        _ON.search(text, row.start, named.start()) is not None
        or _SHOWED.match(text, named.end(), row.end) is not None
    )


def _of_another(text: str, row: Statement) -> bool:
    """``On review with radiographs``, ``Dallas grade 3 at the CT discogram``: a study named in the body may be another one."""
    if row.section not in BODY:
        return False
    words = {m[0].lower() for m in _LETTERS.finditer(text, row.start, row.end)}
    return not _OTHER_STUDY.isdisjoint(words)
