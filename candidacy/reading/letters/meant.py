"""Which pain a passage speaks of: that of the back, where the letter has told of no other up to there."""

import re
from functools import cache

from candidacy.reading.letters.words import words

_PAIN = re.compile(
    r"(?:(?<![\w'’\-])([a-z'’\-]+)(?:[ \t]+|\s+(?=(?-i:p))))?pains?\b(?:[ \t]+([a-z]+))?", re.IGNORECASE
)
_IN_BACK = re.compile(
    r"\bpains?\s+(?:is\s+|are\s+|was\s+|located\s+|felt\s+|mainly\s+|sits\s+|across\s+|in\s+|of\s+|over\s+|around\s+|at\s+){1,3}"
    r"(?:the|his|her)\s+(?:lower |low |mid )?(?:back|lumbar (?:spine|region|area))\b",
    re.IGNORECASE,
)
_DENIED = re.compile(
    r"\b(?:no(?!\s+(?:longer|relief|improvement|benefit|change|effect|response|difference|respite|help|better|worse|more))"
    r"|den(?:ies|ied|ying)|without(?!\s+(?:relief|improvement|benefit|change|effect|response|any))|nil|negative for|nothing"
    r"|(?:does|do|did|has|have|is|are) not (?:have|had|radiat\w*|spread\w*|go|extend\w*|any)|nor)\b"
    r"(?:(?!\b(?:but|although|though|however|except|apart|besides|only|just|has|complains|reports|with|who|which)\b)[^.;:\n])*",
    re.IGNORECASE,
)
"""What is denied, up to the end of its clause."""
_SPREAD = re.compile(
    r"\b(?:radiat\w+|referred|spread\w*|going|goes|extend\w*|shoot\w*)\b[^.;:,\n]*", re.IGNORECASE
)
_SCORED = re.compile(
    r"\b(?:left |right )?leg (?:pain )?(?:is |of |at |averages? |on average |average |score |NRS |VAS |worst |usual |:\s*)*\d{1,2}(?:\.\d)?\s*(?:/|out of)\s*10",
    re.IGNORECASE,
)
"""A score that says itself that it is of the leg."""


_AT_A_SCORE = re.compile(r"at\s+(?:(?:its )?worst|best|rest|\d)", re.IGNORECASE)
_COMPOUND = re.compile(
    r"\b(?:chronic )?pain[- ](?:clinic|management|relief|medication|medicine|programme|program|service|specialist|team|killers?)\b",
    re.IGNORECASE,
)


@cache
def _elsewhere() -> re.Pattern[str]:
    return re.compile(rf"\b(?:{'|'.join(words().data['pain_elsewhere'])})", re.IGNORECASE)


@cache
def _of_back() -> re.Pattern[str]:
    return re.compile(rf"\b(?:{'|'.join(words().data['back'])})\b", re.IGNORECASE)


def is_of_back(text: str, end: int, stop: int) -> bool:
    """Say whether "the pain" at ``text[:end]`` can only be that of the back.

    Up to there, and behind it up to ``stop`` apart from a score that names the leg, no other pain and no other place of pain is told
    of but what is denied.
    """
    told = _DENIED.sub(" ", f"{text[:end]} {_SCORED.sub(' ', text[end:stop])}")
    if not _of_back().search(told):
        return False
    told = _IN_BACK.sub("back", _COMPOUND.sub(" ", told))
    return not _elsewhere().search(told) and all(_is_meant(m) for m in _PAIN.finditer(told))


def _is_meant(pain: re.Match[str]) -> bool:
    data = words().data
    before, behind = (pain[1] or "").lower(), (pain[2] or "").lower()
    if behind in data["pain_lies"] and not _AT_A_SCORE.match(pain.string, pain.start(2)):
        return False
    return not before or before in data["pain_meant"] or before in data["back"]


_SYMPTOM = re.compile(
    r"\b(?:numb\w*|tingl\w*|pins and needles|par(?:a)?esthes\w*|weak\w*|cough\w*|dizz\w*|breath\w*|dyspn\w*|nausea|reflux|burning|cramps?|stiff\w*)\b",
    re.IGNORECASE,
)
"""A complaint beside pain, which the sentence behind it may go on about."""
_SAYS_WHOSE = re.compile(r"\b(?:pains?|aches?|backache|back)\b", re.IGNORECASE)


def _before(told: str) -> str:
    """Give the sentence before the last."""
    said = re.split(r"\. |\n|; ", told.rstrip())
    return next((s for s in reversed(said[:-1]) if s.strip()), "")


def topic_is_back(text: str, end: int) -> bool:
    """Say whether the place that was named last before ``end`` is the back; where the pain goes from there does not count."""
    told = _DENIED.sub(" ", _SPREAD.sub(" ", text[:end]))
    said = told[max(told.rfind(mark) for mark in (". ", "\n", "; ")) + 1 :]
    if not _of_back().search(said) and any(
        not m[0].lower().startswith(tuple(words().data["pain_spread"])) for m in _elsewhere().finditer(told)
    ):
        return False  # several pains were told of, and this sentence does not say of which it speaks
    if (
        _SYMPTOM.search(_before(told))
        and not _SAYS_WHOSE.search(said)
        and not _of_back().search(_before(told))
    ):
        return False  # "Numbness of the foot. Worse with sitting."
    back = [m.start() for m in _of_back().finditer(told)]
    other = [m.start() for m in _elsewhere().finditer(told)]
    return not other or (bool(back) and back[-1] > other[-1])
