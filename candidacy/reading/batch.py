"""Many reports at once: each read on its own, several processes for a folder, one summary."""

import os
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from candidacy.foundation.errors import Code, Problem, ReportError, shorten
from candidacy.reading.inputs import SUFFIXES, load_each
from candidacy.reading.levels import LUMBAR
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import Mark, Reading
from candidacy.reading.notes.kinds import note_problems
from candidacy.reading.standing import report_number
from candidacy.reading.take import take
from candidacy.reading.versions import Version, verdicts

_IN_PROCESS = 40
"""Fewer files than this are read in this process: starting others would cost more."""

_MOST_NAMED = 20
"""So many things that were passed over are named."""

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
    """One line of the table over many reports.

    A row with ``problems`` was refused; one that is ``superseded`` was set aside for the version it names.
    """

    name: str
    discs: tuple[str, ...]
    findings: int
    red_flags: tuple[str, ...]
    contradictions: int
    unread: int
    missing: tuple[tuple[str, int], ...]
    problems: tuple[Problem, ...]
    marks: tuple[Mark, ...] = ()
    superseded: str = ""
    version: Version | None = None

    @property
    def is_read(self) -> bool:
        """Whether the report was read."""
        return not (self.problems or self.superseded)


Answer = tuple[Row, dict[str, Any] | None]
"""A row, and beside it the whole reading as JSON-ready data where it was asked for and there is one."""


def files_of(paths: Iterable[Path]) -> list[Path]:
    """Spell out folders as the report files in them, in the order of their names."""
    out: list[Path] = []
    for path in paths:
        if path.is_dir():
            out += sorted(p for p in path.iterdir() if p.is_file() and p.suffix.lower() in SUFFIXES)
        else:
            out.append(path)
    return list(dict.fromkeys(out))


def passed_over(paths: Iterable[Path]) -> list[str]:
    """What of folders `files_of` does not take: files of other kinds, and folders in them."""
    inside = sorted(each for path in paths if path.is_dir() for each in path.iterdir())
    return [f"{each}{'/' if each.is_dir() else ''}" for each in inside
            if not (each.is_file() and each.suffix.lower() in SUFFIXES)]  # fmt: skip


def passed_over_words(names: Sequence[str]) -> str:
    """In words what of folders was passed over, and why; empty where nothing was."""
    if not names:
        return ""
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return (
        f"{len(names)} passed over, not read: {', '.join(shorten(each, 300) for each in names[:_MOST_NAMED])}{more}"
        f" (read are files that end in {', '.join(SUFFIXES)}, and no folder in a folder)"
    )


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
        reading.marks,
    )


def _refused(name: str, problems: tuple[Problem, ...]) -> Row:
    return Row(name, (), 0, (), 0, 0, (), problems)


def _read_file(path: str, whole: bool = False, as_asked: bool = False) -> list[Answer]:
    """Read one file; whatever is wrong with it stands in its row and stops no other."""
    try:
        return _answers(path, whole, as_asked)
    except ReportError as error:
        problems = error.problems
    except Exception as error:  # a fault of ours in one report is told, and the others are read
        problems = (Problem(Code.INTERNAL, f"a fault of the program: {type(error).__name__}", path),)
    return [(_refused(path, problems), None)]


def _answers(path: str, whole: bool, as_asked: bool) -> list[Answer]:
    from candidacy.reading.show import as_data

    out: list[Answer] = []
    for item in load_each(path):
        reading, problems = take(item)
        if not (problems or as_asked) and (problems := note_problems(item.text, item.name)):
            reading = None
        key, status = item.key, item.status
        row = _refused(item.name, problems)._replace(superseded=item.superseded)
        if reading is not None:
            row = row_of(reading, item.name)
            key = key or report_number(item.text)
            status = status or next(
                (m.kind for m in reading.marks if m.kind in ("preliminary", "amended")), ""
            )
        version = Version(item.name, status, key, item.issued, item.text, bool(problems))
        row = row._replace(version=None if item.superseded else version)
        out.append((row, as_data(reading, item.name) if whole and reading is not None else None))
    return out


def settled(answers: Sequence[Answer]) -> list[Answer]:
    """Settle which of several versions of a report holds, over all files; those set aside lose their reading."""
    out = list(answers)
    at = [n for n, (row, _) in enumerate(out) if row.version is not None]
    for n, verdict in zip(at, verdicts([v for n in at if (v := out[n][0].version)]), strict=True):
        row, data = out[n]
        problems = row.problems or verdict.problems
        marks = (*row.marks, *(m for m in verdict.marks if m not in row.marks))
        row = row._replace(problems=problems, superseded=row.superseded or verdict.superseded, marks=marks)
        if data is not None and verdict.marks:
            data = {**data, "marks": [*data["marks"], *(mark_data(m) for m in verdict.marks)]}
        out[n] = (row, data if row.is_read else None)
    return out


def mark_data(mark: Mark) -> dict[str, Any]:
    """Give a mark about versions as JSON-ready data; it rests on no words."""
    return {"kind": mark.kind, "about": mark.about, "refuses": mark.refuses, "next_step": mark.next_step or None,
            "words": None}  # fmt: skip


def _each(work: Callable[[str], Any], paths: Sequence[Path], jobs: int) -> Iterator[Any]:
    names = [str(p) for p in paths]
    workers = jobs or (os.cpu_count() or 1)
    if len(names) < _IN_PROCESS or workers < 2:
        yield from map(work, names)
        return
    lexicon()  # loaded once before the processes part, so that they share it where the system forks
    with ProcessPoolExecutor(max_workers=min(workers, len(names))) as pool:
        yield from pool.map(work, names, chunksize=max(1, min(64, len(names) // (workers * 4))))


def read_many(
    paths: Sequence[Path], jobs: int = 0, *, whole: bool = False, as_asked: bool = False
) -> Iterator[list[Answer]]:
    """Read files one by one or in several processes, giving their answers in the order asked for.

    A file that cannot be read gives a row with its problems; the others are still read. ``whole`` asks for the
    readings as data beside the rows; ``as_asked`` reads as an imaging report also what its words tell is a note or letter. Versions are told apart by `settled`, over all answers.
    """
    return _each(partial(_read_file, whole=whole, as_asked=as_asked), paths, jobs)


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


def told(rows: Sequence[Row]) -> str:
    """Say how many reports were read, refused, set aside and marked."""
    read = sum(r.is_read for r in rows)
    words = [f"{read} reports read"]
    for count, what in (
        (sum(bool(r.problems) for r in rows), "refused"),
        (sum(bool(r.superseded) for r in rows), "set aside as superseded"),
        (sum(bool(r.marks) and r.is_read for r in rows), "read with a mark"),
    ):
        words += [f"{count} {what}"] if count else []
    return ", ".join(words)


def table_text(rows: Sequence[Row], passed: Sequence[str] = ()) -> str:
    """Give the table over many reports, what was ``passed`` over, and the summary of what is missing most often."""
    width = min(48, max([6, *(len(r.name) for r in rows)]))
    out = [f"{'report':<{width}}  {'discs named':<34} findings  unread  differ  look at first"]
    for r in rows:
        name = r.name if len(r.name) <= width else "…" + r.name[-(width - 1) :]
        if r.problems:
            out.append(f"{name:<{width}}  refused: {r.problems[0].code.value} {r.problems[0].message}")
            continue
        if r.superseded:
            out.append(f"{name:<{width}}  set aside: superseded by {r.superseded}")
            continue
        discs = " ".join(r.discs) or "none"
        flags = "; ".join(r.red_flags)
        out.append(
            f"{name:<{width}}  {discs:<34} {r.findings:>8}  {r.unread:>6}  {r.contradictions:>6}  {flags}"
        )
        out += [f"{'':<{width}}  mark: {m.about}" for m in r.marks]
    read = [r for r in rows if r.is_read]
    out += ["", *filter(None, (told(rows), passed_over_words(passed)))]
    if read:
        out += ["", "Not stated, most often first (of the five lumbar discs):"]
        for name, reports, count in most_missing(read):
            out.append(f"  {name:<30} in {reports} of {len(read)} reports, {count} discs")
    return "\n".join(out) + "\n"
