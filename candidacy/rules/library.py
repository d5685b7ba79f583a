"""Rule sets of a folder, with what they are made of.

Layout of the folder; each part may be left out of a folder of one's own, which extends the shipped library::

    sources.yaml  settings.yaml
    criteria/<group>/<id>.yaml  criteria/<group>/<id>.cases.yaml
    decisions/<id>.yaml  elements/<name>.yaml  tables/<id>.yaml  relations/<topic>.yaml
    sets/<id>/ruleset.yaml  sets/<id>/CHANGELOG.md
"""

from collections.abc import Mapping
from pathlib import Path

from candidacy.case.catalogue import catalogue
from candidacy.foundation.errors import Code, InputError, Problem, RuleError, shorten
from candidacy.foundation.files import nearest
from candidacy.rules.findings import Findings
from candidacy.rules.fit import misfits
from candidacy.rules.layout import FILES
from candidacy.rules.resolve import resolve
from candidacy.rules.resolved import (
    ResolvedCriterion,
    RuleSet,
)
from candidacy.rules.rule_set_file import ExtendedRuleSetFile, RuleSetFile
from candidacy.rules.shared_content import SharedContent


class Library(SharedContent):
    """Rule content of one folder, and the rule sets made of it, read on demand and kept.

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

    base: "Library | None"

    def __init__(self, folder: Path, base: "Library | None" = None) -> None:
        super().__init__(folder, base)
        self._companions: dict[str, RuleSet] = {}
        self._made_of: dict[Path, list[str]] = {}

    # --- what there is

    def rule_set_files(self) -> dict[str, Path]:
        """Files of the rule sets of this folder, by id."""
        return self.layout.sets

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

    # --- rule sets, resolved

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
