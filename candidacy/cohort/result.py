"""A screened cohort: outcomes, counts, what is missing, what if, and every row as a full assessment."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from candidacy.assessment.assess import Assessment, assess
from candidacy.cohort.answers import counts
from candidacy.cohort.answers.counts import Flow, Outcomes
from candidacy.cohort.answers.firm_standings import within_error
from candidacy.cohort.answers.missing_facts import missing_ranking
from candidacy.cohort.answers.rule_set_differences import Moved, compare
from candidacy.cohort.answers.sweep import find_all, points_of, sweep
from candidacy.cohort.columns.query import ColumnarEvaluation, disc_column
from candidacy.cohort.engines.dataframes import count_table, nullable_frame
from candidacy.cohort.engines.sqltext import identifier
from candidacy.cohort.inputs.digests import input_digests
from candidacy.cohort.inputs.kept import Kept
from candidacy.foundation.notebook import table
from candidacy.rules.conditions import Scalar
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import STANDINGS

if TYPE_CHECKING:
    import pandas as pd

    from candidacy.cohort.output.writing import Progress


_OF_CRITERION = ("criterion", "title", "subject", "force")


class Cohort:
    """Cases of a table under a rule set as of a day.

    Attributes
    ----------
    cases, set_aside, rows
        Cases screened, rows set aside, rows given.
    discs_set_aside
        Rows of the table of discs that have no place: no lumbar level, or no such case.
    entries_set_aside
        Rows of the tables of lists that belong to no case or cannot be read.
    cells_not_read
        Cells that cannot be read and left their row in use: their facts are unknown.
    with_remarks
        Case records of a folder with remarks that no rule reads; `assess` shows each of them.
    problems
        Why rows were set aside, and then why cells were not read, the first few hundred; the files have all.
    notes
        Columns that were not read.
    """

    def __init__(
        self, evaluation: ColumnarEvaluation, kept: Kept, outcomes: Path, relation: str, stack: ExitStack
    ) -> None:
        self._evaluation, self._kept, self._stack = evaluation, kept, stack
        self.outcomes_path = outcomes
        self._outcomes = Outcomes(
            evaluation.frame.engine, relation, evaluation.rule_set, tuple(evaluation.discs)
        )
        self.rule_set, self.as_of = evaluation.rule_set, evaluation.as_of
        self.name, self.cases, self.rows = kept.name, kept.frame.cases, kept.rows
        self.discs_set_aside, self.entries_set_aside = kept.discs_set_aside, kept.entries_set_aside
        self.set_aside, self.notes, self.cells_not_read = kept.set_aside, kept.notes, kept.unread_cells
        self.with_remarks = kept.with_remarks
        self.problems = (*kept.problems, *kept.cell_problems)
        self.set_aside_path, self.cells_not_read_path = kept.set_aside_file, kept.unread_cells_file
        self.engine = evaluation.frame.engine.name
        self.engine_version = evaluation.frame.engine.version
        self._compared = 0
        self._closed = False
        self._counted: dict[str, Any] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the engine and remove the working files."""
        self._closed = True
        self._stack.close()

    def __repr__(self) -> str:
        rules = f"{self.rule_set.id} {self.rule_set.file.version}"
        closed = "; closed" if self._closed else ""
        return f"Cohort({self.name} under {rules} as of {self.as_of}: {self.cases} cases, {self.set_aside} rows set aside{closed})"

    def _repr_html_(self) -> str:
        title = f"{self.name} under {self.rule_set.file.title} ({self.rule_set.id} {self.rule_set.file.version}) as of {self.as_of}"
        notes = [f"{self.cases} cases; {self.set_aside} of {self.rows} rows set aside."]
        if self.cells_not_read:
            notes.append(f"{self.cells_not_read} cells not read; their facts are unknown.")
        if self.with_remarks:
            notes.append(
                f"{self.with_remarks} case records hold remarks that no rule read; assess shows them."
            )
        if self._closed and counts.standings.__name__ not in self._counted:
            return table(title, (), (), [*notes, "The cohort is closed and was not counted."])
        found = self._once(counts.standings, self._outcomes)
        return table(title, ("standing", "cases"), found.items(), notes)

    def to_frame(self) -> "pd.DataFrame":
        """The outcomes of every case as a DataFrame; see `outcomes`."""
        return self.outcomes()

    @property
    def levels(self) -> tuple[str, ...]:
        """Discs that any case names."""
        return tuple(self._evaluation.discs)

    # --- outcomes

    def outcomes(self, limit: int | None = None, standing: str | None = None) -> "pd.DataFrame":
        """One row per case, by case reference: standing, the patient's outcomes, then each disc's
        (``L4-L5: criterion``). With ``standing`` only cases of that standing.
        """
        if standing is not None and standing not in STANDINGS:
            raise ValueError(f"no such standing: {standing}")
        more = f" LIMIT {int(limit)}" if limit is not None else ""
        where = f" WHERE standing = '{standing}'" if standing is not None else ""
        return nullable_frame(
            self._evaluation.frame.engine.arrow(
                f"SELECT * FROM {self._outcomes.relation}{where} ORDER BY case_id{more}"
            )
        )

    def discs(self) -> "pd.DataFrame":
        """One row per disc that a case names: whether it is considered, its standing, its outcomes."""
        return nullable_frame(
            self._evaluation.frame.engine.arrow(f"{self.disc_query()} ORDER BY case_id, disc")
        )

    def disc_query(self) -> str:
        """SQL of `discs` over the relation of outcomes."""
        parts = []
        ids = ["considered", "standing", *(item.id for item in self._outcomes.disc)]
        for level in self.levels:
            chosen = [f"{identifier(disc_column(level, each))} AS {identifier(each)}" for each in ids]
            parts.append(
                f"SELECT case_id, '{level}' AS disc, {', '.join(chosen)} FROM {self._outcomes.relation} "
                f"WHERE {identifier(disc_column(level, 'standing'))} IS NOT NULL"
            )
        if not parts:
            return f"SELECT case_id, standing AS disc FROM {self._outcomes.relation} WHERE FALSE"
        return " UNION ALL ".join(parts)

    def case_query(self) -> str:
        """SQL of the outcomes of cases without their discs, over the same."""
        ids = ", ".join(identifier(item.id) for item in self._outcomes.patient)
        return f"SELECT case_id, standing{', ' + ids if ids else ''} FROM {self._outcomes.relation}"

    def set_aside_rows(self) -> "pd.DataFrame":
        """The rows set aside, as text, with row number and reason."""
        import pandas as pd

        return pd.read_csv(self.set_aside_path, dtype="string", keep_default_na=False)

    def unread_cells(self) -> "pd.DataFrame":
        """The cells not read, as text, with table, row, case, column, value, reason and what is allowed."""
        import pandas as pd

        return pd.read_csv(self.cells_not_read_path, dtype="string", keep_default_na=False)

    # --- counts

    def _once(self, count: Callable[[Any], Any], of: Any) -> Any:
        """A count over the whole cohort, made once: each may read every case again."""
        if count.__name__ not in self._counted:
            self._counted[count.__name__] = count(of)
        return self._counted[count.__name__]

    def standings(self) -> "pd.DataFrame":
        """Cases by standing."""
        found = self._once(counts.standings, self._outcomes)
        return count_table([{"standing": k, "cases": v} for k, v in found.items()], ("standing",), ("cases",))

    def disc_standings(self) -> "pd.DataFrame":
        """Discs by level and standing."""
        return count_table(self._once(counts.disc_standings, self._outcomes), ("disc",), tuple(STANDINGS))

    def tallies(self) -> "pd.DataFrame":
        """Pass, fail and undetermined of each criterion alone, in declared order."""
        return count_table(
            self._once(counts.tallies, self._outcomes), _OF_CRITERION, (*counts.OUTCOMES, "total")
        )

    def flows(self) -> tuple[Flow, Flow]:
        """The participant flow of discs considered for treatment, and that of cases."""
        found: tuple[Flow, Flow] = self._once(counts.attrition, self._outcomes)
        return found

    def attrition(self) -> "pd.DataFrame":
        """Both flows as one table: who enters, leaves, remains and waits at each criterion, in declared order."""
        rows = [{"flow": flow.unit, **step} for flow in self.flows() for step in flow.steps]
        return count_table(
            rows, ("flow", "criterion", "title", "force"), ("entering", "excluded", "remaining", "waiting")
        )

    def reasons(self) -> "pd.DataFrame":
        """Criteria that end candidacy, by how many cases or discs fail them."""
        return count_table(self._once(counts.reasons, self._outcomes), _OF_CRITERION, ("failing", "sole"))

    def missing_ranking(self) -> "pd.DataFrame":
        """Missing facts, by how many cases each would settle."""
        return count_table(
            self._once(missing_ranking, self._evaluation),
            ("element", "label", "ask", "burden"),
            ("waiting", "settles"),
        )

    def firm(self, sample: int = 200, seed: int = 1, limit: float = 0.05) -> "pd.DataFrame":
        """How many cases stand within measurement error of moving, by standing; see `candidacy.firm`.

        Parameters
        ----------
        sample
            Most cases that are asked, one by one and exactly; of more a random sample is drawn, and the rows say how many.
        seed
            Seed of the sample.
        limit
            A case counts as moving where one repeat of what was measured would change its standing more often than this.

        Returns
        -------
        DataFrame
            A row for each standing: ``cases``, ``asked`` of them, ``told`` (a figure can be given: safety does not decide and
            no facts are missing), ``moving``, and ``share`` of those told that move.

        Raises
        ------
        ValueError
            For a sample below 1, or a limit outside 0 to 1.
        """
        found = within_error(self._case_standings(), self.open_case, sample, seed, limit)
        return count_table(found, ("standing",), ("cases", "asked", "told", "moving")).assign(
            share=[row["share"] for row in found]
        )

    def _case_standings(self) -> dict[str, str]:
        """The standing of every case, by its reference and in that order."""
        frame = self._evaluation.frame.engine.arrow(
            f"SELECT case_id, standing FROM {self._outcomes.relation} ORDER BY case_id"
        )
        return dict(
            zip(frame.column("case_id").to_pylist(), frame.column("standing").to_pylist(), strict=True)
        )

    # --- what if

    def sweep(self, ranges: Mapping[str, Sequence[Scalar | tuple[Scalar, ...]]]) -> "pd.DataFrame":
        """Cases by standing for every combination of the values of one or several parameters, in one pass.

        Parameters
        ----------
        ranges
            Values by ``criterion.parameter``, or by the parameter's name where only one criterion has it.

        Raises
        ------
        TableError
            For a parameter that does not exist, or too many combinations.
        RuleError
            For a value that the parameter does not allow.
        """
        keys = find_all(self.rule_set, ranges)
        points = points_of(keys)
        found = sweep(self._evaluation, points)
        import pandas as pd

        values = [{f"{c}.{p}": _shown(v) for (c, p), v in point.items()} for point in points]
        return pd.concat(
            [pd.DataFrame(values).convert_dtypes(), count_table(found, (), tuple(STANDINGS))], axis=1
        )

    def compare(self, other: RuleSet | str) -> "Comparison":
        """The same cases under another rule set: who moves, and because of which criterion."""
        rules = load_rule_set(other) if isinstance(other, str) else other
        self._compared += 1
        moved = compare(self._evaluation, rules, f"moved_{self._compared}")
        return Comparison((self.rule_set, rules), moved)

    # --- outputs

    @property
    def input_paths(self) -> tuple[Path, ...]:
        """Files and folders that are screened; frames have none."""
        return tuple(each.path for each in self._kept.inputs.tables.values())

    def input_digests(self) -> dict[str, str]:
        """SHA-256 of each input by what it is for; see `candidacy.cohort.inputs.digests.input_digests`.

        Raises
        ------
        TableError
            E101 if an input changed since the screening began.
        """
        found: dict[str, str] = self._once(input_digests, self._kept.inputs)
        return found

    def write(
        self,
        folder: Path | str,
        *,
        mask_below: int = 0,
        csv: bool = False,
        replace: bool = False,
        sweep: "pd.DataFrame | None" = None,
        comparison: "Comparison | None" = None,
        progress: "Progress | None" = None,
    ) -> Path:
        """Write everything to a folder, whole or not at all; see `candidacy.cohort.output.writing.write_cohort`."""
        from candidacy.cohort.output.writing import write_cohort

        return write_cohort(
            self, Path(folder), mask_below=mask_below, csv=csv, replace=replace, sweep=sweep,
            comparison=comparison, progress=progress,
        )  # fmt: skip

    def summary(self, mask_below: int = 0) -> str:
        """A self-contained HTML page."""
        from candidacy.cohort.output.summary import summary_page

        return summary_page(self, mask_below)

    def open_case(self, case_id: str) -> Assessment:
        """A row of the table as a full assessment, with the same outcomes.

        Raises
        ------
        TableError
            If there is no such case.
        """
        return assess(self._evaluation.frame.opener(case_id), self.rule_set, self.as_of)


@dataclass(frozen=True)
class Comparison:
    """Two rule sets on the same cases; it can be asked as long as its cohort is open."""

    rule_sets: tuple[RuleSet, RuleSet]
    moved: Moved = field(repr=False)

    @property
    def one(self) -> str:
        """Id of the rule set of the cohort."""
        return self.rule_sets[0].id

    @property
    def other(self) -> str:
        """Id of the rule set it is compared with."""
        return self.rule_sets[1].id

    @cached_property
    def count(self) -> int:
        """How many cases move."""
        return self.moved.count()

    @cached_property
    def moves(self) -> "pd.DataFrame":
        """Cases by standing under the one and the other, and by each criterion that makes the difference."""
        return count_table(self.moved.moves(), ("from", "to", "criterion", "change"), ("cases",))

    @cached_property
    def cases(self) -> "pd.DataFrame":
        """Every case that moves: its two standings and the criteria."""
        return nullable_frame(self.moved.engine.arrow(self.moved.cases()))


def _shown(value: Any) -> Any:
    return ", ".join(map(str, value)) if isinstance(value, tuple) else value
