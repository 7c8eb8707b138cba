"""From a performance to what one plays along with: MIDI and sound files, one of each for every tempo asked for."""

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING

from etudegen.errors import InputError
from etudegen.theory.tempo import FASTEST, SLOWEST, checked_tempo

if TYPE_CHECKING:
    # Not loaded with this module: it brings the music library along.
    from etudegen.sound.performance import Performance

_OCTAVE = 12
_MOST_TEMPOS = 20
# As many times faster or slower than it is written a sheet can be had.
_MOST_TIMES = 4
_USUAL_TEMPO = Fraction(120)


class Sound(StrEnum):
    """What sound is written as; the value is the ending of the file."""

    WAV = "wav"
    FLAC = "flac"
    OGG = "ogg"


@dataclass(frozen=True, slots=True)
class Backing:
    """What a play-along has. None leaves it to the music: a drone where ``drone_fits``, a band where there are chords.

    ``count_in`` in bars; ``answer`` leaves each line free after it was played; ``melody`` is the part itself;
    ``tempos`` in quarter notes a minute, none for that of the sheet.
    """

    count_in: int = 1
    click: bool | None = None
    drone: bool | None = None
    drone_fits: bool = False
    answer: bool = False
    band: bool | None = None
    melody: bool = True
    swing: bool | None = None
    tempos: tuple[int, ...] = ()
    sounds: tuple[Sound, ...] = (Sound.WAV,)


def parse_tempos(text: str) -> tuple[int, ...]:
    """Read one tempo, or several as ``60-96/12``: from 60 to 96 quarter notes a minute in steps of 12."""
    match = re.fullmatch(r"\s*([0-9]{1,3})(?:\s*-\s*([0-9]{1,3})(?:\s*/\s*([0-9]{1,3}))?)?\s*", text)
    if match is None:
        raise InputError(
            f"cannot read the tempo {text!r}: write one like 72, or 60-96/12 for a set that rises by steps"
        )
    first = checked_tempo(int(match[1]))
    last = checked_tempo(int(match[2])) if match[2] else first
    step = int(match[3]) if match[3] else 4
    if last < first or step < 1 or (last - first) // step >= _MOST_TEMPOS:
        raise InputError(
            f"tempos {text!r} are not allowed: they rise from the first to the last in at most {_MOST_TEMPOS} steps"
        )
    return tuple(range(first, last + 1, step))


def parse_sounds(text: str) -> tuple[Sound, ...]:
    """Read a list of kinds of sound file parted by commas."""
    words = [word.strip().lower() for word in text.split(",") if word.strip()]
    for word in words:
        if word not in list(Sound):
            raise InputError(f"unknown sound {word!r}: choose any of {','.join(Sound)}")
    return tuple(dict.fromkeys(map(Sound, words)))


def _check(backing: Backing, own: Fraction) -> None:
    """Raise :class:`InputError` for a tempo too far from the sheet's own, and for a call that nobody plays."""
    slowest, fastest = max(SLOWEST, ceil(own / _MOST_TIMES)), min(FASTEST, floor(own * _MOST_TIMES))
    for tempo in backing.tempos:
        if not slowest <= tempo <= fastest:
            raise InputError(
                f"tempo {tempo} is out of reach for a sheet at {round(own)}: allowed are {slowest} to {fastest}"
            )
    if backing.answer and not backing.melody:
        raise InputError("call and response needs the melody: leave out --no-melody, or --answer")


def drones_of(performance: "Performance") -> list[tuple[Fraction, Fraction, int]]:
    """Return a drone for each line: the pitch class of the note that it ends on, its tonic in scales."""
    found = []
    for start, duration in performance.lines:
        inside = [note for note in performance.notes if start <= note.start < start + duration]
        if inside:
            end = max(note.start + note.duration for note in inside)
            found.append((start, end - start, inside[-1].key % _OCTAVE))
    return found


def play_along(performance: "Performance", name: str, backing: Backing) -> dict[str, bytes]:
    """Return the files of a play-along by their names, which begin with ``name``.

    Raises :class:`InputError` where something is asked for that the music has nothing for.
    """
    from etudegen.export.arrangement_midi import midi_file  # noqa: PLC0415
    from etudegen.sound.arrangement import Wishes  # noqa: PLC0415 - only sound needs it
    from etudegen.sound.arranging import arrange  # noqa: PLC0415
    from etudegen.sound.encoding import flac, ogg, wav  # noqa: PLC0415
    from etudegen.sound.rendering import render  # noqa: PLC0415

    encoders = {Sound.WAV: wav, Sound.FLAC: flac, Sound.OGG: ogg}
    own = performance.tempos[0][1] if performance.tempos else _USUAL_TEMPO
    band = bool(performance.chords) if backing.band is None else backing.band
    drone = backing.drone_fits and not band if backing.drone is None else backing.drone
    _check(backing, own)
    files: dict[str, bytes] = {}
    for tempo in backing.tempos or (None,):
        arrangement = arrange(
            performance,
            Wishes(
                count_in=backing.count_in,
                click=not band if backing.click is None else backing.click,
                drone=drone,
                answer=backing.answer,
                band=band,
                melody=backing.melody and bool(performance.notes),
                tempo_scale=Fraction(1) if tempo is None else Fraction(tempo) / own,
                swing=backing.swing,
            ),
            performance.phrases if backing.answer else (),
            drones_of(performance) if drone else (),
            performance.chords if band else (),
        )
        stem = f"{name}-play-along" + (f"-{tempo}" if tempo is not None else "")
        files[f"{stem}.mid"] = midi_file(arrangement)
        if backing.sounds:
            samples = render(arrangement)
            files |= {f"{stem}.{sound}": encoders[sound](samples) for sound in backing.sounds}
    return files


def names_of(name: str, backing: Backing) -> list[str]:
    """Return the names of the files that :func:`play_along` makes."""
    stems = [f"{name}-play-along-{tempo}" for tempo in backing.tempos] or [f"{name}-play-along"]
    return [f"{stem}.{ending}" for stem in stems for ending in ("mid", *backing.sounds)]


def joined(performances: Sequence["Performance"]) -> "Performance":
    """Return performances played one after the other as one; phrases are left out."""
    begin = Fraction(0)
    notes, tempos, lines, chords = [], [], [], []
    for each in performances:
        chords += [replace(chord, start=chord.start + begin) for chord in each.chords]
        notes += [replace(note, start=note.start + begin) for note in each.notes]
        tempos += [(start + begin, tempo) for start, tempo in each.tempos]
        lines += [(start + begin, duration) for start, duration in each.lines]
        begin += each.duration
    return replace(
        performances[0],
        notes=tuple(notes),
        tempos=tuple(tempos),
        lines=tuple(lines),
        phrases=(),
        chords=tuple(chords),
        duration=begin,
    )


def session_sound(blocks: Sequence[tuple[Sequence["Performance"], Fraction]]) -> bytes:
    """Return a whole session as FLAC: for each block what is played in it, and how many seconds it takes.

    Each block is announced by a tone and counted in; a block without music is silent, and so are rests. The file lasts
    exactly as long as the blocks.
    """
    from etudegen.sound.arrangement import Arrangement, Wishes  # noqa: PLC0415 - only sound needs it
    from etudegen.sound.arranging import arrange  # noqa: PLC0415
    from etudegen.sound.sessions import write_session_flac  # noqa: PLC0415

    def arranged(performances: Sequence["Performance"]) -> Arrangement | None:
        if not performances:
            return None
        whole = joined(performances)
        wishes = Wishes(band=bool(whole.chords), melody=bool(whole.notes))
        return arrange(whole, wishes, chords=whole.chords)

    file = io.BytesIO()
    write_session_flac(file, [(arranged(performances), seconds) for performances, seconds in blocks])
    return file.getvalue()
