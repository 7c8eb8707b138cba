"""A play-along as samples: notes placed to the sample, made piece by piece so that length costs no memory."""

from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from etudegen.errors import InputError
from etudegen.sound.arrangement import Arrangement, Voice
from etudegen.sound.sampler import Samples, Struck, piece
from etudegen.sound.soundfont import font_path

FULL_RATE, HALF_RATE = 44_100, 22_050
RATES = (HALF_RATE, FULL_RATE)
# About -1 and -12 dB of full scale: never clipping, never too soft to hear.
LOUDEST, SOFTEST = 0.89, 0.26
_LONGEST_SECONDS = 1800
_PIECE_FRAMES = 1 << 17
_FADE_SECONDS = 0.01
_MOST, _MIDDLE = 127, 64


def checked_rate(rate: int) -> int:
    """Return a sample rate that sound is made at, else raise :class:`InputError`."""
    if rate not in RATES:
        raise InputError(f"sample rate {rate}: allowed are {' and '.join(map(str, RATES))} Hz")
    return rate


def frames(seconds: Fraction | float, rate: int) -> int:
    """Return how many frames so many seconds are, rounded to the nearest."""
    return round(Fraction(seconds) * rate)


class Mix:
    """An arrangement ready to be rendered: every note with the frame where it begins."""

    def __init__(self, arrangement: Arrangement, rate: int = FULL_RATE, channels: int = 2) -> None:
        self.rate, self.channels = checked_rate(rate), channels
        self.length = frames(arrangement.seconds, rate)
        self._font = font_path()
        clock = arrangement.clock()
        self._notes: list[tuple[int, Struck, Samples]] = []
        for voice in arrangement.voices:
            gains = _gains(voice, channels)
            for note in voice.notes:
                start = clock.seconds(note.start)
                begin = frames(start, rate)
                struck = Struck(
                    voice.program,
                    note.key,
                    note.velocity,
                    frames(clock.seconds(note.start + note.duration), rate) - begin,
                    rate,
                    tuple(
                        (float(clock.seconds(note.start + after) - start), float(cents)) for after, cents in note.glide
                    ),
                )
                self._notes.append((begin, struck, gains))
        self._notes.sort(key=lambda placed: placed[0])

    def pieces(self, end: int | None = None) -> Iterator[Samples]:
        """Yield the mix up to a frame (its length by default) in pieces of frames and channels."""
        end = self.length if end is None else min(end, self.length)
        fade = min(end, round(_FADE_SECONDS * self.rate))
        waiting = iter(self._notes)
        upcoming = next(waiting, None)
        sounding: list[tuple[int, Struck, Samples]] = []
        for first in range(0, end, _PIECE_FRAMES):
            last = min(end, first + _PIECE_FRAMES)
            while upcoming is not None and upcoming[0] < last:
                sounding.append(upcoming)
                upcoming = next(waiting, None)
            mixed = np.zeros((last - first, self.channels), np.float32)
            for begin, struck, gains in sounding:
                low, high = max(first, begin), min(last, begin + struck.length)
                if low < high:
                    mono = piece(struck, low - begin, high - begin, self._font)
                    mixed[low - first : high - first] += mono[:, None] * gains
            sounding = [placed for placed in sounding if placed[0] + placed[1].length > last]
            if last > end - fade:
                left = (end - np.arange(first, last)) / fade if fade else 1.0
                mixed *= np.minimum(1, left).astype(np.float32)[:, None]
            yield mixed

    def gain(self, end: int | None = None) -> float:
        """Return the factor that brings the loudest moment between the softest and the loudest allowed."""
        peak = max((float(np.abs(mixed).max(initial=0)) for mixed in self.pieces(end)), default=0.0)
        return gentle_gain(peak)


def _gains(voice: Voice, channels: int) -> Samples:
    # Controller 7 goes with the square of its value (MIDI Manufacturers Association, General MIDI Level 1 Developer
    # Guidelines).
    loud = (voice.volume / _MOST) ** 2
    if channels == 1:
        return np.array([loud], np.float32)
    right = min(1.0, voice.pan / _MIDDLE)
    left = min(1.0, (2 * _MIDDLE - voice.pan) / _MIDDLE)
    return np.array([loud * left, loud * right], np.float32)


def gentle_gain(peak: float) -> float:
    """Return the factor for a peak: 1 unless it is too loud or too soft; silence stays silence."""
    if peak > LOUDEST:
        return LOUDEST / peak
    return SOFTEST / peak if 0 < peak < SOFTEST else 1.0


def render(arrangement: Arrangement, rate: int = FULL_RATE) -> Samples:
    """Return a play-along as (frames, 2) samples from -1 to 1; what rings at its end is faded out.

    It may last up to half an hour, or :class:`InputError` is raised; :class:`MachineError` if there are no sounds.
    """
    if arrangement.seconds > _LONGEST_SECONDS:
        raise InputError(
            f"this would last {float(arrangement.seconds) / 60:.0f} minutes: "
            f"at most {_LONGEST_SECONDS // 60} are made into one sound, take fewer lines or a faster tempo"
        )
    mix = Mix(arrangement, rate)
    samples = np.zeros((mix.length, mix.channels), np.float32)
    first = 0
    for mixed in mix.pieces():
        samples[first : first + len(mixed)] = mixed
        first += len(mixed)
    samples *= np.float32(gentle_gain(float(np.abs(samples).max(initial=0))))
    return samples
