"""A roster: the profiles of a folder as one table (CSV), as spreadsheets read and write it.

A row is a player, a column a key of the profile; an empty cell says nothing. Lists stand in one cell with semicolons
between, and in quotes where there is a semicolon in what is listed.
"""

import codecs
import csv
import datetime
import io
import os
import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.settings import one_of
from etudegen.files.names import distinct_name
from etudegen.files.reading import read_content
from etudegen.plain_text import printable
from etudegen.practice.profile import Aim, change_profile, check_changes, read_profile
from etudegen.theory.rhythm import Rhythm

FILE = "file"
_USUAL = ("label", "instrument", "low", "high", "level", "minutes_per_day", "days_per_week", "routine", "notes")
_TEXTS = (
    "label",
    "instrument",
    "low",
    "high",
    "reach",
    "level",
    "keys",
    "pedals",
    "routine",
    "notes",
    "private_notes",
    "paper",
)
_NUMBERS = ("minutes_per_day", "days_per_week", "days_since_played")
_LISTS = ("tunes", "progressions", "kinds", "rhythms")
_DAY, _PRIVATE = "last_played", "private_notes"
_COUNTED = (*(f"aims.{aim}" for aim in Aim), *(f"tempo.{rhythm}" for rhythm in Rhythm))
_KEYS = (*_USUAL, *(key for key in (*_TEXTS, *_NUMBERS, _DAY, *_LISTS, *_COUNTED) if key not in _USUAL))
# As a teacher would head the columns.
_SHORT = {"minutes": "minutes_per_day", "days": "days_per_week"}
_LARGEST, _MOST_ROWS = 1_000_000, 2000
# A spreadsheet takes a cell that begins so for a formula, and one with an apostrophe before it for a text.
_FORMULA, _KEPT_FROM_IT = re.compile(r"['\s]*[=+\-@＝＋－＠]"), re.compile(r"'['\s]*[=+\-@＝＋－＠]")
_DIGITS = re.compile(r"[0-9]{1,9}")
_OWN_NAME = re.compile(r"[^/\\:.][^/\\:]{0,100}")


@dataclass(frozen=True, slots=True)
class Row:
    """A player of a roster: the profile, and what is to be changed in it, by key; nothing where all is so already."""

    profile: Path
    changes: Mapping[str, Any]
    label: str


def read_roster(path: Path, folder: Path) -> list[Row]:
    """Read a roster for the profiles of a folder and check all of it; nothing is written.

    Raises :class:`InputError` with the line of what cannot be.
    """
    rows: dict[str, Row] = {}
    told = list(_cells(path))
    labels = _labels(folder) if any(FILE not in cells for _, cells in told) else {}
    for line, cells in told:
        try:
            row = _row(cells, folder, labels)
            name = row.profile.name.casefold()
            if name in rows:
                raise InputError(f"{row.profile.name} has a row already: give each player one row, or another name")
            check_changes(row.profile, row.changes, row.label)
        except InputError as error:
            raise InputError(f"{path}, line {line}: {error}") from error
        rows[name] = row
    if not rows:
        raise InputError(f"{path} has no players: give a row for each under the names of the columns")
    return list(rows.values())


def make_profiles(rows: Sequence[Row]) -> None:
    """Make or change the profiles of a roster, each whole or not at all."""
    for row in rows:
        if row.changes or not row.profile.exists():
            change_profile(row.profile, row.changes, row.label)


def roster_of(profiles: Sequence[Path]) -> bytes:
    """Return profiles as a roster, each key that one of them has as a column, but for what is private."""
    rows = []
    for profile in profiles:
        read_profile(profile)
        rows.append({FILE: profile.stem} | {key: _cell(value) for key, value in _values(profile).items()})
    columns = [
        FILE,
        *_USUAL,
        *(key for key in _KEYS if key not in (*_USUAL, _PRIVATE) and any(key in row for row in rows)),
    ]
    table = io.StringIO(newline="")
    writer = csv.writer(table)
    writer.writerow(columns)
    for row in rows:
        writer.writerow([f"'{row[key]}" if _FORMULA.match(row.get(key, "")) else row.get(key, "") for key in columns])
    # Spreadsheets know UTF-8 by its mark.
    return codecs.BOM_UTF8 + table.getvalue().encode("utf-8", "surrogatepass")


def _values(profile: Path) -> dict[str, Any]:
    """Return what a profile that has been checked says, by its keys."""
    told = tomllib.loads(profile.read_bytes().decode("utf-8-sig"))
    flat = {key: value for key, value in told.items() if not isinstance(value, dict)}
    return flat | {f"{table}.{key}": told[table][key] for table in ("aims", "tempo") for key in told.get(table, {})}


def _cell(value: Any) -> str:
    if not isinstance(value, list):
        return str(value)
    listed = io.StringIO(newline="")
    csv.writer(listed, delimiter=";", lineterminator="").writerow(value)
    return listed.getvalue()


def _labels(folder: Path) -> dict[str, list[Path]]:
    """Return the profiles that there are by their labels."""
    labels: dict[str, list[Path]] = {}
    for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
        labels.setdefault(read_profile(path).label, []).append(path)
    return labels


def _cells(path: Path) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield the line on which each row begins, and its cells that say something, by key."""
    content = read_content(path, _LARGEST)
    if len(content) > _LARGEST:
        raise InputError(f"{path} is larger than {_LARGEST} bytes: a roster is small")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(f"{path}, line {line}: it is not in UTF-8: save the file as CSV in UTF-8") from error
    # Some spreadsheets put semicolons between cells.
    heading = text.lstrip().partition("\n")[0]
    delimiter = ";" if heading.count(";") > heading.count(",") else ","
    # With a field that is never closed all players after it would be lost.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    columns: list[str] = []
    begins = 1
    try:
        for count, row in enumerate(reader):
            if count > _MOST_ROWS:
                raise InputError(f"{path} has more than {_MOST_ROWS} rows: give a file for each studio")
            cells = ["\n".join(cell.splitlines()).strip() for cell in row]
            if any(cells) and not columns:
                columns = _columns(f"{path}, line {begins}", cells)
            elif any(cells):
                if any(cells[len(columns) :]):
                    raise InputError(f"{path}, line {begins}: it has {len(row)} cells for {len(columns)} columns")
                told = zip(columns, cells, strict=False)
                yield begins, {key: cell[1:] if _KEPT_FROM_IT.match(cell) else cell for key, cell in told if cell}
            begins = reader.line_num + 1
    except csv.Error as error:
        raise InputError(f"{path}, line {begins}: no readable CSV: save it anew from the spreadsheet") from error


def _columns(where: str, names: list[str]) -> list[str]:
    """Return the key of each column; columns without a name are of no use and may only be the last ones."""
    while names and not names[-1]:
        names.pop()
    columns = [_SHORT.get(name, name) for name in (each.lower().replace(" ", "_") for each in names)]
    for name, column in zip(names, columns, strict=True):
        if column not in (FILE, *_KEYS):
            known = ", ".join((FILE, *_USUAL, *(key for key in _KEYS if key not in _USUAL and "." not in key)))
            raise InputError(
                f"{where}: unknown column {name!r}: known are {known}, and such as aims.range and tempo.eighths"
            )
        if columns.count(column) > 1:
            raise InputError(f"{where}: the column {name!r} comes twice")
    if FILE not in columns and "label" not in columns:
        raise InputError(f"{where}: the column file or label is missing: one of them has to tell who each player is")
    return columns


def _row(cells: Mapping[str, str], folder: Path, labels: Mapping[str, list[Path]]) -> Row:
    path = _profile(cells, folder, labels)
    before = _values(path) if os.path.exists(path) else {}
    changes = {}
    for key, cell in cells.items():
        # What a cell says in other words than the profile does is no change.
        if key != FILE and (key not in before or _cell(before[key]).strip() != cell):
            changes[key] = _value(key, cell, folder)
    return Row(path, changes, path.stem.replace("-", " "))


def _profile(cells: Mapping[str, str], folder: Path, labels: Mapping[str, list[Path]]) -> Path:
    """Return whose row it is: by the name of the file, else by the label."""
    label = cells.get("label", "")
    if FILE in cells:
        name = cells[FILE].removesuffix(".toml")
        if not _OWN_NAME.fullmatch(name) or printable(name) != name:
            raise InputError(f"file {cells[FILE]!r} is not allowed: give a name without a folder, like first-chair")
        return folder / f"{name}.toml"
    if not label:
        raise InputError("file and label are empty: one of them has to tell who this is")
    known = labels.get(label, [])
    if len(known) > 1:
        raise InputError(
            f"label {label!r} is that of {', '.join(path.name for path in known)}: say which in a column file"
        )
    path = known[0] if known else folder / f"{_name(label)}.toml"
    if not known and os.path.exists(path):
        raise InputError(f"{path.name} has another label than {label!r}: say which file is meant in a column file")
    return path


def _name(label: str) -> str:
    """Return how the profile of somebody new is called, such as ``first-chair``."""
    unaccented = "".join(sign for sign in unicodedata.normalize("NFKD", label) if not unicodedata.combining(sign))
    plain = re.sub(r"[^a-z0-9]+", "-", unaccented.lower()).strip("-")
    # Of letters of other scripts nothing would be left.
    lost = any(sign.isalnum() and not sign.isascii() for sign in unaccented)
    return distinct_name(label if lost or not plain else plain)


def _value(key: str, cell: str, folder: Path) -> Any:
    """Return what a cell says, as a profile has it."""
    if key in _NUMBERS or key in _COUNTED:
        if not _DIGITS.fullmatch(cell):
            raise InputError(f"{key} {cell!r} is not allowed: give a whole number")
        return int(cell)
    if key == _DAY:
        try:
            return datetime.date.fromisoformat(cell)
        except ValueError:
            raise InputError(f"{key} {cell!r} is not a day: write it like 2026-11-25") from None
    if key not in _LISTS:
        return cell
    try:
        rows = [*csv.reader(io.StringIO(cell, newline=""), delimiter=";", skipinitialspace=True, strict=True)]
    except csv.Error as error:
        raise InputError(f"{key} {cell!r} is not allowed: put semicolons between, or name one thing a line") from error
    listed = [each.strip() for row in rows for each in row if each.strip()]
    for each in listed if key == "tunes" else ():
        if not os.path.isfile(folder / each):
            raise InputError(f"tunes: there is no file {each!r} beside the profiles")
    return [str(one_of(Rhythm, "rhythm")(each)) for each in listed] if key == "rhythms" else listed
