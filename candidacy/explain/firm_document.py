"""How firm an answer is, in a document."""

from candidacy.explain.cited_document import CitationInfo, ParameterInfo, SourceInfo
from candidacy.explain.part import Part


class FirmSourceInfo(Part):
    """A recorded value that would be measured or read again, and the published figure used for it.

    ``figure`` is the figure in words, ``spread`` what other studies print, ``model`` whether the table of readers' grades
    is a model, ``borrowed`` whether the figure is that of another measure.
    """

    element: str
    label: str
    subject: str
    value: str
    figure: str
    spread: str
    sample: str
    model: bool
    borrowed: bool
    note: str
    cites: list[CitationInfo]


class FirmFigureInfo(Part):
    """How firm one outcome or standing is: ``criterion`` is empty for a standing.

    Attributes
    ----------
    stands
        Probability, 0 to 1, that it is the same after one repeat; none where ``why`` says why not.
    error
        Standard error of that figure; 0 where it is exact.
    least, most
        The same with the largest and the smallest published figure of each value.
    becomes
        What else it would be, each with its probability.
    words
        The same in plain words.
    """

    criterion: str
    subject: str
    now: str
    stands: float | None
    error: float
    least: float | None
    most: float | None
    becomes: dict[str, float]
    why: str
    words: str
    sources: list[FirmSourceInfo]


class FirmInfo(Part):
    """How firm the answer is: what would become of it if what was measured were measured once more.

    ``asks`` is the question, ``not_told`` of what nothing can be told and why, ``settings`` which rows of published
    figures are in use.
    """

    asks: list[str]
    case: FirmFigureInfo
    discs: list[FirmFigureInfo]
    criteria: list[FirmFigureInfo]
    not_told: list[str]
    settings: list[ParameterInfo]
    sources: list[SourceInfo]
