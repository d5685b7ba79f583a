"""Usual forms of what a person types: read in one way, with the words that show it back."""

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.case.typed_text import entry_from_text
from candidacy.case.typed_usual import read_typed, usual_day
from candidacy.foundation.errors import CaseError


@pytest.mark.parametrize(
    ("element", "text", "value", "unit", "shown"),
    [
        ("body_height", "5 ft 6", 66, "in", "66 in, which is 167.6 cm"),
        ("body_weight", "204 lb.", 204, "lb", "204 lb, which is 92.53 kg"),
        ("body_temperature", "98.6 F", 98.6, "degF", "98.6 degF, which is 37 Cel"),
        ("motor_power_lowest", "4/5", 4, None, "4 of 5"),
        ("odi_percent", "46/100", 46, "%", "46 %"),
        ("hba1c", "48 mmol/mol", 48, "mmol/mol", "48 mmol/mol, which is 6.543 %"),
        ("birth_date", "May 17th, 1984", "1984-05-17", None, "17 May 1984"),
        ("birth_date", "17/05/1984", "1984-05-17", None, "17 May 1984"),
        ("birth_date", "03/03/1984", "1984-03-03", None, "3 March 1984"),
        ("birth_date", "5/1984", "1984-05", None, "May 1984"),
    ],
)
def test_a_usual_form_is_read_with_its_words(element, text, value, unit, shown):
    read = read_typed(catalogue()[element], text)
    assert (read.entry.value, read.entry.unit, read.shown) == (value, unit, shown)


@pytest.mark.parametrize(
    ("element", "text"),
    [("odi_percent", "23/50"), ("body_weight", "5'6\""), ("body_height", "1,70 m"), ("birth_date", "3/4/84"),
     ("birth_date", "31/31/1984"), ("birth_date", "1984-17-05")],
)  # fmt: skip
def test_what_reads_in_no_way_is_refused(element, text):
    with pytest.raises(CaseError):
        read_typed(catalogue()[element], text)


def test_a_day_that_may_be_two_days_says_both():
    assert usual_day("3/4/2026") == (
        "2026-03-04",
        "4 March 2026, month first; for 3 April 2026 write 2026-04-03",
    )


@pytest.mark.parametrize("text", ["70", "70.5 kg", ">6", "30 to 35", "?", ""])
def test_plain_forms_mean_what_they_meant_and_need_no_second_look(text):
    element = catalogue()["body_weight"]
    read = read_typed(element, text)
    assert (read.entry, read.shown) == (entry_from_text(element, text), "")
