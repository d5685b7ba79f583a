"""Where the clauses of a letter begin and end, and the heading each stands under."""

import re
from collections.abc import Iterator
from typing import NamedTuple

from candidacy.reading.gate_words import gate_words
from candidacy.reading.letters.words import alternatives, greets, items_of, words
from candidacy.reading.model import Span
from candidacy.reading.notes.days import days
from candidacy.reading.notes.vocabulary import vocabulary

_LINE = re.compile(r"[^\r\n\v\f\u2028\u2029]+")
_BULLET = re.compile(r"\s*(?:[-*•·–>]\s+|\(?\d{1,2}[.)]\s+)?")
_HEAD = re.compile(r"\s*([A-Za-z][A-Za-z/&' \-]{0,40}?)\s*(:|$)")
_LABEL = re.compile(r"\s*([A-Za-z](?:[A-Za-z0-9/&'(),\-]| (?! )){0,50}?)\s*:")
_YEAR = re.compile(r"\b(?:19|20)\d{2}\b")
_MONTH = re.compile(r"\b([A-Za-z]{3,9})\.?,?\s+((?:19|20)\d{2})\b")
_FIELD_GAP = re.compile(r"\t+| {2,}")
_END = re.compile(r"[.!?]+(?=\s+[^\s\da-z]|\s*$)")
_ANSWERED = re.compile(r"[:?]\s*(?:no|none|nil|never|yes|n|y)\.?\Z", re.IGNORECASE)
"""A line that ends with the answer to its label: what stands below is another."""
_ASKED = re.compile(
    r"(?<=[A-Za-z)])\?(?=[ \t]*(?:no|none|nil|never|yes)[ \t]*(?:$|[.,;(–-]))", re.IGNORECASE | re.MULTILINE
)
_WRAPPED = 60
"""A line of so many characters may have been wrapped, whatever follows."""
_LISTS = ("medicines", "allergies", "problems", "surgical")
_OF_LINE = ("other", "earlier")
"""Sections that a label opens which is no heading."""
_HEADS = ("treatments", "PT", "injections", "surgeries", "medicines")
_KEPT = ("family", "plan", "imaging", "earlier", "document")
"""Headings that hold until the next, over blank lines too."""
REASONS = {
    "family": "stands under the history of the family",
    "plan": "stands under what is planned",
    "imaging": "stands under imaging, which is read by itself",
    "other": "stands under a heading that is not known",
    "earlier": "stands under a heading of an earlier time",
    "document": "stands in an earlier note",
}


class Sentence(NamedTuple):
    """A sentence, item of a list or labelled line; ``skip`` says why nothing of it is asserted."""

    span: Span
    section: str
    skip: str = ""


def answered(text: str) -> str:
    """Give a text in which a question with its answer behind it is a label with its value: ``Diabetes? No``; each place stays."""
    return _ASKED.sub(":", text)


def sentences(text: str) -> list[Sentence]:
    """Split a letter into sentences in the order of the text."""
    out: list[Sentence] = []
    section, content, before = "text", False, ""
    of_line = ""  # how a line that opened a section by its label, with content behind it, began
    for start, end, blank in _lines(text):
        at = _BULLET.match(text, start, end).end()  # type: ignore[union-attr]
        if section == "document":  # up to the end of the text: its own headings are of that time too
            out += [Sentence(s, section, REASONS[section]) for s in _ends(text, at, end)]
            continue
        if any(p in " ".join(text[at:end].lower().split()) for p in words().data["older_below"]):
            section = "document"
            out += [Sentence(s, section, REASONS[section]) for s in _ends(text, at, end)]
            continue
        if blank and section not in _KEPT and content:
            section = "text"
        if at >= end:
            continue
        head = _HEAD.match(text, at, end)
        opened = _section(head, text, start, end) if head is not None else ""
        if head is not None and opened:
            section, content, before = opened, False, ""
            out.append(Sentence(_trim(text, at, head.end()), section, "heading"))
            at = head.end()
        bullet = text[start:at].strip()[:1]
        if of_line and section in _OF_LINE and (_LABEL.match(text, at, end) or bullet == of_line != ":"):
            section = before  # a line with a label of its own, or the next of a list
        under = _under_unknown(text, at, end) if not (head is not None and opened) else ""
        if under:
            before = section if section not in _OF_LINE else before
            section, content = under, True
            of_line = (bullet or ":") if _is_of_line(text, at, end) else ""
        elif section == "other" and before and _LABEL.match(text, at, end):
            section = before
        fields = _fields(text, at, end)
        for span in _ends(text, at, end):
            if span in fields and section in ("other", "text", before):
                section = _under_unknown(text, *span) or before or "text"
            inner = _HEAD.match(text, *span) if content else None
            known = words().headings.get(" ".join(inner[1].lower().split()), "") if inner is not None else ""
            if inner is not None and known and inner[2] == ":":
                section = known
                out.append(Sentence(_trim(text, *inner.span()), section, "heading"))
                span = _trim(text, inner.end(), span.end)
                if span.start >= span.end:
                    continue
            content = True
            out.append(Sentence(span, section, REASONS.get(section, "")))
    return out


def _is_of_line(text: str, start: int, end: int) -> bool:
    """Say whether a label holds for its own line: what it is of stands behind it, and it names no year."""
    m = _LABEL.match(text, start, end)
    return m is not None and bool(text[m.end() : end].strip()) and not _YEAR.search(m[1])


def _under_unknown(text: str, start: int, end: int) -> str:
    """Give the section that a line opens by a label whose words are not known, or that tells an earlier time."""
    m = _LABEL.match(text, start, end)
    if m is None:
        return ""
    if gate_words().any_addendum.match(m[1]):
        return "text"  # of the letter's own time, whatever day it bears
    row = items_of(text, *m.span(1))
    past = any((r := i.role("findings")) and r.value.get("past") for i in row)
    past = past or any(i.role(n) for i in row for n in _HEADS[:-1])
    if any(i.role("stops") or (i.role("before") and not past) for i in row):
        return "document" if any(i.role("documents") for i in row) else "earlier"
    if measured_on(text, *m.span(1)):
        return ""
    if any(i.role(n) for i in row for n in _HEADS):
        return ""  # "Facet injections 2024: no benefit"
    if _YEAR.search(m[1]):
        return "earlier"
    joins = words().data["separators"]
    known = all(
        i.roles or not any(map(str.isalnum, i.text)) or i.text.lower() in joins["or"] + joins["and"]
        for i in row
    )
    greeting = greets(m[1].lower()) or m[1].lower() in alternatives("date_labels")
    return "" if known or greeting else "other"


def month_of(text: str, start: int, end: int) -> list[tuple[int, int, str]]:
    """Give the month that a label names: ``Bloods in April 2026``."""
    months = vocabulary().data["months"]
    named = [m for m in _MONTH.finditer(text, start, end) if m[1].lower() in months]
    return [(m.start(), m.end(), f"{m[2]}-{int(months[m[1].lower()]):02d}") for m in named]


def measured_on(text: str, start: int, end: int) -> str:
    """Give the day that a label bears beside words for what is measured: ``Labs 04/12/2026``; empty if it is no such label."""
    found = [(d.span.start, d.span.end, d.day) for d in days(text, start, end)] or month_of(text, start, end)
    if len(found) != 1 or not found[0][2]:
        return ""
    rest = f"{text[start : found[0][0]]} {text[found[0][1] : end]}".lower()
    plain = " ".join(w for w in re.findall(r"[a-z]+", rest) if w not in ("of", "on", "from", "in"))
    return found[0][2] if plain in alternatives("measured_on") else ""


def _section(head: re.Match[str], text: str, start: int, end: int) -> str:
    name = " ".join(head[1].lower().split())
    known = words().headings.get(name, "")
    if known and (head[2] == ":" or head[1].isupper() or not text[head.end() : end].strip()):
        return known
    stands_alone = head[2] == ":" and not text[head.end() : end].strip()
    if stands_alone and not greets(name) and name not in alternatives("date_labels"):
        return "other"
    return ""


def _lines(text: str) -> list[tuple[int, int, bool]]:
    """Logical lines with whether a blank one stood before; lines that a program wrapped are joined again."""
    out: list[tuple[int, int, bool]] = []
    last = 0
    for m in _LINE.finditer(text):
        if not m[0].strip():
            continue
        blank = text.count("\n", last, m.start()) > 1
        if out and not blank and _goes_on(text, out[-1], m.start(), m.end(), m.start() - last):
            out[-1] = (out[-1][0], m.end(), out[-1][2])
        else:
            out.append((m.start(), m.end(), blank))
        last = m.end()
    return out


def _goes_on(text: str, before: tuple[int, int, bool], start: int, end: int, gap: int) -> bool:
    tail = text[before[0] : before[1]].rstrip()
    dated = days(text, *before[:2])
    if (
        dated
        and dated[-1].span.end == before[0] + len(tail)
        and "\n" not in tail
        and len(tail) < _WRAPPED // 2
    ):
        return False  # a line that is no more than the day
    body = text[start:end].strip()
    alone = _HEAD.match(tail)
    if (tail[-1] in ".!?" and not _is_short(tail)) or _ANSWERED.search(tail):
        return False
    if tail[-1] == ":" and alone is not None and alone.end() == len(tail):
        return False
    if _BULLET.match(text, start, end).end() > start + len(text[start:end]) - len(text[start:end].lstrip()):  # type: ignore[union-attr]
        return False
    head = _HEAD.match(text, start, end)
    if head is not None and head[2] == ":":
        return False
    if head is not None and " ".join(head[1].lower().split()) in words().headings:
        return False
    if alone is not None and alone.end() == len(tail) and alone[1].lower() in words().headings:
        return False
    listed = [items_of(text, at, stop)[:1] for at, stop in ((start, end), before[:2])]
    if (
        all(row and row[0].role("medicines") and row[0].text[0].isupper() for row in listed)
        and tail[-1] not in ",-/("
    ):
        return False  # each on its line in a list of medicines
    last_line = tail[max(tail.rfind("\n"), tail.rfind("\r")) + 1 :]
    named = items_of(text, start, end)
    if (
        (body[0].islower() and not (named and named[0].role("medicines")))
        or body[0].isdigit()
        or body[0] in "(%"
        or tail[-1] in ",-/("
        or (len(last_line) >= _WRAPPED and not _begins_behind_medicines(text, before, start, end))
    ):
        return True
    row = items_of(text, max(before[0], before[1] - 60), before[1])
    last = row[-1]
    light = any(
        last.role(n) for n in ("fillers", "deny", "deny_all", "state", "history", "taking", "done", "stops")
    )
    return last.text.lower() in words().data["separators"]["and"] + words().data["separators"][
        "or"
    ] + words().data["separators"]["but"] or (light and last.text[-1].isalnum())


def _begins_behind_medicines(text: str, before: tuple[int, int, bool], start: int, end: int) -> bool:
    """Say whether a line begins a statement in capitals, below a line that names a medicine: it is none of its list."""
    row = items_of(text, start, end)
    begins = row[0].text.lower() in ("he", "she") or any(
        row[0].role(n) for n in ("deny", "deny_all", "findings")
    )
    if not (begins and row[0].text[0].isupper() and any(i.role("findings") for i in row)):
        return False
    taken_back = any(i.role("stops") or i.role("medicines") for i in row)  # "He stopped them after a fever"
    return not taken_back and any(i.role("medicines") for i in items_of(text, *before[:2]))


def _ends(text: str, start: int, end: int) -> Iterator[Span]:
    fields = _fields(text, start, end)
    if fields:
        yield from fields
        return
    at = start
    for m in _END.finditer(text, start, end):
        if m.start() < at or (_is_short(text[at : m.end()]) and m.end() < end):
            continue
        if text[at : m.start()].strip():
            yield _trim(text, at, m.end() if "?" in m[0] else m.start())
        at = m.end()
    if any(ch.isalnum() for ch in text[at:end]):
        yield _trim(text, at, end)


def _fields(text: str, start: int, end: int) -> list[Span]:
    """Give the labelled fields of a line that holds several with wide gaps between: ``Age: 51     Sex: male``."""
    if "\n" in text[start:end]:
        return []
    edges = [start, *(e for m in _FIELD_GAP.finditer(text, start, end) for e in m.span()), end]
    cells = [_trim(text, a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if text[a:b].strip()]
    whole = all(0 < text[c.start : c.end].find(":") < c.end - c.start - 1 for c in cells)
    return cells if len(cells) > 1 and whole else []


def _is_short(tail: str) -> bool:
    found = re.search(r"([A-Za-z.]+)\.\Z", tail)
    return found is not None and found[1].lower() in alternatives("abbreviations")


def _trim(text: str, start: int, end: int) -> Span:
    body = text[start:end]
    return Span(start + len(body) - len(body.lstrip()), start + len(body.rstrip()))
