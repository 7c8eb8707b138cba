"""The command that makes something to play along with from a sheet: MIDI and sound."""

import json as json_format
from pathlib import Path
from typing import Annotated

import typer

from etudegen.cli.parsing import tell_replaced
from etudegen.cli.terminal import tell_made
from etudegen.exercises.settings import whole_number
from etudegen.files.names import distinct_name
from etudegen.files.writing import check_free, prepare_folder, write_all
from etudegen.instrument.catalogue import USUAL
from etudegen.instrument.catalogue import instrument as find_instrument
from etudegen.sheets.play_along import USUAL_SOUNDS, names_of, parse_sounds, parse_tempos
from etudegen.sound.backing import MOST_COUNT_IN, Backing


def play_along(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="MusicXML file of a sheet or a tune, plain or .mxl.")],
    part: Annotated[
        str | None, typer.Option("--part", metavar="PART", help="Part to take, by number, id or name.")
    ] = None,
    instrument: Annotated[str, typer.Option("--instrument", metavar="NAME", help="Whose sound the part has.")] = USUAL,
    tempo: Annotated[
        str | None,
        typer.Option("--tempo", metavar="BPM", help="One tempo, or a set such as 60-96/12. [default: the sheet's]"),
    ] = None,
    count_in: Annotated[
        str, typer.Option("--count-in", metavar="BARS", help=f"Bars counted before it, 0 to {MOST_COUNT_IN}.")
    ] = "1",
    click: Annotated[
        bool | None, typer.Option("--click/--no-click", help="Click on every beat. [default: where there is no band]")
    ] = None,
    drone: Annotated[bool, typer.Option("--drone", help="Hold the last note of each line under it.")] = False,
    answer: Annotated[
        bool, typer.Option("--answer", help="Call and response: each phrase once played, once left to you.")
    ] = False,
    band: Annotated[
        bool | None,
        typer.Option("--band/--no-band", help="Bass, chords and cymbal. [default: where there are chord symbols]"),
    ] = None,
    melody: Annotated[bool, typer.Option("--melody/--no-melody", help="The part itself.")] = True,
    swing: Annotated[
        bool | None, typer.Option("--swing/--straight", help="Eighths. [default: as the sheet says]")
    ] = None,
    sound: Annotated[
        str, typer.Option("--sound", metavar="LIST", help="Sound files to write: any of wav,flac,ogg, or none.")
    ] = ",".join(USUAL_SOUNDS),
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder for the files.")] = Path("output"),
    force: Annotated[bool, typer.Option("--force", help="Replace files that were not written here.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of paths.")] = False,
) -> None:
    """Something to play along with: count-in, click, drone, call and response, a band for chord changes."""
    bars = whole_number("count-in", 0, MOST_COUNT_IN)(count_in)
    backing = Backing(count_in=bars, click=click, drone=drone, answer=answer, band=band, melody=melody, swing=swing)
    tempos = parse_tempos(tempo) if tempo is not None else ()
    sounds = () if sound.strip() == "none" else parse_sounds(sound)
    playing = find_instrument(instrument)
    from etudegen.notation.score import write_score  # noqa: PLC0415
    from etudegen.sheets.play_along import play_along as files_of  # noqa: PLC0415 - the library of sound is loaded by it
    from etudegen.sound.performance import perform  # noqa: PLC0415
    from etudegen.tunes.keys import as_it_stands, read_tune  # noqa: PLC0415

    performance = perform(write_score(as_it_stands(read_tune(file, part, playing), playing)))
    name = distinct_name("-".join(file.stem.lower().split()))
    prepare_folder(out)
    if not force:
        check_free(out, names_of(name, tempos, sounds))
    files, replaced = write_all(out, files_of(performance, name, backing, tempos, sounds), force=force)
    tell_replaced(replaced)
    tell_made(json_format.dumps({"files": list(map(str, files))}) if json else "\n".join(map(str, files)))
