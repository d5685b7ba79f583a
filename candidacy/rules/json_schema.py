"""JSON Schemas of the files of a library, with the names an editor may offer: elements, sources, criteria and so on.

A name that is not known is never refused here: it may belong to a library of one's own. Loading tells.
"""

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import BaseModel

from candidacy.case.catalogue import catalogue
from candidacy.case.element import ElementFile
from candidacy.foundation import units
from candidacy.foundation.described import schema_of
from candidacy.foundation.json_shape import filled, present, where
from candidacy.rules.cited import SettingsFile, SourcesFile, Table
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.library import Library
from candidacy.rules.relations import RelationFile
from candidacy.rules.rule_set_file import ExtendedRuleSetFile, RuleSetFile

# kind of file -> its model, and what it is
FILES: dict[str, tuple[type[BaseModel], str]] = {
    "criterion": (Criterion, "candidacy criterion"),
    "ruleset": (RuleSetFile, "candidacy rule set"),
    "element": (ElementFile, "candidacy data elements"),
    "relation": (RelationFile, "candidacy relations between facts"),
    "table": (Table, "candidacy table of published values"),
    "sources": (SourcesFile, "candidacy sources"),
    "settings": (SettingsFile, "candidacy settings"),
    "decisions": (DecisionOrder, "candidacy decision rules"),
}

# Where a name of some kind stands, as model and field.
_NAMED = {
    "element": (
        "Condition.element", "Recency.elements", "Criterion.weighs", "Earliest.grows", "Relation.element",
        "Unrelated.elements", "ColumnMap.element", "Element.inputs", "Element.reads", "Element.covers",
        "Element.excludes",
    ),
    "date_element": ("Elapsed.since", "Elapsed.until", "Recency.dated_by", "Earliest.day_of"),
    "source": ("Citation.source", "Precision.source", "Danger.source"),
    "criterion": ("Selection.id", "LeftOut.id"),
    "rule_set": ("Companion.id", "RuleSetFile.extends"),
    "decisions": ("RuleSetFile.decisions",),
    "unit": ("Parameter.unit", "Setting.unit", "ParameterChange.unit"),
}  # fmt: skip


def file_schema(kind: str, library: Library) -> dict[str, Any]:
    """The schema of one kind of file of a library (JSON Schema 2020-12); see `FILES` for the kinds."""
    model, title = FILES[kind]
    schema = schema_of(model, kind, title)
    if kind == "element":
        known = {"enum": [*units.names(), None]}
        schema["$defs"]["Element"]["properties"]["unit"] |= known
    if kind == "ruleset":
        _of_two_forms(schema)
    offer_names(schema, model, library)
    return schema


def _of_two_forms(schema: dict[str, Any]) -> None:
    """A rule set that extends another need not say what that one says; any other is whole."""
    whole = schema.pop("required")
    empty: dict[str, Any] = {}
    short = [name for name, field in ExtendedRuleSetFile.model_fields.items() if field.is_required()]
    for name, field in ExtendedRuleSetFile.model_fields.items():
        if field.default is None and RuleSetFile.model_fields[name].default is not None:
            part = schema["properties"][name]
            shape = {key: part.pop(key) for key in list(part) if key != "description"}
            part["anyOf"] = [shape, {"type": "null"}]
            empty[name] = {"not": {"type": "null"}}
    schema |= where(present("extends"), filled(*short), {"required": whole, "properties": empty})


def offer_names(schema: dict[str, Any], model: type[BaseModel], library: Library) -> None:
    """Let a schema offer the names that a library knows wherever one of them may stand."""
    definitions = schema.get("$defs", {})
    models: Mapping[str, Any] = {**definitions, model.__name__: schema}
    for kind, places in _NAMED.items():
        used = False
        for place in places:
            owner, field = place.split(".")
            if owner in models:
                _offer(models[owner]["properties"][field], kind)
                used = True
        if used:
            known = _KNOWN[kind](library)
            definitions[f"known_{kind}"] = {
                "enum": list(known),
                "enumDescriptions": list(known.values()),
            }


def _offer(part: dict[str, Any], kind: str) -> None:
    """Put the known names before the free text, however deep in lists and alternatives it stands."""
    if part.get("type") == "string":
        free = {key: part.pop(key) for key in ("type", "pattern") if key in part}
        part["anyOf"] = [{"$ref": f"#/$defs/known_{kind}"}, free]
        return
    for inner in (*part.get("anyOf", ()), *([part["items"]] if "items" in part else ())):
        _offer(inner, kind)


def _elements(kind: str = "") -> dict[str, str]:
    return {e.name: e.meaning for e in catalogue().all if kind in ("", e.kind)}


_KNOWN: dict[str, Callable[[Library], dict[str, str]]] = {
    "element": lambda library: _elements(),
    "date_element": lambda library: _elements("date"),
    "source": lambda library: {key: source.title for key, source in library.sources().items()},
    "criterion": lambda library: {n: library.criterion(n).title for n in library.criterion_names()},
    "rule_set": lambda library: {n: library.rule_set(n).file.title for n in library.rule_set_names()},
    "decisions": lambda library: {n: library.decisions(n).title for n in library.decision_names()},
    "unit": lambda library: dict.fromkeys(units.names(), ""),
}
