"""Foreign text made safe to show: it can neither steer a terminal, nor start a line, nor turn the reading direction."""

import re

_LINE_ENDS = re.compile("\r\n|[\n\r\v\f\x85\u2028\u2029]")
# Control characters, and the marks that override the direction of the text after them (Unicode UAX 9).
_STEERING = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def clean(text: str) -> str:
    """One text as one line of visible characters: a line end becomes ⏎, any other steering character �."""
    return _STEERING.sub("�", _LINE_ENDS.sub("⏎", text.replace("\t", " ")))
