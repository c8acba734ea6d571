"""How alike pictures are, judged from their signatures alone: no picture is opened here."""

from pytest_webdeliverable.likeness.nearly import NearDuplicates, near_duplicates
from pytest_webdeliverable.likeness.original import OriginalFacts, compare_original
from pytest_webdeliverable.likeness.same import Likeness, same_picture
from pytest_webdeliverable.likeness.signature import Signature

__all__ = [
    "Likeness",
    "NearDuplicates",
    "OriginalFacts",
    "Signature",
    "compare_original",
    "near_duplicates",
    "same_picture",
]
