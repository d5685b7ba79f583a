"""What the last signed decision on a referral says to the checklist of the day."""

from collections.abc import Iterable

from candidacy.conference.deciding import DECISIONS
from candidacy.day.checklist import SheetWords
from candidacy.day.record_words import Said
from candidacy.explain.wording import listed
from candidacy.records.decisions import Decision


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
