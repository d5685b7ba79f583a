"""Loading a file of a plan: every step, setting and word, cited; one's own may extend the shipped one."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from msgspec import Struct

from candidacy.foundation.digest import digest
from candidacy.foundation.errors import Code, InputError, Problem, RuleError, shorten
from candidacy.foundation.shape import validate
from candidacy.plan.misfits import misfits, settings_misfits
from candidacy.plan.plan_file import ExtendedPlanFile, PlanFile
from candidacy.rules.findings import Findings
from candidacy.rules.history import check_history
from candidacy.rules.library import Library
from candidacy.rules.replacing import replacement
from candidacy.rules.resolved import value_problem

DEFAULT_PLAN = "around_injection"
"""Codes of who may own a step: who can mend what fails, and who can tell a fact."""


class Rules(Struct, frozen=True):
    """A plan file in use: what it says, where it lies, what it extends or replaces, and the digest of all of it."""

    file: PlanFile
    paths: tuple[Path, ...]
    digest: str
    notices: tuple[str, ...] = ()

    def setting(self, name: str) -> Any:
        """The value of a setting."""
        return self.file.settings[name].value

    def word(self, name: str, /, **fields: object) -> str:
        """A sentence, filled in."""
        return self.file.words[name].format(**fields)


def load_plan(library: Library, identifier: str = DEFAULT_PLAN) -> Rules:
    """Load a plan of a library, one's own before a shipped one of the same id.

    Raises
    ------
    RuleError
        E301 if there is no such plan; otherwise everything that is wrong with its file.
    """
    return _load(library, identifier, ())


def plan_names(library: Library) -> list[str]:
    """Ids of all plans."""
    return list(library.care_files("plan"))


def _load(library: Library, identifier: str, below: tuple[str, ...]) -> Rules:
    path = library.care_files("plan").get(identifier)
    if path is None:
        raise RuleError([Problem(Code.BAD_RULE, "no such plan", str(library.folder), field="plan", found=shorten(identifier),
                                 expected=", ".join(plan_names(library)))])  # fmt: skip
    owner = library
    while path not in owner.layout.care["plan"].values() and owner.base is not None:
        owner = owner.base
    try:
        tree = owner.tree(path)
        plain = tree.plain()
    except InputError as error:
        raise RuleError(error.problems) from None
    extends = isinstance(plain, Mapping) and plain.get("extends") is not None
    try:
        written = validate(ExtendedPlanFile if extends else PlanFile, tree, str(path))
    except InputError as error:
        raise RuleError(error.problems) from None
    findings = Findings(path, tree)
    if written.id != path.stem:
        findings.add(
            ("id",), Code.BAD_RULE, "the id differs from the file name", found=written.id, expected=path.stem
        )
    check_history(written.changes, written.version, findings)
    notices: list[str] = []
    if owner.base is not None:
        former = owner.base.care_files("plan").get(written.id)
        version = _load(owner.base, written.id, ()).file.version if former is not None else None
        found = replacement("plan", written.id, written.replaces, (written.version, version), findings)
        if found is not None:
            notices.append(f"{found.words[:1].upper()}{found.words[1:]}.")
    findings.stop()
    if isinstance(written, ExtendedPlanFile):
        if written.extends in below or (written.extends == written.id and owner.base is None):
            findings.add(("extends",), Code.CYCLE, "plans extend each other", found=written.extends)
            findings.stop()
        source = owner.base if written.extends == written.id and owner.base is not None else library
        base = _load(source, written.extends, (*below, written.id))
        file = _extended(written, base.file, findings)
        paths, notices = (path, *base.paths), [*base.notices, *notices,
                          f"The plan {written.id} {written.version} extends {base.file.id} {base.file.version}: {written.reason}"]  # fmt: skip
    else:
        assert isinstance(written, PlanFile)
        file, paths = written, (path,)
        settings_misfits(file, findings)
    for problem in misfits(file, written):
        findings.add(*problem[:3], found=problem[3], expected=problem[4])
    findings.stop()
    return Rules(file, paths, digest(file.model_dump(mode="json", exclude_defaults=True)), tuple(notices))


def _extended(own: ExtendedPlanFile, base: PlanFile, findings: Findings) -> PlanFile:
    """The plan that one's own file says, in full."""
    settings = dict(base.settings)
    for name, change in own.settings.items():
        if name not in settings:
            findings.add(("settings", name), Code.UNKNOWN_PARAMETER, "the plan has no such setting", found=name,
                         expected=", ".join(settings))  # fmt: skip
            continue
        wrong = value_problem(settings[name], change.value, f"settings.{name}", findings.name)
        if wrong is not None:
            findings.add(
                ("settings", name, "value"),
                wrong.code,
                wrong.message,
                found=wrong.found,
                expected=wrong.expected,
            )
            continue
        settings[name] = settings[name].model_copy(update={"value": change.value, "cites": change.cites})
    steps = {step.id: step for step in base.steps}
    for place, name in enumerate(own.leave_out):
        if steps.pop(name, None) is None:
            findings.add(("leave_out", place), Code.BAD_RULE, "the plan has no such step", found=name,
                         expected=", ".join(step.id for step in base.steps))  # fmt: skip
    steps |= {step.id: step for step in own.steps}
    update = {
        "id": own.id, "version": own.version, "title": own.title, "changes": own.changes, "replaces": own.replaces,
        "settings": settings, "order_lead": own.order_lead or base.order_lead, "steps": tuple(steps.values()),
        "judged_by": own.judged_by or base.judged_by,
        "owners": base.owners | own.owners, "words": base.words | own.words, "cautions": (*base.cautions, *own.cautions),
    }  # fmt: skip
    file = base.model_copy(update=update)
    settings_misfits(file, findings)
    return file
