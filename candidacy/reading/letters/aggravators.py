"""What makes the pain worse: postures behind "worse with", listed on over commas, or before "aggravates the pain"."""

from candidacy.reading.letters.meant import topic_is_back
from candidacy.reading.letters.parts import Part
from candidacy.reading.letters.segments import Segment, is_light
from candidacy.reading.letters.told import Said, Told, row_says

_JOINED = (",", "and", "or")
_WITH = ("with", "by", "on", "when", "w/")


def read_aggravators(text: str, rows: list[Segment], known: list[bool]) -> dict[int, Told]:
    """Say for each segment of a sentence that tells what makes the pain worse what it comes to."""
    out: dict[int, Told] = {}
    goes_on = False
    for n, row in enumerate(rows):
        parts = _heavy(row)
        lead = [p for p in parts if p.role("worse_with")]
        behind = [p for p in parts if p.role("worse_behind")]
        only = bool(parts) and all(p.role("postures") for p in parts)
        if not known[n]:
            goes_on = bool(lead) and _names_a_deed(row)
        elif len(lead) == 1 and not behind:
            goes_on = _is_whole(parts, lead)
            if goes_on:
                out[n] = _told(text, row, parts)
        elif only and goes_on and row.by in _JOINED:
            if not _begins_another(rows, known, n):
                out[n] = _told(text, row, parts)
        elif (
            len(behind) == 1
            and _is_whole(parts, behind)
            and (before := _listed_before(rows, known, n)) is not None
        ):
            out |= {m: _told(text, rows[m], _heavy(rows[m])) for m in [*before, n]}
            goes_on = True
        else:
            goes_on = False
    return out


def _heavy(row: Segment) -> list[Part]:
    return [p for p in row.parts if (not is_light(p) or p.role("postures")) and p.text.lower() not in _WITH]


def _names_a_deed(row: Segment) -> bool:
    """``aggravated by rowing``: a deed that no list holds, with the list going on behind it."""
    rest = [p for p in row.parts if not p.role("worse_with") and not is_light(p)]
    return len(rest) == 1 and not rest[0].roles and rest[0].text.lower().endswith("ing")


def _is_whole(parts: list[Part], sign: list[Part]) -> bool:
    """Say whether nothing stands beside the postures but the pain and the word that says what they do."""
    rest = [p for p in parts if p not in sign and not p.role("postures") and p.unit not in ("min", "hour")]
    held = any(p.role("postures") for p in parts)
    if rest and rest[-1].role("stated_behind"):  # "worse on sitting: yes"
        rest = rest[:-1]
    return held and all(p.role("back_pain") or p.role("labels") or p.role("state") for p in rest)


def _begins_another(rows: list[Segment], known: list[bool], n: int) -> bool:
    """Say whether a posture may be of the clause behind it: ``worse with walking, sitting or bending eases it``."""
    while n + 1 < len(rows) and rows[n + 1].by in _JOINED and rows[n + 1].has("postures"):
        n += 1
        if not known[n] or any(not p.role("postures") for p in _heavy(rows[n])):
            return True
    return False


def _listed_before(rows: list[Segment], known: list[bool], n: int) -> list[int] | None:
    """Give the segments of postures that stand listed before one, nothing where the list may be denied."""
    out: list[int] = []
    while rows[n].by in _JOINED and n:
        n -= 1
        parts = _heavy(rows[n])
        if rows[n].has("deny", "deny_all") or (not known[n] and rows[n].has("postures")):
            return None
        if not (known[n] and parts and all(p.role("postures") for p in parts)):
            break
        out.append(n)
    return out


def _told(text: str, row: Segment, parts: list[Part]) -> Told:
    if not topic_is_back(text, row.end):
        return Told(why="of which pain is not stated")
    said: tuple[Said, ...] = ()
    for p in parts:
        role = p.role("postures")
        if role is not None:
            said += row_says(role.value["says"])
    return Told(said) if said else Told(why="no element of the record holds it")
