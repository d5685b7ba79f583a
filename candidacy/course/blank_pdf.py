"""The blank form of a visit on paper: every measure with room for an answer and for the reason where there is none."""

from candidacy.course.content import Form, Measure, content
from candidacy.course.filled import forms_of
from candidacy.explain.pdf_parts import SOFT, Paper, Sheets

_ROOM = "........................"


def blank_pdf(visit: str, case: str = "", injection: int = 1, paper: Paper = "A4") -> bytes:
    """The form of a visit as PDF; no answer is preselected.

    Raises
    ------
    CourseError
        E601 if there is no such visit.
    ValueError
        For a paper that is not A4 or Letter.
    """
    planned = content().visits.get(visit)
    title = planned.title if planned is not None else visit.replace("_", " ").capitalize()
    sheets = Sheets(f"Visit form: {title}", f"Visit form {visit} for entry by hand. It decides nothing.")
    sheets.title(f"Visit: {title}")
    for label, value in (("Case", case), ("Session", str(injection)), ("Date", ""), ("How it was asked", "")):
        sheets.add(value or _ROOM, lead=f"{label}:")
    for form in forms_of(visit):
        _form(sheets, form)
    sheets.heading("Danger, at once")
    sheets.add(content().triage.always.strip(), bold=True)
    sheets.end_of_page()
    return sheets.to_bytes(paper)


def _form(sheets: Sheets, form: Form) -> None:
    sheets.heading(form.title)
    for words in (form.introduction, form.licence):
        if words:
            sheets.add(words, tone=SOFT)
    rows = [(measure.ask, _allowed(measure), _ROOM) for measure in form.measures]
    sheets.table(("asked", "allowed", "answer, or why there is none"), rows, (44, 30, 26))


def _allowed(measure: Measure) -> str:
    if measure.choices:
        return "; ".join(measure.choices.values())
    return "yes or no" if measure.kind == "yes_no" else measure.allowed
