"""Errors of this package and the one shape in which every finding about an input is told.

CandidacyError
├── InputError          something given to us cannot be used; holds every problem found, in order
│   ├── CaseError       a case record
│   ├── CourseError     a course record
│   ├── RuleError       a criterion, rule set, source list or case beside a criterion
│   ├── ReportError     an imaging report that cannot be read
│   ├── TableError      a cohort table or its mapping
│   └── StoreError      kept referrals: the store itself, or what was asked of it
└── EngineError         the two chainers or the outcomes contradict our own laws; never the user's fault
"""

from enum import Enum

from msgspec import Struct


class Code(Enum):
    """Closed list of reasons; programs branch on these, never on message text.

    The value is the code; each is explained, with an input that triggers it, in DEVELOPERS.md.
    E1xx files and syntax, E2xx case records, E3xx rules, E4xx reports, E5xx tables, E6xx usage, E7xx kept referrals, E9xx
    our own faults.
    """

    UNREADABLE = "E101"
    TOO_LARGE = "E102"
    NOT_TEXT = "E103"
    SYNTAX = "E104"
    DUPLICATE_KEY = "E105"
    ALIAS = "E106"
    TOO_DEEP = "E107"
    BAD_SCALAR = "E108"
    EMPTY = "E109"
    UNKNOWN_KEY = "E201"
    MISSING_KEY = "E202"
    WRONG_TYPE = "E203"
    UNKNOWN_ELEMENT = "E204"
    IMPOSSIBLE_VALUE = "E205"
    BAD_UNIT = "E206"
    BAD_DATE = "E207"
    BAD_CHOICE = "E208"
    BAD_LEVEL = "E209"
    WRONG_SCALE = "E210"
    CONTRADICTION = "E211"
    UNKNOWN_DOCUMENT = "E212"
    BAD_VERSION = "E213"
    BAD_RULE = "E301"
    UNKNOWN_RULE_SET = "E302"
    UNKNOWN_CRITERION = "E303"
    UNKNOWN_PARAMETER = "E304"
    UNUSED_PARAMETER = "E305"
    UNCITED = "E306"
    UNKNOWN_SOURCE = "E307"
    NO_CASES = "E308"
    CASE_DIFFERS = "E309"
    CYCLE = "E310"
    UNIT_CONFUSED = "E311"
    STATUS_TOO_HIGH = "E312"
    UNDECIDED = "E313"
    CONTRADICTORY_RULES = "E314"
    UNREACHABLE = "E315"
    PROVED_IMPOSSIBLE = "E316"
    BAD_REPORT = "E401"
    OTHER_LANGUAGE = "E402"
    OTHER_REGION = "E403"
    WITHDRAWN = "E404"
    UNFILLED = "E405"
    BAD_TABLE = "E501"
    BAD_MAPPING = "E502"
    USAGE = "E601"
    BAD_STORE = "E701"
    CHANGED_MEANWHILE = "E702"
    NOT_ALLOWED = "E703"
    UNKNOWN_REFERRAL = "E704"
    DOES_NOT_VERIFY = "E705"
    INTERNAL = "E901"


class Problem(Struct, frozen=True):
    """One finding about an input: where, what was found, what is allowed, and the way out."""

    code: Code
    message: str
    file: str = ""
    line: int = 0
    column: int = 0
    field: str = ""
    found: str = ""
    expected: str = ""
    next_step: str = ""

    def as_dict(self) -> dict[str, str | int]:
        """The finding for a program: always the same keys, empty text or 0 for what it does not tell.

        Examples
        --------
        >>> Problem(Code.BAD_DATE, "there is no such day", "case.yaml", 4, found="2026-02-30").as_dict()["code"]
        'E207'
        """
        return {
            "code": self.code.value,
            "message": self.message,
            "file": self.file,
            "line": self.line,
            "column": self.column,
            "field": self.field,
            "found": self.found,
            "expected": self.expected,
            "next_step": self.next_step,
        }

    def __str__(self) -> str:
        place = ":".join([self.file or "input", *(str(n) for n in (self.line, self.column) if n)])
        rows = [f"{place}: {self.code.value} {self.message}"]
        for label, text in (
            ("field", self.field),
            ("found", self.found),
            ("expected", self.expected),
            ("next", self.next_step),
        ):
            if text:
                rows.append(f"  {label:<9} {text}")
        return "\n".join(rows)


class CandidacyError(Exception):
    """Base of all errors raised on purpose by this package."""


class InputError(CandidacyError):
    """Raised once per input with everything that is wrong in it.

    ``others_answered`` says that it was one of several inputs, and that the others were answered and written.
    """

    def __init__(
        self, problems: list[Problem] | tuple[Problem, ...], *, others_answered: bool = False
    ) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        self.others_answered = others_answered
        super().__init__("\n".join(str(p) for p in self.problems))


class CaseError(InputError):
    """Raised when a case record cannot be used."""


class CourseError(InputError):
    """Raised when a course record cannot be used, or may not be changed as asked."""


class RuleError(InputError):
    """Raised when a criterion or rule set cannot be used."""


class ReportError(InputError):
    """Raised when an imaging report cannot be read."""


class TableError(InputError):
    """Raised when a cohort table or its mapping cannot be used."""


class StoreError(InputError):
    """Raised when the store of kept referrals cannot be used, or refuses what was asked of it."""


class EngineError(CandidacyError):
    """Raised when evaluation breaks one of our own laws; no result is given then."""


def shorten(text: object, limit: int = 60) -> str:
    """Quote a foreign value for a message: one line, bounded, without control characters."""
    flat = str(text)
    if not flat.isprintable():
        flat = "".join(ch if ch.isprintable() else "�" for ch in flat)
    return flat if len(flat) <= limit else flat[: limit - 1] + "…"


def shown(value: object) -> str:
    """Show a foreign value for a message as it is written in a file, so that text 30 is not taken for the number."""
    if isinstance(value, str):
        return f'"{shorten(value)}"'
    if value is None or isinstance(value, bool):
        return "nothing" if value is None else str(value).lower()
    if isinstance(value, tuple | list):
        return shorten("[" + ", ".join(shown(item) for item in value) + "]")
    if isinstance(value, dict):
        return shorten("{" + ", ".join(f"{key}: {shown(item)}" for key, item in value.items()) + "}")
    return shorten(value)
