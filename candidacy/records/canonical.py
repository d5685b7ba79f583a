"""One text for equal content (RFC 8785), and the digests that the trail is made of.

A digest of what people wrote is taken with a salt that stands in the same body: once a body is removed under a retention
rule, nobody can find out what it said by trying likely texts.
"""

import hashlib
import json
import secrets
import zlib
from collections.abc import Mapping
from typing import Any

import rfc8785

from candidacy.foundation.errors import Code, Problem, StoreError

ZERO = "0" * 64
_SALT = 16  # bytes
_MOST = 64 * 1024 * 1024  # bytes of one body, unpacked
_WHOLE = 2**53 - 1  # the greatest whole number of RFC 8785


def canonical(content: Any) -> bytes:
    """The canonical JSON of plain data, by RFC 8785.

    Raises
    ------
    StoreError
        E108 for a number that it has no form for (NaN, infinite, a whole number beyond 2^53 - 1), E103 for text that is no
        Unicode.

    Examples
    --------
    >>> canonical({"b": 6.0, "a": 1e-7})
    b'{"a":1e-7,"b":6}'
    """
    try:
        if _plain(content):
            # the same text; the library calls back for each sign that it escapes, of which an answer has a hundred thousand
            return json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
        return rfc8785.dumps(content)
    except (rfc8785.IntegerDomainError, rfc8785.FloatDomainError) as error:
        raise StoreError([Problem(Code.BAD_SCALAR, "this number cannot be kept", field="body", found=str(error)[:80],
                                  expected="a finite number, a whole one below 2^53")]) from None  # fmt: skip
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as error:
        raise StoreError([Problem(Code.NOT_TEXT, "this text cannot be kept", field="body", found=type(error).__name__,
                                  expected="Unicode text")]) from None  # fmt: skip


def _plain(content: Any) -> bool:
    """Whether content is of lists, texts, words and whole numbers that every writer of JSON writes alike, with keys that every
    way of sorting sorts alike.
    """
    kind = type(content)
    if kind is str or kind is bool or content is None:
        return True
    if kind is int:
        return -_WHOLE <= int(content) <= _WHOLE
    if kind is list or kind is tuple:
        return all(map(_plain, content))
    return kind is dict and all(type(k) is str and k.isascii() and _plain(v) for k, v in content.items())


def sha256(content: bytes) -> str:
    """SHA-256 as 64 hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def chained(entry: Mapping[str, Any]) -> tuple[bytes, str]:
    """The bytes of an entry, the hash before it (``prev``) among them, and its own hash over them."""
    content = canonical(dict(entry))
    return content, sha256(content)


def salted(fields: Mapping[str, Any]) -> dict[str, Any]:
    """A body with a salt of its own, drawn anew."""
    return {**fields, "salt": secrets.token_hex(_SALT)}


def pack(content: bytes) -> bytes:
    """What is put into the database for a body."""
    return zlib.compress(content, 6)


def unpack(packed: bytes) -> bytes:
    """The bytes of a body as they were put in.

    Raises
    ------
    ValueError
        If they are not what `pack` makes, or unpack to more than 64 MB.
    """
    unpacker = zlib.decompressobj()
    try:
        content = unpacker.decompress(packed, _MOST)
    except zlib.error as error:
        raise ValueError("cannot be unpacked") from error
    if not unpacker.eof or unpacker.unused_data:
        raise ValueError("is cut short, goes on after its end, or is too large")
    return content


def body_of(content: bytes) -> dict[str, Any]:
    """The body that canonical JSON says.

    Raises
    ------
    ValueError
        If it is not the JSON of an object.
    """
    found = json.loads(content)
    if not isinstance(found, dict):
        raise ValueError("is not an object")
    return found
