"""What a screening is measured by: the queries by hand answer every criterion."""

from candidacy.rules.libraries import load_rule_set
from tests.bench.cohort_by_hand import DISC_SQL, PATIENT_SQL

_COUNTED = {
    "number_of_discs_to_treat",
    "considered_disc_borderline_or_open",
}  # made of what the discs come to


def test_every_criterion_is_written_by_hand() -> None:
    of = {
        subject: {
            item.id
            for item in load_rule_set("practice_baseline").criteria
            if item.criterion.subject == subject
        }
        for subject in ("patient", "disc")
    }
    assert of["patient"] == set(PATIENT_SQL) | _COUNTED
    assert of["disc"] == set(DISC_SQL)
