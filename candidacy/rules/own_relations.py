"""Relations of one's own beside those of the library that it extends."""

from collections.abc import Callable, Mapping
from pathlib import Path

from candidacy.foundation.errors import Code, Problem, RuleError
from candidacy.foundation.parsed import ParsedFile
from candidacy.rules.findings import Findings
from candidacy.rules.relation_fit import circle_of, relation_misfits
from candidacy.rules.relations import Relation, RelationFile
from candidacy.rules.replacing import Declare, check_replaced_relation


def relations_beside(
    base: Mapping[str, Relation],
    files: Mapping[Path, RelationFile],
    tree: Callable[[Path], ParsedFile],
    declare: Declare,
    *,
    fitted: bool,
) -> dict[str, Relation]:
    """Relations of files, of one folder, beside others by their element, or in their place where they say so.

    Parameters
    ----------
    fitted
        They were found to fit the catalogue before, and are not looked at again.

    Raises
    ------
    RuleError
        With everything that is wrong; E105 if an element has two in the files, E310 if relations form a circle.
    """
    found = dict(base)
    own: set[str] = set()
    for path, file in files.items():
        problems = Findings(path, tree(path))
        for number, relation in enumerate(file.relations):
            place = ("relations", number)
            if relation.element in own:
                problems.add((*place, "element"), Code.DUPLICATE_KEY, "two relations are of this element",
                             found=relation.element)  # fmt: skip
            own.add(relation.element)
            former = "" if relation.element in base else None
            declare("relation", relation.element, relation.replaces, ("", former), problems, place)
            if former is not None and relation.replaces is not None:
                check_replaced_relation(relation, base[relation.element], problems, place)
            found[relation.element] = relation
            for wrong in () if fitted else relation_misfits(relation):
                problems.add_misfit(wrong, place)
        problems.stop()
    circle = [] if fitted else circle_of(found)
    if circle:
        raise RuleError(
            [
                Problem(
                    Code.CYCLE,
                    "relations form a circle",
                    str(next(iter(files)).parent),
                    found=" -> ".join(circle),
                )
            ]
        )
    return found
