"""Two rule sets on the same cases: who moves from one standing to another, and because of which criterion."""

from pathlib import Path
from typing import Any

from msgspec import Struct

from candidacy.cohort.answers.standing_differences import Side, by_id, cause_columns, words_of
from candidacy.cohort.columns.query import ColumnarEvaluation, disc_column, read
from candidacy.cohort.columns.stack import Stack
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine
from candidacy.rules.resolved import RuleSet


class Cause(Struct, frozen=True):
    """How one criterion of the patient or a disc may be a cause: what each code in a column says."""

    criterion: str
    level: str
    words: dict[int, str]


class Moved(Struct, frozen=True):
    """The cases that move, held on the engine as ``relation`` in a file; ``causes`` by column."""

    engine: Engine
    relation: str
    path: Path
    causes: dict[str, Cause]

    def count(self) -> int:
        """How many cases move."""
        return int(self.engine.rows(f"SELECT COUNT(*) FROM {self.relation}")[0][0])

    def moves(self) -> list[dict[str, Any]]:
        """Cases by both standings and by cause, the most frequent first; a case of two discs counts once."""
        where: dict[tuple[str, str], list[str]] = {}
        for column, cause in self.causes.items():
            for code, words in cause.words.items():
                where.setdefault((cause.criterion, words), []).append(f"({column} = {code})")
        none = sql.all_of(f"({column} IS NULL)" for column in self.causes)
        sums = [sql.rows_with(sql.any_of(parts)) for parts in where.values()]
        chosen = ["standing_one", "standing_other", sql.rows_with(none), *sums]
        rows = []
        for start, end, unexplained, *counts in self.engine.rows(
            f"SELECT {', '.join(chosen)} FROM {self.relation} GROUP BY standing_one, standing_other"
        ):
            found = dict(zip(where, counts, strict=True)) | {("", ""): unexplained}
            rows += [
                {"from": start, "to": end, "criterion": criterion, "change": change, "cases": count}
                for (criterion, change), count in found.items()
                if count
            ]
        return sorted(
            rows, key=lambda row: (-row["cases"], row["from"], row["to"], row["criterion"], row["change"])
        )

    def cases(self) -> str:
        """SQL of every case that moves, by case reference: its two standings and the causes."""
        shown = []
        for column, cause in self.causes.items():
            name = disc_column(cause.level, cause.criterion) if cause.level else cause.criterion
            arms = [f"WHEN {code} THEN {sql.text(f'{name}: {words}')}" for code, words in cause.words.items()]
            shown.append(f"CASE {column} {' '.join(arms)} END")
        because = f"CONCAT_WS('; ', {', '.join(shown)})" if shown else "''"
        return (
            f"SELECT case_id, standing_one, standing_other, {because} AS because FROM {self.relation} "
            "ORDER BY case_id"
        )


def compare(evaluation: ColumnarEvaluation, rule_set: RuleSet, relation: str) -> Moved:
    """Read the same cases under another rule set, in one pass with the first; hold what moves as ``relation``."""
    one = Side(evaluation, "one_")
    second = read(evaluation.frame, rule_set, evaluation.as_of, "other")
    engine, other = evaluation.frame.engine, Side(second, "")
    second.beside(evaluation, {f"{one.prefix}{column}": column for column in evaluation.answers})
    second.hold()
    moving = ["case_id", *(one.prefix + column for column in evaluation.answers), *second.answers]
    second.hold_as(f"{relation}_both", moving, where="one_standing <> standing")
    codes = cause_columns(one, other)
    ours, theirs = by_id(evaluation.rule_set), by_id(rule_set)
    columns = {key: f"cause_{place}" for place, key in enumerate(codes.by_criterion)}
    causes = {
        column: Cause(name, level, dict(words_of(name, ours, theirs)))
        for (name, level), column in columns.items()
    }
    chosen = ["case_id", "one_standing AS standing_one", "standing AS standing_other"]
    chosen += [f"{codes.by_criterion[key]} AS {column}" for key, column in columns.items()]
    over = Stack(chosen, codes.definitions, moving, ()).over(f"{relation}_both")
    path = engine.hold(relation, f"SELECT {', '.join(chosen)} FROM {over}")
    return Moved(engine, relation, path, causes)
