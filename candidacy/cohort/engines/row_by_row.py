"""Which queries may be run slice by slice: those that make each row of their answer from one row of the relation they lead with.

The query is read by the engine's own parser. Whatever is not known to go row by row does not: it is then run as a whole, which
is slower and never wrong.
"""

import json
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from msgspec import Struct

# A join of these keeps the rows of its left side apart, whatever stands on its right, which every slice reads whole.
_JOINS = ("INNER", "LEFT", "SEMI", "ANTI")
_REFERENCES = ("REGULAR", "CROSS")
_BARE: dict[str, Any] = {
    "modifiers": [], "group_expressions": [], "group_sets": [], "having": None, "sample": None, "qualify": None,
}  # fmt: skip


class Shape(Struct, frozen=True):
    """What a query reads.

    Attributes
    ----------
    lead
        The relation whose rows are read one by one; empty where the query looks at several rows at once.
    reads
        How often each relation is named.
    """

    lead: str
    reads: Mapping[str, int]

    @classmethod
    def of(cls, parsed: str, scalar: Collection[str]) -> "Shape":
        """The shape of a query as the engine's parser gives it, in JSON; ``scalar`` are functions of one row."""
        told = json.loads(parsed)
        if told["error"] or len(told["statements"]) != 1:
            return cls("", {})
        node = told["statements"][0]["node"]
        reads = Counter(each["table_name"] for each in _all_within(node) if each.get("type") == "BASE_TABLE")
        lead = _lead_of_query(node, scalar)
        return cls(lead if reads[lead] == 1 else "", dict(reads))


def leaf(shape: Shape, views: Mapping[str, Shape]) -> str:
    """The relation beneath all views whose rows a query reads one by one; empty where there is none, or it is read twice."""
    lead = shape
    while lead.lead in views:
        lead = views[lead.lead]
    return lead.lead if lead.lead and _times(shape, lead.lead, views) == 1 else ""


def needed(shape: Shape, views: Mapping[str, Shape]) -> set[str]:
    """Every relation and view that a query reads, also through views."""
    found: set[str] = set()
    for name in shape.reads:
        found |= {name} | (needed(views[name], views) if name in views else set())
    return found


def _times(shape: Shape, name: str, views: Mapping[str, Shape]) -> int:
    return sum(
        times * (_times(views[each], name, views) if each in views else each == name)
        for each, times in shape.reads.items()
    )


def _lead_of_query(node: dict[str, Any], scalar: Collection[str]) -> str:
    if node["type"] != "SELECT_NODE" or node["cte_map"]["map"]:
        return ""
    if any(node[part] != empty for part, empty in _BARE.items()):
        return ""
    if not _of_one_row((node["select_list"], node["where_clause"]), scalar):
        return ""
    return _lead_of_source(node["from_table"], scalar)


def _lead_of_source(source: dict[str, Any], scalar: Collection[str]) -> str:
    if source.get("sample") is not None:
        return ""
    if source["type"] == "BASE_TABLE":
        return "" if source["at_clause"] or source["schema_name"] else str(source["table_name"])
    if source["type"] == "SUBQUERY":
        return _lead_of_query(source["subquery"]["node"], scalar)
    if source["type"] == "JOIN" and source["join_type"] in _JOINS and source["ref_type"] in _REFERENCES:
        return _lead_of_source(source["left"], scalar) if _of_one_row(source["condition"], scalar) else ""
    return ""


def _of_one_row(expressions: Any, scalar: Collection[str]) -> bool:
    for part in _all_within(expressions):
        kind = part.get("class")
        if kind in ("SUBQUERY", "WINDOW") or (kind == "FUNCTION" and part["function_name"] not in scalar):
            return False
    return True


def _all_within(part: Any) -> Iterator[dict[str, Any]]:
    held = [part]
    while held:
        found = held.pop()
        if isinstance(found, dict):
            yield found
            held.extend(value for value in found.values() if isinstance(value, dict | list))
        elif isinstance(found, list | tuple):
            held.extend(found)
