"""``candidacy rules prove``."""

import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, parse_day, rule_files, write_whole

if TYPE_CHECKING:
    from candidacy.prove.document import CriterionMoveInfo, MoveInfo, ProofInfo

    _Move = TypeVar("_Move", MoveInfo, CriterionMoveInfo)


@click.command(
    epilog="""
\b
Examples:
  candidacy rules prove practice_baseline
  candidacy rules prove practice_baseline --against trial_style_strict --witnesses moved
  candidacy rules prove my_rules/sets/my_rules --against practice_baseline --format md --out proofs.md
  candidacy rules prove practice_baseline --case referral.yaml
"""
)
@click.argument("name", metavar="[ID_OR_PATH]", required=False)
@click.option(
    "--against",
    metavar="ID_OR_PATH",
    help="Another rule set, or an earlier version: who moves, with a record for each.",
)
@click.option(
    "--witnesses",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write the record of each move as a case file into this folder.",
)
@click.option(
    "--case",
    "case_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="How far each number of the rule set may go with no outcome of this case changing.",
)
@click.option(
    "--as-of",
    metavar="DATE",
    callback=parse_day,
    help="Day of the proofs, without it today; and of --case, without it the day that the case names.",
)
@click.option(
    "--format", "form", type=click.Choice(["text", "json", "md"]), default="text", show_default=True
)
@out_options
@with_library("name", "against")
def prove(
    name: str | None,
    against: str | None,
    witnesses: Path | None,
    case_file: Path | None,
    as_of: date | None,
    form: str,
    out: Path | None,
    replace: bool,
) -> None:
    """Prove what a rule set can never say, and where two rule sets differ.

    Without a name every rule set is proved. Needs the extra prove. A difference is shown by an invented record, which was read in
    the ordinary way. Exit status 1 where a fault is found.
    """
    from candidacy.prove.available import need_solver

    need_solver()
    if name is None and (against or case_file):
        raise click.UsageError("name the rule set that is compared, or that the case is read under")
    if witnesses is not None and against is None:
        raise click.UsageError("--witnesses writes the records of --against OTHER")
    inputs = rule_files(*(each for each in (name, against) if each))
    check_out(out, replace, inputs)
    from candidacy.prove.document import Proofs
    from candidacy.prove.prove import SOLVER, prove_against, prove_case
    from candidacy.prove.prove import prove as proved
    from candidacy.prove.text import as_markdown, as_text
    from candidacy.rules.libraries import library_in_use, load_rule_set

    day = as_of or date.today()
    names = [name] if name else library_in_use().rule_set_names()
    found = []
    for each in names:
        rule_set = load_rule_set(each)
        proof = proved(rule_set, day)
        if against is not None:
            proof = prove_against(proof, rule_set, load_rule_set(against), day)
        if case_file is not None:
            proof = prove_case(proof, rule_set, case_file, as_of)
        found.append(proof)
    if witnesses is not None:
        found = [_with_files(proof, witnesses, replace) for proof in found]
    proofs = Proofs(schema_version="1", solver=SOLVER, proofs=found)
    told = proofs.to_json() if form == "json" else as_markdown(proofs) if form == "md" else as_text(proofs)
    emit(told, out, replace=replace, inputs=inputs)
    if any(proof.faults for proof in found):
        sys.exit(1)


def _with_files(proof: "ProofInfo", folder: Path, replace: bool) -> "ProofInfo":
    """The proof, with the records of its moves written to files."""
    from candidacy.case.load import case_from_mapping

    if proof.comparison is None:
        return proof
    folder.mkdir(parents=True, exist_ok=True)
    found = proof.comparison

    def written(move: "_Move") -> "_Move":
        if move.witness is None:
            return move
        path = folder / f"{move.witness['id']}.yaml"
        write_whole(path, case_from_mapping(move.witness).to_yaml(), replace=replace and path.exists())
        return move.model_copy(update={"file": str(path)})

    told = found.model_copy(
        update={"moves": list(map(written, found.moves)), "criteria": list(map(written, found.criteria))}
    )
    return proof.model_copy(update={"comparison": told})
