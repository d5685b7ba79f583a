"""What is entered for one plan and is no fact of the case: hour, order lead, cost, discography, decision, the material's log."""

from collections.abc import Iterable
from datetime import date, datetime, time
from pathlib import Path
from typing import Annotated, Literal

from msgspec import Struct
from pydantic import Field

from candidacy.case.element import Rows, Strict
from candidacy.case.record import Number
from candidacy.foundation.dates import DateError, day
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.foundation.files import Placed, read_tree
from candidacy.foundation.shape import validate

Amount = Annotated[Number, Field(ge=0, le=10_000_000)]
Celsius = Annotated[Number, Field(ge=-273.15, le=60)]


class Decision(Strict):
    """The decision to treat, made by people."""

    on: str
    """Its day, YYYY-MM-DD."""
    by: Annotated[str, Field(min_length=1, max_length=120)]
    """Role, such as "case conference"; never a name."""
    reason: Annotated[str, Field(min_length=1, max_length=2000)]
    """Why."""


class Cost(Strict):
    """The cost notice, in dollars."""

    estimate: Amount | None = None
    """Cost that the notice states."""
    actual: Amount | None = None
    """Cost as it is known or became known."""
    denial_expected: bool | None = None
    """Whether the payer is expected to deny the claim as not necessary."""
    notice_signed: bool | None = None
    """Whether the patient signed the notice before the service."""
    excluded_by_law: bool | None = None
    """Whether the law keeps the service out of coverage, so that no notice is needed."""


class Discography(Strict):
    """A discography that is yet to be done."""

    wanted: bool
    """Whether one is wanted before the injection."""
    on: str = ""
    """Its day, YYYY-MM-DD, where it is booked."""


class Limits(Strict):
    """Limits of the product as its own instructions print them. None is ever shipped."""

    source: Annotated[str, Field(min_length=1, max_length=200)]
    """Which instructions, with their revision."""
    storage_at_least: Celsius | None = None
    """Coldest storage, degrees Celsius."""
    storage_at_most: Celsius | None = None
    """Warmest storage, degrees Celsius."""
    transport_at_most: Celsius | None = None
    """Warmest temperature on arrival, degrees Celsius."""
    storage_days: Annotated[int, Field(ge=0, le=36500)] | None = None
    """Most days from receipt to use."""


class Receipt(Strict):
    """What was found when the material arrived."""

    at: str
    """Day and time, YYYY-MM-DDTHH:MM."""
    by: Annotated[str, Field(min_length=1, max_length=64)]
    """Role or local id; never a name."""
    temperature: Celsius | None = None
    """Temperature on arrival, degrees Celsius."""
    seal_intact: bool | None = None
    """Whether the seal was intact."""
    label_matches: bool | None = None
    """Whether the label matches what was ordered."""
    expires: str = ""
    """Last day of use on the label, YYYY-MM-DD."""


class Stored(Strict):
    """One reading of the storage."""

    at: str
    """Day and time, YYYY-MM-DDTHH:MM."""
    temperature: Celsius
    """Degrees Celsius."""
    by: Annotated[str, Field(min_length=1, max_length=64)]
    """Role or local id; never a name."""


class Material(Strict):
    """The log of one unit of material: limits, receipt, storage."""

    limits: Limits | None = None
    """Limits of the product as entered."""
    receipt: Receipt | None = None
    """What was found on arrival."""
    storage: Rows[Stored] = ()
    """Readings of the storage, in order of time."""


class EntriesFile(Strict):
    """Entries for the plan of one case."""

    schema_version: Literal["1"]
    """Version of this shape."""
    case: str
    """The reference of the case, so that no entry meets another case."""
    injection_time: str = ""
    """Hour of the injection, HH:MM."""
    order_lead_days: Annotated[int, Field(ge=0, le=365)] | None = None
    """Calendar days from order to injection as the supplier states."""
    decision: Decision | None = None
    """The decision to treat, where the standing alone does not say so."""
    discography: Discography | None = None
    """A discography that is yet to be done."""
    cost: Cost | None = None
    """The cost notice."""
    material: Material | None = None
    """The log of the material."""


class Entries(Struct, frozen=True):
    """Entries that were read, with their digest; empty where none were given."""

    said: EntriesFile
    digest: str = ""

    @property
    def hour(self) -> time | None:
        """Hour of the injection."""
        return time.fromisoformat(self.said.injection_time) if self.said.injection_time else None


def no_entries(case: str) -> Entries:
    """Entries that say nothing."""
    return Entries(EntriesFile(schema_version="1", case=case))


def load_entries(file: Path, case: str) -> Entries:
    """Load entries for a case.

    Raises
    ------
    InputError
        With everything that is wrong: E207 for days and hours that do not exist, E211 for entries of another case or a storage
        log that goes back in time.
    """
    return entries_of(read_tree(file), str(file), case)


def entries_of(tree: Placed, name: str, case: str) -> Entries:
    """Entries from a parsed file; see `load_entries`."""
    read = validate(EntriesFile, tree, name, _known_keys)
    wrong = list(_wrong(read, tree, name, case))
    if wrong:
        raise InputError(wrong)
    return Entries(read, digest(read.model_dump(mode="json")))


def moment(text: str) -> datetime:
    """A day with its hour.

    Raises
    ------
    ValueError
        If it is none.
    """
    return datetime.strptime(text, "%Y-%m-%dT%H:%M")


def _known_keys(path: tuple[object, ...]) -> list[str]:
    steps = [step for step in path if isinstance(step, str)]
    models = {"decision": Decision, "cost": Cost, "discography": Discography, "material": Material, "limits": Limits,
              "receipt": Receipt, "storage": Stored}  # fmt: skip
    return list(models.get(steps[-1] if steps else "", EntriesFile).model_fields)  # type: ignore[attr-defined]


def _wrong(read: EntriesFile, tree: Placed, name: str, case: str) -> Iterable[Problem]:
    def problem(code: Code, message: str, path: tuple[str | int, ...], found: str, expected: str) -> Problem:
        node = tree.at(path)
        return Problem(
            code, message, name, node.line, node.column, ".".join(map(str, path)), shorten(found), expected
        )

    if read.case != case:
        yield problem(Code.CONTRADICTION, "these entries are of another case", ("case",), read.case, case)
    if read.injection_time:
        try:
            if len(read.injection_time) != len("HH:MM"):
                raise ValueError
            datetime.strptime(read.injection_time, "%H:%M")
        except ValueError:
            yield problem(
                Code.BAD_DATE,
                "not an hour of the day",
                ("injection_time",),
                read.injection_time,
                "HH:MM, 00:00 to 23:59",
            )
    days: list[tuple[tuple[str | int, ...], str]] = []
    if read.decision:
        days.append((("decision", "on"), read.decision.on))
    if read.discography and read.discography.on:
        days.append((("discography", "on"), read.discography.on))
    material = read.material
    if material and material.receipt and material.receipt.expires:
        days.append((("material", "receipt", "expires"), material.receipt.expires))
    for path, text in days:
        try:
            day(text)
        except DateError as error:
            yield problem(Code.BAD_DATE, str(error), path, text, "a date, YYYY-MM-DD")
    if material is None:
        return
    moments: list[tuple[tuple[str | int, ...], str]] = []
    if material.receipt:
        moments.append((("material", "receipt", "at"), material.receipt.at))
    moments += [
        (("material", "storage", place, "at"), stored.at) for place, stored in enumerate(material.storage)
    ]
    former: datetime | None = None
    for path, text in moments:
        try:
            now = moment(text)
        except ValueError:
            yield problem(Code.BAD_DATE, "not a day with its hour", path, text, "YYYY-MM-DDTHH:MM")
            continue
        if former is not None and now < former:
            yield problem(
                Code.CONTRADICTION,
                "the log goes back in time",
                path,
                text,
                f"not before {former:%Y-%m-%dT%H:%M}",
            )
        former = now
    low, high = (
        (material.limits.storage_at_least, material.limits.storage_at_most)
        if material.limits
        else (None, None)
    )
    if low is not None and high is not None and low > high:
        yield problem(Code.CONTRADICTION, "the coldest storage is warmer than the warmest", ("material", "limits", "storage_at_least"),
                      f"{low:g}", f"at most {high:g}")  # fmt: skip


def order_lead(entries: Entries, of_plan: int | None) -> int | None:
    """Days from order to injection: as entered for this plan, else as the plan file of the practice states."""
    entered = entries.said.order_lead_days
    return of_plan if entered is None else entered


def booked(entries: Entries) -> date | None:
    """Day on which a discography is booked."""
    said = entries.said.discography
    return day(said.on) if said is not None and said.wanted and said.on else None
