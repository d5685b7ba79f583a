"""An export as practices have them, invented, with the facts that are true of every row.

Titles stand above the names; one column holds dates of several forms, units, scores, ticks and words for not knowing. Of
every cell it is known what a careful reader may take from it, and which cells nobody can read.
"""

import csv
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from random import Random

# header of the export -> canonical header of the same facts
COLUMNS = {
    "Gender": "sex",
    "DOB": "birth_date",
    "Ht (in)": "body_height [cm]",
    "Wt (lbs)": "body_weight [kg]",
    "BMI": "body_mass_index [kg/m2]",
    "A1c": "hba1c [%]",
    "Oswestry": "odi_percent [%]",
    "NRS back": "back_pain_nrs_average",
    "Smoker": "smoking_status",
    "Pregnant": "pregnancy_status",
    "Blood thinner": "antithrombotic_use",
    "Diabetic": "diabetes",
    "Target level": "discs_under_consideration",
    "MRI date": "lumbar_mri_date",
    "PT weeks": "supervised_therapy_duration [month]",
    "Symptom duration (months)": "pain_duration [month]",
    "Platelets": "platelet_count [10*9/L]",
    "Fever": "fever",
    "L4/5 Pfirrmann": "L4-L5 pfirrmann_grade",
}
UNREAD = "?not_readable"
NOT_STATED = "?not_stated"
_WORDS = ("N/A", "unk", "-", "pending")
_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
Cell = tuple[str, str]  # as it is written, and as a careful reader takes it


@dataclass
class Export:
    """Rows as written, the same facts in our own words, and the cells that nobody can read.

    Attributes
    ----------
    unread
        Row number in the file, header and text of each such cell.
    aside
        Row numbers that have no case, or one that stands twice.
    """

    written: list[list[str]] = field(default_factory=list)
    meant: list[list[str]] = field(default_factory=list)
    unread: set[tuple[int, str, str]] = field(default_factory=set)
    aside: set[int] = field(default_factory=set)


FIRST = 5  # the row below the names


def export(count: int = 5_000, seed: int = 20_261_125) -> Export:
    """Invent an export."""
    rng = Random(seed)
    found = Export()
    for number in range(count):
        cells = {header: _cell(rng, make) for header, make in _MAKERS.items()}
        row = FIRST + number
        reference = f"P{number:05d}"
        if number % 500 == 499:
            reference = "" if number % 1000 == 999 else "P-twice"
            found.aside.add(row)
        found.written.append([reference, *(cells[header][0] for header in COLUMNS), _comment(rng)])
        if row not in found.aside:
            found.meant.append([reference, *(cells[header][1] for header in COLUMNS)])
        found.unread |= {(row, h, cells[h][0]) for h in COLUMNS if cells[h][1] == UNREAD}
    return found


def write(found: Export, path: Path) -> Path:
    """The export as CSV: a title, a blank line, names of groups, the names of the columns, rows."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["Invented spine clinic export", "printed 11/25/2026"])
        writer.writerow([])
        writer.writerow(["", "Demographics", *[""] * 4, "Labs", *[""] * (len(COLUMNS) - 5)])
        writer.writerow(["MRN", *COLUMNS, "Comment"])
        writer.writerows(found.written)
    return path


def write_meant(found: Export, path: Path) -> Path:
    """The same facts under canonical headers."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["case_id", *COLUMNS.values()])
        writer.writerows(found.meant)
    return path


def _cell(rng: Random, make: Callable[[Random], Cell]) -> Cell:
    chance = rng.random()
    if chance < 0.05:
        return "", ""
    if chance < 0.10:
        return rng.choice(_WORDS), NOT_STATED
    return make(rng)


def _comment(rng: Random) -> str:
    return rng.choice(("", "seen in clinic", "call back, per spouse", 'said "worse, sitting"', "120/80"))


def _one(*cells: Cell) -> Callable[[Random], Cell]:
    return lambda rng: rng.choice(cells)


def _day(rng: Random, first: date, days: int) -> date:
    return first + timedelta(days=rng.randrange(days))


def _birth(rng: Random) -> Cell:
    day = _day(rng, date(1950, 1, 1), 365 * 50)
    written = rng.choice((
        f"{day.month}/{day.day}/{day.year}", f"{day:%m/%d/%Y}", f"{day:%Y-%m-%d}",
        f"{day.day} {_MONTHS[day.month - 1]} {day.year}",
    ))  # fmt: skip
    return ("07/1984?", UNREAD) if rng.random() < 0.01 else (written, day.isoformat())


def _scan(rng: Random) -> Cell:
    """Two sites, of which one writes the day first: a day that reads both ways is nobody's to choose."""
    day = _day(rng, date(2025, 6, 1), 500)
    kind = rng.random()
    if kind < 0.5:
        return f"{day:%Y-%m-%d}", day.isoformat()
    written = f"{day:%d/%m/%Y}" if kind < 0.6 else f"{day:%m/%d/%Y}"
    return written, UNREAD if day.day <= 12 and day.day != day.month else day.isoformat()


def _height(rng: Random) -> Cell:
    inches = rng.randrange(58, 77)
    feet, rest = divmod(inches, 12)
    if rng.random() < 0.02:
        return f"{feet}'13\"", UNREAD
    if rng.random() < 0.2:
        return f"{inches * 2.54:.0f} cm", f"{inches * 2.54:.0f}"
    written = rng.choice(
        (f"{feet}'{rest}\"", f"{feet} ft {rest} in", f"{feet}’{rest}”", f"{inches}", f"{inches} in")
    )
    return written, f"{inches * 2.54:.2f}"


def _weight(rng: Random) -> Cell:
    pounds = rng.randrange(110, 320)
    if rng.random() < 0.2:
        return f"{pounds / 2.5:.1f} kg", f"{pounds / 2.5:.1f}"
    if rng.random() < 0.02:
        return f"about {pounds}", UNREAD
    written = rng.choice((f"{pounds}", f"{pounds} lbs", f"{pounds}lb", f"{pounds} lbs.", f" {pounds} "))
    return written, f"{pounds * 0.45359237:.8f}"


def _index(rng: Random) -> Cell:
    value = rng.randrange(190, 480) / 10
    text = f"{value:.1f}"
    if rng.random() < 0.02:
        return f"~{text}", UNREAD
    return rng.choice((text, f"{text} kg/m²", text.replace(".", ","))), text


def _a1c(rng: Random) -> Cell:
    text = f"{rng.randrange(45, 95) / 10:.1f}"
    return rng.choice(
        (
            (text, text),
            (f"{text}%", text),
            (f"{text} %", text),
            (f"<{text}", f"<{text}"),
            (f"≤ {text}", f"<={text}"),
        )
    )


def _odi(rng: Random) -> Cell:
    points = rng.randrange(10, 41)
    if rng.random() < 0.02:
        return f"{points}/50", UNREAD
    text = str(points * 2)
    return rng.choice(((text, text), (f"{text}%", text), (f"{text}/100", text)))


def _score(rng: Random) -> Cell:
    text = str(rng.randrange(0, 11))
    if rng.random() < 0.03:
        return rng.choice((("7-8", UNREAD), ("11", UNREAD), ("severe", UNREAD)))
    return rng.choice(
        ((text, text), (f"{text}/10", text), (f"{text} / 10", text), (f"{text} out of 10", text))
    )


def _weeks(rng: Random) -> Cell:
    weeks = rng.choice((0, 13, 26, 52))
    months = {0: "0", 13: "3", 26: "6", 52: "12"}[weeks]
    return rng.choice(
        ((str(weeks), months), (f"{weeks} wks", months), (f"{weeks} weeks", months), ("4 months", "4"))
    )


def _months(rng: Random) -> Cell:
    count = rng.randrange(1, 60)
    return rng.choice(((str(count), str(count)), (f"{count} mo", str(count)), (f"{count // 12 + 1} yrs", str(12 * (count // 12 + 1))),
                       (">12", ">12"), ("years", UNREAD)))  # fmt: skip


def _platelets(rng: Random) -> Cell:
    count = str(rng.randrange(90, 450))
    if rng.random() < 0.01:
        return "1,050", UNREAD
    return rng.choice(((count, count), (f"{count} K/uL", count)))


_ANY_TYPE, _ANY_THINNER, _NO_SMOKER = "type_1|type_2|other", "antiplatelet|anticoagulant|both", "never|former"
_MAKERS: dict[str, Callable[[Random], Cell]] = {
    "Gender": _one(("M", "male"), ("F", "female"), ("Male", "male"), ("female", "female"), ("f", "female")),
    "DOB": _birth,
    "Ht (in)": _height,
    "Wt (lbs)": _weight,
    "BMI": _index,
    "A1c": _a1c,
    "Oswestry": _odi,
    "NRS back": _score,
    "Smoker": _one(("Yes", "current"), ("Y", "current"), ("x", "current"), ("No", _NO_SMOKER), ("N", _NO_SMOKER),
                   ("quit", "former"), ("Never", "never")),
    "Pregnant": _one(("No", "not_pregnant"), ("N", "not_pregnant"), ("Yes", "pregnant")),
    "Blood thinner": _one(("Yes", _ANY_THINNER), ("No", "none"), ("N", "none")),
    "Diabetic": _one(("No", "none"), ("Type 2", "type_2"), ("Y", _ANY_TYPE)),
    "Target level": _one(("L4/5", "L4-L5"), ("L4-L5", "L4-L5"), ("L5S1", "L5-S1"), ("L4-5, L5-S1", "L4-L5;L5-S1"),
                         ("L5/S1", "L5-S1"), ("low back", UNREAD)),
    "MRI date": _scan,
    "PT weeks": _weeks,
    "Symptom duration (months)": _months,
    "Platelets": _platelets,
    "Fever": _one(("Y", "true"), ("no", "false"), ("N", "false"), ("✓", "true"), ("x", "true"), ("maybe", UNREAD)),
    "L4/5 Pfirrmann": _one(("IV", "IV"), ("iii", "III"), ("Grade IV", "IV"), ("V", "V"), ("4", UNREAD)),
}  # fmt: skip
