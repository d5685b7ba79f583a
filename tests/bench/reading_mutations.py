"""Mutated reports, read without an exception: ``nice python -m tests.bench.reading_mutations --count 100000``.

Each text is made from an invented or open report by several damages: characters, words and lines left out, put in,
doubled, swapped; cut off; control characters, other scripts, huge numbers, nested brackets, very long lines. It is read,
and the reading has to be sound: spans inside the text, the whole text accounted for, everything shown, the same twice.
Prints JSON: how many, seconds, the slowest text, and each failure with the seed that makes it again.
"""

import argparse
import json
import os
import random
from collections.abc import Callable
from pathlib import Path

import yaml

from candidacy.reading import Reading, read_text
from candidacy.reading.elements import facts
from candidacy.reading.marks import marks
from candidacy.reading.show import as_data, as_html, as_text
from tests.bench.measured import machine, spread, used
from tests.published.shared import SHARED
from tests.reading.generator import many

DICTATION = Path(__file__).resolve().parents[1] / "reading" / "dictation.yaml"
ODD = [
    "\x00", "\x07", "\x1b[31m", "\x85", "\u2028", "\u200b", "\ufeff", "\u202e", "\ud7ff", "é", "ß", "İ", "ſ", "ﬁ", "½", "²",
    "①", "٣", "Ⅳ", "–", "—", "−", "×", "…", "“", "’", "病", "🦴", "e\u0301\u0301\u0301", "\u00a0", "\v", "\f", "\r", "\r\n", "\t",
]  # fmt: skip
STUFF = [
    "9" * 400, "1e999", "-0.000001 mm", "5 x 8 x 99999999999 mm", "L9-L12", "L5-5", "S9", "L0-L1", "4-5-6-7", "L4-L5-S1-S2",
    "99/99/9999", "02/30/2026", "EXAM DATE: 13/13/13", "no no no", "grade 17", "Modic 0-9", "[x] [ ] (x) ( )", "||||", "....." * 20,
    "(" * 60 + ")" * 59, "[[[[{{{{<<<<", "<b>&amp;&#x0;</b>", "\\n\\t\\", "%s{0}{{}}", "respectively, respectively", ": : :", "- - -",
    "ADDENDUM:", "IMPRESSION:", "HISTORY:", "COMPARISON", "correction:", "period", "comma", "L4-5", "none", "or", "versus", "at each of these",
]  # fmt: skip

Damage = Callable[[str, random.Random], str]


def _spot(text: str, dice: random.Random) -> tuple[int, int]:
    start = dice.randrange(len(text) + 1)
    return start, min(len(text), start + dice.choice((1, 1, 1, 2, 5, 20)))


def _left_out(text: str, dice: random.Random) -> str:
    start, end = _spot(text, dice)
    return text[:start] + text[end:]


def _put_in(text: str, dice: random.Random) -> str:
    at = dice.randrange(len(text) + 1)
    return text[:at] + dice.choice(dice.choice((ODD, STUFF))) + text[at:]


def _doubled(text: str, dice: random.Random) -> str:
    start, end = _spot(text, dice)
    return text[:end] + text[start:end] * dice.choice((1, 1, 3, 50)) + text[end:]


def _swapped(text: str, dice: random.Random) -> str:
    if len(text) < 2:
        return text
    at = dice.randrange(len(text) - 1)
    return text[:at] + text[at + 1] + text[at] + text[at + 2 :]


def _rearranged(sign: str) -> Damage:
    def damage(text: str, dice: random.Random) -> str:
        parts = text.split(sign)
        at = dice.randrange(len(parts))
        how = dice.randrange(5)
        if how == 0:
            del parts[at]
        elif how == 1:
            parts.insert(at, parts[dice.randrange(len(parts))])
        elif how == 2:
            other = dice.randrange(len(parts))
            parts[at], parts[other] = parts[other], parts[at]
        elif how == 3:
            parts[at] = dice.choice(STUFF)
        else:
            dice.shuffle(parts)
        return sign.join(parts)

    return damage


def _cut(text: str, dice: random.Random) -> str:
    at = dice.randrange(len(text) + 1)
    return dice.choice((text[:at], text[at:]))


def _long_line(text: str, dice: random.Random) -> str:
    flat = text.replace("\n", dice.choice((" ", "", ", ", " and ")))
    return flat * dice.choice((1, 1, 1, 5, 40)) if dice.random() < 0.2 else flat


def _cased(text: str, dice: random.Random) -> str:
    return dice.choice((str.upper, str.lower, str.title, str.swapcase))(text)


DAMAGES: tuple[Damage, ...] = (
    _left_out, _left_out, _put_in, _put_in, _put_in, _doubled, _swapped, _swapped, _rearranged(" "), _rearranged(" "),
    _rearranged("\n"), _rearranged(". "), _rearranged(": "), _cut, _long_line, _cased,
)  # fmt: skip


def pool() -> list[str]:
    """Give the texts to damage: invented dictation, generated reports, and open notes where they are at hand."""
    texts = [c["text"] for c in yaml.safe_load(DICTATION.read_text("utf-8"))]
    texts += [m.text for m in many(20)]
    open_set = SHARED / "report_findings" / "open_gold.jsonl"
    if open_set.exists():
        texts += [json.loads(line)["text"] for line in open_set.read_text("utf-8").splitlines()]
    return [t for t in texts if t]


def mutated(texts: list[str], seed: int) -> str:
    """Make one damaged text; the same seed gives the same text."""
    dice = random.Random(seed)
    text = dice.choice(texts)
    if dice.random() < 0.2:
        text += dice.choice(("\n\n", " ", "\n")) + dice.choice(texts)
    for _ in range(dice.choice((1, 1, 2, 3, 5, 12))):
        text = dice.choice(DAMAGES)(text, dice)
    return text


def unsound(reading: Reading) -> str:
    """Say what is wrong with a reading; nothing where it is sound."""
    size, at = len(reading.text), 0
    for account in reading.ledger:
        if reading.text[at : account.span.start].strip() and not _layout(
            reading.text[at : account.span.start]
        ):
            return f"not accounted for: {reading.text[at : account.span.start]!r}"
        at = max(at, account.span.end)
    if reading.text[at:].strip() and not _layout(reading.text[at:]):
        return f"not accounted for: {reading.text[at:]!r}"
    spans = [s.span for s in reading.statements] + [u.span for u in reading.not_understood]
    spans += [s for a in reading.ledger for s in (a.span, *a.missed)]
    spans += [s for f in reading.findings for s in (f.evidence, f.quoted, f.place or f.evidence)]
    spans += [s for o in reading.outside for s in (o.evidence, o.quoted, *o.words)]
    spans += [m.span for m in reading.marks if m.span is not None]
    spans += [reading.exam_date.span] if reading.exam_date is not None else []
    for span in spans:
        if not 0 <= span.start < span.end <= size:
            return f"span outside the text: {span}"
    return ""


def _layout(words: str) -> bool:
    """Whether a stretch holds no word at all."""
    return not any(ch.isalnum() for ch in words)


def check(text: str) -> str:
    """Read and show a text; say what is wrong, nothing where all is well."""
    try:
        reading = read_text(text)
        found = unsound(reading)
        json.dumps([as_data(reading), marks(reading)])
        as_text(reading)
        as_html(reading)
        facts(reading, "report")
    except Exception as error:  # whatever it is, it is what is looked for
        return f"{type(error).__name__}: {error}"
    return found


def run(count: int, start: int = 0) -> dict[str, object]:
    """Check so many texts in one process; times are of the processor."""
    texts = pool()
    failures: list[dict[str, object]] = []
    characters, taken = 0, []
    for seed in range(start, start + count):
        text = mutated(texts, seed)
        characters += len(text)
        took, wrong = used(lambda text=text: check(text))  # type: ignore[misc]
        taken.append(took)
        if wrong:
            failures.append({"seed": seed, "wrong": wrong[:300]})
    slowest = max(range(count), key=lambda number: taken[number].cpu)
    processor, clock = sum(each.cpu for each in taken), sum(each.wall for each in taken)
    return {
        "machine": f"{machine()}, load {os.getloadavg()[0]:.1f}",
        "texts": count,
        "first_seed": start,
        "characters": characters,
        "processor_s": round(processor, 1),
        "cores": round(processor / clock, 2),
        "a_text": spread([1000 * each.cpu for each in taken], "ms"),
        "a_thousand_texts": spread(
            [sum(each.cpu for each in taken[at : at + 1000]) for at in range(0, count, 1000)]
        ),
        "slowest_s": round(taken[slowest].cpu, 3),
        "slowest_seed": start + slowest,
        "failures": len(failures),
        "first_failures": failures[:20],
    }


def main() -> int:
    """Run and print JSON; 1 where a text failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--start", type=int, default=0)
    given = parser.parse_args()
    result = run(given.count, given.start)
    print(json.dumps(result, indent=1, ensure_ascii=True))
    return 1 if result["failures"] else 0


if __name__ == "__main__":
    raise SystemExit(main())
