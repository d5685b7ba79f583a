"""Every note that the readers write is known as the program's own, and none is listed that they do not write.

The notes are found in the code: whatever is given or set as a ``note`` in `candidacy.reading`, followed through names,
parameters and functions.
"""

import ast
import importlib
import re
from collections.abc import Iterator
from functools import cache
from itertools import product
from pathlib import Path

import candidacy.reading
from candidacy.case.reader_notes import OWN, is_own
from candidacy.reading.standing import ABOUT

_ROOT = Path(candidacy.reading.__file__).parent
# What may stand in a place that is filled in: a day, a length of time, a disc, quotations.
_FILLINGS = ("2026-01-05", "3 hours", "L4-L5", 'findings "mild"', "")
_GAP = "\0"
# Notes that a mark of the report gives: what a mark says is not always a note.
_OF_MARKS = {ABOUT["preliminary"], ABOUT["amended"], "the message sends it as preliminary"}


class _Module:
    """A module of the readers, with what its names mean and which function each part of it stands in."""

    def __init__(self, path: Path) -> None:
        name = ".".join(("candidacy", "reading", *path.relative_to(_ROOT).with_suffix("").parts))
        self.name = name.removesuffix(".__init__")
        self.names = vars(importlib.import_module(self.name))
        self.tree = ast.parse(path.read_text("utf-8"))
        self.within: dict[ast.AST, ast.FunctionDef | None] = {}
        self._enter(self.tree, None)
        self.notable = [n for n in self.within if isinstance(n, ast.Call | ast.Assign | ast.Dict | ast.Tuple)]

    def _enter(self, node: ast.AST, function: ast.FunctionDef | None) -> None:
        self.within[node] = function
        for child in ast.iter_child_nodes(node):
            self._enter(child, node if isinstance(node, ast.FunctionDef) else function)


@cache
def _written() -> frozenset[str]:
    """What the readers may write into a note; a sign stands for each place that is filled in."""
    modules = [_Module(path) for path in sorted(_ROOT.rglob("*.py"))]
    functions = {
        (m.name, n.name): (m, n) for m in modules for n in m.within if isinstance(n, ast.FunctionDef)
    }
    found: set[str] = set(_OF_MARKS)
    seen: set[ast.AST] = set()
    places = _places_of_notes(modules)

    def take(module: _Module, node: ast.AST) -> None:
        if node in seen:
            return
        seen.add(node)
        match node:
            case ast.Constant(value=str(text)):
                if " " in text.strip("; "):
                    found.add(text.removeprefix("; "))
            case ast.JoinedStr():
                found.add("".join(_piece(module, part) for part in node.values))
            case ast.Name(id=name):
                meant = module.names.get(name)
                if isinstance(meant, str) and " " in meant:
                    found.add(meant)
                _follow(module, node, name)
            case ast.Call(func=ast.Name(id=name)) if (key := _defined_at(module, name)) in functions:
                other, function = functions[key]
                for each in ast.walk(function):
                    if isinstance(each, ast.Return) and each.value is not None:
                        take(other, each.value)
            case ast.Attribute() | ast.Compare():
                return
            case ast.IfExp(body=first, orelse=second):
                take(module, first)
                take(module, second)
            case ast.comprehension(iter=several):
                if isinstance(several, ast.Tuple):
                    take(module, several)
            case _:
                for child in ast.iter_child_nodes(node):
                    take(module, child)

    def _follow(module: _Module, node: ast.AST, name: str) -> None:
        function = module.within[node]
        if function is None:
            return
        names = [a.arg for a in function.args.args + function.args.kwonlyargs]
        if name in names:
            places.setdefault(function.name, set()).add((names.index(name), name))
        for each in ast.walk(function):
            match each:
                case ast.Assign(targets=[target], value=value) if _binds(target, name):
                    take(module, value)
                case ast.For(target=target, iter=ast.Tuple() as value) if _binds(target, name):
                    take(module, value)

    before = -1
    while before != len(seen):
        before = len(seen)
        for module in modules:
            for node in module.notable:
                for value in _given(module, node, places):
                    take(module, value)
    return frozenset(found)


def _places_of_notes(modules: list[_Module]) -> dict[str, set[tuple[int, str]]]:
    """By function or record, where a note is given to it: the place, and the name."""
    found: dict[str, set[tuple[int, str]]] = {}
    for module in modules:
        for node in module.within:
            if isinstance(node, ast.FunctionDef):
                names = [a.arg for a in node.args.args + node.args.kwonlyargs if a.arg != "self"]
            elif isinstance(node, ast.ClassDef):
                names = [
                    a.target.id
                    for a in node.body
                    if isinstance(a, ast.AnnAssign) and isinstance(a.target, ast.Name)
                ]
            else:
                continue
            if "note" in names:
                found.setdefault(node.name, set()).add((names.index("note"), "note"))
    return found


def _given(module: _Module, node: ast.AST, places: dict[str, set[tuple[int, str]]]) -> Iterator[ast.AST]:
    match node:
        case ast.Call(func=func):
            name = (
                func.attr
                if isinstance(func, ast.Attribute)
                else func.id
                if isinstance(func, ast.Name)
                else ""
            )
            for place, keyword in places.get(name, set()) | {(999, "note")}:
                yield from node.args[place : place + 1]
                yield from (k.value for k in node.keywords if k.arg == keyword)
        case ast.Assign(targets=[ast.Subscript(slice=ast.Constant(value="note"))], value=value):
            yield value
        case ast.Dict(keys=keys, values=values):
            yield from (
                v
                for k, v in zip(keys, values, strict=True)
                if isinstance(k, ast.Constant) and k.value == "note"
            )
        case ast.Tuple(elts=[_, _, ast.Dict() | ast.Call() | ast.Name(), last]) if (
            ".letters." in module.name
        ):  # what a letter says: list, element, form, note
            yield last


def _defined_at(module: _Module, name: str) -> tuple[str, str]:
    meant = module.names.get(name)
    return getattr(meant, "__module__", ""), getattr(meant, "__name__", "")


def _binds(target: ast.AST, name: str) -> bool:
    return any(isinstance(n, ast.Name) and n.id == name for n in ast.walk(target))


def _piece(module: _Module, part: ast.expr) -> str:
    match part:
        case ast.Constant(value=text):
            return str(text)
        case ast.FormattedValue(value=ast.Name(id=name)) if isinstance(module.names.get(name), str):
            return str(module.names[name])
    return _GAP


def _filled(text: str) -> Iterator[str]:
    first, *rest = text.split(_GAP)
    for fillings in product(_FILLINGS, repeat=len(rest)):
        yield first + "".join(filling + piece for filling, piece in zip(fillings, rest, strict=True))


def test_every_note_of_a_reader_is_known_as_its_own() -> None:
    unknown = [text for text in _written() if not any(map(is_own, _filled(text)))]
    assert not unknown, "each would be shown as a remark that a person made"


def test_no_note_is_listed_that_no_reader_writes() -> None:
    texts = [filled for text in _written() for filled in _filled(text)]
    unwritten = [form for form in OWN if not any(re.fullmatch(form, text) for text in texts)]
    assert not unwritten, "a person who writes it would not be shown"
