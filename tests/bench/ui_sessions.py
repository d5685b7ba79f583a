"""What an edit costs the server of the screens beside other sessions: ``python -m tests.bench.ui_sessions``.

The real server, started as a person starts it, and people without a browser: each speaks the toolkit's protocol over a socket
of its own, has the same long case with a title of its own on the desk, and types weights. Measured is the processor time of the
whole server from the edit until it rests again, and the time until the page is answered. Where the machine is busy with other
work the latter says little; then look at the processor time of the server while a person waits, and have people edit so much
more slowly (``--every``) as the machine is slower. In one run: one session alone, beside
``--sessions`` open ones that were worked in, after these were closed, and twenty people who edit every ten seconds. No timing is
asserted.
"""

import argparse
import statistics
import threading
import time
from collections.abc import Callable
from typing import NamedTuple

from tests.bench.measured import machine, spread
from tests.bench.ui import five_discs
from tests.ui.sockets import Person, Server, served


def person(server: Server, title: str) -> Person:
    return Person(server, five_discs().model_copy(update={"title": title}))


class Cost(NamedTuple):
    """Of single edits, in seconds: the server's processor until it rests, sorted; the mean of it with all that was done
    between them, sweeps too; until the page is answered, sorted."""

    used: list[float]
    mean: float
    answered: list[float]


def cost(server: Server, one: Person, rounds: int) -> Cost:
    used, answered = [], []
    begin = server.used()
    for number in range(rounds):
        server.rest()
        before, start = server.used(), time.monotonic()
        one.edit(number)
        answered.append(time.monotonic() - start)
        server.rest()
        used.append(server.used() - before)
    return Cost(sorted(used), (server.used() - begin) / rounds, sorted(answered))


def told(name: str, found: Cost, base: Cost, memory: float) -> None:
    """Print a line."""
    used, mean, answered = found
    middle = statistics.median(used)
    print(
        f"{name}: processor {spread([1000 * each for each in used], 'ms', 0)}, "
        f"{middle / statistics.median(base.used):.2f} x; with all between {mean * 1000:.0f} ms, {mean / base.mean:.2f} x; answered in "
        f"{spread([1000 * each for each in answered], 'ms', 0)}, {middle / statistics.median(answered):.1f} cores; server holds {memory:.0f} MB",
        flush=True,
    )


class Waited(NamedTuple):
    """For an answer: seconds, and seconds of the server's processor meanwhile, whoever it worked for."""

    seconds: float
    used: float


def many_editing(server: Server, people: list[Person], every: float, lasting: float) -> list[Waited]:
    """How long people wait who each edit once in ``every`` seconds, spread evenly."""
    waited: list[Waited] = []
    end = time.monotonic() + lasting

    def work(mine: Person, number: int) -> None:
        at = time.monotonic() + every * number / len(people)
        while at < end:
            time.sleep(max(0.0, at - time.monotonic()))
            start, before = time.monotonic(), server.used()
            mine.edit(len(waited))
            waited.append(Waited(time.monotonic() - start, server.used() - before))
            at += every

    threads = [
        threading.Thread(target=work, args=given) for given in zip(people, range(len(people)), strict=True)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return waited


def p95(row: list[float]) -> float:
    return sorted(row)[int(len(row) * 0.95)]


def each(people: list[Person], act: Callable[[Person], None]) -> None:
    for one in people:
        act(one)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sessions", type=int, default=40)
    parser.add_argument("--edits", type=int, default=10, help="edits in each of the other sessions")
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--lasting", type=float, default=60.0, help="seconds that twenty people edit")
    parser.add_argument("--every", type=float, default=10.0, help="seconds between two edits of one of them")
    parser.add_argument(
        "--minutes-after", type=float, default=0.0, help="measure again so long after closing"
    )
    asked = parser.parse_args()
    print(f"{machine()}; of an edit, median (lowest to highest) of {asked.rounds}", flush=True)
    with served() as server:
        one = person(server, "alone")
        each([one] * 5, lambda each: each.edit(1000 + len(each.heard)))
        alone = cost(server, one, asked.rounds)
        before = server.memory()
        told("one session alone", alone, alone, before)
        others = [person(server, f"other {number}") for number in range(asked.sessions)]
        for number in range(asked.edits):
            each(others, lambda each, number=number: each.edit(number))  # type: ignore[misc]
        server.rest()
        held = server.memory()
        told(f"beside {asked.sessions} open ones", cost(server, one, asked.rounds), alone, held)
        print(f"memory of a session after {asked.edits} edits: {(held - before) / asked.sessions:.2f} MB")
        waited = many_editing(server, others[:20], asked.every, asked.lasting)
        for name, row, single in (
            ("", [w.seconds for w in waited], alone.answered),
            (" of the server's processor", [w.used for w in waited], alone.used),
        ):
            one_edit = statistics.median(single)
            print(
                f"20 people editing every {asked.every:g} s, {len(row)} edits: half wait {statistics.median(row) * 1000:.0f} ms{name}, "
                f"95 % at most {p95(row) * 1000:.0f} ms, {p95(row) / one_edit:.2f} x one edit alone ({one_edit * 1000:.0f} ms)",
                flush=True,
            )
        each(others, Person.close)
        told(f"after these {asked.sessions} closed", cost(server, one, asked.rounds), alone, server.memory())
        if asked.minutes_after:
            time.sleep(asked.minutes_after * 60)
            told(
                f"{asked.minutes_after:g} min later", cost(server, one, asked.rounds), alone, server.memory()
            )


if __name__ == "__main__":
    main()
