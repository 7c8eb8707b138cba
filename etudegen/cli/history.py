"""The command that looks back: minutes by week and part, tempi that were reached, what is due."""

import csv
import datetime
import io
import json as json_format
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from etudegen.cli.parsing import tell_replaced
from etudegen.cli.practice_options import DateOption, JournalOption, JsonOption, OneProfileOption, journal_of, read_day
from etudegen.cli.terminal import tell_made
from etudegen.errors import InputError
from etudegen.exercises.settings import whole_number
from etudegen.files.writing import check_free, prepare_folder, write_all
from etudegen.practice.looking_back import MOST_WEEKS, LookBack, look_back
from etudegen.practice.profile import read_profile
from etudegen.sheets.history_picture import PICTURES, picture


def history(
    profile: OneProfileOption,
    weeks: Annotated[str, typer.Option("--weeks", metavar="NUMBER", help="How many weeks, this one among them.")] = "8",
    date: DateOption = None,
    journal: JournalOption = None,
    picture_file: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Draw it too: a .png, .svg or .pdf file.")
    ] = None,
    csv_wanted: Annotated[bool, typer.Option("--csv", help="Print CSV, for a spreadsheet.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that was not written here.")] = False,
    json: JsonOption = False,
) -> None:
    """What was practised: minutes by week and part, the tempi reached, and what is due."""
    count, day = whole_number("weeks", 1, MOST_WEEKS)(weeks), read_day(date)
    if csv_wanted and json:
        raise InputError("--csv and --json cannot be printed both at once: choose one")
    form = picture_file.suffix[1:].lower() if picture_file else ""
    if picture_file and form not in PICTURES:
        raise InputError(f"picture {str(picture_file)!r} is not allowed: its name must end in .{', .'.join(PICTURES)}")
    if not 7 * count < day.toordinal() < datetime.date.max.toordinal():
        raise InputError(f"{count} weeks up to {day} are not in any calendar: give another date, or fewer weeks")
    playing, kept = read_profile(profile), journal_of(profile, journal)
    back = look_back(kept.sessions(profile), kept.entries(profile), kept.known_after(profile, day), day, count)
    if picture_file:
        prepare_folder(picture_file.parent, "name a file in another folder")
        if not force:
            check_free(picture_file.parent, [picture_file.name])
        drawn = {picture_file.name: picture(back, f"{playing.label}, {count} weeks up to {day}", form)}
        _, replaced = write_all(picture_file.parent, drawn, force=force)
        tell_replaced(replaced)
    if json:
        told = json_format.dumps(_as_values(back), default=str)
    else:
        told = _as_csv(back) if csv_wanted else "\n".join(_as_text(back))
    (tell_made if picture_file else typer.echo)(told)
    if picture_file:
        typer.echo(f"drawn as {picture_file}", err=True)


def _as_values(back: LookBack) -> dict[str, Any]:
    return {
        "weeks": [asdict(week) | {"played": week.played} for week in back.weeks],
        "tempi": list(map(asdict, back.tempi)),
        "due": list(map(asdict, back.due)),
    }


def _as_csv(back: LookBack) -> str:
    """Return everything as one table: what a row tells, when, of which part or kind, of what, and how much or well."""
    written = io.StringIO()
    table = csv.writer(written, lineterminator="\n")
    table.writerow(("tells", "date", "of", "what", "number", "rating"))
    for week in back.weeks:
        table.writerows(("minutes", week.monday, part, "", minutes, "") for part, minutes in week.minutes.items())
    table.writerows(("tempo", each.day, each.kind, each.what, each.tempo, each.rating) for each in back.tempi)
    table.writerows(("due", "", each.kind, each.what, each.days_ago, each.rating) for each in back.due)
    return written.getvalue().rstrip("\n")


def _as_text(back: LookBack) -> list[str]:
    lines = []
    if back.parts:
        widths = [max(len(part), 4) + 2 for part in back.parts]
        names = "".join(f"{part:>{width}}" for part, width in zip(back.parts, widths, strict=True))
        lines.append(f"{'week from':<12}{'days':>4}{names}{'in all':>8}")
        for week in back.weeks:
            minutes = "".join(
                f"{week.minutes.get(part, 0) or '-':>{width}}" for part, width in zip(back.parts, widths, strict=True)
            )
            lines.append(f"{week.monday!s:<12}{week.days:>4}{minutes}{sum(week.minutes.values()):>8}")
    else:
        lines.append("no sessions in these weeks")
    if back.tempi:
        lines += ["", "tempo reached: first, last, fastest"]
        width = max(map(len, back.kinds)) + 2
        for kind in back.kinds:
            reached = [each.tempo for each in back.tempi if each.kind == kind]
            lines.append(f"  {kind:<{width}}{reached[0]:>4}{reached[-1]:>5}{max(reached):>5}")
    if back.due:
        lines += ["", "due, the worst first"]
        lines += [
            f"  {_told(each.kind, each.what)}: {_how(each.rating, each.steps, each.days_ago)}" for each in back.due
        ]
    return lines


def _told(kind: str, what: str) -> str:
    return f"{kind}, {what}" if what else kind


def _how(rating: int, steps: int, ago: int) -> str:
    slower = f", {-steps} step{'s' if steps < -1 else ''} slower" if steps < 0 else ""
    return f"rated {rating}{slower}, had {ago} practice day{'s' if ago != 1 else ''} ago"
