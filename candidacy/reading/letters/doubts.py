"""What the passages that were not read may take back: denials they may gainsay, values and medicines named again."""

import re
from collections.abc import Collection
from functools import lru_cache

from candidacy.case.free_text import told_in
from candidacy.reading.letters.dangers import OF_OTHERS, dangerous_agents, unknown_medicine
from candidacy.reading.letters.findings import NO_PLACE
from candidacy.reading.letters.layout import Sentence
from candidacy.reading.letters.parts import Part, parts_of
from candidacy.reading.letters.told import Told
from candidacy.reading.letters.words import words
from candidacy.reading.model import Span
from candidacy.reading.notes.model import PATIENT, NoteFact, Question

_LISTS = {"medicines": "passages of the list of medicines", "allergies": "passages about allergies"}
_SETTLED = ("not kept", "whether a list is complete is for a person to state")
BOTH = "working and not working are both told"
_HARMLESS = ("of another person", "of the family", "conditional", "planned or advised", "stands under")
"""A passage unread for such a reason does not gainsay what the letter says of the patient now."""


_NOT_TAKEN = ("of an earlier time", "an allergy", "a denial", "whether the denial", "quoted")
"""Reasons for which a medicine that is named is not taken."""
_ANTIPLATELETS = ("clopidogrel", "prasugrel", "ticagrelor", "dipyridamole", "aspirin")
_JOINS = re.compile(r"\W*(?:and|or|then)?\W*")
"""What may stand between a value and another of the same thing."""


class SentenceRead:
    """What one sentence came to."""

    def __init__(self, sentence: Sentence, parts: list[Part]) -> None:
        self.sentence = sentence
        self.parts = parts
        self.told: list[tuple[Span, Told]] = []
        self.missed: list[tuple[Span, str]] = []


def gainsaid(text: str, fact: NoteFact, rows: list[SentenceRead]) -> NoteFact:
    """A denial is not asserted where a passage that was not read speaks of the same thing, by its name or by what befell."""
    if _is_measured(fact) and _another_beside(text, fact, rows):
        return fact._replace(
            form={"unknown": "uncertain_in_source"}, note="another value that was not read stands beside it"
        )
    if _is_treated(text, fact, rows) or _is_counted(fact, rows):
        return fact._replace(
            form={"unknown": "uncertain_in_source"}, note="a medicine or a count that is named says otherwise"
        )
    both = fact.element == "work_status" and any(why == BOTH for r in rows for _, why in r.missed)
    if both or (fact.form.get("value") in ("working", "modified_duty") and _is_off_work(rows)):
        return fact._replace(
            form={"unknown": "uncertain_in_source"}, note="a passage tells of being off work"
        )
    if fact.form.get("value") not in (False, "not_pregnant", "never"):
        return fact
    if _told_otherwise(text, fact, rows):
        return fact._replace(
            form={"unknown": "uncertain_in_source"}, note="a passage that was not read may tell of it"
        )
    topics = {t for t, elements in words().data["gainsaid_by"].items() if fact.element in elements}
    for row in rows:
        for span, why in row.missed:
            if why.startswith(_HARMLESS):
                continue
            apart = not any(s.start < span.end and span.start < s.end for s in fact.spans)
            if apart and (
                topics & _told(text, row.sentence.span) & _told(text, span)
                or (fact.element == "fever" and _feverish(text[span.start : span.end]))
            ):
                return fact._replace(
                    form={"unknown": "uncertain_in_source"},
                    note="a passage that was not read may tell of it",
                )
            for p in row.parts:
                if span.start <= p.start < span.end and fact.element in _of(p, row.sentence.section):
                    if any(s.start <= p.start < s.end for s in fact.spans):
                        continue
                    return fact._replace(
                        form={"unknown": "uncertain_in_source"},
                        note="also named in a passage that was not read",
                    )
    return fact


def _is_treated(text: str, fact: NoteFact, rows: list[SentenceRead]) -> bool:
    """Say whether a medicine for what is denied is named, where its sentence does not say that it is of the past or denied."""
    signs = words().data["gainsaid_by_medicines"].get(fact.element)
    value = fact.form.get("value", fact.form.get("one_of"))
    if signs is None or value not in (False, "none", ["none", "antiplatelet"]):
        return False
    for row in rows:
        spans = [s for s, why in row.missed if not why.startswith((*_HARMLESS, *_NOT_TAKEN))]
        spans += [s for s, told in row.told if told.entry is not None and told.entry[0] == "medicines"]
        if fact.element == "antithrombotic_use" and any(
            unknown_medicine(parts_of(text, *span), row.sentence.section)
            for span, _ in row.missed
            if span in spans
        ):
            return True
        for span in spans:
            for m in re.finditer(signs, text[span.start : span.end], re.IGNORECASE):
                if isinstance(value, list) and m[0].lower() in _ANTIPLATELETS:
                    continue
                return True
    return False


def _is_off_work(rows: list[SentenceRead]) -> bool:
    """Say whether an unread passage tells that the patient is off work, for whatever reason."""
    return any(
        p.role("off_work") and s.start <= p.start < s.end
        for r in rows
        for s, why in r.missed
        if not why.startswith((*_HARMLESS, *_NOT_TAKEN))
        for p in r.parts
    )


def _is_counted(fact: NoteFact, rows: list[SentenceRead]) -> bool:
    """``Never smoked. 20 pack years``: a count of what is denied."""
    if fact.element != "smoking_status" or fact.form.get("value", "never") != "never":
        return False
    said = [(e, f) for r in rows for _, t in r.told for _, e, f, _ in t.said]
    counted = any(e in ("pack_years", "cigarettes_per_day") and f.get("value") != 0 for e, f in said)
    open_ = (
        fact.form.get("value") is None
    )  # "non-smoker" may have smoked, and counts of packs are then of the past
    return (counted and not open_) or any(
        p.unit == "cigarettes" and p.low and s.start <= p.start < s.end
        for r in rows
        for s, _ in r.missed
        for p in r.parts
    )


def _told_otherwise(text: str, fact: NoteFact, rows: list[SentenceRead]) -> bool:
    """Say whether an unread passage names what was examined and found normal: ``Left EHL 4/5``."""
    signs = words().data["gainsaid_by_signs"].get(fact.element)
    for row in rows if signs is not None else ():
        spans = [s for s, why in row.missed if not why.startswith((*_HARMLESS, NO_PLACE))]
        spans = [s for s in spans if not any(f.start < s.end and s.start < f.end for f in fact.spans)]
        if spans and re.search(signs, text[spans[0].start : max(s.end for s in spans)], re.IGNORECASE):
            return True
    return False


def _of(part: Part, section: str) -> Collection[str]:
    """Elements that a word may speak of: a complaint, an allergen, or how an allergy shows in a list of allergies."""
    if (role := part.role("findings")) is not None:
        return tuple(role.value.get("stated") or role.value.get("denied") or ())
    if (role := part.role("allergens")) is not None:
        return tuple(role.value["says"])
    return (
        tuple(words().data["without_allergies"]) if section == "allergies" and part.role("reactions") else ()
    )


def _is_measured(fact: NoteFact) -> bool:
    """Say whether a fact is a number of the patient, or when the pain began."""
    numbers = any(row["of"] == fact.element for row in words().data["numbers"])
    return fact.subject == PATIENT and (numbers or fact.element in ("pain_duration", "pain_onset_date"))


def _another_beside(text: str, fact: NoteFact, rows: list[SentenceRead]) -> bool:
    """A number without a label in an unread part of the same sentence: ``INR 1.1 (01/02), 3.4 (05/30)``."""
    for row in rows:
        if any(row.sentence.span.start <= s.start < row.sentence.span.end for s in fact.spans):
            for span, _ in row.missed:
                inside = [p for p in row.parts if span.start <= p.start < span.end]
                if fact.element not in words().data["dated"] and not _follows(text, fact, span):
                    continue
                if all(map(_is_no_more_than_a_value, inside)) and any(_is_like(p, fact) for p in inside):
                    return True
    return False


def _follows(text: str, fact: NoteFact, span: Span) -> bool:
    return any(s.end <= span.start and _JOINS.fullmatch(text, s.end, span.start) for s in fact.spans)


def _is_no_more_than_a_value(part: Part) -> bool:
    if part.kind != "phrase" or part.text.lower() in words().data["of_repeat"]:
        return True
    return not any(c.isalnum() for c in part.text) or any(
        part.role(n) for n in ("onset", "quality", "about", "bound", "was")
    )


def _is_like(part: Part, fact: NoteFact) -> bool:
    """Say whether a number without a label may be another of the same thing: in the same unit, or in none."""
    if fact.element == "pain_onset_date":
        return part.kind == "day"
    if part.kind not in ("number", "ago"):
        return False
    if fact.element == "pain_duration":
        return part.unit in ("month", "year")
    unit = "cigarettes" if fact.element == "cigarettes_per_day" else fact.form.get("unit", "")
    return part.unit in ("", unit)


def _feverish(said: str) -> bool:
    lead = tuple(words().data["feverish"])
    return any(w.startswith(lead) for t in told_in(said) for w in t.words.split())


@lru_cache(maxsize=1024)
def _topics_of(words_of_text: str) -> frozenset[str]:
    return frozenset(t.topic for t in told_in(words_of_text))


def _told(text: str, span: Span) -> frozenset[str]:
    """Topics of danger that words tell; those of a part count only where its sentence does not deny them."""
    return _topics_of(text[span.start : span.end])


def mentioned_elsewhere(
    entries: dict[str, str], rows: list[SentenceRead], facts: tuple[NoteFact, ...]
) -> list[Question]:
    """Ask about a value whose label stands in a passage that was not read, and about a medicine that is listed and named again where it was not read, or is dangerous and named only there."""
    out = []
    for section, about in _LISTS.items():
        spans = [
            s for r in rows if r.sentence.section == section for s, why in r.missed if why not in _SETTLED
        ]
        if spans:
            out.append(Question(f"{len(spans)} {about} not read", "", "", tuple(spans)))
    stated = {f.element: f for f in facts if f.subject == PATIENT}
    for row in rows:
        for span, why in row.missed:
            if why.startswith(_HARMLESS):
                continue
            inside = [p for p in row.parts if span.start <= p.start < span.end]
            labels = (
                [r.value["of"] for p in inside if (r := p.role("numbers"))]
                if any(p.kind != "phrase" for p in inside)
                else []
            )
            out += [
                Question(
                    f"{e.replace('_', ' ')}: also named in a passage that was not read ({why})",
                    PATIENT,
                    e,
                    (span,),
                )
                for e in labels
                if e in stated
            ]
    for row in rows:
        for span, why in row.missed:
            for p in row.parts:
                drug = p.role("medicines")
                if drug is None or not span.start <= p.start < span.end or why == "not kept":
                    continue
                subject = entries.get(p.text.lower(), "")
                if subject or (drug.value in dangerous_agents() and not why.startswith(OF_OTHERS)):
                    about = (
                        f"{p.text}: {'also ' if subject else ''}named in a passage that was not read ({why})"
                    )
                    out.append(Question(about, subject, "medicine_name" if subject else "", (span,)))
    return out
