"""The closed words of rules: forces, outcomes, standings, groups, and the shapes of ids, versions and days."""

import re
from datetime import date
from typing import Annotated, Literal, get_args

from pydantic import AfterValidator, Field

_IDENTIFIER = r"^[a-z][a-z0-9_]{2,79}$"
Identifier = Annotated[str, Field(pattern=_IDENTIFIER)]
Version = Annotated[str, Field(pattern=r"^(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)$")]


def _on_the_calendar(day: str) -> str:
    try:
        date.fromisoformat(day)
    except ValueError:
        raise ValueError("there is no such day") from None
    return day


Day = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$"), AfterValidator(_on_the_calendar)]
Force = Literal["stop", "absolute", "relative", "advisory"]
# What was done, no more: ``source_checked`` says that use and numbers were compared with seen sources, by no reviewer.
Status = Literal["draft", "source_checked", "retired"]
Group = Literal[
    "emergencies",
    "who",
    "which_disc",
    "disc_source",
    "other_sources",
    "safety",
    "timing",
    "report",
    "documentation",
    "after_injection",
]
# The table of what heads a report that was read.
REPORT_RED_FLAGS = "report_red_flags"
# The order in which a clinician thinks, and the headings of every explanation.
GROUPS: dict[str, str] = {
    "emergencies": "Emergencies",
    "who": "Who: the patient",
    "which_disc": "Which disc",
    "disc_source": "Is the disc the source of the pain",
    "other_sources": "Other sources of pain",
    "safety": "Safety",
    "timing": "Timing",
    "report": "What the imaging report states",
    "documentation": "Documentation and cost",
    "after_injection": "After an injection",
}
FORCES: dict[str, str] = {
    "stop": "possible emergency",
    "absolute": "absolute contraindication",
    "relative": "relative contraindication",
    "advisory": "advisory, never decides",
}
STANDINGS: dict[str, str] = {
    "urgent": "Urgent",
    "not_candidate": "Not a candidate",
    "incomplete": "Incomplete",
    "borderline": "Borderline",
    "candidate": "Candidate",
}
Standing = Literal["urgent", "not_candidate", "incomplete", "borderline", "candidate"]
STANDING_ORDER: tuple[Standing, ...] = get_args(Standing)
# How a standing is marked: as itself, or as "not yet" where everything behind it can be mended.
ShownStanding = Standing | Literal["not_yet"]
Outcome = Literal["pass", "fail", "undetermined"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
# Who can mend what fails.
Who = Literal[
    "patient",
    "referrer",
    "physician",
    "prescriber",
    "treating_clinician",
    "radiologist",
    "coordinator",
    "supplier",
    "payer",
]


def is_identifier(text: str) -> bool:
    """Whether a text has the form of an id."""
    return re.fullmatch(_IDENTIFIER[1:-1], text) is not None
