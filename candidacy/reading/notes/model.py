"""What a note reading is: facts with their words, what every sentence came to, what disagrees."""

from typing import Any, NamedTuple

from candidacy.foundation.notebook import table
from candidacy.reading.model import Account, Span

PATIENT = "patient"
INJECTION = "injections[1]"
"""The subject of facts about the one injection that a note describes."""


class Clause(NamedTuple):
    """One sentence, labelled line or cell of a note.

    ``discs`` are those its place gives it (a block's head, a row of a table, the sentence before), ``label`` and
    ``unit`` those of its column; ``skip`` says why nothing of it is asserted.
    """

    span: Span
    section: str
    discs: tuple[str, ...] = ()
    place: Span | None = None
    label: str = ""
    unit: str = ""
    skip: str = ""


class Said(NamedTuple):
    """One value that a clause asserts of one subject; ``form`` is as a case record writes it."""

    subject: str
    element: str
    form: dict[str, Any]
    span: Span
    note: str = ""


WITHOUT_NUMBER = "said without a number"
"""Beside a number that a text leaves open without doubting another."""


class NoteFact(NamedTuple):
    """One fact of the note: the value, or why it is not known, and every place in the text it rests on."""

    subject: str
    element: str
    form: dict[str, Any]
    spans: tuple[Span, ...]
    clauses: tuple[int, ...]
    note: str


class Question(NamedTuple):
    """What a person has to settle before a value may be used."""

    about: str
    subject: str
    element: str
    spans: tuple[Span, ...]


class NoteReading(NamedTuple):
    """Everything read from one note; ``why`` tells how its kind was found.

    In the ledger ``statement`` counts the clauses of the note, ``findings`` are positions in ``facts``.
    """

    text: str
    kind: str
    why: str
    facts: tuple[NoteFact, ...]
    ledger: tuple[Account, ...]
    questions: tuple[Question, ...]

    @property
    def unread(self) -> tuple[Account, ...]:
        """Sentences that were not used, or not wholly; those with a word of danger in them come first."""
        return tuple(sorted((a for a in self.ledger if a.missed), key=lambda a: (not a.danger, a.span)))

    def words(self, span: Span) -> str:
        """Give the exact words of a span."""
        return self.text[span.start : span.end]

    def __repr__(self) -> str:
        told = f"{self.kind}; {len(self.facts)} facts; {len(self.unread)} passages unread"
        return f"NoteReading({told}; {len(self.questions)} questions)"

    def _repr_html_(self) -> str:
        rows = [
            (f.subject, f.element, form_words(f.form), " … ".join(self.words(s) for s in f.spans))
            for f in self.facts
        ]
        notes = [f"Read as {self.kind}: {self.why}"] + [f"To settle: {q.about}" for q in self.questions]
        notes += [f"Unread ({because(a)}): {self.words(s)}" for a in self.unread for s in a.missed]
        return table("Procedure note", ("of", "element", "value", "words"), rows, notes)


def because(account: Account) -> str:
    """Say why a sentence was not read, and of which danger a word of it would be a sign."""
    return f"holds a word of: {account.danger}; {account.why}" if account.danger else account.why


def form_words(form: dict[str, Any]) -> str:
    """Say a value in a few plain words."""
    rest = {k: v for k, v in form.items() if k != "unit"}
    name, value = next(iter(rest.items()))
    if isinstance(value, bool):
        value = "yes" if value else "no"
    many = value if isinstance(value, list) else [value]
    shown = " or ".join(f"{v:g}" if isinstance(v, float) else str(v).replace("_", " ") for v in many)
    if name == "between":
        shown = shown.replace(" or ", " to ")
    lead = "" if name in ("value", "one_of", "between") else name.replace("_", " ") + " "
    return f"{lead}{shown} {form.get('unit', '')}".strip()
