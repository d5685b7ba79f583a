"""The rows of a page of the guided intake: the missing facts it asks, ordered by what they decide, fixed while it is open."""

from collections.abc import Iterator

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.explain.document import AssessmentDocument
from candidacy.ui.desk import Desk, Place
from candidacy.ui.intake.plan import IntakePage, asked_for, page_of

ROWS = "intake-rows"


def page_rows(on: Desk, page: IntakePage, document: AssessmentDocument) -> list[Place]:
    """The rows of the open page in the order in which they were first shown; what came up since stands at the end."""
    kept_for, kept = on.kept.get(ROWS, ("", []))
    mark = f"{page.id} {document.rule_set.id}"
    rows = dict.fromkeys(kept if kept_for == mark else ())
    rows |= dict.fromkeys(asked_now(on, page, document))
    on.kept[ROWS] = (mark, list(rows))
    return list(rows)


def fresh_rows(on: Desk) -> None:
    """Have the rows made anew when a page is next shown."""
    on.kept.pop(ROWS, None)


def count_open(on: Desk, page: IntakePage, document: AssessmentDocument) -> int:
    """How many rows of a page wait for an answer."""
    return len(set(asked_now(on, page, document)))


def further(on: Desk, page: IntakePage, names: set[str], rows: list[Place]) -> list[Place]:
    """What else of these elements the page can hold: answered before, not needed now, or read by advisory criteria alone."""
    found: list[Place] = []
    for element in catalogue().all:
        wanted = element.name in names and element.statable and element.scope in ("patient", "disc")
        if wanted and page_of(element.name) is page:
            subjects = ("patient",) if element.scope == "patient" else considered(on)
            found += [(subject, name) for subject in subjects for name in asked_for(page, element.name)]
    found += [("patient", name) for name in page.lists]
    return [place for place in dict.fromkeys(found) if place not in rows]


def considered(on: Desk) -> tuple[str, ...]:
    """The discs under consideration, as far as the record says."""
    discs = on.document().discs
    return tuple(disc.level for disc in discs if disc.considered == "met")


def asked_now(on: Desk, page: IntakePage, document: AssessmentDocument) -> Iterator[Place]:
    """What the page asks now, in the order of the missing facts."""
    shelf, chosen = catalogue(), considered(on)
    for item in document.missing:
        listed = item.subject.partition("[")[0] if "[" in item.subject else item.element
        if listed in LISTS:
            if page_of(listed) is page:
                yield "patient", listed
            continue
        element = shelf.get(item.element)
        if (
            element is None
            or not element.statable
            or item.force == "advisory"
            or page_of(item.element) is not page
        ):
            continue
        if element.scope == "disc" and chosen and item.subject not in chosen:
            continue  # other discs are described in the form
        for name in asked_for(page, item.element):
            yield item.subject, name
