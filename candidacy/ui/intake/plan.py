"""The pages of the guided intake as declared in ``pages.yaml``: which facts are asked where, and which may be denied together."""

from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import ListName
from candidacy.case.element import LISTS, Rows, Supplier
from candidacy.case.record import DocumentKind
from candidacy.foundation.parsed import keep_of
from candidacy.foundation.shape import validate

_FILE = Path(__file__).with_name("pages.yaml")


class _Strict(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")


class IntakePage(_Strict):
    """One page of the guided intake."""

    id: Annotated[str, Field(pattern=r"^[a-z_]+$")]
    """Stable name of the page."""
    title: str
    """Its heading."""
    told_by: Literal["conversation"] | DocumentKind
    """What its answers usually come from; pages told by the same share source and day."""
    groups: Rows[str]
    """Groups of the catalogue whose facts are asked here."""
    elements: Rows[str] = ()
    """Facts asked here although their group stands on another page."""
    lists: Rows[ListName] = ()
    """Lists of the record asked here."""
    asked_as: dict[str, Rows[str]] = Field(default_factory=dict)
    """Facts that are asked by those from which they are worked out."""
    absent: dict[str, Rows[str]] = Field(default_factory=dict)
    """Lists, by heading, of facts of yes and no that a person may deny together; a "no" is a usual answer to each."""
    supplied_by: Rows[Supplier] = ()
    """Who can tell the facts of groups that no page names which are asked here."""
    rest: bool = False
    """Whether all other facts of groups that no page names are asked here."""


class _File(_Strict):
    pages: Annotated[Rows[IntakePage], Field(min_length=1)]


@cache
def pages() -> tuple[IntakePage, ...]:
    """The pages in their order.

    Raises
    ------
    InputError
        If the shipped file is damaged.
    """
    content = keep_of(_FILE.parent).read(_FILE)
    return validate(_File, content, _FILE.name, lambda path: list(IntakePage.model_fields)).pages


def page_named(name: str) -> IntakePage:
    """The page of an id; the first one for an id that is none."""
    return next((page for page in pages() if page.id == name), pages()[0])


def page_of(element: str) -> IntakePage:
    """The page on which a fact of the patient or a disc, or a list of the record, is asked."""
    last = next(page for page in pages() if page.rest)
    if element in LISTS:
        return next((page for page in pages() if element in page.lists), last)
    own = next((page for page in pages() if element in page.elements), None)
    known = catalogue()[element]
    if own is not None:
        return own
    if known.scope not in ("patient", "disc"):
        name = next(name for name, scope in LISTS.items() if scope == known.scope)
        return page_of(name)
    group = catalogue().group_of(element)
    named = next((page for page in pages() if group in page.groups), None)
    return named or next((page for page in pages() if known.supplied_by in page.supplied_by), last)


def asked_for(page: IntakePage, element: str) -> Iterable[str]:
    """The facts by which one is asked on a page: itself, or those from which it is worked out."""
    return page.asked_as.get(element, (element,))
