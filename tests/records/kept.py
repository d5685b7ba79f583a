"""Small invented records, a clock, and tampering from outside."""

from datetime import UTC, date, datetime, timedelta

from candidacy.case.load import Case, parse_case

DAY = date(2026, 12, 2)


class Minutes:
    """A clock that goes on by a minute each time it is read."""

    def __init__(self, at: datetime = datetime(2026, 11, 1, 8, tzinfo=UTC)) -> None:
        self.at = at

    def __call__(self) -> datetime:
        self.at += timedelta(minutes=1)
        return self.at


def record(reference: str = "ref-1", pain: int = 7) -> Case:
    return parse_case(
        f'schema_version: "1"\nid: {reference}\ninvented: true\npatient: {{back_pain_nrs_average: {pain}}}\n'
    )
