"""The catalogue of data elements: every fact a case record may hold, or that is worked out from it.

The elements are data (``elements/*.yaml``, shape: `candidacy.case.element`); this module reads and serves them. It holds
no case. A library of one's own may bring further elements (``elements/*.yaml`` in its folder); while it is in use,
`catalogue` holds them too.
"""

from collections.abc import Mapping, Sequence
from functools import cache, cached_property
from pathlib import Path

from candidacy.case.element import Element, ElementFile
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.foundation.files import nearest
from candidacy.foundation.parsed import keep_of
from candidacy.foundation.shape import validate

# Folder of the shipped element files.
ELEMENTS = Path(__file__).resolve().parent / "elements"
# The way out where a name is no element: it may be one of a library that was not named.
UNKNOWN = "candidacy elements lists them; those of your own with --library"


class Catalogue:
    """All elements by name, group by group; names are unique across scopes.

    Parameters
    ----------
    files
        Element files in order.
    base
        A catalogue that these extend; elements of a group it has stand after those of that group.
    mark
        Stands for the content of the files, and for nothing else; empty where it is not known.
    """

    def __init__(self, files: Sequence[ElementFile], base: "Catalogue | None" = None, mark: str = "") -> None:
        self.mark: str = mark if base is None else f"{base.mark} and {mark}" if base.mark and mark else ""
        self.groups: dict[str, str] = dict(base.groups) if base else {}
        self.guarded: frozenset[str] = (base.guarded if base else frozenset()) | {
            file.group for file in files if file.guarded
        }
        found: dict[str, Element] = dict(base._by_name) if base else {}
        self._group_of: dict[str, str] = dict(base._group_of) if base else {}
        own: set[str] = set()
        for file in files:
            self.groups.setdefault(file.group, file.title)
            for element in file.elements:
                if element.name in own or (element.name in found and element.replaces is None):
                    raise InputError(
                        [Problem(Code.DUPLICATE_KEY, "two elements have this name", found=element.name)]
                    )
                own.add(element.name)
                found[element.name] = element
                self._group_of[element.name] = file.group
        place = {group: number for number, group in enumerate(self.groups)}
        self._by_name: dict[str, Element] = {
            name: found[name] for name in sorted(found, key=lambda name: place[self._group_of[name]])
        }
        self.covered_by = {name: e.name for e in self._by_name.values() for name in e.covers}
        # elements that only a record can tell: neither worked out, nor told by a summary or a sign
        self.only_stated = {
            e.name: e.scope
            for e in self._by_name.values()
            if not (e.derived or e.covers or e.reported_within or e.name in self.covered_by)
        }
        # plain looks at what is asked of every fact of a case; an attribute of a model takes five times as long
        self.of_patient = frozenset(e.name for e in self._by_name.values() if e.scope == "patient")
        self.derived = frozenset(e.name for e in self._by_name.values() if e.derived)
        self.signs = {e.name: e.covers for e in self._by_name.values() if e.covers}
        self.reported_within = frozenset(e.name for e in self._by_name.values() if e.reported_within)
        self.never_stated = frozenset(e.name for e in self._by_name.values() if not e.statable)
        self.asked = {e.name: (e.ask or e.label, e.burden) for e in self._by_name.values()}
        self.excluding = frozenset(e.name for e in self._by_name.values() if e.excludes)
        self._place = {name: place for place, name in enumerate(self._by_name)}

    def __contains__(self, name: object) -> bool:
        return name in self._by_name

    def __getitem__(self, name: str) -> Element:
        return self._by_name[name]

    def get(self, name: str) -> Element | None:
        return self._by_name.get(name)

    def place(self, name: str) -> int:
        """The position of an element in the catalogue; what is no element comes last."""
        return self._place.get(name, len(self._place))

    @property
    def all(self) -> tuple[Element, ...]:
        return tuple(self._by_name.values())

    def group_of(self, name: str) -> str:
        """The group an element is listed under."""
        return self._group_of[name]

    def of_scope(self, scope: str) -> tuple[Element, ...]:
        return tuple(e for e in self._by_name.values() if e.scope == scope)

    @cached_property
    def _statable(self) -> dict[str, dict[str, Element]]:
        found: dict[str, dict[str, Element]] = {}
        for element in self._by_name.values():
            if element.statable:
                found.setdefault(element.scope, {})[element.name] = element
        return found

    def statable(self, scope: str) -> Mapping[str, Element]:
        """Elements that may be written into a record, by name."""
        return self._statable.get(scope, {})

    def nearest(self, word: str, scope: str | None = None) -> str:
        """The closest element name or synonym's element, or an empty text."""
        names: dict[str, str] = {}
        for element in self._by_name.values():
            if scope is None or element.scope == scope:
                names[element.name] = element.name
                names.update(dict.fromkeys(element.synonyms, element.name))
        return names.get(word) or names.get(nearest(word, list(names)), "")


@cache
def shipped_catalogue() -> Catalogue:
    """Load the shipped catalogue, once per process.

    Raises
    ------
    InputError
        If a shipped element file is damaged.
    """
    files: list[ElementFile] = []
    marks: list[str] = []
    for path in sorted(ELEMENTS.glob("*.yaml")):
        content = keep_of(ELEMENTS).read(path)
        marks.append(content.mark)
        files.append(validate(ElementFile, content, path.name, lambda path: list(Element.model_fields)))
    return Catalogue(files, mark=" ".join(marks))


_in_use: Catalogue | None = None


def catalogue() -> Catalogue:
    """The catalogue in use: the shipped one, or that of the library of one's own that is in use in this process.

    Raises
    ------
    InputError
        If a shipped element file is damaged.
    """
    return shipped_catalogue() if _in_use is None else _in_use


def put_in_use(found: Catalogue | None) -> None:
    """Have `catalogue` serve another catalogue, or the shipped one again; only `candidacy.rules.in_use` does so."""
    global _in_use
    _in_use = found
