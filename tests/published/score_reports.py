"""Score report reading against a marked set: ``python -m tests.published.score_reports GOLD.jsonl``.

Prints JSON: first the silent wrong facts per 1 000 asserted (wrong, and nothing in the reading warns of them), then
precision, recall and F1 per field and value, per disc, and over all present findings, every finding asserted where
the gold says absent or possible, the share of sentences shown as unread, and the list of differences. A gold line is one report:
``{"report_id", "text", "discs": {disc: {field: value}}, "whole_report": {field: value}}``; a field left out or
``not_stated`` is not stated. The discs count: a finding at the wrong disc is one false and one missed finding.
"""

import json
import sys
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from candidacy.reading import Reading, read_text
from candidacy.reading.marks import DISC_FIELDS, marks

NOT_PRESENT = frozenset(("none", "absent", "possible", "not_stated", None))
Item = tuple[str, str, str]


def present(discs: Mapping[str, Mapping[str, str]]) -> set[Item]:
    """Give (disc, field, value) for everything stated as present; a possible displacement is not."""
    out: set[Item] = set()
    for disc, fields in discs.items():
        for field in DISC_FIELDS:
            value = fields.get(field)
            if value in NOT_PRESENT:
                continue
            if field == "displacement" and fields.get("displacement_certainty") == "possible":
                continue
            out.add((disc, field, str(value)))
    return out


def ratio(tp: int, fp: int, fn: int) -> dict[str, float | int]:
    """Give counts with precision, recall and F1 (1.0 where there was nothing to find and nothing was found)."""
    return {
        "tp": tp,
        "fp": fp,
        "fn": fn,
        "precision": round(tp / (tp + fp), 4) if tp + fp else 1.0,
        "recall": round(tp / (tp + fn), 4) if tp + fn else 1.0,
        "f1": round(2 * tp / (2 * tp + fp + fn), 4) if tp + fp + fn else 1.0,
    }


class Tally:
    """Counts of right, false and missed findings under any number of names."""

    def __init__(self) -> None:
        self.tp: Counter[str] = Counter()
        self.fp: Counter[str] = Counter()
        self.fn: Counter[str] = Counter()

    def add(self, gold: set[Item], mine: set[Item], name: Any) -> None:
        self.tp.update(name(i) for i in gold & mine)
        self.fp.update(name(i) for i in mine - gold)
        self.fn.update(name(i) for i in gold - mine)

    def table(self) -> dict[str, dict[str, float | int]]:
        names = sorted({*self.tp, *self.fp, *self.fn})
        return {n: ratio(self.tp[n], self.fp[n], self.fn[n]) for n in names}


def asserted_wrongly(gold: Mapping[str, Any], mine: set[Item]) -> list[Item]:
    """List present findings of ours where the gold says absent, none or possible of that disc and field."""
    out = []
    for disc, field, value in sorted(mine):
        fields = gold["discs"].get(disc, {})
        said = fields.get(field)
        certain = fields.get("displacement_certainty") != "possible" if field == "displacement" else True
        if said in ("none", "absent", "possible") or (said not in (None, "not_stated") and not certain):
            out.append((disc, field, value))
    return out


def all_values(discs: Mapping[str, Mapping[str, str]]) -> set[Item]:
    """Give every stated value, denials and doubts among them."""
    return {
        (disc, field, str(value))
        for disc, fields in discs.items()
        for field, value in fields.items()
        if value not in (None, "not_stated")
    }


CERTAIN_DOUBT = frozenset(("possible", "not_stated", None))


def certain(discs: Mapping[str, Mapping[str, str]]) -> set[Item]:
    """Give every value asserted of a disc, presence and absence alike; what is in doubt is no assertion."""
    out: set[Item] = set()
    for disc, fields in discs.items():
        for field in DISC_FIELDS:
            value = fields.get(field)
            doubted = field == "displacement" and fields.get("displacement_certainty") == "possible"
            if value not in CERTAIN_DOUBT and not doubted:
                out.add((disc, field, str(value)))
    return out


def warned(reading: Reading) -> set[tuple[str, str]]:
    """Give disc and field of all that the reading itself raises as a question or a contradiction."""
    return {(q.disc, field_of(q.kind)) for q in (*reading.questions, *reading.contradictions)}


def field_of(kind: str) -> str:
    """Give the field of the marks that a kind of finding fills."""
    return {"disc_height_loss": "height_loss", "high_intensity_zone": "annular_fissure",
            "meyerding_grade": "listhesis"}.get(kind, kind)  # fmt: skip


def score(reports: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Read each report and compare it with its marks."""
    overall, by_field, by_value, by_disc, presence = Tally(), Tally(), Tally(), Tally(), Tally()
    stated, whole = Tally(), Tally()
    wrong: list[dict[str, str]] = []
    silent: list[dict[str, str]] = []
    asserted = sentences = unread = 0
    differences: list[dict[str, Any]] = []
    count = missed_discs = extra_discs = 0
    for gold in reports:
        count += 1
        reading = read_text(gold["text"])
        mine = marks(reading)
        g, m = present(gold["discs"]), present(mine["discs"])  # type: ignore[arg-type]
        overall.add(g, m, lambda i: "all")
        by_field.add(g, m, lambda i: i[1])
        by_value.add(g, m, lambda i: f"{i[1]}={i[2]}")
        by_disc.add(g, m, lambda i: i[0])
        told = certain(mine["discs"])  # type: ignore[arg-type]
        asserted += len(told)
        sentences += sum(a.statement >= 0 for a in reading.ledger)
        unread += sum(a.statement >= 0 and bool(a.missed) for a in reading.ledger)
        raised = warned(reading)
        silent += [
            {"report_id": gold["report_id"], "disc": d, "field": f, "value": v}
            for d, f, v in sorted(told - all_values(gold["discs"]))
            if (d, f) not in raised
        ]
        presence.add({(d, f, "") for d, f, _ in g}, {(d, f, "") for d, f, _ in m}, lambda i: i[1])
        ga, ma = all_values(gold["discs"]), all_values(mine["discs"])  # type: ignore[arg-type]
        stated.add(ga, ma, lambda i: i[1])
        gw = {("whole", k, str(v)) for k, v in gold.get("whole_report", {}).items() if v != "not_stated"}
        mw = {("whole", k, str(v)) for k, v in mine["whole_report"].items()}
        whole.add(gw, mw, lambda i: i[1])
        missed_discs += len(set(gold["discs"]) - set(mine["discs"]))
        extra_discs += len(set(mine["discs"]) - set(gold["discs"]))
        wrong += [
            {"report_id": gold["report_id"], "disc": d, "field": f, "value": v}
            for d, f, v in asserted_wrongly(gold, m)
        ]
        missing, false = sorted((ga | gw) - (ma | mw)), sorted((ma | mw) - (ga | gw))
        if missing or false:
            differences.append({"report_id": gold["report_id"], "missing": missing, "not_in_gold": false})
    micro = overall.table().get("all", ratio(0, 0, 0))
    fields = by_field.table()
    return {
        "reports": count,
        "silent_wrong_per_1000_asserted": round(1000 * len(silent) / asserted, 2) if asserted else 0.0,
        "asserted": asserted,
        "silent_wrong": silent,
        "share_of_sentences_unread": round(unread / sentences, 4) if sentences else 0.0,
        "present_findings_micro": micro,
        "displacement": fields.get("displacement", ratio(0, 0, 0)),
        "asserted_where_gold_says_absent_or_possible": wrong,
        "by_field": fields,
        "by_field_presence_only": presence.table(),
        "by_value": by_value.table(),
        "by_disc": by_disc.table(),
        "all_stated_values": stated.table(),
        "whole_report": whole.table(),
        "discs": {"missed": missed_discs, "not_in_gold": extra_discs},
        "differences": differences,
    }


def load(path: Path) -> list[dict[str, Any]]:
    """Read a marked set, one JSON object a line."""
    return [json.loads(line) for line in path.read_text("utf-8").splitlines() if line.strip()]


def main(arguments: list[str]) -> int:
    """Score the marked set named on the command line and print the result as JSON."""
    if len(arguments) != 1:
        print("usage: python -m tests.published.score_reports GOLD.jsonl", file=sys.stderr)
        return 2
    json.dump(score(load(Path(arguments[0]))), sys.stdout, indent=1, ensure_ascii=False)
    print()
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
