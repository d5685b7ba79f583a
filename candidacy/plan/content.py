"""A file of a plan as written: steps, settings, owners and words, each cited; one's own may extend the shipped one."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from string import Formatter
from typing import Annotated, Any, Literal

from msgspec import Struct
from pydantic import BaseModel, Field

from candidacy.case.element import Replaces, Rows, Strict
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import Code, InputError, Problem, RuleError, shorten
from candidacy.foundation.files import nearest
from candidacy.foundation.shape import validate
from candidacy.plan.working_days import WEEKDAYS, weekend_problem
from candidacy.rules.cited import Change, Citation, Setting
from candidacy.rules.conditions import Condition
from candidacy.rules.findings import Findings
from candidacy.rules.library import Library
from candidacy.rules.replacing import replacement
from candidacy.rules.resolved import value_problem
from candidacy.rules.vocabulary import Identifier, Version

DEFAULT_PLAN = "around_injection"
Part = Literal[
    "facts", "discography", "consent", "cost", "medicines", "laboratory", "material", "day", "after"
]
PARTS: tuple[Part, ...] = (
    "facts", "discography", "consent", "cost", "medicines", "laboratory", "material", "day", "after",
)  # fmt: skip
OWNERS = ("patient", "referrer", "physician", "prescriber", "treating_clinician", "radiologist", "coordinator", "supplier", "payer",
          "imaging", "procedure", "laboratory")  # fmt: skip
"""Codes of who may own a step: who can mend what fails, and who can tell a fact."""


class When(Strict):
    """A length of time from the day of the injection; month ends are clipped to the last day of a shorter month."""

    amount: Annotated[int, Field(ge=-730, le=3650)]
    """How many; negative before the injection, 0 on its day, positive after it."""
    unit: Literal["day", "week", "month"] = "day"
    """day, week or month."""


class Step(Strict):
    """One thing that has to happen around an injection."""

    id: Identifier
    """Id for life; calendars know the step by it."""
    part: Part
    """The part of the plan it stands in."""
    title: Annotated[str, Field(min_length=1, max_length=120)]
    """What happens, without any fact of a patient, for a calendar that others may see."""
    says: Rows[str] = ()
    """What belongs to it, a sentence each."""
    owner: Literal[OWNERS]  # type: ignore[valid-type]
    """Who does it."""
    when: When
    """Its day."""
    moves: Literal["before", "after", "never"] = "never"
    """Where its day is no working day: to the working day before or after, or not at all."""
    by_order: bool = False
    """It must be settled before scarce material is ordered, whatever its own day is."""
    hard: bool = False
    """Where its day has passed, the proposed day cannot be kept; any other step is then done at once."""
    needs: Rows[Identifier] = ()
    """Steps that come first."""
    applies_when: Condition | None = None
    """Where it applies; where this is not known, the step stands and asks."""
    done_when: Condition | None = None
    """What of the record shows that it is done; unknown is not done."""
    covers: Rows[Identifier] = ()
    """Criteria that the step settles; until it is done the gate names the step alone."""
    visit: str = ""
    """The visit of ``course/visits.yaml`` that this step announces; its day must be the day of that visit."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where the step and its day come from."""


class OrderLead(Strict):
    """How many days before the injection the material is ordered. It is the supplier's number, so none is shipped."""

    days: Annotated[int, Field(ge=0, le=365)] | None = None
    """Calendar days from the order to the injection; nothing where it is not known."""
    ask: str
    """How it is asked for."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Why it is asked."""


class _Head(Strict):
    id: Identifier
    """Id: the name of the file without ``.yaml``."""
    version: Version
    """Version, as three numbers; the last of ``changes``."""
    title: str
    """Name of the plan."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """History, the latest last."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a plan of one's own that bears a shipped id."""


class PlanFile(_Head):
    """A whole plan: ``plan/ID.yaml`` of a library."""

    meaning: str
    """What it is for, and what it is not."""
    settings: dict[str, Setting]
    """Numbers and lists by name (`SETTINGS`)."""
    order_lead: OrderLead
    """How long before the injection the material is ordered."""
    after_order: Rows[Identifier] = ()
    """Criteria that can only be settled after the order or on the day, so that they never hold an order back."""
    judged_by: Annotated[Rows[Identifier], Field(min_length=1)]
    """Rule sets that must have judged the case before material may be ordered; one that extends them counts as them."""
    owners: dict[str, str]
    """Code of each owner to the words for it."""
    parts: dict[str, str]
    """Code of each part to its heading."""
    cautions: Annotated[Rows[str], Field(min_length=1)]
    """What stands first on every plan."""
    steps: Annotated[Rows[Step], Field(min_length=1)]
    """The steps."""
    words: dict[str, str]
    """Sentences that are filled in, by name (`WORDS`)."""


class SettingChange(Strict):
    """Another value of a setting, with the reason and where it comes from."""

    value: bool | int | float | str | Rows[str]
    """The value in use."""
    reason: Annotated[str, Field(min_length=1)]
    """Why."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where it comes from."""


class ExtendedPlanFile(_Head):
    """A plan of one's own that takes over another and says what differs."""

    extends: Identifier
    """The plan it extends."""
    reason: Annotated[str, Field(min_length=1)]
    """Why it differs."""
    settings: dict[str, SettingChange] = Field(default_factory=dict)
    """Settings with another value."""
    order_lead: OrderLead | None = None
    """Another order lead."""
    judged_by: Rows[Identifier] = ()
    """Other rule sets that must have judged the case; without them those of the extended plan."""
    leave_out: Rows[Identifier] = ()
    """Steps of the extended plan that are left out."""
    steps: Rows[Step] = ()
    """Further steps, and steps that stand in the place of those of the same id."""
    owners: dict[str, str] = Field(default_factory=dict)
    """Other words for owners."""
    words: dict[str, str] = Field(default_factory=dict)
    """Other sentences."""
    cautions: Rows[str] = ()
    """Further cautions."""


# Settings that every plan has.
SETTINGS = (
    "weekend_days", "near_day_days", "near_age_days", "estimate_dollars", "estimate_percent", "wait_without_rule_days",
)  # fmt: skip
# Sentences that every plan has, with what may be filled in.
WORDS: dict[str, frozenset[str]] = {
    name: frozenset(fields.split())
    for name, fields in {
        "not_before": "day reasons",
        "no_day_known": "reasons",
        "earliest": "day",
        "earliest_open": "day",
        "earliest_none": "",
        "not_known": "number",
        "day_off": "day why",
        "fails_until": "what day",
        "fails_open": "what act who",
        "fails_always": "what",
        "or_decision": "",
        "conflict": "what",
        "danger_not_weighed": "what",
        "hold_too_late": "medicine last days day",
        "hold_not_over": "medicine day",
        "hold_no_date": "medicine why",
        "stopped_unagreed": "medicine alarm",
        "step_too_late": "step was day",
        "discography_too_close": "day days wait",
        "moved_before": "was why",
        "moved_after": "was why",
        "stays": "why",
        "passed": "was",
        "may_not_apply": "",
        "facts_title": "",
        "facts_near_title": "",
        "acts_title": "",
        "fact": "ask earliest",
        "act": "what earliest",
        "ask_prescriber_title": "",
        "ask_prescriber": "medicine",
        "last_dose_title": "",
        "last_dose": "medicine agreement",
        "last_dose_ask_hour": "hours",
        "last_dose_clock": "hours clock",
        "restart_title": "",
        "restart": "medicine restart",
        "restart_clock": "clock",
        "inr_title": "",
        "inr": "medicine days",
        "renal_title": "",
        "renal": "medicine",
        "injection_title": "",
        "injection": "discs",
        "order_title": "",
        "order": "",
        "order_no_day": "ask",
        "discography_title": "",
        "discography_latest": "wait",
        "discography_on": "wait",
        "gate_standing": "standing",
        "gate_decided": "on by",
        "gate_decide": "",
        "gate_judged": "rule_set",
        "day_passed": "",
        "gate_lead": "ask",
        "gate_discography": "",
        "gate_limits": "limits",
        "gate_medicine": "medicine",
        "gate_settled": "",
        "gate_open": "",
        "gate_shut": "number",
        "urgent": "",
        "record_plans": "written day",
        "could_not": "what",
        "none": "",
        "undated": "",
        "agreement": "who",
        "no_agreement_needed": "",
        "d_considered": "discs",
        "d_considered_unknown": "",
        "d_done": "day",
        "d_controls": "discs",
        "d_no_controls": "",
        "d_ceiling": "pressure cites",
        "d_volume": "volume cites",
        "d_limit": "agent epinephrine mg weight cites",
        "d_limit_volume": "volume percent",
        "d_weight_unknown": "",
        "d_load": "load",
        "d_antibiotic": "planned",
        "d_antibiotic_unknown": "",
        "d_allergy": "allergy",
        "d_wait": "wait cites",
        "d_form": "",
        "form_head": "date",
        "form_disc": "level",
        "cost_notice": "",
        "cost_band": "actual low high",
        "cost_inside": "estimate",
        "cost_outside": "estimate low high",
        "cost_ask": "",
        "cost_modifier": "modifier why",
        "coverage": "answer",
        "coverage_unknown": "",
        "material_nothing": "limits",
        "material_source": "source",
        "material_kept": "limit found",
        "material_broken": "limit found",
        "material_ask": "limit",
        "material_not_read": "limit",
        "material_aside": "",
        "material_in_order": "",
        "material_open": "",
    }.items()
}  # fmt: skip


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
        written = validate(ExtendedPlanFile if extends else PlanFile, tree, str(path), _known_keys)
    except InputError as error:
        raise RuleError(error.problems) from None
    findings = Findings(path, tree)
    if written.id != path.stem:
        findings.add(
            ("id",), Code.BAD_RULE, "the id differs from the file name", found=written.id, expected=path.stem
        )
    if written.changes[-1].version != written.version:
        findings.add(("changes",), Code.BAD_VERSION, "the last change is not of this version",
                     found=written.changes[-1].version, expected=written.version)  # fmt: skip
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
        _settings(file, findings)
    for problem in _misfits(file, written):
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
    _settings(file, findings)
    return file


def _settings(file: PlanFile, findings: Findings) -> None:
    for name in SETTINGS:
        if name not in file.settings:
            findings.add(("settings",), Code.MISSING_KEY, "a setting is missing", found="", expected=name)
    for name in file.settings:
        if name not in SETTINGS:
            findings.add(("settings", name), Code.UNKNOWN_PARAMETER, "nothing reads this setting", found=name,
                         expected=", ".join(SETTINGS))  # fmt: skip
    if "weekend_days" in file.settings:
        wrong = weekend_problem(file.settings["weekend_days"].value)
        if wrong:
            findings.add(("settings", "weekend_days", "value"), Code.IMPOSSIBLE_VALUE, wrong[0], found=wrong[1],
                         expected=f"at most six of {', '.join(WEEKDAYS)}")  # fmt: skip


_Wrong = tuple[tuple[str | int, ...], Code, str, object, str]


def _misfits(file: PlanFile, written: PlanFile | ExtendedPlanFile) -> Iterator[_Wrong]:
    """What of the steps and words cannot work; places are those of the file as it was written."""
    places = {step.id: place for place, step in enumerate(written.steps)}
    steps = {step.id: step for step in file.steps}
    seen: set[str] = set()
    for place, step in enumerate(written.steps):
        if step.id in seen:
            yield (
                ("steps", place, "id"),
                Code.DUPLICATE_KEY,
                "two steps have this id",
                step.id,
                "an id of its own",
            )
        seen.add(step.id)
    for step in file.steps:
        at: tuple[str | int, ...] = ("steps", places[step.id]) if step.id in places else ("leave_out",)
        for name in step.needs:
            if name not in steps:
                close = nearest(name, list(steps))
                yield ((*at, "needs"), Code.BAD_RULE, "needs a step that the plan does not have", name,
                       (f"closest is {close}; " if close else "") + ", ".join(steps))  # fmt: skip
            elif _days(steps[name].when) > _days(step.when) and not steps[name].by_order:
                yield ((*at, "needs"), Code.CONTRADICTORY_RULES, "needs a step whose day comes later", f"{name} before {step.id}",
                       "a step of the same day or an earlier one")  # fmt: skip
        if step.id in _reached(step, steps):
            yield (*at, "needs"), Code.CYCLE, "steps need each other", step.id, "no circle"
    for kind, given, wanted in (("owners", file.owners, OWNERS), ("parts", file.parts, PARTS)):
        for code in wanted:
            if not given.get(code):
                yield (kind,), Code.MISSING_KEY, f"no words for {code}", "", f"{kind}.{code}: words"
        for code in given:
            if code not in wanted:
                yield (kind, code), Code.UNKNOWN_KEY, "not a code of the plan", code, ", ".join(wanted)
    for name, fields in WORDS.items():
        text = file.words.get(name)
        if text is None:
            yield ("words",), Code.MISSING_KEY, "a sentence is missing", "", f"words.{name}"
            continue
        try:
            used = {field for _, field, _, _ in Formatter().parse(text) if field is not None}
        except ValueError:
            used = {text}
        if not used <= fields:
            yield (("words", name), Code.UNKNOWN_KEY, "this cannot be filled in", ", ".join(sorted(used - fields)),
                   ", ".join(f"{{{field}}}" for field in sorted(fields)) or "a sentence without braces")  # fmt: skip
    for name in file.words:
        if name not in WORDS:
            close = nearest(name, list(WORDS))
            yield (
                ("words", name),
                Code.UNKNOWN_KEY,
                "nothing says this",
                name,
                f"closest is {close}" if close else "a known name",
            )


def _reached(step: Step, steps: Mapping[str, Step]) -> set[str]:
    reached: set[str] = set()
    left = list(step.needs)
    while left:
        name = left.pop()
        if name not in reached and name in steps:
            reached.add(name)
            left += steps[name].needs
    return reached


def _days(when: When) -> float:
    """Its least possible place in days, for comparing steps of one plan: equal units compare exactly."""
    return when.amount * {"day": 1, "week": 7, "month": 30.4}[when.unit]


def _known_keys(path: tuple[Any, ...]) -> list[str]:
    steps = [step for step in path if isinstance(step, str)]
    models: dict[str, type[BaseModel]] = {"steps": Step, "cites": Citation, "when": When, "order_lead": OrderLead, "replaces": Replaces,
                                          "changes": Change, "done_when": Condition, "applies_when": Condition}  # fmt: skip
    if not steps:
        return sorted({*PlanFile.model_fields, *ExtendedPlanFile.model_fields})
    if steps[-1] in models:
        return list(models[steps[-1]].model_fields)
    return list(Setting.model_fields if "settings" in steps else Step.model_fields)
