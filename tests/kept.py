"""Blocks as the journal keeps them, for tests that are not about what a session has."""

from etudegen.practice.entries import KeptBlock
from etudegen.practice.items import Item


def kept(*items: Item, part: str = "technique", minutes: int = 10) -> KeptBlock:
    """A block with these items; a rest without any."""
    return KeptBlock(part if items else "rest", items[0].kind if items else "rest", minutes, items)
