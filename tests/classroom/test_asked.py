"""Messages: what is one is read, anything else is refused in a sentence."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.classroom.asked import DEEDS, JOINING, LONGEST_MESSAGE, Asked, read
from handtick.errors import UsageError

KNOWN = {name: deed.fields for name, deed in DEEDS.items()}
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4),
)


def test_a_message_is_read() -> None:
    """Its deed and its fields."""
    assert read('{"do": "to", "tick": 9}', KNOWN) == Asked("to", {"tick": 9})
    assert read('{"do": "step"}', KNOWN) == Asked("step", {})


@pytest.mark.parametrize(
    "text",
    [
        *("", "step", "[]", "1", "null", '{"do": 1}', '{"do": "erase"}', '{"do": "join", "name": "x", "word": "y"}'),
        *('{"do": "step", "count": 5}', '{"do": "to"}', '{"do": "to", "tick": "9"}', '{"do": "to", "tick": 9.0}'),
        *('{"do": "to", "tick": true}', '{"do": "to", "tick": -1}', '{"do": "to", "tick": 9223372036854775808}'),
        *('{"do": "run", "rate": 5}', '{"do": "run", "rate": "' + "1" * 25 + '"}', '{"do": "door", "open": 1}'),
        *("[" * 4000, '{"do": "step"}' + " " * LONGEST_MESSAGE),
    ],
)
def test_anything_else_is_refused_in_one_sentence(text: str) -> None:
    """Wrong shape, wrong type, too large, too deep."""
    with pytest.raises(UsageError) as refused:
        read(text, KNOWN)
    assert len(str(refused.value)) < 120


def test_bytes_are_no_message() -> None:
    """Only text is."""
    with pytest.raises(UsageError):
        read(b'{"do": "step"}', KNOWN)


@given(JSON | st.fixed_dictionaries({"do": st.sampled_from(list(KNOWN)), "tick": JSON, "rate": JSON}))
def test_whatever_comes_is_read_or_refused(value: Any) -> None:
    """And what is read has exactly the fields it should, of the right types."""
    try:
        asked = read(json.dumps(value), KNOWN | JOINING)
    except UsageError:
        return
    fields = (KNOWN | JOINING)[asked.do]
    assert {name: type(given) for name, given in asked.fields.items()} == dict(fields)


@given(st.text(max_size=200))
def test_whatever_is_typed_by_chance_is_refused(text: str) -> None:
    """A message is not hit by chance."""
    with pytest.raises(UsageError):
        read(text, KNOWN)
