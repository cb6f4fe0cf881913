"""Binding the record to personal data that can later be forgotten.

The body keeps an HMAC under a random key of the person's own.  While data and key exist,
anyone with the file can check one against the other; once both are erased the HMAC says
nothing, not even to someone who guesses the name.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from typing import Any

from blender.record.canonical import canonical

_TAG = b"fillwright commitment 1\x00"
KEY_WHAT = "key"


def new_key() -> bytes:
    """Draw a person's 256-bit key."""
    return secrets.token_bytes(32)


def key_row(person: str) -> str:
    """Name the private row that holds a person's key."""
    return f"key/{person}"


def commit(key: bytes, content: Mapping[str, Any]) -> str:
    """Commit to content under a person's key; 64 hex digits.

    Raises
    ------
    InputError
        If the content has no canonical form.

    Examples
    --------
    >>> commit(bytes(32), {"name": "Mira Sund"})[:16]
    '565a1a266c3ae752'
    """
    return hmac.digest(key, _TAG + canonical(content), "sha256").hex()


def fits(key: bytes, content: Mapping[str, Any], commitment: str) -> bool:
    """Tell whether content is what was committed to."""
    return hmac.compare_digest(commit(key, content).encode(), commitment.encode())
