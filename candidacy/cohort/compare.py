"""Two rule sets on the same cases: who moves from one standing to another, and because of which criterion."""

from typing import Any

from candidacy.case.catalogue import LEVELS
from candidacy.cohort import sqltext as sql
from candidacy.cohort.reading import ColumnarReading, passes_column, read
from candidacy.rules.resolved import RuleSet


def compare(one: ColumnarReading, rule_set: RuleSet) -> tuple[list[dict[str, Any]], Any]:
    """Read the same cases under another rule set.

    A criterion is named for a case that moves where its outcome differs, or its force, or where only one
    of the rule sets has it and it does not pass there; advisory criteria never are.

    Returns
    -------
    tuple
        Rows of standings, criterion, kind of change and number of cases; and a table of the cases that move.
    """
    other = read(one.frame, rule_set, one.as_of, "other")
    engine = one.frame.engine
    first = (
        f"(SELECT case_id, standing AS standing_one, {_chosen(one, 'one')} FROM {one.layers()}) AS first_set"
    )
    second = (
        f"(SELECT case_id AS case_other, standing AS standing_other, {_chosen(other, 'other')} "
        f"FROM {other.layers()}) AS second_set"
    )
    causes = _causes(one, other)
    shown = ", ".join(f"CASE WHEN {where} THEN {sql.text(label)} END" for label, where in causes.items())
    because = f"CONCAT_WS('; ', {shown})" if shown else "''"
    moved = (
        f"SELECT case_id, standing_one, standing_other, {because} AS because FROM {first} JOIN {second} "
        "ON case_id = case_other WHERE standing_one <> standing_other"
    )
    cases = engine.arrow(f"{moved} ORDER BY case_id")
    counts: dict[tuple[str, str, str], int] = {}
    for start, end, reasons in zip(
        *(cases.column(name).to_pylist() for name in ("standing_one", "standing_other", "because")),
        strict=True,
    ):
        for label in set(reasons.split("; ")) if reasons else {""}:
            counts[start, end, label] = counts.get((start, end, label), 0) + 1
    rows: list[dict[str, Any]] = [
        {
            "from": start,
            "to": end,
            "criterion": label.split(": ", 1)[0],
            "change": label.partition(": ")[2],
            "cases": count,
        }
        for (start, end, label), count in counts.items()
    ]
    rows.sort(key=lambda row: (-int(row["cases"]), row["from"], row["to"], row["criterion"]))
    return rows, cases


def _chosen(reading: ColumnarReading, name: str) -> str:
    found = [f"{passes_column(c)} AS {name}_{passes_column(c)}" for c in reading.patient]
    for level, criteria in reading.discs.items():
        found.append(f"standing_{LEVELS.index(level)} AS {name}_standing_{LEVELS.index(level)}")
        found += [f"{passes_column(c)} AS {name}_{passes_column(c)}" for c in criteria]
    return ", ".join(found)


def _causes(one: ColumnarReading, other: ColumnarReading) -> dict[str, str]:
    """Label of each possible cause and two-valued SQL of where it holds; disc criteria over all discs."""
    found: dict[str, list[str]] = {}
    names = {c.id: c.resolved for r in (one, other) for c in _all(r)}
    for level in ("", *one.discs):
        ours = {c.id: c for c in (one.discs[level] if level else one.patient)}
        theirs = {c.id: c for c in (other.discs[level] if level else other.patient)}
        for name in names:
            a, b = ours.get(name), theirs.get(name)
            if a is None and b is None:
                continue
            if all(c is None or c.resolved.force == "advisory" for c in (a, b)):
                continue
            left, right = f"one_{passes_column(a)}" if a else "", f"other_{passes_column(b)}" if b else ""
            if a and b and a.resolved.force != b.resolved.force:
                label = f"{name}: {a.resolved.force} becomes {b.resolved.force}"
                where = f"({left} IS NOT TRUE OR {right} IS NOT TRUE)"
            elif a and b:
                label, where = f"{name}: outcome differs", f"({left} IS DISTINCT FROM {right})"
            else:
                label = f"{name}: {'no longer' if a else 'newly'} asked"
                where = f"({left or right} IS NOT TRUE)"
            if level:
                place = LEVELS.index(level)
                where = f"(one_standing_{place} IS DISTINCT FROM other_standing_{place} AND {where})"
            found.setdefault(label, []).append(where)
    return {label: sql.any_of(parts) for label, parts in found.items()}


def _all(reading: ColumnarReading) -> list[Any]:
    return [*reading.patient, *(c for criteria in reading.discs.values() for c in criteria)]
