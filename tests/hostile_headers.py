"""What every header reader must stand: cuts, flipped bytes, inserted rubbish."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import strategies as st

from pytest_webdeliverable.measure.headers.base import DamagedError, Header

if TYPE_CHECKING:
    from collections.abc import Callable

    Reader = Callable[[bytes], Header]


def survives(read: Reader, data: bytes) -> Header | None:
    """Read; anything but a plausible header or a DamagedError with a sentence is a failure."""
    try:
        header = read(data)
    except DamagedError as error:
        sentence, header = str(error), None
    if header is None:
        assert sentence
        assert sentence.isprintable()
        return None
    assert header.width > 0
    assert header.height > 0
    assert header.frames is not None
    assert 1 <= header.frames <= len(data)
    assert header.bits > 0
    assert all(sentence.isprintable() for sentence in header.problems)
    return header


def refused(read: Reader, data: bytes) -> None:
    """The fault shows, as an error or among the problems."""
    header = survives(read, data)
    assert header is None or header.problems


def cuts(data: bytes) -> list[bytes]:
    """The data cut at each tenth and by one byte."""
    return [data[: len(data) * tenth // 10] for tenth in range(10)] + [data[:-1]]


def cut_cases(samples: dict[str, bytes]) -> pytest.MarkDecorator:
    cases = [
        pytest.param(part, id=f"{name} at {len(part)} of {len(data)}")
        for name, data in samples.items()
        for part in cuts(data)
    ]
    return pytest.mark.parametrize("data", cases)


@st.composite
def spoiled(draw: st.DrawFn, samples: list[bytes]) -> bytes:
    """One of the samples with a few bytes changed, a stretch removed, repeated or inserted."""
    data = bytearray(draw(st.sampled_from(samples)))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data)))
        match draw(st.sampled_from(["set", "set", "set", "number", "remove", "repeat", "insert"])):
            case "set":
                data[at : at + 1] = bytes([draw(st.integers(0, 255))])
            case "number":
                number = draw(st.sampled_from([0, 1, 2**16 - 1, 2**31 - 1, 2**31, 2**32 - 1]))
                data[at : at + 4] = number.to_bytes(4, draw(st.sampled_from(["big", "little"])))
            case "remove":
                del data[at : at + draw(st.integers(1, 40))]
            case "repeat":
                data[at:at] = data[at : at + draw(st.integers(1, 40))]
            case "insert":
                data[at:at] = draw(st.binary(min_size=1, max_size=40))
    return bytes(data)
