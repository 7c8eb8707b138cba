"""The command for routines: lists, shows, copies and makes them, a block said in a line."""

from functools import partial
from pathlib import Path
from typing import Annotated

import tomlkit
import typer

from etudegen.cli.parsing import tell_replaced
from etudegen.cli.terminal import tell_made
from etudegen.errors import InputError
from etudegen.files.names import distinct_name
from etudegen.files.reading import read_content
from etudegen.files.writing import check_free, prepare_folder, write_all
from etudegen.plain_text import printable
from etudegen.practice.levels import levels
from etudegen.practice.literal import departures
from etudegen.practice.routine_lines import read_lines
from etudegen.practice.routines import (
    Routine,
    checked_routine,
    find_tune,
    folder_for_own,
    own_routine_names,
    plain_name,
    routine_file,
    routine_names,
)
from etudegen.practice.routines import (
    routine as find_routine,
)

_LONGEST_FILE = 100_000
_LONGEST_ABOUT = 200


def routine(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="The routine. [default: list all]")] = None,
    blocks: Annotated[
        list[str] | None, typer.Argument(metavar="[BLOCK]...", help="Its blocks, such as 'slurs 20 ramp'.")
    ] = None,
    from_file: Annotated[
        Path | None, typer.Option("--from-file", metavar="FILE", help="Take the blocks from a file, a line each.")
    ] = None,
    copy: Annotated[
        str | None, typer.Option("--copy", metavar="NAME", help="Make it a copy of another routine.")
    ] = None,
    about: Annotated[str, typer.Option("--about", metavar="TEXT", help="A sentence about it.")] = "",
    profile: Annotated[
        Path | None, typer.Option("--profile", metavar="FILE", help="Keep it beside this profile. [default: here]")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that was not written here.")] = False,
) -> None:
    """Routines: list them, show one, copy one, or make one of blocks said as a musician would."""
    if name is None:
        if from_file or copy:
            raise InputError("a name for the routine is missing: etudegen routine morning 'slurs 20 ramp'")
        typer.echo("\n".join(_listed(profile)))
        return
    ways = [way for way, given in (("blocks", blocks), ("--from-file", from_file), ("--copy", copy)) if given]
    if len(ways) > 1:
        raise InputError(f"{' and '.join(ways)} do not go together: give one of them")
    if not ways:
        typer.echo("\n".join(_shown(find_routine(name, profile))))
        return
    if not plain_name(name):
        raise InputError(f"name {name!r} is not allowed: letters, digits and hyphens, up to 60, such as morning")
    if len(about) > _LONGEST_ABOUT:
        raise InputError(f"about of {len(about)} characters is too long: allowed are {_LONGEST_ABOUT}")
    folder = folder_for_own(profile)
    if copy is not None:
        find_routine(copy, profile)
        content = routine_file(copy, profile).read_bytes()
        made = None
    else:
        lines = [line for line in blocks or _lines_of(from_file) if line.strip()]
        tunes = partial(find_tune, folders=(folder,))
        made = checked_routine(Routine(name, about, None, read_lines(lines, tunes)))
        document = tomlkit.document()
        if about:
            document["about"] = printable(about)
        document["lines"] = tomlkit.array().multiline(multiline=True)
        for line in lines:
            document["lines"].append(line)
        content = tomlkit.dumps(document).encode()
    prepare_folder(folder, "name a profile in another folder")
    file = f"{distinct_name(name)}.toml" if name.isascii() else f"{name}.toml"
    if not force:
        check_free(folder, [file])
    files, replaced = write_all(folder, {file: content}, force=force)
    tell_replaced(replaced)
    tell_made(str(files[0]))
    if made is not None:
        for each in _departures(made):
            typer.echo(f"etudegen: {each}", err=True)


def _departures(made: Routine) -> list[str]:
    strongest = levels()[-1]
    timed = [(block, block.minutes) for block in made.blocks]
    return list(departures(timed, strongest.run, strongest.longest))


def _lines_of(file: Path | None) -> list[str]:
    assert file is not None
    content = read_content(file, _LONGEST_FILE)
    if len(content) > _LONGEST_FILE:
        raise InputError(f"{str(file)!r} is too long for a routine: allowed are {_LONGEST_FILE} bytes")
    try:
        text = content.decode("utf-8-sig")
    except ValueError:
        raise InputError(f"{str(file)!r} is no text in UTF-8: save it as that") from None
    lines = [line.strip() for line in text.splitlines()]
    for line in lines:
        if printable(line) != line:
            raise InputError(f"{str(file)!r} holds characters that cannot be printed")
    return [line for line in lines if line and not line.startswith("#")]


def _listed(profile: Path | None) -> list[str]:
    names = list(dict.fromkeys((*own_routine_names(profile), *routine_names())))
    width = max(map(len, names)) + 2
    told = []
    for each in names:
        try:
            found = find_routine(each, profile)
        except InputError as error:
            told.append(f"{each:<{width}}({error})")
            continue
        length = f"{found.minutes} min" if found.use is None else f"{found.use.shortest}-{found.use.longest} min"
        told.append(f"{each:<{width}}{length:<14}{found.about or _in_short(found)}".rstrip())
    return told


def _in_short(found: Routine) -> str:
    return ", ".join(block.kind for block in found.blocks)


def _shown(found: Routine) -> list[str]:
    lines = [f"{found.name}: {found.about}" if found.about else found.name]
    for number, block in enumerate(found.blocks, start=1):
        length = f"{block.minutes} min" if found.literal else f"share {block.share}"
        own = f"{Path(block.own).stem} " if block.own else ""
        settings = ", ".join(f"{name} {_said(value)}" for name, value in block.settings.items())
        lines.append(f"{number:>2}  {length:<10}{block.part}: {block.kind} {own}{settings}".rstrip())
    return lines


def _said(value: object) -> str:
    if isinstance(value, tuple | list):
        return " ".join(map(str, value))
    return str(value).lower() if isinstance(value, bool) else str(value)
