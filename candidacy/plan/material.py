"""The log of the material against the product's own limits as they were entered; a limit that was not entered is asked for."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Literal

from msgspec import Struct

from candidacy.foundation.dates import day
from candidacy.plan.entries import Limits, Material, moment

Verdict = Literal["kept", "broken", "ask", "not_read"]
LIMITS = {
    "storage_at_least": "coldest storage",
    "storage_at_most": "warmest storage",
    "transport_at_most": "warmest temperature on arrival",
    "storage_days": "most days from receipt to use",
}
"""Fields of the limits, and what each is called."""
ON_RECEIPT = {"seal_intact": "seal intact", "label_matches": "label as ordered"}


class Judged(Struct, frozen=True):
    """One limit, or one thing looked at on receipt: kept, broken, to be asked for, or with nothing to hold against it."""

    name: str
    verdict: Verdict
    found: str = ""


def judged(material: Material | None, planned: date) -> tuple[Judged, ...]:
    """Everything that the log says against the limits, for a planned day of use."""
    given = material or Material()
    return (*_limits(given, planned), *_receipt(given, planned))


def in_order(found: tuple[Judged, ...]) -> bool:
    """Whether every limit was entered and kept, and everything was looked at; nothing else is in order."""
    return all(each.verdict == "kept" for each in found)


def missing_limits(material: Material | None) -> list[str]:
    """Names of the limits that are to be asked for."""
    limits = material.limits if material is not None else None
    return [words for name, words in LIMITS.items() if limits is None or getattr(limits, name) is None]


def _limits(given: Material, planned: date) -> Iterator[Judged]:
    limits, receipt = given.limits, given.receipt
    readings = [(stored.at, stored.temperature) for stored in given.storage]
    arrival = [(receipt.at, receipt.temperature)] if receipt and receipt.temperature is not None else []
    yield _temperature(limits, "storage_at_least", readings, lambda found, limit: found >= limit)
    yield _temperature(limits, "storage_at_most", readings, lambda found, limit: found <= limit)
    yield _temperature(limits, "transport_at_most", arrival, lambda found, limit: found <= limit)
    name = LIMITS["storage_days"]
    if limits is None or limits.storage_days is None:
        yield Judged(name, "ask")
    elif receipt is None:
        yield Judged(name, "not_read")
    else:
        last = moment(receipt.at).date() + timedelta(days=limits.storage_days)
        yield Judged(
            name,
            "kept" if planned <= last else "broken",
            f"{limits.storage_days} days end on {last.isoformat()}",
        )


def _temperature(
    limits: Limits | None, field: str, readings: list[tuple[str, float]], kept: Callable[[float, float], bool]
) -> Judged:
    name = LIMITS[field]
    limit = getattr(limits, field) if limits is not None else None
    if limit is None:
        return Judged(name, "ask")
    if not readings:
        return Judged(name, "not_read")
    broken = [
        f"{found:g} °C on {at.replace('T', ' at ')}" for at, found in readings if not kept(found, limit)
    ]
    told = f"limit {limit:g} °C; " + (
        "; ".join(broken) if broken else f"{len(readings)} reading{'s' * (len(readings) > 1)}"
    )
    return Judged(name, "broken" if broken else "kept", told)


def _receipt(given: Material, planned: date) -> Iterator[Judged]:
    receipt = given.receipt
    for field, words in ON_RECEIPT.items():
        seen = getattr(receipt, field) if receipt is not None else None
        yield Judged(
            words,
            "not_read" if seen is None else "kept" if seen else "broken",
            "" if seen is None else "yes" if seen else "no",
        )
    if receipt is None or not receipt.expires:
        yield Judged("expiry on the label", "not_read")
    else:
        yield Judged(
            "expiry on the label", "kept" if planned <= day(receipt.expires) else "broken", receipt.expires
        )
