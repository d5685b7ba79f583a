"""Two pieces of rule content laid side by side: what is written at which place, in words, and where they differ."""

from collections.abc import Iterator
from typing import Any, Literal

from msgspec import Struct
from msgspec.structs import asdict
from pydantic import BaseModel, ConfigDict

# Keys by which an item of a list is known again when others move.
_NAMES = ("id", "key", "source", "element", "name", "version")


class Part(BaseModel):
    """A part of a document about differences."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")


class ChangedText(Part):
    """What is written at one place before and after; ``None`` where nothing is."""

    place: str
    before: str | None
    after: str | None


class ContentDifference(Part):
    """One named piece of content that is there only before, only after, or differs."""

    id: str
    title: str
    change: Literal["added", "removed", "changed"]
    texts: list[ChangedText]


def plain(part: object) -> dict[str, Any]:
    """A piece of content, a model or a struct, as it would be written, without defaults."""
    if isinstance(part, Struct):
        return asdict(part)
    assert isinstance(part, BaseModel)
    return part.model_dump(mode="json", by_alias=True, exclude_defaults=True)


def changed_texts(before: Any, after: Any) -> list[ChangedText]:
    """The places at which two pieces of plain content differ, in the order in which they are written."""
    one, other = dict(_flat(before)), dict(_flat(after))
    return [
        ChangedText(place=place, before=one.get(place), after=other.get(place))
        for place in dict.fromkeys((*one, *other))
        if one.get(place) != other.get(place)
    ]


def _flat(part: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Every text of plain content with its place."""
    if isinstance(part, dict) and part:
        for key, inner in part.items():
            yield from _flat(inner, f"{place}.{key}" if place else str(key))
    elif isinstance(part, list | tuple) and any(isinstance(item, dict | list) for item in part):
        seen: dict[str, int] = {}
        for item in part:
            name = _name(item, place)
            seen[name] = seen.get(name, 0) + 1
            yield from _flat(item, name if seen[name] == 1 else f"{name} ({seen[name]})")
    else:
        yield place, words(part)


def _name(item: Any, place: str) -> str:
    found = next((str(item[key]) for key in _NAMES if key in item), "") if isinstance(item, dict) else ""
    return f"{place}[{found}]"


def words(value: Any) -> str:
    """A plain value in words, as a rule file writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return ", ".join(words(item) for item in value) or "(none)"
    if value is None or value == {}:
        return "(none)"
    return " ".join(str(value).split())
