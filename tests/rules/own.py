"""A small library of one's own on disk, invented for tests: a data element, a criterion that reads it, a rule set."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import yaml

from tests.rules.builder import _WrittenOut

LOCAL = {"source": "our_protocol", "supports": "value", "tag": "local"}
CHANGES = [{"version": "0.1.0", "date": "2026-11-28", "change": "First draft."}]


def content() -> dict[str, Any]:
    """Every file of the library by its place, as plain data."""
    return {
        "sources.yaml": {"sources": {"our_protocol": {"title": "Protocol of an invented practice"}}},
        "elements/needle.yaml": {
            "group": "needle_access",
            "title": "Needle access",
            "elements": [
                {
                    "name": "needle_path_depth",
                    "scope": "patient",
                    "kind": "number",
                    "unit": "mm",
                    "possible": {"low": 10, "high": 400},
                    "likely": {"low": 60, "high": 200},
                    "meaning": "Depth from skin to disc along the planned path of the needle.",
                    "found_in": "imaging",
                    "ask": "Depth from skin to disc on the imaging",
                    "burden": "imaging",
                    "synonyms": ["skin_to_disc_depth"],
                    "danger": [
                        {"op": "at_least", "value": 250, "why": "No needle of the practice reaches so far.",
                         "source": "our_protocol", "tag": "local"}
                    ],
                }
            ],
        },
        "relations/needle.yaml": {
            "id": "needle", "version": "0.1.0", "title": "Needle access",
            "unrelated": [{"elements": ["needle_path_depth"], "because": "Nothing else in a record measures it."}],
        },
        "criteria/who/needle_path_not_too_deep.yaml": {
            "id": "needle_path_not_too_deep",
            "kind": "inclusion",
            "title": "Needle path not too deep",
            "subject": "patient",
            "group": "who",
            "force": "relative",
            "status": "draft",
            "version": "0.1.0",
            "checked_on": "2026-11-28",
            "why": "The needles of the practice are no longer.",
            "when": {"element": "needle_path_depth", "op": "less_than", "value": {"parameter": "longest"}},
            "parameters": {"longest": {"value": 180, "unit": "mm", "meaning": "Depth that is too much", "cites": [LOCAL]}},
            "found": {"pass": "Needle path short enough", "fail": "Needle path too deep"},
            "mendable": {"how": "no"},
            "if_unknown": "ask",
            "ask_for": "Depth from skin to disc",
            "cites": [{**LOCAL, "supports": "use"}],
            "changes": CHANGES,
        },
        "criteria/who/needle_path_not_too_deep.cases.yaml": [
            {"name": "below", "given": {"needle_path_depth": {"value": 179, "unit": "mm"}}, "expect": "pass"},
            {"name": "on it", "given": {"needle_path_depth": {"value": 18, "unit": "cm"}}, "expect": "fail"},
            {"name": "unknown", "expect": "undetermined"},
        ],
        "sets/our_practice/ruleset.yaml": {
            "id": "our_practice",
            "version": "0.1.0",
            "extends": "wide_screen",
            "reason": "The needles of the practice reach only so far.",
            "criteria": [{"id": "needle_path_not_too_deep"}],
            "changes": CHANGES,
        },
    }  # fmt: skip


Edit = Callable[[dict[str, Any]], object]


def write(folder: Path, edit: Edit = lambda files: None) -> Path:
    """Write the library, edited, into a folder; a text is written as it is."""
    files = content()
    edit(files)
    for place, data in files.items():
        path = folder / place
        path.parent.mkdir(parents=True, exist_ok=True)
        text = data if isinstance(data, str) else yaml.dump(data, Dumper=_WrittenOut, sort_keys=False)
        path.write_text(text, encoding="utf-8")
    return folder


def replaced_criterion(files: dict[str, Any], replaces: object | None) -> None:
    """Add a criterion with a shipped id that declares, or does not declare, what it replaces."""
    from candidacy.rules.libraries import shipped

    place = shipped().criterion_files()["body_mass_index_limit"]
    for path in (place, place.with_name("body_mass_index_limit.cases.yaml")):
        text = path.read_text(encoding="utf-8")
        if replaces is not None and path == place:
            text += yaml.safe_dump({"replaces": replaces})
        files[f"criteria/who/{path.name}"] = text
