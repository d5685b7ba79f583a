"""The shape of a plan file: steps, owners, settings and words around a day of injection."""

from typing import Annotated, Literal

from pydantic import Field

from candidacy.case.element import Replaces, Rows, Strict, Text
from candidacy.rules.cited import Change, Citation, Setting
from candidacy.rules.conditions import Condition
from candidacy.rules.vocabulary import Identifier, Version

Part = Literal[
    "facts", "discography", "consent", "cost", "medicines", "laboratory", "material", "day", "after"
]
PARTS: tuple[Part, ...] = (
    "facts", "discography", "consent", "cost", "medicines", "laboratory", "material", "day", "after",
)  # fmt: skip
OWNERS = ("patient", "referrer", "physician", "prescriber", "treating_clinician", "radiologist", "coordinator", "supplier", "payer",
          "imaging", "procedure", "laboratory")  # fmt: skip


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
    ask: Text
    """How it is asked for."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Why it is asked."""


class _Head(Strict):
    id: Identifier
    """Id: the name of the file without ``.yaml``."""
    version: Version
    """Version, as three numbers; the last of ``changes``."""
    title: Text
    """Name of the plan."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """History, the latest last."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a plan of one's own that bears a shipped id."""


class PlanFile(_Head):
    """A whole plan: ``plan/ID.yaml`` of a library."""

    meaning: Text
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
