"""Facts of the study itself: modality, field strength, count and numbering of the lumbar vertebrae."""

import re
from collections.abc import Sequence

from candidacy.reading.document import Sentence
from candidacy.reading.lexicon import Lexicon
from candidacy.reading.model import Finding, Span

_FIELD = re.compile(r"(?<![\w.])(\d(?:\.\d{1,2})?)\s?-?(?:tesla\b|T\b(?!\d))", re.IGNORECASE)
_COUNT = re.compile(
    r"\b(four|five|six|[456])\s+(?:(?:non[\s-]?rib[\s-]?bearing|lumbar[\s-]?type|lumbar|typical|mobile|true|complete)\s+)+"
    r"(?:(?:vertebral\s+)?bod(?:y|ies)|vertebra[el]?|segments?)",
    re.IGNORECASE,
)
_NUMBERING = re.compile(
    r"[^.\n]*\b(?:numbering|numbered|counting (?:down|up)|counted (?:down|up)|last (?:well[\s-]formed|fully formed) disc|"
    r"lowest (?:well[\s-]formed|fully formed)|labell?ed as L5|designated (?:as )?L5)\b[^.\n]*",
    re.IGNORECASE,
)
_WORDS = {"four": 4, "five": 5, "six": 6}


def _finding(
    kind: str, value: str | int | float, start: int, end: int, section: str, number: int, rule: str
) -> Finding:
    return Finding(
        kind, value, "present", "", "report", Span(start, end), None, (), (), (), rule, section, number
    )


def study_facts(text: str, rows: Sequence[Sentence], lex: Lexicon) -> list[Finding]:
    """Find the facts about the study; each is taken where it is first said."""
    out: list[Finding] = []
    found = lex.modality_words.search(text)
    if found is not None:
        name = " ".join(w for w in re.split(r"[\s.\-]+", found.group().lower()) if w)
        heading = lex.modalities[name]
        out.append(
            _finding("imaging_modality", heading.section, found.start(), found.end(), "", -1, heading.id)
        )
    low = text.lower()
    if "tesla" in low or "t " in low or low.endswith("t"):
        m = _FIELD.search(text)
        if m is not None and 0.2 <= float(m[1]) <= 7 and _is_technical(text, m.start(), low):
            out.append(_finding("field_strength", float(m[1]), m.start(), m.end(), "", -1, "field_strength"))
    if "lumbar" in low or "rib" in low:
        m = _COUNT.search(text)
        if m is not None:
            count = _WORDS.get(m[1].lower()) or int(m[1])
            out.append(_finding("lumbar_vertebra_count", count, m.start(), m.end(), "", -1, "vertebra_count"))
    if (
        "number" in low
        or "count" in low
        or "last" in low
        or "lowest" in low
        or "label" in low
        or "designated" in low
    ):
        m = _NUMBERING.search(text)
        if m is not None:
            start = m.start() + len(m[0]) - len(m[0].lstrip())
            out.append(_finding("numbering_method", m[0].strip(), start, m.end(), "", -1, "numbering"))
    return out


def _is_technical(text: str, at: int, low: str) -> bool:
    """``1.5 T`` is a field strength; ``1.5 t`` inside a sentence about something else is not."""
    return "tesla" in low or text[at : at + 8].rstrip().upper() == text[at : at + 8].rstrip()
