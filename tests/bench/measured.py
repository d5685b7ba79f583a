"""What a bench says of its machine and of what it took: processor time, cores used, spread over rounds, peak memory.

Processor time counts, because a machine may be shared: it is what the work costs on any number of cores, while
wall time also tells how busy the machine was with other work. Cores used is the one divided by the other.
"""

import os
import platform
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

_Found = TypeVar("_Found")


@dataclass(frozen=True)
class Used:
    """What one run took: seconds on the clock, seconds of processor, and the most memory in GiB since the process began."""

    wall: float
    cpu: float
    peak: float = 0.0

    @property
    def cores(self) -> float:
        """Cores kept busy on average."""
        return self.cpu / self.wall


def used(run: Callable[[], _Found]) -> tuple[Used, _Found]:
    """Run something in this process, all its threads counted; gives what it took and what it found."""
    before, start = time.process_time(), time.perf_counter()
    found = run()
    wall, after = time.perf_counter() - start, time.process_time()
    return Used(wall, after - before, peak()), found


def peak() -> float:
    """The most memory that this process has held, in GiB; 0 where the system does not tell.

    ``ru_maxrss`` would start from what the parent held; the status of this process does not.
    """
    status = Path("/proc/self/status")
    told = status.read_text(encoding="ascii").split("VmHWM:") if status.exists() else []
    return int(told[1].split()[0]) / 1024**2 if told[1:] else 0.0


def machine() -> str:
    """The machine in a line."""
    may = getattr(os, "sched_getaffinity", None)
    cores = len(may(0)) if may is not None else os.cpu_count()
    return f"{platform.machine()}, {cores} cores, Python {platform.python_version()}"


def spread(values: Sequence[float], unit: str = "s", digits: int = 2) -> str:
    """Median, and the lowest to the highest."""
    low, middle, high = (
        f"{each:.{digits}f}" for each in (min(values), statistics.median(values), max(values))
    )
    return f"{middle} {unit} ({low} to {high})"


def told(runs: Sequence[Used]) -> str:
    """Several runs of the same in a line."""
    parts = [
        f"processor {spread([run.cpu for run in runs])}",
        f"wall {spread([run.wall for run in runs])}",
        f"{statistics.median(run.cores for run in runs):.1f} cores",
    ]
    most = max(run.peak for run in runs)
    return ", ".join([*parts, *([f"peak {most:.1f} GiB"] if most else [])])


def ratio(one: Sequence[Used], other: Sequence[Used]) -> float:
    """How many times the processor time of another one takes, by medians."""
    return statistics.median(run.cpu for run in one) / statistics.median(run.cpu for run in other)
