"""A player's tune in the keys asked for: which, in which order, and what the pages of them say."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from etudegen.errors import InputError
from etudegen.exercises.common import HEALTH
from etudegen.instrument.catalogue import Instrument
from etudegen.notation.marks import PageRole
from etudegen.notation.page import duration_text
from etudegen.plain_text import plain_name, printable
from etudegen.sound.performance import Performance, perform
from etudegen.study import Paper
from etudegen.theory.keys import KeyOrder, all_tonics, in_order, parse_keys
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.repeats import RepeatSigns, playing_order
from etudegen.theory.tempo import checked_tempo
from etudegen.tunes.document import read_document
from etudegen.tunes.placing import Placed, Unfit, key_name, named, placed
from etudegen.tunes.reading import read_melody
from etudegen.tunes.tune import Melody
from etudegen.tunes.unsupported import unsupported
from etudegen.tunes.writing import TuneSheet, with_tempo, write_tunes

HOME = "home"
_USUAL_TEMPO = 96
_INSTRUCTION = (
    "One tune, every key: hear the tonic before the first note, and play it as if it had been written there. "
    "Go on only when it sings."
)
_CAUTION = f"Rest after each key for as long as you have played. {HEALTH}"


@dataclass(frozen=True, slots=True)
class KeysWanted:
    """What is asked for: ``keys`` as typed (written tonics, ``all``, or ``home`` for the tune's own key)."""

    instrument: Instrument
    low: WrittenPitch
    high: WrittenPitch
    keys: str = "all"
    order: KeyOrder | None = None
    seed: int = 1
    tempo: int | None = None
    fingerings: str = "changes"
    paper: Paper = Paper.A4
    title: str = ""

    def __post_init__(self) -> None:
        if self.low.number > self.high.number:
            raise InputError(f"low {self.low} lies above high {self.high}: give the lower note as low")
        if self.tempo is not None:
            checked_tempo(self.tempo)


@dataclass(frozen=True, slots=True)
class InKeys:
    """A tune in keys: what fits, what does not, and what of the file could not be kept."""

    tunes: tuple[Placed, ...]
    unfit: tuple[Unfit, ...]
    lost: tuple[str, ...]


def read_tune(path: Path, part: str | None, instrument: Instrument) -> Melody:
    """Read a tune from a MusicXML file as an instrument reads it; raise :class:`InputError` for one that cannot be."""
    document = read_document(path, part)
    title = printable(document.title) or printable(path.stem)
    return read_melody(document.root, title, printable(path.name), instrument, unsupported(document.root))


def in_keys(melody: Melody, wanted: KeysWanted) -> InKeys:
    """Move a tune to the keys asked for; raise :class:`InputError` where it fits into the range in none of them."""
    if wanted.title:
        melody = replace(melody, title=printable(wanted.title))
    home = melody.tonic
    if wanted.keys.strip() == HOME:
        tonics: Sequence[WrittenPitch] = (home,)
        keep = True
    else:
        # Minor tunes name their keys with an m; so may who asks for them.
        asked = parse_keys(re.sub(r"([A-Ga-g][#b♯♭]?)m\b", r"\1", wanted.keys))
        keep = bool(asked)
        tonics = asked or all_tonics()
        if wanted.order is not None or not asked:
            tonics = in_order(tonics, wanted.order or KeyOrder.FOURTHS, wanted.seed)
    found = [placed(named(melody, tonic, keep=keep), wanted.low, wanted.high) for tonic in tonics]
    tunes = tuple(each for each in found if isinstance(each, Placed))
    unfit = tuple(each for each in found if isinstance(each, Unfit))
    if not tunes:
        raise InputError(
            f"{melody.title!r} fits between {wanted.low} and {wanted.high} in none of the keys asked for: "
            f"in {unfit[0].key} {unfit[0].why}"
        )
    if wanted.tempo is not None or melody.bars[0].tempo is None:
        tunes = tuple(replace(each, melody=with_tempo(each.melody, wanted.tempo or _USUAL_TEMPO)) for each in tunes)
    return InKeys(tunes, unfit, melody.lost)


def sheet_of(tunes: Iterable[Placed], wanted: KeysWanted) -> TuneSheet:
    """Return tunes in keys as a sheet."""
    chosen = tuple(tunes)
    names = " ".join(tune.key for tune in chosen)
    if len(chosen) == len(all_tonics()):
        names = "all keys" + (f", {wanted.order}" if wanted.order else "")
    span = f"{wanted.low.pretty} to {wanted.high.pretty}"
    return TuneSheet(
        tunes=chosen,
        instrument=wanted.instrument,
        paper=wanted.paper,
        fingerings=wanted.fingerings,
        texts={
            PageRole.TITLE: chosen[0].melody.title,
            PageRole.SUBTITLE: " · ".join((wanted.instrument.name, span, names)),
            PageRole.INSTRUCTION: _INSTRUCTION,
            PageRole.CAUTION: _CAUTION,
            PageRole.TIMING: f"Playing {duration_text(sum(map(seconds, chosen), Fraction(0)))}, repeats included",
        },
    )


def seconds(tune: Placed) -> Fraction:
    """Return how long a tune lasts, repeats included."""
    bars = tune.melody.bars
    signs = [
        RepeatSigns(bar.repeat_starts, bar.repeat_ends, bar.repeat_times, endings_of(bar.ending), place == 0)
        for place, bar in enumerate(bars)
    ]
    whole, tempo = Fraction(0), _USUAL_TEMPO
    for place in playing_order(signs):
        tempo = bars[place].tempo or tempo
        whole += bars[place].length * 60 / tempo
    return whole


def endings_of(text: str) -> tuple[int, ...]:
    """Return the numbers of an ending such as ``1`` or ``1, 2``."""
    return tuple(int(number) for number in re.findall(r"[0-9]+", text)[:9])


def file_stem(title: str) -> str:
    """Return the plain name of a tune's files."""
    return plain_name(title).lower() or "tune"


def key_in_file_names(tune: Placed) -> str:
    """Return a key as file names have it, such as ``Bb`` or ``Fsm``."""
    return key_name(tune.melody).replace("♭", "b").replace("♯", "s")


def performance_of(melody: Melody, instrument: Instrument) -> Performance:
    """Return a tune as it stands, played by an instrument."""
    tune = Placed(key_name(melody), melody if melody.bars[0].tempo else with_tempo(melody, _USUAL_TEMPO))
    texts = {PageRole.TITLE: melody.title}
    return perform(write_tunes(TuneSheet((tune,), instrument, Paper.A4, "none", texts)))
