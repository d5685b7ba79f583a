"""Steps for each medicine before and after the injection. It proposes what the tables say, and nothing without the prescriber."""

from collections.abc import Iterator
from datetime import date, time, timedelta
from math import floor

from candidacy.assessment.hold_plan import MedicineHold
from candidacy.explain.hold_plan import hold_title, holds_info
from candidacy.explain.holds_document import HoldInfo
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span
from candidacy.plan.content import Rules
from candidacy.plan.dated import INJECTION, Dated, hours_earlier
from candidacy.plan.ground import Ground
from candidacy.plan.obstacles import waits


def medicine_steps(ground: Ground, rules: Rules, hour: time | None) -> Iterator[Dated]:
    """Asking the prescriber, checks, last dose and restart of each medicine, in the order of the record."""
    plan = ground.holds
    for hold, info in zip(plan.medicines, holds_info(plan, ground.rule_set).medicines, strict=True):
        if not waits(hold):
            continue
        yield from _Medicine(ground, rules, hour, hold, info).steps()


class _Medicine:
    def __init__(
        self, ground: Ground, rules: Rules, hour: time | None, hold: MedicineHold, info: HoldInfo
    ) -> None:
        self._ground, self._rules, self._hour, self._hold, self._info = ground, rules, hour, hold, info
        self._key = hold.subject.replace("[", "_").replace("]", "")
        self._title = hold_title(info)
        self._agreement = (
            rules.word("agreement", who=info.who_must_agree)
            if info.who_must_agree
            else rules.word("no_agreement_needed")
        )

    def steps(self) -> Iterator[Dated]:
        hold, on = self._hold, self._ground.on
        ask = f"{self._key}_ask"
        open_ = hold.agreement in ("needed", "unknown", "refused")
        if open_ or self._info.who_must_agree:
            step = self._step(
                ask, "ask_prescriber", on - timedelta(self._rules.setting("near_day_days")), "physician"
            )
            step.done, step.gate, step.moves = hold.agreement == "given", True, "before"
            yield step
        if hold.renal:
            step = self._step(
                f"{self._key}_renal",
                "renal",
                on - timedelta(self._rules.setting("near_day_days")),
                "physician",
            )
            step.part, step.gate, step.moves = "laboratory", True, "before"
            known = self._ground.today.view.fact("creatinine_clearance", "patient").value
            # a clearance that lies in more than one band leaves the interval open
            step.done = isinstance(known, Span) and known.bounded and len(hold.intervals) == 1
            yield step
        if hold.inr_asked:
            days = int(self._ground.rule_set.setting_values()["inr_days_before_procedure"])  # type: ignore[arg-type]
            step = self._step(f"{self._key}_inr", "inr", on, "physician", days=days)
            step.part, step.earliest, step.done = (
                "laboratory",
                on - timedelta(days),
                hold.inr_normal is Truth.MET,
            )
            yield step
        yield from self._last_dose(ask if open_ else "")
        if hold.restart and not open_:
            yield self._restart()

    def _step(self, name: str, word: str, due: date | None, owner: str, **fields: object) -> Dated:
        facts = self._rules.word(word, medicine=self._title, **fields)
        return Dated(name, "medicines", self._rules.word(f"{word}_title"), owner, due, facts=facts, agreement=self._agreement,
                     as_of=self._ground.as_of, cites=self._hold.cites)  # fmt: skip

    def _last_dose(self, ask: str) -> Iterator[Dated]:
        hold, rules, on = self._hold, self._rules, self._ground.on
        if not hold.intervals and not ask:
            return
        by = None if hold.last_dose_by is None else date.fromordinal(int(hold.last_dose_by.low))
        clock = ""
        says: list[str] = []
        if by is not None and hold.hours_before is not None:
            words = " and ".join(hold.last_dose_by_hours)
            if self._hour is None:
                says.append(rules.word("last_dose_ask_hour", hours=words))
            else:
                moment = hours_earlier(on, self._hour, hold.hours_before)
                by, clock = moment.date(), f"{moment:%H:%M}"
                says.append(rules.word("last_dose_clock", hours=words, clock=f"{moment:%Y-%m-%d %H:%M}"))
        step = self._step(f"{self._key}_last_dose", "last_dose", by, "patient", agreement=self._agreement)
        step.hard, step.clock = True, clock
        step.says += [*says, *self._info.cautions]
        step.needs = [ask] if ask else []
        if by is None:
            step.no_date_because = self._info.goes_on or self._info.no_date_because or rules.word("undated")
        elif self._info.hold_until and self._info.last_dose and hold.ready is Truth.MET:
            step.done = True
        yield step

    def _restart(self) -> Dated:
        hold, on = self._hold, self._ground.on
        due = on
        says: list[str] = []
        clock = ""
        if hold.restart_hours is not None:
            least = hold.restart_hours[0]
            due = on + timedelta(floor(least / 24))
            if self._hour is not None:
                moment = hours_earlier(on, self._hour, -least)
                due, clock = moment.date(), f"{moment:%H:%M}"
                says.append(self._rules.word("restart_clock", clock=f"{moment:%Y-%m-%d %H:%M}"))
        step = self._step(f"{self._key}_restart", "restart", due, "patient", restart=hold.restart)
        step.says += says
        step.clock, step.needs = clock, [INJECTION]
        return step
