"""Load from a folder what rule sets share: sources, data elements, criteria, tables, relations, decision rules, settings.

Layout of the folder: see `candidacy.rules.library`, which resolves the rule sets made of it.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from candidacy.case.catalogue import Catalogue, catalogue, shipped_catalogue
from candidacy.case.element import Element, ElementFile, Replaces
from candidacy.foundation.digest import digest, file_digest
from candidacy.foundation.errors import Code, Problem, RuleError, shorten
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
from candidacy.rules.fit import order_misfits
from candidacy.rules.layout import FILES
from candidacy.rules.own_elements import catalogue_beside
from candidacy.rules.own_relations import relations_beside
from candidacy.rules.relations import Relation, RelationFile
from candidacy.rules.replacing import Replacement, replacement
from candidacy.rules.resolved import (
    ResolvedCriterion,
    Tables,
    as_declared,
    digest_of_relations,
    know_digest,
)
from candidacy.rules.rule_files import RuleFiles

_Shared = TypeVar("_Shared", Source, Setting)
_Kept = TypeVar("_Kept")


class SharedContent(RuleFiles):
    """What the rule sets of one folder share, read on demand and kept.

    Parameters
    ----------
    folder
        A folder of the layout above.
    base
        That of the library it extends. What bears an id of it is refused unless it declares what it replaces.

    Raises
    ------
    RuleError
        E101 if a folder cannot be listed, E105 if two criteria have one id.
    """

    def __init__(self, folder: Path, base: "SharedContent | None" = None) -> None:
        super().__init__(folder)
        self.base = base
        self._criteria: dict[str, Criterion] = {}
        self._declared: dict[str, ResolvedCriterion] = {}
        self._tables: dict[str, Table] = {}
        self._replaced: dict[tuple[str, str], Replacement] = {}
        self._kept: dict[str, Any] = {}

    # --- what there is

    def criterion_files(self) -> dict[str, Path]:
        """Files of the criteria of this folder, by id."""
        return dict(sorted(self.layout.criteria.items()))

    def care_files(self, kind: str) -> dict[str, Path]:
        """Files of one of the folders `layout.CARE` by their id; one's own stand in the place of shipped ones."""
        return dict(
            sorted({**(self.base.care_files(kind) if self.base else {}), **self.layout.care[kind]}.items())
        )

    def criterion_names(self) -> list[str]:
        """Ids of all criteria that may be selected, those of the base among them."""
        return sorted({*self.layout.criteria, *(self.base.criterion_names() if self.base else ())})

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
        return self._keep(
            "sources", lambda: self._shared("source", FILES[0], SourcesFile, SharedContent.sources)
        )

    def settings(self) -> dict[str, Setting]:
        """Every setting by its name.

        Raises
        ------
        RuleError
            With everything that is wrong with ``settings.yaml``.
        """
        return self._keep(
            "settings", lambda: self._shared("setting", FILES[1], SettingsFile, SharedContent.settings)
        )

    def _shared(
        self,
        kind: str,
        name: str,
        model: type[BaseModel],
        of_base: "Callable[[SharedContent], dict[str, _Shared]]",
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

    def take_elements_of(self, other: "SharedContent") -> bool:
        """Take the data elements of a library in use for one's own where they are the very same.

        Then what this one holds is read with the catalogue in use, as if it were that library.

        Returns
        -------
        bool
            Whether they are the same; nothing is changed where they are not.
        """
        own, theirs = self.catalogue(), other.catalogue()
        same = own.all == theirs.all and own.groups == theirs.groups and own.guarded == theirs.guarded
        if same:
            self._kept["catalogue"] = theirs
        return same

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
