"""Letters marked by hand, and how a reading compares with the marks."""

import json
from collections import Counter
from pathlib import Path
from typing import Any

from candidacy.reading.letters.read import read_letter
from candidacy.reading.notes.model import NoteReading

DATA = Path(__file__).parents[1] / "data"
_NAMED_BY = {
    "medicines": "medicine_name",
    "surgeries": "surgery_kind",
    "injections": "injection_kind",
    "treatments": "treatment_kind",
}
Key = tuple[str, str]


def letters(name: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (DATA / name).read_text("utf-8").splitlines()]


def _form(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {"value": value}


def marked(letter: dict[str, Any]) -> dict[Key, dict[str, Any]]:
    out: dict[Key, dict[str, Any]] = {}
    for name, rows in letter["facts"].items():
        for row in [rows] if name == "patient" else rows:
            of = name if name == "patient" else f"{name}: {row[_NAMED_BY[name]]}"
            out |= {(of, element): _form(value) for element, value in row.items()}
    return out


def read(reading: NoteReading) -> dict[Key, dict[str, Any]]:
    names = {
        f.subject: f"{f.subject.split('[')[0]}: {f.form.get('value')}"
        for f in reading.facts
        if f.element == _NAMED_BY.get(f.subject.split("[")[0])
    }
    return {(names.get(f.subject, f.subject), f.element): f.form for f in reading.facts}


def compared(letter: dict[str, Any]) -> dict[str, list[Key]]:
    """Right, wrong, asserted beyond the marks, and missed or left unknown."""
    marks, found = marked(letter), read(read_letter(letter["text"]))
    out: dict[str, list[Key]] = {"right": [], "wrong": [], "beyond": [], "missed": []}
    for key in {**marks, **found}:
        mark, form = marks.get(key), found.get(key)
        if mark == form:
            out["right"].append(key)
        elif form is None or ("unknown" in form and mark is not None):
            out["missed"].append(key)
        else:
            out["beyond" if mark is None else "wrong"].append(key)
    return out


def main(name: str) -> None:
    """Print the counts of a set, then by element."""
    total: Counter[str] = Counter()
    rows: dict[str, Counter[str]] = {}
    for letter in letters(name):
        for what, keys in compared(letter).items():
            total[what] += len(keys)
            for of, element in keys:
                rows.setdefault(element, Counter())[what] += 1
                if what in ("wrong", "beyond"):
                    print(what, letter["id"], of, element)
    print(dict(total))
    for element, counts in sorted(rows.items()):
        if counts["missed"] or counts["wrong"] or counts["beyond"]:
            print(f"{element:<36} {dict(counts)}")


if __name__ == "__main__":
    import sys

    main(sys.argv[1])
