"""From tunes in several keys to the files of their sheet, whose keys are kept on a page each where they fit."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from etudegen.engraving.book import Book, Section
from etudegen.engraving.engraver import Engraver
from etudegen.engraving.page import Page
from etudegen.files.writing import Written, check_free, prepare_folder, write_all
from etudegen.sheets.exercise import Format, written
from etudegen.study import Study

if TYPE_CHECKING:
    # Not loaded with this module: the engraver has to be started before the music library is.
    from music21.stream import Score


def _book(page: Page) -> Book:
    """Return a page as a book with a bookmark for each key."""
    names = tuple(measure.label for place, measure in enumerate(page.measures) if measure.new_system or place == 0)
    return Book(page.title, "", page.paper, (Section(page.title, "", page, names),))


def make_tune_sheets(
    studies: Sequence[Study],
    folder: Path,
    formats: Sequence[Format],
    started: Engraver | None = None,
    *,
    force: bool = False,
) -> Written:
    """Write tunes in keys into a folder in the formats asked for, all of them or none.

    ``started`` is an engraver that was started before, to save time; the first study takes it, if it needs one.
    """
    names = [f"{study.name}.{each.ending}" for study in studies for each in formats]
    prepare_folder(folder)
    if not force:
        check_free(folder, names)
    contents: dict[str, bytes] = {}
    for number, study in enumerate(studies):
        made = _contents(study, formats, started if number == 0 else None)
        contents |= {f"{study.name}.{each.ending}": made[each] for each in formats}
    return write_all(folder, contents)


def _contents(study: Study, formats: Sequence[Format], started: Engraver | None) -> dict[Format, bytes]:
    # Loaded here and not above: the engraver is starting by now, and loads its own libraries meanwhile.
    from etudegen.notation.score import write_score  # noqa: PLC0415

    score = write_score(study)
    if Format.PDF not in formats and Format.LY not in formats:
        return _written(score, formats)
    if started:
        return _printed(score, formats, started)
    with Engraver(pdf=Format.PDF in formats) as engraver:
        return _printed(score, formats, engraver)


def _written(score: "Score", formats: Sequence[Format]) -> dict[Format, bytes]:
    from etudegen.sound.performance import perform  # noqa: PLC0415 - see above

    return written(score, perform(score) if Format.MIDI in formats else None, formats)


def _printed(score: "Score", formats: Sequence[Format], engraver: Engraver) -> dict[Format, bytes]:
    from etudegen.engraving.reading import read_page  # noqa: PLC0415 - see above

    engraver.engrave(_book(read_page(score)))
    contents = _written(score, formats)
    if Format.PDF in formats:
        contents[Format.PDF] = engraver.pdf()
    if Format.LY in formats:
        contents[Format.LY] = engraver.text()
    return contents
