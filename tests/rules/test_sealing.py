"""The canonical text of an entry and its seal."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.sealing import canonical, chain_hash

TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=12,
)


@given(PLAIN)
def test_canonical_text_is_read_back_as_it_was(value: Any) -> None:
    assert json.loads(canonical(value)) == value


@given(st.dictionaries(TEXTS, PLAIN, max_size=6), st.randoms(use_true_random=False))
def test_the_order_of_keys_does_not_matter(value: dict[str, Any], random: Any) -> None:
    keys = list(value)
    random.shuffle(keys)
    assert canonical({key: value[key] for key in keys}) == canonical(value)


def test_keys_are_sorted_and_nothing_is_spaced_or_escaped() -> None:
    assert canonical({"b": [1, True, None], "a": "Söhne"}) == '{"a":"Söhne","b":[1,true,null]}'


@pytest.mark.parametrize("value", [0.1, 1.0, float("nan"), {"a": [1, 2.5]}, {"a": {"b": -0.0}}, (3.0,)])
def test_no_binary_float_is_sealed(value: object) -> None:
    with pytest.raises(ValueError, match="float"):
        canonical(value)


@pytest.mark.parametrize("value", ["\0", {"a": ["x\0y"]}, {"a\0": 1}, ("\0",)])
def test_no_nul_is_sealed(value: object) -> None:
    with pytest.raises(ValueError, match="NUL"):
        canonical(value)


@given(TEXTS, TEXTS)
def test_the_hash_is_sha256_over_the_previous_hash_and_the_body(previous: str, body: str) -> None:
    own = chain_hash(previous, body)
    assert own == hashlib.sha256(previous.encode("utf-8") + body.encode("utf-8")).hexdigest()
    assert len(own) == 64 and own == own.lower()


def test_a_known_hash() -> None:
    # FIPS 180-4's own example: the one-block message "abc".
    assert chain_hash("a", "bc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
