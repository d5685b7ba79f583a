"""The text of rule sets as they were when an answer was kept, each file once, and rule sets made from that text again."""

import contextlib
import json
import tempfile
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path, PurePosixPath
from typing import Any

import candidacy
from candidacy.case.catalogue import ELEMENTS
from candidacy.foundation.errors import Code, Problem, RuleError, StoreError
from candidacy.records.canonical import canonical, sha256
from candidacy.rules.in_use import own_library, using
from candidacy.rules.layout import FILES
from candidacy.rules.libraries import library_in_use, library_of, rule_set_path
from candidacy.rules.library import Library
from candidacy.rules.resolved import RuleSet

# What of the package can change an answer or its words; the screens and commands cannot.
_EVALUATING = ("assessment", "case", "derive", "engine", "explain", "foundation", "rules")
_SUFFIXES = (".py", ".yaml", ".html")


@cache
def program_digest() -> str:
    """Digest of the code that evaluates a case and puts words to the answer."""
    package = Path(candidacy.__file__).parent
    files = sorted(
        path for room in _EVALUATING for path in (package / room).rglob("*") if path.suffix in _SUFFIXES
    )
    return sha256(
        canonical([[path.relative_to(package).as_posix(), sha256(path.read_bytes())] for path in files])
    )


class KeptRules:
    """The files behind a rule set: for each library from the lowest, its files by their place; and how it is named there.

    Attributes
    ----------
    manifest
        Canonical JSON of the list: what is kept is named by its digest.
    files
        Content of each file by digest.
    """

    def __init__(self, name: str) -> None:
        path = rule_set_path(name)
        library = library_in_use() if path is None else library_of(path)
        self.files: dict[str, bytes] = {}
        layers: list[dict[str, str]] = []
        above: Library | None = library
        while above is not None:
            layers.insert(0, self._layer(above, path if above is library else None))
            above = above.base
        entry = (
            {"id": name}
            if path is None
            else {"path": path.resolve().relative_to(library.folder.resolve()).as_posix()}
        )
        elements = {file.name: self._add(file.read_bytes()) for file in sorted(ELEMENTS.glob("*.yaml"))}
        self.manifest = canonical({"rule_set": entry, "layers": layers, "elements": elements})

    @property
    def digest(self) -> str:
        return sha256(self.manifest)

    def _layer(self, library: Library, asked: Path | None) -> dict[str, str]:
        layout = library.layout
        groups = (
            layout.criteria,
            layout.decisions,
            layout.elements,
            layout.relations,
            layout.sets,
            layout.tables,
        )
        paths = {path for group in groups for path in group.values()}
        paths |= {library.folder / name for name in FILES if (library.folder / name).is_file()}
        paths |= {asked} if asked is not None else set()
        root = library.folder.resolve()
        return {
            path.resolve().relative_to(root).as_posix(): self._add(path.read_bytes())
            for path in sorted(paths)
        }

    def _add(self, content: bytes) -> str:
        digest = sha256(content)
        self.files[digest] = content
        return digest


def files_named(manifest: bytes) -> dict[str, str]:
    """Digest of each file that a kept list names, with its place."""
    plan: dict[str, Any] = json.loads(manifest)
    return {digest: place for layer in (*plan["layers"], plan["elements"]) for place, digest in layer.items()}


_made: dict[str, str] = {}


def made_of(kept: KeptRules) -> str:
    """Digest of the rule set that kept text makes.

    The manifest names every file by its content, so each is read once in a process.

    Raises
    ------
    StoreError, RuleError
        As `rules_from`.
    """
    if kept.digest not in _made:
        with rules_from(kept.manifest, kept.files) as again:
            _made[kept.digest] = again.digest
    return _made[kept.digest]


@contextlib.contextmanager
def rules_from(manifest: bytes, content: Mapping[str, bytes]) -> Iterator[RuleSet]:
    """The rule set that kept text makes, as long as it is open.

    Raises
    ------
    StoreError
        E705 if the text is not what was kept.
    RuleError
        If this program cannot read it, or a library of one's own is in use that has other data elements.
    """
    plan: dict[str, Any] = json.loads(manifest)
    with tempfile.TemporaryDirectory(prefix="candidacy-rules-") as folder:
        library: Library | None = None
        for number, layer in enumerate(plan["layers"]):
            root = Path(folder, str(number))
            root.mkdir()
            for place, digest in layer.items():
                _write(root, place, digest, content)
            library = Library(root, base=library)
        assert library is not None
        entry = plan["rule_set"]
        with _in_use(library):
            yield (
                library.rule_set(entry["id"])
                if "id" in entry
                else library.resolve(library.folder / entry["path"])
            )


@contextlib.contextmanager
def _in_use(library: Library) -> Iterator[None]:
    if not library.layout.elements and not (library.base and library.base.own_elements()):
        yield
        return
    open_now = own_library()
    if open_now is None:
        with using(library):
            yield
    elif library.take_elements_of(open_now):
        yield
    else:
        raise RuleError([Problem(Code.USAGE, "the library in use has other data elements than the kept rules", str(open_now.folder),
                                 expected="no library in use", next_step="without --library and CANDIDACY_LIBRARY")])  # fmt: skip


def _write(root: Path, place: str, digest: str, content: Mapping[str, bytes]) -> None:
    parts = PurePosixPath(place).parts
    found = content.get(digest)
    if found is None or sha256(found) != digest or not parts or ".." in parts or place.startswith("/"):
        raise StoreError([Problem(Code.DOES_NOT_VERIFY, "a kept rule file is not what was kept", "content", found=place,
                                  next_step="candidacy records verify")])  # fmt: skip
    file = root.joinpath(*parts)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(found)


def same_elements(manifest: bytes) -> bool:
    """Whether the shipped data elements are those that a kept rule set was read with."""
    kept = json.loads(manifest)["elements"]
    return bool(kept == {file.name: sha256(file.read_bytes()) for file in ELEMENTS.glob("*.yaml")})
