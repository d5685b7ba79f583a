"""A signed decision on the checklist of the day: told where it covers what is planned, and never taken for more."""

from pathlib import Path

from click.testing import CliRunner

from candidacy.cli import group
from candidacy.conference.for_the_day import decision_for_the_day
from candidacy.day.checklist import checklist
from candidacy.foundation.shipped import demo_cases_folder
from tests.conference.conftest import HEAVY, Seat, seat, seat_file  # noqa: F401


def test_a_decision_counts_for_its_discs_and_its_record_alone(seat: Seat) -> None:  # noqa: F811
    words, store = checklist().words, seat.store
    assert decision_for_the_day((), ("L4-L5",), words, same_record=True) is None
    store.sign(HEAVY, "treat", "responsibility", "Weight is borne by table and needle.", responsible="physician-1",
               expected_version=1, discs=["L4-L5"])  # fmt: skip

    def said(*discs: str, same: bool = True) -> tuple[str, str]:
        found = decision_for_the_day(store.open_referral(HEAVY).decisions, discs, words, same_record=same)
        assert found is not None
        return found.state, found.text

    assert said("L4-L5")[0] == "recorded"
    assert said("L4-L5", "L5-S1")[0] == "wait"
    assert "not every planned disc" in said("L5-S1")[1]
    assert said("L4-L5", same=False)[0] == "wait"
    last = store.sign(
        HEAVY, "not", "responsibility", "Changed mind.", responsible="physician-1", expected_version=1
    )
    state, text = said("L4-L5")
    assert (state, f"entry {last.seq} " in text) == ("stop", True)


def test_the_command_tells_the_decision_of_the_store_and_waits_where_none_is_kept(
    seat: Seat,  # noqa: F811
) -> None:
    store = seat.store

    def line(case: Path) -> str:
        result = CliRunner().invoke(group, ["day", str(case), "--disc", "L4-L5", "--on", "2026-12-10", "--store", str(seat.file),
                                            "--person", "physician-1"])  # fmt: skip
        assert result.exception is None, result.exception
        return " ".join(result.output.split())

    case = demo_cases_folder() / f"{HEAVY}.yaml"
    assert "no decision of a conference is known here" in line(case)
    store.sign(
        HEAVY,
        "treat",
        "responsibility",
        "Weight is borne.",
        responsible="physician-1",
        expected_version=1,
        discs=["L4-L5"],
    )
    assert "Decision to treat that is known here: entry" in line(case)
