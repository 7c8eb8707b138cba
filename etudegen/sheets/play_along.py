"""From a performance to what one plays along with: MIDI and sound files, one of each for every tempo asked for."""

import re
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING

from etudegen.errors import InputError
from etudegen.sound.backing import Backing
from etudegen.theory.tempo import checked_tempo

if TYPE_CHECKING:
    # Not loaded with this module: it brings the music library along.
    from etudegen.sound.performance import Performance

_MOST_TEMPOS = 20
_USUAL_STEP = 4


class Sound(StrEnum):
    """What sound is written as; the value is the ending of the file."""

    WAV = "wav"
    FLAC = "flac"
    OGG = "ogg"


USUAL_SOUNDS = (Sound.WAV,)


def parse_tempos(text: str) -> tuple[int, ...]:
    """Read one tempo, or several as ``60-96/12``: from 60 to 96 quarter notes a minute in steps of 12."""
    match = re.fullmatch(r"\s*([0-9]{1,3})(?:\s*-\s*([0-9]{1,3})(?:\s*/\s*([0-9]{1,3}))?)?\s*", text)
    if match is None:
        raise InputError(
            f"cannot read the tempo {text!r}: write one like 72, or 60-96/12 for a set that rises by steps"
        )
    first = checked_tempo(int(match[1]))
    last = checked_tempo(int(match[2])) if match[2] else first
    step = int(match[3]) if match[3] else _USUAL_STEP
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


def play_along(
    performance: "Performance",
    name: str,
    backing: Backing,
    tempos: Sequence[int] = (),
    sounds: Sequence[Sound] = USUAL_SOUNDS,
) -> dict[str, bytes]:
    """Return the files of a play-along by their names, which begin with ``name``: MIDI and sounds for each tempo.

    ``tempos`` are quarter notes a minute, none for that of the sheet. Raises :class:`InputError` for a tempo too far
    from the sheet's and where something is asked for that the music has nothing for.
    """
    # Loaded here and not above: they bring the music library along, or numpy.
    from etudegen.export.arrangement_midi import midi_file  # noqa: PLC0415
    from etudegen.sound.arranging import arrange  # noqa: PLC0415
    from etudegen.sound.encoding import flac, ogg, wav  # noqa: PLC0415
    from etudegen.sound.rendering import render  # noqa: PLC0415

    encoders = {Sound.WAV: wav, Sound.FLAC: flac, Sound.OGG: ogg}
    arrangements = [arrange(performance, backing, tempo) for tempo in tempos or (None,)]
    files: dict[str, bytes] = {}
    for stem, arrangement in zip(_stems(name, tempos), arrangements, strict=True):
        files[f"{stem}.mid"] = midi_file(arrangement)
        if sounds:
            samples = render(arrangement)
            files |= {f"{stem}.{sound}": encoders[sound](samples) for sound in sounds}
    return files


def names_of(name: str, tempos: Sequence[int] = (), sounds: Sequence[Sound] = USUAL_SOUNDS) -> list[str]:
    """Return the names of the files that :func:`play_along` makes."""
    return [f"{stem}.{ending}" for stem in _stems(name, tempos) for ending in ("mid", *sounds)]


def _stems(name: str, tempos: Sequence[int]) -> list[str]:
    return [f"{name}-play-along-{tempo}" for tempo in tempos] or [f"{name}-play-along"]


def joined(performances: Sequence["Performance"]) -> "Performance":
    """Return performances played one after the other as one, each with its own feel; phrases are left out."""
    begin = Fraction(0)
    notes, tempos, lines, chords, off_beats, fermatas = [], [], [], [], [], []
    for each in performances:
        chords += [replace(chord, start=chord.start + begin) for chord in each.chords]
        notes += [replace(note, start=note.start + begin) for note in each.notes]
        tempos += [(start + begin, tempo) for start, tempo in each.tempos]
        lines += [(start + begin, duration) for start, duration in each.lines]
        fermatas += [(start + begin, duration) for start, duration in each.fermatas]
        # What is even stays so beside something that swings.
        off_beats += [moment + begin for moment in each.off_beats] if each.feel.swung else []
        begin += each.duration
    return replace(
        performances[0],
        notes=tuple(notes),
        tempos=tuple(tempos),
        lines=tuple(lines),
        phrases=(),
        chords=tuple(chords),
        duration=begin,
        feel=next((each.feel for each in performances if each.feel.swung), performances[0].feel),
        off_beats=tuple(off_beats),
        fermatas=tuple(fermatas),
    )


def session_sound(blocks: Sequence[tuple[Sequence["Performance"], Fraction]]) -> bytes:
    """Return a whole session as FLAC: for each block what is played in it, and how many seconds it takes.

    Each block is announced by a tone and counted in; a block without music is silent, and so are rests. The file lasts
    exactly as long as the blocks.
    """
    from etudegen.sound.arranging import arrange  # noqa: PLC0415 - only sound needs it
    from etudegen.sound.sessions import session_flac  # noqa: PLC0415

    backing = Backing(click=False)
    return session_flac(
        [
            (arrange(joined(performances), backing) if performances else None, seconds)
            for performances, seconds in blocks
        ]
    )
