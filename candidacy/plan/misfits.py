"""What of a plan file cannot work: its settings, steps and words beside each other."""

from collections.abc import Iterator, Mapping
from string import Formatter

from candidacy.foundation.dates import MEAN_DAYS
from candidacy.foundation.errors import Code
from candidacy.foundation.files import nearest
from candidacy.plan.plan_file import OWNERS, PARTS, SETTINGS, WORDS, ExtendedPlanFile, PlanFile, Step, When
from candidacy.plan.working_days import WEEKDAYS, weekend_problem
from candidacy.rules.findings import Findings


def settings_misfits(file: PlanFile, findings: Findings) -> None:
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


def misfits(file: PlanFile, written: PlanFile | ExtendedPlanFile) -> Iterator[_Wrong]:
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
    return when.amount * MEAN_DAYS[when.unit]
