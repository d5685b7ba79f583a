"""Case references as text, written alike in every table, so that the rows of one case find each other."""

from candidacy.cohort.engines import sqltext as sql

_EXACT = "1e15"  # below it a double tells whole numbers apart


def case_text(types: dict[str, str], column: str, relation: str = "") -> str:
    """SQL of a case reference: 7, 7.0 and " 7 " are the same one; NULL or blank where there is none.

    A table with a gap turns whole numbers into 7.0, and spaces around a reference are never meant.
    """
    name = (f"{relation}." if relation else "") + sql.identifier(column)
    if types.get(column) == "number":
        value = f"CAST({name} AS DOUBLE)"
        whole = f"{value} = FLOOR({value}) AND ABS({value}) < {_EXACT}"
        return (
            f"CASE WHEN isnan({value}) THEN NULL WHEN {whole} THEN CAST(CAST({value} AS BIGINT) AS VARCHAR) "
            f"ELSE CAST({name} AS VARCHAR) END"
        )
    return sql.trimmed(f"CAST({name} AS VARCHAR)")
