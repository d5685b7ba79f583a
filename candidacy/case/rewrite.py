"""A changed record put into the text it was read from: only what differs is written, every other sign stays.

Comments, order, quoting, indentation, line ends and JSON or YAML stay as they are, because the text is not written
anew: the places of its values are found by the parser, and new text is set in between.
"""

import json
import re
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any

import yaml

from candidacy.case.load import parse_case, yaml_dumper
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.foundation.errors import CaseError, Code, Problem

_STEP = "  "
# What may be left without an answer where it no longer holds: that a list, which became longer, is complete.
_MAY_STAND_OPEN = ("complete",)
# Signs that end a line in YAML but not in JSON, where they may stand in a text; and tabs, which YAML refuses.
_MASKED = str.maketrans(dict.fromkeys("\t\x85\u2028\u2029", " "))
_REST = re.compile(r"[ \t]*(,?)[ \t]*(#[^\r\n]*)?(?=\r?\n|\Z)")
_COMMENT = re.compile(r"#[^\r\n]*")
_Pairs = list[tuple[str, Any]]


def rewritten(text: str, old: CaseRecord, new: CaseRecord, name: str = "case") -> str:
    """The text of a record with the changes that make of it another record.

    Parameters
    ----------
    text
        The file as it is, with its byte order mark if it has one.
    old
        The record that was read from it.
    new
        The record that is to be read from it.

    Raises
    ------
    CaseError
        E104 if the text cannot be changed in place; what is given back reads as ``new`` and as nothing else.
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    body = text.removeprefix("\ufeff")
    try:
        made = mark + _Rewriting(body).changed(old.plain(), new.plain())
        same = parse_case(made, name).record.plain() == new.plain()
    except (yaml.YAMLError, CaseError, LookupError):
        same = False
    if not same:
        raise CaseError(
            [
                Problem(
                    Code.SYNTAX,
                    "this record cannot be changed without changing its layout",
                    name,
                    next_step="write it one fact a line (candidacy case new shows how), then try again",
                )
            ]
        )
    return made


@dataclass
class _Rewriting:
    """The text, how it is written, and what is to be set where: (start, end, new text)."""

    text: str
    edits: list[tuple[int, int, str]] = field(default_factory=list)
    # where lines begin that go as a whole, with what is remarked on them
    lines: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.json = self.text.lstrip()[:1] in ("{", "[")
        # whether a space follows commas and colons
        self.room = "" if self.json and re.search(r'":\S', self.text) else " "
        self.newline = "\r\n" if "\r\n" in self.text else "\n"

    def changed(self, old: dict[str, Any], new: dict[str, Any]) -> str:
        root = yaml.compose(self.text.translate(_MASKED) if self.json else self.text, Loader=yaml.SafeLoader)
        self._mapping(root, old, new)
        made, at = "", 0
        for start, end, words in sorted(self.edits, key=lambda edit: edit[:2]):
            before = max(at, start)
            made, at = made + self.text[at:start] + words, max(at, end)
            if start not in self.lines and "#" in self.text[before:end]:
                made += self._remarks(before, end)
        return made + self.text[at:]

    def _remarks(self, start: int, end: int) -> str:
        """The comments of a piece of text that is not kept, to be set behind what takes its place."""
        found = "".join(f"  {self.text[a:b]}" for a, b in self._comments if start <= a and b <= end)
        alone = not found or _REST.match(self.text, end)
        return found if alone else found + self.newline + self._indent(end) + _STEP

    @cached_property
    def _comments(self) -> list[tuple[int, int]]:
        """Where comments stand: between the tokens of the text."""
        if self.json:
            return []
        tokens = list(yaml.scan(self.text, Loader=yaml.SafeLoader))
        gaps = [(a.end_mark.index, b.start_mark.index) for a, b in pairwise(tokens)]
        return [(found.start(), found.end()) for a, b in gaps for found in _COMMENT.finditer(self.text, a, b)]

    # --- where

    def _mapping(self, node: Any, old: dict[str, Any], new: dict[str, Any]) -> None:
        """Change a mapping: pairs that differ in their place, new ones after the pair that they follow."""
        written = {key.value: (key, value) for key, value in node.value}
        gone = [key for key in old if key not in new and key in written]
        added = [key for key in new if key not in old and key not in written]
        swapped = dict(zip(added, gone, strict=False))  # one form of a fact for another
        for there, key in swapped.items():
            start, stop = written[key][0].start_mark.index, self._end(written[key][1])
            self.edits.append((start, stop, self._pair(there, new[there], node, self._lead(node))))
            written[there] = written[key]
        for key in gone[len(swapped) :]:
            if key in _MAY_STAND_OPEN:
                value = written[key][1]
                self.edits.append((value.start_mark.index, self._end(value), "null"))
            elif key in FactEntry.model_fields:
                self._take_out(node, key)  # what was said of an earlier value of the fact
            else:
                raise LookupError(key)
        for key in new:
            if key in written and key not in swapped and old.get(key) != new[key]:
                self._value(written[key][1], old.get(key), new[key])
        self._add(node, written, [(key, new[key]) for key in added if key not in swapped], list(new))

    def _take_out(self, node: Any, key: str) -> None:
        """Take a pair out: the lines it has for itself, or its words with the comma before them."""
        keys = [each.value for each, _ in node.value]
        place = keys.index(key)
        name, value = node.value[place]
        start, end = name.start_mark.index, self._end(value)
        line = self.text.rfind("\n", 0, start)
        rest = _REST.match(self.text, end)
        if (
            not self.json
            and len(keys) > 1
            and rest is not None
            and line >= 0
            and not self.text[line + 1 : start].strip()
        ):
            line -= self.text[line - 1 : line] == "\r"
            self.lines.add(line)
            self.edits.append((line, rest.end(), ""))
        elif not node.flow_style:
            raise LookupError(key)  # it shares its line with what leads the mapping
        elif place:
            self.edits.append((self._end(node.value[place - 1][1]), end, ""))
        else:
            self.edits.append((start, node.value[1][0].start_mark.index if len(keys) > 1 else end, ""))

    def _value(self, node: Any, old: Any, new: Any) -> None:
        if isinstance(node, yaml.MappingNode) and isinstance(old or {}, dict) and isinstance(new, dict):
            self._mapping(node, old or {}, new)
        elif isinstance(old, list) and isinstance(new, list) and 0 < len(old) == len(node.value) <= len(new):
            there = len(old)
            for item, was, will in zip(node.value, old, new[:there], strict=True):
                if was != will:
                    self._value(item, was, will)
            if new[there:]:
                self._append(node, new[there:])
        elif isinstance(node, yaml.SequenceNode) and _of_mappings(new) and self._heads_block(node):
            indent = self._indent(node.start_mark.index) + _STEP
            self._open(node, [f"{indent}- {self._item(item, indent)}" for item in new])
        else:
            self.edits.append((node.start_mark.index, self._end(node), self._one_line(new)))

    def _add(self, node: Any, written: dict[str, Any], pairs: _Pairs, order: list[str]) -> None:
        """Set new pairs after the one they follow in the record, else at the end."""
        if not pairs:
            return
        if not node.value:
            self._fill(node, pairs)
            return
        after: dict[int, _Pairs] = {}
        ends = {key: self._end(value) for key, (_, value) in written.items()}
        last = max(ends.values())
        for key, value in pairs:
            before = [ends[other] for other in order[: order.index(key)] if other in ends]
            after.setdefault(before[-1] if before else last, []).append((key, value))
        for end, some in after.items():
            (self._into_flow if node.flow_style else self._into_block)(node, end, some)

    def _append(self, node: Any, items: list[Any]) -> None:
        """Set further items of a list behind its last one, written as that one is."""
        last = node.value[-1]
        if node.flow_style:
            mark = last.start_mark
            before = self.text[mark.index - mark.column : mark.index]
            many = bool(mark.line != node.start_mark.line)
            lead = before if not before.strip() else " " * int(mark.column)
            texts = [
                self._json_text(item, node, [last], many, lead) if self.json else _yaml(item)
                for item in items
            ]
            self._behind(self._end(last), texts, many, lead)
            return
        lead, line = " " * int(node.start_mark.column), self._line_end(self._end(last))
        one_line = isinstance(last, yaml.CollectionNode) and last.flow_style
        texts = [_yaml(item) if one_line else self._item(item, lead) for item in items]
        self.edits.append((line, line, "".join(f"{self.newline}{lead}- {text}" for text in texts)))

    def _item(self, item: Any, lead: str) -> str:
        """An item of a list in block form: the facts of an entry on a line each."""
        if not isinstance(item, dict) or not item:
            return _yaml(item)
        deeper = lead + _STEP
        return (self.newline + deeper).join(self._pair(k, v, None, deeper) for k, v in item.items())

    def _into_block(self, node: Any, end: int, pairs: _Pairs) -> None:
        line = self._line_end(end)
        words = "".join(
            self.newline + self._lead(node) + self._pair(*pair, node, self._lead(node)) for pair in pairs
        )
        self.edits.append((line, line, words))

    def _into_flow(self, node: Any, end: int, pairs: _Pairs) -> None:
        """Between brackets; on lines of their own where the others stand so."""
        lead = self._lead(node)
        texts = [self._pair(*pair, node, lead) for pair in pairs]
        self._behind(end, texts, self._many_lines(node), lead)

    def _behind(self, end: int, texts: list[str], many: bool, lead: str) -> None:
        """Set texts behind one that stands between brackets, and behind a comment of its line."""
        between = self.newline + lead if many else self.room
        rest = _REST.match(self.text, end)
        if many and rest is not None and rest[2]:
            comma = rest[1]
            if not comma:
                self.edits.append((end, end, ","))
            self.edits.append(
                (rest.end(), rest.end(), "".join(between + t + "," for t in texts)[: None if comma else -1])
            )
        else:
            self.edits.append((end, end, "".join("," + between + t for t in texts)))

    def _fill(self, node: Any, pairs: _Pairs) -> None:
        """Put pairs into an empty mapping; one that stands in block form becomes a block."""
        if not self._heads_block(node):
            texts = [self._pair(*pair, node, "") for pair in pairs]
            start, end = node.start_mark.index, node.end_mark.index
            self.edits.append((start, end, "{" + f",{self.room}".join(texts) + "}"))
            return
        indent = self._indent(node.start_mark.index) + _STEP
        self._open(node, [indent + self._pair(*pair, None, indent) for pair in pairs])

    def _heads_block(self, node: Any) -> bool:
        """Whether an empty value stands alone behind its key, so that a block may stand below."""
        start = node.start_mark.index
        lead = self.text[self.text.rfind("\n", 0, start) + 1 : start]
        return not (self.json or node.value) and re.fullmatch(r" *[^\s#{\[,]+: *", lead) is not None

    def _open(self, node: Any, lines: list[str]) -> None:
        """Set lines below the key of an empty value, in its place."""
        start, end = node.start_mark.index, node.end_mark.index
        line = self.text.rfind("\n", 0, start) + 1
        self.edits.append((line + len(self.text[line:start].rstrip()), end, ""))
        stop = self._line_end(end)
        self.edits.append((stop, stop, "".join(self.newline + each for each in lines)))

    def _end(self, node: Any) -> int:
        """Where the last sign of a value stands; the parser ends a block only where the next thing begins."""
        while isinstance(node, yaml.CollectionNode) and not node.flow_style:
            last = node.value[-1]
            node = last[1] if isinstance(last, tuple) else last
        end = int(node.end_mark.index)
        return len(self.text[:end].rstrip()) if getattr(node, "style", None) in ("|", ">") else end

    def _line_end(self, at: int) -> int:
        end = self.text.find("\n", at)
        end = len(self.text) if end < 0 else end
        return end - 1 if self.text[end - 1 : end] == "\r" else end

    def _lead(self, node: Any) -> str:
        """What stands before the keys of a mapping, where each has a line of its own."""
        if not node.value:
            return ""
        mark = node.value[0][0].start_mark
        before = self.text[mark.index - mark.column : mark.index]
        return before if not before.strip() else " " * int(mark.column)

    def _indent(self, at: int) -> str:
        """The blanks with which the line of a place begins."""
        line = self.text[self.text.rfind("\n", 0, at) + 1 : at]
        return line[: len(line) - len(line.lstrip())]

    def _many_lines(self, node: Any) -> bool:
        return bool(node.value[-1][0].start_mark.line != node.start_mark.line)

    # --- what

    def _pair(self, key: str, value: Any, node: Any, lead: str) -> str:
        """A key and its value as they are written in the file: facts on one line, unless those beside it are not."""
        if self.json:
            return self._json(key, value, node, lead)
        in_flow = node is not None and node.flow_style
        nested = isinstance(value, dict) and any(
            isinstance(part, dict) or _of_mappings(part) for part in value.values()
        )
        beside = [v for _, v in node.value if isinstance(v, yaml.MappingNode)] if node is not None else []
        opened = isinstance(value, dict) and bool(beside) and not any(v.flow_style for v in beside)
        deeper = lead + _STEP
        if not in_flow and _of_mappings(value):
            items = [self._item(item, deeper) for item in value]
            return f"{_yaml(key)}:" + "".join(f"{self.newline}{deeper}- {item}" for item in items)
        if in_flow or not value or not isinstance(value, dict) or not (nested or opened):
            return f"{_yaml(key)}: {_yaml(value)}"
        lines = [self._pair(k, v, None, deeper) for k, v in value.items()]
        return f"{_yaml(key)}:" + "".join(self.newline + deeper + line for line in lines)

    def _json(self, key: str, value: Any, node: Any, lead: str) -> str:
        many = bool(node.value) and self._many_lines(node)
        text = self._json_text(value, node, [v for _, v in node.value], many, lead)
        return f"{json.dumps(key, ensure_ascii=self.text.isascii())}:{self.room}{text}"

    def _json_text(self, value: Any, node: Any, beside: list[Any], many: bool, lead: str) -> str:
        """A value as the file writes those beside it: on one line or on several, with its indentation."""
        opened = any(isinstance(v, yaml.MappingNode) and v.value and self._many_lines(v) for v in beside)
        step = lead.removeprefix(self._indent(node.start_mark.index)) if many and opened else None
        between = "," if step else f",{self.room}"
        words = json.dumps(
            value, ensure_ascii=self.text.isascii(), indent=step, separators=(between, f":{self.room}")
        )
        return words.replace("\n", self.newline + lead)

    def _one_line(self, value: Any) -> str:
        if not self.json:
            return _yaml(value)
        separators = f",{self.room}", f":{self.room}"
        return json.dumps(value, ensure_ascii=self.text.isascii(), separators=separators)


def _of_mappings(value: Any) -> bool:
    """Whether it is a list of mappings, such as the entries of a list."""
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) and item for item in value)


def _yaml(value: Any) -> str:
    """A value on one line, as it may stand in block and in flow form."""
    text = yaml.dump([value], Dumper=yaml_dumper(), sort_keys=False, allow_unicode=True, width=float("inf"),
                     default_flow_style=True)  # fmt: skip
    return text.strip()[1:-1]
