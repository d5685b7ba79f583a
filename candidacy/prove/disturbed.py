"""Facts that make a record contradict itself, or leave a danger unread: grounds of a decision beside the criteria."""

from collections.abc import Collection, Iterator

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Danger, Element
from candidacy.prove.draft import Facts

_SUBJECTS = {"patient": "patient", "disc": "L4-L5"}
# The number beside the limit of a danger that is a danger itself.
_BEYOND = {"at_least": 0, "at_most": 0, "more_than": 1, "less_than": -1}


def disturbances(read: Collection[str], kind: str, scope: str) -> Iterator[Facts]:
    """Facts to add to a record, those of elements that nothing else asks for first.

    Parameters
    ----------
    read
        Elements that criteria ask for.
    kind
        ``conflict`` or ``danger``.
    scope
        ``patient`` or ``disc``.
    """
    shelf = catalogue().all
    for asked in (False, True):
        for element in shelf:
            if element.statable and element.scope == scope and (element.name in read) is asked:
                yield from _conflict(element) if kind == "conflict" else _dangers(element)


def _conflict(summary: Element) -> Iterator[Facts]:
    """No to a summary, and yes to a sign that it covers."""
    subject = _SUBJECTS[summary.scope]
    for name in summary.covers[:1]:
        sign = catalogue()[name]
        if sign.statable and sign.kind == "boolean" and sign.scope == summary.scope:
            yield {(subject, summary.name): {"value": False}, (subject, name): {"value": True}}


def _dangers(element: Element) -> Iterator[Facts]:
    subject = _SUBJECTS[element.scope]
    for danger in element.danger:
        value = _dangerous(element, danger)
        yield {(subject, element.name): {"value": value} | ({"unit": element.unit} if element.unit else {})}


def _dangerous(element: Element, danger: Danger) -> object:
    """A value that is the danger."""
    limit = danger.limits[0]
    if element.kind == "members":
        return [limit]
    if isinstance(limit, int | float) and not isinstance(limit, bool):
        return limit + _BEYOND.get(danger.op, 0)
    return limit
