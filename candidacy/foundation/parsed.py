"""Parsed rule files kept by the digest of their content, so that a start need not parse hundreds of them again.

What is kept is the plain content of a file (mappings, lists, texts, numbers) as JSON, under the digest of the bytes it was
parsed from. A file is always read whole and digested before anything kept is used, so nothing kept can be out of date;
what is used still passes every check of its shape. Only parsing is saved. Files with anything wrong are never kept:
they are parsed each time, with the line of each problem.

One keep serves one folder. It stands beside the shipped folders in an installed package, and otherwise in the user's
cache folder (see `cache_folder`), which may be deleted at any time. The digests in a keep cover the program that parsed,
so another version of it finds nothing it could use.
"""

import atexit
import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pydantic
import yaml

from candidacy import __version__
from candidacy.foundation import files
from candidacy.foundation.cache_folder import cache_folder, keep_private
from candidacy.foundation.files import Node, parse, raw_content, text_from_bytes
from candidacy.foundation.private_files import private_content

SHIPPED_NAME = ".parsed"  # of the keep inside a shipped folder
# The rooms of this package whose code decides what is worked out from rule files and kept.
ROOMS = ("foundation", "case", "derive", "rules", "engine", "assessment", "explain")
_HEAD = b"candidacy parsed files 1\n"
_MAX_BYTES = 64_000_000


class ParsedFile:
    """The content of one file; its tree with places is built only where somebody asks for a line."""

    __slots__ = ("_plain", "_raw", "_tree", "mark", "name")

    def __init__(self, name: str, raw: bytes, mark: str, plain: Any, tree: Node | None = None) -> None:
        self.name, self.mark, self._raw, self._plain, self._tree = name, mark, raw, plain, tree

    def plain(self) -> Any:
        """The content as ordinary dicts, lists and scalars; to be read, not changed."""
        return self._plain

    @property
    def tree(self) -> Node:
        """The content with its places, parsed from the bytes that were read."""
        if self._tree is None:
            self._tree = parse(text_from_bytes(self._raw, self.name), self.name)
        return self._tree

    def at(self, path: tuple[Any, ...]) -> Node:
        """The node at a path; see `Node.at`."""
        return self.tree.at(path)


@dataclass
class Keep:
    """Plain content of the files of one folder, by their path below it.

    Attributes
    ----------
    place
        The file it is kept in; ``None`` keeps nothing beyond this process.
    shipped
        A keep that came with the program and is only read.
    """

    folder: Path
    place: Path | None
    shipped: "Keep | None" = None
    _entries: dict[str, tuple[str, bytes]] = field(default_factory=dict)
    _changed: bool = False

    def read(self, path: Path) -> ParsedFile:
        """Read one file of the folder.

        Raises
        ------
        InputError
            Whatever `files.read_text` and `files.parse` find.
        """
        raw = raw_content(path)
        name, mark = self._below(path), _mark(raw)
        for keep in (self, self.shipped):
            entry = keep._entries.get(name) if keep is not None else None
            if entry is not None and entry[0] == mark:
                return ParsedFile(str(path), raw, mark, json.loads(entry[1]))
        tree = parse(text_from_bytes(raw, str(path)), str(path))
        plain = tree.plain()
        self._entries[name] = mark, _json(plain)
        self._changed = True
        return ParsedFile(str(path), raw, mark, plain, tree)

    def _below(self, path: Path) -> str:
        """The path of a file below the folder."""
        whole, start = os.fspath(path), os.path.join(self.folder, "")
        plain = whole.startswith(start) and os.pardir not in whole
        return whole[len(start) :] if plain else os.path.relpath(path, self.folder)

    def remembered(self, name: str, made_of: Sequence[str]) -> str:
        """What was worked out earlier from the same files (given by their marks) by the same program, or nothing.

        Nothing is remembered of what has no mark.
        """
        if not all(made_of):
            return ""
        mark = _worked_out_mark(made_of)
        for keep in (self, self.shipped):
            entry = keep._entries.get(f":{name}") if keep is not None else None
            if entry is not None and entry[0] == mark:
                return entry[1].decode()
        return ""

    def remember(self, name: str, made_of: Sequence[str], text: str) -> None:
        """Keep what was worked out from files of certain marks."""
        if not all(made_of):
            return
        self._entries[f":{name}"] = _worked_out_mark(made_of), text.encode()
        self._changed = True

    def content(self) -> bytes:
        """Everything read and worked out so far, as bytes to keep."""
        return packed(self._entries)

    def load(self, content: bytes | None) -> None:
        """Take over what was kept; anything that is not whole is passed over."""
        self._entries |= _unpacked(content)

    def save(self) -> None:
        """Keep what was parsed since it was loaded, with what other processes kept meanwhile. Never fails."""
        if self.place is None or not self._changed:
            return
        meanwhile = _unpacked(private_content(self.place, _MAX_BYTES))
        found = {n: e for n, e in (meanwhile | self._entries).items() if self._lasts(n)}
        keep_private(self.place, packed(found))
        self._changed = False

    def _lasts(self, name: str) -> bool:
        return name.startswith(":") or (self.folder / name).is_file()


def packed(entries: dict[str, tuple[str, bytes]]) -> bytes:
    """The bytes of a keep: a line that names the format, the digest of the rest, a JSON index, the contents."""
    index, start = {}, 0
    for name, (mark, content) in sorted(entries.items()):
        index[name] = [mark, start, start + len(content)]
        start += len(content)
    body = b"\n".join([_json(index), b"".join(content for _, (_, content) in sorted(entries.items()))])
    return _HEAD + hashlib.sha256(body).hexdigest().encode() + b"\n" + body


def _unpacked(content: bytes | None) -> dict[str, tuple[str, bytes]]:
    if content is None or not content.startswith(_HEAD):
        return {}
    digest, _, body = content[len(_HEAD) :].partition(b"\n")
    if hashlib.sha256(body).hexdigest().encode() != digest:
        return {}
    index, _, rest = body.partition(b"\n")
    try:
        return {
            str(name): (str(mark), rest[low:high]) for name, (mark, low, high) in json.loads(index).items()
        }
    except (ValueError, TypeError, AttributeError):
        return {}


def _json(plain: Any) -> bytes:
    return json.dumps(plain, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


@cache
def _program() -> bytes:
    """What decides how bytes become content: this program's version, its parser, and the library beneath it."""
    try:
        source = Path(files.__file__).read_bytes()
    except OSError:  # a program without its sources does not change without its version
        source = b""
    parts = (__version__, yaml.__version__, str(getattr(yaml, "__with_libyaml__", "")))
    return hashlib.sha256("\n".join(parts).encode() + b"\n" + source).digest()


def _mark(raw: bytes) -> str:
    return hashlib.sha256(_program() + raw).hexdigest()


@cache
def _code() -> bytes:
    """What decides what is worked out from content: the models of cases, rules and answers, and the library beneath them."""
    package = Path(files.__file__).parent.parent
    found = hashlib.sha256(f"{__version__} {pydantic.VERSION}".encode())
    for room in ROOMS:
        for source in sorted((package / room).glob("*.py")):
            found.update(source.read_bytes())
    return found.digest()


def _worked_out_mark(made_of: Sequence[str]) -> str:
    return hashlib.sha256(_code() + _program() + "\n".join(made_of).encode()).hexdigest()


@cache
def keep_of(folder: Path) -> Keep:
    """The keep of a folder of rule files, saved when the process ends."""
    place = cache_folder()
    name = hashlib.sha256(str(folder.resolve()).encode(errors="surrogateescape")).hexdigest()[:40]
    keep = Keep(folder, place / f"{name}.parsed" if place is not None else None, _shipped(folder))
    if keep.place is not None:
        keep.load(private_content(keep.place, _MAX_BYTES))
        atexit.register(keep.save)
    return keep


def _in_package(folder: Path) -> bool:
    return Path(files.__file__).resolve().parent.parent in folder.resolve().parents


def _shipped(folder: Path) -> Keep | None:
    """The keep that came with a folder of this package; one in any other folder could say what its files do not."""
    if not _in_package(folder):
        return None
    try:
        content = (folder / SHIPPED_NAME).read_bytes()
    except OSError:
        return None
    keep = Keep(folder, None)
    keep.load(content)
    return keep
