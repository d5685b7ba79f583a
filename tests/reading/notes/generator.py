"""Invented discography notes with exact marks: layouts × phrasings × values."""

import random
import textwrap
from typing import Any, NamedTuple

CONCORDANT = {"one_of": ["similar", "exact"]}
PAINS = {
    "exact": ({"value": "exact"}, ("exact pain", "pain identical to his usual pain", "exact reproduction of her usual pain",
                                   "pain exactly like the usual pain")),
    "concordant": (CONCORDANT, ("concordant pain", "concordant low back pain", "familiar pain")),
    "similar": ({"value": "similar"}, ("similar pain", "partially concordant pain", "pain similar to his usual pain")),
    "unfamiliar": ({"value": "unfamiliar"}, ("discordant pain", "unfamiliar pain", "non-concordant pain", "atypical pain")),
}  # fmt: skip
NO_PAIN = ("no pain", "painless", "without pain", "no provoked pain")
LEVELS = ("L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1")


class Disc(NamedTuple):
    """The values of one disc; ``pain`` is a key of `PAINS`, or empty for a painless disc."""

    level: str
    opening: int
    above: int
    peak: int
    volume: float
    score: int
    pain: str
    leak: bool
    grade: int


class Note(NamedTuple):
    """A text with what it says: (subject, element) → form."""

    layout: str
    text: str
    marks: dict[tuple[str, str], dict[str, Any]]


def discs(rng: random.Random) -> list[Disc]:
    """Two or three discs, each with values that fit together."""
    out = []
    for level in sorted(rng.sample(LEVELS, rng.randint(2, 3))):
        opening, above = rng.randint(5, 40), rng.randint(3, 60)
        pain = rng.choice(("", *PAINS))
        peak = opening + above + rng.randint(0, 30)
        score = rng.randint(1, 10) if pain else 0
        out.append(
            Disc(
                level,
                opening,
                above,
                peak,
                rng.randint(5, 35) / 10,
                score,
                pain,
                rng.random() < 0.4,
                rng.randint(0, 5),
            )
        )
    return out


def _name(level: str, rng: random.Random) -> str:
    upper, lower = level.split("-")
    return rng.choice((level, f"{upper}-{lower[1:]}" if lower != "S1" else level, f"{upper}/{lower}"))


class _Marks(dict[tuple[str, str], dict[str, Any]]):
    def opening(self, d: Disc) -> None:
        self[d.level, "discography_opening_pressure"] = {"value": float(d.opening), "unit": "psi"}

    def pain_pressure(self, d: Disc) -> None:
        self[d.level, "discography_pain_pressure"] = {"value": float(d.opening + d.above), "unit": "psi"}

    def above(self, d: Disc) -> None:
        self[d.level, "discography_pressure_above_opening"] = {"value": float(d.above), "unit": "psi"}

    def peak(self, d: Disc, at_least: bool = False) -> None:
        form = {"at_least" if at_least else "value": float(d.peak), "unit": "psi"}
        self[d.level, "discography_peak_pressure"] = form

    def volume(self, d: Disc) -> None:
        self[d.level, "discography_volume"] = {"value": d.volume, "unit": "mL"}

    def score(self, d: Disc) -> None:
        self[d.level, "discography_pain_nrs"] = {"value": float(d.score)}

    def pain(self, d: Disc) -> None:
        self[d.level, "discography_concordance"] = PAINS[d.pain][0] if d.pain else {"value": "none"}
        if not d.pain:
            self[d.level, "discography_pain_pressure"] = {"unknown": "not_applicable"}

    def leak(self, d: Disc) -> None:
        self[d.level, "discography_leak"] = {"value": d.leak}

    def grade(self, d: Disc) -> None:
        self[d.level, "discography_fissure_grade"] = {"value": float(d.grade)}


def _leak(d: Disc, rng: random.Random) -> str:
    if d.leak:
        return rng.choice(
            ("contrast leaked into the epidural space", "epidural leak", "extravasation of contrast")
        )
    return rng.choice(
        ("no leak", "no extravasation", "contrast was contained", "without leakage of contrast")
    )


def blocks(rows: list[Disc], rng: random.Random) -> Note:
    """A head for each disc, then labelled lines in any order."""
    marks = _Marks()
    out = ["LUMBAR DISCOGRAPHY", ""]
    gap = rng.choice(("", "  ", "- "))
    for d in rows:
        out.append(_name(d.level, rng) + rng.choice((":", "", " disc:")))
        lines = [f"{rng.choice(('Opening pressure', 'Opening'))}: {d.opening} psi"]
        marks.opening(d)
        lines.append(f"{rng.choice(('Peak pressure', 'Max pressure', 'Peak'))}: {d.peak} psi")
        marks.peak(d)
        lines.append(
            f"{rng.choice(('Volume', 'Volume injected', 'Total volume'))}: {d.volume} {rng.choice(('mL', 'cc', 'ml'))}"
        )
        marks.volume(d)
        if d.pain:
            if rng.random() < 0.5:
                lines.append(f"Pressure at pain: {d.opening + d.above} psi")
                marks.pain_pressure(d)
            else:
                lines.append(f"Pressure at pain: {d.above} psi {rng.choice(('a.o.', 'above opening'))}")
                marks.above(d)
            lines.append(f"{rng.choice(('VAS', 'Pain', 'NRS', 'Pain score'))}: {d.score}/10")
            marks.score(d)
        word = {"": "none", "concordant": "concordant", "unfamiliar": "discordant"}.get(d.pain, d.pain)
        lines.append(f"Concordance: {word}")
        marks.pain(d)
        lines.append(f"{rng.choice(('Leak', 'Extravasation'))}: {'yes' if d.leak else 'no'}")
        marks.leak(d)
        lines.append(f"Dallas grade: {d.grade}")
        marks.grade(d)
        rng.shuffle(lines)
        out += [gap + line for line in lines] + rng.choice(([""], []))
    return Note("blocks", "\n".join(out), marks)


def inline(rows: list[Disc], rng: random.Random) -> Note:
    """One line for each disc, its values apart by commas or semicolons."""
    marks = _Marks()
    out = ["Discogram results"]
    stop = rng.choice((", ", "; ", ". "))
    for d in rows:
        bits = [
            rng.choice(
                (
                    f"opening pressure {d.opening} psi",
                    f"opened at {d.opening} psi",
                    f"{d.opening} psi opening",
                )
            )
        ]
        marks.opening(d)
        if d.pain:
            words = rng.choice(PAINS[d.pain][1])
            bits.append(f"{words} {d.score}/10 at {d.opening + d.above} psi")
            marks.score(d)
            marks.pain_pressure(d)
        else:
            bits.append(f"{rng.choice(('no pain', 'painless', 'without pain'))} to {d.peak} psi")
            marks.peak(d, at_least=True)
        marks.pain(d)
        bits.append(f"{d.volume} {rng.choice(('mL', 'cc'))}")
        marks.volume(d)
        bits.append(_leak(d, rng))
        marks.leak(d)
        bits.append(rng.choice((f"Dallas grade {d.grade}", f"grade {d.grade} annular fissure")))
        marks.grade(d)
        head, tail = bits[:2], bits[2:]
        rng.shuffle(tail)
        out.append(f"{_name(d.level, rng)}: {stop.join(head + tail)}.")
    return Note("inline", "\n".join(out), marks)


def prose(rows: list[Disc], rng: random.Random) -> Note:
    """Running text, wrapped or not, the second sentence without its disc."""
    marks = _Marks()
    out = []
    for d in rows:
        name = _name(d.level, rng)
        out.append(rng.choice((f"At {name} the opening pressure was {d.opening} psi.", f"The {name} disc opened at {d.opening} psi.",
                               f"Opening pressure at {name} was {d.opening} psi.")))  # fmt: skip
        marks.opening(d)
        if d.pain:
            words = rng.choice(PAINS[d.pain][1])
            if rng.random() < 0.5:
                out.append(f"At {d.opening + d.above} psi the patient reported {words}, {d.score}/10.")
                marks.pain_pressure(d)
            else:
                out.append(f"The patient reported {d.score}/10 {words} at {d.above} psi above opening.")
                marks.above(d)
            marks.score(d)
        else:
            out.append(
                rng.choice(
                    (f"There was no pain up to {d.peak} psi.", f"The disc was painless to {d.peak} psi.")
                )
            )
            marks.peak(d, at_least=True)
        marks.pain(d)
        out.append(f"{_leak(d, rng).capitalize()}.")
        marks.leak(d)
    width = rng.choice((0, 0, 45, 60, 72, 90))
    body = "\n".join(textwrap.wrap(" ".join(out), width)) if width else " ".join(out)
    text = "PROVOCATION DISCOGRAPHY\n\n" + body
    return Note("prose", text, marks)


def _cells(rows: list[Disc], rng: random.Random, marks: _Marks) -> tuple[list[str], list[list[str]]]:
    above = rng.random() < 0.3
    names = ["Level", "Opening (psi)", "Pressure above opening (psi)" if above else "Pain pressure (psi)", "Peak (psi)",
             "Volume (mL)", "NRS", "Concordance", "Leak", "Dallas grade"]  # fmt: skip
    out = []
    for d in rows:
        word = {"": "none", "concordant": "concordant", "unfamiliar": "discordant"}.get(d.pain, d.pain)
        pressure = str(d.above if above else d.opening + d.above) if d.pain else "none"
        out.append([_name(d.level, rng), str(d.opening), pressure, str(d.peak), str(d.volume),
                    rng.choice((str(d.score), f"{d.score}/10")), word, "yes" if d.leak else "no", str(d.grade)])  # fmt: skip
        marks.opening(d)
        marks.peak(d)
        marks.volume(d)
        marks.score(d)
        marks.pain(d)
        marks.leak(d)
        marks.grade(d)
        if d.pain:
            (marks.above if above else marks.pain_pressure)(d)
    return names, out


def _set(lines: list[list[str]], form: str) -> str:
    if form == "pipe":
        return "\n".join("| " + " | ".join(row) + " |" for row in lines)
    if form == "tab":
        return "\n".join("\t".join(row) for row in lines)
    widths = [max(len(row[i]) for row in lines) + 3 for i in range(len(lines[0]))]
    return "\n".join("".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in lines)


def table(rows: list[Disc], rng: random.Random) -> Note:
    """A row for each disc, columns in any order, apart by bars, tabs or blanks."""
    marks = _Marks()
    names, body = _cells(rows, rng, marks)
    order = list(range(1, len(names)))
    rng.shuffle(order)
    keep = [0, *order]
    form = rng.choice(("pipe", "tab", "aligned"))
    lines = [[row[i] for i in keep] for row in (names, *body)]
    return Note(f"table, {form}", f"Discography\n\n{_set(lines, form)}\n", marks)


def turned(rows: list[Disc], rng: random.Random) -> Note:
    """A column for each disc."""
    marks = _Marks()
    names, body = _cells(rows, rng, marks)
    lines = [[names[i], *(row[i] for row in body)] for i in range(len(names))]
    lines[0][0] = "Measure"
    form = rng.choice(("pipe", "tab"))
    return Note(f"turned, {form}", f"Discography\n\n{_set(lines, form)}\n", marks)


def trailing(rows: list[Disc], rng: random.Random) -> Note:
    """Values before their discs, and lists in the same order."""
    marks = _Marks()
    names = [_name(d.level, rng) for d in rows]
    both = f"{', '.join(names[:-1])} and {names[-1]}"
    values = [str(d.opening) for d in rows]
    if rng.random() < 0.5:
        out = [
            f"Opening pressures at {both} were {', '.join(values[:-1])} and {values[-1]} psi respectively."
        ]
    else:
        out = [
            "Opening pressure was "
            + ", ".join(f"{d.opening} psi at {n}" for d, n in zip(rows, names, strict=True))
            + "."
        ]
    for d in rows:
        marks.opening(d)
    out.append("Volumes: " + ", ".join(f"{n} {d.volume} mL" for d, n in zip(rows, names, strict=True)) + ".")
    for d in rows:
        marks.volume(d)
    for d, n in zip(rows, names, strict=True):
        out.append(f"There was {rng.choice(PAINS[d.pain][1]) if d.pain else 'no pain'} at {n}.")
        marks.pain(d)
    return Note("trailing", "DISCOGRAPHY RESULTS\n" + " ".join(out), marks)


LAYOUTS = (blocks, inline, prose, table, turned, trailing)


def note(seed: int) -> Note:
    """The note of a number: always the same one."""
    rng = random.Random(seed)
    return rng.choice(LAYOUTS)(discs(rng), rng)
