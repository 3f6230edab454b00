"""The canonical text of an entry, and the chain of hashes that seals the ledger."""

from __future__ import annotations

import json
from collections.abc import Iterable
from hashlib import sha256
from typing import Any

_ENCODER = json.JSONEncoder(sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def canonical(value: Any) -> str:
    """JSON with sorted keys and no spaces, text as it is (NFC is the writer's duty).

    ValueError for a binary float or a NUL, which the ledger never holds.
    """
    _check((value,))
    return _ENCODER.encode(value)


def _check(values: Iterable[Any]) -> None:
    for value in values:
        if isinstance(value, str):
            if "\0" in value:
                raise ValueError("the ledger holds no NUL")
        elif isinstance(value, dict):
            _check(value)
            _check(value.values())
        elif isinstance(value, (list, tuple)):
            _check(value)
        elif isinstance(value, float):
            raise ValueError(f"the ledger holds no binary floats: {value!r}")


def chain_hash(previous_hash: str, body: str) -> str:
    """SHA-256 (FIPS 180-4) over the previous hash and the body, both as UTF-8; 64 lower-case hex digits."""
    return sha256((previous_hash + body).encode()).hexdigest()
