"""A note reading for people and programs: plain text, JSON-ready data, and one page that stands alone."""

from typing import Any

from candidacy.foundation.templates import template
from candidacy.reading.model import Span
from candidacy.reading.notes.merged import quoted
from candidacy.reading.notes.model import INJECTION, PATIENT, NoteFact, NoteReading, because, form_words

CAUTION = (
    "Read by program from the words of the document; compare with the document before use. "
    "Not a diagnosis. What is not listed is not stated, which is not the same as absent."
)
_ENTRIES = {
    "medicines": "Medicine",
    "treatments": "Treatment",
    "injections": "Injection",
    "surgeries": "Surgery",
}


def element_words(fact: NoteFact) -> str:
    """Name the element of a fact in a few plain words."""
    return fact.element.replace("discography_", "").replace("_", " ")


def subject_words(subject: str, kind: str = "") -> str:
    """Name what a fact is about."""
    entry = subject.partition("[")
    if kind == "letter":
        return "The patient" if subject == PATIENT else f"{_ENTRIES[entry[0]]} {entry[2].rstrip(']')}"
    return {PATIENT: "The procedure as a whole", INJECTION: "The injection"}.get(subject, subject)


def value_words(fact: NoteFact) -> str:
    """Give the value, with what is to be known about it."""
    words = form_words(fact.form).replace("unknown uncertain in source", "not known: doubted in the note")
    words = words.replace("unknown conflicting", "not known: the note disagrees with itself")
    words = words.replace("unknown not applicable", "does not apply").replace(
        "unknown not readable", "not readable"
    )
    return f"{words} ({fact.note})" if fact.note else words


def by_subject(reading: NoteReading) -> list[tuple[str, list[NoteFact]]]:
    """The facts of the whole first, then of each disc from above downwards."""
    subjects = sorted({f.subject for f in reading.facts}, key=lambda s: (s not in (PATIENT, INJECTION), s))
    return [(s, [f for f in reading.facts if f.subject == s]) for s in subjects]


def as_text(reading: NoteReading, name: str = "") -> str:
    """Give a note reading as plain text that needs no colour."""
    title = "Letter" if reading.kind == "letter" else "Note"
    out = [f"{title}: {name}" if name else title, f"Read as {reading.kind}: {reading.why}", ""]
    if reading.questions:
        out += ["TO SETTLE", *(f"  ~ {q.about}" for q in reading.questions), ""]
    for subject, rows in by_subject(reading):
        out.append(subject_words(subject, reading.kind))
        out += [
            f'  {element_words(f):<28} {value_words(f):<40} "{quoted(reading.text, f.spans)}"' for f in rows
        ]
        out.append("")
    if not reading.facts:
        out += ["No value was read.", ""]
    if reading.unread:
        out.append("NOT READ")
        for a in reading.unread:
            sign = "!" if a.danger else "?"
            out += [f'  {sign} {because(a)}: "{" ".join(reading.words(s).split())}"' for s in a.missed]
        out.append("")
    states = [a.state for a in reading.ledger]
    counts = ", ".join(f"{states.count(s)} {s}" for s in dict.fromkeys(states))
    out += [f"Passages: {counts}", CAUTION]
    return "\n".join(out) + "\n"


def as_data(reading: NoteReading, name: str = "") -> dict[str, Any]:
    """Give a note reading as JSON-ready data; spans are offsets into ``text``, the words stand beside them."""

    def span(s: Span) -> dict[str, Any]:
        return {"start": s.start, "end": s.end, "words": reading.words(s)}

    return {
        "schema": "candidacy.note_reading/1",
        "name": name,
        "caution": CAUTION,
        "kind": reading.kind,
        "kind_because": reading.why,
        "questions": [
            {
                "about": q.about,
                "subject": q.subject or None,
                "element": q.element or None,
                "evidence": [span(s) for s in q.spans],
            }
            for q in reading.questions
        ],
        "facts": [
            {
                "subject": f.subject,
                "element": f.element,
                **f.form,
                "note": f.note or None,
                "evidence": [span(s) for s in f.spans],
            }
            for f in reading.facts
        ],
        "ledger": [
            {
                **span(a.span),
                "state": a.state,
                "why": a.why or a.rule or None,
                "danger": a.danger or None,
                "missed": [span(s) for s in a.missed],
            }
            for a in reading.ledger
        ],
        "text": reading.text,
    }


def as_html(reading: NoteReading, name: str = "") -> str:
    """Give a note reading as one page that prints; the note's own words are escaped."""
    page: str = template("candidacy.reading", "note.html").render(
        name=name,
        reading=reading,
        table=by_subject(reading),
        caution=CAUTION,
        element=element_words,
        subject=lambda subject: subject_words(subject, reading.kind),
        value=value_words,
        because=because,
        quote=lambda spans: quoted(reading.text, spans),
    )
    return page
