"""The request for an addendum as a letter, a draft in plain, courteous clinical English."""

import textwrap

from candidacy.reading.ask import Request, Wanted, study_words

_WIDTH = 96


def letter(request: Request, rule_set_title: str, day: str = "") -> str:
    """Write the request; it is a draft to be checked and signed. What the report may tell already stands below it."""
    if not request.items:
        return (
            "\n".join(textwrap.wrap(nothing_to_ask(request, rule_set_title, day), _WIDTH))
            + "\n"
            + _told_already(request)
        )
    out = [
        "Subject: request for an addendum",
        "Patient reference: ____________________   Study: ____________________",
        "",
        "Dear colleague,",
        "",
        *textwrap.wrap(intro(request, day), _WIDTH),
        "",
    ]
    for number, point in enumerate(points(request), 1):
        line = f"{number}. {point}"
        out += textwrap.wrap(line, _WIDTH, subsequent_indent=" " * (len(str(number)) + 2))
    out += [
        "",
        cannot_be_judged(request),
        "",
        "With thanks and kind regards,",
        "",
        "____________________ (name, role)   ____________________ (date)",
        "",
        f"Drafted by program from the wording of the report: what can still change the standing by “{rule_set_title}”.",
        "Check it against the report before sending.",
    ]
    if request.more:
        out += [f"Left off, for they weigh less: {request.more} further points."]
    return "\n".join(out) + "\n" + _told_already(request)


def _document(request: Request, day: str) -> str:
    words = study_words(request.study)
    return f"{words['document']} of {day}" if day else f"{words['document']} named above"


def intro(request: Request, day: str = "") -> str:
    """What the letter thanks for and asks."""
    return (
        f"Thank you for your {_document(request, day)}. We are considering the patient for an intradiscal procedure and need "
        "the following points, which it does not state. Could you kindly add them in an addendum?"
    )


def nothing_to_ask(request: Request, rule_set_title: str, day: str = "") -> str:
    """What is said where the letter would be empty."""
    return f"Nothing to ask: nothing that the {_document(request, day)} lacks can change the standing by “{rule_set_title}”."


def points(request: Request) -> list[str]:
    """What is asked, point by point, with the discs it is asked of."""
    return [f"{item.ask}{places(item)}" for item in request.items]


def cannot_be_judged(request: Request) -> str:
    """That saying so answers a point as well."""
    return f"If a point cannot be judged {study_words(request.study)['verb']}, please say so; that answers it as well."


def _told_already(request: Request) -> str:
    """List what is not asked because the report speaks of it."""
    if not request.told_already:
        return ""
    out = ["", "Not asked, because the report speaks of it. Read these words first:"]
    for item in request.told_already:
        line = f"- {item.ask}{places(item)}: “{item.words}”"
        out += textwrap.wrap(line, _WIDTH, subsequent_indent="  ")
    return "\n".join(out) + "\n"


def places(item: Wanted) -> str:
    """The discs that a point is asked for, as they follow its words; nothing for the study as a whole."""
    discs = sorted(s for s in item.subjects if s != "patient")
    if not discs:
        return ""
    shown = discs[0] if len(discs) == 1 else ", ".join(discs[:-1]) + " and " + discs[-1]
    return f", at {shown}"
