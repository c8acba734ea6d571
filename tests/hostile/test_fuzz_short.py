"""Fuzzing in short: each parser on up to 20,000 spoiled samples, the same ones on every machine.

The long form, guided by what the parsers execute, is ``fuzz_parsers.py``.
"""

from __future__ import annotations

import random
import time

import pytest
from fuzz_seeds import seeds
from parser_targets import TARGETS, with_right_checksums

from pytest_webdeliverable.measure.headers import png

TRIED = 20_000
"""Inputs for each parser."""
ENOUGH = 4.0
"""Seconds of processor time after which no more are tried, on a slow machine or while lines are counted."""
SLOW = 5.0
"""Seconds of processor time of one input: the promise."""
LENGTHS = (0, 1, 2, 7, 0x7F, 0x80, 0xFF, 0x7FFF, 0xFFFF, 2**31 - 1, 2**31, 2**32 - 1)


def spoiled(chance: random.Random, samples: list[bytes]) -> bytes:
    """A sample with a few faults: bytes and numbers changed, parts moved, cut out, or of another sample."""
    data = bytearray(chance.choice(samples))
    for _ in range(chance.choice((1, 1, 2, 3, 8))):
        at = chance.randrange(len(data) + 1)
        part = slice(at, at + chance.randrange(1, 60))
        match chance.randrange(8):
            case 0 | 1:
                data[at : at + 1] = bytes([chance.randrange(256)])
            case 2:
                data[at : at + 1] = bytes([chance.choice((0, 1, 0x7F, 0x80, 0xFF))])
            case 3:
                size = chance.choice((2, 4, 8))
                number = chance.choice((*LENGTHS, len(data), at)) % 256**size
                data[at : at + size] = number.to_bytes(size, chance.choice(("big", "little")))
            case 4:
                del data[part]
            case 5:
                data[at:at] = data[part] * chance.choice((1, 2, 50))
            case 6:
                other = chance.choice(samples)
                start = chance.randrange(len(other) + 1)
                data[part] = other[start : start + chance.randrange(200)]
            case 7 if len(data) > 16:
                del data[at:]
    return bytes(data)


@pytest.mark.parametrize("target", TARGETS)
def test_spoiled_samples_get_an_answer(target: str) -> None:
    chance, samples, parse = random.Random(f"fuzz {target}"), seeds(target), TARGETS[target]
    for sample in samples:
        parse(sample)
    start = time.process_time()
    for number in range(TRIED):
        data, before = spoiled(chance, samples), time.process_time()
        try:
            parse(data)
        except Exception as error:
            error.add_note(f"input {number} of {target}: {data[:2000].hex()}")
            raise
        now = time.process_time()
        assert now - before < SLOW, (number, data[:2000].hex())
        if now - start > ENOUGH:
            break


def test_checksums_are_set_right_so_that_damage_behind_them_is_tried() -> None:
    sample = seeds("png")[4]
    assert with_right_checksums(sample) == sample
    at = sample.index(b"IHDR") + 4 + 8  # the bit depth
    wrong = sample[:at] + b"\x10" + sample[at + 1 :]
    assert any("checksum" in said for said in png.read(wrong).problems)
    assert not any("checksum" in said for said in png.read(with_right_checksums(wrong)).problems)
