"""The front door: a case, a rule set, a plan file, one proposed day, and what was entered give a plan."""

from collections.abc import Iterable
from datetime import date, timedelta

from candidacy.assessment.assess import Assessment
from candidacy.case.catalogue import catalogue
from candidacy.case.load import Case
from candidacy.explain.ahead import mending_info
from candidacy.explain.cautions import EMERGENCY, GENERAL, INVENTED
from candidacy.explain.cited import citation_info, source_info
from candidacy.explain.document import CaseInfo
from candidacy.explain.hold_plan import holds_info
from candidacy.explain.reason import reason
from candidacy.explain.wording import code_words, listed, remarks_first
from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Members, Options
from candidacy.plan.changes import Earlier, with_changes
from candidacy.plan.content import Rules
from candidacy.plan.cost import estimate_band, modifier
from candidacy.plan.dated import DISCOGRAPHY, INJECTION, ORDER, Dated, in_order, of_file, settle
from candidacy.plan.discography import discography_info
from candidacy.plan.document import (
    CalendarInfo,
    ConflictInfo,
    DiscographyInfo,
    FactRow,
    GateInfo,
    MaterialInfo,
    MaterialRow,
    PlanDocument,
    RulesInfo,
    StandingInfo,
    StepInfo,
    uid,
)
from candidacy.plan.entries import Entries, booked, no_entries, order_lead
from candidacy.plan.gate import gate_info
from candidacy.plan.ground import Ground, ground
from candidacy.plan.material import in_order as material_in_order
from candidacy.plan.material import judged, missing_limits
from candidacy.plan.medicines import medicine_steps
from candidacy.plan.missing_facts import missing_facts, what_remains
from candidacy.plan.obstacles import Against, Obstacle, against, wait_after_discography
from candidacy.plan.working_days import WEEKDAYS, WorkingDays
from candidacy.rules.resolved import RuleSet

_MOST_DAYS_TRIED = 30


def plan(
    case: Case,
    rule_set: RuleSet,
    rules: Rules,
    on: date,
    as_of: date,
    *,
    calendar: WorkingDays | None = None,
    entries: Entries | None = None,
    earlier: "Earlier | date | None" = None,
    engine: str = "durable-rules",
) -> PlanDocument:
    """The plan of a case for one proposed day of injection.

    Parameters
    ----------
    case, rule_set, rules
        A loaded case, the rule set it is assessed under, and the plan file in use.
    on
        The proposed day.
    as_of
        The day on which the plan is made. Criteria that depend on the day are assessed as of ``on``.
    calendar
        Working days of the practice; without it the weekend of the plan file and no holidays.
    entries
        What was entered for this plan and is no fact of the case.
    earlier
        An earlier plan of the same case, or the day it was made for, to say what changed.

    Raises
    ------
    InputError
        E207 if the proposed day lies before the day of the plan.
    """
    if on < as_of:
        raise InputError([Problem(Code.BAD_DATE, "the proposed day has passed", "--on", field="on", found=on.isoformat(),
                                  expected=f"{as_of.isoformat()} (the day of the plan) or later")])  # fmt: skip
    made = _Maker(
        rule_set, rules, as_of, calendar or WorkingDays(), entries or no_entries(case.record.id), case, engine
    )
    document = made.document(on)
    if isinstance(earlier, date):
        earlier = Earlier.of(made.document(earlier))
    return document if earlier is None else with_changes(document, earlier)


class _Maker:
    def __init__(
        self,
        rule_set: RuleSet,
        rules: Rules,
        as_of: date,
        calendar: WorkingDays,
        entries: Entries,
        case: Case,
        engine: str,
    ) -> None:
        self._rule_set, self._rules, self._as_of, self._calendar = rule_set, rules, as_of, calendar
        self._entries, self._case, self._engine = entries, case, engine

    def document(self, on: date) -> PlanDocument:
        here = self._ground(on)
        urgent = here.urgent
        if urgent is not None:
            return self._document(
                here, "urgent", urgent=[EMERGENCY, self._rules.word("urgent"), *reason(urgent)]
            )
        found = self._against(here)
        facts = missing_facts(here, found, self._rules, self._as_of, self._order_day(here.on))
        earliest, left = self._earliest()
        if left and earliest == self._as_of:
            earliest = None  # today would be no more than the absence of dates
        conflicts = [_conflict(each) for each in found.obstacles]
        says = self._earliest_says(on, found.obstacles, earliest, left)
        unknown = sum(bool(row.element) for row in facts)
        says += [self._rules.word("not_known", number=unknown)] if unknown else []
        refused = here.refused
        if refused is not None:
            steps = what_remains(facts, self._rules)
            settle(steps, on, self._as_of, None, self._calendar, self._rules)
            why = [self._rules.word("none"), *reason(refused)]
            not_yet = refused.outlook.not_yet
            why += [mending_info(m).words for m in (not_yet.after if not_yet else ())]
            return self._document(here, "no_plan", why_none=list(dict.fromkeys(why)), conflicts=conflicts, facts=facts, steps=steps,
                                  earliest=earliest, says=says)  # fmt: skip
        order = self._order_day(on)
        steps = self._steps(here, facts, order)
        settle(steps, on, self._as_of, order, self._calendar, self._rules)
        gate = gate_info(here, self._rules, self._entries, found, steps, order)
        return self._document(here, "plan", conflicts=conflicts, facts=facts, steps=steps, earliest=earliest, says=says, gate=gate,
                              discography=discography_info(here, self._rules), cost=self._cost(here), material=self._material(on))  # fmt: skip

    # --- against the day

    def _ground(self, on: date) -> Ground:
        return ground(self._case, self._rule_set, self._as_of, on, self._engine, self._rules.file.judged_by)

    def _against(self, here: Ground) -> Against:
        found = against(here, self._rules, self._calendar, self._entries.hour)
        found.obstacles += self._by_steps(here)
        return found

    def _by_steps(self, here: Ground) -> Iterable[Obstacle]:
        """Steps without which the day cannot be kept, and whose own day has passed."""
        rules, on, as_of = self._rules, here.on, self._as_of
        order = self._order_day(on)
        if order is not None and order < as_of:
            yield self._too_late(ORDER, rules.word("order_title"), order, self._first_after(on, as_of))
        wait, _ = wait_after_discography(here, rules)
        said, day = self._entries.said.discography, booked(self._entries)
        if said is not None and said.wanted:
            latest = on - timedelta(wait)
            if day is not None and day > latest:
                words = rules.word(
                    "discography_too_close", day=day.isoformat(), days=(on - day).days, wait=wait
                )
                yield Obstacle(DISCOGRAPHY, words, words.rstrip("."), day + timedelta(wait), as_of)
            elif day is None and latest < as_of:
                yield self._too_late(
                    DISCOGRAPHY, rules.word("discography_title"), latest, as_of + timedelta(wait)
                )
        for step in self._rules.file.steps:
            dated = of_file(step, on, here.then.view) if step.hard else None
            if dated is not None and not dated.done and dated.due is not None and dated.due < as_of:
                yield self._too_late(step.id, step.title, dated.due, as_of + (on - dated.due))

    def _too_late(self, name: str, title: str, was: date, day: date) -> Obstacle:
        words = self._rules.word("step_too_late", step=title, was=was.isoformat(), day=day.isoformat())
        return Obstacle(name, words, words.rstrip("."), day, self._as_of)

    def _order_day(self, on: date) -> date | None:
        lead = order_lead(self._entries, self._rules.file.order_lead.days)
        return None if lead is None else self._calendar.before(on - timedelta(lead))

    def _first_after(self, on: date, as_of: date) -> date:
        """The first day whose order would not lie before the day of the plan."""
        lead = order_lead(self._entries, self._rules.file.order_lead.days) or 0
        return self._calendar.after(as_of) + timedelta(lead)

    def _earliest(self) -> tuple[date | None, list[Obstacle]]:
        """The first day that nothing with a known date stands against, and what stands against it without a date."""
        day = self._as_of
        for _ in range(_MOST_DAYS_TRIED):
            found = self._against(self._ground(day)).obstacles
            later = [each.earliest for each in found if each.earliest is not None and each.earliest > day]
            if not later:
                return day, [each for each in found if each.earliest is None]
            day = self._calendar.after(max(later))
        return None, []

    def _earliest_says(
        self, on: date, found: list[Obstacle], earliest: date | None, left: list[Obstacle]
    ) -> list[str]:
        rules = self._rules
        dated = [each for each in found if each.earliest is not None and each.earliest > on]
        says = []
        if dated:
            bound = max(each.earliest for each in dated if each.earliest is not None)
            says.append(
                rules.word(
                    "not_before", day=bound.isoformat(), reasons="; ".join(each.reason for each in dated)
                )
            )
        if left:
            says.append(rules.word("no_day_known", reasons="; ".join(each.reason for each in left)))
        if earliest is None:
            says += [] if left else [rules.word("earliest_none")]
        else:
            says.append(rules.word("earliest_open" if left else "earliest", day=earliest.isoformat()))
        return says

    # --- steps

    def _steps(self, here: Ground, facts: list[FactRow], order: date | None) -> list[Dated]:
        rules, on = self._rules, here.on
        steps = [s for step in rules.file.steps if (s := of_file(step, on, here.then.view)) is not None]
        for step in steps:
            if step.applies is Truth.UNKNOWN:
                step.says.append(rules.word("may_not_apply"))
        steps += what_remains(facts, rules)
        steps += medicine_steps(here, rules, self._entries.hour)
        before = [s.id for s in steps if INJECTION not in s.needs and (s.due is None or s.due <= on)]
        discs = here.then.view.fact("discs_under_consideration", "patient").value
        names = listed(sorted(discs.certain)) if isinstance(discs, Members) and discs.certain else "?"
        clock = self._entries.said.injection_time
        wait, _ = wait_after_discography(here, rules)
        material = Dated(ORDER, "material", rules.word("order_title"), "coordinator", order, says=[rules.word("order")], hard=True,
                         needs=[s.id for s in steps if s.gate], as_of=self._as_of, cites=rules.file.order_lead.cites)  # fmt: skip
        if order is None:
            material.no_date_because = rules.word("order_no_day", ask=rules.file.order_lead.ask)
        said = self._entries.said.discography
        done = here.today.view.fact("discography_done", "patient").value
        if (said is None and not (isinstance(done, Options) and done.codes == {True})) or (
            said is not None and said.wanted
        ):
            day = booked(self._entries)
            word = "discography_latest" if day is None else "discography_on"
            steps.append(Dated(DISCOGRAPHY, "discography", rules.word("discography_title"), "physician", day or on - timedelta(wait),
                               says=[rules.word(word, wait=wait)], hard=True, relative=day is None, as_of=on,
                               cites=rules.file.settings["wait_without_rule_days"].cites))  # fmt: skip
            before.append(DISCOGRAPHY)
        steps.append(material)
        steps.append(Dated(INJECTION, "day", rules.word("injection_title"), "physician", on, facts=rules.word("injection", discs=names),
                           clock=clock, hard=True, needs=[*before, ORDER], as_of=on))  # fmt: skip
        return steps

    # --- cost and material

    def _cost(self, here: Ground) -> list[str]:
        rules, said = self._rules, self._entries.said.cost
        says = [rules.word("cost_notice")]
        actual, estimate = (said.actual, said.estimate) if said is not None else (None, None)
        if actual is not None:
            low, high = estimate_band(
                actual, rules.setting("estimate_dollars"), rules.setting("estimate_percent")
            )
            says.append(
                rules.word("cost_band", actual=f"{actual:,.0f}", low=f"{low:,.0f}", high=f"{high:,.0f}")
            )
            if estimate is not None:
                word = "cost_inside" if low <= estimate <= high else "cost_outside"
                says.append(rules.word(word, estimate=f"{estimate:,.0f}", **({} if word == "cost_inside" else
                                       {"low": f"{low:,.0f}", "high": f"{high:,.0f}"})))  # fmt: skip
        else:
            says.append(rules.word("cost_ask"))
        code = (
            modifier(said.denial_expected, said.notice_signed, said.excluded_by_law)
            if said is not None
            else None
        )
        if code is not None and said is not None:
            signed = "signed" if said.notice_signed else "not signed"
            says.append(rules.word("cost_modifier", modifier=code, why=f"notice {signed}"))
        answer = here.today.view.fact("coverage_answer", "patient").value
        if isinstance(answer, Options) and answer.exact:
            choices = catalogue()["coverage_answer"].choices or {}
            says.append(rules.word("coverage", answer=choices.get(str(next(iter(answer.codes))), "")))
        else:
            says.append(rules.word("coverage_unknown"))
        return says

    def _material(self, on: date) -> MaterialInfo:
        rules, material = self._rules, self._entries.said.material
        found = judged(material, on)
        rows = []
        for each in found:
            fields: dict[str, str] = {"limit": each.name}
            if each.verdict in ("kept", "broken"):
                fields["found"] = each.found
            rows.append(
                MaterialRow(
                    name=each.name,
                    verdict=each.verdict,
                    words=rules.word(f"material_{each.verdict}", **fields),
                )
            )
        missing = missing_limits(material)
        says = [rules.word("material_nothing", limits=listed(missing))] if missing else []
        if material is not None and material.limits is not None:
            says.append(rules.word("material_source", source=material.limits.source))
        if any(each.verdict == "broken" for each in found):
            says.insert(0, rules.word("material_aside"))
        elif material_in_order(found):
            says.append(rules.word("material_in_order"))
        else:
            says.append(rules.word("material_open"))
        return MaterialInfo(in_order=material_in_order(found), says=says, rows=rows)

    # --- the document

    def _document(
        self, here: Ground, kind: "str", *, urgent: list[str] | None = None, why_none: list[str] | None = None,
        conflicts: list[ConflictInfo] | None = None, facts: list[FactRow] | None = None, steps: list[Dated] | None = None,
        earliest: date | None = None, says: list[str] | None = None, gate: GateInfo | None = None,
        discography: DiscographyInfo | None = None, cost: list[str] | None = None, material: MaterialInfo | None = None,
    ) -> PlanDocument:  # fmt: skip
        record, rules, on = self._case.record, self._rules, here.on
        file = rules.file
        cautions = [*([INVENTED] if record.invented else []), *file.cautions, *GENERAL[:2]]
        shown = [self._step(step) for step in in_order(steps or [])]
        used = {cite.source for step in steps or [] for cite in step.cites}
        used |= {cite.source for setting in file.settings.values() for cite in setting.cites}
        holds = holds_info(here.holds, self._rule_set) if kind == "plan" and here.holds.medicines else None
        used |= {cite.source for medicine in (holds.medicines if holds else []) for cite in medicine.cites}
        sources = self._rule_set.sources
        return PlanDocument(
            schema_version="1",
            program=f"candidacy {here.today.version}",
            kind=kind,  # type: ignore[arg-type]
            case=CaseInfo(id=record.id, title=record.title, invented=record.invented, digest=self._case.digest),
            rule_set=RulesInfo(id=self._rule_set.id, version=self._rule_set.file.version, title=self._rule_set.file.title,
                               digest=self._rule_set.digest, status=self._rule_set.file.status,
                               notices=[*self._rule_set.own_words, *(f"Local trial: {t}." for t in self._rule_set.trial)]),
            plan=RulesInfo(id=file.id, version=file.version, title=file.title, digest=rules.digest, notices=list(rules.notices)),
            calendar=CalendarInfo(title=self._calendar.title, weekend_days=[WEEKDAYS[n] for n in sorted(self._calendar.weekend)],
                                  holidays={d.isoformat(): n for d, n in sorted(self._calendar.holidays.items())},
                                  digest=self._calendar.digest),
            entries_digest=self._entries.digest,
            as_of=self._as_of.isoformat(),
            day=on.isoformat(),
            weekday=WEEKDAYS[on.weekday()].capitalize(),
            hour=self._entries.said.injection_time,
            cautions=cautions,
            notices=self._notices(here),
            urgent=urgent or [],
            why_none=why_none or [],
            standings=[_standing(each) for each in ([here.urgent] if here.urgent else [here.today, *(t for t, _ in here.pairs)])],
            conflicts=conflicts or [],
            earliest="" if earliest is None else earliest.isoformat(),
            earliest_says=says or [],
            gate=gate or GateInfo(open=False, order_by="", items=[], says=""),
            facts=facts or [],
            steps=shown,
            parts=dict(file.parts),
            owners=dict(file.owners),
            holds=holds,
            discography=discography,
            cost=cost or [],
            material=material,
            changes=None,
            sources=[source_info(key, sources[key]) for key in sorted(used) if key in sources],
        )  # fmt: skip

    def _notices(self, here: Ground) -> list[str]:
        notices = [*self._rules.notices, *self._rule_set.own_words]
        if self._rule_set.file.status != "in_use":
            notices += [n for n in here.today.notices if "status" in n][:1]
        recorded = here.recorded.facts.patient.get("planned_procedure_date")
        if (
            recorded is not None
            and recorded.value is not None
            and recorded.provenance.as_written != here.on.isoformat()
        ):
            written = recorded.provenance.as_written or "?"
            notices.append(self._rules.word("record_plans", written=written, day=here.on.isoformat()))
        if here.recorded.facts.remarks:
            notices.append(remarks_first(len(here.recorded.facts.remarks)))
        notices += [self._rules.word("could_not", what=each) for each in here.could_not]
        return list(dict.fromkeys(notices))

    def _step(self, step: Dated) -> StepInfo:
        return StepInfo(
            id=step.id, uid=uid(self._case.record.id, step.id), sequence=0, state="done" if step.done else "planned", part=step.part,
            title=step.title, facts=step.facts or step.title, lines=step.lines, says=step.says, owner=step.owner,
            owner_words=self._rules.file.owners.get(step.owner, code_words(step.owner)), due=_iso(step.due), clock=step.clock,
            earliest=_iso(step.earliest), was=_iso(step.was), moved_because=step.moved_because, no_date_because=step.no_date_because,
            relative=step.relative, gate=step.gate, needs=step.needs, agreement=step.agreement, as_of=_iso(step.as_of),
            cites=[citation_info(cite) for cite in step.cites],
        )  # fmt: skip


def _iso(day: date | None) -> str:
    return "" if day is None else day.isoformat()


def _conflict(each: Obstacle) -> ConflictInfo:
    return ConflictInfo(
        id=each.id,
        words=each.words,
        reason=each.reason,
        earliest=_iso(each.earliest),
        as_of=each.as_of.isoformat(),
    )


def _standing(found: Assessment) -> StandingInfo:
    return StandingInfo(as_of=found.as_of.isoformat(), rule_set=found.rule_set.file.title, standing=found.standing,
                        name=found.outlook.name, reason=reason(found)[0])  # fmt: skip
