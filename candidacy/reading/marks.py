"""A reading in the form of the marked report sets: one value per field, disc by disc.

The fields and how they are chosen follow the marking guide that accompanies the sets.
"""

from collections.abc import Iterable, Sequence

from candidacy.reading.model import ABSENT, BODY, POSSIBLE, PRESENT, Finding, Reading

DISC_FIELDS = (
    "displacement",
    "desiccation",
    "height_loss",
    "annular_fissure",
    "endplate_change",
    "canal_stenosis",
    "neural_compression",
    "listhesis",
)
_RANK = {
    "none": 0,
    "bulge": 1,
    "herniation_unspecified": 2,
    "protrusion": 3,
    "extrusion": 4,
    "sequestration": 5,
}
_SEVERITY = {"none": 0, "present_ungraded": 1, "mild": 2, "moderate": 3, "severe": 4}
_MODIC = {"1": "modic1", "2": "modic2", "3": "modic3", "1-2": "modic1", "2-1": "modic2", "2-3": "modic2"}
_GRADE = {"I": "grade1", "II": "grade2", "III": "grade3", "IV": "grade4"}
_USED = frozenset(BODY)
_OPEN = ("unplaced", "under_heading")


def marks(reading: Reading) -> dict[str, dict[str, object]]:
    """Give ``{"discs": {disc: {field: value}}, "whole_report": {field: value}}`` with unstated fields left out."""
    used = [f for f in reading.findings if f.section in _USED and f.status in (PRESENT, ABSENT, POSSIBLE)]
    discs: dict[str, object] = {}
    for disc in reading.discs_named:
        fields = _disc([f for f in used if f.disc == disc])
        if fields:
            discs[disc] = fields
    return {"discs": discs, "whole_report": _whole(reading)}


def _of(rows: Iterable[Finding], *kinds: str) -> list[Finding]:
    return [f for f in rows if f.kind in kinds]


def _disc(rows: Sequence[Finding]) -> dict[str, str]:
    out: dict[str, str] = {}
    _displacement(_of(rows, "displacement"), out)
    for field, kinds in (
        ("desiccation", ("desiccation",)),
        ("annular_fissure", ("annular_fissure", "high_intensity_zone")),
    ):
        _yes_no(field, _of(rows, *kinds), out)
    _graded("height_loss", _of(rows, "height_loss"), out, possible=False)
    height = [f for f in _of(rows, "disc_height_loss") if f.status == PRESENT]
    if height and out.get("height_loss", "none") == "none":
        out["height_loss"] = "present_ungraded"
    _endplate(_of(rows, "endplate_change"), out)
    _graded("canal_stenosis", _of(rows, "canal_stenosis"), out, possible=True)
    _yes_no("neural_compression", _of(rows, "neural_compression"), out)
    _listhesis(rows, out)
    return out


def _displacement(rows: Sequence[Finding], out: dict[str, str]) -> None:
    best = None
    for f in rows:
        if f.status == ABSENT:
            continue
        name = "herniation_unspecified" if f.value == "herniation" else str(f.value)
        key = (_RANK[name], f.status == PRESENT)
        if best is None or key > best[0]:
            best = (key, name, f.status)
    if best is not None and best[1] != "none":
        out["displacement"] = best[1]
        out["displacement_certainty"] = "stated" if best[2] == PRESENT else "possible"
    elif any(f.value == "none" for f in rows) or _free_of_both({str(f.value) for f in rows}):
        out["displacement"] = "none"
        out["displacement_certainty"] = "stated"


def _free_of_both(denied: set[str]) -> bool:
    """Without a bulge and without a herniation; a denial of one leaves the other open."""
    return "bulge" in denied and len(denied) > 1


def _yes_no(field: str, rows: Sequence[Finding], out: dict[str, str]) -> None:
    statuses = {ABSENT if f.value == "absent" else f.status for f in rows}
    for status in (PRESENT, POSSIBLE, ABSENT):
        if status in statuses:
            out[field] = status
            return


def _graded(field: str, rows: Sequence[Finding], out: dict[str, str], *, possible: bool) -> None:
    best = ""
    for f in rows:
        if f.status == PRESENT:
            value = f.severity[-1] if f.severity else "present_ungraded"
            if f.value == "severe":
                value = "severe"
        elif f.status == ABSENT:
            value = "none"
        else:
            continue
        if not best or _SEVERITY[value] > _SEVERITY[best]:
            best = value
    if possible and best in ("", "none") and any(f.status == POSSIBLE for f in rows):
        best = "possible"
    if best:
        out[field] = best


def _endplate(rows: Sequence[Finding], out: dict[str, str]) -> None:
    present = [f for f in rows if f.status == PRESENT and f.value != "absent"]
    typed = [f for f in present if f.value in _MODIC]
    if typed:
        out["endplate_change"] = _MODIC[str(typed[0].value)]
    elif present:
        out["endplate_change"] = "present_untyped"
    elif any(f.status == POSSIBLE for f in rows):
        out["endplate_change"] = "possible"
    elif rows:
        out["endplate_change"] = "absent"


def _listhesis(rows: Sequence[Finding], out: dict[str, str]) -> None:
    present = [f for f in _of(rows, "listhesis") if f.status == PRESENT]
    grades = [f for f in _of(rows, "meyerding_grade") if f.status == PRESENT]
    if grades:
        value = grades[0].value if isinstance(grades[0].value, str) else grades[0].value[0]  # type: ignore[index]
        out["listhesis"] = _GRADE.get(str(value), "present_ungraded")
    elif present:
        out["listhesis"] = "present_ungraded"
    elif any(f.status == ABSENT for f in _of(rows, "listhesis")):
        out["listhesis"] = "none"


_WHOLE_KINDS = {
    "infection_sign": ("infection",),
    "fracture": ("fracture",),
    "tumour_or_mass": ("tumour",),
    "transitional_vertebra": ("transitional",),
    "prior_surgery": ("prior_surgery", "implant"),
}


def _whole(reading: Reading) -> dict[str, object]:
    out: dict[str, object] = {}
    rows = [f for f in reading.findings if f.section in _USED]
    blanket = [f for f in rows if not f.disc and f.placed in _OPEN and f.status == ABSENT]
    for f in blanket:
        if f.kind == "displacement" and f.value == "bulge":
            out["bulge_denied"] = PRESENT
        elif f.kind == "displacement" and f.value != "none":
            out["herniation_denied"] = PRESENT
        elif f.kind == "neural_compression" and not f.rule.startswith(
            "foramen_"
        ):  # sac and root, by the guide
            out["neural_compression_denied"] = PRESENT
        elif f.kind == "canal_stenosis":
            out["canal_stenosis_denied"] = PRESENT
    for field, kinds in _WHOLE_KINDS.items():
        wanted = reading.findings if field == "prior_surgery" else rows
        statuses = {f.status for f in wanted if f.kind in kinds}
        for status in (PRESENT, POSSIBLE, ABSENT):
            if status in statuses:
                out[field] = status
                break
    six = [f for f in reading.findings if f.kind == "lumbar_vertebra_count" and f.value == 6]
    if any(f.status == PRESENT for f in six):
        out["transitional_vertebra"] = PRESENT
    if any(f.kind == "normal_study" and f.status == PRESENT for f in rows):
        out["normal_study"] = PRESENT
    return out
