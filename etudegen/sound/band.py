"""A trio for chord changes: bass, piano and cymbal, the same every time.

What each of them plays is common practice, no source: swinging, the bass walks in quarter notes from root to root,
the piano answers on the off-beats and the ride cymbal keeps time; in straight eighths the bass plays roots and fifths
on half notes, the piano half notes and the closed hi-hat eighths.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from etudegen.sound.performance import SoundingChord, SoundingNote

# By key in the percussion key map of the General MIDI System Level 1 specification (MIDI Manufacturers Association).
RIDE, CLOSED_HI_HAT = 51, 42
_OCTAVE = 12
_QUARTER, _EIGHTH, _HALF_NOTE = Fraction(1), Fraction(1, 2), Fraction(2)
_LOWEST_BASS, _HIGHEST_BASS, _FIRST_BASS = 28, 55, 40
# Roots keep below this, so that there is room to walk up from them.
_HIGHEST_ROOT = 45
_LOWEST_VOICE, _HIGHEST_VOICE, _MIDDLE_C = 50, 76, 60
_MOST_VOICES = 4
_FIFTH = 7
_BASS_VELOCITY, _PIANO_VELOCITY = 84, 76
_RIDE_ON_BEAT, _RIDE_OFF_BEAT = 92, 76
_HI_HAT_ON_BEAT, _HI_HAT_OFF_BEAT = 84, 66
# A plucked note is let go a little before the next one.
_BASS_SHARE, _PIANO_SHARE = Fraction(15, 16), Fraction(7, 8)


def _moments(chord: SoundingChord, step: Fraction) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield start and duration of one note a step for as long as a chord lasts."""
    end = chord.start + chord.duration
    start = chord.start
    while start < end:
        yield start, min(step, end - start)
        start += step


def _nearest(pitch_class: int, to: int, low: int, high: int) -> int:
    """Return the key of a pitch class between two keys that is nearest to another key, the lower one of two."""
    keys = [key for key in range(low, high + 1) if key % _OCTAVE == pitch_class]
    return min(keys, key=lambda key: (abs(key - to), key))


def _next_tone_up(chord: SoundingChord, above: int) -> int:
    return next(key for key in range(above + 1, above + 1 + _OCTAVE) if key % _OCTAVE in chord.tones)


def _next_tone_down(chord: SoundingChord, below: int) -> int:
    return next(key for key in range(below - 1, below - 1 - _OCTAVE, -1) if key % _OCTAVE in chord.tones)


def _leading_to(target: int, last: int) -> int:
    """Return the half step before the next root, from the side that the line comes from."""
    step = 1 if last > target else -1
    return target + step if target + step >= _LOWEST_BASS else target + 1


def walking_bass(chords: Sequence[SoundingChord]) -> Iterator[SoundingNote]:
    """Yield quarter notes: the bass tone on each change, chord tones after it, then by step into the next one."""
    last = _FIRST_BASS
    for index, chord in enumerate(chords):
        following = chords[index + 1] if index + 1 < len(chords) else None
        beats = list(_moments(chord, _QUARTER))
        root = _nearest(chord.bass, last, _LOWEST_BASS, _HIGHEST_ROOT)
        target = _nearest(following.bass, root, _LOWEST_BASS, _HIGHEST_ROOT) if following else None
        rising = True
        for beat, (start, duration) in enumerate(beats):
            if beat == 0:
                key = root
            elif target is not None and beat == len(beats) - 1:
                key = _leading_to(target, last)
            else:
                # Up to the octave of the root or the top of the range and down again, for as long as it lasts.
                if rising and _next_tone_up(chord, last) > min(root + _OCTAVE, _HIGHEST_BASS):
                    rising = False
                elif not rising and _next_tone_down(chord, last) < max(root, _LOWEST_BASS):
                    rising = True
                key = _next_tone_up(chord, last) if rising else _next_tone_down(chord, last)
            yield SoundingNote(start, duration * _BASS_SHARE, key, _BASS_VELOCITY)
            last = key


def plain_bass(chords: Sequence[SoundingChord]) -> Iterator[SoundingNote]:
    """Yield half notes, the bass tone and the fifth (or what the chord has for it) in turn."""
    last = _FIRST_BASS
    for chord in chords:
        root = _nearest(chord.bass, last, _LOWEST_BASS, _HIGHEST_ROOT)
        fifths = [tone for tone in chord.tones if (tone - chord.root) % _OCTAVE in (_FIFTH, _FIFTH - 1, _FIFTH + 1)]
        perfect_first = sorted(fifths, key=lambda tone: abs((tone - chord.root) % _OCTAVE - _FIFTH))
        fifth = _nearest((perfect_first or [chord.root])[0], root, _LOWEST_BASS, _HIGHEST_BASS)
        for half, (start, duration) in enumerate(_moments(chord, _HALF_NOTE)):
            key = fifth if half % 2 else root
            yield SoundingNote(start, duration * _BASS_SHARE, key, _BASS_VELOCITY)
        last = root


def _to_voice(chord: SoundingChord) -> list[int]:
    """Return up to four tones: root and fifth are left out first, the bass and the ear have them."""
    tones = list(dict.fromkeys(chord.tones))
    for spare in (chord.root, (chord.root + _FIFTH) % _OCTAVE):
        if len(tones) > _MOST_VOICES and spare in tones:
            tones.remove(spare)
    return tones[:_MOST_VOICES]


def _close_voicings(chord: SoundingChord) -> Iterator[tuple[int, ...]]:
    """Yield every inversion in close position that lies around middle C."""
    tones = _to_voice(chord)
    for low in range(_LOWEST_VOICE, _HIGHEST_VOICE):
        if low % _OCTAVE in tones:
            keys = tuple(sorted(low + (tone - low) % _OCTAVE for tone in tones))
            if keys[-1] <= _HIGHEST_VOICE:
                yield keys


def voicings(chords: Sequence[SoundingChord]) -> Iterator[tuple[int, ...]]:
    """Yield a close voicing for each chord, the one that moves least from the one before."""
    last: tuple[int, ...] | None = None
    for chord in chords:

        def moved(keys: tuple[int, ...], last: tuple[int, ...] | None = last) -> tuple[float, tuple[int, ...]]:
            from_middle = abs(sum(keys) / len(keys) - _MIDDLE_C)
            if last is None:
                return from_middle, keys
            if len(last) == len(keys):
                # A little pull to the middle, or the voices would wander off over many changes.
                return sum(abs(a - b) for a, b in zip(keys, last, strict=True)) + from_middle / 4, keys
            return abs(keys[0] - last[0]) + abs(keys[-1] - last[-1]) + from_middle / 4, keys

        last = min(_close_voicings(chord), key=moved)
        yield last


def _on_grid(chord: SoundingChord, begin: Fraction, step: Fraction) -> Iterator[Fraction]:
    """Yield the moments of a chord that are whole steps away from where bars are counted from."""
    moment = begin - (begin - chord.start) // step * step
    while moment < chord.start + chord.duration:
        yield moment
        moment += step


def _off_beats(chord: SoundingChord, begin: Fraction, bar: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Return where the piano answers: after the second and the fourth beat, or once in a shorter chord."""
    eighths = [moment for moment in _on_grid(chord, begin, _EIGHTH) if (moment - begin) % _QUARTER]
    found = [(moment, _EIGHTH) for moment in eighths if int((moment - begin) % bar) % 2 == 1]
    return found or [(chord.start + min(_EIGHTH, chord.duration / 2), min(_EIGHTH, chord.duration / 2))]


def comping(chords: Sequence[SoundingChord], begin: Fraction, bar: Fraction, swings: bool) -> Iterator[SoundingNote]:
    """Yield the chords of the piano in even time; bars are counted from ``begin``, in quarter notes."""
    for chord, keys in zip(chords, voicings(chords), strict=True):
        places = _off_beats(chord, begin, bar) if swings else list(_moments(chord, _HALF_NOTE))
        for start, duration in places:
            for key in keys:
                yield SoundingNote(start, duration * _PIANO_SHARE, key, _PIANO_VELOCITY)


def cymbal(chords: Sequence[SoundingChord], begin: Fraction, bar: Fraction, swings: bool) -> Iterator[SoundingNote]:
    """Yield the cymbal's time in even eighths while there are chords; bars are counted from ``begin``."""
    for chord in chords:
        for moment in _on_grid(chord, begin, _EIGHTH):
            on_beat = (moment - begin) % _QUARTER == 0
            if not swings:
                yield SoundingNote(moment, _EIGHTH / 2, CLOSED_HI_HAT, _HI_HAT_ON_BEAT if on_beat else _HI_HAT_OFF_BEAT)
            elif on_beat or int((moment - begin) % bar) % 2 == 1:
                yield SoundingNote(moment, _EIGHTH / 2, RIDE, _RIDE_ON_BEAT if on_beat else _RIDE_OFF_BEAT)
