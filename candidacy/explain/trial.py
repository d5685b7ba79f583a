"""A local trial in words: what would have to be otherwise for the standing that is shown."""

import re
from pathlib import Path

from candidacy.explain.cited import value_in_words
from candidacy.explain.document import TriedInfo
from candidacy.explain.found import in_sentence
from candidacy.explain.wording import listed
from candidacy.foundation.shipped import rulesets_folder
from candidacy.rules.resolved import RuleSet


def tried_info(rule_set: RuleSet) -> list[TriedInfo]:
    """Each parameter that is changed for a local trial, in the order of the criteria."""
    if not rule_set.trial:
        return []
    shipped = bool(rule_set.path) and Path(rule_set.path).is_relative_to(rulesets_folder())
    return [
        TriedInfo(
            criterion=item.id,
            parameter=name,
            meaning=parameter.declared.meaning,
            value=value_in_words(parameter.value, parameter.unit),
            instead_of=value_in_words(parameter.before_trial, parameter.unit),
            shipped=shipped,
        )
        for item in rule_set.criteria
        for name, parameter in item.parameters.items()
        if parameter.before_trial is not None
    ]


def trial_clause(tried: list[TriedInfo]) -> str:
    """What a standing under a local trial rests on, as a part of a sentence; empty where nothing is tried."""
    return f"if {listed([_were(each) for each in tried])}" if tried else ""


def _were(each: TriedInfo) -> str:
    where = "shipped" if each.shipped else "the rule set says"
    # the reason of a standing is told from its head by the first colon
    meaning = in_sentence(each.meaning).replace(": ", ", ")
    return f"“{meaning}” were {each.value} ({where} {each.instead_of})"


_LONGEST_NAME = 80


def trial_file_part(tried: list[TriedInfo]) -> str:
    """What a file name says of a local trial; empty where nothing is tried, and cut where much is."""
    words = "-and-".join(f"{each.parameter}-{each.value}" for each in tried)
    safe = re.sub(r"[^\w.]+", "-", words, flags=re.ASCII).strip("-.")
    if len(safe) > _LONGEST_NAME:
        safe = f"{safe[:_LONGEST_NAME].rstrip('-.')}-and-more"
    return f"-trial-if-{safe}" if tried else ""
