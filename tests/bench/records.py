"""Speed of a store of kept referrals, as ratios beside an empty query of the same database in the same run.

Run with ``python -m tests.bench.records`` from the project's root; ``--referrals N`` for another size. Targets of a store of
100 000 referrals: its work list in under 100 ms and one referral opened in under 50 ms beside an empty query. Nothing here
asserts a time. The store lies in memory where there is such a place, so that a disk is not what is measured.
"""

import argparse
import os
import shutil
import statistics
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import insert, text

from candidacy.case.load import case_from_record, load_case
from candidacy.foundation.digest import digest
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.records import database, schema
from candidacy.records.canonical import canonical, chained, pack, salted, sha256
from candidacy.records.entries import CaseSaved
from candidacy.records.lists import list_entry
from candidacy.records.merkle import leaf_hash
from candidacy.records.rows import MemoryRows
from candidacy.records.store import Store, open_store
from candidacy.records.trail import head_of, moment, put_head
from tests.bench.measured import Used, machine, ratio, spread, told, used
from tests.records.kept import DAY, Minutes, record

FULL = "ref-full"


def fill(store: Store, referrals: int) -> None:
    """Referrals as `Store.save_case` makes them, many in one statement."""
    clock, first = Minutes(), record(FULL)
    yaml = first.to_yaml()
    with database.writing(store._engine, store.where) as connection:
        head, frontier = head_of(connection)
        last, lists = head.last, MemoryRows()
        trail, bodies = [], []
        for seq in range(head.size + 1, head.size + 1 + referrals):
            name = f"ref-{seq}"
            own = first.record.model_copy(update={"id": name})
            given = CaseSaved(
                version=1, record=yaml.replace(FULL, name), digest=digest(own.plain()), invented=True
            )
            content = canonical(salted({"what": given.what, **given.model_dump(mode="json")}))
            entry = {"seq": seq, "at": moment(clock()), "person": store.person, "role": "physician", "what": given.what,
                     "reference": name, "before": "", "after": sha256(content), "prev": last}  # fmt: skip
            hashed, last = chained(entry)
            frontier.append(leaf_hash(hashed))
            trail.append(entry | {"hash": last})
            bodies.append({"seq": seq, "reference": name, "body": pack(content)})
            list_entry(lists, trail[-1], given)
        connection.execute(insert(schema.trail), trail)
        connection.execute(insert(schema.trail_body), bodies)
        for table in (schema.work, schema.version):
            connection.execute(insert(table), list(lists.tables[table.name].values()))
        put_head(connection, frontier, last)


def timed(run: Callable[[], object], times: int = 15) -> list[Used]:
    """Several runs; what counts is their processor time, which other work on the machine moves less."""
    run()
    return [used(run)[0] for _ in range(times)]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--referrals", type=int, default=100_000)
    referrals = parser.parse_args().referrals
    folder = tempfile.mkdtemp(dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None)
    try:
        with open_store(Path(folder) / "records.sqlite", "ana-1", role="physician") as store:
            measure(store, referrals)
    finally:
        shutil.rmtree(folder)


def measure(store: Store, referrals: int) -> None:
    print(machine())
    entered, _ = used(lambda: fill(store, referrals))
    print(f"{referrals} referrals entered: {told([entered])}", flush=True)
    case = load_case(demo_cases_folder() / "morning-of-the-procedure.yaml")
    full = case_from_record(case.record.model_copy(update={"id": FULL}))
    store.save_case(FULL, full, expected_version=0)
    store.assess_and_keep(FULL, as_of=DAY)

    def empty() -> Any:
        with database.reading(store._engine, store.where) as connection:
            return connection.execute(text("SELECT 1 WHERE 1 = 0")).all()

    base = timed(empty)
    print(f"empty query: {in_milliseconds(base)}", flush=True)
    for name, target, run in (
        ("list, last changed first", 100, lambda: store.list_referrals()),
        ("list, longest waiting first", 100, lambda: store.list_referrals(order="waiting")),
        ("list of one standing", 100, lambda: store.list_referrals(standing=["candidate"])),
        ("list, far down", 100, lambda: store.list_referrals(start=referrals * 4 // 5)),
        ("counts by standing", 100, store.count_referrals),
        ("open one of few facts", 50, lambda: store.open_referral(f"ref-{referrals // 2}")),
        ("open one of many facts with its answer", 50, lambda: store.open_referral(FULL)),
    ):
        found = timed(run)
        beside = statistics.median(each.cpu for each in found) - statistics.median(each.cpu for each in base)
        print(
            f"{name}: {in_milliseconds(found)}, {ratio(found, base):.0f} empty queries "
            f"(wanted: under {target} ms beside one){'' if beside * 1000 <= target else '  MISSED'}",
            flush=True,
        )
    took, verified = used(store.verify)
    print(f"verify {verified.head.size} entries, sound: {verified.sound}: {told([took])}")


def in_milliseconds(runs: list[Used]) -> str:
    cores = statistics.median(run.cores for run in runs)
    return f"{spread([run.cpu * 1000 for run in runs], 'ms', 1)}, {cores:.1f} cores"


if __name__ == "__main__":
    main()
