"""Counts over the outcomes of a cohort: per criterion, in declared order, and why cases were excluded."""

from typing import Any

from msgspec import Struct

from candidacy.cohort.columns.query import disc_column
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.vocabulary import STANDINGS

OUTCOMES = ("pass", "fail", "undetermined")


class Outcomes(Struct, frozen=True):
    """Outcomes of a rule set over a cohort, as a relation on an engine; ``levels`` are the discs it holds."""

    engine: Engine
    relation: str
    rule_set: RuleSet
    levels: tuple[str, ...]

    @property
    def patient(self) -> list[ResolvedCriterion]:
        return [item for item in self.rule_set.criteria if item.criterion.subject == "patient"]

    @property
    def disc(self) -> list[ResolvedCriterion]:
        return [item for item in self.rule_set.criteria if item.criterion.subject == "disc"]

    def column(self, what: str, level: str = "") -> str:
        return sql.identifier(disc_column(level, what) if level else what)


def standings(outcomes: Outcomes) -> dict[str, int]:
    """Cases by standing, every standing named, in order of standing."""
    rows = outcomes.engine.rows(f"SELECT CAST(standing AS VARCHAR), COUNT(*) "
                                f"FROM {outcomes.relation} GROUP BY standing")  # fmt: skip
    return dict.fromkeys(STANDINGS, 0) | {row[0]: row[1] for row in rows}


def disc_standings(outcomes: Outcomes) -> list[dict[str, Any]]:
    """Discs by level and standing; only discs that cases name."""
    rows = []
    for level in outcomes.levels:
        column = outcomes.column("standing", level)
        sums = [sql.rows_with(f"{column} = {sql.text(name)}") for name in STANDINGS]
        counts = outcomes.engine.rows(f"SELECT {', '.join(sums)} FROM {outcomes.relation}")[0]
        rows.append({"disc": level, **dict(zip(STANDINGS, counts, strict=True))})
    return rows


def tallies(outcomes: Outcomes) -> list[dict[str, Any]]:
    """Pass, fail and undetermined of each criterion on its own, in declared order.

    Patient criteria count cases; disc criteria count discs that cases name, over all levels.
    """
    sums: list[str] = []
    for item in outcomes.rule_set.criteria:
        columns = (
            [outcomes.column(item.id)]
            if item.criterion.subject == "patient"
            else [outcomes.column(item.id, level) for level in outcomes.levels]
        )
        for word in OUTCOMES:
            parts = [sql.rows_with(f"{column} = '{word}'") for column in columns]
            sums.append(" + ".join(parts) or "COUNT(NULL)")
    counts = outcomes.engine.rows(f"SELECT {', '.join(sums)} FROM {outcomes.relation}")[0]
    rows = []
    for place, item in enumerate(outcomes.rule_set.criteria):
        found = dict(zip(OUTCOMES, counts[3 * place : 3 * place + 3], strict=True))
        rows.append(
            {
                "criterion": item.id,
                "title": item.criterion.title,
                "subject": item.criterion.subject,
                "force": item.force,
                **found,
                "total": sum(found.values()),
            }
        )
    return rows


class Flow(Struct, frozen=True):
    """A participant flow: who leaves at which criterion, in declared order.

    A subject is excluded at the first criterion that it fails, whatever is still unknown; those that fail
    none wait at the first criterion that is undetermined. So the counts add up to the start. Criteria of
    force advisory never decide and are left out.
    """

    unit: str
    start: int
    steps: tuple[dict[str, Any], ...]
    passing: int

    @property
    def excluded(self) -> int:
        return sum(step["excluded"] for step in self.steps)

    @property
    def waiting(self) -> int:
        return sum(step["waiting"] for step in self.steps)


def attrition(outcomes: Outcomes) -> tuple[Flow, Flow]:
    """The flow of discs considered for treatment, and the flow of cases."""
    return _flow(outcomes, outcomes.disc, "disc"), _flow(outcomes, outcomes.patient, "patient")


def _flow(outcomes: Outcomes, criteria: list[ResolvedCriterion], subject: str) -> Flow:
    deciding = [item for item in criteria if item.force != "advisory"]
    parts = []
    for level in outcomes.levels if subject == "disc" else ("",):
        columns = [outcomes.column(item.id, level) for item in deciding]
        where = ""
        if level:
            considered, named = outcomes.column("considered", level), outcomes.column("standing", level)
            where = f" WHERE {named} IS NOT NULL AND {considered} IS NOT FALSE"
        parts.append(f"SELECT {_first(columns, 'fail')} AS failed, {_first(columns, 'undetermined')} AS open_at "
                     f"FROM {outcomes.relation}{where}")  # fmt: skip
    counts: dict[tuple[int, int], int] = {}
    if parts:
        for failed, open_at, count in outcomes.engine.rows(
            f"SELECT failed, open_at, COUNT(*) FROM ({' UNION ALL '.join(parts)}) AS flow GROUP BY failed, open_at"
        ):
            key = int(failed), int(open_at) if failed < 0 else -1
            counts[key] = counts.get(key, 0) + int(count)
    start = remaining = sum(counts.values())
    steps = []
    for place, item in enumerate(deciding):
        excluded = sum(count for (failed, _), count in counts.items() if failed == place)
        steps.append(
            {
                "criterion": item.id,
                "title": item.criterion.title,
                "force": item.force,
                "entering": remaining,
                "excluded": excluded,
                "remaining": remaining - excluded,
                "waiting": counts.get((-1, place), 0),
            }
        )
        remaining -= excluded
    return Flow("discs" if subject == "disc" else "cases", start, tuple(steps), counts.get((-1, -1), 0))


def _first(columns: list[str], word: str) -> str:
    arms = " ".join(f"WHEN {column} = '{word}' THEN {place}" for place, column in enumerate(columns))
    return f"CASE {arms} ELSE -1 END" if arms else "-1"


def reasons(outcomes: Outcomes) -> list[dict[str, Any]]:
    """Why cases and discs are excluded: criteria that end candidacy, the most frequent first.

    ``sole`` counts those that fail no other such criterion, so that only this one stands in the way.
    """
    found = []
    for subject, criteria in (("patient", outcomes.patient), ("disc", outcomes.disc)):
        ending = [item for item in criteria if item.force in ("stop", "absolute")]
        failing = [0] * len(ending)
        sole = [0] * len(ending)
        for level in outcomes.levels if subject == "disc" else ("",):
            columns = [outcomes.column(item.id, level) for item in ending]
            if not columns:
                continue
            fails = [f"COALESCE({column} = 'fail', FALSE)" for column in columns]
            total = sql.count_true(fails)
            considered = f" WHERE {outcomes.column('considered', level)} IS NOT FALSE" if level else ""
            sums = [sql.rows_with(f"failed_{p}") for p in range(len(fails))]
            sums += [sql.rows_with(f"failed_{p} AND failures = 1") for p in range(len(fails))]
            inner = ", ".join(f"{fail} AS failed_{p}" for p, fail in enumerate(fails))
            counts = outcomes.engine.rows(
                f"SELECT {', '.join(sums)} FROM "
                f"(SELECT {inner}, {total} AS failures FROM {outcomes.relation}{considered}) AS failing"
            )[0]
            failing = [a + b for a, b in zip(failing, counts[: len(ending)], strict=True)]
            sole = [a + b for a, b in zip(sole, counts[len(ending) :], strict=True)]
        found += [
            {
                "criterion": item.id,
                "title": item.criterion.title,
                "subject": subject,
                "force": item.force,
                "failing": failing[place],
                "sole": sole[place],
            }
            for place, item in enumerate(ending)
            if failing[place]
        ]
    return sorted(found, key=lambda row: (-row["failing"], -row["sole"], row["criterion"]))
