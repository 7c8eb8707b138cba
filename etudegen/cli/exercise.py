"""A command for each kind of exercise, made from its settings: what the table of kinds says is what there is."""

import inspect
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from etudegen.cli.parsing import tell_replaced
from etudegen.cli.terminal import tell_made
from etudegen.engraving.engraver import Engraver
from etudegen.errors import InputError
from etudegen.exercises.kinds import Kind
from etudegen.exercises.settings import Setting, settings_of
from etudegen.instrument.catalogue import USUAL, instrument
from etudegen.plain_text import with_capital
from etudegen.sheets.contents import USUAL_FORMATS, Format
from etudegen.sheets.sheet import write_sheets
from etudegen.sound.backing import Backing
from etudegen.study import Study

_OWN = {
    "concert": Annotated[bool, typer.Option("--concert", help="Read the notes of the range as concert pitch.")],
    "out": Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Folder for the files.")],
    "format": Annotated[
        str, typer.Option("--format", metavar="LIST", help=f"What to write: any of {','.join(Format)}.")
    ],
    "audio": Annotated[bool, typer.Option("--audio", help="Write a play-along beside it: MIDI and sound (WAV).")],
    "force": Annotated[bool, typer.Option("--force", help="Replace files that were not written here.")],
    "json": Annotated[bool, typer.Option("--json", help="Print one JSON object instead of paths.")],
}
_TUNE = "tune"
_TUNE_OPTION = Annotated[
    Path | None, typer.Option("--tune", metavar="FILE", help="MusicXML file to take the phrase from.")
]
_OWN_DEFAULTS = {
    "concert": False, "out": Path("output"), "format": ",".join(USUAL_FORMATS), "audio": False,
    "force": False, "json": False,
}  # fmt: skip


def parse_formats(text: str) -> tuple[Format, ...]:
    """Read a list of formats parted by commas."""
    words = [word.strip().lower() for word in text.split(",") if word.strip()]
    for word in words:
        if word not in list(Format):
            raise InputError(f"unknown format {word!r}: choose any of {','.join(Format)}")
    if not words:
        raise InputError(f"no format in {text!r}: choose any of {','.join(Format)}")
    return tuple(dict.fromkeys(Format(word) for word in words))


def _option(name: str, setting: Setting) -> inspect.Parameter:
    flag = "--" + name.replace("_", "-")
    meaning = with_capital(setting.meaning)
    annotation: Any
    if setting.is_flag:
        annotation, default = Annotated[bool, typer.Option(flag, help=f"{meaning}.")], False
    else:
        shown = f"{meaning}. [default: {setting.shown_default}]"
        stated = (
            typer.Argument(metavar=setting.placeholder, help=shown, show_default=False)
            if setting.positional
            else typer.Option(flag, metavar=setting.placeholder, help=shown)
        )
        annotation = Annotated[str | None, stated]
        default = None
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation)


def exercise_command(kind: Kind, engraver: Engraver | None = None) -> Callable[..., None]:
    """Return the function behind a kind's command, with one option for each of its settings.

    ``engraver`` is one that is already starting, if a page is likely to be printed.
    """

    def command(**options: Any) -> None:
        own = {name: options.pop(name) for name in _OWN}
        tune = options.pop(_TUNE, None)
        if tune is not None:
            options = _with_phrase(options, tune)
        parameters = kind.parameters.of(options, concert=own["concert"])
        formats = parse_formats(own["format"])
        backing = Backing(drone=None if kind.exercise.over_drone else False) if own["audio"] else None
        study = kind.study(parameters)
        files, replaced = write_sheets(
            [study], own["out"], formats, force=own["force"], engraver=engraver, backing=backing
        )
        tell_made(_as_json(study, files) if own["json"] else "\n".join(map(str, files)))
        tell_replaced(replaced)
        if not own["json"]:
            for skipped in study.skipped:
                typer.echo(f"left out: {skipped.what}: {skipped.why}", err=True)

    options = [_option(name, setting) for name, setting in settings_of(kind.parameters).items()]
    options += [
        inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=_OWN_DEFAULTS[name], annotation=annotation)
        for name, annotation in _OWN.items()
    ]
    if kind.exercise.phrase_of_tune:
        options.append(inspect.Parameter(_TUNE, inspect.Parameter.KEYWORD_ONLY, default=None, annotation=_TUNE_OPTION))
    command.__signature__ = inspect.Signature(options)  # type: ignore[attr-defined]
    command.__annotations__ = {option.name: option.annotation for option in options}
    command.__name__ = kind.name
    command.__doc__ = kind.purpose
    return command


def _with_phrase(options: dict[str, Any], tune: Path) -> dict[str, Any]:
    """Return options with the phrase that a file holds, and the chord it begins over unless another is asked for."""
    if options["phrase"] is not None:
        raise InputError("the phrase is given twice, as text and in a file: give one of them")
    from etudegen.tunes.keys import read_tune  # noqa: PLC0415 - loads the music library
    from etudegen.tunes.phrases import phrase_of  # noqa: PLC0415

    playing = instrument(options["instrument"] or USUAL)
    phrase, over = phrase_of(read_tune(tune, None, playing))
    return options | {"phrase": phrase, "over": over if options["over"] is None else options["over"]}


def _as_json(study: Study, files: Sequence[Path]) -> str:
    told: dict[str, Any] = {
        "files": [str(path) for path in files],
        "bars": study.bars,
        "playing_seconds": round(float(study.playing_seconds), 3),
        "resting_seconds": round(float(study.resting_seconds), 3),
        "skipped": [{"what": skipped.what, "why": skipped.why} for skipped in study.skipped],
    }
    if study.contact_seconds is not None:
        told["contact_seconds"] = round(float(study.contact_seconds), 3)
    return json.dumps(told)
