"""What a record states, in plain words: for the history, for messages and for lines of a screen."""

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.record import FactEntry
from candidacy.case.typed_text import REASONS, entry_text
from candidacy.explain.wording import code_words, subject_words, with_unit


def title_of(subject: str, element: Element) -> str:
    """A fact named with its subject."""
    return element.label if subject == "patient" else f"{element.label} of {subject_words(subject)}"


def statement_words(element: Element, entry: FactEntry | None) -> str:
    """What an entry states, in plain words."""
    if entry is None:
        return "nothing"
    if entry.unknown is not None:
        return f"not known: {REASONS[entry.unknown]}"
    if element.kind in ("number", "integer"):
        text = entry_text(
            element, entry.model_copy(update={"unit": element.unit} if entry.unit == element.unit else {})
        )
        return with_unit(text, element.unit or "") if entry.unit in (None, element.unit) else text
    value = (
        entry.value
        if entry.value is not None
        else entry.one_of or entry.includes or entry_text(element, entry)
    )
    if isinstance(value, tuple):
        if not value:
            return "none of the list"
        joint = " or " if entry.one_of else ", "
        return ("at least " if entry.includes else "") + joint.join(code_words(v) for v in value)
    return code_words(value)


def found_words(subject: str, name: str, entry: FactEntry) -> str:
    """A fact as a document states it: what it is about, and its value."""
    element = catalogue()[name]
    return f"{title_of(subject, element)}: {statement_words(element, entry)}"


def source_words(entry: FactEntry) -> str:
    """Where an entry comes from: document, day, role; or that it names none."""
    day = f"on {entry.date}" if entry.date else ""
    return ", ".join(part for part in (entry.source, day, entry.by) if part) or "no source named"


def recorded_words(subject: str, element: Element, old: FactEntry | None, new: FactEntry | None) -> str:
    """What an edit recorded: the fact, its value and where it comes from; or what was taken out."""
    name = title_of(subject, element)
    if new is None:
        return f"{name} taken out" + (f"; it was {statement_words(element, old)}" if old else "")
    return f"{name}: {statement_words(element, new)} ({source_words(new)})"
