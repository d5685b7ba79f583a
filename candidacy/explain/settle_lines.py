"""What would settle a standing and what would change it, as lines for text, pages and prints."""

from collections.abc import Iterator
from typing import NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.labels import BURDEN_WORDS
from candidacy.explain.settle_document import AskedInfo, ChangeInfo, SettleInfo, StepInfo

SETTLE_TITLE = "What would settle it"
CHANGE_TITLE = "What would change it"


class Line(NamedTuple):
    """One line, and how deep it stands."""

    depth: int
    text: str


def sections(document: AssessmentDocument) -> list[tuple[str, list[Line]]]:
    """Both, each with its title, where they were asked for."""
    found = []
    if document.settle is not None:
        found.append((SETTLE_TITLE, settle_lines(document.settle)))
    if document.change is not None:
        found.append((CHANGE_TITLE, change_lines(document.change)))
    return found


def settle_lines(found: SettleInfo) -> list[Line]:
    """Everything about what settles a standing."""
    lines = [Line(0, text) for text in found.ask_first]
    lines += [Line(0, text) for text in found.says if text not in found.ask_first]
    if found.first is not None:
        lines.append(Line(0, "The next best question at each step:"))
        lines += _step(found.first, 1)
    if found.endings:
        lines.append(Line(0, "Answers that end the matter:"))
        lines += [Line(1, ending.words) for ending in found.endings]
        if found.more_endings:
            lines.append(Line(1, f"and {found.more_endings} more"))
    return [*lines, *(Line(0, f"Not complete: {text}") for text in found.limits)]


def _step(step: StepInfo, depth: int) -> Iterator[Line]:
    yield Line(depth, f"{asked_words(step.asked)}? ({burden_words(step.asked)})")
    for lead in step.leads:
        yield Line(depth + 1, f"{lead.answers}: {lead.words}")
        if lead.then is not None:
            yield from _step(lead.then, depth + 2)
    if step.contradicting:
        yield Line(depth + 1, f"{step.contradicting}: contradicts what the record says elsewhere")
    if step.if_unknown is not None:
        yield Line(depth + 1, f"stays unknown: go on with {asked_words(step.if_unknown)}")


def asked_words(asked: AskedInfo) -> str:
    """A missing fact by its name, with its disc or entry."""
    element = catalogue().get(asked.element)
    label = element.label if element is not None else f"list of {asked.element.replace('_', ' ')}"
    return label if asked.subject == "patient" else f"{label} of {asked.subject}"


def change_lines(found: ChangeInfo) -> list[Line]:
    """Everything about what would change a standing."""
    told = found.mendable or found.not_mendable
    lines = [] if told else [Line(0, text) for text in found.says]
    if found.mendable:
        lines.append(Line(0, "What time or an act can mend:"))
        lines += [Line(1, words) for words in dict.fromkeys(each.words for each in found.mendable)]
    if found.together:
        lines.append(Line(0, found.together))
    if found.not_mendable:
        lines.append(Line(0, "What neither time nor an act mends:"))
        lines += [Line(1, text) for text in found.not_mendable]
    if found.limits:
        lines.append(Line(0, "Single limits of the rule set that decide:"))
        lines += [Line(1, each.words) for each in found.limits]
    return [*lines, *(Line(0, f"Caution: {text}") for text in found.cautions)]


def burden_words(asked: AskedInfo) -> str:
    """How a fact is found out, and that an old finding does not do."""
    return f"{BURDEN_WORDS[asked.burden]}{', anew: what is recorded is out of date' if asked.anew else ''}"
