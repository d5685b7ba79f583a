"""Load sources, data elements, criteria, tables, relations, decision rules, settings and rule sets from a folder.

Layout of the folder; each part may be left out of a folder of one's own, which extends the shipped library::

    sources.yaml  settings.yaml
    criteria/<group>/<id>.yaml  criteria/<group>/<id>.cases.yaml
    decisions/<id>.yaml  elements/<name>.yaml  tables/<id>.yaml  relations/<topic>.yaml
    sets/<id>/ruleset.yaml  sets/<id>/CHANGELOG.md
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from candidacy.case.catalogue import (
    Catalogue,
    Element,
    ElementFile,
    Replaces,
    catalogue,
    shipped_catalogue,
)
from candidacy.foundation.digest import digest, file_digest
from candidacy.foundation.errors import Code, InputError, Problem, RuleError, shorten
from candidacy.foundation.files import nearest
from candidacy.rules.cited import (
    Setting,
    SettingsFile,
    Source,
    SourcesFile,
    Table,
)
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.findings import Findings
from candidacy.rules.fit import misfits, order_misfits
from candidacy.rules.layout import FILES
from candidacy.rules.own_elements import catalogue_beside
from candidacy.rules.own_relations import relations_beside
from candidacy.rules.relations import Relation, RelationFile
from candidacy.rules.replacing import Replacement, replacement
from candidacy.rules.resolve import resolve
from candidacy.rules.resolved import (
    ResolvedCriterion,
    RuleSet,
    Tables,
    as_declared,
    digest_of_relations,
    know_digest,
)
from candidacy.rules.rule_files import RuleFiles
from candidacy.rules.rule_set_file import ExtendedRuleSetFile, RuleSetFile

_Shared = TypeVar("_Shared", Source, Setting)
_Kept = TypeVar("_Kept")


class Library(RuleFiles):
    """Rule content of one folder, read on demand and kept.

    Parameters
    ----------
    folder
        A folder of the layout above.
    base
        The library it extends. What bears an id of that library is refused unless it declares what it replaces; rule
        sets of that library, found through this one, are read with this one's content.

    Raises
    ------
    RuleError
        E101 if a folder cannot be listed, E105 if two criteria have one id.
    """

    def __init__(self, folder: Path, base: "Library | None" = None) -> None:
        super().__init__(folder)
        self.base = base
        self._criteria: dict[str, Criterion] = {}
        self._declared: dict[str, ResolvedCriterion] = {}
        self._tables: dict[str, Table] = {}
        self._companions: dict[str, RuleSet] = {}
        self._replaced: dict[tuple[str, str], Replacement] = {}
        self._kept: dict[str, Any] = {}
        self._made_of: dict[Path, list[str]] = {}

    # --- what there is

    def criterion_files(self) -> dict[str, Path]:
        """Files of the criteria of this folder, by id."""
        return dict(sorted(self.layout.criteria.items()))

    def care_files(self, kind: str) -> dict[str, Path]:
        """Files of one of the folders `layout.CARE` by their id; one's own stand in the place of shipped ones."""
        return dict(
            sorted({**(self.base.care_files(kind) if self.base else {}), **self.layout.care[kind]}.items())
        )

    def rule_set_files(self) -> dict[str, Path]:
        """Files of the rule sets of this folder, by id."""
        return self.layout.sets

    def criterion_names(self) -> list[str]:
        """Ids of all criteria that may be selected, those of the base among them."""
        return sorted({*self.layout.criteria, *(self.base.criterion_names() if self.base else ())})

    def rule_set_names(self) -> list[str]:
        """Ids of all rule sets, one's own first, those of the base after them."""
        return list(
            dict.fromkeys((*self.rule_set_files(), *(self.base.rule_set_names() if self.base else ())))
        )

    @property
    def alters(self) -> bool:
        """Whether it brings anything that may change an answer under a rule set of its base."""
        layout = self.layout
        content = (layout.criteria, layout.decisions, layout.elements, layout.relations, layout.tables)
        return (
            any(content)
            or any((self.folder / name).is_file() for name in FILES)
            or not set(layout.sets).isdisjoint(self.base.rule_set_names() if self.base else ())
        )

    def replaced(self) -> tuple[Replacement, ...]:
        """What of one's own stands in the place of what it extends, as far as it has been loaded, in order."""
        own = tuple(self._replaced[key] for key in sorted(self._replaced))
        return (*(self.base.replaced() if self.base else ()), *own)

    # --- what all rule sets share

    def sources(self) -> dict[str, Source]:
        """Every source by its key.

        Raises
        ------
        RuleError
            With everything that is wrong with ``sources.yaml``.
        """
        return self._keep("sources", lambda: self._shared("source", FILES[0], SourcesFile, Library.sources))

    def settings(self) -> dict[str, Setting]:
        """Every setting by its name.

        Raises
        ------
        RuleError
            With everything that is wrong with ``settings.yaml``.
        """
        return self._keep(
            "settings", lambda: self._shared("setting", FILES[1], SettingsFile, Library.settings)
        )

    def _shared(
        self, kind: str, name: str, model: type[BaseModel], of_base: "Callable[[Library], dict[str, _Shared]]"
    ) -> dict[str, _Shared]:
        path = self.folder / name
        base = of_base(self.base) if self.base else {}
        if not path.is_file():
            return base
        own: dict[str, _Shared] = getattr(self.load(path, model), f"{kind}s")
        problems = Findings(path, self.tree(path))
        for key, item in own.items():
            if base.get(key) != item:  # the same once more changes nothing
                self._declare(
                    kind, key, item.replaces, ("", "" if key in base else None), problems, (f"{kind}s", key)
                )
        problems.stop()
        return {**base, **own}

    def catalogue(self) -> Catalogue:
        """The data elements: those of the base, and one's own beside them.

        Raises
        ------
        RuleError
            With everything that is wrong with the files; E105 for a name that stands twice.
        """
        return self._keep("catalogue", self._catalogue)

    def own_elements(self) -> tuple[Element, ...]:
        """Data elements that are not shipped, and those that replace shipped ones, in the order of the catalogue."""
        if self.base is None and not self.layout.elements:
            return ()
        if not self.layout.elements and self.base is not None:
            return self.base.own_elements()
        shelf = shipped_catalogue()
        return tuple(each for each in self.catalogue().all if shelf.get(each.name) != each)

    def element_files(self) -> dict[Path, ElementFile]:
        """The element files of this folder as written."""
        return self._keep(
            "elements",
            lambda: {path: self.load(path, ElementFile) for path in self.layout.elements.values()},
        )

    def _catalogue(self) -> Catalogue:
        base = self.base.catalogue() if self.base else shipped_catalogue()
        if not self.layout.elements:
            return base
        return catalogue_beside(base, self.element_files(), self.tree, self._declare)

    # --- content by id

    def criterion(self, identifier: str) -> Criterion:
        """Load one criterion.

        Raises
        ------
        RuleError
            E303 if there is none of that id; otherwise whatever is wrong with its file.
        """
        if identifier in self._criteria:
            return self._criteria[identifier]
        path = self.layout.criteria.get(identifier)
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
        found = self.load_named(path, Criterion)
        former = None
        if self.base is not None and identifier in self.base.criterion_names():
            former = self.base.criterion(identifier).version
        self._declare_file("criterion", path, found, former)
        self._criteria[identifier] = found
        return found

    def declared(self, identifier: str) -> ResolvedCriterion:
        """One criterion with its own defaults: the same one for every rule set that changes nothing of it.

        Raises
        ------
        RuleError
            As for `criterion`.
        """
        found = self._declared.get(identifier)
        if found is None:
            above = self.base if identifier not in self.layout.criteria else None
            if above is not None and identifier in above.criterion_names():
                return above.declared(identifier)
            found = self._declared[identifier] = as_declared(self.criterion(identifier))
        return found

    def table_files(self) -> dict[str, Path]:
        """Files of the tables of this folder, by id."""
        return self.layout.tables

    def decision_names(self) -> list[str]:
        """Ids of all orders of decision rules, those of the base among them."""
        return sorted({*self.layout.decisions, *(self.base.decision_names() if self.base else ())})

    def table_names(self) -> list[str]:
        """Ids of all tables, those of the base among them."""
        return sorted({*self.layout.tables, *(self.base.table_names() if self.base else ())})

    def table(self, identifier: str) -> Table:
        """Load one table of published values.

        Raises
        ------
        RuleError
            With everything that is wrong with its file, also that there is none.
        """
        if identifier not in self._tables:
            path = self.layout.tables.get(identifier)
            if path is None and self.base is not None:
                return self.base.table(identifier)
            path = path or self.folder / "tables" / f"{identifier}.yaml"
            found = self.load_named(path, Table)
            former = None
            if self.base is not None and self.base.has_table(identifier):
                former = self.base.table(identifier).version
            self._declare_file("table", path, found, former)
            self._tables[identifier] = found
        return self._tables[identifier]

    def has_table(self, identifier: str) -> bool:
        """Whether there is a table of an id, here or in the base."""
        return identifier in self.layout.tables or (self.base is not None and self.base.has_table(identifier))

    def tables(self) -> Tables:
        """All tables, those of the base loaded on demand, with the digest of their files.

        Raises
        ------
        RuleError
            With what is wrong with a table of one's own.
        """
        if not self.layout.tables and self.base is not None:
            return self.base.tables()
        return self._keep("tables", self._all_tables)

    def _all_tables(self) -> Tables:
        parts = [file_digest(path) for path in self.layout.tables.values()]
        if self.base is not None:
            for name in self.layout.tables:
                self.table(name)
            parts.append(self.base.tables().digest)
        return Tables(self.table, digest(parts), tuple(self.table_names()))

    def decisions(self, identifier: str) -> DecisionOrder:
        """Load an order of decision rules.

        Raises
        ------
        RuleError
            With everything that is wrong with it; E313 if it would leave a case undecided.
        """
        path = self.layout.decisions.get(identifier)
        if path is None:
            if self.base is not None:
                return self.base.decisions(identifier)
            path = self.folder / "decisions" / f"{identifier}.yaml"
        order = self.load_named(path, DecisionOrder)
        former = None
        if self.base is not None and self.base.has_decisions(identifier):
            former = self.base.decisions(identifier).version
        self._declare_file("decision order", path, order, former)
        problems = Findings(path, self.tree(path))
        for wrong in order_misfits(order):
            problems.add_misfit(wrong)
        problems.stop()
        return order

    def has_decisions(self, identifier: str) -> bool:
        """Whether there is an order of decision rules of an id, here or in the base."""
        return identifier in self.layout.decisions or (
            self.base is not None and self.base.has_decisions(identifier)
        )

    def relation_files(self) -> dict[str, Path]:
        """Files of the relations of this folder, by topic."""
        return self.layout.relations

    def relations(self) -> dict[str, Relation]:
        """Every relation by its element.

        Raises
        ------
        RuleError
            With everything that is wrong; E105 if an element has two in one folder, E310 if relations form a circle.
        """
        return self._keep("relations", self._relations)

    def relation_file(self, path: Path) -> RelationFile:
        """A file of relations as written."""
        return self.load_named(path, RelationFile)

    def unrelated(self) -> dict[str, str]:
        """Elements that nothing else in a record bears on, with the reason; those of the base among them."""
        found = self.base.unrelated() if self.base else {}
        for path in self.layout.relations.values():
            for each in self.load_named(path, RelationFile).unrelated:
                found |= dict.fromkeys(each.elements, each.because)
        return found

    def _relations(self) -> dict[str, Relation]:
        base = self.base.relations() if self.base else {}
        if not self.layout.relations:
            return base
        own = {path: self.relation_file(path) for path in self.layout.relations.values()}
        marks = self._relation_marks()
        known = self.keep.remembered("relations", marks)  # then all of it fitted the same catalogue
        found = relations_beside(base, own, self.tree, self._declare, fitted=bool(known))
        if known:
            know_digest(found, known)
        else:
            self.keep.remember("relations", marks, digest_of_relations(found))
        return found

    def _relation_marks(self) -> list[str]:
        """What decides whether relations fit and what they say: the catalogue, and the files of the base and of this folder."""
        return [catalogue().mark, *self._relation_file_marks()]

    def _relation_file_marks(self) -> list[str]:
        below = [*self.base._relation_file_marks(), "and"] if self.base is not None else []
        return [*below, *(self.tree(path).mark for path in self.layout.relations.values())]

    def _keep(self, name: str, make: Callable[[], _Kept]) -> _Kept:
        if name not in self._kept:
            self._kept[name] = make()
        found: _Kept = self._kept[name]
        return found

    def _declare_file(
        self, kind: str, path: Path, found: Criterion | Table | DecisionOrder, former: str | None
    ) -> None:
        problems = Findings(path, self.tree(path))
        self._declare(kind, found.id, found.replaces, (found.version, former), problems)
        problems.stop()

    def _declare(
        self,
        kind: str,
        identifier: str,
        declared: Replaces | None,
        versions: tuple[str, str | None],
        problems: Findings,
        place: tuple[str | int, ...] = (),
    ) -> None:
        """Note what content of this folder replaces, or what is wrong with how it says so."""
        found = replacement(kind, identifier, declared, versions, problems, place)
        if found is not None:
            self._replaced[kind, identifier] = found

    # --- rule sets

    def rule_set(self, identifier: str) -> RuleSet:
        """Load and resolve a rule set of this folder, or of the base with the content of this folder.

        Raises
        ------
        RuleError
            E302 if there is none; otherwise everything that is wrong with it.
        """
        path = self.set_file(identifier)
        if path is None:
            names = self.rule_set_names()
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
        if self.base is not None and identifier not in self.layout.sets and not self.alters:
            return self.base.rule_set(identifier)
        return self.resolve(path)

    def set_file(self, identifier: str) -> Path | None:
        """The file of a rule set of an id, here or in the base."""
        path = self.layout.sets.get(identifier)
        return self.base.set_file(identifier) if path is None and self.base is not None else path

    def companion(self, identifier: str) -> RuleSet:
        """A rule set to stand beside another of this library; resolved once and kept. See `rule_set`."""
        found = self._companions.get(identifier)
        if found is None:
            if self.base is not None and identifier not in self.layout.sets and not self.alters:
                found = self.base.companion(identifier)
            else:
                found = self.rule_set(identifier)
            self._companions[identifier] = found
        return found

    def written(self, path: Path) -> RuleSetFile | ExtendedRuleSetFile:
        """A rule set file as written, whole or extending another.

        Raises
        ------
        RuleError
            With everything that is wrong with its shape; E301 if it does not lie in a folder of its id.
        """
        extends = self._extends(path)
        file = self.load(path, ExtendedRuleSetFile if extends else RuleSetFile)
        assert isinstance(file, RuleSetFile | ExtendedRuleSetFile)
        problems = Findings(path, self.tree(path))
        if path in self.layout.sets.values() and file.id != path.parent.name:
            problems.add(("id",), Code.BAD_RULE, "the id differs from the name of its folder", found=file.id,
                         expected=path.parent.name)  # fmt: skip
        former = self.base.set_file(file.id) if self.base is not None else None
        if self.base is not None and path != former:
            version = self.base.written(former).version if former is not None else None
            self._declare("rule set", file.id, file.replaces, (file.version, version), problems)
        problems.stop()
        return file

    def _extends(self, path: Path) -> bool:
        try:
            plain = self.tree(path).plain()
        except InputError as error:
            raise RuleError(error.problems) from None
        return isinstance(plain, Mapping) and plain.get("extends") is not None

    def resolve(self, path: Path) -> RuleSet:
        """Load a rule set file and work out what it inherits, selects and changes; see `candidacy.rules.resolve`."""
        return self._resolve(path, ())

    def parent(self, identifier: str, below: tuple[str, ...]) -> RuleSet:
        """The rule set of an id that others extend, ``below`` among them."""
        path = self.set_file(identifier)
        own = identifier in self.layout.sets or self.alters
        return self._resolve(path, below) if path is not None and own else self.rule_set(identifier)

    def _resolve(self, path: Path, below: tuple[str, ...]) -> RuleSet:
        if self.own_elements() and self.catalogue() is not catalogue():
            raise RuleError([Problem(
                Code.USAGE, "this library brings data elements of its own, and is not in use", str(self.folder),
                next_step=f"--library {self.folder}, or in Python: with candidacy.use_library(folder)",
            )])  # fmt: skip
        return resolve(self, path, below)

    def made_of(self, path: Path, file: RuleSetFile, extended: str) -> list[str]:
        """What decides whether a rule set of this folder fits and what its digest is: marks of the catalogue and of every file
        in it. Empty where that is more than this folder, or something is missing."""
        files = [path, *(self.folder / name for name in FILES)]
        for place in (self.layout.criteria.get(each.id) for each in file.criteria):
            if place is None:
                return []
            files.append(place)
        order = self.layout.decisions.get(file.decisions)
        above = self._made_of.get(self.layout.sets[extended], []) if extended in self.layout.sets else []
        if self.base is not None or order is None or bool(extended) != bool(above):
            return []
        marks = [self.tree(each).mark for each in (*files, order) if self.has_read(each) or each.is_file()]
        self._made_of[path] = [*above, "and", *marks, self.tables().digest, *self._relation_marks()]
        return self._made_of[path]

    def known(self, path: Path, made_of: list[str]) -> str:
        """The digest of a rule set, where it was found to fit when it was made of the same; else empty."""
        return self.keep.remembered(f"rule set {path.parent.name}", made_of) if made_of else ""

    def know(self, path: Path, made_of: list[str], rule_set: RuleSet) -> None:
        """Keep that a rule set made of certain content fits, with its digest."""
        if made_of:
            self.keep.remember(f"rule set {path.parent.name}", made_of, rule_set.digest)

    def misfits_of(self, item: ResolvedCriterion) -> list[Problem]:
        """What of a criterion, as declared, does not fit the catalogue, with its places in its file."""
        path = self.layout.criteria.get(item.id)
        if path is None:
            return self.base.misfits_of(item) if self.base is not None else []
        found = Findings(path, self.tree(path))
        for wrong in misfits(item):
            found.add_misfit(wrong)
        return found.problems
