"""Rule sets: read one as a document, try a parameter without touching what is shipped."""

import streamlit as st

from candidacy.explain.change import changes
from candidacy.explain.headline import headline
from candidacy.explain.page import rule_set_page
from candidacy.explain.ruleset import describe_rule_set
from candidacy.explain.trial import trial_file_part, tried_info
from candidacy.explain.wording import code_words, listed, with_unit
from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter, RuleSet
from candidacy.rules.trial_file import trial_file, value_from_text
from candidacy.ui import show
from candidacy.ui.exports import Export
from candidacy.ui.head_line import bar
from candidacy.ui.libraries import libraries
from candidacy.ui.proofs import proofs
from candidacy.ui.session import desk, kept_choice, safely


def rule_sets() -> None:
    """Draw the page."""
    rule_set = desk().rule_set()
    bar(_exports(rule_set))
    st.subheader("Try a parameter")
    show.note(
        "A trial stays on this desk and is marked wherever it is used. The shipped rule set is never changed."
    )
    _trial_form(rule_set)
    if rule_set.trial:
        _effect(rule_set)
    libraries()
    proofs(rule_set)
    show.put("rule_set.html", r=describe_rule_set(rule_set), own=_own_data(rule_set.id))


def _own_data(identifier: str) -> dict[str, list[str]]:
    """What the practice's own patients say about each limit, where their records lie on the desk."""
    if not desk().kept.get("outcomes-files"):
        return {}
    from candidacy.ui.outcomes.desk_records import of_rule_set

    return of_rule_set(identifier)


def _exports(rule_set: RuleSet) -> list[Export]:
    name = f"{rule_set.id}{trial_file_part(tried_info(rule_set))}"

    def pdf() -> bytes:
        from candidacy.explain.pdf import rule_set_pdf

        return rule_set_pdf(describe_rule_set(rule_set))

    found = [
        Export("Rule set (JSON)", f"{name}-document.json", "application/json",
               lambda: describe_rule_set(rule_set).model_dump_json(indent=2) + "\n"),
        Export("Rule set to print (HTML)", f"{name}-document.html", "text/html", lambda: rule_set_page(describe_rule_set(rule_set))),
        Export("Rule set (PDF)", f"{name}-document.pdf", "application/pdf", pdf),
    ]  # fmt: skip
    if rule_set.trial:
        day = desk().today().isoformat()
        found.append(Export("Changed rule set (YAML)", f"{rule_set.id}_local.yaml", "application/yaml",
                            lambda: trial_file(rule_set, f"{rule_set.id}_local", day)))  # fmt: skip
    return found


def parameter_words(parameter: ResolvedParameter) -> str:
    """The value in use, with its unit."""
    values = parameter.value if isinstance(parameter.value, tuple) else (parameter.value,)
    return with_unit(listed([code_words(v) for v in values], "or"), parameter.unit or "")


def _trial_form(rule_set: RuleSet) -> None:
    # Limits of emergencies come last: they are the least fit to be tried.
    ordered = sorted(rule_set.criteria, key=lambda item: item.force == "stop")
    items = {item.id: item for item in ordered if item.parameters}
    if not items:
        show.note("No criterion of this rule set has a parameter.")
        return
    with st.container(horizontal=True, vertical_alignment="bottom"):
        chosen = st.selectbox("Criterion", list(items), key=kept_choice("trial-criterion", next(iter(items)), list(items)),
                              format_func=lambda i: items[i].criterion.title, on_change=_keep_criterion, width=340)  # fmt: skip
        item: ResolvedCriterion = items[chosen]
        names = list(item.parameters)
        name = st.selectbox("Parameter", names, key=f"trial-parameter-{chosen}", width=300,
                            format_func=lambda n: f"{item.parameters[n].declared.meaning}: {parameter_words(item.parameters[n])}")  # fmt: skip
        parameter = item.parameters[name]
        unit = f" ({parameter.unit})" if parameter.unit else ""
        commas = ", commas between" if isinstance(parameter.value, tuple) else ""
        st.text_input(f"Value to try{unit}{commas}", key="trial-value", width=180, max_chars=200)
        st.button("Try", type="primary", key="trial-go", on_click=_try, args=(chosen, name))
        st.button("Drop the trial", key="trial-drop", on_click=_drop, disabled=not rule_set.trial)
    show.put("parameter.html", p=parameter)


@safely
def _keep_criterion() -> None:
    desk().kept["trial-criterion"] = st.session_state["kept-trial-criterion"]


@safely
def _try(criterion: str, name: str) -> None:
    shipped = desk().rule_set(trial=False)
    value = value_from_text(shipped.criterion(criterion).parameters[name], st.session_state["trial-value"])
    trial = {**desk().trials.get(desk().rules, {}), (criterion, name): value}
    shipped.with_trial(trial)
    desk().trials[desk().rules] = trial
    st.session_state["trial-value"] = ""


@safely
def _drop() -> None:
    desk().trials.pop(desk().rules, None)


def _effect(rule_set: RuleSet) -> None:
    before, after = desk().document(trial=False), desk().document()
    shipped = desk().rule_set(trial=False)
    rows = []
    for (criterion, name), _ in desk().trials[desk().rules].items():
        old, new = shipped.criterion(criterion), rule_set.criterion(criterion)
        rows.append((old.criterion.title, old.parameters[name].declared.meaning, parameter_words(old.parameters[name]),
                     parameter_words(new.parameters[name])))  # fmt: skip
    show.put("trial.html", rows=rows, before=headline(before), after=headline(after),
             case=desk().record.title or desk().record.id)  # fmt: skip
    show.put("changes.html", label="trial against the shipped rule set, for the open referral", changes=changes(before, after),
             opened=False)  # fmt: skip
