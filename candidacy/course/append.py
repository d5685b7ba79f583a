"""An entry set into the text of a course record: every other sign of the file, comments among them, stays as it is."""

import json
from typing import Any

import yaml

from candidacy.case.load import yaml_dumper
from candidacy.course.load import parse_course
from candidacy.course.record import CourseRecord
from candidacy.foundation.errors import Code, CourseError, Problem

_MASKED = str.maketrans(dict.fromkeys("\t\x85\u2028\u2029", " "))


def with_entry(text: str, new: CourseRecord, kind: str, at: int, name: str = "course") -> str:
    """The text of a record with one more entry.

    Parameters
    ----------
    text
        The file as it is.
    new
        The record with the entry, which is to be read from what is given back.
    kind, at
        The list it stands in, such as ``visits``, and its place there, counted from 0.

    Raises
    ------
    CourseError
        E104 if the text cannot be changed in place; what is given back reads as ``new`` and as nothing else.
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    body = text.removeprefix("\ufeff")
    entries: Any = new.plain()[kind]
    try:
        made = mark + _set_in(body, kind, entries[at], at)
        same = parse_course(made, name).record == new
    except (yaml.YAMLError, CourseError, LookupError, AttributeError):
        same = False
    if not same:
        raise CourseError(
            [Problem(Code.SYNTAX, "this record cannot be changed without changing its layout", name, field=kind,
                     next_step="write it one entry a block, as the shipped examples are, then try again")]
        )  # fmt: skip
    return made


def _set_in(text: str, kind: str, entry: dict[str, Any], at: int) -> str:
    json_text = text.lstrip()[:1] == "{"
    newline = "\r\n" if "\r\n" in text else "\n"
    root: Any = yaml.compose(text.translate(_MASKED) if json_text else text, Loader=yaml.SafeLoader)
    listed = next((value for key, value in root.value if key.value == kind), None)
    if root.flow_style:
        word = json.dumps if json_text else _flow
        if listed is None:
            return _into_flow(text, root, f"{word(kind)}: [{word(entry)}]", len(root.value))
        return _into_flow(text, listed, word(entry), at)
    if listed is None or not listed.value:
        block = f"{kind}:{newline}" + _block([entry], "  ", newline)
        if listed is None:
            return text + ("" if text.endswith("\n") else newline) + block
        start, end = _key(root, kind).start_mark.index, listed.end_mark.index
        return text[:start] + block.rstrip() + text[end:]
    if listed.flow_style:
        return _into_flow(text, listed, _flow(entry), at)
    lead = " " * int(listed.start_mark.column)
    place = _line_end(text, _end(text, listed.value[at - 1])) if at else _before(text, listed.value[0])
    words = _block([entry], lead, newline)
    if at:
        return text[:place] + newline + words.rstrip("\r\n") + text[place:]
    return text[:place] + words + text[place:]


def _key(root: Any, kind: str) -> Any:
    return next(key for key, _ in root.value if key.value == kind)


def _into_flow(text: str, node: Any, words: str, at: int) -> str:
    if not node.value:
        start = node.start_mark.index + 1
        return text[:start] + words + text[start:]
    items = [item[1] if isinstance(item, tuple) else item for item in node.value]
    if at:
        end = _end(text, items[at - 1])
        return f"{text[:end]}, {words}{text[end:]}"
    start = items[0].start_mark.index
    return f"{text[:start]}{words}, {text[start:]}"


def _end(text: str, node: Any) -> int:
    """Where the last sign of a value stands; the parser ends a block only where the next thing begins."""
    while isinstance(node, yaml.CollectionNode) and not node.flow_style:
        last = node.value[-1]
        node = last[1] if isinstance(last, tuple) else last
    end = int(node.end_mark.index)
    return len(text[:end].rstrip()) if getattr(node, "style", None) in ("|", ">") else end


def _line_end(text: str, at: int) -> int:
    end = text.find("\n", at)
    end = len(text) if end < 0 else end
    return end - 1 if text[end - 1 : end] == "\r" else end


def _before(text: str, first: Any) -> int:
    """Where the line of the first entry begins, or the comment above it."""
    place = text.rfind("\n", 0, first.start_mark.index) + 1
    while place:
        above = text.rfind("\n", 0, place - 1) + 1
        if not text[above:place].lstrip().startswith("#"):
            break
        place = above
    return place


def _block(entries: list[Any], lead: str, newline: str) -> str:
    text = yaml.dump(entries, Dumper=yaml_dumper(), sort_keys=False, allow_unicode=True, width=100)
    return "".join(lead + line + newline for line in text.splitlines())


def _flow(value: Any) -> str:
    text = yaml.dump([value], Dumper=yaml_dumper(), sort_keys=False, allow_unicode=True, width=float("inf"),
                     default_flow_style=True)  # fmt: skip
    return text.strip()[1:-1]
