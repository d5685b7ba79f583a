"""Static checks of the settings that hold lists: of rows of a table, one for each data element, or of codes and elements."""

from candidacy.case.catalogue import catalogue
from candidacy.foundation.errors import Code
from candidacy.foundation.files import nearest
from candidacy.rules.cited import Setting
from candidacy.rules.findings import Findings
from candidacy.rules.library import Library

SUFFIX = "_in_use"


def check_chosen_rows(library: Library, name: str, setting: Setting, findings: Findings) -> None:
    """Say what of a setting ``TABLE_in_use`` is no row of that table, or the second row about one element."""
    table = name.removesuffix(SUFFIX)
    if not name.endswith(SUFFIX) or not library.has_table(table):
        return
    rows = {row.key: row.values.get("elements") or () for row in library.table(table).rows}
    about: dict[object, str] = {}
    place = ("settings", name, "value")
    for key in setting.value if isinstance(setting.value, tuple) else (setting.value,):
        elements = rows.get(str(key))
        if elements is None:
            close = nearest(str(key), list(rows))
            findings.add(place, Code.BAD_CHOICE, f"no such row of {table}", found=str(key),
                         expected=f"closest is {close}" if close else "")  # fmt: skip
            continue
        for element in elements if isinstance(elements, tuple) else (elements,):
            if element in about:
                findings.add(place, Code.CONTRADICTORY_RULES, f"two rows about {element}", found=str(key),
                             expected=f"one; the other is {about[element]}")  # fmt: skip
            about[element] = str(key)


def check_items(
    library: Library, name: str, value: object, place: tuple[str | int, ...], findings: Findings
) -> None:
    """Say what of a list that a setting is changed to is no row, code, data element or published item: nothing would read it."""
    if not isinstance(value, tuple):
        return
    declared = (library.base or library).settings().get(name)
    if declared is None:
        return
    values = (declared.value, *(each.value for each in declared.alternatives))
    known: set[object] = {each for published in values for each in _items(published)}
    table = name.removesuffix(SUFFIX)
    if name.endswith(SUFFIX) and library.has_table(table):
        known = {row.key for row in library.table(table).rows}
    else:
        known |= {code for element in catalogue().all for code in (element.name, *element.codes)}
    for item in value:
        if item not in known:
            close = nearest(str(item), [str(each) for each in known])
            findings.add(place, Code.BAD_CHOICE, "nothing is called so that this setting may name", found=item,
                         expected=f"closest is {close}" if close else "")  # fmt: skip


def _items(value: object) -> tuple[object, ...]:
    return value if isinstance(value, tuple) else (value,)
