"""Server time of one edit on the Referral page, and of the demonstration cases in a table: ``python -m tests.bench.ui``.

A case with five described discs is edited with the disc grid open. Ratios in the same run, in processor time: against
an empty rerun of the same page (wanted: at most 2), against assessing and explaining the case alone, and against drawing as many
bare input fields with the same toolkit. All demonstration cases side by side: against assessing and explaining them alone, and
against drawing the page again. No timing is asserted anywhere.
"""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from streamlit import config
from streamlit.testing.v1 import AppTest

from candidacy.assessment.assess import assess
from candidacy.case.edit import with_fact
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.explain.build import build_document
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set
from candidacy.ui.desk import Desk
from tests.bench.measured import Used, machine, ratio, told, used

ROOT = Path(__file__).resolve().parents[2]
TODAY = date(2026, 11, 25)
KINDS = ("text_input", "selectbox", "button", "button_group", "multiselect", "toggle")
ROUNDS = 9
REFUSED = ("mixed-scales", "impossible-values")  # demonstrate what is refused


def five_discs() -> CaseRecord:
    """A demonstration case with every usual disc described."""
    record = load_case(demo_cases_folder() / "two-discs-candidate.yaml").record
    facts = record.discs["L4-L5"]
    return record.model_copy(
        update={"discs": dict.fromkeys(("L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1"), facts)}
    )


def rounds(work: Callable[[int], object], count: int = ROUNDS) -> list[Used]:
    """What a piece of work took in each round, after two rounds to warm up."""
    return [used(lambda number=number: work(number))[0] for number in range(count + 2)][2:]  # type: ignore[misc]


def page(**kept: object) -> AppTest:
    """The Referral page with the case open."""
    config.set_option("server.address", "127.0.0.1")
    config.set_option("browser.gatherUsageStats", False)
    desk = Desk(today=lambda: TODAY)
    desk.open(five_discs(), "opened")
    desk.kept.update(kept)
    app = AppTest.from_file(str(ROOT / "candidacy" / "ui" / "app.py"), default_timeout=60)
    app.session_state["desk"], app.session_state["token"] = desk, "bench"
    return app.run()


def edit(app: AppTest, number: int) -> None:
    """Type another weight."""
    next(w for w in app.text_input if w.key == "form-patient-body_weight").set_value(str(70 + number)).run()


def main() -> None:
    """Measure and print."""
    rule_set = load_rule_set("practice_baseline")

    def alone(number: int) -> None:
        record = with_fact(
            five_discs_record, "patient", "body_weight", FactEntry(value=70 + number, unit="kg")
        )
        build_document(assess(case_from_record(record), rule_set, TODAY))

    five_discs_record = five_discs()
    print(f"{machine()}; median (lowest to highest) of {ROUNDS} rounds")
    base = rounds(alone)
    print(f"assess and explain alone ({len(rule_set.criteria)} criteria, five discs): {told(base)}")
    views = {
        "facts, two groups open": {},
        "facts, disc grid open too": {"open-disc": True},
        "facts, everything about discs open": {"open-disc": True, "all-discs": True},
    }
    for name, kept in views.items():
        app = page(**kept)
        widgets = sum(len(app.get(kind)) for kind in KINDS)
        took = rounds(lambda number, app=app: edit(app, number))
        bare = AppTest.from_string(
            f"import streamlit as st\nfor n in range({widgets}):\n    st.text_input(str(n), key=str(n))\n",
            default_timeout=60,
        ).run()
        drawing = rounds(lambda number, bare=bare: bare.run())
        empty = rounds(lambda number, app=app: app.run())
        print(f"{name}, {widgets} widgets: {told(took)}")
        print(
            f"  {ratio(took, empty):.2f} x an empty rerun ({told(empty)}), {ratio(took, base):.1f} x assessing alone, "
            f"{ratio(took, drawing):.1f} x drawing as many bare fields ({told(drawing)})"
        )
    table()


def table() -> None:
    """The demonstration cases side by side under two rule sets: the first drawing, and one again."""
    cases = [
        (file.stem, load_case(file))
        for file in sorted(demo_cases_folder().glob("*.yaml"))
        if file.stem not in REFUSED
    ]
    sets = ("practice_baseline", "wide_screen")

    def alone(_: int) -> None:
        for stem, _ in cases:
            case = load_case(demo_cases_folder() / f"{stem}.yaml")
            for name in sets:
                build_document(assess(case, load_rule_set(name), TODAY))

    def drawn(_: int) -> AppTest:
        desk = Desk(today=lambda: TODAY)
        desk.kept |= {"compare-view": "Several cases", "compare": list(sets)}
        desk.kept["cases"] = [(stem, case.record) for stem, case in cases]
        app = AppTest.from_string(
            "from candidacy.ui.side_by_side import side_by_side\nside_by_side()\n", default_timeout=120
        )
        app.session_state["desk"], app.session_state["token"] = desk, "bench"
        return app.run()

    base, first = rounds(alone, 3), rounds(drawn, 3)
    app = drawn(0)
    again = rounds(lambda _: app.run(), 3)
    print(f"{len(cases)} cases under {len(sets)} rule sets, drawn first: {told(first)}")
    print(f"  {ratio(first, base):.2f} x assessing them alone ({told(base)}); drawn again: {told(again)}")


if __name__ == "__main__":
    main()
