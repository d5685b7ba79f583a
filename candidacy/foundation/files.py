"""Read YAML and JSON into a tree that remembers lines, refusing everything that could mislead.

Refused, each with its place: aliases and anchors (they can explode), tags, duplicate keys, NaN, infinities
and numbers too large or too small for arithmetic, more than one document, deep nesting, text that is not
UTF-8, large files. Numbers, true and false are only what they look like; dates stay text; nothing else
is guessed.
"""

import math
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

import yaml
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from candidacy.foundation.errors import Code, InputError, Problem, shorten

MAX_BYTES = 4_000_000
_AT_ONCE = 65_536  # bytes
MAX_DEPTH = 40
MAX_PROBLEMS = 200
_LONGEST_INTEGER = 15  # signs; with more of them a number of floating point is not exact any more

_INT = re.compile(r"[-+]?(0|[1-9][0-9]*)\Z")
_FLOAT = re.compile(r"[-+]?((0|[1-9][0-9]*)(\.[0-9]*)?|\.[0-9]+)([eE][-+]?[0-9]+)?\Z")
_NOT_A_NUMBER = re.compile(r"[-+]?\.?(inf|infinity|nan)\Z", re.IGNORECASE)
_SURROGATE = re.compile("[\ud800-\udfff]")
# What may not stand in YAML text (YAML 1.2.2: all but production 1, c-printable).
_NOT_PRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
# In JSON: a quoted text (to be left alone) or a tab between tokens, which YAML would refuse.
_JSON_TEXT_OR_TAB = re.compile(r'"(?:[^"\\]|\\.)*"|\t', re.DOTALL)
# In JSON, part of a text; in YAML, the end of a line.
_ESCAPED = {0x85: "\\u0085", 0x2028: "\\u2028", 0x2029: "\\u2029"}
_ESCAPED_SIGNS = frozenset(map(chr, _ESCAPED))
# In JSON: an escaped character beyond 16 bits, which YAML writes differently; or any other escape.
_JSON_ESCAPE = re.compile(r"\\(?:u([dD][89abAB][0-9a-fA-F]{2})\\u([dD][c-fC-F][0-9a-fA-F]{2})|.)", re.DOTALL)


@dataclass(slots=True)
class Node:
    """One value of a file with the place where it stands (both counted from 1)."""

    value: Any  # dict[str, Node], list[Node] or a scalar
    line: int
    column: int
    keys: dict[str, tuple[int, int]] = field(default_factory=dict)
    refused: bool = False  # a scalar that has been reported already; its value is None

    def plain(self) -> Any:
        """The value without places, as ordinary dicts, lists and scalars."""
        if isinstance(self.value, dict):
            return {key: node.plain() for key, node in self.value.items()}
        if isinstance(self.value, list):
            return [node.plain() for node in self.value]
        return self.value

    def at(self, path: tuple[Any, ...]) -> "Node":
        """The node at a path, or the nearest one above it that exists."""
        node = self
        for step in path:
            if (isinstance(node.value, dict) and step in node.value) or (
                isinstance(node.value, list) and isinstance(step, int) and step < len(node.value)
            ):
                node = node.value[step]
        return node

    def key_place(self, key: str) -> tuple[int, int]:
        """Where a key of this mapping stands."""
        return self.keys.get(key, (self.line, self.column))


class Placed(Protocol):
    """Content of a file that can tell where in it something stands."""

    def plain(self) -> Any:
        """The content as ordinary dicts, lists and scalars."""

    def at(self, path: tuple[Any, ...]) -> Node:
        """The node at a path, or the nearest one above it that exists."""


def read_text(path: Path, *, limit: int = MAX_BYTES) -> str:
    """Read a text file whole.

    Raises
    ------
    InputError
        E101 unreadable, E102 too large, E103 not UTF-8 text, E109 empty.
    """
    return text_from_bytes(raw_content(path, limit=limit), shorten(path, 500), limit=limit)


def raw_content(path: Path, *, limit: int = MAX_BYTES) -> bytes:
    """The bytes of a file, at most one more than the limit.

    Raises
    ------
    InputError
        E101 unreadable.
    """
    name = shorten(path, 500)
    try:
        # a device tells no size and need not end; read at once, room for the limit would be made for every small file
        with open(path, "rb", buffering=0) as file:
            found, rest = [], limit + 1
            while part := file.read(min(rest, _AT_ONCE)):
                found.append(part)
                rest -= len(part)
            return b"".join(found)
    except (OSError, ValueError) as error:
        if os.path.isdir(path):
            raise InputError([Problem(Code.UNREADABLE, "this is a folder, not a file", name)]) from None
        raise InputError(
            [
                Problem(
                    Code.UNREADABLE,
                    "cannot be read",
                    name,
                    found=getattr(error, "strerror", None) or "not a path",
                    next_step="check the path and its permissions",
                )
            ]
        ) from error


def text_from_bytes(raw: bytes, name: str, *, limit: int = MAX_BYTES) -> str:
    """Decode the content of a file that was received whole, such as an upload.

    Raises
    ------
    InputError
        E102 too large, E103 not UTF-8 text, E109 empty.
    """
    if len(raw) > limit:
        raise InputError(
            [
                Problem(
                    Code.TOO_LARGE,
                    "the file is too large",
                    name,
                    expected=f"at most {limit} bytes",
                    next_step="a case is a few kilobytes: check the path",
                )
            ]
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            [
                Problem(
                    Code.NOT_TEXT,
                    "not UTF-8 text",
                    name,
                    found=f"byte {error.start} is 0x{raw[error.start]:02x}",
                    next_step="save the file as UTF-8 text",
                )
            ]
        ) from error
    if not text.strip():
        raise InputError([Problem(Code.EMPTY, "the file is empty", name)])
    return text


def read_tree(path: Path) -> Node:
    """Read a YAML or JSON file; see `parse`."""
    return parse(read_text(path), str(path))


def parse(text: str, name: str = "input") -> Node:
    """Turn YAML or JSON text into a tree with places.

    Raises
    ------
    InputError
        E103 to E109, all duplicate keys and bad scalars at once, a syntax error alone.
    """
    root, problems = parse_collecting(text, name)
    if problems:
        raise InputError(problems[:MAX_PROBLEMS])
    return root


def parse_collecting(text: str, name: str = "input") -> tuple[Node, list[Problem]]:
    """Like `parse`, but hand back duplicate keys and bad scalars, so that a caller can go on to find more.

    Raises
    ------
    InputError
        What leaves no tree to go on with.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > MAX_BYTES:
        raise InputError(
            [
                Problem(
                    Code.TOO_LARGE,
                    "the text is too large",
                    name,
                    found=f"{len(text)} characters",
                    expected=f"at most {MAX_BYTES}",
                )
            ]
        )
    if not text.strip():
        raise InputError([Problem(Code.EMPTY, "there is nothing in it", name)])
    stray = _NOT_PRINTABLE.search(text)
    if stray is not None:
        line, column = _place_of(text, stray.start())
        raise InputError(
            [
                Problem(
                    Code.NOT_TEXT,
                    "a character that may not stand in a text file",
                    name,
                    line,
                    column,
                    found=f"U+{ord(stray[0]):04X}",
                )
            ]
        )
    if text.lstrip()[:1] in "{[":
        # of most records nothing is to be replaced, and to look at each text of them takes a fifth of the reading
        if "\t" in text or not _ESCAPED_SIGNS.isdisjoint(text):
            text = _JSON_TEXT_OR_TAB.sub(
                lambda found: " " if found[0] == "\t" else found[0].translate(_ESCAPED), text
            )
        if "\\u" in text:
            text = _JSON_ESCAPE.sub(_whole_character, text)
    problems: list[Problem] = []
    try:
        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        builder = _Builder(name, problems)
        for event in yaml.parse(text, Loader=loader):
            builder.take(event)
    except yaml.YAMLError as error:
        raise InputError([_syntax_problem(error, text, name)]) from error
    if builder.root is None:
        raise InputError([Problem(Code.EMPTY, "there is nothing in it", name)])
    return builder.root, problems


def _whole_character(escape: re.Match[str]) -> str:
    if escape[1] is None:
        return escape[0]
    return bytes.fromhex(escape[1] + escape[2]).decode("utf-16-be")


def _place_of(text: str, position: int) -> tuple[int, int]:
    before = text[:position]
    return before.count("\n") + 1, position - (before.rfind("\n") + 1) + 1


def _syntax_problem(error: yaml.YAMLError, text: str, name: str) -> Problem:
    mark = getattr(error, "problem_mark", None)
    line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
    if line > text.count("\n") + 1:  # the end of the text is told as a line of its own
        line, column = _place_of(text, len(text))
    found = getattr(error, "problem", None) or str(error)
    return Problem(
        Code.SYNTAX,
        "not valid YAML or JSON",
        name,
        line,
        column,
        found=shorten(found, 100),
        next_step="check indentation, colons and quotes at this place",
    )


class _Builder:
    """Builds the tree from parser events, without recursion, so that depth cannot hurt."""

    __slots__ = ("_documents", "_name", "_problems", "_stack", "root")

    def __init__(self, name: str, problems: list[Problem]) -> None:
        self._name, self._problems = name, problems
        self._documents = 0
        self._stack: list[_Open] = []
        self.root: Node | None = None

    def take(self, event: Any) -> None:
        """Take the next event.

        Raises
        ------
        InputError
            For what leaves no tree to go on with.
        """
        kind = type(event)
        if kind is ScalarEvent:
            if event.anchor is not None or event.tag is not None:
                raise self._marked(event)
            top = self._stack[-1] if self._stack else None
            if top is not None and top.awaits_key:
                self._key(top, event)
            else:
                self._place(_scalar(event, self._name, self._problems), event)
        elif kind is MappingEndEvent or kind is SequenceEndEvent:
            self._stack.pop()
        elif kind is MappingStartEvent or kind is SequenceStartEvent:
            if event.anchor is not None or event.tag is not None:
                raise self._marked(event)
            mapping, mark = kind is MappingStartEvent, event.start_mark
            node = Node({} if mapping else [], mark.line + 1, mark.column + 1)
            self._place(node, event)
            self._stack.append(_Open(node, mapping))
            if len(self._stack) > MAX_DEPTH:
                expected = f"at most {MAX_DEPTH} levels"
                raise self._refuse(Code.TOO_DEEP, "nested too deeply", event, expected=expected)
        elif kind is AliasEvent:
            raise self._marked(event)
        elif kind is DocumentStartEvent:
            self._documents += 1
            if self._documents > 1:
                step = "keep one case or one rule file per file"
                raise self._refuse(Code.SYNTAX, "more than one document in the file", event, next_step=step)

    def _refuse(self, code: Code, message: str, event: Any, **more: str) -> InputError:
        mark = event.start_mark
        return InputError([Problem(code, message, self._name, mark.line + 1, mark.column + 1, **more)])

    def _marked(self, event: Any) -> InputError:
        if event.anchor is not None:
            message, step = "anchors and aliases (& and *) are not accepted", "write the value out in full"
            return self._refuse(Code.ALIAS, message, event, next_step=step)
        return self._refuse(Code.ALIAS, "tags (!) are not accepted", event, found=shorten(event.tag))

    def _place(self, node: Node, event: Any) -> None:
        if not self._stack:
            self.root = node
            return
        top = self._stack[-1]
        if not top.mapping:
            top.node.value.append(node)
        elif top.awaits_key:
            raise self._refuse(Code.SYNTAX, "a key must be plain text", event)
        else:
            if not top.duplicate:
                top.node.value[top.key] = node
            top.awaits_key = True

    def _key(self, top: "_Open", event: Any) -> None:
        node, key = top.node, event.value
        line, column = event.start_mark.line + 1, event.start_mark.column + 1
        top.key, top.awaits_key, top.duplicate = key, False, key in node.keys
        if not top.duplicate:
            node.keys[key] = (line, column)
            return
        self._problems.append(
            Problem(
                Code.DUPLICATE_KEY,
                "this key stands twice",
                self._name,
                line,
                column,
                field=shorten(key),
                found=f"also on line {node.keys[key][0]}",
                next_step="keep one of them",
            )
        )


class _Open:
    """A mapping or list that is not finished; a mapping waits for a key, then for that key's value."""

    __slots__ = ("awaits_key", "duplicate", "key", "mapping", "node")

    def __init__(self, node: Node, mapping: bool) -> None:
        self.node, self.mapping, self.awaits_key = node, mapping, mapping
        self.key, self.duplicate = "", False


def _scalar(event: Any, name: str, problems: list[Problem]) -> Node:
    text, line, column = event.value, event.start_mark.line + 1, event.start_mark.column + 1
    value: Any = text
    if event.style:  # quoted or block text is text
        if _SURROGATE.search(text):
            problems.append(Problem(Code.NOT_TEXT, "half a character", name, line, column))
            return Node(None, line, column, refused=True)
    elif text in ("", "~", "null"):
        value = None
    elif text in ("true", "false"):
        value = text == "true"
    elif _FLOAT.match(text) or _NOT_A_NUMBER.match(text):
        value = number(text)
        if value is None:
            problems.append(
                Problem(
                    Code.BAD_SCALAR,
                    "not a finite number of ordinary size",
                    name,
                    line,
                    column,
                    found=shorten(text, 30),
                    expected="a plain number",
                )
            )
            return Node(None, line, column, refused=True)
    return Node(value, line, column)


def number(text: str) -> int | float | None:
    """The number that is written; ``None`` where it would not survive as it is: infinite, lost to zero, a long integer."""
    if _INT.match(text):
        return int(text) if len(text) <= _LONGEST_INTEGER else None
    if not _FLOAT.match(text):
        return None
    found = float(text)
    lost = found == 0 and re.search("[1-9]", re.split("[eE]", text)[0]) is not None
    return found if math.isfinite(found) and not lost else None


def plain_text(text: str) -> bool:
    """Say whether unquoted text is read back as that text, not as a number, true, false or nothing."""
    special = text in ("", "~", "null", "true", "false")
    return not (special or _INT.match(text) or _FLOAT.match(text) or _NOT_A_NUMBER.match(text))


def not_printable(text: str) -> str:
    """The first character that may not stand in a text file, as U+XXXX, or an empty text."""
    stray = _NOT_PRINTABLE.search(text)
    return f"U+{ord(stray[0]):04X}" if stray else ""


def nearest(word: str, words: Iterator[str] | list[str] | tuple[str, ...]) -> str:
    """The closest allowed word, or an empty text."""
    from difflib import get_close_matches  # only where something is wrong, and a start needs it not

    close = get_close_matches(word, list(words), n=1, cutoff=0.6)
    return close[0] if close else ""


def closest(word: str, words: Iterable[str], otherwise: str) -> str:
    """What stands under "expected" for a word that is none of some: the closest one, or in words what is."""
    found = nearest(word, list(words))
    return f"closest is {found}" if found else otherwise
