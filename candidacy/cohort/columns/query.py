"""A rule set over a frame: one query that gives every outcome and standing, in layers.

Discs come first; then the patient's criteria, which may count them; then the case.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from candidacy.case.element import LEVELS
from candidacy.cohort.columns.conditions import ColumnarCriterion, read_criterion
from candidacy.cohort.columns.element_columns import ElementColumns
from candidacy.cohort.columns.facts_table import FactsTable
from candidacy.cohort.columns.record_says import RecordSays, record_says
from candidacy.cohort.columns.stack import Stack, in_rows
from candidacy.cohort.columns.standings import (
    RECORD,
    ForceOutcomes,
    case_standing,
    forces_of,
    of_force,
    of_record,
    state,
    state_column,
    worked_out,
)
from candidacy.cohort.engines import sqltext as sql
from candidacy.rules.resolved import ResolvedCriterion, RuleSet

# Up to so many cases what is worked out is kept. A larger table takes longer to write than to work out again.
MOST_HELD = 100_000
# Columns: more of them take longer through the join of each lookup than one more join behind them.
_WIDE = 500


@dataclass
class ColumnarEvaluation:
    """A rule set in columns.

    Attributes
    ----------
    discs
        Criteria of each disc that any case names, by level.
    patient
        Criteria of the patient.
    record
        What the record itself says of the patient and of each disc.
    """

    frame: FactsTable
    rule_set: RuleSet
    as_of: date
    shelf: ElementColumns
    discs: dict[str, list[ColumnarCriterion]]
    patient: list[ColumnarCriterion]
    considered: dict[str, str] = field(default_factory=dict)
    record: dict[str, RecordSays] = field(default_factory=dict)
    prefix: str = "r"

    def __post_init__(self) -> None:
        # what is worked out already stands in a relation as columns, beside those of the frame
        self._relation = self.frame.relation
        self._columns = tuple(self.frame.engine.columns(f"SELECT * FROM {self._relation}"))
        # of a table at hand: in which of several tables each column stands
        self._tables = dict.fromkeys(self._columns, self._relation)

    @property
    def order(self) -> list[ResolvedCriterion]:
        """Criteria in the declared order."""
        return list(self.rule_set.criteria)

    @property
    def answers(self) -> list[str]:
        """Columns of everything that is said of a case: outcomes, standings, what the record says, which discs it names."""
        kept = ("passes_", "standing", "named_", "considered_", "record_")
        return [name for name in self._answers if name.startswith(kept)]

    def beside(self, first: "ColumnarEvaluation", columns: Mapping[str, str]) -> None:
        """Read the cases with answers of another evaluation of them beside, as columns by their new names."""
        quote = sql.identifier
        chosen = [
            *map(quote, self._columns),
            *(f"{quote(old)} AS {quote(new)}" for new, old in columns.items()),
        ]
        self._relation, self._columns = f"{self.prefix}_beside", (*self._columns, *columns)
        engine = self.frame.engine
        if self.frame.rows is None:
            engine.view(self._relation, first.select(chosen))
        else:
            engine.keep({self._relation: first.select(chosen)})
        self._tables = dict.fromkeys(self._columns, self._relation)

    def hold(self) -> None:
        """Work everything out once and keep it, so that what is asked later is a short query.

        To plan these queries takes longer than to read a small table, and lookups beside all else longest; a large
        table is better read in one pass than written again.
        """
        if self.frame.cases > MOST_HELD:
            return
        engine, quote = self.frame.engine, sql.identifier
        stack = self.stack(self._answers.values(), {})
        # what the answers read themselves is read again by what is asked later; what lies beneath it is not
        kept = [*self._answers, *(name for name in stack.made if name in stack.top)]
        kept = list(dict.fromkeys(kept))
        if self.frame.rows is not None:
            chosen, read = list(map(quote, kept)), f"{self.prefix}_read"
            self._tables = self._in_steps(read, chosen, self.stack(chosen, {})) | dict.fromkeys(kept, read)
            self._columns, self._relation = tuple(self._tables), in_rows(self._tables.values())
            return
        if stack.joined:
            looked_up, wide = f"{self.prefix}_looked_up", len(self._columns) > _WIDE
            columns = (self.frame.case_id,) if wide else tuple(map(quote, self._columns))
            held = f"{self.prefix}_found" if wide else looked_up
            engine.hold(held, self.select([*columns, *map(quote, stack.joined)]))
            if wide:
                self._put_beside(looked_up, held, stack.joined)
            else:
                self._relation, self._columns = looked_up, (*self._columns, *stack.joined)
        engine.hold(f"{self.prefix}_read", self.select([self.frame.case_id, *map(quote, kept)]))
        self._put_beside(f"{self.prefix}_known", f"{self.prefix}_read", kept)

    def hold_as(
        self, name: str, chosen: Sequence[str], more: Mapping[str, str] | None = None, where: str = ""
    ) -> None:
        """Work a query over the cases out once and keep its answer as ``name``; see `select`."""
        if self.frame.rows is None:
            self.frame.engine.hold(name, self.select(chosen, more, where))
        else:
            self._in_steps(name, chosen, self.stack([*chosen, where], more or {}), where)

    def _in_steps(self, name: str, chosen: Sequence[str], stack: Stack, where: str = "") -> dict[str, str]:
        """The same of a table at hand: one layer after another, none of which carries what only others read.

        Gives the table of each column beneath.
        """
        below = self._tables | {column: join.in_rows for join in stack.joins for column in join.columns}
        layers, over = stack.steps(below, f"{self.prefix}_step")
        some = f" WHERE {where}" if where else ""
        whole = f"SELECT {', '.join(chosen)} FROM {over or self._relation}{some}"
        self.frame.engine.keep({**layers, name: whole})
        return below

    def _put_beside(self, name: str, held: str, columns: Sequence[str]) -> None:
        """Read the cases with columns that another relation holds of them."""
        quote = sql.identifier
        chosen = ", ".join([*(f"one.{quote(each)}" for each in self._columns), *map(quote, columns)])
        same = f"one.{self.frame.case_id} = other.{self.frame.case_id}"
        self.frame.engine.view(
            name, f"SELECT {chosen} FROM {self._relation} AS one JOIN {held} AS other ON {same}"
        )
        self._relation, self._columns = name, (*self._columns, *columns)

    def stack(self, read: Iterable[str], more: Mapping[str, str]) -> Stack:
        """What a query reads of everything that can be said of a case.

        That is the columns of the frame, the truth columns of `passes_column`, the disc standings (``standing_n``) and the
        case standing (``standing``), and ``more``: further expressions by name. ``read`` is the SQL that looks at
        them.
        """
        definitions = self.shelf.definitions | self._answers | dict(more)
        return Stack(read, definitions, self._columns, self.shelf.answers.joins)

    def select(self, chosen: Sequence[str], more: Mapping[str, str] | None = None, where: str = "") -> str:
        """A query over the cases; see `stack`."""
        over = self.stack([*chosen, where], more or {}).over(self._relation)
        return f"SELECT {', '.join(chosen)} FROM {over}{f' WHERE {where}' if where else ''}"

    @cached_property
    def _answers(self) -> dict[str, str]:
        made = {f"named_{LEVELS.index(level)}": self.frame.named(level) for level in self.discs}
        made |= {f"considered_{LEVELS.index(level)}": truth for level, truth in self.considered.items()}
        for criterion in (*(each for level in self.discs for each in self.discs[level]), *self.patient):
            made[passes_column(criterion)] = criterion.passes
        for level in ("", *self.discs):
            made |= dict(self._record_columns(level))
        for level in self.discs:
            place = LEVELS.index(level)
            columns, by_force = worked_out(self.grounds(level), str(place))
            made |= columns
            standing = case_standing(by_force, {}, self.rule_set.decisions)
            made[f"standing_{place}"] = f"CASE WHEN named_{place} THEN {standing} END"
            of_disc = state(by_force, self.rule_set.decisions)
            made[state_column(level)] = f"CASE WHEN named_{place} THEN {of_disc} END"
        discs = {level: f"standing_{LEVELS.index(level)}" for level in self.discs}
        columns, by_force = worked_out(self.grounds(""), "case", counted=False)
        return made | columns | {"standing": case_standing(by_force, discs, self.rule_set.decisions)}

    def grounds(self, level: str, prefix: str = "") -> dict[str, ForceOutcomes]:
        """Everything that the decision rules may look at for a disc, or for the case where ``level`` is empty."""
        found = outcomes_by_force(self.discs[level] if level else self.patient, prefix)
        if RECORD not in forces_of(self.rule_set.decisions):
            return found
        levels = [level] if level else ["", *self.discs]
        conflict, danger = [], []
        for each in levels:
            says = self.record.get(each, RecordSays())
            # for the case, a disc that is not to be treated tells of no danger, but of what cannot be
            here = f"(considered_{LEVELS.index(each)} IS NOT FALSE)" if each and not level else sql.TRUE
            if says.conflict != sql.FALSE:
                conflict.append(f"{prefix}{record_column('conflict', each)}")
            if says.danger != sql.FALSE:
                danger.append(sql.all_of((here, f"{prefix}{record_column('danger', each)}")))
        found[RECORD] = of_record(sql.any_of(conflict), sql.any_of(danger))
        return found

    def _record_columns(self, level: str) -> Iterator[tuple[str, str]]:
        says = self.record.get(level, RecordSays())
        named = f"named_{LEVELS.index(level)}" if level else sql.TRUE
        for what in ("conflict", "danger"):
            said = getattr(says, what)
            if said != sql.FALSE:
                yield record_column(what, level), sql.all_of((named, said))

    def outcome_query(self) -> str:
        """One row per case: standing, the patient's outcomes, then each disc's (``L4-L5: criterion``).

        A disc that a case does not name has no outcomes there.
        """
        quote = sql.identifier
        chosen = [f"{self.frame.case_id} AS case_id", "standing"]
        for criterion in self.patient:
            chosen.append(f"{_outcome(_said(criterion), '')} AS {quote(criterion.id)}")
        for level, criteria in self.discs.items():
            place = LEVELS.index(level)
            named = f"named_{place}"
            chosen.append(
                f"CASE WHEN {named} THEN considered_{place} END AS {quote(disc_column(level, 'considered'))}"
            )
            chosen.append(f"standing_{place} AS {quote(disc_column(level, 'standing'))}")
            for criterion in criteria:
                outcome = _outcome(_said(criterion), named)
                chosen.append(f"{outcome} AS {quote(disc_column(level, criterion.id))}")
        return self.select(chosen)


def passes_column(criterion: ColumnarCriterion) -> str:
    """Name of the truth column of a criterion and subject."""
    if criterion.subject == "patient":
        return f"passes_{criterion.id}"
    return f"passes_{LEVELS.index(criterion.subject)}_{criterion.id}"


def _said(criterion: ColumnarCriterion, prefix: str = "") -> str:
    """The truth of a criterion: its column, or itself where it is the same for every case, so that no layer carries it."""
    return criterion.passes if sql.is_constant(criterion.passes) else prefix + passes_column(criterion)


def record_column(what: str, level: str) -> str:
    """Name of the column of a conflict or danger of a disc, or of the patient where ``level`` is empty."""
    return f"record_{what}_{LEVELS.index(level)}" if level else f"record_{what}"


def disc_column(level: str, what: str) -> str:
    """Name of an output column of a disc."""
    return f"{level}: {what}"


def outcomes_by_force(criteria: list[ColumnarCriterion], prefix: str = "") -> dict[str, ForceOutcomes]:
    """The truth columns of some criteria of one subject, joined by force."""
    found: dict[str, list[str]] = {}
    for criterion in criteria:
        found.setdefault(criterion.resolved.force, []).append(_said(criterion, prefix))
    return {force: of_force(passes) for force, passes in found.items()}


def _outcome(column: str, named: str) -> str:
    words = [f"'{word}'::outcome" for word in ("pass", "fail", "undetermined")]
    if sql.is_constant(column):
        word = words[(sql.TRUE, sql.FALSE, sql.UNKNOWN).index(column)]
        return f"CASE WHEN {named} THEN {word} END" if named else word
    nothing = f"WHEN NOT {named} THEN NULL " if named else ""
    return f"CASE {nothing}WHEN {column} IS NULL THEN {words[2]} WHEN {column} THEN {words[0]} ELSE {words[1]} END"


def read(frame: FactsTable, rule_set: RuleSet, as_of: date, prefix: str = "r") -> ColumnarEvaluation:
    """Turn a rule set into columns of a frame.

    Parameters
    ----------
    prefix
        Keeps the tables of several readings of one frame apart.
    """
    shelf = ElementColumns(frame, rule_set, as_of, prefix)
    per_disc = [item for item in rule_set.criteria if item.criterion.subject == "disc"]
    per_case = [item for item in rule_set.criteria if item.criterion.subject == "patient"]
    discs = {
        level: [read_criterion(shelf, rule_set, item, level) for item in per_disc] for level in frame.levels
    }
    considered = {}
    for level in frame.levels:
        columns = shelf.fact("considered_for_treatment", level)
        truth = sql.UNKNOWN
        if columns:
            from candidacy.cohort.columns.conditions import column_test

            truth = column_test(columns[0], "is", (True,))
        considered[level] = truth
    patient = [read_criterion(shelf, rule_set, item, "patient") for item in per_case]
    record = record_says(shelf)
    return ColumnarEvaluation(frame, rule_set, as_of, shelf, discs, patient, considered, record, prefix)
