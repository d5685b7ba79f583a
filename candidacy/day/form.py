"""The form of what was done on the day: YAML with every answer blank, and the shape in which it comes back filled."""

from datetime import date
from typing import Literal

import yaml

from candidacy.case.element import Rows
from candidacy.case.load import Case, yaml_dumper
from candidacy.case.record import Number, Strict
from candidacy.course.record import Assessed
from candidacy.day.checklist import Checklist, ChecklistLine, checklist
from candidacy.day.planned import assessed_for, planned_discs, standings
from candidacy.explain.wording import listed
from candidacy.rules.resolved import RuleSet


class FilledWentOn(Strict):
    """Why a patient was treated whose standing was not ``candidate``."""

    because: Literal["conference", "physician", "trial", "other"] | None = None
    """Who decided so."""
    reason: str | None = None
    """The reason in words; no name of a person."""


class FilledCheck(Strict):
    """One line of the checklist as it was answered."""

    id: str
    """Id of the line."""
    disc: str = ""
    """The disc that it was asked of, where each disc has the line for itself."""
    answer: Literal["yes", "no", "not_applicable"] | None = None
    """What was answered."""
    by: str | None = None
    """Role or local id of who checked, in small letters; never a name."""
    at: str | None = None
    """Day and time, YYYY-MM-DDTHH:MM."""
    note: str | None = None
    """What else was said; for an answer of no, why it went on all the same."""


class FilledUnit(Strict):
    """One container of donated material."""

    code: str | int | None = None
    """Distinct identification code on the label."""
    lot: str | int | None = None
    """Lot on the label."""
    expires: str | None = None
    """Day of expiry on the label, YYYY-MM-DD."""
    thaw_began: str | None = None
    """Day and time at which thawing began, YYYY-MM-DDTHH:MM; blank for material that is not thawed."""
    thaw_ended: str | None = None
    """Day and time at which it was thawed."""
    disposition: Literal["used_whole", "rest_discarded", "discarded", "returned"] | None = None
    """What became of it."""


class FilledQuantity(Strict):
    """A number with its unit."""

    value: Number | None = None
    """The number."""
    unit: str | None = None
    """Its unit."""


class FilledDisc(Strict):
    """What went into one disc."""

    level: str | None = None
    """The disc into which it went, as counted on the live image."""
    material: str | None = None
    """Kind of the material in plain words; no trade name."""
    units: Rows[FilledUnit] = ()
    """Containers used for this disc."""
    volume: FilledQuantity | None = None
    """Volume injected."""
    peak_pressure: FilledQuantity | None = None
    """Highest pressure; blank where it was not measured."""
    contrast_in_injectate: bool | None = None
    """Whether contrast was part of what was injected."""
    injected_at: str | None = None
    """Day and time, YYYY-MM-DDTHH:MM."""
    ended_because: Literal["volume_given", "pressure", "pain", "leak", "other"] | None = None
    """Why the injection ended."""
    again_because: str | None = None
    """Why this disc was injected once more, where it had been before."""
    note: str | None = None
    """What else should be known."""


class FilledDay(Strict):
    """The form of the day as filled."""

    schema_version: Literal["1"]
    """Version of this shape."""
    case: str
    """Reference of the case record; never a name."""
    invented: bool = False
    """True for demonstration data."""
    date: str
    """Day of the injection, YYYY-MM-DD."""
    planned: Rows[str]
    """Discs that were planned."""
    checklist: str
    """Version of the checklist that was asked."""
    assessed: Assessed
    """The assessment it rested on."""
    went_on: FilledWentOn | None = None
    """Why it went on where the standing was not ``candidate``."""
    checks: Rows[FilledCheck] = ()
    """The checklist."""
    discs: Rows[FilledDisc] = ()
    """What went where."""
    unused_units: Rows[FilledUnit] = ()
    """Containers that were thawed or opened and went into no disc."""
    differs_because: str | None = None
    """Why what was done differs from the plan, or a container was used past its expiry."""
    recovery: str | None = None
    """How recovery went, in words."""
    discharged: str | None = None
    """Day and time of leaving, YYYY-MM-DDTHH:MM."""


def blank_form(
    case: Case, rule_set: RuleSet, discs: tuple[str, ...], on: date, *, asked: Checklist | None = None
) -> str:
    """The form of the day as YAML text, with the plan filled in and every answer blank.

    Raises
    ------
    InputError
        For discs that cannot be planned, see `planned_discs`.
    RuleError
        For a checklist that cannot be used.
    """
    discs = planned_discs(case, discs)
    lines = checklist() if asked is None else asked
    named = standings(assessed_for(case, rule_set, discs, on), discs)
    standing = next(iter(named))
    day = on.isoformat()
    rows = [
        f"# {lines.title}: what was checked, and what was done. Blank means not answered yet.",
        "# Write no name of a person: a role or a local id in small letters (nurse, physician-2).",
        "# Then: candidacy day take THIS_FILE --course COURSE.yaml",
        'schema_version: "1"',
        f"case: {_quoted(case.record.id)}",
        *(["invented: true"] if case.record.invented else []),
        f'date: "{day}"',
        f"planned: [{', '.join(discs)}]",
        f'checklist: "{lines.version}"',
        f'assessed: {{on: "{day}", rule_set: {rule_set.id}, version: "{rule_set.file.version}", standing: {standing}}}',
    ]
    if standing != "candidate":
        rows += [
            f"# The standing was {standing}. Who decided to go on (conference, physician, trial, other), and why?",
            "went_on:",
            "  because:",
            "  reason:",
        ]
    rows += ["checks:"]
    for line in lines.lines:
        if not line.only or line.only in named:
            for disc in discs if line.per_disc else ("",):
                rows += _check(lines, line, disc, discs)
    rows += [
        "# What went into which disc, as counted on the live image: write the disc itself, it is not filled in.",
        "discs:",
    ]
    for _ in discs:
        rows += _DISC.format(planned=listed(list(discs))).splitlines()
    rows += _END.splitlines()
    return "\n".join(rows) + "\n"


def _check(lines: Checklist, line: ChecklistLine, disc: str, discs: tuple[str, ...]) -> list[str]:
    ask = line.ask.format(disc=disc or listed(list(discs)))
    word = getattr(lines.words, line.no.word)
    third = f"; not_applicable where {line.not_applicable}" if line.not_applicable else ""
    return [
        f"  # {ask} ({lines.words.asked[line.asked]})",
        f"  # no: {word}. {line.no.means}{third}",
        f"  - id: {line.id}",
        *([f"    disc: {disc}"] if disc else []),
        "    answer:",
        "    by:",
        "    at:",
        "    note:",
    ]


_DISC = """\
  - level:  # planned: {planned}
    material:  # in plain words, such as donated disc tissue; no trade name
    units:  # one entry for each container
      - code:  # distinct code on the label
        lot:
        expires:  # YYYY-MM-DD
        thaw_began:  # YYYY-MM-DDTHH:MM; blank if it is not thawed
        thaw_ended:
        disposition:  # used_whole, rest_discarded
    volume:
      value:
      unit:  # mL
    peak_pressure:  # blank if it was not measured
      value:
      unit:  # psi
    contrast_in_injectate:  # true or false; in the injectate itself, not in the needle before
    injected_at:  # YYYY-MM-DDTHH:MM
    ended_because:  # volume_given, pressure, pain, leak, other
    again_because:  # only where this disc had been injected before
    note:"""
_END = """\
# Containers that were thawed or opened and went into no disc; each as under units, disposition discarded or returned.
unused_units: []
# Only where another disc than planned was injected, a planned one was not, or a container was past its expiry: why.
differs_because:
recovery:  # in words: pain, legs, time lying
discharged:  # YYYY-MM-DDTHH:MM"""


def _quoted(text: str) -> str:
    return yaml.dump([text], Dumper=yaml_dumper(), default_flow_style=True, width=1000).strip()[1:-1]
