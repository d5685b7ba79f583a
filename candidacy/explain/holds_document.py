"""Medicines before a planned procedure, in a document."""

from typing import Literal

from candidacy.explain.cited_document import CitationInfo
from candidacy.explain.part import Part, TruthWord


class HoldInfo(Part):
    """One medicine before a planned procedure: what the table in use says, and who must agree.

    Attributes
    ----------
    says
        What the table, the risk class and the indication say, in words.
    goes_on
        "continue; no stop date" with the reason, where the prescriber refused a hold or an agreement is not given
        that is or may be needed; empty otherwise.
    alarm
        What to do today where it is stopped all the same; empty otherwise.
    intervals
        The intervals of the table that may apply, in words; none after a refusal.
    hold_until
        First day on which the interval is over; empty with the reason in ``no_date_because``.
    agreement
        Whether the prescriber's written agreement is ``not_needed``, ``needed``, ``given``, ``refused``, or needed or
        not ``unknown``.
    ready
        Whether the interval is over and an INR that is asked for is normal on the planned date.
    """

    subject: str
    name: str
    agent: str
    medicine_class: str
    indication: str
    says: list[str]
    goes_on: str
    alarm: str
    intervals: list[str]
    last_dose: str
    last_dose_by: str
    hold_until: str
    no_date_because: str
    restart: str
    agreement: Literal["not_needed", "needed", "given", "refused", "unknown"]
    who_must_agree: str
    inr_normal: TruthWord
    ready: TruthWord
    cautions: list[str]
    cites: list[CitationInfo]


class HoldsInfo(Part):
    """Medicines before a planned procedure, with the guideline and the risk class they were looked up under.

    ``raise_reasons`` are facts of the case that are published reasons to raise the risk class by one.
    """

    planned: str
    guideline: str
    risk_class: str
    days_mean: str
    list_complete: bool
    raise_reasons: list[str]
    medicines: list[HoldInfo]
    cautions: list[str]
