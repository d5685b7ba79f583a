"""Writes the invented year of a clinic, ``demo_cases/clinic_year``: run once, kept so that anybody can see how it was made.

    python -m tests.demo.clinic_year demo_cases/clinic_year

Nothing in it is of a real person: every value is drawn from a fixed seed, and the rates are of no product.
"""

import random
import sys
from datetime import date, timedelta
from pathlib import Path

import yaml

from candidacy.assessment.assess import Assessor
from candidacy.case.load import parse_case
from candidacy.foundation.dates import add
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set

SEED = 20250106
PATIENTS = 60
TODAY = date(2026, 11, 30)
HEAD = "# Invented year of a clinic: describes no real person; the rates in it are of no product.\n"
_VISITS = {"call": (1, "day"), "weeks_2": (2, "week"), "months_1": (1, "month"), "months_3": (3, "month"), "months_6": (6, "month"), "months_12": (12, "month")}  # fmt: skip
_KEPT = ("birth_date", "sex", "pregnancy_status", "pregnancy_possible", "breastfeeding", "body_height", "body_weight",
         "smoking_status", "pain_duration", "back_pain_nrs_average", "odi_percent", "discs_under_consideration",
         "conservative_care_last_date", "lumbar_mri_date", "planned_procedure_date", "modified_pfirrmann_grade", "modic_type",
         "disc_height_loss", "displacement", "displacement_size", "c_reactive_protein", "leg_pain_radicular")  # fmt: skip


class _Dumper(yaml.SafeDumper):
    def ignore_aliases(self, data: object) -> bool:
        return True


def _flow(dumper: yaml.SafeDumper, data: dict[str, object]) -> yaml.Node:
    small = len(data) <= 9 and all(not isinstance(v, dict) for v in data.values()) and not any(
        isinstance(v, list) and v and isinstance(v[0], dict) for v in data.values()
    )  # fmt: skip
    return dumper.represent_mapping("tag:yaml.org,2002:map", data.items(), flow_style=small)


_Dumper.add_representer(dict, _flow)


def _text(data: dict[str, object]) -> str:
    return HEAD + yaml.dump(data, Dumper=_Dumper, sort_keys=False, width=400, allow_unicode=True)


def make(folder: Path) -> None:
    """Write the year and, beside it, a few records with mistakes."""
    dice = random.Random(SEED)
    template = yaml.safe_load((demo_cases_folder() / "one-disc-candidate.yaml").read_text(encoding="utf-8"))
    rule_set = load_rule_set("practice_baseline")
    assessor = Assessor(rule_set)
    _leave_out(template, assessor)
    folder.mkdir(parents=True, exist_ok=True)
    first = date(2025, 1, 8)
    for number in range(1, PATIENTS + 1):
        injected = first + timedelta(days=round((number - 1) * 5.8) + dice.randrange(3))
        injected -= timedelta(days=max(0, injected.weekday() - 4))
        name = f"CY-{number:03d}"
        traits = _traits(dice, number)
        case = _case(template, name, injected, traits)
        assessed_on = injected - timedelta(days=14)
        standing = assessor.assess(parse_case(_text(case)), assessed_on).standing
        assessed = {"on": assessed_on.isoformat(), "rule_set": rule_set.id, "version": rule_set.file.version,
                    "standing": standing}  # fmt: skip
        course = _course(dice, name, injected, traits, assessed)
        (folder / f"{name}.yaml").write_text(_text(case), encoding="utf-8")
        (folder / f"{name}.course.yaml").write_text(_text(course), encoding="utf-8")
    _mistakes(folder)


def _leave_out(template: dict[str, object], assessor: Assessor) -> None:
    """Take the control discs out, and every fact that no deciding criterion needs, so that files stay small."""
    for level in ("L3-L4", "L5-S1"):
        del template["discs"][level]  # type: ignore[attr-defined]
    patient, disc = template["patient"], template["discs"]["L4-L5"]  # type: ignore[index]
    for table in (patient, disc):
        for element in [name for name in table if name.startswith(("discography", "anaesthetic"))]:
            del table[element]
    patient["discography_done"] = {"value": False, "source": "clinic"}
    disc["anaesthetic_test_done"] = {"value": False, "source": "clinic"}

    def open_now() -> set[tuple[str, str]]:
        found = assessor.assess(parse_case(_text(template)), date(2026, 11, 25))
        return {
            (r.id, r.outcome) for r in found.results if r.resolved.force != "advisory" and r.outcome != "pass"
        } | {("standing", found.standing)}

    before = open_now()
    for table in (patient, disc):
        for element in [name for name in table if name not in _KEPT]:
            fact = table.pop(element)
            if open_now() == before:
                continue
            table[element] = fact["value"] if set(fact) == {"value", "source"} else fact
            if open_now() != before:  # what must be of the present needs a source with a day
                table[element] = fact
    assert before == {("standing", "candidate")}, before


def _traits(dice: random.Random, number: int) -> dict[str, object]:
    heavy, older = number % 6 == 0, number % 11 == 5
    traits: dict[str, object] = {
        "age": dice.randrange(66, 72) if older else dice.randrange(26, 62),
        "sex": dice.choice(("female", "male")),
        "height": dice.randrange(158, 190),
        "bmi": dice.uniform(35.4, 39.5) if heavy else dice.uniform(20.5, 33.8),
        "smoking": dice.choice(("never", "never", "former", "current")),
        "pain": dice.choice((5, 6, 6, 7, 7, 7, 8, 8, 9)),
        "odi": dice.randrange(16, 31) * 2,
        "months": dice.randrange(8, 90),
        "discs": ("L4-L5", "L5-S1")
        if number % 7 == 3
        else (dice.choice(("L4-L5", "L5-S1", "L5-S1", "L3-L4")),),
        "unknown": ("leg_pain_radicular", "c_reactive_protein")[number % 2] if number % 9 == 4 else "",
    }
    good = 0.52 - (0.14 if heavy else 0) - (0.1 if older else 0)
    traits["course"] = dice.choices(("good", "some", "none"), (good, 0.27, 0.73 - good))[0]
    return traits


def _case(
    template: dict[str, object], name: str, injected: date, traits: dict[str, object]
) -> dict[str, object]:
    shift = injected - timedelta(days=28)
    day = shift.isoformat()
    documents = {
        "letter": {"kind": "referral_letter", "date": (shift - timedelta(days=25)).isoformat()},
        "mri": {"kind": "imaging_report", "date": (shift - timedelta(days=40)).isoformat()},
        "chart": {"kind": "clinic_note", "date": day},
        "forms": {"kind": "questionnaire", "date": day},
    }
    moved = {"letter": "letter", "mri": "mri", "forms": "forms"}
    patient: dict[str, object] = {}
    for element, fact in template["patient"].items():  # type: ignore[attr-defined]
        patient[element] = (
            {**fact, "source": moved.get(fact["source"], "chart")} if isinstance(fact, dict) else fact
        )
    height, age = int(traits["height"]), int(traits["age"])  # type: ignore[call-overload]
    patient["birth_date"]["value"] = (injected - timedelta(days=age * 365 + 200)).isoformat()  # type: ignore[index]
    patient["sex"]["value"] = traits["sex"]  # type: ignore[index]
    if traits["sex"] == "male":
        for element in ("pregnancy_status", "pregnancy_possible", "breastfeeding"):
            del patient[element]
    patient["body_height"]["value"] = height  # type: ignore[index]
    patient["body_weight"]["value"] = round(float(traits["bmi"]) * (height / 100) ** 2, 1)  # type: ignore[index, arg-type]
    patient["smoking_status"]["value"] = traits["smoking"]  # type: ignore[index]
    if traits["smoking"] == "current":
        patient["cigarettes_per_day"] = {"value": 6, "source": "chart"}
    patient["pain_duration"]["value"] = traits["months"]  # type: ignore[index]
    patient["back_pain_nrs_average"]["value"] = traits["pain"]  # type: ignore[index]
    patient["odi_percent"]["value"] = traits["odi"]  # type: ignore[index]
    patient["discs_under_consideration"]["value"] = list(traits["discs"])  # type: ignore[index, call-overload]
    patient["conservative_care_last_date"]["value"] = (shift - timedelta(days=30)).isoformat()  # type: ignore[index]
    patient["lumbar_mri_date"]["value"] = documents["mri"]["date"]  # type: ignore[index]
    patient["planned_procedure_date"]["value"] = injected.isoformat()  # type: ignore[index]
    if traits["unknown"]:
        patient[str(traits["unknown"])] = {"unknown": "not_asked", "source": "chart"}
    seen = random.Random(f"{SEED} {name}")
    template["discs"]["L4-L5"]["modified_pfirrmann_grade"]["value"] = seen.choice((4, 5, 5, 6, 6, 7))  # type: ignore[index]
    template["discs"]["L4-L5"]["disc_height_loss"]["value"] = seen.choice((5, 10, 15, 20, 30, 35, 40))  # type: ignore[index]
    template["discs"]["L4-L5"]["displacement_size"]["value"] = seen.choice((2, 2, 3, 4))  # type: ignore[index]
    patient["compensation_claim"] = {"value": seen.random() < 0.15, "source": "forms"}
    patient["litigation"] = {"value": False, "source": "forms"}
    disc = {
        element: {**fact, "source": moved.get(fact["source"], "chart")} if isinstance(fact, dict) else fact
        for element, fact in template["discs"]["L4-L5"].items()  # type: ignore[index]
    }
    lists = {name: _moved(template[name], moved) for name in ("medicines", "treatments", "injections", "surgeries",
                                                              "intradiscal_procedures")}  # fmt: skip
    return {
        "schema_version": "1", "id": name, "invented": True, "documents": documents, "patient": patient,
        "discs": dict.fromkeys(traits["discs"], disc), **lists,  # type: ignore[attr-defined]
    }  # fmt: skip


def _moved(listed: object, moved: dict[str, str]) -> object:
    """A list whose facts come from the documents that there are."""
    return {
        "complete": listed["complete"],  # type: ignore[index]
        "entries": [
            {name: {**fact, "source": moved.get(fact["source"], "chart")} for name, fact in entry.items()}
            for entry in listed["entries"]  # type: ignore[index]
        ],
    }


def _course(
    dice: random.Random, name: str, injected: date, traits: dict[str, object], assessed: dict[str, str]
) -> dict[str, object]:
    number = int(name[-3:])
    day = injected.isoformat()
    discs = []
    for level in traits["discs"]:  # type: ignore[attr-defined]
        discs.append({
            "level": level, "material": "donated disc tissue", "units": [{"code": f"INV-{number:03d}-{level[1]}", "lot": "invented"}],
            "volume": {"value": round(dice.uniform(0.8, 1.8), 1), "unit": "mL"},
            "peak_pressure": {"value": dice.randrange(35, 75), "unit": "psi"}, "contrast_in_injectate": False,
            "ended_because": "volume_given",
        })  # fmt: skip
    session: dict[str, object] = {"id": 1, "date": day, "discs": discs, "assessed": assessed}
    if assessed["standing"] != "candidate":
        because = "physician" if assessed["standing"] == "incomplete" else "conference"
        session["went_on"] = {"because": because, "reason": "invented: weighed at the conference" if because == "conference"
                              else "invented: the missing fact was asked on the day"}  # fmt: skip
    visits = [{"date": (injected - timedelta(days=14)).isoformat(), "kind": "baseline", "seen": "form",
               "answers": _answers(dice, traits, 0)}]  # fmt: skip
    lost_after = {7: 40, 16: 100, 23: 120, 31: 200, 38: 30, 44: 190, 52: 100}.get(number)
    died_on = injected + timedelta(days=230) if number == 19 else None
    record: dict[str, object] = {
        "schema_version": "1",
        "case": name,
        "invented": True,
        "injections": [session],
    }
    overdue = number in (27, 40, 49)
    for place, (visit, (amount, unit)) in enumerate(_VISITS.items()):
        due = add(injected, amount, unit)
        if visit == "call":
            visits.append({"date": due.isoformat(), "kind": "planned", "of": visit, "seen": "telephone",
                           "answers": {"pain_now": dice.randrange(3, 9)}})  # fmt: skip
            continue
        when = due + timedelta(days=dice.randrange(-3, 4 if unit == "week" else 8 if amount < 6 else 22))
        if number in (12, 33) and visit == "months_6":
            when = due + timedelta(days=52)  # outside its window
        if (
            when > TODAY
            or (lost_after and (when - injected).days > lost_after)
            or (died_on and when >= died_on)
        ):
            continue
        if overdue and visit in ("months_6", "months_12"):
            continue
        if dice.random() < 0.06:
            continue
        visits.append({"date": when.isoformat(), "kind": "planned", "of": visit,
                       "seen": "telephone" if visit == "weeks_2" else "clinic",
                       "answers": _answers(dice, traits, place)})  # fmt: skip
    if number in (9, 21, 35, 47, 58):
        when = injected + timedelta(days=dice.randrange(12, 28))
        visits.append(
            {
                "date": when.isoformat(),
                "kind": "unplanned",
                "seen": "telephone",
                "answers": {"pain_now": dice.randrange(6, 10)},
            }
        )
    visits.sort(key=lambda v: str(v["date"]))
    events = _events(dice, number, injected)
    procedures = _procedures(number, injected, traits)
    if number == 37:
        session2 = injected + timedelta(days=290)
        again = [
            {
                **discs[0],
                "again_because": "invented: pain of the same disc came back after half a year of relief",
            }
        ]
        record["injections"] = [session, {"id": 2, "date": session2.isoformat(), "discs": again}]
    record["visits"] = visits
    if events:
        record["events"] = events
    if procedures:
        record["procedures"] = procedures
    if died_on:
        record["last_contact"] = {
            "date": died_on.isoformat(),
            "state": "died",
            "note": "invented: a cause unrelated to the spine",
        }
    elif lost_after:
        state = "withdrew" if number == 44 else "lost"
        last = max([str(v["date"]) for v in visits] + [str(p["date"]) for p in procedures])
        record["last_contact"] = {"date": last, "state": state}
    return record


def _answers(dice: random.Random, traits: dict[str, object], place: int) -> dict[str, object]:
    pain, odi = int(traits["pain"]), int(traits["odi"])  # type: ignore[call-overload]
    if place:
        left = {
            "good": (0.95, 0.62, 0.44, 0.33, 0.36), "some": (1.0, 0.85, 0.74, 0.68, 0.72), "none": (1.05, 1.0, 0.98, 0.97, 1.0),
        }[str(traits["course"])][place - 1]  # fmt: skip
        pain = min(10, max(0, round(pain * left + dice.gauss(0, 0.9))))
        odi = min(100, max(0, 2 * round((odi * (0.25 + 0.75 * left) + dice.gauss(0, 5)) / 2)))
    answers: dict[str, object] = {"pain_average_week": pain}
    if place != 1 and not (place > 2 and dice.random() < 0.04):
        answers["oswestry_disability_index"] = odi
    return answers


def _events(dice: random.Random, number: int, injected: date) -> list[dict[str, object]]:
    def event(what: str, after: int, grade: int, serious: list[str], **more: object) -> dict[str, object]:
        began = injected + timedelta(days=after)
        return {"id": 1, "what": what, "began": began.isoformat(), "learned": (began + timedelta(days=1)).isoformat(),
                "grade": grade, "serious": serious, **more}  # fmt: skip

    if number == 41:
        return [event("discitis", 19, 3, ["hospital_stay"], expected="no", relation="possibly_related",
                      communicable="not_known", outcome="resolved")]  # fmt: skip
    if number in (4, 18, 29, 46, 55):
        return [
            event(
                "pain_flare",
                dice.randrange(1, 6),
                2,
                [],
                expected="yes",
                relation="related",
                outcome="resolved",
            )
        ]
    if number % 5 == 2:
        return [
            event(
                "pain_flare",
                dice.randrange(1, 4),
                1,
                [],
                expected="yes",
                relation="related",
                outcome="resolved",
            )
        ]
    return []


def _procedures(number: int, injected: date, traits: dict[str, object]) -> list[dict[str, object]]:
    disc = traits["discs"][0]  # type: ignore[index]
    after = {14: 210, 26: 265, 43: 320, 51: 150}.get(number)
    if after:
        return [{"date": (injected + timedelta(days=after)).isoformat(), "kind": "surgery", "levels": [disc],
                 "because_of_treated_disc": "yes"}]  # fmt: skip
    if number == 30:
        other = next(level for level in ("L2-L3", "L3-L4") if level not in traits["discs"])  # type: ignore[operator]
        return [{"date": (injected + timedelta(days=240)).isoformat(), "kind": "surgery", "levels": [other],
                 "because_of_treated_disc": "no"}]  # fmt: skip
    return []


def _mistakes(folder: Path) -> None:
    """A few records of the year, each with a mistake that a person can make."""
    place = folder / "with_mistakes"
    place.mkdir(exist_ok=True)
    for number in range(1, 8):
        name = f"CY-{number:03d}"
        case = yaml.safe_load((folder / f"{name}.yaml").read_text(encoding="utf-8"))
        course = yaml.safe_load((folder / f"{name}.course.yaml").read_text(encoding="utf-8"))
        injected = date.fromisoformat(course["injections"][0]["date"])
        later = course["visits"][1:]
        if number == 1:  # a visit before the injection that it follows
            later[0]["date"] = (injected - timedelta(days=3)).isoformat()
        elif number == 2:  # two injections of one disc, and no reason
            second = {**course["injections"][0], "id": 2, "date": (injected + timedelta(days=30)).isoformat()}
            course["injections"].append(second)
        elif number == 3:  # a visit dated before the one that comes earlier in the schedule
            by_name = {visit.get("of"): visit for visit in later}
            by_name["months_12"]["date"] = (injected + timedelta(days=20)).isoformat()
        elif number == 4:  # an answer outside its form
            later[1]["answers"]["pain_average_week"] = 70
        elif number == 5:  # a day that does not exist
            later[1]["date"] = "2025-02-30"
        (place / f"{name}.course.yaml").write_text(_text(course), encoding="utf-8")
        if number != 6:  # one without its case record
            (place / f"{name}.yaml").write_text(_text(case), encoding="utf-8")


if __name__ == "__main__":
    make(Path(sys.argv[1]))
