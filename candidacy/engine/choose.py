"""Which chainer serves: durable-rules where it can be imported, else the direct one, with a notice."""

import threading
from functools import cache
from pathlib import Path

from candidacy.engine.decision import Chainer, DirectChainer
from candidacy.rules.decision_order import DecisionOrder, DecisionPattern
from candidacy.rules.vocabulary import Standing

_guard = threading.Lock()
_Read = tuple[str, tuple[tuple[str, Standing, tuple[DecisionPattern, ...]], ...]]
_hosts: dict[_Read, Chainer] = {}
_KEPT = 64


def _durable(order: DecisionOrder) -> Chainer | None:
    try:
        from candidacy.engine.durable_chainer import DurableChainer
    except ImportError:
        return None
    # what a chainer reads of an order; its words decide nothing
    read = order.id, tuple((rule.id, rule.standing, rule.when) for rule in order.rules)
    found = _hosts.get(read)
    if found is None:
        if len(_hosts) >= _KEPT:
            _hosts.clear()
        found = _hosts[read] = DurableChainer(order, keeps=True)
    return found


def chainer_for(order: DecisionOrder, prefer: str = "durable-rules") -> tuple[Chainer, str]:
    """A chainer for an order of decision rules, and a notice if it is not the usual one.

    One host per order is kept and reused, because the library cannot unregister rules.
    """
    if prefer == "durable-rules":
        with _guard:
            chainer = _durable(order)
        if chainer is not None:
            return chainer, ""
        return DirectChainer(order), (
            "durable-rules cannot be imported on this Python, so the direct chainer ran the same decision rules"
        )
    return DirectChainer(order), "the direct chainer was asked for"


def engine_of(version: str) -> str:
    """The name by which the engine of a name and version is asked for again."""
    return "durable-rules" if version.startswith("durable-rules") else "direct"


def engine_version(chainer: Chainer) -> str:
    """Name and version of the engine that served."""
    if chainer.name == "durable-rules":
        return f"durable-rules {_library_version()}"
    return chainer.name


@cache
def _library_version() -> str:
    """The version of durable-rules, as its installer wrote it into the name of a folder beside it.

    `importlib.metadata` says the same, but loads the reader of e-mails for it, which a start would wait for.
    """
    import durable

    start, end = "durable_rules-", ".dist-info"
    folder = Path(durable.__file__).parent.parent
    found = [each.name for each in folder.glob(f"{start}*{end}")]
    if len(found) == 1:
        return found[0].removeprefix(start).removesuffix(end)
    from importlib import metadata

    return metadata.version("durable_rules")
