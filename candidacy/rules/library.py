"""Load sources, criteria, decision rules, settings and rule sets from a folder, and resolve rule sets.

Layout of the folder::

    sources.yaml  settings.yaml
    criteria/<group>/<id>.yaml  criteria/<group>/<id>.cases.yaml
    decisions/<id>.yaml  tables/<id>.yaml  relations/<topic>.yaml
    sets/<id>/ruleset.yaml  sets/<id>/CHANGELOG.md
"""

import os
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, Field

from candidacy.case.catalogue import Strict
from candidacy.foundation.digest import digest, file_digest
from candidacy.foundation.errors import Code, InputError, Problem, RuleError, shorten
from candidacy.foundation.files import Node, nearest, read_tree
from candidacy.foundation.shape import validate
from candidacy.foundation.shipped import rulesets_folder
from candidacy.rules.conditions import Condition
from candidacy.rules.findings import Findings
from candidacy.rules.fit import misfits, order_misfits
from candidacy.rules.relation_fit import circle_of, relation_misfits
from candidacy.rules.relations import Relation, RelationFile
from candidacy.rules.resolved import (
    ResolvedCriterion,
    ResolvedParameter,
    RuleSet,
    Tables,
    as_declared,
    value_problem,
)
from candidacy.rules.schema import (
    Alternative,
    Citation,
    Companion,
    Criterion,
    DecisionOrder,
    DecisionRule,
    OtherDiscSteps,
    Parameter,
    ParameterChange,
    RuleSetFile,
    Selection,
    Setting,
    Source,
    Table,
)

_Model = TypeVar("_Model", bound=BaseModel)


class _Sources(Strict):
    sources: dict[str, Source]


class _Settings(Strict):
    settings: dict[str, Setting] = Field(default_factory=dict)


class Library:
    """Rule content of one folder, read on demand.

    Parameters
    ----------
    folder
        A folder of the layout above.
    base
        A library to fall back on for criteria, decision rules, settings and sources.
    """

    def __init__(self, folder: Path, base: "Library | None" = None) -> None:
        self.folder = folder
        self.base = base
        self._trees: dict[Path, Node] = {}
        self._criteria: dict[str, Criterion] = {}
        self._files = {p.name.removesuffix(".yaml"): p for p in _yaml_files(folder / "criteria")}
        self._companions: dict[str, RuleSet] = {}
        self._sources: dict[str, Source] | None = None
        self._settings: dict[str, Setting] | None = None
        self._relations: dict[str, Relation] | None = None

    # --- what there is

    def criterion_files(self) -> dict[str, Path]:
        """Files of the criteria of this folder, by id."""
        return dict(sorted(self._files.items()))

    def rule_set_files(self) -> dict[str, Path]:
        """Files of the rule sets of this folder, by id."""
        return {p.parent.name: p for p in sorted((self.folder / "sets").glob("*/ruleset.yaml"))}

    def criterion_names(self) -> list[str]:
        """Ids of all criteria that may be selected, those of the base among them."""
        return sorted({*self._files, *(self.base.criterion_names() if self.base else ())})

    def rule_set_names(self) -> list[str]:
        """Ids of all rule sets, those of the base among them."""
        return sorted({*self.rule_set_files(), *(self.base.rule_set_names() if self.base else ())})

    def sources(self) -> dict[str, Source]:
        if self._sources is None:
            path = self.folder / "sources.yaml"
            own = self._load(path, _Sources).sources if path.is_file() else {}
            self._sources = {**(self.base.sources() if self.base else {}), **own}
        return self._sources

    def settings(self) -> dict[str, Setting]:
        if self._settings is None:
            path = self.folder / "settings.yaml"
            own = self._load(path, _Settings).settings if path.is_file() else {}
            self._settings = {**(self.base.settings() if self.base else {}), **own}
        return self._settings

    def criterion(self, identifier: str) -> Criterion:
        """Load one criterion.

        Raises
        ------
        RuleError
            E303 if there is none of that id; otherwise whatever is wrong with its file.
        """
        if identifier in self._criteria:
            return self._criteria[identifier]
        path = self._files.get(identifier)
        if path is None:
            if self.base is not None and identifier in self.base.criterion_names():
                return self.base.criterion(identifier)
            close = nearest(identifier, self.criterion_names())
            raise RuleError(
                [
                    Problem(
                        Code.UNKNOWN_CRITERION,
                        "no such criterion",
                        str(self.folder),
                        found=shorten(identifier),
                        expected=f"closest is {close}" if close else "see candidacy rules list",
                    )
                ]
            )
        found = self._load(path, Criterion)
        if found.id != identifier:
            raise RuleError(
                [
                    Problem(
                        Code.BAD_RULE,
                        "the id differs from the file name",
                        str(path),
                        found=found.id,
                        expected=identifier,
                    )
                ]
            )
        self._criteria[identifier] = found
        return found

    def table_files(self) -> dict[str, Path]:
        """Files of the tables of this folder, by id."""
        return {p.stem: p for p in sorted((self.folder / "tables").glob("*.yaml"))}

    def table(self, identifier: str) -> Table:
        """Load one table of published values."""
        path = self.table_files().get(identifier)
        if path is None and self.base is not None:
            return self.base.table(identifier)
        return self._load(path or self.folder / "tables" / f"{identifier}.yaml", Table)

    def tables(self) -> Tables:
        """All tables, loaded on demand, with the digest of their files."""
        parts = [file_digest(path) for path in self.table_files().values()]
        if self.base is not None:
            parts.append(self.base.tables().digest)
        return Tables(self.table, digest(parts))

    def decisions(self, identifier: str) -> DecisionOrder:
        """Load an order of decision rules.

        Raises
        ------
        RuleError
            With everything that is wrong with it; E313 if it would leave a case undecided.
        """
        path = self.folder / "decisions" / f"{identifier}.yaml"
        if not path.is_file() and self.base is not None:
            return self.base.decisions(identifier)
        order = self._load(path, DecisionOrder)
        problems = Findings(path, self.tree(path))
        for wrong in order_misfits(order):
            problems.add_misfit(wrong)
        problems.stop()
        return order

    def relation_files(self) -> dict[str, Path]:
        """Files of the relations of this folder, by topic."""
        return {p.stem: p for p in sorted((self.folder / "relations").glob("*.yaml"))}

    def relations(self) -> dict[str, Relation]:
        """Every relation by its element; one of this folder replaces that of the base.

        Raises
        ------
        RuleError
            With everything that is wrong; E105 if an element has two in one folder, E310 if relations form a circle.
        """
        if self._relations is None:
            found = dict(self.base.relations()) if self.base else {}
            own: set[str] = set()
            for path in self.relation_files().values():
                file = self._load(path, RelationFile)
                problems = Findings(path, self.tree(path))
                for number, relation in enumerate(file.relations):
                    place = ("relations", number)
                    if relation.element in own:
                        problems.add((*place, "element"), Code.DUPLICATE_KEY, "two relations are of this element",
                                     found=relation.element)  # fmt: skip
                    own.add(relation.element)
                    found[relation.element] = relation
                    for wrong in relation_misfits(relation):
                        problems.add_misfit(wrong, place)
                problems.stop()
            circle = circle_of(found)
            if circle:
                raise RuleError(
                    [
                        Problem(
                            Code.CYCLE,
                            "relations form a circle",
                            str(self.folder / "relations"),
                            found=" -> ".join(circle),
                        )
                    ]
                )
            self._relations = found
        return self._relations

    def tree(self, path: Path) -> Node:
        """The file as a tree with places, for checks that name lines."""
        if path not in self._trees:
            self._trees[path] = read_tree(path)
        return self._trees[path]

    def _load(self, path: Path, model: type[_Model]) -> _Model:
        try:
            return validate(model, self.tree(path), str(path), _known_keys)
        except InputError as error:
            raise RuleError(error.problems) from None

    # --- rule sets

    def rule_set(self, identifier: str) -> RuleSet:
        """Load and resolve a rule set of this folder, or of the base.

        Raises
        ------
        RuleError
            E302 if there is none; otherwise everything that is wrong with it.
        """
        path = self.rule_set_files().get(identifier)
        if path is None:
            names = self.rule_set_names()
            if self.base is not None and identifier in self.base.rule_set_names():
                return self.base.rule_set(identifier)
            close = nearest(identifier, names)
            raise RuleError(
                [
                    Problem(
                        Code.UNKNOWN_RULE_SET,
                        "no such rule set",
                        found=shorten(identifier),
                        expected=", ".join(names) + (f" (closest is {close})" if close else ""),
                        next_step="candidacy rules list shows them; a path to a YAML file works too",
                    )
                ]
            )
        return self.resolve(path)

    def companion(self, identifier: str) -> RuleSet:
        """A rule set to stand beside another of this library; resolved once and kept. See `rule_set`."""
        found = self._companions.get(identifier)
        if found is None:
            if self.base is not None and identifier not in self.rule_set_files():
                found = self.base.companion(identifier)
            else:
                found = self.rule_set(identifier)
            self._companions[identifier] = found
        return found

    def resolve(self, path: Path, _below: tuple[str, ...] = ()) -> RuleSet:
        """Load a rule set file and work out what it inherits, selects and changes."""
        file = self._load(path, RuleSetFile)
        problems = Findings(path, self.tree(path))
        parent: RuleSet | None = None
        if file.extends is not None:
            if file.extends == file.id or file.extends in _below:
                chain = " -> ".join((*_below, file.id, file.extends))
                problems.add(
                    ("extends",), Code.CYCLE, "the rule sets extend each other in a circle", found=chain
                )
                problems.stop()
            parent = self._parent(file, (*_below, file.id))
        chosen = {item.id: item for item in parent.criteria} if parent else {}
        settings = dict(parent.settings) if parent else self._default_settings()
        for number, left in enumerate(file.leaves_out):
            if left.id not in chosen:
                problems.add(
                    ("leaves_out", number, "id"),
                    Code.CONTRADICTORY_RULES,
                    "leaves out a criterion that the extended rule set does not have",
                    found=left.id,
                )
            chosen.pop(left.id, None)
        left_out = {left.id for left in file.leaves_out}
        seen: set[str] = set()
        for number, selection in enumerate(file.criteria):
            place = ("criteria", number)
            if selection.id in left_out:
                problems.add(
                    (*place, "id"),
                    Code.CONTRADICTORY_RULES,
                    "is both left out and selected",
                    found=selection.id,
                )
            if selection.id in seen:
                problems.add((*place, "id"), Code.DUPLICATE_KEY, "is selected twice", found=selection.id)
            seen.add(selection.id)
            item = chosen.get(selection.id) or self._default(selection, place, problems)
            if item is not None:
                chosen[selection.id] = _changed(item, selection, place, problems)
        for name, change in file.settings.items():
            if name not in settings:
                problems.add(("settings", name), Code.UNKNOWN_PARAMETER, "no such setting", found=name,
                             expected=", ".join(settings))  # fmt: skip
                continue
            settings[name] = _set(settings[name], change, ("settings", name), problems)
        companions = _companions(file, parent, problems)
        if not chosen and not file.criteria:
            problems.add(("criteria",), Code.BAD_RULE, "the rule set selects no criterion")
        problems.stop()
        return RuleSet(
            file=file,
            criteria=tuple(chosen.values()),
            decisions=self.decisions(file.decisions),
            settings=settings,
            tables=self.tables(),
            relations=self.relations(),
            sources=self.sources(),
            path=str(path),
            companions=companions,
            library=self.companion,
        )

    def _parent(self, file: RuleSetFile, below: tuple[str, ...]) -> RuleSet:
        assert file.extends is not None
        path = self.rule_set_files().get(file.extends)
        return self.resolve(path, below) if path is not None else self.rule_set(file.extends)

    def _default_settings(self) -> dict[str, ResolvedParameter]:
        return {n: ResolvedParameter(n, s.value, s.unit, s) for n, s in self.settings().items()}

    def _default(
        self, selection: Selection, place: tuple[str | int, ...], problems: Findings
    ) -> ResolvedCriterion | None:
        try:
            item = as_declared(self.criterion(selection.id))
        except RuleError as error:
            if error.problems[0].code is Code.UNKNOWN_CRITERION:
                problems.add((*place, "id"), Code.UNKNOWN_CRITERION, "no such criterion", found=selection.id,
                             expected=error.problems[0].expected)  # fmt: skip
            else:
                problems.problems += error.problems
            return None
        unfit = self._misfits_of(item)
        problems.problems += unfit
        return None if unfit else item

    def _misfits_of(self, item: ResolvedCriterion) -> list[Problem]:
        """What of a criterion, as declared, does not fit the catalogue, with its places in its file."""
        path = self._files.get(item.id)
        if path is None:
            return self.base._misfits_of(item) if self.base is not None else []
        found = Findings(path, self.tree(path))
        for wrong in misfits(item):
            found.add_misfit(wrong)
        return found.problems


def _companions(file: RuleSetFile, parent: RuleSet | None, problems: Findings) -> tuple[Companion, ...]:
    """The companions of a rule set: as written, else those of the rule set it extends."""
    if file.companions is None:
        return tuple(c for c in parent.companions if c.id != file.id) if parent else ()
    seen: set[str] = set()
    for number, companion in enumerate(file.companions):
        place = ("companions", number, "id")
        if companion.id == file.id:
            problems.add(place, Code.CYCLE, "a rule set cannot be its own companion", found=companion.id)
        if companion.id in seen:
            problems.add(place, Code.DUPLICATE_KEY, "is named twice", found=companion.id)
        seen.add(companion.id)
    return file.companions


def _changed(
    item: ResolvedCriterion, selection: Selection, place: tuple[str | int, ...], problems: Findings
) -> ResolvedCriterion:
    parameters = dict(item.parameters)
    before = len(problems.problems)
    for name, change in selection.parameters.items():
        if name not in parameters:
            problems.add((*place, "parameters", name), Code.UNKNOWN_PARAMETER, "the criterion has no such parameter",
                         found=name, expected=", ".join(parameters) or "none")  # fmt: skip
            continue
        parameters[name] = _set(parameters[name], change, (*place, "parameters", name), problems)
    changed = replace(item, parameters=parameters)
    if selection.parameters and len(problems.problems) == before:
        for wrong in misfits(changed):
            problems.add_misfit(wrong, (*place, "parameters"))
    if selection.force is not None:
        return replace(changed, force=selection.force.value, force_change=selection.force)
    return changed


def _set(
    parameter: ResolvedParameter, change: ParameterChange, place: tuple[str | int, ...], problems: Findings
) -> ResolvedParameter:
    if change.unit != parameter.unit:
        problems.add(place, Code.UNIT_CONFUSED, "the unit differs from the parameter's", found=str(change.unit),
                     expected=str(parameter.unit))  # fmt: skip
    wrong = value_problem(parameter.declared, change.value, parameter.name, problems.name)
    if wrong is not None:
        problems.add(place, wrong.code, wrong.message, found=wrong.found, expected=wrong.expected)
    return replace(parameter, value=change.value, change=change)


def _yaml_files(folder: Path) -> list[Path]:
    found = [
        Path(place, name)
        for place, _, names in os.walk(folder)
        for name in names
        if name.endswith(".yaml") and not name.endswith(".cases.yaml")
    ]
    return sorted(found)


def _known_keys(path: tuple[Any, ...]) -> list[str]:
    """Keys that may stand at a path, for "did you mean"; the nearest model decides."""
    steps = [step for step in path if isinstance(step, str)]
    last = steps[-1] if steps else ""
    by_key: dict[str, type[BaseModel]] = {
        "parameters": Parameter,
        "cites": Citation,
        "alternatives": Alternative,
        "settings": Setting,
        "sources": Source,
        "criteria": Selection,
        "rules": DecisionRule,
        "companions": Companion,
        "within": Parameter,
        "other_disc": OtherDiscSteps,
    }
    if not steps:
        return sorted({*Criterion.model_fields, *RuleSetFile.model_fields, *DecisionOrder.model_fields})
    if len(steps) > 1 and steps[-2] in ("parameters", "settings", "sources"):
        last = steps[-2]
    model = by_key.get(last, Condition if "when" in steps else Criterion)
    return list(model.model_fields)


@cache
def shipped() -> Library:
    """The library that comes with this package."""
    return Library(rulesets_folder())


def load_rule_set(name: str) -> RuleSet:
    """Load a shipped rule set by id, or any rule set by the path of its file or folder.

    A rule set of your own may bring ``criteria/``, ``decisions/``, ``sources.yaml`` and ``settings.yaml``
    beside it; what it does not bring is taken from the shipped library.

    Raises
    ------
    RuleError
        With everything that is wrong.
    """
    path = Path(name)
    if path.is_dir() and (path / "ruleset.yaml").is_file():
        path = path / "ruleset.yaml"
    if path.suffix in (".yaml", ".yml", ".json") or "/" in name or path.is_file():
        try:
            return Library(path.parent, base=shipped()).resolve(path)
        except InputError as error:
            raise RuleError(error.problems) from None
    return shipped().rule_set(name)
