"""Draws random things that players may type, over all kinds of exercise, and looks for the first surprise.

    python tests/long_check.py [studies] [sheets] [--seed NUMBER]

Without a seed it takes one at random; it prints the one it took. Every text must give a valid study or a refusal; the
sheets must be valid MusicXML 4.0 and print without a complaint of LilyPond. Exit code 1 and the command line that asks
for it tell of a surprise.
"""

import argparse
import random
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

if __name__ == "__main__":
    # Run as a script, from wherever: the tests beside it are found from the folder above.
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from etudegen.exercises.kinds import Kind, all_kinds
from etudegen.sheets.contents import Format
from etudegen.sheets.sheet import write_sheets
from etudegen.study import Study
from tests.kinds.reading import ReadSheet, read_sheet, schema, timed_tones
from tests.kinds.rules import RULES
from tests.kinds.strategies import Asked, PlainChance, draw_texts
from tests.kinds.validity import check

STUDIES, SHEETS = 10_000, 200
# A sheet of the longest studies takes minutes to print; a few pages are enough to look for trouble.
_MOST_BARS = 200
_FORMATS = (Format.PDF, Format.LY, Format.MUSICXML, Format.MIDI)


class SurpriseError(Exception):
    """What was asked for, and what came of it."""

    def __init__(self, asked: Asked) -> None:
        super().__init__(str(asked))
        self.asked = asked


def in_turn(seed: int) -> Iterator[Asked]:
    """Yield random requests, the kinds in turn; the same seed gives the same ones."""
    chance = PlainChance(random.Random(seed))
    while True:
        for kind in all_kinds():
            yield draw_texts(kind, chance)


def checked(asked: Asked) -> Study | None:
    """Return the study, if it was not refused, after it was checked; raise :class:`SurpriseError` at anything else."""
    try:
        study = check(asked)
        if study is not None:
            parameters = asked.parameters()
            for rule in RULES[asked.kind.name]:
                rule(parameters, study)
    except Exception as error:
        raise SurpriseError(asked) from error
    return study


def check_studies(count: int, seed: int) -> tuple[Counter[str], Counter[str]]:
    """Check so many requests and return how many of each kind were valid, and how many were refused."""
    valid, refused = Counter[str](), Counter[str]()
    for asked, _ in zip(in_turn(seed), range(count), strict=False):
        (refused if checked(asked) is None else valid)[asked.kind.name] += 1
    return valid, refused


def _for_print(asked: Asked) -> Asked:
    """Return the same without a title: which characters a title may have is a question for other tests."""
    return replace(asked, texts={name: text for name, text in asked.texts.items() if name != "title"})


def check_sheets(count: int, seed: int) -> Counter[str]:
    """Print so many sheets, of all kinds in turn, and return how many of each kind."""
    printed, kinds = Counter[str](), all_kinds()
    chance = PlainChance(random.Random(seed))
    with tempfile.TemporaryDirectory() as folder:
        for number in range(count):
            kind = kinds[number % len(kinds)]
            asked, study = _printable(kind, chance)
            try:
                sheet = write_sheets([study], Path(folder) / str(number), _FORMATS)
                (file,) = [path for path in sheet.files if path.suffix == ".musicxml"]
                _check_file(study, read_sheet(file.read_bytes()))
            except Exception as error:
                raise SurpriseError(asked) from error
            printed[kind.name] += 1
    return printed


def _check_file(study: Study, sheet: ReadSheet) -> None:
    if not schema().validate(sheet.root):
        raise AssertionError(str(schema().error_log))
    written = [(tone.at, tone.duration, tone.number) for tone in sheet.tones]
    assert written == [(at, tone.duration, tone.pitch.number) for at, tone in timed_tones(study)]


def _printable(kind: Kind, chance: PlainChance) -> tuple[Asked, Study]:
    while True:
        asked = _for_print(draw_texts(kind, chance))
        study = checked(asked)
        if study is not None and study.bars <= _MOST_BARS:
            return asked, study


def main(arguments: Sequence[str]) -> int:
    """Carry out the check and tell what came of it; return the exit code."""
    parser = argparse.ArgumentParser(description="Random requests over all kinds of exercise, until a surprise.")
    parser.add_argument("studies", type=int, nargs="?", default=STUDIES)
    parser.add_argument("sheets", type=int, nargs="?", default=SHEETS)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(2**31))
    asked = parser.parse_args(arguments)
    # First, so that it is known even of a check that hangs.
    print(f"seed {asked.seed}", flush=True)
    try:
        valid, refused = check_studies(asked.studies, asked.seed)
        printed = check_sheets(asked.sheets, asked.seed)
    except SurpriseError as surprise:
        traceback.print_exception(surprise.__cause__)
        texts = {name: text if isinstance(text, bool) else str(text) for name, text in surprise.asked.texts.items()}
        print(f"\nA surprise (seed {asked.seed}):\n  {surprise}\n  {texts}")
        return 1
    print(f"{'kind':<11}{'valid':>8}{'refused':>9}{'printed':>9}")
    for kind in all_kinds():
        print(f"{kind.name:<11}{valid[kind.name]:>8}{refused[kind.name]:>9}{printed[kind.name]:>9}")
    print(f"{'together':<11}{valid.total():>8}{refused.total():>9}{printed.total():>9}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
