"""What ``studio`` does with a roster: profiles made of a table, and the table made of profiles."""

import json as json_format
from pathlib import Path

from etudegen.cli.parsing import tell_replaced
from etudegen.cli.terminal import tell_made
from etudegen.errors import InputError
from etudegen.files.writing import check_free, prepare_folder, write_all
from etudegen.practice.profile import profiles_in
from etudegen.practice.roster import make_profiles, read_roster, roster_of


def profiles_from(roster: Path, folder: Path, *, json: bool) -> None:
    """Make or change the profiles of a roster, all of which is checked before, and tell them."""
    rows = read_roster(roster, folder)
    news = [not row.profile.exists() for row in rows]
    make_profiles(rows)
    became = ["made" if new else "changed" if row.changes else "unchanged" for row, new in zip(rows, news, strict=True)]
    told = list(zip(map(str, (row.profile for row in rows)), became, strict=True))
    if json:
        tell_made(json_format.dumps([{"profile": profile, "became": word} for profile, word in told]))
    else:
        tell_made("\n".join(f"{profile} ({word})" for profile, word in told))


def write_roster(roster: Path, folder: Path, *, force: bool) -> None:
    """Write the profiles of a folder as a roster."""
    if roster.suffix.lower() != ".csv":
        raise InputError(f"write-roster {str(roster)!r} is not allowed: its name must end in .csv, like band.csv")
    table = roster_of(profiles_in(folder))
    if not force:
        check_free(roster.parent, [roster.name])
    prepare_folder(roster.parent, "name a file in another folder")
    written = write_all(roster.parent, {roster.name: table}, force=force)
    tell_made(str(written.files[0]))
    tell_replaced(written.replaced)


def check_alone(**options: object) -> None:
    """Raise :class:`InputError` where what is about books was asked for together with a roster."""
    given = [f"--{name.replace('_', '-')}" for name, value in options.items() if value]
    if given:
        raise InputError(f"with --roster or --write-roster no books are made: leave out {', '.join(given)}")
