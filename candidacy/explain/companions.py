"""Companion rule sets in words: one line for all of them, and a sentence for each that says stop."""

from collections.abc import Iterable

from candidacy.assess import Assessment
from candidacy.companions import CompanionResult
from candidacy.explain.document import AssessmentDocument, CompanionInfo
from candidacy.explain.labels import standing_words
from candidacy.explain.reason import reason

COMPANIONS = "Companion sets"
STOP = "Stop"


def companion_info(result: CompanionResult) -> CompanionInfo:
    """A companion with its standing on the day, or why there is none."""
    rule_set, found = result.rule_set, result.assessment
    return CompanionInfo(
        id=result.declared.id,
        title=rule_set.file.title if rule_set else _plain(result.declared.id),
        version=rule_set.file.version if rule_set else "",
        status=rule_set.file.status if rule_set else "",
        digest=rule_set.digest if rule_set else "",
        answers=result.declared.says,
        applies=result.applies,
        because=result.because,
        standing=found.standing if found else None,
        stops=result.stops,
        reason=reason(found) if found else [],
        problem=result.problem,
    )


def stop_sentences(results: Iterable[CompanionResult]) -> list[str]:
    """For each companion that stops: which, why, and in an emergency what to do now."""
    return [_stop(result.assessment) for result in results if result.stops and result.assessment is not None]


def _stop(found: Assessment) -> str:
    why, act = reason(found)
    # the next step of a companion is about its own question; only an emergency commands this answer too
    return f"{STOP}. {why} {act}" if found.standing == "urgent" else f"{STOP}. {why}"


def companions_line(document: AssessmentDocument) -> str:
    """The standing under each companion that applies on the day, as one line; empty where none is declared."""
    pieces = [_piece(companion) for companion in document.companions if companion.applies]
    if not document.companions:
        return ""
    return f"{COMPANIONS}: {'; '.join(pieces) if pieces else 'none applies on this day'}."


def not_due_line(document: AssessmentDocument) -> str:
    """The companions that do not apply on the day, each with the reason; empty where all do."""
    pieces = [f"{c.title} ({c.because})" for c in document.companions if not c.applies]
    return f"Not asked on this day: {'; '.join(pieces)}." if pieces else ""


def _piece(companion: CompanionInfo) -> str:
    if companion.standing is None:
        return f"{companion.title}: could not be assessed ({companion.problem})"
    stop = f"{STOP.upper()}, " if companion.stops else ""
    return f"{companion.title}: {stop}{standing_words(companion.standing)}"


def _plain(identifier: str) -> str:
    words = identifier.replace("_", " ")
    return words[:1].upper() + words[1:]
