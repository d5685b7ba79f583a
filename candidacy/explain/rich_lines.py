"""Lines in colour for the terminal."""

from collections.abc import Iterable

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from candidacy.explain.lines import Line, Pairs


def in_colour(lines: Iterable[Line | Pairs]) -> list[RenderableType]:
    """Lines as the terminal shows them; free text is never markup."""
    return [_table(each) if isinstance(each, Pairs) else _line(each) for each in lines]


def _line(line: Line) -> RenderableType:
    text = Text(style=line.style)
    for words, style in line.pieces:
        text.append(words, style=style)
    return Padding(text, (0, 0, 0, line.indent)) if line.indent else text


def _table(pairs: Pairs) -> Table:
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column(overflow="fold", max_width=pairs.most)
    table.add_column()
    for name, words in pairs.rows:
        table.add_row(Text(name, style=pairs.style), Text(words))
    return table
