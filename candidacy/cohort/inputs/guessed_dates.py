"""How the dates of a column are probably written: one form, several, or a question where two would fit."""

import re
from collections import defaultdict
from collections.abc import Sequence

from candidacy.foundation.usual_forms import FormError, iso_day

DATE_FORMATS = (
    "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%m-%d-%Y", "%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d",
    "%d.%m.%y", "%d/%m/%y", "%m/%d/%y", "%d-%m-%y", "%m-%d-%y", "%d %b %Y", "%d %B %Y", "%d-%b-%Y", "%b %d, %Y",
    "%B %d, %Y", "%d-%b-%y", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M",
    "%d.%m.%Y %H:%M", "%Y-%m", "%m/%Y", "%b %Y", "%B %Y", "%Y",
)  # fmt: skip


def date_forms_of(texts: Sequence[str], of_birth: bool = False) -> tuple[list[str], str]:
    """The forms in which these dates are written, or else a question; neither where all are YYYY-MM-DD.

    Dates of one shape (12/9/2026) share one form where one fits them all. Where some fit one form alone and some the
    other alone, both are given: a date that both read is then not used.
    """
    dates = [text for text in texts if re.search(r"\d", text) and not text.startswith(("?", "#"))]
    if not dates or all(_read(text) for text in dates):
        return [], ""
    shapes: dict[str, list[str]] = defaultdict(list)
    for text in dates:
        shapes[_shape(text)].append(text)
    forms: list[str] = []
    for alike in shapes.values():
        found, question = _forms_of_shape(alike, of_birth and len(shapes) == 1)
        if question:
            return [], question
        forms += [form for form in found if not (of_birth and "%y" in form)]
    forms = sorted(set(forms), key=DATE_FORMATS.index)
    if not forms:
        told = ", ".join(map(repr, dates[:3]))
        return (
            [],
            f"date_format: write how dates are written, such as %d.%m.%Y; these are not understood: {told}",
        )
    return forms, ""


def _forms_of_shape(texts: list[str], of_birth: bool) -> tuple[list[str], str]:
    signed = [text.lstrip("<>=") for text in texts]
    reads = {form: [_read(text, form) for text in signed] for form in DATE_FORMATS}
    fitting = [form for form, read in reads.items() if all(read)]
    if of_birth and any("%y" in form for form in fitting):
        return [], "years of birth of two digits: which century? write years of four digits in the table"
    if fitting and all(reads[form] == reads[fitting[0]] for form in fitting):
        return fitting[:1], ""
    if fitting:
        days = " or ".join(f"{form} ({reads[form][0]})" for form in fitting)
        return [], f"date_format: is {texts[0]!r} {days}? write the right one"
    needed: dict[str, None] = {}
    for place in range(len(signed)):
        able = [form for form, read in reads.items() if read[place]]
        if len({reads[form][place] for form in able}) == 1:
            needed[able[0]] = None
    return list(needed), ""


def _shape(text: str) -> str:
    """What dates of one form have in common: where years of four digits, other numbers and words stand."""
    bare = text.lstrip("<>=")
    if bare.isdigit():
        return "9" * len(bare)
    return re.sub(
        r"(?<!\d)\d{1,3}(?!\d)", "9", re.sub(r"(?<!\d)\d{4}(?!\d)", "#", re.sub(r"[^\W\d_]+", "A", bare))
    )


def _read(text: str, form: str = "") -> str:
    try:
        return iso_day(text.lstrip("<>=").split("..")[0] if not form else text, [form] if form else [])
    except FormError:
        return ""
