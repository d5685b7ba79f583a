"""What of a filled form is not answered, or answered with what a line does not allow."""

import re
from collections.abc import Iterator

from candidacy.day.checklist import Checklist, ChecklistLine
from candidacy.day.form import FilledDay, FilledDisc, FilledUnit
from candidacy.explain.wording import listed
from candidacy.foundation.errors import Code, Problem, shorten

# A role or a local id: what bears capitals or commas may be the name of a person.
_WHO = re.compile(r"[a-z0-9][a-z0-9 ._-]{0,39}\Z")
Path = tuple[str | int, ...]


def is_role(text: str) -> bool:
    """Whether a text may name who checked: a role or local id, and no name of a person."""
    return _WHO.match(text) is not None


def _blank(path: Path, expected: str, next_step: str = "") -> tuple[Path, Problem]:
    return path, Problem(
        Code.MISSING_KEY, "not answered", found="nothing", expected=expected, next_step=next_step
    )


def blanks(filled: FilledDay) -> Iterator[tuple[Path, Problem]]:
    """What must be answered and is blank."""
    if filled.assessed.standing != "candidate":
        went = filled.went_on
        if went is None or went.because is None or not (went.reason or "").strip():
            yield _blank(
                ("went_on",), "who decided to go on and why", f"the standing was {filled.assessed.standing}"
            )
    if not filled.checks:
        yield _blank(("checks",), "the lines of the checklist, each answered")
    for number, check in enumerate(filled.checks):
        at = ("checks", number)
        if check.answer is None:
            yield _blank(
                (*at, "answer"), "yes, no or not_applicable", "nobody is taken to have checked what is blank"
            )
        if not (check.by or "").strip():
            yield _blank((*at, "by"), "a role or local id, such as nurse")
        if not (check.at or "").strip():
            yield _blank((*at, "at"), "YYYY-MM-DDTHH:MM")
    if not filled.discs:
        yield _blank(("discs",), "at least one disc")
    for number, disc in enumerate(filled.discs):
        yield from _disc_blanks(disc, ("discs", number))
    for number, unit in enumerate(filled.unused_units):
        yield from _unit_blanks(unit, ("unused_units", number))
    for key, value in (("recovery", filled.recovery), ("discharged", filled.discharged)):
        if not (value or "").strip():
            yield _blank((key,), "a few words" if key == "recovery" else "YYYY-MM-DDTHH:MM")


def _disc_blanks(disc: FilledDisc, at: Path) -> Iterator[tuple[Path, Problem]]:
    asked = (("level", disc.level, "the disc as counted on the live image"), ("material", disc.material, "plain words"),
             ("injected_at", disc.injected_at, "YYYY-MM-DDTHH:MM"), ("ended_because", disc.ended_because, "one of the reasons"))  # fmt: skip
    for key, value, expected in asked:
        if not (value or "").strip():
            yield _blank((*at, key), expected)
    if disc.contrast_in_injectate is None:
        yield _blank((*at, "contrast_in_injectate"), "true or false")
    if disc.volume is None or disc.volume.value is None or not disc.volume.unit:
        yield _blank((*at, "volume"), "a number with its unit, mL")
    pressure = disc.peak_pressure
    if pressure is not None and (pressure.value is None) != (not pressure.unit):
        yield _blank((*at, "peak_pressure"), "a number with its unit, psi, or both blank")
    if not disc.units:
        yield _blank(
            (*at, "units"), "each container with its code, lot and expiry", "without them it cannot be traced"
        )
    for number, unit in enumerate(disc.units):
        yield from _unit_blanks(unit, (*at, "units", number))


def _unit_blanks(unit: FilledUnit, at: Path) -> Iterator[tuple[Path, Problem]]:
    for key, expected in (("code", "the distinct code on the label"), ("lot", "the lot on the label"),
                          ("expires", "YYYY-MM-DD"), ("disposition", "what became of the container")):  # fmt: skip
        value = getattr(unit, key)
        if value is None or not str(value).strip():
            yield _blank(
                (*at, key), expected, "" if key == "disposition" else "without it the unit cannot be traced"
            )


def answers(filled: FilledDay, lines: Checklist) -> Iterator[tuple[Path, Problem]]:
    """Lines that are missing, stand twice or are none, and answers that a line does not allow."""
    known = {line.id: line for line in lines.lines}
    given = {(check.id, check.disc) for check in filled.checks}
    for line in _asked(filled, lines):
        for disc in filled.planned if line.per_disc else ("",):
            if (line.id, disc) not in given:
                yield ("checks",), Problem(Code.MISSING_KEY, "a line of the checklist is missing", found="nothing",
                                           expected=f"{line.id} {disc}".strip(), next_step="put it back and answer it")  # fmt: skip
    seen: set[tuple[str, str]] = set()
    for number, check in enumerate(filled.checks):
        at = ("checks", number)
        checked = known.get(check.id)
        if (check.id, check.disc) in seen:
            yield (*at, "id"), Problem(Code.DUPLICATE_KEY, "this line stands twice", found=check.id)
        seen.add((check.id, check.disc))
        if checked is None and filled.checklist == lines.version:
            yield (*at, "id"), Problem(Code.BAD_CHOICE, "not a line of the checklist", found=shorten(check.id),
                                       expected=", ".join(known))  # fmt: skip
        if check.disc and check.disc not in filled.planned:
            yield (*at, "disc"), Problem(Code.CONTRADICTION, "not a planned disc", found=shorten(check.disc),
                                         expected=listed(list(filled.planned)))  # fmt: skip
        if check.by and not is_role(check.by):
            yield (*at, "by"), Problem(Code.IMPOSSIBLE_VALUE, "a role or local id is needed, never a name",
                                       found=shorten(check.by), expected="small letters, such as nurse or physician-2")  # fmt: skip
        if check.answer == "no" and not (check.note or "").strip():
            yield (*at, "note"), Problem(Code.MISSING_KEY, "an answer of no needs its reason", found="nothing",
                                         expected="how it was resolved, or why it went on")  # fmt: skip
        if check.answer == "not_applicable" and checked is not None and not checked.not_applicable:
            yield (*at, "answer"), Problem(Code.BAD_CHOICE, "this line always applies", found="not_applicable",
                                           expected="yes or no")  # fmt: skip


def _asked(filled: FilledDay, lines: Checklist) -> list[ChecklistLine]:
    if filled.checklist != lines.version:
        return []  # asked with another version: its lines are those of the form
    return [line for line in lines.lines if not line.only or line.only == filled.assessed.standing]
