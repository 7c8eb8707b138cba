"""From a study to the bytes of its sheet in each format: the one place that knows the whole way.

The music library is loaded only after the engraver has been started, so that both come up at the same time.
"""

from collections.abc import Collection
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from etudegen.engraving.engraver import PARTS, Engraver
from etudegen.sheets.play_along import play_along
from etudegen.sound.backing import Backing
from etudegen.study import Study

if TYPE_CHECKING:
    # Not loaded with this module: the engraver has to be started before the music library is.
    from etudegen.engraving.page import Page


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
# In measures: what takes a second process less time than its start does.
_LONG_ENOUGH = 64
# LilyPond takes a megabyte for each, and two parts are engraved at a time.
_MOST_MEASURES = 200
_ENGRAVED = frozenset({Format.PDF, Format.LY})


@dataclass(frozen=True, slots=True)
class Contents:
    """The bytes of a sheet: by format, and those of a play-along by the names of its files."""

    formats: dict[Format, bytes]
    play_along: dict[str, bytes] = field(default_factory=dict)


def contents_of(
    study: Study,
    formats: Collection[Format],
    *,
    engraver: Engraver | None = None,
    backing: Backing | None = None,
    line_bookmarks: bool = False,
) -> Contents:
    """Return a study in the formats asked for, and with a ``backing`` a play-along of it.

    ``engraver`` is one that was started before, to save time; it is used if the formats need one, and left open. With
    ``line_bookmarks`` each line is to be found in the outline of the PDF. Raises
    :class:`~etudegen.errors.MachineError` if engraving fails.
    """
    with _engraver_for(formats, engraver, PARTS if line_bookmarks else 1) as started:
        # Loaded here and not above: the engraver is starting by now, and loads its own libraries meanwhile.
        from etudegen.notation.score import write_score  # noqa: PLC0415

        score = write_score(study)
        if started is not None:
            from etudegen.engraving.reading import read_page  # noqa: PLC0415

            _engrave(started, read_page(score), formats, line_bookmarks=line_bookmarks)
        contents = Contents({})
        if backing is not None or Format.MIDI in formats:
            from etudegen.export.midi import midi  # noqa: PLC0415
            from etudegen.sound.performance import perform  # noqa: PLC0415

            # Before MusicXML is written, which moves what stands under octave brackets.
            performance = perform(score)
            if Format.MIDI in formats:
                contents.formats[Format.MIDI] = midi(performance)
            if backing is not None:
                contents.play_along.update(play_along(performance, study.name, backing))
        if Format.MUSICXML in formats:
            from etudegen.export.musicxml import musicxml  # noqa: PLC0415

            contents.formats[Format.MUSICXML] = musicxml(score)
        if started is not None and Format.PDF in formats:
            contents.formats[Format.PDF] = started.pdf()
        if started is not None and Format.LY in formats:
            contents.formats[Format.LY] = started.text()
    return contents


def _engraver_for(
    formats: Collection[Format], started: Engraver | None, parts: int
) -> AbstractContextManager[Engraver | None]:
    if not _ENGRAVED & set(formats):
        return nullcontext()
    return nullcontext(started) if started else Engraver(pdf=Format.PDF in formats, parts=parts)


def _engrave(engraver: Engraver, page: "Page", formats: Collection[Format], *, line_bookmarks: bool) -> None:
    """Hand a page over, in parts that are engraved two at a time where the engraver has as many and it is long."""
    if not line_bookmarks:
        engraver.engrave(page)
        return
    from etudegen.engraving.book import book_of_lines, in_parts  # noqa: PLC0415 - see above

    book = book_of_lines(page)
    lines = sum(measure.new_system for measure in page.measures[1:]) + 1
    if engraver.parts == 1 or lines == 1 or len(page.measures) < _LONG_ENOUGH:
        engraver.engrave(book)
        return
    count = max(engraver.parts, -(-len(page.measures) // _MOST_MEASURES))
    for part in in_parts(book, min(lines, count)):
        engraver.engrave(part)
    if Format.LY in formats:
        engraver.set_whole(book)
