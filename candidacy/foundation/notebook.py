"""Small pieces of HTML for notebooks: escaped, without script, without style of their own beyond one line."""

from collections.abc import Iterable, Sequence

from candidacy.foundation.visible import clean


def safe(text: object) -> str:
    """Foreign text as HTML: escaped, in one line, in its own reading direction."""
    from html import escape  # nothing but a notebook asks for it

    return escape(clean(str(text)))


def table(
    title: str, header: Sequence[str], rows: Iterable[Sequence[object]], notes: Sequence[str] = ()
) -> str:
    """A table with a title above and notes below; every text is escaped."""
    head = "".join(f'<th scope="col">{safe(name)}</th>' for name in header)
    body = "".join(f"<tr>{''.join(f'<td>{safe(cell)}</td>' for cell in row)}</tr>" for row in rows)
    told = "".join(f"<p>{safe(note)}</p>" for note in notes)
    return f"<div><p><strong>{safe(title)}</strong></p><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{told}</div>"
