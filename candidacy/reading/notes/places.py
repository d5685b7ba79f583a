"""Which part of a clause speaks of which discs; left open where the clause does not tell."""

from candidacy.reading.notes.quantities import Part
from candidacy.reading.notes.stretch import EVERY
from candidacy.reading.notes.vocabulary import words_for

_PAUSES = frozenset((",", ";", ":"))


def stretches(parts: list[Part], discs: tuple[str, ...]) -> list[tuple[list[Part], tuple[str, ...]]] | None:
    """Cut a clause at the discs it names; ``None`` where it is open which value belongs to which disc."""
    groups = _groups(parts)
    if any(p.is_("respectively") for p in parts):
        return _in_turn(parts, groups)
    if any(p.is_("all_discs") for p in parts):
        return [(_without(parts, groups), (EVERY,))] if not groups else None
    if not groups:
        return [(parts, discs)]
    joined = [p for a, b, _ in groups for p in parts[a:b] if p.item.text.lower() in words_for("either")]
    if joined and not any(p.is_("negations") for p in parts[: groups[0][0]]):
        return None
    if len(groups) == 1 and not _follows_its_value(parts, groups[0][0]):
        return None
    if len(groups) == 1:
        return [(_without(parts, groups), groups[0][2])]
    first = next((i for i, p in enumerate(parts) if _heavy(p)), len(parts))
    starts = [g[0] for g in groups]
    if first > groups[0][0]:  # discs first, each with what follows it
        ends = [*starts[1:], len(parts)]
        rows = [(parts[g[1] : e], g[2]) for g, e in zip(groups, ends, strict=True)]
        if not any(_heavy(p) for p in rows[-1][0]):
            return None  # the last disc may belong to what was said before it
        return rows
    lead = parts[: groups[0][0]]
    if [p for p in lead if p.low is not None or p.is_("say")]:  # values first, each with the disc behind it
        begins = [0, *(g[1] for g in groups[:-1])]
        tail = parts[groups[-1][1] :]
        if any(_heavy(p) for p in tail):
            return None
        head = next((p for p in lead if p.is_("label") and not p.is_("say")), None)
        rows = []
        for number, (b, g) in enumerate(zip(begins, groups, strict=True)):
            row = parts[b : g[0]]
            if row and row[-1].item.text in _PAUSES:
                return None  # "no pain at L3-4, L4-5 exact pain, L5-S1 similar"
            while row and row[0].item.text.lower() in words_for("next_value"):
                row = row[1:]
            if row and (row[0].item.text == "(" or row[-1].item.text.lower() in words_for("adds")):
                return None  # "pain at L4-5 (9/10) and L5-S1 (7/10), none at L3-4": a value behind its disc
            if number and head is not None and not any(p.is_("label") and not p.is_filler() for p in row):
                row = [_again(head), *row]
            rows.append((row, g[2]))
        return rows
    labels = [p for p in lead if p.is_("label") and not p.is_filler()] or [p for p in lead if p.is_("label")]
    if len(labels) != 1 or any(p.is_("negations") for p in lead):
        return None
    ends = [*starts[1:], len(parts)]
    colon = [_again(p) for p in lead if p.item.text in (":", "=")][:1]  # it makes answers of what follows
    return [([_again(labels[0]), *colon, *parts[g[1] : e]], g[2]) for g, e in zip(groups, ends, strict=True)]


def _follows_its_value(parts: list[Part], at: int) -> bool:
    """A disc behind a value belongs to it only where a word such as "at" says so."""
    lead = parts[:at]
    if not any(p.low is not None or _of_a_disc(p) for p in lead):
        return True
    if not any(p.low is not None or (_of_a_disc(p) and not _is_role(p)) for p in lead):
        return lead[-1].low is None and (_is_role(lead[-1]) or lead[-1].is_filler())  # "Control L3-4: ..."
    return lead[-1].low is None and lead[-1].item.text.split()[-1].lower() in words_for("placing")


def _of_a_disc(part: Part) -> bool:
    said = part.item.roles_of("say")
    return any(element.startswith("discography_") for r in said for element in r.value["is"])


def _is_role(part: Part) -> bool:
    return any("discography_role" in r.value["is"] for r in part.item.roles_of("say"))


def _again(part: Part) -> Part:
    return Part(part.item, part.item.end)


def _heavy(part: Part) -> bool:
    if part.low is not None or part.is_("say"):
        return True
    return (
        part.is_("label")
        and not part.is_filler()
        and any(r.value not in ("levels", "unheld") for r in part.item.roles_of("label"))
    )


def _groups(parts: list[Part]) -> list[tuple[int, int, tuple[str, ...]]]:
    """Discs named together, as (first part, part after the last, discs)."""
    out: list[tuple[int, int, tuple[str, ...]]] = []
    for i, part in enumerate(parts):
        if not part.is_("discs"):
            continue
        discs = part.item.role("discs").value  # type: ignore[union-attr]
        gap = [p.item.text.lower() for p in parts[out[-1][1] : i]] if out else ["?"]
        if out and gap and all(w in words_for("joined") for w in gap):
            out[-1] = (out[-1][0], i + 1, (*out[-1][2], *discs))
        else:
            out.append((i, i + 1, discs))
    return out


def _without(parts: list[Part], groups: list[tuple[int, int, tuple[str, ...]]]) -> list[Part]:
    """The parts without the names of discs; these are fillers from here on."""
    inside = {i for g in groups for i in range(g[0], g[1])}
    for i, part in enumerate(parts):
        if i in inside or part.is_("all_discs"):
            part.used = True
    return [p for p in parts if not p.used]


def _in_turn(
    parts: list[Part], groups: list[tuple[int, int, tuple[str, ...]]]
) -> list[tuple[list[Part], tuple[str, ...]]] | None:
    """``at L2-3 and L3-4 were 25 and 27 psi respectively``: as many values as discs, in their order."""
    if len(groups) != 1:
        return None
    discs = groups[0][2]
    numbers = [p for p in parts if p.low is not None]
    labels = [p for p in parts if p.is_("label") and not p.is_filler()]
    says = [p for p in parts if p.is_("say")]
    clear = not any(p.is_(n) for p in parts for n in ("negations", "hedges", "bounds"))
    if not clear or len(discs) < 2:
        return None
    if len(numbers) == len(discs) and not says and len(labels) == 1:
        unit = numbers[-1].unit
        if any(p.unit not in ("", unit) for p in numbers):
            return None
        for p in numbers:
            p.unit = unit
        return [([_again(labels[0]), p], (d,)) for p, d in zip(numbers, discs, strict=True)]
    if len(says) == len(discs) and not numbers:
        return [([p], (d,)) for p, d in zip(says, discs, strict=True)]
    return None if says else _lists_in_turn(parts, groups[0][1], discs)


def _lists_in_turn(
    parts: list[Part], start: int, discs: tuple[str, ...]
) -> list[tuple[list[Part], tuple[str, ...]]] | None:
    """``opening 12 and 16 psi, pain at 24 and 50 psi``: one list for each label, each with a value for every disc."""
    lists: list[list[Part]] = [[]]
    for p in parts[start:]:
        if p.item.text in (",", ";") and any(x.low is not None for x in lists[-1]):
            lists.append([])
        elif not p.is_("respectively"):
            lists[-1].append(p)
    rows: list[tuple[list[Part], tuple[str, ...]]] = []
    for some in lists:
        numbers = [p for p in some if p.low is not None]
        if not numbers and all(p.is_filler() for p in some):
            continue
        first = some.index(numbers[0]) if numbers else 0
        lead, rest = some[:first], [p for p in some[first:] if p.low is None]
        labels = [p for p in lead if p.is_("label")]
        plain = all(p.is_("label") or p.is_filler() for p in lead)
        joined = all(p.item.text.lower() in words_for("joined") or p.is_filler() for p in rest)
        units = {p.unit for p in numbers} - {""}
        if len(numbers) != len(discs) or len(labels) != 1 or not plain or not joined or len(units) > 1:
            return None
        for p, d in zip(numbers, discs, strict=True):
            p.unit = next(iter(units), "")
            rows.append(([*map(_again, lead), p], (d,)))
    return rows or None
