"""The command for a player's own tunes: a melody from a file, in every key."""

import json as json_format
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from etudegen.cli.exercise import parse_formats
from etudegen.cli.parsing import tell_replaced
from etudegen.cli.terminal import tell_made
from etudegen.engraving.engraver import Engraver
from etudegen.exercises.common import LARGEST_SEED, Fingerings
from etudegen.exercises.settings import one_of, whole_number
from etudegen.instrument.catalogue import USUAL
from etudegen.instrument.catalogue import instrument as find_instrument
from etudegen.practice.profile import profile_named, read_profile
from etudegen.sheets.contents import USUAL_FORMATS
from etudegen.study import Paper
from etudegen.theory.keys import KeyOrder
from etudegen.theory.pitch import SoundingPitch, WrittenPitch
from etudegen.theory.tempo import FASTEST, SLOWEST


def transpose_command(started: Engraver | None) -> Callable[..., None]:
    """Return the function behind ``etudegen transpose``; ``started`` is an engraver that is coming up already."""

    def transpose(
        file: Annotated[Path, typer.Argument(metavar="FILE", help="MusicXML file with a melody, plain or .mxl.")],
        part: Annotated[
            str | None, typer.Option("--part", metavar="PART", help="Part to take, by number, id or name.")
        ] = None,
        wanted_keys: Annotated[
            str,
            typer.Option(
                "--keys", metavar="LIST", help="Keys by their written tonic, all, or home for the tune's own."
            ),
        ] = "all",
        order: Annotated[
            str | None, typer.Option("--order", metavar="ORDER", help=f"Order of the keys: {', '.join(KeyOrder)}.")
        ] = None,
        profile: Annotated[
            Path | None, typer.Option("--profile", metavar="FILE", help="A profile to take instrument and range from.")
        ] = None,
        instrument: Annotated[
            str | None,
            typer.Option("--instrument", metavar="NAME", help=f"Instrument to write for. [default: {USUAL}]"),
        ] = None,
        low: Annotated[
            str | None, typer.Option("--low", metavar="NOTE", help="Lowest comfortable note. [default: F#3]")
        ] = None,
        high: Annotated[
            str | None, typer.Option("--high", metavar="NOTE", help="Highest comfortable note. [default: G5]")
        ] = None,
        concert: Annotated[bool, typer.Option("--concert", help="Read low and high as concert pitch.")] = False,
        tempo: Annotated[
            str | None,
            typer.Option("--tempo", metavar="BPM", help="Quarter notes a minute. [default: the file's, or 96]"),
        ] = None,
        fingerings: Annotated[
            str, typer.Option("--fingerings", metavar="WHERE", help=f"One of {', '.join(Fingerings)}.")
        ] = "changes",
        separate: Annotated[bool, typer.Option("--separate", help="Write one set of files for each key.")] = False,
        seed: Annotated[str, typer.Option("--seed", metavar="NUMBER", help="Picks among shuffled orders.")] = "1",
        title: Annotated[
            str, typer.Option("--title", metavar="TEXT", help="Title of the sheet. [default: the file's]")
        ] = "",
        paper: Annotated[str, typer.Option("--paper", metavar="PAPER", help="Paper: A4 or Letter.")] = "A4",
        out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder for the files.")] = Path("output"),
        formats: Annotated[
            str, typer.Option("--format", metavar="LIST", help="What to write: any of pdf,musicxml,midi,ly.")
        ] = ",".join(USUAL_FORMATS),
        force: Annotated[bool, typer.Option("--force", help="Replace files that were not written here.")] = False,
        json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of paths.")] = False,
    ) -> None:
        """A tune of your own in every key: each in the octave that suits the range best, fingerings added."""
        read = read_profile(profile_named(profile)) if profile else None
        playing = find_instrument(instrument) if instrument else read.instrument if read else None
        playing = playing or find_instrument(USUAL)

        def limit(text: str | None, usual: WrittenPitch) -> WrittenPitch:
            if text is None:
                return usual
            return playing.written(SoundingPitch.parse(text)) if concert else WrittenPitch.parse(text)

        lowest = limit(low, read.low if read else WrittenPitch.parse("F#3"))
        highest = limit(high, read.high if read else WrittenPitch.parse("G5"))
        chosen = parse_formats(formats)
        from etudegen.sheets.sheet import write_sheets  # noqa: PLC0415
        from etudegen.tunes.keys import (  # noqa: PLC0415
            KeysWanted,
            each_by_itself,
            in_keys,
            read_tune,
            study_of,
        )

        wanted = KeysWanted(
            instrument=playing,
            low=lowest,
            high=highest,
            keys=wanted_keys,
            order=one_of(KeyOrder, "order")(order) if order is not None else None,
            seed=whole_number("seed", 0, LARGEST_SEED)(seed),
            tempo=None if tempo is None else whole_number("tempo", SLOWEST, FASTEST)(tempo),
            fingerings=one_of(Fingerings, "fingerings")(fingerings),
            paper=one_of(Paper, "paper")(paper),
            title=title,
        )
        made = in_keys(read_tune(file, part, playing), wanted)
        studies = [study_of(each, wanted) for each in (each_by_itself(made) if separate else [made])]
        files, replaced = write_sheets(studies, out, chosen, force=force, engraver=started, line_bookmarks=True)
        tell_replaced(replaced)
        skipped = [(each.key, each.why) for each in made.unfit]
        if json:
            told = {
                "files": list(map(str, files)),
                "keys": [tune.key for tune in made.tunes],
                "skipped": [{"what": what, "why": why} for what, why in skipped],
                "lost": list(made.lost),
            }
            tell_made(json_format.dumps(told))
            return
        tell_made("\n".join(map(str, files)))
        for what, why in skipped:
            typer.echo(f"left out: {what}: {why}", err=True)
        for lost in made.lost:
            typer.echo(f"not kept: {lost}", err=True)

    return transpose
