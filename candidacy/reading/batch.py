"""Many reports at once: each read on its own, several processes for a folder, one summary."""

import os
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

from candidacy.foundation.errors import Problem, ReportError
from candidacy.reading.inputs import SUFFIXES, load
from candidacy.reading.levels import LUMBAR
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import Reading
from candidacy.reading.reader import read_text

_IN_PROCESS = 40
"""Fewer files than this are read in this process: starting others would cost more."""

# What a report should state of each disc, and the reader's kinds of which one is enough.
EXPECTED: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("displacement", ("displacement",)),
    ("degeneration or desiccation", ("desiccation", "pfirrmann_grade", "modified_pfirrmann_grade")),
    ("disc height", ("height_loss", "disc_height_loss")),
    ("annular fissure", ("annular_fissure", "high_intensity_zone")),
    ("endplate change", ("endplate_change",)),
    ("canal stenosis", ("canal_stenosis", "schizas_grade", "lee_central_grade")),
    ("foraminal stenosis", ("foraminal_stenosis", "lee_foraminal_grade")),
    ("facet joints", ("facet_arthropathy", "weishaupt_grade", "fujiwara_grade", "pathria_grade")),
    ("slip", ("listhesis", "slip_mm", "slip_percent")),
)


class Row(NamedTuple):
    """One line of the table over many reports."""

    name: str
    discs: tuple[str, ...]
    findings: int
    red_flags: tuple[str, ...]
    contradictions: int
    unread: int
    missing: tuple[tuple[str, int], ...]
    problems: tuple[Problem, ...]


def files_of(paths: Iterable[Path]) -> list[Path]:
    """Spell out folders as the report files in them, in the order of their names."""
    out: list[Path] = []
    for path in paths:
        if path.is_dir():
            out += sorted(p for p in path.iterdir() if p.is_file() and p.suffix.lower() in SUFFIXES)
        else:
            out.append(path)
    return list(dict.fromkeys(out))


def missing_of(reading: Reading) -> tuple[tuple[str, int], ...]:
    """Count, for each thing expected, the lumbar discs of which the report does not state it."""
    out = []
    for name, kinds in EXPECTED:
        stated = {f.disc for f in reading.findings if f.kind in kinds and f.disc}
        if any(not f.disc and f.status == "absent" and f.kind in kinds for f in reading.findings):
            continue  # denied of the whole study
        count = sum(d not in stated for d in LUMBAR)
        if count:
            out.append((name, count))
    return tuple(out)


def row_of(reading: Reading, name: str) -> Row:
    """Sum up one reading."""
    flags = tuple(dict.fromkeys(r.about for r in reading.red_flags))
    return Row(
        name,
        reading.discs_named,
        len(reading.findings),
        flags,
        len(reading.contradictions),
        len(reading.unread),
        missing_of(reading),
        (),
    )


def _read_file(path: str) -> list[Row]:
    try:
        loaded = load(path)
    except ReportError as error:
        return [Row(path, (), 0, (), 0, 0, (), error.problems)]
    many = len(loaded) > 1
    return [row_of(read_text(t.text), f"{path}#{n}" if many else path) for n, t in enumerate(loaded, 1)]


def _read_data(path: str) -> tuple[list[Row], list[dict[str, Any]]]:
    from candidacy.reading.show import as_data

    try:
        loaded = load(path)
    except ReportError as error:
        return [Row(path, (), 0, (), 0, 0, (), error.problems)], []
    readings = [read_text(t.text) for t in loaded]
    return [row_of(r, path) for r in readings], [as_data(r, path) for r in readings]


def _each(work: Callable[[str], Any], paths: Sequence[Path], jobs: int) -> Iterator[Any]:
    names = [str(p) for p in paths]
    workers = jobs or (os.cpu_count() or 1)
    if len(names) < _IN_PROCESS or workers < 2:
        yield from map(work, names)
        return
    lexicon()  # loaded once before the processes part, so that they share it where the system forks
    with ProcessPoolExecutor(max_workers=min(workers, len(names))) as pool:
        yield from pool.map(work, names, chunksize=max(1, min(64, len(names) // (workers * 4))))


def read_many(paths: Sequence[Path], jobs: int = 0) -> Iterator[list[Row]]:
    """Read files one by one or in several processes, giving their rows in the order asked for.

    A file that cannot be read gives a row with its problems; the others are still read.
    """
    return _each(_read_file, paths, jobs)


def read_many_data(paths: Sequence[Path], jobs: int = 0) -> Iterator[tuple[list[Row], list[dict[str, Any]]]]:
    """Like `read_many`, with the whole readings as JSON-ready data beside the rows."""
    return _each(_read_data, paths, jobs)


def most_missing(rows: Sequence[Row]) -> list[tuple[str, int, int]]:
    """List what is missing most often: name, reports in which any disc lacks it, discs that lack it."""
    reports: Counter[str] = Counter()
    discs: Counter[str] = Counter()
    for row in rows:
        for name, count in row.missing:
            reports[name] += 1
            discs[name] += count
    order = [name for name, _ in EXPECTED]
    return sorted(
        ((n, reports[n], discs[n]) for n in reports), key=lambda x: (-x[1], -x[2], order.index(x[0]))
    )


def table_text(rows: Sequence[Row]) -> str:
    """Give the table over many reports, and the summary of what is missing most often."""
    width = min(48, max([6, *(len(r.name) for r in rows)]))
    out = [f"{'report':<{width}}  {'discs named':<34} findings  unread  differ  look at first"]
    for r in rows:
        name = r.name if len(r.name) <= width else "…" + r.name[-(width - 1) :]
        if r.problems:
            out.append(f"{name:<{width}}  cannot be read: {r.problems[0].code.value} {r.problems[0].message}")
            continue
        discs = " ".join(r.discs) or "none"
        flags = "; ".join(r.red_flags)
        out.append(
            f"{name:<{width}}  {discs:<34} {r.findings:>8}  {r.unread:>6}  {r.contradictions:>6}  {flags}"
        )
    read = [r for r in rows if not r.problems]
    failed = f", {len(rows) - len(read)} could not be read" if len(read) < len(rows) else ""
    out += ["", f"{len(read)} reports read{failed}"]
    if read:
        out += ["", "Not stated, most often first (of the five lumbar discs):"]
        for name, reports, count in most_missing(read):
            out.append(f"  {name:<30} in {reports} of {len(read)} reports, {count} discs")
    return "\n".join(out) + "\n"
