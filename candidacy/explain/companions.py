"""Companion rule sets in words: one line for all of them, and a sentence for each that says stop or wait."""

from collections.abc import Iterable, Sequence

from candidacy.assessment.assess import Assessment
from candidacy.assessment.companions import CompanionResult
from candidacy.explain.ahead import not_yet_info, not_yet_words
from candidacy.explain.document import AssessmentDocument, CompanionInfo
from candidacy.explain.found import found_words, in_sentence
from candidacy.explain.headline import earliest_words
from candidacy.explain.marks import Marks, marks_of
from candidacy.explain.reason import cause, opening, reason
from candidacy.explain.wording import capped, listed

COMPANIONS = "Companion sets"
STOP = "Stop"
WAIT = "Wait"


def companion_info(result: CompanionResult[Assessment]) -> CompanionInfo:
    """A companion with its standing on the day as its rule set calls it, or why there is none."""
    rule_set, found = result.rule_set, result.assessment
    ahead = found.outlook if found else None
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
        standing_name=ahead.name if ahead else "",
        shown=ahead.shown("patient", found.standing) if ahead and found else None,
        not_yet=not_yet_info(ahead.not_yet) if ahead and ahead.not_yet else None,
        stops=result.stops,
        reason=reason(found) if found else [],
        problem=result.problem,
        fails=_fails_already(found) if found else (),
    )


def _fails_already(found: Assessment) -> tuple[str, ...]:
    """What a deciding criterion about the patient found to fail, where the standing says no more than that facts are missing."""
    if found.standing != "incomplete":
        return ()
    return tuple(
        in_sentence(found_words(r))
        for r in found.results
        if r.outcome == "fail" and r.resolved.force != "advisory" and r.subject == "patient"
    )


def stop_sentences(main: Assessment, results: Iterable[CompanionResult[Assessment]]) -> list[str]:
    """A sentence for each companion that stops: which, why, and in an emergency what to do now.

    One emergency is told once, whichever rule sets see it: companions that see no other than ``main`` or a companion
    before them are only named.
    """
    stopping = [r.assessment for r in results if r.stops and r.assessment is not None]
    urgent = sorted((f for f in stopping if f.standing == "urgent"), key=lambda f: -len(_emergency(f)))
    groups = [[main]] if main.standing == "urgent" else []
    for found in urgent:
        same = next((g for g in groups if _emergency(found) and _emergency(found) <= _emergency(g[0])), None)
        if same is None:
            groups.append([found])
        else:
            same.append(found)
    sentences = []
    for group in groups:
        if group[0] is not main:
            sentences.append(_emergency_words(group))
        elif group[1:]:
            sentences.append(f"{STOP}. The same emergency under {listed(_titles(group[1:]))}.")
    return sentences + [_stop(found) for found in stopping if found.standing != "urgent"]


def _emergency(found: Assessment) -> frozenset[tuple[str, str]]:
    """The emergency criteria that fail, each with its subject."""
    return frozenset(
        (r.id, r.subject) for r in found.results if r.outcome == "fail" and r.resolved.force == "stop"
    )


def _emergency_words(group: Sequence[Assessment]) -> str:
    named: dict[str, list[str]] = {}
    for found in group:
        named.setdefault(found.outlook.name, []).append(found.rule_set.file.title)
    sets = [(name, listed(titles)) for name, titles in named.items()]
    words = f"{opening(sets, group[0].as_of)}: {cause(group[0])}. {reason(group[0])[1]}"
    return _begun(STOP, words)


def _stop(found: Assessment) -> str:
    # the next step of a companion is about its own question; only an emergency commands this answer too
    waits, why = found.outlook.not_yet, reason(found)[0]
    return f"{_begun(WAIT, why)} {not_yet_words(waits)}" if waits else _begun(STOP, why)


def _begun(word: str, sentence: str) -> str:
    """A sentence that begins with a word, once."""
    return sentence if sentence.startswith(word) else f"{word}. {sentence}"


def _titles(group: Sequence[Assessment]) -> list[str]:
    return [found.rule_set.file.title for found in group]


def companion_strip(document: AssessmentDocument) -> list[tuple[str, str, str]]:
    """The standing under each companion that applies on the day: title, standing in words, and tone."""
    marks = marks_of(document)
    return [_piece(companion, marks) for companion in document.companions if companion.applies]


def companions_line(document: AssessmentDocument) -> str:
    """The same as one line; empty where none is declared."""
    if not document.companions:
        return ""
    pieces = [f"{title}: {words}" for title, words, _ in companion_strip(document)]
    return f"{COMPANIONS}: {'; '.join(pieces) if pieces else 'none applies on this day'}."


def not_due_line(document: AssessmentDocument) -> str:
    """The companions that do not apply on the day, each with the reason; empty where all do."""
    pieces = [f"{c.title} ({c.because})" for c in document.companions if not c.applies]
    return f"Not asked on this day: {'; '.join(pieces)}." if pieces else ""


def _piece(companion: CompanionInfo, marks: Marks) -> tuple[str, str, str]:
    if companion.shown is None:
        return companion.title, f"could not be assessed ({companion.problem})", "fail"
    name, word = companion.standing_name, stop_word(companion)
    if companion.stops and name.startswith(word):
        name, word = word.upper() + name[len(word) :], ""
    said = f"{word.upper()}, " if companion.stops and word else ""
    words = f"{said}{marks.standing(companion.shown, name)}{earliest_words(companion.not_yet)}"
    words += f"; already: {capped(list(companion.fails))}" if companion.fails else ""
    return companion.title, words, marks.tone(companion.shown)


def stop_word(companion: CompanionInfo) -> str:
    """The word for a companion that stops: wait, where only time or an act is wanting."""
    return WAIT if companion.not_yet else STOP


def _plain(identifier: str) -> str:
    words = identifier.replace("_", " ")
    return words[:1].upper() + words[1:]
