"""What the last signed decision on a referral says to the checklist of the day."""

from collections.abc import Iterable

from candidacy.case.facts import normal_level
from candidacy.case.load import Case
from candidacy.conference.deciding import DECISIONS
from candidacy.day.checklist import SheetWords
from candidacy.day.record_words import Said
from candidacy.explain.wording import listed
from candidacy.foundation.errors import Code, StoreError
from candidacy.records.decisions import Decision
from candidacy.records.store import Store


def kept_for_the_day(store: Store, case: Case, discs: Iterable[str], words: SheetWords) -> Said | None:
    """The last signed decision on the kept referral of this id, as the checklist tells it. Reading it is entered.

    ``None`` where no referral of that id is kept, or nothing was decided.

    Raises
    ------
    StoreError
        As `Store.open_referral`, but for a referral that is not kept.
    """
    levels = tuple(normal_level(each) or each for each in discs)
    try:
        kept = store.open_referral(case.record.id)
    except StoreError as error:
        if any(problem.code is not Code.UNKNOWN_REFERRAL for problem in error.problems):
            raise
        return None
    same = kept.case.digest == case.digest
    return decision_for_the_day(kept.decisions, levels, words, same_record=same)


def named_or_kept(named: Said | None, kept: Said | None) -> Said | None:
    """A decision that a person names, unless a kept one says something else: then the kept one stands on the sheet."""
    return kept if kept is not None and (named is None or kept.state != "recorded") else named


def decision_for_the_day(
    decisions: Iterable[Decision], discs: tuple[str, ...], words: SheetWords, *, same_record: bool
) -> Said | None:
    """The last decision that none corrects, as the checklist tells it.

    Parameters
    ----------
    discs
        The planned discs: a decision to treat others does not cover them.
    same_record
        Whether the record of the day is the one that is kept: a decision rests on what was decided on.

    Returns
    -------
    Said or None
        ``recorded`` for a decision to treat all of them on facts that are as they were, ``stop`` for one not to treat,
        ``wait`` for any other; ``None`` where nothing was decided.
    """
    standing = [each for each in decisions if not each.corrected_by]
    if not standing:
        return None
    last = max(standing, key=lambda each: each.seq)
    said = last.said
    decided = f"entry {last.seq} of {last.at[:10]}, {DECISIONS[said.decision]}"
    covered = set(discs) <= set(said.discs)
    if said.decision == "treat" and covered:
        decided += f" {listed(sorted(set(said.discs) & set(discs)))}"
        if same_record and not last.changed:
            return Said("recorded", words.conference_known.format(decided=decided))
        return Said("wait", words.conference_again.format(decided=decided))
    if said.decision == "treat":
        decided += ", not every planned disc"
    return Said("stop" if said.decision == "not" else "wait", words.conference_other.format(decided=decided))
