"""The words in which a reading is told, whatever it is shown on."""

from collections.abc import Iterable

from candidacy.reading.model import (
    ABSENT,
    BODY,
    PARTLY,
    POSSIBLE,
    PRESENT,
    UNREAD,
    Finding,
    Mark,
    Outside,
    Question,
    Reading,
    RedFlag,
    Value,
)
from candidacy.reading.questions import WHICH_DISC

KIND_WORDS = {
    "displacement": "disc displacement",
    "displacement_size": "size, mm",
    "displacement_site": "site",
    "displacement_containment": "containment",
    "displacement_migrated": "migration",
    "desiccation": "desiccation",
    "height_loss": "height loss",
    "disc_height_loss": "height loss, %",
    "annular_fissure": "annular fissure",
    "high_intensity_zone": "high-intensity zone",
    "endplate_change": "endplate change (Modic type)",
    "endplate_defect": "endplate defect",
    "canal_stenosis": "canal stenosis",
    "foraminal_stenosis": "foraminal stenosis",
    "recess_stenosis": "lateral recess stenosis",
    "neural_compression": "nerve root or sac",
    "facet_arthropathy": "facet arthropathy",
    "listhesis": "slip",
    "slip_mm": "slip, mm",
    "slip_percent": "slip, %",
    "meyerding_grade": "Meyerding grade",
    "pfirrmann_grade": "Pfirrmann grade (I-V)",
    "modified_pfirrmann_grade": "modified Pfirrmann (1-8)",
    "schizas_grade": "Schizas grade",
    "lee_central_grade": "Lee central grade",
    "lee_foraminal_grade": "Lee foraminal grade",
    "weishaupt_grade": "Weishaupt grade",
    "fujiwara_grade": "Fujiwara grade",
    "pathria_grade": "Pathria grade",
    "castellvi_type": "Castellvi type",
    "pars_defect": "pars defect",
    "vacuum_sign": "vacuum sign",
    "prior_surgery": "earlier surgery",
    "implant": "implant",
    "tumour": "tumour, mass or lesion",
    "mass_elsewhere": "mass outside the spine",
    "aortic_aneurysm": "aneurysm of the aorta",
    "sacroiliac_change": "sacroiliac joint change",
    "cauda_equina_compression": "cauda equina compression",
    "infection": "sign of infection",
    "fracture": "fracture",
    "transitional": "transitional vertebra",
    "normal_study": "study called normal",
    "lumbar_vertebra_count": "lumbar-type vertebrae",
    "field_strength": "field strength, T",
    "imaging_modality": "modality",
    "translation_on_flexion_extension": "translation on flexion-extension, mm",
    "angulation_on_flexion_extension": "angulation on flexion-extension, degrees",
}
STATUS_WORDS = {
    "present": "",
    "absent": "denied",
    "possible": "possible",
    "historical": "in the past",
    "resolved": "resolved",
    "other_person": "another person",
    "hypothetical": "only supposed",
}
_UNSTATED = {"unstated": "direction not stated", "herniation": "herniation, type not stated", "present": ""}
CAUTION = (
    "Read by program from the words of the report; compare with the report before use. "
    "Not a diagnosis. What is not listed is not stated, which is not the same as absent."
)


def mark_words(mark: Mark) -> str:
    """Say a mark with what to do about it."""
    refused = "refused: " if mark.refuses else ""
    return f"{refused}{mark.about}{f' ({mark.next_step})' if mark.next_step else ''}"


def kind_words(kind: str) -> str:
    """Name a kind of finding in a few plain words."""
    return KIND_WORDS.get(kind, kind.replace("_", " "))


def value_words(f: Finding) -> str:
    """Give a finding's value with its status in words; nothing depends on colour or place."""
    status = STATUS_WORDS[f.status]
    value = _plain(f.value)
    if f.value in ("none", "absent"):
        value, status = ("none", "") if f.status == ABSENT else ("none", status)
    elif f.value == "present" and f.status in (PRESENT, ABSENT):
        value = (
            "present, severity not stated"
            if f.kind.endswith("stenosis") or f.kind == "height_loss"
            else "present"
        )
        if f.status == ABSENT:
            value = ""
    side = " and ".join(f.sides)
    return ", ".join(w for w in (value, side, status, elsewhere(f)) if w) or "present"


def elsewhere(f: Finding) -> str:
    """Say under which section a finding stands, where that is none that tells of this study's images."""
    return f"under {f.section}" if f.section and f.section not in BODY else ""


def meant(f: Finding) -> str:
    """Say how a red flag is meant; nothing where it is plainly there."""
    return ", ".join(w for w in (STATUS_WORDS[f.status], elsewhere(f)) if w)


def _plain(value: Value) -> str:
    if isinstance(value, tuple):
        return " or ".join(str(v) for v in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    text = _UNSTATED.get(str(value), str(value))
    return text.replace("_", " ") or "present"


OUTSIDE = "Seen, outside the discs: tell someone"
_FEW = 6


def first_few(rows: Iterable[str]) -> list[str]:
    """Give a few rows, and how many more there are."""
    all_rows = list(rows)
    more = [f"and {len(all_rows) - _FEW} more"] if len(all_rows) > _FEW else []
    return [*all_rows[:_FEW], *more]


def outside_words(o: Outside) -> str:
    """Say what was seen outside the discs, and how it is meant."""
    status = "doubtful" if o.status == POSSIBLE else STATUS_WORDS[o.status]
    told = f"{o.organ}: {o.about}" + (f" ({status})" if status else "")
    return f"{told}; may be a sign of: {o.danger}" if o.danger else told


def question_words(q: Question) -> str:
    """Say where a question belongs and what it asks."""
    where = q.disc or ("whole report" if not q.kind or q.about != WHICH_DISC else "no disc named")
    return f"{where}, {kind_words(q.kind)}: {q.about}" if q.kind else f"{where}: {q.about}"


def exam_date_words(reading: Reading) -> str:
    """Give the day of the study that the report states, with its words; nothing where it states none."""
    if reading.exam_date is None:
        return ""
    words = " ".join(reading.words(reading.exam_date.span).split())
    return f'{reading.exam_date.day} "{words}"'


def unread_words(reading: Reading) -> str:
    """Say how many sentences were not read, and how many not wholly."""
    of = [a for a in reading.ledger if a.statement >= 0]
    whole, part = (sum(a.state == state for a in of) for state in (UNREAD, PARTLY))
    return f"{whole} of {len(of)} sentences, and {part} in part ({reading.share_unread:.0%} together)"


def distinct_flags(reading: Reading) -> list[RedFlag]:
    """Leave out a red flag that only says again in the same words what another says."""
    seen: dict[tuple[str, str, str, str], RedFlag] = {}
    for r in reading.red_flags:
        words = " ".join(reading.words(r.finding.quoted).lower().split())
        seen.setdefault((r.about, r.finding.disc, meant(r.finding), words), r)
    return list(seen.values())
