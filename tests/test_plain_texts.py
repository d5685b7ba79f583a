"""What ships speaks of the project alone: no path of a machine, no host of a package registry, no word about who does
which work. A listening address may only be the loopback one."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SUFFIXES = {
    ".py",
    ".yaml",
    ".yml",
    ".md",
    ".html",
    ".css",
    ".toml",
    ".txt",
    ".json",
    ".jsonl",
    ".cfg",
    ".ini",
}
SHIPPED = (
    "candidacy",
    "ui",
    "rulesets",
    "demo_cases",
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
)
# Written in pieces, so that this file may be scanned too.
MACHINE = [rf"(?<![\w.])/{name}/" for name in ("work", "opt", "home", "root", "Users", "mnt", "srv")]
MACHINE += [r"\b[A-Z]:\\", r"file:/" + "//"]
REGISTRY = [
    "pypi" + r"\.",
    "python" + "hosted",
    "npm" + r"js\.",
    "crates" + r"\.io",
    r"artifact" + "ory",
    "dev" + "pi",
]
WORK = [r"\bC" + r"EO\b", r"\bhelp" + r"ers?\b", r"\bissue" + r" ?#?\d", r"\btas" + r"ks?\b", r"\bspri" + r"nts?\b",
        r"\bmile" + r"stones?\b", r"\bT" + r"ODO\b", r"\bF" + r"IXME\b", r"\bsub-?" + r"agents?\b",
        r"\b(AI|coding|language) " + r"(agents?|models?|assistants?)\b", r"\bL" + r"LMs?\b"]  # fmt: skip
ADDRESS = re.compile(r"\b(?:\d{1,3}\.){3}\d{1,3}\b")


def texts(*names: str) -> list[Path]:
    found: list[Path] = []
    for name in names:
        path = ROOT / name
        found += [path] if path.is_file() else [p for p in sorted(path.rglob("*")) if p.suffix in SUFFIXES]
    return [
        p for p in found if not any(part.startswith((".", "__")) for part in p.relative_to(ROOT).parts[:-1])
    ]


def lines(path: Path) -> list[tuple[int, str]]:
    return list(enumerate(path.read_text(encoding="utf-8").splitlines(), 1))


def found_in(paths: list[Path], patterns: list[str]) -> list[str]:
    joined = re.compile("|".join(f"(?:{pattern})" for pattern in patterns))
    return [
        f"{path.relative_to(ROOT)}:{number}: {match.group()}"
        for path in paths
        for number, line in lines(path)
        if (match := joined.search(line))
    ]


def test_no_path_of_a_machine_and_no_registry_anywhere() -> None:
    assert found_in(texts(*SHIPPED, "tests"), [*MACHINE, *REGISTRY]) == []


def test_no_word_about_who_does_which_work() -> None:
    assert found_in(texts(*SHIPPED), WORK) == []


def test_addresses_are_the_loopback_one() -> None:
    addresses = {
        match
        for path in texts("candidacy", "ui")
        for _, line in lines(path)
        for match in ADDRESS.findall(line)
    }
    assert addresses <= {"127.0.0.1"}


@pytest.mark.parametrize("folder", ["candidacy", "candidacy/ui", "rulesets", "demo_cases"])
def test_the_scan_reads_every_folder(folder: str) -> None:
    assert len(texts(folder)) > 10


@pytest.mark.parametrize(
    "text",
    ["see /wo" + "rk/notes", "C" + ":\\data", "a hel" + "per did it", "issue" + " 12", "T" + "ODO later"],
)
def test_the_patterns_catch_what_they_are_for(text: str) -> None:
    assert re.search("|".join([*MACHINE, *WORK]), text)
