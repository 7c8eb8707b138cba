"""Sheets on the disk: studies in the formats asked for, all their files or none."""

from collections.abc import Sequence
from pathlib import Path

from etudegen.engraving.engraver import Engraver
from etudegen.files.writing import Written, check_free, prepare_folder, write_all
from etudegen.sheets.contents import USUAL_FORMATS, Format, contents_of
from etudegen.sheets.play_along import names_of
from etudegen.sound.backing import Backing
from etudegen.study import Study


def write_sheets(
    studies: Sequence[Study],
    folder: Path,
    formats: Sequence[Format] = USUAL_FORMATS,
    *,
    force: bool = False,
    engraver: Engraver | None = None,
    backing: Backing | None = None,
    line_bookmarks: bool = False,
) -> Written:
    """Write studies into a folder in the formats asked for, all of them or none.

    The first study takes the ``engraver``, if there is one and the formats need it; for the rest see
    :func:`~etudegen.sheets.contents.contents_of`. Raises :class:`~etudegen.errors.InputError` if the folder cannot
    take them and :class:`~etudegen.errors.MachineError` if engraving or writing fails.
    """
    prepare_folder(folder)
    if not force:
        names = [f"{study.name}.{each.ending}" for study in studies for each in formats]
        heard = [name for study in studies if backing is not None for name in names_of(study.name)]
        check_free(folder, names + heard)
    files: dict[str, bytes] = {}
    for number, study in enumerate(studies):
        made = contents_of(
            study,
            formats,
            engraver=engraver if number == 0 else None,
            backing=backing,
            line_bookmarks=line_bookmarks,
        )
        files |= {f"{study.name}.{each.ending}": made.formats[each] for each in formats} | made.play_along
    return write_all(folder, files, force=force)
