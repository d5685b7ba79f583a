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
    """A report, what is true of its discs as far as it says so, and what it must never be read to say."""

    layout: str
    text: str
    marks: Marks
    never: frozenset[tuple[str, str]]


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
        tail = p.pick(f"There is {g} canal stenosis.", f"{g.capitalize()} central canal stenosis.", f"The canal shows {g} stenosis.")
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
    which = p.pick("The remaining lumbar discs are", "The other lumbar discs are", "All other lumbar discs are", "The remaining discs are")
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


LAYOUTS: dict[str, Layout] = {
    f.__name__: f
    for f in (block, prose, value_for_each, respectively, some_none, shared, remaining, table, form, ticked,
              denied, doubted, compared, not_now)
}  # fmt: skip


def made(layout: str, seed: int) -> Made:
    """Write one report of a layout; the same seed gives the same report."""
    text, marks, never = LAYOUTS[layout](Page(seed))
    return Made(layout, text, marks, frozenset(never))


def many(count: int, start: int = 0) -> Iterator[Made]:
    """Write so many reports of every layout."""
    for name in LAYOUTS:
        for seed in range(start, start + count):
            yield made(name, seed)
