"""Which disc, in words: sentences about the recorded discs, and the next step where another disc passes."""

from candidacy.assessment.assess import Assessment
from candidacy.assessment.discs import DiscChoice, OtherDisc
from candidacy.assessment.outlook import Outlook
from candidacy.explain.document import OtherDiscInfo, WhichDiscInfo
from candidacy.explain.found import in_sentence
from candidacy.explain.wording import listed, remarks_first
from candidacy.foundation.truth import Truth


def which_disc_info(choice: DiscChoice, ahead: Outlook) -> WhichDiscInfo:
    """The choice among the recorded discs as a part of the document, with the rule set's own names."""
    return WhichDiscInfo(
        judged=choice.judged,
        passing=list(choice.passing),
        failing=[disc.level for disc in choice.failing],
        waiting=list(choice.waiting),
        others=[
            OtherDiscInfo(level=o.level, considered=o.considered.value, alone=o.alone, alone_name=o.name)
            for o in choice.others
        ],
        positive_not_considered=list(choice.positive),
        not_known_whether_considered=list(choice.unsettled),
        says=_sentences(choice, ahead),
    )


def next_step(assessment: Assessment) -> str:
    """What comes next; of a candidate first to read what no rule read."""
    number = len(assessment.case.facts.remarks)
    step = _next_step(assessment)
    if assessment.standing != "candidate" or not number:
        return step
    return f"{remarks_first(number)} {step}"


def _next_step(assessment: Assessment) -> str:
    """What comes next by the rule that decided; another one where a disc that nobody considers passes.

    An emergency comes first, whatever the discs are. A case that only has to wait is told so, and of the other disc too.
    """
    choice, ahead = assessment.disc_choice, assessment.outlook
    rule = next(r for r in assessment.rule_set.decisions.rules if r.id == assessment.decision.rule)
    if not choice.others or choice.passing or rule.standing in ("urgent", "candidate"):
        return ahead.next_step
    helpful = [other for other in choice.others if other.level in choice.helpful]
    discs = _named(helpful or list(choice.others))
    if rule.other_disc is not None and ahead.not_yet is None:
        step = rule.other_disc.helps if helpful else rule.other_disc.does_not_help
        return step.replace("{discs}", discs)
    if not helpful:
        return ahead.next_step
    return f"{ahead.next_step} Ask also whether {discs} should be considered."


def _named(others: list[OtherDisc]) -> str:
    levels = [other.level for other in others]
    return f"{listed(levels)}, which {'pass' if len(levels) > 1 else 'passes'} every disc criterion,"


def _sentences(choice: DiscChoice, ahead: Outlook) -> list[str]:
    found: list[str] = []
    if choice.judged:
        failing = [f"{d.level} ({in_sentence(ahead.discs[d.level])})" for d in choice.failing]
        not_considered = [_other(o) for o in choice.others if o.considered is Truth.NOT_MET]
        open_discs = [_other(o) for o in choice.others if o.considered is Truth.UNKNOWN]
        found = [
            _said("Considered, and passing every disc criterion", list(choice.passing)),
            _said("Considered, but not passing", failing),
            _said("Considered, and still waiting for facts", list(choice.waiting)),
            _said("Recorded but not considered, and passing every disc criterion", not_considered),
            _said("Passing every disc criterion, though not known to be considered", open_discs),
        ]
    settled = [level for level in choice.positive if level not in choice.unsettled]
    waiting = [level for level in choice.positive if level in choice.unsettled]
    found += [
        _said("Positive at discography but not considered", settled),
        _said("Positive at discography, though not known to be considered", waiting),
    ]
    return [sentence for sentence in found if sentence]


def _said(what: str, discs: list[str]) -> str:
    return f"{what}: {listed(discs)}." if discs else ""


def _other(other: OtherDisc) -> str:
    if other.alone is None:
        return other.level
    return f"{other.level} (if it alone were considered, the case would be: {in_sentence(other.name)})"
