"""What lies ahead of a case in words: what has to happen first, by whom, and the earliest day."""

from candidacy.assessment.outlook import Mending, NotYetResult
from candidacy.explain.document import AssessmentDocument, MendingInfo, NotYetInfo
from candidacy.explain.wording import capped, code_words


def mending_info(mending: Mending) -> MendingInfo:
    """One thing that can be done, or that nothing can."""
    return MendingInfo(
        criterion=mending.criterion,
        subject=mending.subject,
        how=mending.how,
        act=mending.act,
        who=mending.who,
        earliest=mending.earliest.isoformat() if mending.earliest else None,
        words=_words(mending),
    )


def not_yet_info(found: NotYetResult) -> NotYetInfo:
    """What the case waits for."""
    return NotYetInfo(
        earliest=found.earliest.isoformat() if found.earliest else None,
        after=[mending_info(mending) for mending in found.after],
    )


def not_yet_words(found: NotYetResult) -> str:
    """What has to happen and the earliest day, as one sentence."""
    acts = capped(list(dict.fromkeys(_act(mending) for mending in found.after)))
    if found.earliest is None:
        return f"No date can be given: wait until {acts}."
    return f"Earliest {found.earliest.isoformat()}, after {acts}."


def not_yet_lines(document: AssessmentDocument) -> list[str]:
    """Each thing that has to happen, with whom and when, then the earliest day of them all."""
    found = document.not_yet
    if found is None:
        return []
    lines = [("" if m.subject == "patient" else f"{m.subject}: ") + m.words for m in found.after]
    last = f"Earliest day: {found.earliest}" if found.earliest else "Earliest day: no date can be given"
    return [*dict.fromkeys(lines), last]


def _act(mending: Mending) -> str:
    level = "" if mending.subject == "patient" else f"{mending.subject}: "
    if mending.how == "ask":
        return f"{level}it is known: {mending.act}"
    if mending.how == "settle":
        return f"{level}it is settled at the source which is right: {mending.act}"
    return f"{level}{mending.act} ({code_words(mending.who)})"


def _words(mending: Mending) -> str:
    day = f"; earliest {mending.earliest.isoformat()}" if mending.earliest else ""
    if mending.how == "no":
        return "Neither time nor an act mends it."
    if mending.how == "settle":
        return f"Settle at the source which is right: {mending.act}"
    if mending.how == "ask":
        who = f" ({code_words(mending.who)})" if mending.who else ""
        return f"Ask{who}: {mending.act}{day}"
    if mending.how == "discs":
        return f"Mended with the discs that it counts{day or '; no date can be given'}"
    return f"After {mending.act} ({code_words(mending.who)}){day or '; no date can be given'}"
