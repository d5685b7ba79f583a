"""A rule set as a document a committee can read and approve."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from candidacy.explain.build import rule_sentence
from candidacy.explain.cited import citation_info, cites_words, keys_of, parameter_info, sources_of
from candidacy.explain.cited_document import CitationInfo, ParameterInfo, SourceInfo
from candidacy.explain.found import in_sentence
from candidacy.explain.wording import listed, with_unit
from candidacy.foundation.errors import InputError
from candidacy.rules.decision_order import DecisionRule
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.rule_set_file import Companion, SourceAttributes
from candidacy.rules.vocabulary import FORCES, GROUPS, STANDINGS


class _Part(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)


class CriterionEntry(_Part):
    """A criterion as the rule set uses it, in plain sentences."""

    id: str
    version: str
    title: str
    group: str
    subject: str
    kind: str
    force: str
    force_reason: str
    force_replaces: str | None
    status: str
    checked_on: str
    rule: str
    why: str
    parameters: list[ParameterInfo]
    cites: list[CitationInfo]
    spread: str
    if_unknown: str
    ask_for: str
    act: str
    cautions: list[str]
    changes: list[str]


class DecisionEntry(_Part):
    """A decision rule in words."""

    id: str
    standing: str
    standing_name: str
    when: str
    means: str
    next_step: str
    next_step_other_disc: list[str]


class RuleSetDocument(_Part):
    """Everything a committee needs to approve or refuse a rule set."""

    schema_version: Literal["1"]
    id: str
    version: str
    title: str
    status: str
    digest: str
    scope: str
    intended_users: str
    population: str
    out_of_scope: list[str]
    authoring_basis: str
    known_limits: list[str]
    not_tested_on: str
    review_by: str
    extends: str | None
    reason: str
    replaced: list[str]
    left_out: list[str]
    source_attributes: SourceAttributes
    criteria: list[CriterionEntry]
    decisions: list[DecisionEntry]
    companions: list[str]
    settings: list[ParameterInfo]
    cautions: list[str]
    changes: list[str]
    sources: list[SourceInfo]
    trial: list[str]


def describe_rule_set(rule_set: RuleSet) -> RuleSetDocument:
    """The document of a rule set."""
    file = rule_set.file
    groups = list(GROUPS)
    items = sorted(rule_set.criteria, key=lambda i: groups.index(i.criterion.group))
    keys = {c.source for item in items for c in item.criterion.cites} | keys_of(rule_set.settings.values())
    keys |= keys_of(parameter for item in items for parameter in item.parameters.values())
    keys |= {
        c.source for companion in rule_set.companions if companion.within for c in companion.within.cites
    }
    return RuleSetDocument(
        schema_version="1",
        id=file.id,
        version=file.version,
        title=file.title,
        status=file.status,
        digest=rule_set.digest,
        scope=file.scope,
        intended_users=file.intended_users,
        population=file.population,
        out_of_scope=list(file.out_of_scope),
        authoring_basis=file.authoring_basis,
        known_limits=list(file.known_limits),
        not_tested_on=file.not_tested_on,
        review_by=file.review_by,
        extends=rule_set.extended or None,
        reason=file.reason,
        replaced=list(rule_set.replaced_words),
        left_out=[f"{left.id}: {left.reason}" for left in file.leaves_out],
        source_attributes=file.source_attributes,
        criteria=[describe_criterion(item) for item in items],
        decisions=[
            DecisionEntry(
                id=rule.id,
                standing=rule.standing,
                standing_name=rule_set.decisions.name_of(rule.standing),
                when=" or ".join(_pattern(p.force, p.outcome, p.any_disc) for p in rule.when)
                or "no rule above decides",
                means=rule.means,
                next_step=rule.next_step,
                next_step_other_disc=_other_disc(rule),
            )
            for rule in rule_set.decisions.rules
        ],
        companions=[_companion(companion, rule_set) for companion in rule_set.companions],
        settings=[parameter_info(setting) for setting in rule_set.settings.values()],
        cautions=list(file.cautions),
        changes=[f"{c.version} ({c.date}): {c.change}" for c in reversed(file.changes)],
        sources=sources_of(keys, rule_set),
        trial=list(rule_set.trial),
    )


def _other_disc(rule: DecisionRule) -> list[str]:
    """The next steps where a disc that is not considered passes every disc criterion."""
    steps = rule.other_disc
    if steps is None:
        return []
    return [
        f"Where considering another disc would help: {steps.helps.replace('{discs}', '(that disc)')}",
        f"Where it would not: {steps.does_not_help.replace('{discs}', '(that disc)')}",
    ]


def _companion(companion: Companion, rule_set: RuleSet) -> str:
    """A companion rule set: when it is asked, and when it stops the answer, with its own names of standings."""
    if companion.within is not None:
        days = with_unit(str(companion.within.value), "day")
        when = f"asked where a procedure is planned within {days} ({cites_words(companion.within.cites)})"
    else:
        when = {
            "always": "always asked",
            "discography_recorded": "asked where a discography is recorded",
            "imaging_report": "asked where an imaging report is recorded",
        }[companion.when]
    stops = listed([in_sentence(name) for name in _names(companion, rule_set)], "or")
    return f"{companion.id}: {companion.says.rstrip('.')}; {when}; the answer says stop where it comes out as {stops}"


def _names(companion: Companion, rule_set: RuleSet) -> list[str]:
    """What a companion calls the standings it stops on; general names where it cannot be loaded here."""
    try:
        order = rule_set.library(companion.id).decisions if rule_set.library else None
    except InputError:
        order = None
    return [order.name_of(standing) if order else STANDINGS[standing] for standing in companion.stops_on]


def describe_criterion(item: ResolvedCriterion) -> CriterionEntry:
    """A criterion in plain sentences."""
    criterion = item.criterion
    changed = item.force_change
    return CriterionEntry(
        id=criterion.id,
        version=criterion.version,
        title=criterion.title,
        group=criterion.group,
        subject=criterion.subject,
        kind=criterion.kind,
        force=item.force,
        force_reason=changed.reason if changed else criterion.force_reason,
        force_replaces=criterion.force if changed and changed.value != criterion.force else None,
        status=criterion.status,
        checked_on=criterion.checked_on,
        rule=rule_sentence(item),
        why=criterion.why.strip(),
        parameters=[parameter_info(p) for p in item.parameters.values()],
        cites=[citation_info(c) for c in criterion.cites],
        spread=criterion.spread,
        if_unknown=criterion.if_unknown,
        ask_for=criterion.ask_for,
        act=criterion.act,
        cautions=list(criterion.cautions),
        changes=[f"{c.version} ({c.date}): {c.change}" for c in reversed(criterion.changes)],
    )


def _pattern(force: str | None, outcome: str | None, disc: str | None) -> str:
    if disc is not None:
        return f"any disc has standing {disc.replace('_', ' ')}"
    if force == "record":
        return _OF_THE_RECORD[outcome or "conflict"]
    verb = {"fail": "fails", "undetermined": "is undetermined", "pass": "passes"}[outcome or "fail"]
    return f"any criterion marked “{FORCES[force or '']}” {verb}"


_OF_THE_RECORD = {
    "conflict": "two facts of the record cannot both be true, or a value is so doubtful that it must be checked first",
    "unread_danger": "the record holds a fact of danger that no deciding criterion reads",
}
