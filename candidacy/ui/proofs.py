"""What is proved about the rule set at hand, worked out when somebody asks for it."""

import streamlit as st

from candidacy.prove.available import EXTRA, can_prove
from candidacy.prove.document import ProofInfo, Proofs
from candidacy.prove.text import outcome, sections
from candidacy.rules.resolved import RuleSet
from candidacy.ui import show
from candidacy.ui.session import desk


def proofs(rule_set: RuleSet) -> None:
    """Draw the part of the page that asks for proofs, and what was proved."""
    st.subheader("Proofs")
    if not can_prove():
        show.note(f"Proofs about rule sets need an extra: {EXTRA}", "notice")
        return
    show.note("What this rule set can never say, over all records. It takes up to a minute.")
    day = desk().today()
    kept = f"proof {rule_set.digest} {day.isoformat()}"
    if st.button("Prove this rule set", key="prove-go") and kept not in st.session_state:
        with st.spinner("Proving"):
            from candidacy.prove.prove import prove

            st.session_state[kept] = prove(rule_set, day)
    proof: ProofInfo | None = st.session_state.get(kept)
    if proof is None:
        return
    show.put("proofs.html", proof=proof, sections=list(sections(proof)), outcome=outcome(proof))
    from candidacy.prove.prove import SOLVER

    told = Proofs(schema_version="1", solver=SOLVER, proofs=[proof])
    st.download_button(
        "Proofs (JSON)", told.to_json(), f"{rule_set.id}-proofs.json", "application/json", key="prove-json"
    )
