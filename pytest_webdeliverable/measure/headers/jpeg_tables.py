"""Constants of ITU-T T.81 (ISO/IEC 10918-1): markers, quantization tables, zigzag order."""

from __future__ import annotations

from typing import Final

# Table B.1, marker codes (second byte; the first is 0xFF).
TEM: Final = 0x01
DHT: Final = 0xC4
DAC: Final = 0xCC
RST0: Final = 0xD0
RST7: Final = 0xD7
SOI: Final = 0xD8
EOI: Final = 0xD9
SOS: Final = 0xDA
DQT: Final = 0xDB
DNL: Final = 0xDC
DRI: Final = 0xDD
DHP: Final = 0xDE
APP0: Final = 0xE0
APP1: Final = 0xE1
APP2: Final = 0xE2
APP11: Final = 0xEB
APP13: Final = 0xED
APP14: Final = 0xEE
APP15: Final = 0xEF
COM: Final = 0xFE

FRAMES: Final[dict[int, tuple[str, str]]] = {
    0xC0: ("baseline", "huffman"),
    0xC1: ("extended", "huffman"),
    0xC2: ("progressive", "huffman"),
    0xC3: ("lossless", "huffman"),
    0xC5: ("differential sequential", "huffman"),
    0xC6: ("differential progressive", "huffman"),
    0xC7: ("differential lossless", "huffman"),
    0xC9: ("extended", "arithmetic"),
    0xCA: ("progressive", "arithmetic"),
    0xCB: ("lossless", "arithmetic"),
    0xCD: ("differential sequential", "arithmetic"),
    0xCE: ("differential progressive", "arithmetic"),
    0xCF: ("differential lossless", "arithmetic"),
}
"""Start-of-frame markers of table B.1: process and entropy coding."""

BASELINE_BITS: Final = 8
"""Bits of a sample in baseline (table B.2)."""
BLOCK: Final = 8
"""Samples along the side of a DCT block (T.81 A.1.3)."""
COEFFICIENTS: Final = 64
"""Coefficients of a block."""

ZIGZAG: Final = (
    *(0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5),
    *(12, 19, 26, 33, 40, 48, 41, 34, 27, 20, 13, 6, 7, 14, 21, 28),
    *(35, 42, 49, 56, 57, 50, 43, 36, 29, 22, 15, 23, 30, 37, 44, 51),
    *(58, 59, 52, 45, 38, 31, 39, 46, 53, 60, 61, 54, 47, 55, 62, 63),
)
"""Row-order index of each coefficient in the order the file stores them (T.81 figure A.6)."""

# fmt: off
K1_LUMINANCE: Final = (
    16, 11, 10, 16, 24, 40, 51, 61,
    12, 12, 14, 19, 26, 58, 60, 55,
    14, 13, 16, 24, 40, 57, 69, 56,
    14, 17, 22, 29, 51, 87, 80, 62,
    18, 22, 37, 56, 68, 109, 103, 77,
    24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101,
    72, 92, 95, 98, 112, 100, 103, 99,
)
"""T.81 table K.1, in row order."""

K2_CHROMINANCE: Final = (
    17, 18, 24, 47, 99, 99, 99, 99,
    18, 21, 26, 66, 99, 99, 99, 99,
    24, 26, 56, 99, 99, 99, 99, 99,
    47, 66, 99, 99, 99, 99, 99, 99,
    99, 99, 99, 99, 99, 99, 99, 99,
    99, 99, 99, 99, 99, 99, 99, 99,
    99, 99, 99, 99, 99, 99, 99, 99,
    99, 99, 99, 99, 99, 99, 99, 99,
)
"""T.81 table K.2, in row order."""
# fmt: on
