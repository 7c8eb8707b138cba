"""From tunes in several keys to the files of their sheet: pages that hold whole keys, printed side by side."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from etudegen.engraving.book import Book, halfway
from etudegen.engraving.page import Page
from etudegen.engraving.press import Press
from etudegen.engraving.systems import most_systems, systems_of
from etudegen.files.writing import Written, check_free, prepare_folder, write_all
from etudegen.sheets.exercise import Format, written
from etudegen.sheets.tune_pages import sections
from etudegen.study import Study

if TYPE_CHECKING:
    # Not loaded with this module: the presses have to be started before the music library is.
    from music21.stream import Score


def _parts(page: Page, count: int) -> list[Book]:
    """Return a page as a book in so many parts that are about as much work."""
    whole = sections(page)
    contents = [section.content for section in whole if isinstance(section.content, Page)]
    works = [len(content.measures) for content in contents]
    if count == 1 or len(whole) == 1:
        return [Book(page.title, "", page.paper, tuple(whole))]
    cut = halfway(works)
    first = 1 + sum(-(-systems_of(content) // most_systems(content)) for content in contents[:cut])
    return [
        Book(page.title, "", page.paper, tuple(whole[:cut])),
        Book(page.title, "", page.paper, tuple(whole[cut:]), first),
    ]


def make_tune_sheets(
    studies: Sequence[Study],
    folder: Path,
    formats: Sequence[Format],
    started: Sequence[Press],
    *,
    force: bool = False,
) -> Written:
    """Write tunes in keys into a folder in the formats asked for, all of them or none.

    ``started`` are presses that share the work of the first study; further ones get presses of their own. They may be
    none where neither PDF nor LilyPond text is asked for.
    """
    names = [f"{study.name}.{each.ending}" for study in studies for each in formats]
    prepare_folder(folder)
    if not force:
        check_free(folder, names)
    contents: dict[str, bytes] = {}
    for number, study in enumerate(studies):
        made = _contents(study, formats, started if number == 0 else [])
        contents |= {f"{study.name}.{each.ending}": made[each] for each in formats}
    return write_all(folder, contents)


def _contents(study: Study, formats: Sequence[Format], started: Sequence[Press]) -> dict[Format, bytes]:
    # Loaded here and not above: the presses are starting by now, and load their own libraries meanwhile.
    from etudegen.notation.score import write_score  # noqa: PLC0415

    score = write_score(study)
    if Format.PDF not in formats and Format.LY not in formats:
        return _written(score, formats)
    if started:
        return _printed(score, formats, started)
    with Press(pdf=Format.PDF in formats) as press:
        return _printed(score, formats, [press])


def _written(score: "Score", formats: Sequence[Format]) -> dict[Format, bytes]:
    from etudegen.sound.performance import perform  # noqa: PLC0415 - see above

    return written(score, perform(score) if Format.MIDI in formats else None, formats)


def _printed(score: "Score", formats: Sequence[Format], started: Sequence[Press]) -> dict[Format, bytes]:
    from etudegen.engraving.joining import joined  # noqa: PLC0415 - see above
    from etudegen.engraving.reading import read_page  # noqa: PLC0415

    # The text is one file, whoever prints it.
    parts = _parts(read_page(score), 1 if Format.LY in formats else len(started))
    for press, part in zip(started, parts, strict=False):
        press.begin(part)
    contents = _written(score, formats)
    if Format.PDF in formats:
        contents[Format.PDF] = joined(started[: len(parts)], parts)
    if Format.LY in formats:
        contents[Format.LY] = started[0].text()
    return contents
