"""Shipped rules say truly how far their numbers were verified: no doubtful default, nothing source checked too early."""

from collections.abc import Iterator
from functools import cache

import pytest

from candidacy.check.cases import run_case
from candidacy.derive.base import Inputs
from candidacy.rules.cited import Citation
from candidacy.rules.criterion_cases import cases_path, load_cases
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import as_declared
from candidacy.rules.tree import operands_of, walk
from tests.rows import each_row

LIBRARY = shipped()
CRITERIA = list(LIBRARY.criterion_files())
CHECKED = [name for name in CRITERIA if LIBRARY.criterion(name).status == "source_checked"]


def defaults() -> Iterator[tuple[str, tuple[Citation, ...]]]:
    """Every value that is in use without anybody choosing it, with its citations."""
    for name in CRITERIA:
        for parameter, declared in LIBRARY.criterion(name).parameters.items():
            yield f"criterion {name}, {parameter}", declared.cites
    for name, setting in LIBRARY.settings().items():
        yield f"setting {name}", setting.cites
    for table in LIBRARY.table_files():
        for row in LIBRARY.table(table).rows:
            yield f"table {table}, {row.key}", row.cites
    for name in LIBRARY.rule_set_files():
        file = LIBRARY.rule_set(name).file
        for selection in file.criteria:
            for parameter, change in selection.parameters.items():
                yield f"rule set {name}, {selection.id}, {parameter}", change.cites
        for setting_name, changed in file.settings.items():
            yield f"rule set {name}, setting {setting_name}", changed.cites


DEFAULTS = dict(defaults())


def seen(cites: tuple[Citation, ...], supports: str) -> bool:
    return any(cite.supports == supports and cite.tag == "seen" for cite in cites)


@each_row("place", list(DEFAULTS))
def test_a_default_is_cited_and_no_doubtful_recollection(place: str) -> None:
    values = [cite for cite in DEFAULTS[place] if cite.supports == "value"]
    assert values, "no citation supports this value"
    assert all(cite.tag != "memory, low" for cite in values)


def test_the_scan_covers_parameters_settings_tables_and_departures() -> None:
    kinds = {place.split()[0] for place in DEFAULTS}
    assert kinds == {"criterion", "setting", "table", "rule"}
    assert len(DEFAULTS) > len(CRITERIA)


# --- nothing is source checked unless each number and the use were seen


@cache
def behind(name: str) -> tuple[frozenset[str], frozenset[str]]:
    """Settings and tables that are read when a criterion is read on its own cases."""
    settings: set[str] = set()
    tables: set[str] = set()

    watch = pytest.MonkeyPatch()
    setting, table = Inputs.setting, Inputs.table
    watch.setattr(Inputs, "setting", lambda self, key: settings.add(key) or setting(self, key))
    watch.setattr(Inputs, "table", lambda self, key: tables.add(key) or table(self, key))
    try:
        path = LIBRARY.criterion_files()[name]
        for case in load_cases(cases_path(path))[0]:
            run_case(LIBRARY, LIBRARY.criterion(name), case)
    finally:
        watch.undo()
    return frozenset(settings), frozenset(tables)


@each_row("name", CHECKED)
def test_source_checked_means_that_the_use_and_every_number_were_seen(name: str) -> None:
    criterion = LIBRARY.criterion(name)
    assert seen(criterion.cites, "use")
    unseen = [n for n, parameter in criterion.parameters.items() if not seen(parameter.cites, "value")]
    assert unseen == []
    for root in as_declared(criterion).conditions:
        for node in walk(root):
            for operand in operands_of(node):
                assert operand.parameter or type(operand.value) not in (int, float)


@each_row("name", CHECKED)
def test_source_checked_rests_on_no_setting_or_table_that_was_not_seen(name: str) -> None:
    settings, tables = behind(name)
    unseen = [
        f"setting {key}" for key in sorted(settings) if not seen(LIBRARY.settings()[key].cites, "value")
    ]
    chosen = {str(LIBRARY.settings()[key].value) for key in settings}
    for key in sorted(tables):
        rows = LIBRARY.table(key).rows
        used = [row for row in rows if row.key in chosen] or list(rows)
        unseen += [f"table {key}, {row.key}" for row in used if not seen(row.cites, "value")]
    assert unseen == []


def test_some_criteria_are_source_checked_and_some_are_not() -> None:
    assert 0 < len(CHECKED) < len(CRITERIA)


def test_no_shipped_rule_set_is_in_use() -> None:
    assert {LIBRARY.rule_set(name).file.status for name in LIBRARY.rule_set_files()} == {"draft"}
