"""Read YAML and JSON into a tree that remembers lines, refusing everything that could mislead.

Refused, each with its place: aliases and anchors (they can explode), tags, duplicate keys, NaN and
infinities, more than one document, deep nesting, text that is not UTF-8, large files. Numbers, true
and false are only what they look like; dates stay text; nothing else is guessed.
"""

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import BaseModel, ValidationError

from candidacy.errors import Code, InputError, Problem, shorten

MAX_BYTES = 4_000_000
MAX_DEPTH = 40
MAX_PROBLEMS = 200

_INT = re.compile(r"[-+]?(0|[1-9][0-9]*)\Z")
_FLOAT = re.compile(r"[-+]?((0|[1-9][0-9]*)(\.[0-9]*)?|\.[0-9]+)([eE][-+]?[0-9]+)?\Z")
_NOT_A_NUMBER = re.compile(r"[-+]?\.?(inf|infinity|nan)\Z", re.IGNORECASE)

_Model = TypeVar("_Model", bound=BaseModel)


@dataclass(slots=True)
class Node:
    """One value of a file with the place where it stands (both counted from 1)."""

    value: Any  # dict[str, Node], list[Node] or a scalar
    line: int
    column: int
    keys: dict[str, tuple[int, int]] = field(default_factory=dict)

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


def read_text(path: Path, *, limit: int = MAX_BYTES) -> str:
    """Read a text file whole.

    Raises
    ------
    InputError
        E101 unreadable, E102 too large, E103 not UTF-8 text, E109 empty.
    """
    name = str(path)
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError([Problem(Code.UNREADABLE, "this is a folder, not a file", name)])
        if size > limit:
            raise InputError(
                [
                    Problem(
                        Code.TOO_LARGE,
                        "the file is too large",
                        name,
                        found=f"{size} bytes",
                        expected=f"at most {limit} bytes",
                        next_step="a case is a few kilobytes: check the path",
                    )
                ]
            )
        raw = path.read_bytes()
    except OSError as error:
        raise InputError(
            [
                Problem(
                    Code.UNREADABLE,
                    "cannot be read",
                    name,
                    found=error.strerror or type(error).__name__,
                    next_step="check the path and its permissions",
                )
            ]
        ) from error
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
    is_json = text.lstrip()[:1] in "{["
    if is_json:
        text = text.replace("\t", " ")  # JSON allows tabs between tokens only; YAML would refuse them
    problems: list[Problem] = []
    try:
        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        root = _build(yaml.parse(text, Loader=loader), name, problems)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        raise InputError(
            [
                Problem(
                    Code.SYNTAX,
                    "not valid YAML or JSON",
                    name,
                    mark.line + 1 if mark else 0,
                    mark.column + 1 if mark else 0,
                    found=shorten(getattr(error, "problem", None) or str(error), 100),
                    next_step="check indentation, colons and quotes at this place",
                )
            ]
        ) from error
    if problems:
        raise InputError(problems[:MAX_PROBLEMS])
    return root


def _build(events: Iterator[Any], name: str, problems: list[Problem]) -> Node:
    """Build the tree from parser events without recursion, so that depth cannot hurt."""
    root: Node | None = None
    stack: list[tuple[Node, str | None, bool]] = []  # container, waiting key, key was a duplicate
    documents = 0

    def refuse(code: Code, message: str, mark: Any, **more: str) -> InputError:
        return InputError([Problem(code, message, name, mark.line + 1, mark.column + 1, **more)])

    def place(node: Node, event: Any) -> None:
        nonlocal root
        if not stack:
            root = node
            return
        container, key, duplicate = stack[-1]
        if isinstance(container.value, list):
            container.value.append(node)
        elif key is None:
            raise refuse(Code.SYNTAX, "a key must be plain text", event.start_mark)
        else:
            if not duplicate:
                container.value[key] = node
            stack[-1] = (container, None, False)

    for event in events:
        kind = type(event).__name__
        if kind == "DocumentStartEvent":
            documents += 1
            if documents > 1:
                raise refuse(
                    Code.SYNTAX,
                    "more than one document in the file",
                    event.start_mark,
                    next_step="keep one case or one rule file per file",
                )
        elif kind == "AliasEvent" or getattr(event, "anchor", None):
            raise refuse(
                Code.ALIAS,
                "anchors and aliases (& and *) are not accepted",
                event.start_mark,
                next_step="write the value out in full",
            )
        elif getattr(event, "tag", None) and not str(event.tag).startswith("tag:yaml.org,2002:str"):
            raise refuse(Code.ALIAS, "tags (!) are not accepted", event.start_mark, found=shorten(event.tag))
        elif kind in ("MappingStartEvent", "SequenceStartEvent"):
            mark = event.start_mark
            node = Node({} if kind == "MappingStartEvent" else [], mark.line + 1, mark.column + 1)
            place(node, event)
            stack.append((node, None, False))
            if len(stack) > MAX_DEPTH:
                raise refuse(Code.TOO_DEEP, "nested too deeply", mark, expected=f"at most {MAX_DEPTH} levels")
        elif kind in ("MappingEndEvent", "SequenceEndEvent"):
            stack.pop()
        elif kind == "ScalarEvent":
            mark = event.start_mark
            if stack and isinstance(stack[-1][0].value, dict) and stack[-1][1] is None:
                container, key = stack[-1][0], event.value
                duplicate = key in container.value
                if duplicate:
                    problems.append(
                        Problem(
                            Code.DUPLICATE_KEY,
                            "this key stands twice",
                            name,
                            mark.line + 1,
                            mark.column + 1,
                            field=shorten(key),
                            found=f"also on line {container.keys[key][0]}",
                            next_step="keep one of them",
                        )
                    )
                else:
                    container.keys[key] = (mark.line + 1, mark.column + 1)
                stack[-1] = (container, key, duplicate)
            else:
                place(Node(_scalar(event, name, problems), mark.line + 1, mark.column + 1), event)
    if root is None:
        raise InputError([Problem(Code.EMPTY, "there is nothing in it", name)])
    return root


def _scalar(event: Any, name: str, problems: list[Problem]) -> Any:
    text = event.value
    if event.style:  # quoted or block text is text
        if any("\ud800" <= ch <= "\udfff" for ch in text):
            text = text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
        return text
    if text in ("", "~", "null"):
        return None
    if text in ("true", "false"):
        return text == "true"
    if _INT.match(text) and len(text) < 16:
        return int(text)
    if _FLOAT.match(text) or _NOT_A_NUMBER.match(text):
        number = float(text.replace(".inf", "inf").replace(".nan", "nan").replace(".NaN", "nan"))
        if not math.isfinite(number) or _INT.match(text):
            mark = event.start_mark
            problems.append(
                Problem(
                    Code.BAD_SCALAR,
                    "not a finite number of ordinary size",
                    name,
                    mark.line + 1,
                    mark.column + 1,
                    found=shorten(text, 30),
                    expected="a plain number",
                )
            )
            return None
        return number
    return text


def plain_text(text: str) -> bool:
    """Say whether unquoted text is read back as that text, not as a number, true, false or nothing."""
    special = text in ("", "~", "null", "true", "false")
    return not (special or _INT.match(text) or _FLOAT.match(text) or _NOT_A_NUMBER.match(text))


def nearest(word: str, words: Iterator[str] | list[str] | tuple[str, ...]) -> str:
    """The closest allowed word, or an empty text."""
    close = get_close_matches(word, list(words), n=1, cutoff=0.6)
    return close[0] if close else ""


def validate(
    model: type[_Model], tree: Node, name: str, known_keys: Callable[[tuple[Any, ...]], list[str]]
) -> _Model:
    """Check a tree against a strict pydantic model and translate its findings to places in the file.

    Parameters
    ----------
    known_keys
        Given the path of a mapping, the keys it may have, for "did you mean".

    Raises
    ------
    InputError
        With one problem per finding (E201 unknown key, E202 missing key, E203 wrong type or shape).
    """
    try:
        return model.model_validate(tree.plain())
    except ValidationError as error:
        raise InputError(list(translate(error, tree, name, known_keys))[:MAX_PROBLEMS]) from None


def translate(
    error: ValidationError, tree: Node, name: str, known_keys: Callable[[tuple[Any, ...]], list[str]]
) -> Iterator[Problem]:
    """Turn pydantic's findings into ours, in line order."""
    found: list[Problem] = []
    for item in error.errors(include_url=False, include_context=False):
        path = tuple(item["loc"])
        node = tree.at(path)
        label = ".".join(str(step) for step in path)
        line, column = node.line, node.column
        if item["type"] == "extra_forbidden":
            parent, key = tree.at(path[:-1]), str(path[-1])
            line, column = parent.key_place(key)
            allowed = known_keys(path[:-1])
            close = nearest(key, allowed)
            found.append(
                Problem(
                    Code.UNKNOWN_KEY,
                    "unknown key",
                    name,
                    line,
                    column,
                    field=label,
                    found=shorten(key),
                    expected=("closest is " + close) if close else ", ".join(allowed),
                )
            )
        elif item["type"] == "missing":
            found.append(
                Problem(Code.MISSING_KEY, "a required key is missing", name, line, column, field=label)
            )
        else:
            found.append(
                Problem(
                    Code.WRONG_TYPE,
                    "not of the expected form",
                    name,
                    line,
                    column,
                    field=label,
                    found=shorten(item["input"]),
                    expected=item["msg"],
                )
            )
    yield from sorted(dict.fromkeys(found), key=lambda p: (p.line, p.column))
