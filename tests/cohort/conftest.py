"""One small screened cohort and one distributed engine for the tests of this folder."""

import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment
from candidacy.case.load import Case
from candidacy.rules.resolved import RuleSet
from tests.cohort.generated import cases
from tests.cohort.screened import (
    FEW,
    each_assessed,
    of_usual_discs,
    part_of,
    plain_cases,
    shipped,
    write_cases,
)
from tests.strategies import AS_OF


@pytest.fixture(scope="session")
def some_rules() -> RuleSet:
    """Fifteen criteria of the practice baseline."""
    return part_of(shipped("practice_baseline"))


@pytest.fixture(scope="session")
def some_cases() -> Sequence[Case]:
    """Invented cases."""
    return tuple(of_usual_discs(cases(31, 320)))


@pytest.fixture(scope="session")
def assessed(some_cases: Sequence[Case], some_rules: RuleSet) -> Sequence[Assessment]:
    """Each case by itself, under those criteria."""
    return each_assessed(some_cases, some_rules)


@pytest.fixture(scope="session")
def case_folder(some_cases: Sequence[Case], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same as a folder of records."""
    return write_cases(tmp_path_factory.mktemp("cases") / "records", some_cases)


@pytest.fixture(scope="session")
def cohort(case_folder: Path, some_rules: RuleSet) -> Iterator[Any]:
    """The folder screened on the embedded engine."""
    pytest.importorskip("duckdb", reason="cohort screening is an optional part")
    pytest.importorskip("pandas", reason="cohort screening is an optional part")
    from candidacy.cohort import screen

    with screen(case_folder, some_rules, AS_OF) as found:
        yield found


@pytest.fixture(scope="session")
def few_rules() -> RuleSet:
    """Five criteria of the practice baseline, for the slower engine."""
    return part_of(shipped("practice_baseline"), FEW)


@pytest.fixture(scope="session")
def few_cases() -> Sequence[Case]:
    """Invented cases that state only what those criteria read."""
    return tuple(plain_cases(60, FEW))


@pytest.fixture(scope="session")
def spark(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The distributed engine, in a session of its own, since names of relations are the session's."""
    sql = pytest.importorskip("pyspark.sql", reason="the distributed engine is an optional part")
    if shutil.which("java") is None:
        pytest.skip("Spark needs Java, and there is none here")
    from candidacy.cohort.engines.distributed import SparkEngine

    folder = tmp_path_factory.mktemp("spark")
    SparkEngine(folder)
    engine = SparkEngine(folder, sql.SparkSession.active().newSession())
    yield engine
    engine.close()


@pytest.fixture(scope="session")
def spark_cohort(
    few_cases: Sequence[Case], few_rules: RuleSet, spark: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Any]:
    """The few cases on the distributed engine."""
    from candidacy.cohort import screen

    folder = write_cases(tmp_path_factory.mktemp("few") / "records", few_cases)
    with screen(folder, few_rules, AS_OF, engine=spark) as found:
        yield found
