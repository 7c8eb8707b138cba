"""Reads the published tables beside this file; their sources are in the comment lines at their heads."""

import csv
from pathlib import Path


def rows(name: str) -> list[dict[str, str]]:
    """Return the lines of a table as texts by column, without its comment lines."""
    text = (Path(__file__).parent / f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#")))


def value(name: str, item: str) -> str:
    """Return what the second column says of an item in the first."""
    (found,) = [row for row in rows(name) if next(iter(row.values())) == item]
    return list(found.values())[1]
