# ruff: noqa: E402
"""Tables in every accepted form, what they may say, and what happens to what cannot be used."""

import csv
from datetime import date
from pathlib import Path
from random import Random
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.case.catalogue import catalogue
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.cohort import Mapping, screen
from candidacy.cohort.inputs.mapping import canonical
from candidacy.foundation.errors import CaseError, Code, TableError
from candidacy.foundation.values import Why
from candidacy.rules.libraries import load_rule_set
from tests.cohort.agreement import Single, differences, of_assessment
from tests.cohort.generated import elements, hints
from tests.deep import DEEP
from tests.strategies import AS_OF, Mix, random_case

MANY = 120 if DEEP else 60

WIDE = "wide_screen"
PEOPLE = pd.DataFrame(
    {
        "case_id": ["a", "b", "c"],
        "body_mass_index [kg/m2]": ["29.5", "<35", "33..40"],
        "birth_date": ["1980-02-29", "1950", "2012-01-01"],
        "discs_under_consideration": ["L4-L5", "L4-L5;L5-S1", "L4/5;..."],
        "facts_date": ["2026-11-01"] * 3,
        "L4-L5 displacement": ["none", "extrusion|protrusion", "extrusion"],
        "L5-S1 displacement": ["", "?not_stated", ""],
    }
)


def _codes(error: TableError) -> list[Code]:
    return [problem.code for problem in error.problems]


def _outcomes(frame: Any, tmp_path: Path, **more: Any) -> list[dict[str, Any]]:
    with screen(frame, WIDE, AS_OF, **more) as cohort:
        assert cohort.set_aside == 0, cohort.problems
        found: list[dict[str, Any]] = (
            cohort.outcomes().astype(object).where(lambda f: f.notna(), None).to_dict("records")
        )
        return found


# --- what a cell may say


def _cell(entry: FactEntry, name: str) -> str:
    """A fact in the notation of tables."""
    element = catalogue()[name]
    if entry.unknown is not None:
        return f"?{entry.unknown}"
    for form, sign in (("at_least", ">="), ("more_than", ">"), ("at_most", "<="), ("less_than", "<"),
                       ("not_before", ">="), ("not_after", "<=")):  # fmt: skip
        if getattr(entry, form) is not None:
            return f"{sign}{getattr(entry, form)}"
    if entry.between is not None:
        return "..".join(map(str, entry.between))
    if entry.one_of is not None:
        return "|".join(map(str, entry.one_of))
    if entry.includes is not None:
        return ";".join([*entry.includes, "..."])
    if element.kind == "members":
        assert isinstance(entry.value, tuple)
        return ";".join(map(str, entry.value)) or "[]"
    return str(entry.value).lower() if isinstance(entry.value, bool) else str(entry.value)


def _row(record: CaseRecord) -> dict[str, str]:
    row = {"case_id": record.id}
    tables = {"": record.patient, **{f"{level} ": table for level, table in record.discs.items()}}
    for prefix, table in tables.items():
        for name, entry in table.items():
            unit = catalogue()[name].unit
            row[f"{prefix}{name}" + (f" [{unit}]" if unit else "")] = _cell(entry, name)
            if entry.date is not None:
                row[f"{prefix}{name} (date)"] = entry.date
    return row


def test_a_text_table_says_what_the_case_records_say(tmp_path: Path) -> None:
    """Cases with imprecise values, reasons and dates, written as cells, keep every outcome."""
    rng, records = Random(5), []
    pool = [e for e in elements() if e.scope in ("patient", "disc") and e.kind != "words"]
    mix = Mix(stated=0.7, other_unit=0.0, text=0.0, list_given=0.0)
    while len(records) < MANY:
        record = random_case(rng, pool, hints=hints(), mix=mix, levels=["L4-L5", "L5-S1"])
        # a table has no documents: a fact keeps its own day
        plain = {
            "id": f"row{len(records)}",
            "documents": {},
            "patient": {
                n: e.model_copy(update={"source": None, "words": None}) for n, e in record.patient.items()
            },
            "discs": {
                level: {n: e.model_copy(update={"source": None, "words": None}) for n, e in table.items()}
                for level, table in record.discs.items()
                if table
            },
        }
        record = record.model_copy(update=plain)
        try:
            case_from_record(record)
        except CaseError:
            continue
        records.append(record)
    columns = list(dict.fromkeys(column for record in records for column in _row(record)))
    path = tmp_path / "cases.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, columns, restval="")
        writer.writeheader()
        writer.writerows(_row(record) for record in records)
    single = Single(load_rule_set(WIDE), AS_OF)
    expected = {record.id: single.outcomes(case_from_record(record)) for record in records}
    with screen(path, WIDE, AS_OF) as cohort:
        assert (cohort.cases, cohort.set_aside, cohort.notes) == (MANY, 0, ())
        rows = cohort.outcomes().astype(object).where(lambda f: f.notna(), None).to_dict("records")
        assert differences(expected, rows) == []
        for record in records[::20]:
            opened = cohort.open_case(record.id)
            assert of_assessment(opened) == expected[record.id]


def test_every_form_of_table_gives_the_same_outcomes(tmp_path: Path) -> None:
    import duckdb

    first = _outcomes(PEOPLE, tmp_path)
    PEOPLE.to_csv(tmp_path / "t.csv", index=False)
    PEOPLE.to_csv(tmp_path / "semicolons.csv", index=False, sep=";", encoding="utf-8-sig")
    PEOPLE.to_csv(tmp_path / "t.tsv", index=False, sep="\t")
    PEOPLE.to_parquet(tmp_path / "t.parquet")
    PEOPLE.to_excel(tmp_path / "t.xlsx", index=False)
    with duckdb.connect(str(tmp_path / "t.duckdb")) as connection:
        connection.register("people", PEOPLE)
        connection.execute("CREATE TABLE referrals AS SELECT * FROM people")
    (tmp_path / "folder").mkdir()
    PEOPLE.head(1).to_parquet(tmp_path / "folder" / "1.parquet")
    PEOPLE.tail(2).to_parquet(tmp_path / "folder" / "2.parquet")
    for name in ("t.csv", "t.tsv", "t.parquet", "t.xlsx", "t.duckdb", "folder"):
        assert _outcomes(tmp_path / name, tmp_path) == first, name
    assert _outcomes(tmp_path / "semicolons.csv", tmp_path, delimiter=";") == first


def test_typed_columns_say_the_same_as_text(tmp_path: Path) -> None:
    typed = pd.DataFrame(
        {
            "case_id": [1, 2, 3],
            "body_mass_index [kg/m2]": [29.5, None, 41.0],
            "birth_date": [date(1980, 2, 29), None, date(2012, 1, 1)],
            "pregnancy": pd.array([False, None, True], dtype="boolean"),
            "pain_duration [month]": [7, 5, 6],
            "L4-L5 displacement": ["none", None, "extrusion"],
            "discs_under_consideration": [["L4-L5"], [], None],
            "facts_date": [date(2026, 11, 1)] * 3,
        }
    )
    known = [c for c in typed if c in ("case_id", "facts_date") or _is_element(c)]
    text = typed[known].astype(object).map(_as_text)
    assert _outcomes(typed[known], tmp_path) == _outcomes(text, tmp_path)


def _is_element(column: str) -> bool:
    name = column.split(" [")[0].split(" ")[-1]
    element = catalogue().get(name)
    return element is not None and element.statable and ((element.unit is None) == (" [" not in column))


def _as_text(cell: Any) -> str | None:
    if isinstance(cell, list):
        return ";".join(cell) or "[]"
    if cell is None or cell is pd.NA or (isinstance(cell, float) and pd.isna(cell)):
        return None
    return str(cell).lower() if isinstance(cell, bool) else str(cell)


def test_discs_in_a_table_of_their_own_say_the_same(tmp_path: Path) -> None:
    own = [column for column in PEOPLE if not column.startswith("L")]
    discs = pd.DataFrame(
        {
            "case_id": ["a", "b", "b", "c"],
            "disc": ["L4/5", "L4-L5", "L5-S1", "L4/L5"],
            "displacement": ["none", "extrusion|protrusion", "?not_stated", "extrusion"],
            "facts_date": ["2026-11-01"] * 4,
        }
    )
    assert _outcomes(PEOPLE[own], tmp_path, discs=discs) == _outcomes(PEOPLE, tmp_path)


def test_a_disc_row_without_a_place_is_told_and_leaves_the_others(tmp_path: Path) -> None:
    discs = pd.DataFrame(
        {
            "case_id": ["a", "z", "b", "c"],
            "disc": ["L4-L5", "L4-L5", "L45", "L4-L5"],
            "displacement": ["none", "none", "none", "none"],
        }
    )
    people = PEOPLE[[column for column in PEOPLE if not column.startswith("L")]]
    with screen(people, WIDE, AS_OF, discs=discs) as cohort:
        assert (cohort.cases, cohort.discs_set_aside) == (3, 2)
        told = [(problem.line, problem.found) for problem in cohort.problems]
        assert told == [(3, "L45"), (2, "z")]
    twice = pd.concat([discs.iloc[[0]], discs.iloc[[0]], discs.iloc[[3]]])
    with screen(people, WIDE, AS_OF, discs=twice) as cohort:
        assert cohort.set_aside == 1
        assert "listed twice" in cohort.problems[0].message


def test_lists_of_the_record_come_from_their_own_table(tmp_path: Path) -> None:
    people = PEOPLE.assign(**{"medicines complete": ["true", "true", ""]})
    medicines = pd.DataFrame(
        {
            "case_id": ["a", "a", "c"],
            "medicine_class": ["antiplatelet", "opioid", "nsaid"],
            "medicine_agent": ["aspirin", "", "ibuprofen"],
        }
    )
    with screen(people, "procedural_safety", AS_OF, lists={"medicines": medicines}) as cohort:
        rows = cohort.outcomes().astype(object).where(lambda f: f.notna(), None).to_dict("records")
        expected = {}
        for name in "abc":
            opened = cohort.open_case(name)
            expected[name] = of_assessment(opened)
            assert len(opened.case.facts.lists["medicines"].entries) == {"a": 2, "b": 0, "c": 1}[name]
            assert opened.case.facts.lists["medicines"].complete is (name != "c")
        assert differences(expected, rows) == []


def test_foreign_columns_codes_units_and_dates_are_mapped(tmp_path: Path) -> None:
    foreign = pd.DataFrame(
        {
            "Ref": ["x1", "x2"],
            "Wt": ["176.4", "220,5"],
            "Ht": [180, 170],
            "Gravid": ["N", "n/a"],
            "MRT": ["01.09.2026", "15.10.2026"],
            "Arm": ["p", "q"],
        }
    )
    mapping = Mapping.model_validate(
        {
            "version": "1",
            "confirmed": True,
            "patients": {
                "case_id": "Ref",
                "columns": {
                    "Wt": {"element": "body_weight", "unit": "lb", "decimal": ","},
                    "Ht": {"element": "body_height", "unit": "cm"},
                    "Gravid": {
                        "element": "pregnancy",
                        "codes": {"N": "false"},
                        "unknown": {"n/a": "not_asked"},
                    },
                    "MRT": {"element": "lumbar_mri_date", "date_format": "%d.%m.%Y"},
                },
                "ignore": ["Arm"],
            },
        }
    )
    mapping = _only_known(mapping)
    with screen(foreign, "practice_baseline", AS_OF, mapping=mapping) as cohort:
        rows = cohort.outcomes().set_index("case_id")
        # 176.4 lb and 180 cm are 24.7 kg/m2; 220.5 lb and 170 cm are 34.6 kg/m2 (pound of 0.45359237 kg)
        facts = cohort.open_case("x2").case.facts.patient
        assert facts["body_weight"].value.low == pytest.approx(220.5 * 0.45359237)
        assert facts["lumbar_mri_date"].provenance.as_written == "2026-10-15"
        for name in ("x1", "x2"):
            assert of_assessment(cohort.open_case(name))["standing"] == rows.loc[name, "standing"]
        assert not cohort.notes


def _only_known(mapping: Mapping) -> Mapping:
    known = {c: item for c, item in mapping.patients.columns.items() if catalogue().get(item.element)}
    ignored = (*mapping.patients.ignore, *(set(mapping.patients.columns) - set(known)))
    return mapping.model_copy(
        update={"patients": mapping.patients.model_copy(update={"columns": known, "ignore": ignored})}
    )


def test_a_length_in_weeks_or_days_is_counted_in_columns_as_in_one_record() -> None:
    """The rule of `candidacy.foundation.months` [common practice]: 26 weeks and 183 days are six months, 13 weeks are three."""
    weeks, days = [12, 13, 25, 26, 27, 52], [88, 89, 180, 183, 190, 365]
    table = pd.DataFrame(
        {
            "case_id": [f"w{n}" for n in weeks],
            "conservative_care_duration [week]": weeks,
            "pain_duration [day]": days,
        }
    )
    given = {
        f"w{week}": case_from_record(
            CaseRecord.model_validate(
                {
                    "schema_version": "1",
                    "id": f"w{week}",
                    "patient": {
                        "conservative_care_duration": {"value": week, "unit": "week"},
                        "pain_duration": {"value": day, "unit": "day"},
                    },
                }
            )
        )
        for week, day in zip(weeks, days, strict=True)
    }
    rule_set = load_rule_set("practice_baseline")  # three months of care, six of pain
    single = Single(rule_set, AS_OF)
    with screen(table, rule_set, AS_OF) as cohort:
        rows = cohort.outcomes().astype(object).where(lambda f: f.notna(), None).to_dict("records")
    assert differences({name: single.outcomes(case) for name, case in given.items()}, rows) == []
    assert [row["conservative_care_duration"] for row in rows] == ["undetermined", *["pass"] * 5]
    assert [row["pain_duration_minimum"] for row in rows] == ["fail", "fail", "undetermined", *["pass"] * 3]


# --- what cannot be used


def test_a_bad_cell_makes_its_fact_unknown_and_is_listed(tmp_path: Path) -> None:
    bad = pd.concat([PEOPLE, PEOPLE.assign(case_id=["d", "e", "f"])])
    bad["body_mass_index [kg/m2]"] = ["29.5", "abc", "33..40", "999", "41", "40..33"]
    with screen(bad, WIDE, AS_OF) as cohort:
        assert (cohort.rows, cohort.cases, cohort.set_aside, cohort.cells_not_read) == (6, 6, 0, 3)
        assert [(p.line, p.field) for p in cohort.problems] == [
            (n, "body_mass_index [kg/m2]") for n in (2, 4, 6)
        ]
        cells = cohort.unread_cells()
        assert list(cells["case"]) == ["b", "d", "f"]
        assert list(cells["value"]) == ["abc", "999", "40..33"]
        assert (cells["reason"] != "").all()
        for name in "bdf":
            assert cohort.open_case(name).case.facts.patient["body_mass_index"].why is Why.NOT_READABLE
        unread = cohort.outcomes().set_index("case_id")
    unknown = bad.assign(**{"body_mass_index [kg/m2]": ["29.5", "", "33..40", "", "41", ""]})
    with screen(unknown, WIDE, AS_OF) as cohort:
        assert cohort.cells_not_read == 0
        empty = cohort.outcomes().set_index("case_id")
    assert (unread.loc[list("bdf")] == empty.loc[list("bdf")]).fillna(True).all(axis=None)
    mapping = canonical(list(bad.columns)).model_copy(update={"on_bad_cell": "set_row_aside"})
    strict = Mapping(version="1", confirmed=True, patients=mapping)
    with screen(bad, WIDE, AS_OF, mapping=strict) as cohort:
        assert (cohort.rows, cohort.cases, cohort.set_aside, cohort.cells_not_read) == (6, 3, 3, 0)
        assert list(cohort.outcomes().case_id) == ["a", "c", "e"]
        rows = cohort.set_aside_rows()
        assert list(rows["case_id"]) == ["b", "d", "f"]
        assert rows["reason"].str.startswith("body_mass_index").all()
        with pytest.raises(TableError, match="set aside"):
            cohort.open_case("b")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"case_id": ["a", "a", "c"]}, "more than once"),
        ({"case_id": ["a", "", "c"]}, "no case reference"),
    ],
)
def test_rows_that_no_case_record_could_be_are_set_aside(
    change: dict[str, Any], message: str, tmp_path: Path
) -> None:
    with screen(PEOPLE.assign(**change), WIDE, AS_OF) as cohort:
        assert cohort.set_aside >= 1
        assert cohort.cases + cohort.set_aside == 3
        assert message in cohort.problems[0].message


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"birth_date": ["1980-02-30", "1950", "2012-01-01"]}, "does not exist"),
        ({"L4-L5 displacement": ["huge", "none", "none"]}, "not one of the codes"),
    ],
)
def test_cells_that_no_case_record_could_hold_are_listed(change: dict[str, Any], message: str) -> None:
    with screen(PEOPLE.assign(**change), WIDE, AS_OF) as cohort:
        assert (cohort.cases, cohort.set_aside, cohort.cells_not_read) == (3, 0, 1)
        assert message in cohort.problems[0].message


@pytest.mark.parametrize(
    ("change", "criterion", "expected"),
    [
        # The index stated in the first row (29.5) is not that of this height and weight (24.7).
        (
            {"body_height [cm]": [180, None, None], "body_weight [kg]": [80, None, None]},
            "body_mass_index_limit",
            ("pass", "undetermined"),
        ),
        (
            {"cauda_equina_signs": ["false", "", ""], "saddle_numbness": ["true", "", ""]},
            "cauda_equina_signs_present",
            ("undetermined", "fail"),
        ),
    ],
)
def test_a_row_that_contradicts_itself_is_kept_and_does_not_pass(
    change: dict[str, Any], criterion: str, expected: tuple[str, str]
) -> None:
    found = []
    for people in (PEOPLE, PEOPLE.assign(**change)):
        with screen(people, "practice_baseline", AS_OF) as cohort:
            assert (cohort.cases, cohort.set_aside) == (3, 0)
            found.append(cohort.outcomes().set_index("case_id")[criterion]["a"])
    assert tuple(found) == expected


def test_unmapped_columns_are_told(tmp_path: Path) -> None:
    with screen(PEOPLE.assign(comment="x"), WIDE, AS_OF) as cohort:
        assert [(note.code, note.field) for note in cohort.notes] == [(Code.BAD_MAPPING, "comment")]


@pytest.mark.parametrize(
    ("content", "name", "code"),
    [
        (b"", "t.csv", Code.EMPTY),
        (b"case_id,birth_date\n", "t.csv", Code.EMPTY),
        (b"case_id\n1\n", "t.csv", Code.BAD_MAPPING),
        (b"case_id,note\n1,caf\xe9\n", "t.csv", Code.NOT_TEXT),
        (b"case_id,birth_date\n1,19\x0080\n", "t.csv", Code.NOT_TEXT),
        (b"case_id;birth_date,age;sex,x\n1;2;3\n", "t.csv", Code.BAD_TABLE),
        (b"case_id,age,age\n1,2,3\n", "t.csv", Code.BAD_TABLE),
        (b"not parquet", "t.parquet", Code.UNREADABLE),
        (b"not a workbook", "t.xlsx", Code.UNREADABLE),
        (b"%PDF-1.7", "t.pdf", Code.UNREADABLE),
        (b"case_id,colour\n1,red\n", "t.csv", Code.BAD_MAPPING),
        (b"case_id,body_weight\n1,80\n", "t.csv", Code.BAD_MAPPING),
        (b"reference,birth_date\n1,1980-01-01\n", "t.csv", Code.BAD_MAPPING),
    ],
)
def test_files_that_cannot_be_tables_are_refused(
    content: bytes, name: str, code: Code, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(TableError) as caught:
        screen(path, WIDE, AS_OF)
    assert code in _codes(caught.value)
    assert name in str(caught.value)


def test_a_missing_or_unreadable_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(TableError) as caught:
        screen(tmp_path / "none.csv", WIDE, AS_OF)
    assert _codes(caught.value) == [Code.UNREADABLE]
    with pytest.raises(TableError):
        screen(tmp_path, WIDE, AS_OF)


def test_a_row_with_another_number_of_cells_is_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text(
        "case_id,birth_date\n1,1980-01-01\n2,1981-01-01,extra\n3,1982-01-01\n4\n", encoding="utf-8"
    )
    with screen(path, WIDE, AS_OF) as cohort:
        assert (cohort.rows, cohort.cases, cohort.set_aside) == (4, 2, 2)
        assert [problem.line for problem in cohort.problems] == [3, 5]
        assert "2,1981-01-01,extra" in cohort.set_aside_rows().to_csv()


def test_a_table_without_one_usable_row_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TableError) as caught:
        screen(PEOPLE.assign(case_id=""), WIDE, AS_OF)
    assert "no row can be used" in str(caught.value)


def test_a_folder_of_case_records_is_a_cohort(tmp_path: Path) -> None:
    from candidacy.foundation.shipped import demo_cases_folder

    with screen(demo_cases_folder(), "practice_baseline", AS_OF) as cohort:
        assert cohort.set_aside == 1  # one demonstration case is refused on purpose
        rows = cohort.outcomes().astype(object).where(lambda f: f.notna(), None).to_dict("records")
        expected = {row["case_id"]: of_assessment(cohort.open_case(row["case_id"])) for row in rows}
        assert differences(expected, rows) == []


def test_unknown_is_never_a_false(tmp_path: Path) -> None:
    """NaN, NULL and an empty cell are all unknown; a pandas comparison would make the first two false."""
    frame = pd.DataFrame(
        {"case_id": ["a", "b"], "body_mass_index [kg/m2]": [float("nan"), 50.0], "comment": ["", ""]}
    )
    with screen(frame, WIDE, AS_OF) as cohort:
        found = cohort.outcomes().set_index("case_id")
        criterion = next(c for c in found.columns if c.startswith("body_mass_index_limit"))
        assert (found.loc["a", criterion], found.loc["b", criterion]) == ("undetermined", "fail")
        assert str(found[criterion].dtype) == "string"


def test_an_answer_by_lookup_is_for_the_rows_that_have_what_it_needs() -> None:
    """One combination of two undated pressures is all that there is: the row without them has no pressure above opening."""
    frame = pd.DataFrame(
        {
            "case_id": ["both", "neither"],
            "discs_under_consideration": ["L4-L5", "L4-L5"],
            "L4-L5 discography_opening_pressure [psi]": [10.0, None],
            "L4-L5 discography_pain_pressure [psi]": [20.0, None],
            "L4-L5 discography_pain_nrs": [8, 8],
            "L4-L5 discography_concordance": ["exact", "exact"],
            "discography_date": [date(2026, 11, 1), date(2026, 11, 1)],
        }
    )
    with screen(frame, "practice_baseline", date(2026, 11, 25)) as cohort:
        said = list(cohort.outcomes()["L4-L5: concordant_provocation"])
    assert said == ["pass", "undetermined"]
