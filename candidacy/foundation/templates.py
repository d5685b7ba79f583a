"""Templates of pages: every value put into one is escaped, and a name that was not given is an error."""

from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment, Template


def template_text(package: str, name: str) -> str:
    """The text of a file in the folder ``templates`` of a package."""
    return (resources.files(package) / "templates" / name).read_text(encoding="utf-8")


def templates_of(package: str) -> "Environment":
    """The templates of a package, by the names of their files."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    return Environment(
        loader=FunctionLoader(lambda name: template_text(package, name)),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def template(package: str, name: str) -> "Template":
    """One template that needs no words but those it is given, compiled once."""
    return templates_of(package).get_template(name)
