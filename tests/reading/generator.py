"""Invented reports with exact marks: layouts x phrasings x truths.

A truth says of each disc what is there; a layout writes it down. The marks follow from the truth, never from the text,
so no reading of ours can leak into them. What a layout does not say of a disc is left out of its marks.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

LEVELS = ("L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1")
SPELLINGS: tuple[Callable[[str], str], ...] = (
    lambda d: d,
    lambda d: d.replace("-L", "-"),
    lambda d: d.replace("-", "/"),
    lambda d: d.replace("-L", "/").replace("-S", "/S"),
)
GRADES = ("mild", "moderate", "severe")
FORMS = ("bulge", "protrusion", "extrusion")
Marks = dict[str, dict[str, str]]


class Made(NamedTuple):
    """A report, what is true of its discs as far as it says so, and what it must never be read to say.

    ``asked`` are discs and fields of which the report says two things: they have to be raised, whatever is asserted.
    """

    layout: str
    text: str
    marks: Marks
    never: frozenset[tuple[str, str]]
    asked: frozenset[tuple[str, str]] = frozenset()


def listed(words: Sequence[str], joiner: str = "and") -> str:
    """Join words as a sentence does."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {joiner} {words[-1]}"


def shifted(form: str) -> dict[str, str]:
    """Give the marks of a displacement that is stated."""
    return {"displacement": form, "displacement_certainty": "stated"}


def an(word: str) -> str:
    """Put the article before a word."""
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


class Page:
    """Choices for one report, all from one seed."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)
        self.spell = self.dice.choice(SPELLINGS)
        count = self.dice.randint(2, 4)
        chosen = self.dice.sample(LEVELS, count)
        self.discs = tuple(d for d in LEVELS if d in chosen)
        self.rest = tuple(d for d in LEVELS if d not in self.discs)
        self.names = [self.spell(d) for d in self.discs]
        self.grades = [self.dice.choice(GRADES) for _ in self.discs]
        self.forms = [self.dice.choice(FORMS) for _ in self.discs]
        self.asked: set[tuple[str, str]] = set()

    def pick(self, *options: str) -> str:
        """Choose one wording."""
        return self.dice.choice(options)

    def stenosis(self) -> Marks:
        """Give the marks of the grades of the canal."""
        return {d: {"canal_stenosis": g} for d, g in zip(self.discs, self.grades, strict=True)}


Layout = Callable[[Page], tuple[str, Marks, set[tuple[str, str]]]]


def block(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A line for each level."""
    lines, marks = [], {}
    dash = p.pick(":", ":", " -")
    for d, n, f, g in zip(p.discs, p.names, p.forms, p.grades, strict=True):
        tail = p.pick(
            f"There is {g} canal stenosis.",
            f"{g.capitalize()} central canal stenosis.",
            f"The canal shows {g} stenosis.",
        )
        lines.append(f"{n}{dash} {p.pick('Disc', 'Central disc', 'Broad-based disc')} {f}. {tail}")
        marks[d] = shifted(f) | {"canal_stenosis": g}
    return "FINDINGS:\n" + "\n".join(lines), marks, set()


def prose(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A sentence for each level."""
    said, marks = [], {}
    for d, n, f, g in zip(p.discs, p.names, p.forms, p.grades, strict=True):
        said.append(p.pick(
            f"At {n} there is {an(f)} with {g} canal stenosis.",
            f"At {n}, a disc {f} causes {g} canal stenosis.",
            f"There is a disc {f} at {n} resulting in {g} canal stenosis.",
            f"{n} demonstrates a disc {f} and {g} central canal stenosis.",
        ))  # fmt: skip
        marks[d] = shifted(f) | {"canal_stenosis": g}
    return "FINDINGS: " + " ".join(said), marks, set()


def value_for_each(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """One thing, a grade for each level."""
    pairs = [f"{g} at {n}" for g, n in zip(p.grades, p.names, strict=True)]
    text = p.pick(
        f"Canal stenosis is {listed(pairs)}.",
        f"Canal stenosis: {'; '.join(pairs)}.",
        f"There is canal stenosis, {listed(pairs)}.",
        f"Canal stenosis: {', '.join(f'{n} {g}' for g, n in zip(p.grades, p.names, strict=True))}.",
    )
    return "FINDINGS: " + text, p.stenosis(), set()


def respectively(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Grades in the order of the levels."""
    text = p.pick(
        f"{listed(p.grades).capitalize()} canal stenosis at {listed(p.names)}, respectively.",
        f"Canal stenosis at {listed(p.names)} is {listed(p.grades)}, respectively.",
        f"At {listed(p.names)} there is {listed(p.grades)} canal stenosis, respectively.",
    )
    return "FINDINGS: " + text, p.stenosis(), set()


def some_none(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A grade here, none there."""
    first, other = p.names[0], p.names[-1]
    g = p.grades[0]
    text = p.pick(
        f"There is {g} canal stenosis at {first} and none at {other}.",
        f"{g.capitalize()} canal stenosis at {first}, none at {other}.",
        f"{g.capitalize()} canal stenosis at {first} but no stenosis at {other}.",
        f"Canal stenosis: {g} at {first}, none at {other}.",
    )
    marks = {p.discs[0]: {"canal_stenosis": g}, p.discs[-1]: {"canal_stenosis": "none"}}
    return "FINDINGS: " + text, marks, set()


def shared(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """One finding of several levels."""
    f = p.forms[0]
    text = p.pick(
        f"Disc {f}s at {listed(p.names)}.",
        f"There are disc {f}s at the {listed(p.names)} levels.",
        f"{listed(p.names)} show disc {f}s.",
        f"Disc {f}s are noted at {listed(p.names)}, with canal stenosis at each of these levels.",
    )
    marks = {d: shifted(f) for d in p.discs}
    if "each" in text:
        marks = {d: m | {"canal_stenosis": "present_ungraded"} for d, m in marks.items()}
    return "FINDINGS: " + text, marks, set()


def remaining(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Some levels by name, the others together."""
    f = p.forms[0]
    which = p.pick(
        "The remaining lumbar discs are",
        "The other lumbar discs are",
        "All other lumbar discs are",
        "The remaining discs are",
    )
    text = f"Disc {f}s at {listed(p.names)}. {which} normal."
    marks = {d: shifted(f) for d in p.discs} | {d: shifted("none") for d in p.rest}
    return "FINDINGS: " + text, marks, set()


def table(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A row for each level."""
    bar = p.pick(" | ", "\t", "|")
    rows = [bar.join(("Level", "Disc", "Canal"))]
    marks = {}
    for d, n, f, g in zip(p.discs, p.names, p.forms, p.grades, strict=True):
        rows.append(bar.join((n, f.capitalize(), f"{g.capitalize()} stenosis")))
        marks[d] = shifted(f) | {"canal_stenosis": g}
    return "FINDINGS:\n" + "\n".join(rows), marks, set()


def form(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Labelled lines under each level."""
    rows, marks = [], {}
    lead = p.pick(": ", " ..... ", " - ")
    for d, n, f, g in zip(p.discs, p.names, p.forms, p.grades, strict=True):
        rows += [f"{n}:", f"Disc{lead}{f}", f"Canal stenosis{lead}{g}", ""]
        marks[d] = shifted(f) | {"canal_stenosis": g}
    return "FINDINGS:\n" + "\n".join(rows), marks, set()


def ticked(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Boxes, of which one is ticked; the others say nothing."""
    mark, empty = p.dice.choice((("[x]", "[ ]"), ("[X]", "[ ]"), ("☒", "☐"), ("(x)", "( )")))
    rows, marks = [], {}
    never: set[tuple[str, str]] = set()
    for d, n, f in zip(p.discs, p.names, p.forms, strict=True):
        boxes = " ".join(f"{mark if form == f else empty} {form}" for form in FORMS)
        rows.append(f"{n}: {boxes}")
        marks[d] = shifted(f)
    return "FINDINGS:\n" + "\n".join(rows), marks, never


def denied(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A denial of several things."""
    n, d = p.names[0], p.discs[0]
    text = p.pick(
        f"{n}: No disc bulge, herniation, or canal stenosis.",
        f"At {n} there is no disc bulge or herniation and no canal stenosis.",
        f"No bulge, herniation or canal stenosis at {n}.",
        f"{n}: Disc bulge, herniation and canal stenosis are not seen.",
        f"{n} is without disc bulge, herniation or canal stenosis.",
    )
    return "FINDINGS: " + text, {d: shifted("none") | {"canal_stenosis": "none"}}, set()


def doubted(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A doubt."""
    n, d, f = p.names[0], p.discs[0], p.forms[0]
    text = p.pick(
        f"Possible disc {f} at {n}.",
        f"A disc {f} at {n} cannot be excluded.",
        f"{n}: Questionable disc {f}.",
        f"Findings suspicious for a disc {f} at {n}.",
        f"At {n} there may be a disc {f}.",
        f"{n}: Equivocal disc {f}.",
        f"A disc {f} at {n} is suspected but not confirmed.",
    )
    return "FINDINGS: " + text, {}, {(d, "displacement")}


def compared(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Another level only stands beside."""
    (n, *_, other), f = p.names, p.forms[0]
    text = p.pick(
        f"Compared with {other}, the disc at {n} shows {an(f)}.",
        f"At {n} there is a disc {f}, larger than at {other}.",
        f"Relative to {other}, there is a disc {f} at {n}.",
        f"Unlike {other}, {n} shows a disc {f}.",
        f"There is a disc {f} at {n} as opposed to {other}.",
    )
    never = {(p.discs[-1], "displacement")}
    return "FINDINGS: " + text, {p.discs[0]: shifted(f)}, never


def not_now(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """What was, what is planned, what is asked."""
    n, d, f = p.names[0], p.discs[0], p.forms[0]
    text = p.pick(
        f"INDICATION: Evaluate for disc {f} at {n}.\n\nFINDINGS: The conus is normal.",
        f"FINDINGS: The previously seen disc {f} at {n} has resolved.",
        f"FINDINGS: Status post resection of the disc {f} at {n}.",
        f"FINDINGS: If a disc {f} at {n} is suspected, contrast would help.",
        f"FINDINGS: The patient's brother has a disc {f} at {n}.",
        f"HISTORY: Prior MRI showed a disc {f} at {n}.\n\nFINDINGS: The conus is normal.",
    )
    return text, {}, {(d, "displacement")}


def double_negative(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Two denials in one sentence: nothing certain may come of it, least of all what is denied twice."""
    n, d, f = p.names[0], p.discs[0], p.forms[0]
    text = p.pick(
        f"It is not the case that there is no disc {f} at {n}.",
        f"{n}: Not without a disc {f}.",
        f"The disc at {n} is not free of {f}.",
        f"At {n}, absence of a disc {f} cannot be confirmed.",
        f"No disc at {n} is without {f}.",
        f"{n}: Cannot say there is no {f}.",
        f"It would be wrong to say that {n} shows no {f}.",
        f"I cannot exclude that there is no disc {f} at {n}.",
        f"{n}: no clear absence of disc {f}.",
        f"A disc {f} at {n} is not absent.",
    )
    return "FINDINGS: " + text, {}, {(d, "displacement=none")}


def corrected(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A level that an addendum puts right."""
    n, d, other, o, f = p.names[0], p.discs[0], p.names[-1], p.discs[-1], p.forms[0]
    body = f"FINDINGS: Disc {f} at {other}.\n\nADDENDUM: "
    text = p.pick(
        f"Correction: the disc {f} at {other} should read disc {f} at {n}.",
        f"The above report should read: disc {f} at {n}, not {other}.",
        f"The disc {f} is at {n}, not at {other}.",
        f"{other} was dictated in error; the disc {f} is at {n}.",
        f"The level is {n} instead of {other}.",
        f"Please note that {other} should read {n}.",
        f"Erratum: for {other} read {n}.",
        f"The {f} described at {other} is located at {n}.",
        f"The disc {f} at {other} was stated in error. There is a disc {f} at {n}.",
        f"CORRECTION: {n}, NOT {other}.",
    )
    p.asked.add((o, "displacement"))
    return body + text, {d: shifted(f)}, set()


def resected(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """What was taken out is there no more."""
    n, d, f = p.names[0], p.discs[0], p.forms[0]
    text = p.pick(
        f"Status post microdiscectomy for disc {f} at {n}.",
        f"The disc {f} at {n} has been resected.",
        f"Interval resection of the {n} disc {f}.",
        f"Postoperative changes from removal of a disc {f} at {n}.",
        f"{n}: s/p discectomy for {f}.",
        f"The {n} {f} has been removed.",
        f"The previously noted {f} at {n} is no longer seen.",
        f"Surgically removed {f} at {n}.",
        f"Prior {n} {f}, since resected.",
        f"{n}: Interval discectomy with removal of the {f}.",
    )
    return "FINDINGS: " + text, {}, {(d, "displacement")}


def at_odds(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Findings and impression differ."""
    n, d = p.names[0], p.discs[0]
    one, two = p.dice.sample(GRADES, 2)
    title = p.pick("IMPRESSION", "CONCLUSION", "OPINION", "Impression", "SUMMARY")
    text = p.pick(
        f"FINDINGS:\n{n}: {one.capitalize()} canal stenosis.\n\n{title}:\n1. {two.capitalize()} canal stenosis at {n}.",
        f"FINDINGS: At {n} there is {one} canal stenosis.\n{title}: {two.capitalize()} canal stenosis at {n}.",
        f"FINDINGS: {n}: The canal shows {one} stenosis.\n\n{title}: {n} {two} canal stenosis.",
    )
    p.asked.add((d, "canal_stenosis"))
    return text, {}, set()


def modic(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A Modic type for each level."""
    types = [p.dice.choice("123") for _ in p.discs]
    roman = {"1": "I", "2": "II", "3": "III"}
    pairs = [*zip(p.names, types, strict=True)]
    text = p.pick(
        " ".join(f"{n}: Modic type {t} endplate changes." for n, t in pairs),
        " ".join(f"Modic {roman[t]} changes at {n}." for n, t in pairs),
        "Endplate changes: " + "; ".join(f"{n} Modic {t}" for n, t in pairs) + ".",
        f"Modic changes: {listed([f'type {t} at {n}' for n, t in pairs])}.",
        "\n".join(f"{n}: Type {roman[t]} Modic degenerative endplate changes." for n, t in pairs),
        " ".join(f"There are Modic type {roman[t]} endplate changes at {n}." for n, t in pairs),
        f"There are {listed([f'Modic type {t} changes at {n}' for n, t in pairs])}.",
        " ".join(f"At {n}, Modic type {t} signal change is seen." for n, t in pairs),
        " ".join(f"{n} demonstrates Modic {t} endplate change." for n, t in pairs),
        f"Modic type {listed(types)} endplate changes at {listed(p.names)}, respectively.",
    )
    return (
        "FINDINGS: " + text,
        {d: {"endplate_change": f"modic{t}"} for d, t in zip(p.discs, types, strict=True)},
        set(),
    )


def sizes(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A size for each level."""
    mm = [str(p.dice.randint(2, 9)) for _ in p.discs]
    f = p.forms[0]
    pairs = [*zip(p.names, mm, strict=True)]
    text = p.pick(
        " ".join(f"{n}: {s} mm disc {f}." for n, s in pairs),
        f"Disc {f}s measure {listed([f'{s} mm at {n}' for n, s in pairs])}.",
        " ".join(f"At {n} there is a {s} mm {f}." for n, s in pairs),
        " ".join(f"There is a {s}-mm disc {f} at {n}." for n, s in pairs),
        " ".join(f"{n}: Disc {f} measuring {s} mm." for n, s in pairs),
        " ".join(f"Disc {f} at {n}, {s} mm." for n, s in pairs),
        " ".join(f"{n}: disc {f} of {s} mm in AP dimension." for n, s in pairs),
        f"There are disc {f}s at {listed(p.names)} measuring {listed([f'{s} mm' for s in mm])}, respectively.",
        "\n".join(f"{n}: {f} ({s} mm)" for n, s in pairs),
        " ".join(f"{n} shows an approximately {s} mm {f}." for n, s in pairs),
    )
    return "FINDINGS: " + text, {d: shifted(f) | {"size": s} for d, s in zip(p.discs, mm, strict=True)}, set()


def slips(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A grade of slip for one level, none for another."""
    n, d, grade = p.names[0], p.discs[0], p.dice.choice("123")
    roman = {"1": "I", "2": "II", "3": "III"}[grade]
    upper, lower = d.split("-")
    word = p.pick("anterolisthesis", "retrolisthesis", "spondylolisthesis")
    text = p.pick(
        f"Grade {grade} {word} of {upper} on {lower}.",
        f"Grade {roman} {word} at {n}.",
        f"{n}: Grade {grade} {word}.",
        f"There is grade {roman} {word} of {upper} on {lower}.",
        f"{word.capitalize()} at {n}, grade {grade}.",
        f"{upper} on {lower} {word}, grade {roman}.",
        f"At {n} there is a grade {grade} {word}.",
        f"{word.capitalize()} of {upper} over {lower} (grade {grade}).",
        f"{n}: {word} grade {roman}. Mild facet arthropathy.",
        f"Meyerding grade {grade} {word} at {n}.",
    )
    return "FINDINGS: " + text, {d: {"listhesis": f"grade{grade}"}}, set()


def ranged(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A range of grades; the marks hold its upper end."""
    n, d = p.names[0], p.discs[0]
    low, high = p.dice.choice((GRADES[:2], GRADES[1:]))
    text = p.pick(
        f"{low.capitalize()} to {high} canal stenosis at {n}.",
        f"{n}: {low}-to-{high} canal stenosis.",
        f"At {n} there is {low} to {high} central canal stenosis.",
        f"{n}: {low.capitalize()}-{high} canal stenosis.",
        f"The canal stenosis at {n} is {low} to {high}.",
        f"Canal stenosis, {low} to {high}, at {n}.",
        f"{n}: {low.capitalize()}/{high} canal stenosis.",
        f"{n} shows {low} to {high} narrowing of the spinal canal.",
        f"{n}: canal stenosis, {low} to {high}.",
        f"There is {low} to {high} spinal stenosis at {n}.",
    )
    return "FINDINGS: " + text, {d: {"canal_stenosis": high}}, set()


def run_on(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Dictation without full stops."""
    joiner = p.pick(
        ", ", " and ", " then ", "; ", " also ", " next ", ", and ", " followed by ", " with ", " "
    )
    rows = [f"{n} {p.pick('shows', 'has', 'with', 'reveals')} {an(f)} with {g} canal stenosis"
            for n, f, g in zip(p.names, p.forms, p.grades, strict=True)]  # fmt: skip
    marks = {
        d: shifted(f) | {"canal_stenosis": g} for d, f, g in zip(p.discs, p.forms, p.grades, strict=True)
    }
    return "FINDINGS: " + joiner.join(rows), marks, set()


def letter(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A surgeon's letter: what is quoted of another time, person or plan is not of this study."""
    n, d, f = p.names[0], p.discs[0], p.forms[0]
    text = p.pick(
        f"His outside MRI from 2019 was read as showing a disc {f} at {n}.",
        f"I discussed that a disc {f} at {n} would need surgery.",
        f"She was told elsewhere that she has a disc {f} at {n}.",
        f"He asks whether he has a disc {f} at {n}.",
        f"We would operate if the new MRI shows a disc {f} at {n}.",
        f"In 2018 he had a disc {f} at {n}, which resolved.",
        f"The referral says: rule out disc {f} at {n}.",
        f"Should there be a disc {f} at {n}, we will inject.",
        f"I doubt that there is a disc {f} at {n}.",
        f"His father had surgery for a disc {f} at {n}.",
    )
    return "Dear colleague,\n\n" + text + "\n\nKind regards", {}, {(d, "displacement")}


def both_levels(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A sentence that goes on about the levels just named."""
    f, g = p.forms[0], p.grades[0]
    which = "both of these levels" if len(p.discs) == 2 else "each of these levels"
    text = f"Disc {f}s at {listed(p.names)}" + p.pick(
        f". There is {g} canal stenosis at {which}.",
        f" with {g} canal stenosis at {which}.",
        f". At {which} there is {g} canal stenosis.",
        f". {g.capitalize()} canal stenosis at {which}.",
        f", causing {g} canal stenosis at {which}.",
        f". Canal stenosis is {g} at {which}.",
        f" and {g} canal stenosis at {which}.",
        f"; there is {g} canal stenosis at {which}.",
        f". {g.capitalize()} stenosis of the canal is present at {which}.",
        f". {which.capitalize()} show {g} canal stenosis.",
    )
    return "FINDINGS: " + text, {d: shifted(f) | {"canal_stenosis": g} for d in p.discs}, set()


def above(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """One level by name, those above it together."""
    at = p.dice.randint(1, 4)
    d, f = LEVELS[at], p.forms[0]
    n = p.spell(d)
    text = f"{n}: Disc {f}. " + p.pick(
        f"The discs above {n} are normal.",
        f"Above {n}, the discs are normal.",
        f"All discs above {n} are normal.",
        f"No disc bulge or herniation above {n}.",
        f"The levels above {n} are normal.",
        "Discs above this level are normal.",
        f"Above {n} there is no disc bulge or herniation.",
        f"The lumbar discs above {n} are unremarkable.",
        f"Normal discs above {n}.",
        "Above this level, no disc bulge or herniation is seen.",
    )
    return "FINDINGS: " + text, {d: shifted(f)} | {e: shifted("none") for e in LEVELS[:at]}, set()


def sideways(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """A table with a column for each level."""
    bar = p.pick(" | ", "\t", "|")
    rows = [["", *p.names], ["Disc", *p.forms], ["Canal stenosis", *p.grades]]
    if p.dice.random() < 0.5:
        rows[0][0] = "Level"
    marks = {
        d: shifted(f) | {"canal_stenosis": g} for d, f, g in zip(p.discs, p.forms, p.grades, strict=True)
    }
    return "FINDINGS:\n" + "\n".join(bar.join(row) for row in rows), marks, set()


def columns(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Columns set with blanks."""
    width = p.dice.choice((14, 16, 20))
    rows = [("Level", "Disc", "Canal")] if p.dice.random() < 0.7 else []
    rows += [(n, f.capitalize(), f"{g} stenosis") for n, f, g in zip(p.names, p.forms, p.grades, strict=True)]
    marks = {
        d: shifted(f) | {"canal_stenosis": g} for d, f, g in zip(p.discs, p.forms, p.grades, strict=True)
    }
    return (
        "FINDINGS:\n" + "\n".join("".join(c.ljust(width) for c in row).rstrip() for row in rows),
        marks,
        set(),
    )


def leaders(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Dots from the level to what is said of it."""
    dots = p.pick("....", " ........ ", "......", " . . . . ", "…… ", " ...... ")
    rows = [
        f"{n}{dots}{f.capitalize()}, {g} canal stenosis"
        for n, f, g in zip(p.names, p.forms, p.grades, strict=True)
    ]
    marks = {
        d: shifted(f) | {"canal_stenosis": g} for d, f, g in zip(p.discs, p.forms, p.grades, strict=True)
    }
    return "FINDINGS:\n" + "\n".join(rows), marks, set()


def capitals(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Everything in capitals."""
    text, marks, never = p.dice.choice((block, prose, some_none, denied, shared, remaining))(p)
    return text.upper(), marks, never


def spoken(p: Page) -> tuple[str, Marks, set[tuple[str, str]]]:
    """Signs that were spoken and typed as words."""
    rows, marks = [], {}
    for d, n, f, g in zip(p.discs, p.names, p.forms, p.grades, strict=True):
        rows.append(p.pick(
            f"{n} colon disc {f} period {g} canal stenosis period",
            f"at {n} comma there is a disc {f} with {g} canal stenosis period",
            f"{n} colon {f} comma {g} canal stenosis period",
            f"disc {f} at {n} comma {g} canal stenosis period",
        ))  # fmt: skip
        marks[d] = shifted(f) | {"canal_stenosis": g}
    sign = p.pick(" ", " new paragraph ", " next line ", " new line ")
    return "findings colon " + sign.join(rows), marks, set()


LAYOUTS: dict[str, Layout] = {
    f.__name__: f
    for f in (block, prose, value_for_each, respectively, some_none, shared, remaining, table, form, ticked,
              denied, doubted, compared, not_now, double_negative, corrected, resected, at_odds, modic, sizes, slips, ranged, run_on,
              letter, both_levels, above, sideways, columns, leaders, capitals, spoken)
}  # fmt: skip


def made(layout: str, seed: int) -> Made:
    """Write one report of a layout; the same seed gives the same report."""
    page = Page(seed)
    text, marks, never = LAYOUTS[layout](page)
    return Made(layout, text, marks, frozenset(never), frozenset(page.asked))


def many(count: int, start: int = 0) -> Iterator[Made]:
    """Write so many reports of every layout."""
    for name in LAYOUTS:
        for seed in range(start, start + count):
            yield made(name, seed)
