"""From a study to the files of its sheet: the one place that knows the whole way.

The music library is loaded only after the engraver has been started, so that both come up at the same time.
"""

from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from etudegen.engraving.engraver import Engraver
from etudegen.files.writing import check_free, prepare_folder, write_all
from etudegen.sheets.play_along import names_of, play_along
from etudegen.sound.backing import Backing
from etudegen.study import Study

if TYPE_CHECKING:
    # Not loaded with this module: the engraver has to be started before the music library is.
    from music21.stream import Score

    from etudegen.sound.performance import Performance


class Format(StrEnum):
    """What a sheet can be written as; the value is also the ending of the file."""

    PDF = "pdf"
    MUSICXML = "musicxml"
    MIDI = "midi"
    LY = "ly"

    @property
    def ending(self) -> str:
        """The usual ending of such a file."""
        return {"midi": "mid"}.get(self.value, self.value)


USUAL_FORMATS = (Format.PDF, Format.MUSICXML, Format.MIDI)


@dataclass(frozen=True, slots=True)
class Sheet:
    """The files written for a study, and those of them in whose places other content stood."""

    study: Study
    files: tuple[Path, ...]
    replaced: tuple[Path, ...]


def make_sheet(
    study: Study,
    folder: Path,
    formats: Sequence[Format] = USUAL_FORMATS,
    *,
    force: bool = False,
    engraver: Engraver | None = None,
    backing: Backing | None = None,
) -> Sheet:
    """Write a study into a folder in the formats asked for, all of them or none.

    ``engraver`` is one that was started before, to save time; it is used if the formats need one, and left open. With a
    ``backing`` there is a play-along beside them.
    Raises :class:`~etudegen.errors.InputError` if the folder cannot take them and
    :class:`~etudegen.errors.MachineError` if engraving or writing fails.
    """
    names = {format_: f"{study.name}.{format_.ending}" for format_ in formats}
    prepare_folder(folder)
    if not force:
        check_free(folder, [*names.values(), *(names_of(study.name) if backing else [])])
    contents, heard = _contents(study, tuple(names), engraver, backing)
    files = {names[format_]: contents[format_] for format_ in names}
    return Sheet(study, *write_all(folder, files | heard))


def _contents(
    study: Study, formats: Sequence[Format], started: Engraver | None, backing: Backing | None
) -> tuple[dict[Format, bytes], dict[str, bytes]]:
    heard: dict[str, bytes] = {}
    with _engraver_for(formats, started) as engraver:
        # Loaded here and not above: the engraver is starting by now, and loads its own libraries meanwhile.
        from etudegen.notation.score import write_score  # noqa: PLC0415
        from etudegen.sound.performance import perform  # noqa: PLC0415

        score = write_score(study)
        if engraver is not None:
            from etudegen.engraving.reading import read_page  # noqa: PLC0415

            engraver.engrave(read_page(score))
        # Before MusicXML is written, which moves what stands under octave brackets.
        performance = perform(score) if backing is not None or Format.MIDI in formats else None
        contents = written(score, performance, formats)
        if backing is not None and performance is not None:
            heard = play_along(performance, study.name, backing)
        if engraver is not None and Format.PDF in formats:
            contents[Format.PDF] = engraver.pdf()
        if engraver is not None and Format.LY in formats:
            contents[Format.LY] = engraver.text()
    return contents, heard


def written(score: "Score", performance: "Performance | None", formats: Sequence[Format]) -> dict[Format, bytes]:
    """Return what needs no engraver of the formats asked for: MIDI of the performance, and MusicXML of the score."""
    from etudegen.export.midi import midi  # noqa: PLC0415 - see above
    from etudegen.export.musicxml import musicxml  # noqa: PLC0415

    contents: dict[Format, bytes] = {}
    if performance is not None and Format.MIDI in formats:
        contents[Format.MIDI] = midi(performance)
    if Format.MUSICXML in formats:
        contents[Format.MUSICXML] = musicxml(score)
    return contents


def _engraver_for(formats: Sequence[Format], started: Engraver | None) -> AbstractContextManager[Engraver | None]:
    if Format.PDF not in formats and Format.LY not in formats:
        return nullcontext()
    return nullcontext(started) if started else Engraver(pdf=Format.PDF in formats)
