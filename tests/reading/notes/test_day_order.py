"""In which order figures are a day: as the text says, as other days show, never guessed where the spelling is not American."""

import pytest

from candidacy.reading.notes.days import days


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("Procedure 05/03/2026", "2026-05-03"),
        ("Procedure 05/03/2026 (dd/mm/yyyy)", "2026-03-05"),
        ("Procedure 05/03/2026 (mm/dd/yyyy), oedema", "2026-05-03"),
        ("Procedure 05/03/2026, born 14/02/1960", "2026-03-05"),
        ("Procedure 05/03/2026, born 02/14/1960, oedema", "2026-05-03"),
        ("Procedure 05/03/2026, born 14/02/1960, seen 02/14/2025", ""),
        ("Procedure 05/03/2026 by the anaesthetist", ""),
        ("Procedure 25/03/2026 by the anaesthetist", "2026-03-25"),
        ("Procedure 25/03/2026 (mm/dd/yyyy)", ""),
    ],
)
def test_order_of_figures(text: str, day: str) -> None:
    assert days(text, 0, 30)[0].day == day
