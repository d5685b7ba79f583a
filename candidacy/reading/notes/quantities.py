"""Numbers of a clause with all that belongs to them: range, bound, unit, "of 10", "above opening"."""

from dataclasses import dataclass

from candidacy.reading.notes.vocabulary import PRESSURE_UNITS, Item, words_for

ROMAN = {"i": 1.0, "ii": 2.0, "iii": 3.0, "iv": 4.0, "v": 5.0}
_DASHES = ("-", "–", "—")


@dataclass(slots=True)
class Part:
    """One part of a clause: an item, or a number with what belongs to it. ``used`` once something rests on it."""

    item: Item
    end: int
    low: float | None = None
    high: float | None = None
    unit: str = ""
    bound: str = ""
    about: bool = False
    above: bool = False
    used: bool = False

    @property
    def start(self) -> int:
        """Where it begins in the text."""
        return self.item.start

    def is_filler(self) -> bool:
        """Say whether it may stand between a label and its value."""
        return self.low is None and any(
            self.item.role(n) for n in ("fillers", "at", "reach", "about", "ignore")
        )

    def is_(self, name: str) -> bool:
        """Say whether it is of a class, and no number."""
        return self.low is None and self.item.role(name) is not None


def parts_of(row: list[Item]) -> list[Part]:
    """Join the items of a clause to parts."""
    out: list[Part] = []
    at = 0
    while at < len(row):
        item = row[at]
        number = item.role("number")
        if number is None:
            out.append(Part(item, item.end))
            at += 1
            continue
        part = Part(item, item.end, number.value, number.value)
        at = _more(part, row, at + 1)
        _lead(part, out)
        out.append(part)
    return out


def _text(row: list[Item], at: int) -> str:
    return row[at].text.lower() if at < len(row) else ""


def _number(row: list[Item], at: int) -> float | None:
    role = row[at].role("number") if at < len(row) else None
    return role.value if role is not None else None


def _more(part: Part, row: list[Item], at: int) -> int:
    """Take what follows a number, and give the position after it."""
    first = _unit(part, row, at)
    spoken = _text(row, first) in words_for("to")
    if (spoken or _text(row, first) in _DASHES) and (second := _number(row, first + 1)) is not None:
        other = Part(row[first + 1], row[first + 1].end, second, second)
        after = _unit(other, row, first + 2)
        joined = not spoken or (other.unit and part.unit in ("", other.unit))
        if part.unit in ("", other.unit) and other.unit and joined:
            if part.low is not None and second >= part.low:
                part.high, part.unit, part.end, first = second, other.unit, other.end, after
        elif not part.unit and not other.unit and joined and second >= (part.low or 0):
            part.high, part.end, first = second, other.end, after
    if part.unit in PRESSURE_UNITS:
        look = first + (_text(row, first) == "(")
        if look < len(row) and row[look].role("above"):
            part.above, part.end, first = True, row[look].end, look + 1
    return first


def _unit(part: Part, row: list[Item], at: int) -> int:
    """Take "/10", "out of 10" or a unit, with a hyphen before it ("25-gauge")."""
    if at < len(row) and row[at].role("out_of"):
        part.unit, part.end = "score", row[at].end
        return at + 1
    if _text(row, at) == "/" and (whole := _number(row, at + 1)) is not None:
        part.unit, part.end = ("score" if whole == 10 else "other"), row[at + 1].end
        return at + 2
    look = at + (_text(row, at) == "-")
    role = row[look].role("units") if look < len(row) else None
    if role is not None:
        part.unit, part.end = role.value, row[look].end
        return look + 1
    return at


def _lead(part: Part, before: list[Part]) -> None:
    """Take the words before a number that say it is a bound or no exact one."""
    while before and before[-1].low is None and not before[-1].used:
        item = before[-1].item
        bound = item.role("bounds")
        if bound is not None:
            part.bound = bound.value
        elif item.role("about"):
            part.about = True
        else:
            return
        before[-1].used = True
        if not item.role("fillers"):
            part.item = Item(item.start, part.item.end, item.text, part.item.roles)
        before.pop()
