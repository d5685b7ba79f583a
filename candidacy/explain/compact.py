"""The short JSON form of an assessment: each thing said once, prose by reference.

Everything that decides, warns or is asked for is in it. Left to the full form (`AssessmentDocument`): the tests behind
an outcome, the words of rules and sources, and why a criterion is there. ``candidacy rules show ID --format json`` gives
a criterion's words by its id.
"""

import json
from collections.abc import Callable, Iterable
from typing import Any, cast

from candidacy.explain.compare import Comparison
from candidacy.explain.document import AssessmentDocument, CriterionInfo, FactInfo, TestInfo
from candidacy.explain.missing_document import Asked, MissingInfo, asked_together
from candidacy.foundation.values import Why

SCHEMA_VERSION = "2"
# Reasons for not knowing that are about something the record says; the others only ask for a fact.
_SAYS_SOMETHING = (
    Why.UNCERTAIN_IN_SOURCE, Why.NOT_READABLE, Why.CONFLICTING, Why.DOUBTFUL, Why.OUT_OF_DATE, Why.UNDATED, Why.TOO_IMPRECISE,
    Why.NOT_INTERPRETABLE, Why.AFTER_AS_OF,
)  # fmt: skip


def compact(document: AssessmentDocument) -> dict[str, Any]:
    """The short form of a document, as plain data in a fixed order; see `CompactAssessment` for what each part holds."""
    whole = document.model_dump(
        mode="json",
        exclude={
            "criteria",
            "facts",
            "sources",
            "settings",
            "holds",
            "fired",
            "missing",
            "unread",
            "grounds",
            "firm",
            *(name for name in ("settle", "change") if getattr(document, name) is None),
        },
    )
    whole |= {"schema_version": SCHEMA_VERSION, "form": "compact"}
    for name in ("conflicts", "disputed", "companions", "discs"):
        whole[name] = [_filled(row) for row in whole[name]]
    for row in (*whole["discs"], *whole["companions"]):
        row.pop("fired", None)
        row.pop("answers", None)
    dangers = [unread for unread in document.unread if unread.dangers]
    others = [unread.fact for unread in document.unread if not unread.dangers]
    deciding = [m for m in document.missing if m.weight != "no"]
    documents = _documents(document)
    return whole | {
        "unread": [_filled(unread.model_dump(mode="json")) for unread in dangers],
        "unread_others": _by_subject(others, lambda fact: fact.value),
        "missing": [_missing(asked) for asked in asked_together(deciding)],
        "missing_others": _names_by_subject(m for m in document.missing if m.weight == "no"),
        "asks": {m.element: {"ask": m.ask, "burden": m.burden} for m in deciding},
        "criteria": _criteria(document),
        "facts": _by_subject(
            [fact for fact in document.facts if fact.known], lambda fact: _fact(fact, documents)
        ),
        "documents": documents,
        "settings": {setting.name: setting.value for setting in document.settings},
        "holds": _holds(document),
    }


def compact_comparison(comparison: Comparison) -> dict[str, Any]:
    """Assessments of one case side by side, each in its short form; rows only where they differ."""
    return {
        "schema_version": SCHEMA_VERSION,
        "form": "compact",
        "deciding": comparison.deciding,
        "assessments": [compact(document) for document in comparison.assessments],
        "rows": [_filled(row.model_dump(mode="json")) for row in comparison.rows if row.differs],
    }


def to_json(data: dict[str, Any]) -> str:
    """Plain data as JSON text: one line for each part, and in lists and tables one line for each row."""
    lines = []
    for name, value in data.items():
        key = json.dumps(name)
        if isinstance(value, list) and value and isinstance(value[0], dict):
            rows = ",\n".join(f"    {_line(row)}" for row in value)
            lines.append(f"  {key}: [\n{rows}\n  ]")
        elif isinstance(value, dict) and value and all(isinstance(part, dict) for part in value.values()):
            rows = ",\n".join(f"    {json.dumps(k)}: {_line(row)}" for k, row in value.items())
            lines.append(f"  {key}: {{\n{rows}\n  }}")
        else:
            lines.append(f"  {key}: {_line(value)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def _filled(value: Any) -> Any:
    """The same without empty texts, lists and nothing, however deep; false and zero stay."""
    if isinstance(value, dict):
        return {k: _filled(v) for k, v in value.items() if v not in ("", None) and v != [] and v != {}}
    return [_filled(part) for part in value] if isinstance(value, list) else value


def _criteria(document: AssessmentDocument) -> dict[str, Any]:
    """Each criterion once, with its outcome for each subject."""
    apart = {disc.level for disc in document.discs if disc.considered == "not_met"}
    found: dict[str, Any] = {}
    for c in document.criteria:
        about = found.get(c.id)
        if about is None:
            parameters = {p.name: p.value for p in c.parameters}
            replaced = {p.name: p.replaces for p in c.parameters if p.replaces is not None}
            about = {
                "version": c.version,
                "force": c.force,
                "parameters": parameters,
                "replaces": replaced,
                "replaces_shipped": c.replaces,
            }
            about = found[c.id] = _filled(about) | {"outcomes": {}}
        about["outcomes"][c.subject] = _outcome(c, told=c.subject not in apart)
    return found


def _outcome(c: CriterionInfo, *, told: bool) -> str | dict[str, Any]:
    """How it is marked; with what was found and why, where it fails or is open for more than a missing fact."""
    if not told or c.outcome == "pass" or (c.outcome == "undetermined" and not _half_known(c.tests)):
        return c.shown
    row: dict[str, Any] = {"shown": c.shown, "found": c.found, "because": c.because}
    if c.outcome == "fail":
        row["act"] = c.act
    if c.mendable is not None:
        row["mendable"] = c.mendable.model_dump(mode="json", include={"how", "act", "who", "earliest"})
    return cast("dict[str, Any]", _filled(row))


def _half_known(test: TestInfo) -> bool:
    """Whether an open test rests on a value that is imprecise, out of date or in conflict, not only on none."""
    if test.truth != "unknown":
        return False
    if test.parts:
        return any(_half_known(part) for part in test.parts)
    return test.why is None or test.why in [why.value for why in _SAYS_SOMETHING]


def _missing(asked: Asked) -> dict[str, Any]:
    m = asked.row
    row = m.model_dump(mode="json", include={"element", "subject", "weight", "criteria"})
    if asked.entries:
        row |= {"subject": asked.list_name, "entries": list(asked.entries)}
    return row if m.why == Why.NOT_RECORDED.words else row | {"why": m.why}


def _names_by_subject(missing: Iterable[MissingInfo]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for m in missing:
        found.setdefault(m.subject, []).append(m.element)
    return found


def _by_subject(facts: Iterable[FactInfo], say: Callable[[FactInfo], Any]) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for fact in facts:
        found.setdefault(fact.subject, {})[fact.element] = say(fact)
    return found


def _fact(fact: FactInfo, documents: dict[str, dict[str, str]]) -> dict[str, Any]:
    """A fact that is known; its date where it is not that of its document."""
    names = {"value", "document", "date", "words", "note", "worked_out_from"}
    if fact.worked_out_from:
        names -= {"document", "date"}
    elif not fact.document:
        names |= {"recorded_by"}
    elif documents[fact.document]["date"] == fact.date:
        names -= {"date"}
    return cast("dict[str, Any]", _filled(fact.model_dump(mode="json", include=names)))


def _documents(document: AssessmentDocument) -> dict[str, dict[str, str]]:
    """Kind and date of each document that facts come from; the date is that of most of its facts."""
    dates: dict[str, list[str]] = {}
    kinds: dict[str, str] = {}
    for fact in document.facts:
        if fact.document:
            kinds[fact.document] = fact.document_kind
            dates.setdefault(fact.document, []).append(fact.date)
    return {key: {"kind": kinds[key], "date": max(sorted(set(d)), key=d.count)} for key, d in dates.items()}


def _holds(document: AssessmentDocument) -> dict[str, Any] | None:
    if document.holds is None:
        return None
    data = document.holds.model_dump(mode="json")
    data["medicines"] = [
        _filled({k: v for k, v in row.items() if k != "cites"})
        | {"sources": [c["source"] for c in row["cites"]]}
        for row in data["medicines"]
    ]
    return data
