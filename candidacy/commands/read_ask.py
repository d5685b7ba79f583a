"""``candidacy read --ask``: the request for what a report lacks."""

from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from candidacy.commands.read_into import Wish
    from candidacy.reading.ask import Told
    from candidacy.reading.model import Reading


def asked_for(reading: "Reading | Told", day: str, status: str, wish: "Wish") -> str:
    """Give the request for what a report lacks, by the rule set and the case record of the wish.

    Parameters
    ----------
    day, status
        Of the study, as the message that brought the report says.

    Raises
    ------
    CaseError, RuleError
        Where the case record or the rule set cannot be read.
    """
    from candidacy.case.load import load_case
    from candidacy.reading.ask import request
    from candidacy.reading.request_letter import letter
    from candidacy.rules.libraries import load_rule_set

    rule_set = load_rule_set(wish.rules)
    case = load_case(wish.case).record if wish.case is not None else None
    day = wish.day or day
    as_of = date.fromisoformat(day) if day else date.today()
    return letter(request(reading, rule_set, as_of, wish.discs, day, status, case), rule_set.file.title, day)
