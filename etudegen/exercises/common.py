"""The settings that every exercise shares, and what follows from them for every study."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any, Self

from etudegen.errors import InputError
from etudegen.exercises.settings import flag, one_of, setting, settings_of, whole_number
from etudegen.instrument.catalogue import Instrument, instrument
from etudegen.instrument.partials import Resonance
from etudegen.instrument.valves import OPEN, POSITIONS
from etudegen.study import Paper, Rest, Tone
from etudegen.theory.pitch import SoundingPitch, WrittenPitch
from etudegen.theory.tempo import FASTEST, SLOWEST, checked_tempo

# The fundamental of the longest tube, and the sixteenth partial of the shortest.
LOWEST_WRITTEN = Resonance(POSITIONS[-1], 1).written
HIGHEST_WRITTEN = Resonance(OPEN, 16).written
LONGEST_TITLE = 120
_USUAL_INSTRUMENT = "trumpet-bflat"
_FILE_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "s", 2: "ss"}


class Rests(StrEnum):
    """How long to rest after a line, against the time it was played."""

    NONE = "none"
    HALF = "half"
    EQUAL = "equal"


class Fingerings(StrEnum):
    """Where fingerings are printed."""

    EVERY = "every"
    CHANGES = "changes"
    NONE = "none"


@dataclass(frozen=True, kw_only=True)
class Common:
    """What can be set on every exercise. Checked when made: raises :class:`InputError`."""

    instrument: Instrument = setting(
        instrument(_USUAL_INSTRUMENT), "instrument the sheet is for", instrument, "NAME", _USUAL_INSTRUMENT
    )
    low: WrittenPitch = setting(
        WrittenPitch("F", 1, 3), "lowest comfortable note, written", WrittenPitch.parse, "NOTE"
    )
    high: WrittenPitch = setting(
        WrittenPitch("G", 0, 5), "highest comfortable note, written", WrittenPitch.parse, "NOTE"
    )
    tempo: int = setting(
        72, f"quarter notes a minute, {SLOWEST} to {FASTEST}", whole_number("tempo", SLOWEST, FASTEST), "BPM"
    )
    rests: Rests = setting(
        Rests.EQUAL,
        "rest after each line, against its playing time: none, half or equal",
        one_of(Rests, "rest"),
        "REST",
    )
    fingerings: Fingerings = setting(
        Fingerings.CHANGES,
        "print fingerings at every note, where the valves change, or none",
        one_of(Fingerings, "fingerings"),
        "WHERE",
    )
    partial_numbers: bool = flag("print the number of each partial above its note")
    seed: int = setting(
        1, "number that picks among shuffled orders; the same seed gives the same sheet",
        whole_number("seed", 0, 2**31 - 1), "NUMBER",
    )  # fmt: skip
    paper: Paper = setting(Paper.A4, "paper: A4 or Letter", one_of(Paper, "paper"), "PAPER")
    title: str = setting("", "title of the sheet, in place of the usual one", str, "TEXT", "the kind of exercise")

    def __post_init__(self) -> None:
        checked_tempo(self.tempo)
        for name, note in (("low", self.low), ("high", self.high)):
            if not LOWEST_WRITTEN.number <= note.number <= HIGHEST_WRITTEN.number:
                raise InputError(
                    f"{name} {note} is beyond the instrument: allowed are written "
                    f"{LOWEST_WRITTEN} to {HIGHEST_WRITTEN}"
                )
        if self.low.number > self.high.number:
            raise InputError(f"low {self.low} is above high {self.high}: low must be the lower note")
        if len(self.title) > LONGEST_TITLE:
            raise InputError(
                f"a title of {len(self.title)} characters does not fit on a page: allowed are {LONGEST_TITLE}"
            )

    @classmethod
    def from_texts(cls, texts: Mapping[str, str | bool | None], *, concert: bool = False) -> Self:
        """Make parameters of texts by field name (None: the default); ``concert`` reads low and high as sounding.

        Raises :class:`InputError` with what is wrong, which value, and what is allowed.
        """
        known = settings_of(cls)
        values: dict[str, Any] = {}
        for name, text in texts.items():
            if name not in known:
                raise InputError(f"unknown setting {name!r}: choose among {', '.join(known)}")
            if text is not None:
                values[name] = known[name].value(name, text)
        if concert:
            player = values.get("instrument", instrument(_USUAL_INSTRUMENT))
            for name in ("low", "high"):
                if name in values:
                    note = values[name]
                    values[name] = player.written(SoundingPitch(note.step, note.alter, note.octave))
        return cls(**values)

    def holds(self, note: WrittenPitch) -> bool:
        """Tell whether a written note lies inside the player's range."""
        return self.low.number <= note.number <= self.high.number

    def with_rest(self, tones: tuple[Tone, ...], bar: Fraction) -> tuple[Tone | Rest, ...]:
        """Return a line's tones, which fill whole bars, with the rest that the settings ask for after them."""
        bars = int(sum((tone.duration for tone in tones), Fraction(0)) / bar)
        resting = {Rests.NONE: 0, Rests.HALF: (bars + 1) // 2, Rests.EQUAL: bars}[self.rests]
        return (*tones, Rest(resting * bar)) if resting else tones

    def file_stem(self, *words: str) -> str:
        """Return the plain name of the files of a sheet: the player's title, or else the words, then the range.

        ASCII letters, digits and hyphens only, at most 100 of them, so that every file system takes it.
        """
        title = re.sub(r"[^A-Za-z0-9]+", "-", self.title).strip("-")
        notes = (f"{note.step}{_FILE_SIGNS[note.alter]}{note.octave}" for note in (self.low, self.high))
        stem = title[:60].strip("-").lower() or "-".join(words)[:60].strip("-")
        other = "" if self.instrument == instrument(_USUAL_INSTRUMENT) else f"{self.instrument.key}-"
        return f"{stem}-{other}{'-'.join(notes)}-{self.tempo}"
