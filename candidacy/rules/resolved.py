"""A rule set with everything it selects, departs from and inherits worked out: what evaluation uses."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from math import inf
from typing import Any

from msgspec import Struct
from msgspec.structs import asdict
from pydantic import BaseModel

from candidacy.case.element import Element
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import Code, Problem, RuleError, shorten
from candidacy.foundation.notebook import table
from candidacy.rules.cited import Citation, Parameter, Setting, Source, Table, TableRow
from candidacy.rules.conditions import Scalar
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.fit import misfits
from candidacy.rules.relations import Relation
from candidacy.rules.replacing import Replacement
from candidacy.rules.rule_set_file import Companion, ForceChange, ParameterChange, RuleSetFile
from candidacy.rules.tree import Age, Node, lower
from candidacy.rules.vocabulary import Force


class ResolvedParameter(Struct, frozen=True):
    """A parameter with the value in use, the default it replaces, and where the value comes from.

    ``before_trial`` is the value that a local trial took the place of, and nothing where none is tried.
    """

    name: str
    value: Scalar | tuple[Scalar, ...]
    unit: str | None
    declared: Parameter | Setting
    change: ParameterChange | None = None
    before_trial: Scalar | tuple[Scalar, ...] | None = None

    @property
    def cites(self) -> tuple[Citation, ...]:
        return self.change.cites if self.change else self.declared.cites

    @property
    def departs(self) -> bool:
        """Whether the value in use differs from the default of the library."""
        return self.change is not None and self.change.value != self.declared.value


@dataclass(frozen=True)
class ResolvedCriterion:
    """A criterion as one rule set uses it."""

    criterion: Criterion
    force: Force
    parameters: Mapping[str, ResolvedParameter]
    force_change: ForceChange | None = None

    @property
    def id(self) -> str:
        return self.criterion.id

    @cached_property
    def when(self) -> Node:
        """The tree of its condition, with the parameters in use and the age that facts may have."""
        return lower(self.criterion.when, self.parameters, self._ages, ("when",), self.danger_stands)

    @cached_property
    def applies_when(self) -> Node | None:
        """The tree of the condition under which it applies, if there is one."""
        written = self.criterion.applies_when
        if written is None:
            return None
        return lower(written, self.parameters, self._ages, ("applies_when",), self.danger_stands)

    @cached_property
    def applies_at_any_age(self) -> Node | None:
        """The same, read of facts however old they are: whether a criterion may weigh what a record says."""
        written = self.criterion.applies_when
        return None if written is None else lower(written, self.parameters, {}, ("applies_when",))

    @property
    def conditions(self) -> tuple[Node, ...]:
        """Its condition, and the one under which it applies if there is one."""
        return (self.when,) if self.applies_when is None else (self.when, self.applies_when)

    @property
    def danger_stands(self) -> bool:
        """Whether a sign of danger acts however old it is, or undated: where a failure is an emergency.

        Only the denial of such a sign grows too old. `candidacy.rules.fit` refuses a condition in which a test that is met
        could do anything but fail the criterion.
        """
        return self.force == "stop"

    @property
    def _ages(self) -> dict[str, Age]:
        recency = self.criterion.recency
        limit = self.parameters.get(recency.max_age.parameter) if recency is not None else None
        if recency is None or limit is None or isinstance(limit.value, str | tuple):
            return {}
        return dict.fromkeys(recency.elements, Age(float(limit.value), limit.unit or "day", recency.dated_by))


def as_declared(criterion: Criterion) -> ResolvedCriterion:
    """A criterion with its own defaults, as no rule set has changed it."""
    parameters = {n: ResolvedParameter(n, p.value, p.unit, p) for n, p in criterion.parameters.items()}
    return ResolvedCriterion(criterion, criterion.force, parameters)


class Tables:
    """Tables of published values, loaded when a derivation first asks for one."""

    def __init__(
        self, load: Callable[[str], Table] | None, digest: str = "", names: tuple[str, ...] = ()
    ) -> None:
        self._load = load
        self._tables: dict[str, Table] = {}
        self.names = names
        self._rows: dict[str, dict[str, TableRow]] = {}
        self._values: dict[str, Mapping[str, Mapping[str, Any]]] = {}
        self.digest = digest

    def __call__(self, name: str) -> Mapping[str, Mapping[str, Any]]:
        """Rows by key, each a mapping of column to value."""
        if name not in self._values:
            self._values[name] = {key: row.values for key, row in self._table(name).items()}
        return self._values[name]

    def row(self, name: str, key: str) -> TableRow:
        """One row with its citations and its note.

        Raises
        ------
        KeyError
            If there is no such table or row.
        """
        return self._table(name)[key]

    def table(self, name: str) -> Table:
        """One table as written.

        Raises
        ------
        KeyError
            If there are no tables here.
        RuleError
            If there is no such table.
        """
        if name not in self._tables:
            if self._load is None:
                raise KeyError(name)
            self._tables[name] = self._load(name)
        return self._tables[name]

    def _table(self, name: str) -> dict[str, TableRow]:
        if name not in self._rows:
            self._rows[name] = {row.key: row for row in self.table(name).rows}
        return self._rows[name]


# So many changes of an extended rule set stand in an answer.
_DEPARTURES = 6


@dataclass(frozen=True, repr=False)
class RuleSet:
    """A loaded rule set. ``trial`` names parameters changed locally for a trial, never saved.

    ``library`` finds another rule set where this one was found. ``elements`` are the data elements that are not shipped,
    ``replaced`` what stands in the place of shipped content, ``extended`` the rule set it extends, with its version, and
    ``departures`` what it changes of that one, a phrase each.
    """

    file: RuleSetFile
    criteria: tuple[ResolvedCriterion, ...]
    decisions: DecisionOrder
    settings: Mapping[str, ResolvedParameter]
    sources: Mapping[str, Source]
    tables: Tables = field(default_factory=lambda: Tables(None))
    relations: Mapping[str, Relation] = field(default_factory=dict)
    path: str = ""
    trial: tuple[str, ...] = field(default=())
    companions: tuple[Companion, ...] = ()
    library: "Callable[[str], RuleSet] | None" = field(default=None, repr=False, compare=False)
    elements: tuple[Element, ...] = ()
    replaced: tuple[Replacement, ...] = ()
    extended: str = ""
    departures: tuple[str, ...] = ()

    @property
    def own_words(self) -> tuple[str, ...]:
        """What of one's own an answer must not leave unsaid: shipped content replaced, and what the extended rule set says otherwise."""
        return (*self.replaced_words, *self.departs_words)

    @property
    def departs_words(self) -> tuple[str, ...]:
        """A sentence with what is other here than in the rule set it extends; nothing where all is the same."""
        if not self.departures:
            return ()
        said, left = "; ".join(self.departures[:_DEPARTURES]), len(self.departures) - _DEPARTURES
        parent = self.extended.partition(" ")[0]
        more = f"; and {left} more, which candidacy rules diff {parent} {self.id} lists" if left > 0 else ""
        return (f"The rule set {self.id} departs from {self.extended}: {said}{more}.",)

    @property
    def id(self) -> str:
        return self.file.id

    @property
    def replaced_words(self) -> tuple[str, ...]:
        """What of one's own stands in the place of shipped content, a sentence each."""
        return tuple(f"{each.words[:1].upper()}{each.words[1:]}." for each in self.replaced)

    @cached_property
    def digest(self) -> str:
        """Digest of everything that can change an assessment or what is said about it."""
        return digest(
            {
                "rule_set": self.file.model_dump(mode="json", by_alias=True, exclude_defaults=True),
                "criteria": [
                    {
                        "criterion": item.criterion.model_dump(
                            mode="json", by_alias=True, exclude_defaults=True
                        ),
                        "force": item.force,
                        "force_change": _dump(item.force_change),
                        "parameters": {name: _in_use(p) for name, p in item.parameters.items()},
                    }
                    for item in self.criteria
                ],
                "decisions": self.decisions.model_dump(mode="json", exclude_defaults=True),
                "settings": {name: _in_use(s) for name, s in self.settings.items()},
                "sources": {key: _dump(source) for key, source in self.sources.items()},
                "tables": self.tables.digest,
                "relations": self.relations_digest,
                "trial": list(self.trial),
                "companions": [_dump(companion) for companion in self.companions],
                "elements": [_dump(element) for element in self.elements],
                "replaced": [asdict(each) for each in self.replaced],
                "extended": self.extended,
            }
        )

    @cached_property
    def relations_digest(self) -> str:
        """Digest of the relations, by which what was made ready from them is kept."""
        return digest_of_relations(self.relations)

    def __repr__(self) -> str:
        trial = f", local trial of {'; '.join(self.trial)}" if self.trial else ""
        return f"RuleSet({self.id} {self.file.version}, {self.file.status}: {len(self.criteria)} criteria{trial})"

    def _repr_html_(self) -> str:
        rows = [
            (item.id, item.criterion.subject, item.criterion.kind, item.force, item.criterion.title)
            for item in self.criteria
        ]
        title = f"{self.file.title} ({self.id} {self.file.version}, {self.file.status})"
        trial = [f"Local trial: {each}" for each in self.trial]
        notes = [self.file.scope, *trial, *self.file.cautions, f"Digest {self.digest}"]
        return table(title, ("criterion", "of", "kind", "force", "title"), rows, notes)

    def setting_values(self) -> dict[str, Scalar | tuple[Scalar, ...]]:
        return {name: setting.value for name, setting in self.settings.items()}

    def criterion(self, identifier: str) -> ResolvedCriterion:
        """The criterion of that id.

        Raises
        ------
        KeyError
            If the rule set does not use it.
        """
        for item in self.criteria:
            if item.id == identifier:
                return item
        raise KeyError(identifier)

    def with_trial(self, changes: Mapping[tuple[str, str], Scalar | tuple[Scalar, ...]]) -> "RuleSet":
        """A copy in which parameters are changed as a local trial, marked as such everywhere.

        Parameters
        ----------
        changes
            New values by (criterion id, parameter name).

        Raises
        ------
        RuleError
            E304 for a parameter that does not exist, E203 or E205 for a value of the wrong kind or
            outside the bounds of the parameter, and what `candidacy.rules.fit` finds.
        """
        problems: list[Problem] = []
        criteria = {item.id: item for item in self.criteria}
        for (criterion_id, name), value in changes.items():
            item = criteria.get(criterion_id)
            parameter = item.parameters.get(name) if item else None
            if item is None or parameter is None:
                problems.append(
                    Problem(
                        Code.UNKNOWN_PARAMETER,
                        "this rule set has no such parameter",
                        self.path or self.id,
                        field=f"{criterion_id}.{name}",
                        expected=", ".join(f"{c.id}.{p}" for c in self.criteria for p in c.parameters)[:400],
                    )
                )
                continue
            problem = value_problem(parameter.declared, value, f"{criterion_id}.{name}", self.path or self.id)
            if problem is not None:
                problems.append(problem)
                continue
            change = ParameterChange(
                value=value,
                unit=parameter.unit,
                reason="local trial",
                cites=(Citation(source="local_trial", supports="value", tag="local"),),
            )
            before = parameter.value if parameter.before_trial is None else parameter.before_trial
            changed = replace(parameter, value=value, change=change, before_trial=before)
            criteria[criterion_id] = replace(item, parameters={**item.parameters, name: changed})
        for criterion_id in dict.fromkeys(criterion_id for criterion_id, _ in changes):
            for wrong in misfits(criteria[criterion_id]) if criterion_id in criteria else ():
                field = f"{criterion_id}.{wrong.path[-1]}"
                problems.append(
                    Problem(
                        wrong.code, wrong.message, self.path or self.id, field=field, found=wrong.found,
                        expected=wrong.expected,
                    )
                )  # fmt: skip
        if problems:
            raise RuleError(problems)
        trial = (*self.trial, *sorted(f"{c}.{p} = {_plain(v)}" for (c, p), v in changes.items()))
        return replace(self, criteria=tuple(criteria[item.id] for item in self.criteria), trial=trial)


def value_problem(
    declared: Parameter | Setting, value: object, label: str, name: str, line: int = 0, column: int = 0
) -> Problem | None:
    """Say what is wrong with a new value of a parameter or setting: its kind, or its bounds."""
    bounds = declared.allowed
    number = isinstance(declared.value, int | float) and not isinstance(declared.value, bool)
    given = isinstance(value, int | float) and not isinstance(value, bool) and -inf < value < inf
    if number != given or (not number and type(value) is not type(declared.value)):
        return Problem(
            Code.WRONG_TYPE,
            "not the kind of value this parameter has",
            name,
            line,
            column,
            field=label,
            found=shorten(value),
            expected=f"like {declared.value!r}",
        )
    outside = isinstance(value, int | float) and (
        bounds is not None
        and (
            (bounds.low is not None and value < bounds.low)
            or (bounds.high is not None and value > bounds.high)
        )
    )
    if outside and bounds is not None:
        return Problem(
            Code.IMPOSSIBLE_VALUE,
            "outside the bounds of this parameter",
            name,
            line,
            column,
            field=label,
            found=shorten(value),
            expected=f"{bounds.low} to {bounds.high}",
        )
    choices = getattr(declared, "choices", None)
    if choices is not None and value not in choices:
        return Problem(
            Code.BAD_CHOICE,
            "not a choice of this setting",
            name,
            line,
            column,
            field=label,
            found=shorten(value),
            expected=", ".join(choices),
        )
    return None


_digests: dict[int, tuple[Mapping[str, Relation], str]] = {}


def digest_of_relations(relations: Mapping[str, Relation]) -> str:
    """The digest of relations; all rule sets of one library share them, so it is made once."""
    kept = _digests.get(id(relations))
    if kept is not None and kept[0] is relations:
        return kept[1]
    return know_digest(relations, digest({name: _dump(relation) for name, relation in relations.items()}))


def know_rule_set(rule_set: RuleSet, known: str) -> None:
    """Note the digest of a rule set, where it was made earlier of the same content."""
    vars(rule_set)["digest"] = known


def know_digest(relations: Mapping[str, Relation], known: str) -> str:
    """Note the digest of relations that are not changed from here on."""
    if len(_digests) >= 64:
        _digests.clear()
    _digests[id(relations)] = relations, known
    return known


def _dump(part: BaseModel | None) -> Any:
    return part.model_dump(mode="json", exclude_defaults=True) if part is not None else None


def _in_use(parameter: ResolvedParameter) -> list[Any]:
    return [_plain(parameter.value), parameter.unit, _dump(parameter.change)]


def _plain(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value
