"""What all tests share: how hypothesis runs, and where open data and reference sheets lie."""

import atexit
import contextlib
import gc
import importlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from tests.browsers import STARTED, belongs, group, start_browser

# No deadline: the machine is shared, and time is measured in tests/bench as ratios, never asserted here.
settings.register_profile("suite", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("suite")

# What is collected stays to the end, so a sweep for garbage while it grows finds none.
gc.set_threshold(1_000_000, 50, 100)

# Tests leave the user's cache alone; those of the cache name a folder of their own. All other processes of this run share one
# that is empty when it begins, so that not each of them parses the same rule files again.
if "PYTEST_XDIST_WORKER" not in os.environ:
    os.environ["CANDIDACY_CACHE"] = tempfile.mkdtemp(prefix="candidacy-tests-")
    atexit.register(shutil.rmtree, os.environ["CANDIDACY_CACHE"], ignore_errors=True)

# Benches hold no tests, and take a tenth of the time of collecting when they are searched for examples.
collect_ignore = ["bench"]
ROOT = Path(__file__).resolve().parents[1]
SHARED = ROOT.parent / "shared"


@pytest.fixture(scope="session")
def shared() -> Callable[[str], Path]:
    """Path of a file of the folder ``shared`` beside the project; the test is skipped where it is absent."""

    def path(name: str) -> Path:
        found = SHARED / name
        if not found.exists():
            pytest.skip(f"{name} is not in a folder 'shared' beside this project")
        return found

    return path


@pytest.fixture(scope="session")
def small_rules() -> Path:
    """A small library of rules with every operator, for laws and examples; its values are invented for tests."""
    return ROOT / "tests" / "data" / "rulesets"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Callable[[str], Path]]:
    """Makes a disk of a given size, where this is permitted."""
    made: list[Path] = []

    def make(size: str) -> Path:
        place = tmp_path / f"disk{len(made)}"
        place.mkdir()
        command = ["mount", "-t", "tmpfs", "-o", f"size={size},mode=700", "tmpfs", str(place)]
        if subprocess.run(command, capture_output=True, check=False).returncode:
            pytest.skip("a small disk may not be mounted here")
        made.append(place)
        return place

    if os.name != "posix" or not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("only the superuser may mount a small disk")
    yield make
    for place in made:
        subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.fixture
def browser() -> Any:
    """A real browser, shared; a test opens pages or contexts of its own and closes them."""
    return STARTED.get("browser", start_browser)


def pytest_collection(session: pytest.Session) -> None:
    """Of the workers of a whole run the second imports the tests from the end, the third from the middle: in a fresh copy each
    compiles a part of them, not all.
    """
    config = session.config
    worker = os.environ.get("PYTEST_XDIST_WORKER")
    if worker not in ("gw1", "gw2") or config.args != config.getini("testpaths"):
        return
    paths = sorted((ROOT / "tests").rglob("test_*.py"))
    half = len(paths) // 2
    for path in reversed(paths) if worker == "gw1" else paths[half:] + paths[:half]:
        # what cannot be imported, or is to be skipped, is told when it is collected
        with contextlib.suppress(Exception, pytest.skip.Exception):
            importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    group(config, items)


def pytest_collection_finish() -> None:
    """Leave what was collected out of every later sweep for garbage: thousands of tests and all modules stay anyway."""
    gc.collect()
    gc.freeze()
    # Each assessment makes many objects that soon go by themselves; the usual threshold of 700 sweeps them all the time.
    gc.set_threshold(1_000_000, 20, 50)


def pytest_unconfigure() -> None:
    """Sweep once for what is left: pytest sweeps five times, through all that the tests keep for each other."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(nextitem: pytest.Item | None) -> None:
    if not belongs(nextitem):
        STARTED.end()
