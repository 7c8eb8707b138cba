"""A player's tune in the keys asked for: which, in which order, and what the pages of them say."""

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from etudegen.errors import InputError
from etudegen.exercises.common import HEALTH, Fingerings
from etudegen.files.names import distinct_name
from etudegen.instrument.catalogue import USUAL, Instrument
from etudegen.instrument.pedals import pedal_fingering
from etudegen.notation.reading import read_music
from etudegen.plain_text import printable
from etudegen.study import Line, Paper, Rest, Skipped, Study, Tone, fingered
from etudegen.theory.keys import KeyOrder, all_tonics, in_order, parse_keys
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.tempo import USUAL_TEMPO, checked_tempo
from etudegen.tunes.archive import read_file
from etudegen.tunes.document import document_of
from etudegen.tunes.placing import Placed, Unfit, key_name, named, placed
from etudegen.tunes.tune import Tune
from etudegen.tunes.unsupported import unsupported

HOME = "home"
_DIGEST = 8
_ONE_KEY = "Hear the tonic before the first note, and play it from memory as soon as it sings."
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
    fingerings: Fingerings = Fingerings.CHANGES
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


def read_tune(path: Path, part: str | None, instrument: Instrument) -> Tune:
    """Read a tune from a MusicXML file; see :func:`tune_of`."""
    return tune_of(read_file(path), path.name, part, instrument)


def tune_of(content: bytes, name: str, part: str | None, instrument: Instrument) -> Tune:
    """Return the tune in a MusicXML file of this name as an instrument reads it.

    A part for a transposing instrument, or at concert pitch, is written anew, so that it sounds the same. Raises
    :class:`InputError` for what cannot be read.
    """
    document = document_of(content, name, part)
    lost = unsupported(document.root)
    music = read_music(document.root, printable(name))
    tune = Tune(
        title=printable(document.title) or printable(Path(name).stem),
        tonic=music.tonic,
        minor=music.minor,
        lines=music.lines,
        metre=music.metre,
        tempo=music.tempo,
        feel=music.feel,
        lost=(*lost, *music.lost),
        is_ours=music.is_ours,
    )
    return tune.moved(music.steps - instrument.staff_steps, music.half_steps - instrument.half_steps)


def in_keys(tune: Tune, wanted: KeysWanted) -> InKeys:
    """Move a tune to the keys asked for; raise :class:`InputError` where it fits into the range in none of them."""
    if wanted.title:
        tune = replace(tune, title=printable(wanted.title))
    if wanted.keys.strip() == HOME:
        tonics: Sequence[WrittenPitch] = (tune.tonic,)
        keep = True
    else:
        # Minor tunes name their keys with an m; so may who asks for them.
        asked = parse_keys(re.sub(r"([A-Ga-g][#b♯♭]?)m\b", r"\1", wanted.keys))
        keep = bool(asked)
        tonics = asked or all_tonics()
        if wanted.order is not None or not asked:
            tonics = in_order(tonics, wanted.order or KeyOrder.FOURTHS, wanted.seed)
    if wanted.tempo is not None or tune.tempo is None:
        tune = tune.at_tempo(wanted.tempo or USUAL_TEMPO)
    if tune.is_ours and wanted.keys.strip() == HOME:
        # A sheet of ours was made for its range, and means what it meant.
        return InKeys((Placed(key_name(tune), tune),), (), tune.lost)
    found = [placed(named(tune, tonic, keep=keep), wanted.low, wanted.high) for tonic in tonics]
    tunes = tuple(each for each in found if isinstance(each, Placed))
    unfit = tuple(each for each in found if isinstance(each, Unfit))
    if not tunes:
        raise InputError(
            f"{tune.title!r} fits between {wanted.low} and {wanted.high} in none of the keys asked for: "
            f"in {unfit[0].key} {unfit[0].why}"
        )
    return InKeys(tunes, unfit, tune.lost)


def study_of(made: InKeys, wanted: KeysWanted) -> Study:
    """Return a tune in keys as a study, each key with its name at the edge, and keys that do not fit as skipped."""
    chosen = made.tunes
    names = " ".join(tune.key for tune in chosen)
    if len(chosen) == len(all_tonics()):
        names = "all keys" + (f", {wanted.order}" if wanted.order else "")
    span = f"{wanted.low.pretty} to {wanted.high.pretty}"
    first = chosen[0].tune
    as_it_was = first.is_ours and wanted.keys.strip() == HOME
    return Study(
        name=_sheet_name(made, wanted),
        title=first.title,
        subtitle=" · ".join((wanted.instrument.name, span, names)),
        instruction=_INSTRUCTION if len(chosen) > 1 else _ONE_KEY,
        caution=_CAUTION,
        instrument=wanted.instrument,
        tempo=first.tempo or USUAL_TEMPO,
        paper=wanted.paper,
        lines=first.lines if as_it_was else tuple(line for each in chosen for line in _lines(each, wanted.fingerings)),
        skipped=tuple(Skipped(unfit.key, unfit.why) for unfit in made.unfit),
        metre=first.metre,
        feel=first.feel,
    )


def as_it_stands(tune: Tune, instrument: Instrument) -> Study:
    """Return a tune in its own key and octave as a study, to be played."""
    return Study(
        name="tune",
        title=tune.title,
        subtitle="",
        instruction="",
        caution="",
        instrument=instrument,
        tempo=tune.tempo or USUAL_TEMPO,
        paper=Paper.A4,
        lines=tune.lines,
        metre=tune.metre,
        feel=tune.feel,
    )


def _lines(placed_tune: Placed, fingerings: Fingerings) -> tuple[Line, ...]:
    """Return the lines of a tune in a key, fingered; the first has the name of the key at its edge."""
    lines = tuple(
        replace(line, events=fingered(tuple(map(_with_valves, line.events)), fingerings))
        for line in placed_tune.tune.lines
    )
    return (replace(lines[0], label=placed_tune.key), *(replace(line, label="") for line in lines[1:]))


def _with_valves(event: Tone | Rest) -> Tone | Rest:
    """Return a tone with the valves of the charts: of a bent one those that are held."""
    if not isinstance(event, Tone):
        return event
    # What is printed at the notes of a sheet of ours is true of its own key.
    event = replace(event, fingering=None, partial_number=None, remark="")
    held = event.pitch.above(0, event.bent)
    try:
        valves, partial = pedal_fingering(held)
    except InputError:
        # Above the sixteenth partial nobody has a fingering.
        return event
    return replace(event, valves=valves, partial=partial)


def each_by_itself(made: InKeys) -> tuple[InKeys, ...]:
    """Return the keys of a tune as so many tunes in one key."""
    return tuple(InKeys((tune,), (), made.lost) for tune in made.tunes)


def _sheet_name(made: InKeys, wanted: KeysWanted) -> str:
    """Return the stem of the files of a tune in keys: title, keys, instrument, range and tempo.

    A digest of all that is asked for follows where these do not tell it, so that no two orders come to one name.
    """
    first = made.tunes[0].tune
    keys = [tune.key.replace("♭", "b").replace("♯", "s") for tune in made.tunes]
    told = "all-keys" if len(keys) == len(all_tonics()) else "in-" + "-".join(keys)
    ends = (f"{note.name.replace('#', 's')}{note.octave}" for note in (wanted.low, wanted.high))
    words = [distinct_name("-".join(first.title.lower().split())), told, *ends, str(first.tempo)]
    if wanted.instrument.key != USUAL:
        words.insert(2, wanted.instrument.key)
    usual = KeysWanted(wanted.instrument, wanted.low, wanted.high, title=wanted.title, tempo=wanted.tempo)
    if replace(wanted, keys=usual.keys) != usual:
        words.append(hashlib.sha256(repr(replace(wanted, keys="")).encode()).hexdigest()[:_DIGEST])
    return "-".join(words)
