"""The published shape of the short JSON form, as JSON Schema, made from that of the full form."""

from typing import Any, get_args

from candidacy.assessment.outlook import How
from candidacy.explain.compact import SCHEMA_VERSION
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.found import Shown
from candidacy.rules.vocabulary import Force

_TEXT = {"type": "string"}
_TEXTS = {"type": "array", "items": _TEXT}
_FACT = {
    "type": "object",
    "additionalProperties": False,
    "required": ["value"],
    "properties": dict.fromkeys(("value", "document", "date", "words", "note", "recorded_by"), _TEXT)
    | {"worked_out_from": _TEXTS},
}
_MENDABLE = {
    "type": "object",
    "additionalProperties": False,
    "required": ["how"],
    "properties": {
        "how": {"enum": list(get_args(How))},
        **dict.fromkeys(("act", "who", "earliest"), _TEXT),
    },
}
_SHOWN = {"enum": list(get_args(Shown))}
_OUTCOME = {
    "anyOf": [
        _SHOWN,
        {
            "type": "object",
            "additionalProperties": False,
            "required": ["shown"],
            "properties": {
                "shown": _SHOWN, "found": _TEXT, "because": _TEXTS, "act": _TEXT, "mendable": _MENDABLE,
            },
        },
    ]
}  # fmt: skip


def _table(row: dict[str, Any], description: str) -> dict[str, Any]:
    return {"type": "object", "additionalProperties": row, "description": description}


_OWN: dict[str, dict[str, Any]] = {
    "schema_version": {"const": SCHEMA_VERSION},
    "form": {"const": "compact"},
    "unread": {
        "type": "array",
        "items": {"$ref": "#/$defs/UnreadInfo"},
        "description": "Recorded signs of danger that no deciding criterion reads.",
    },
    "unread_others": _table(
        _table(_TEXT, "Element to value."), "Other facts that no criterion reads, by subject."
    ),
    "missing": {
        "type": "array",
        "description": "Missing facts that could decide, first what can decide alone; its words are in asks.",
        "items": {
            "type": "object",
            "additionalProperties": False,
            "required": ["element", "subject", "weight", "criteria"],
            "properties": {
                "element": _TEXT,
                "subject": _TEXT,
                "weight": {"enum": ["alone", "later"]},
                "criteria": _TEXTS,
                "why": {**_TEXT, "description": "Why it is missing; left out where it is not recorded."},
                "entries": {
                    "type": "array",
                    "items": {"type": "integer", "minimum": 1},
                    "minItems": 2,
                    "description": "The numbers of the entries of the list that subject names, of which each lacks the same.",
                },
            },
        },
    },
    "missing_others": _table(_TEXTS, "Missing facts that cannot change the standing, by subject."),
    "asks": _table(
        {
            "type": "object",
            "additionalProperties": False,
            "required": ["ask", "burden"],
            "properties": {"ask": _TEXT, "burden": _TEXT},
        },
        "What to ask for, by element, and how burdensome it is to obtain.",
    ),
    "criteria": _table(
        {
            "type": "object",
            "additionalProperties": False,
            "required": ["version", "force", "outcomes"],
            "properties": {
                "version": _TEXT,
                "force": {"enum": list(get_args(Force))},
                "parameters": _table(_TEXT, "Parameter to value in use."),
                "replaces": _table(_TEXT, "Parameter to the library default that this rule set replaces."),
                "replaces_shipped": {
                    **_TEXT,
                    "description": "Of a criterion of one's own: which shipped one, and why.",
                },
                "outcomes": _table(
                    _OUTCOME,
                    "Outcome by subject; with what was found where it fails, or is open although something is recorded.",
                ),
            },
        },
        "Criteria by id.",
    ),
    "facts": _table(_table(_FACT, "Element to fact."), "Facts that were read and are known, by subject."),
    "documents": _table(
        {
            "type": "object",
            "additionalProperties": False,
            "required": ["kind", "date"],
            "properties": {"kind": _TEXT, "date": _TEXT},
        },
        "Documents by key; date is that of their facts where a fact has none of its own.",
    ),
    "settings": _table(_TEXT, "Settings in use, by name."),
    "holds": {
        "type": ["object", "null"],
        "description": "The plan of holds, as in the full form, sources by key.",
    },
}


# Left out unless they were asked for.
_WHERE_ASKED = ("settle", "change")


def compact_schema() -> dict[str, Any]:
    """The JSON Schema of `candidacy.explain.compact.compact`."""
    full = AssessmentDocument.model_json_schema()
    for part in full["$defs"].values():
        part.pop("required", None)  # what is empty is left out of rows
    gone = ("sources", "fired", "grounds", "firm")
    properties = {k: v for k, v in full["properties"].items() if k not in gone} | _OWN
    return full | {
        "title": "CompactAssessment",
        "description": "The short form of an assessment: each thing said once, prose by reference.",
        "properties": properties,
        "required": [name for name in properties if name not in _WHERE_ASKED],
    }
