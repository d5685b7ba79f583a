"""A paragraph for the terminal that stands in from the left."""

from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.text import Text


class Indented:
    """Text of which every line begins so many columns in; no spaces follow its lines, so that they can be copied.

    A tenth of the work of rich's padding, which makes each line as wide as the screen.
    """

    def __init__(self, text: Text, columns: int) -> None:
        self._text, self._columns = text, columns

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        indent = Segment(" " * self._columns)
        for line in self._text.wrap(console, max(options.max_width - self._columns, 1)):
            # plain spaces alone: any other, such as one that must not break, is what the text says
            if spaces := len(line.plain) - len(line.plain.rstrip(" ")):
                line.right_crop(spaces)
            yield indent
            yield from line.render(console, end="\n")
