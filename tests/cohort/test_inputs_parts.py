"""Several tables of one screening: sheets of one workbook, tables of one database, delimiters, lists."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort import Mapping, screen  # noqa: E402
from candidacy.cohort.inputs.mapping import canonical  # noqa: E402
from candidacy.foundation.errors import Code, TableError  # noqa: E402
from tests.strategies import AS_OF  # noqa: E402

WIDE = "wide_screen"
PEOPLE = pd.DataFrame(
    {
        "case_id": ["a", "b", "c"],
        "body_mass_index [kg/m2]": ["29.5", "<35", "33..40"],
        "discs_under_consideration": ["L4-L5", "L4-L5;L5-S1", "L4/5;..."],
        "medicines complete": ["true", "", "false"],
    }
)
DISCS = pd.DataFrame(
    {
        "case_id": ["a", "b", "b", "c"],
        "disc": ["L4/5", "L4-L5", "L5-S1", "L4/L5"],
        "displacement": ["none", "extrusion|protrusion", "?not_stated", "extrusion"],
    }
)
MEDICINES = pd.DataFrame({"case_id": ["a", "c"], "medicine_class": ["antiplatelet", "nsaid"]})
TABLES = {"patients": PEOPLE, "discs": DISCS, "medicines": MEDICINES}


def book(path: Path) -> Path:
    with pd.ExcelWriter(path) as writer:
        for name, table in TABLES.items():
            table.to_excel(writer, sheet_name=name, index=False)
    return path


def database(path: Path) -> Path:
    import duckdb

    with duckdb.connect(str(path)) as connection:
        for name, table in TABLES.items():
            connection.register("given", table)
            connection.execute(f"CREATE TABLE {name} AS SELECT * FROM given")
            connection.unregister("given")
    return path


def outcomes(table: Any, **more: Any) -> list[dict[str, Any]]:
    with screen(table, WIDE, AS_OF, **more) as cohort:
        assert cohort.set_aside == 0, cohort.problems
        found: list[dict[str, Any]] = cohort.outcomes().astype(object).to_dict("records")
        return found


def refused(table: Any, **more: Any) -> TableError:
    with pytest.raises(TableError) as caught:
        screen(table, WIDE, AS_OF, **more)
    return caught.value


@pytest.mark.parametrize("make", [book, database])
def test_each_table_may_be_a_part_of_the_same_file(make: Any, tmp_path: Path) -> None:
    path = make(tmp_path / ("all.xlsx" if make is book else "all.duckdb"))
    apart = outcomes(PEOPLE, discs=DISCS, lists={"medicines": MEDICINES})
    beside: dict[str, Any] = {"discs": f"{path}#discs", "lists": {"medicines": f"{path}#medicines"}}
    assert outcomes(f"{path}#patients", **beside) == apart
    assert outcomes(path, part="patients", **beside) == apart
    assert outcomes(Path(f"{path}#patients"), **beside) == apart


def test_a_file_whose_own_name_holds_the_sign_is_that_file(tmp_path: Path) -> None:
    path = book(tmp_path / "all#patients.xlsx")
    PEOPLE.to_csv(tmp_path / "second#1.csv", index=False)
    assert outcomes(tmp_path / "second#1.csv") == outcomes(f"{path}#patients")


@pytest.mark.parametrize(
    ("table", "more", "code", "words"),
    [
        ("all.xlsx", {}, Code.BAD_TABLE, ["several sheets", "patients, discs, medicines", "all.xlsx#patients"]),
        ("all.xlsx#cases", {}, Code.BAD_TABLE, ["no such sheet", "cases", "patients, discs, medicines"]),
        ("all.xlsx#patients", {"part": "discs"}, Code.USAGE, ["two parts", "patients, discs"]),
        ("none.xlsx#patients", {}, Code.UNREADABLE, ["no such file", "FILE#SHEET"]),
        ("people.csv#patients", {}, Code.USAGE, ["only a workbook or a database", "leave out --part"]),
        ("people.csv", {"part": "patients"}, Code.USAGE, ["only a workbook or a database"]),
        ("all.duckdb", {}, Code.BAD_TABLE, ["exactly one table", "discs, medicines, patients", "#TABLE"]),
        ("all.duckdb#cases", {}, Code.BAD_TABLE, ["no such table", "cases"]),
    ],
)  # fmt: skip
def test_a_part_that_cannot_be_is_told_with_what_is_there(
    table: str, more: dict[str, Any], code: Code, words: list[str], tmp_path: Path
) -> None:
    book(tmp_path / "all.xlsx")
    database(tmp_path / "all.duckdb")
    PEOPLE.to_csv(tmp_path / "people.csv", index=False)
    error = refused(str(tmp_path / table), **more)
    assert [problem.code for problem in error.problems] == [code]
    for word in words:
        assert word in str(error)


def test_a_view_and_a_table_of_another_schema_are_parts_too(tmp_path: Path) -> None:
    import duckdb

    path = database(tmp_path / "all.duckdb")
    with duckdb.connect(str(path)) as connection:
        connection.execute('CREATE SCHEMA ward; CREATE TABLE ward."re ""ferrals" AS SELECT * FROM patients')
        connection.execute("CREATE VIEW chosen AS SELECT * FROM patients")
    expected = outcomes(PEOPLE)
    assert outcomes(f"{path}#chosen") == expected
    assert outcomes(f'{path}#ward.re "ferrals') == expected


def test_one_delimiter_serves_every_table_whose_header_holds_it(tmp_path: Path) -> None:
    PEOPLE.to_csv(tmp_path / "people.csv", index=False, sep=";")
    DISCS.to_csv(tmp_path / "discs.csv", index=False)
    MEDICINES.to_csv(tmp_path / "medicines.csv", index=False, sep=";")
    found = outcomes(
        tmp_path / "people.csv",
        discs=tmp_path / "discs.csv",
        lists={"medicines": tmp_path / "medicines.csv"},
        delimiter=";",
    )
    assert found == outcomes(PEOPLE, discs=DISCS, lists={"medicines": MEDICINES})


@pytest.mark.parametrize("sign", [";;", '"', "\n"])
def test_what_is_no_delimiter_is_refused(sign: str, tmp_path: Path) -> None:
    PEOPLE.to_csv(tmp_path / "people.csv", index=False)
    assert [p.code for p in refused(tmp_path / "people.csv", delimiter=sign).problems] == [Code.USAGE]


def test_an_unknown_list_is_told_with_the_known_ones() -> None:
    error = refused(PEOPLE, lists={"drugs": MEDICINES})
    assert [problem.code for problem in error.problems] == [Code.USAGE]
    assert "drugs" in str(error)
    assert "medicines, treatments, injections" in str(error)


def test_a_row_of_a_list_without_a_case_is_told_and_the_columns_not_read_too() -> None:
    more = pd.concat([MEDICINES, pd.DataFrame({"case_id": ["z"], "medicine_class": ["opioid"]})])
    with screen(PEOPLE, WIDE, AS_OF, lists={"medicines": more.assign(comment="x")}) as cohort:
        assert [(p.line, p.found) for p in cohort.problems] == [(3, "z")]
        assert "not in the table of patients" in cohort.problems[0].message
        assert [note.field for note in cohort.notes] == ["comment"]
        assert "entry of a case" in cohort.set_aside_rows().reason[0]


def test_a_bad_cell_of_an_entry_is_unknown_and_listed_and_the_list_says_no_less() -> None:
    bad = MEDICINES.assign(medicine_class=["antiplatelet", "sweets"])
    with screen(PEOPLE, WIDE, AS_OF, lists={"medicines": bad}) as cohort:
        assert (cohort.cases, cohort.set_aside, cohort.cells_not_read) == (3, 0, 1)
        problem = cohort.problems[0]
        assert (problem.code, problem.found, problem.field) == (Code.BAD_CHOICE, '"sweets"', "medicine_class")
        (cell,) = cohort.unread_cells().to_dict("records")
        assert (cell["value"], cell["column"], int(cell["row"])) == ("sweets", "medicine_class", problem.line)
        (entry,) = cohort.open_case(cell["case"]).case.facts.lists["medicines"].entries
        assert entry["medicine_class"].value is None


def test_an_entry_that_cannot_be_read_never_makes_a_complete_list_say_no() -> None:
    """A blood thinner may stand behind the unreadable word: the case is as one in which that is not known."""
    people = PEOPLE.assign(**{"medicines complete": "true"})
    bad = MEDICINES.assign(medicine_class=["antiplatelet", "sweets"])
    stated = MEDICINES.assign(medicine_class=["antiplatelet", "?not_readable"])
    found = []
    for table in (bad, stated):
        with screen(people, "practice_baseline", AS_OF, lists={"medicines": table}) as cohort:
            found.append(cohort.outcomes())
    pd.testing.assert_frame_equal(*found)


def test_a_mapping_may_set_the_case_of_a_bad_entry_aside() -> None:
    bad = MEDICINES.assign(medicine_class=["antiplatelet", "sweets"])
    mapping = Mapping.model_validate(
        {
            "version": "1",
            "confirmed": True,
            "patients": canonical(list(PEOPLE.columns)),
            "lists": {"medicines": canonical(list(bad.columns), "medicine").model_copy(
                update={"on_bad_cell": "set_row_aside"})},
        }
    )  # fmt: skip
    with screen(PEOPLE, WIDE, AS_OF, lists={"medicines": bad}, mapping=mapping) as cohort:
        assert (cohort.cases, cohort.set_aside) == (2, 1)
        problem = cohort.problems[0]
        assert (problem.code, problem.line, problem.found) == (Code.BAD_CHOICE, 3, '"sweets"')
        assert problem.field == "medicines medicine_class"


def test_entries_keep_their_days_and_their_order() -> None:
    dated = pd.DataFrame(
        {
            "case_id": ["a", "c", "a"],
            "medicine_class": ["antiplatelet", "nsaid", "opioid"],
            "medicine_class (date)": ["2026-11-01", "2026-10-01", ""],
        }
    )
    with screen(PEOPLE, WIDE, AS_OF, lists={"medicines": dated}) as cohort:
        first, second = cohort.open_case("a").case.facts.lists["medicines"].entries
        assert "antiplatelet" in str(first["medicine_class"].value)
        assert "opioid" in str(second["medicine_class"].value)
        day = first["medicine_class"].provenance.day
        assert day is not None
        assert date.fromordinal(int(day.low)) == date(2026, 11, 1)
        assert second["medicine_class"].provenance.day is None


def test_a_list_without_one_readable_entry_says_what_is_wrong_with_each() -> None:
    every = pd.DataFrame({"case_id": ["a", "b", "c"], "medicine_class": ["sweets"] * 3})
    with screen(PEOPLE, WIDE, AS_OF, lists={"medicines": every}) as cohort:
        assert cohort.cells_not_read == 3
        assert all("sweets" in problem.found for problem in cohort.problems)
        assert all("not one of the codes" in problem.message for problem in cohort.problems)


def test_a_bad_cell_of_a_disc_names_its_level_and_its_column() -> None:
    with screen(
        PEOPLE, WIDE, AS_OF, discs=DISCS.assign(displacement=["none", "huge", "none", "none"])
    ) as cohort:
        assert [(problem.line, problem.field) for problem in cohort.problems] == [(2, "L4-L5 displacement")]


def test_instants_that_cannot_be_used_are_told_with_a_reason() -> None:
    frame = PEOPLE.assign(sex=pd.to_datetime(["2026-01-01", None, None]))
    with screen(frame, WIDE, AS_OF) as cohort:
        assert "not one of the codes" in cohort.problems[0].message


def test_numbers_as_references_find_their_rows_in_every_table() -> None:
    people = PEOPLE.assign(case_id=[1.0, 2.0, None])
    discs = DISCS.assign(case_id=["1", " 2", "2 ", "9"])
    with screen(people, WIDE, AS_OF, discs=discs) as cohort:
        assert list(cohort.outcomes().case_id) == ["1", "2"]
        assert (cohort.set_aside, cohort.discs_set_aside) == (1, 1)
        assert cohort.open_case("2").case.facts.discs["L5-S1"]


def test_a_fact_may_stand_in_one_of_two_tables_only() -> None:
    error = refused(PEOPLE.assign(**{"L4-L5 displacement": "none"}), discs=DISCS)
    assert "the table of discs holds this element too" in str(error)


def test_a_mapping_of_a_table_that_is_not_given_is_told() -> None:
    mapping = Mapping.model_validate(
        {
            "version": "1",
            "confirmed": True,
            "patients": {"columns": {"sex": {"element": "sex"}}},
            "discs": {"disc": "disc", "columns": {}},
            "lists": {"medicines": {"columns": {}}},
        }
    )
    error = refused(PEOPLE, mapping=mapping)
    assert "discs, medicines" in str(error)
    assert "--discs FILE, --list NAME=FILE" in str(error)


def test_a_table_of_discs_without_a_level_column_or_a_usable_level_is_told() -> None:
    mapping = Mapping.model_validate(
        {"version": "1", "confirmed": True, "patients": {"columns": {}},
         "discs": {"columns": {"displacement": {"element": "displacement"}}}}
    )  # fmt: skip
    assert "the column with the disc level is not named" in str(refused(PEOPLE, discs=DISCS, mapping=mapping))
    with screen(PEOPLE, WIDE, AS_OF, discs=DISCS.assign(disc=["L45", "", "?", "S9"])) as cohort:
        assert (cohort.cases, cohort.discs_set_aside) == (3, 4)


@pytest.mark.parametrize("memory", ["2 gigs", "10", "1KB", "", "2GB; DROP", "-2GB"])
def test_an_amount_of_memory_that_is_none_is_refused(memory: str) -> None:
    assert [p.code for p in refused(PEOPLE, memory=memory).problems] == [Code.USAGE]
