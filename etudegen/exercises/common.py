"""The settings that every exercise shares, and what follows from them for every study."""

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Any, ClassVar, Self

from etudegen.errors import InputError
from etudegen.exercises.naming import sheet_name
from etudegen.exercises.settings import (
    Values,
    any_text,
    flag,
    note_between,
    one_of,
    setting,
    settings_of,
    whole_number,
)
from etudegen.instrument.catalogue import USUAL, Instrument, instrument
from etudegen.instrument.fingerings import ordinary
from etudegen.instrument.partials import Resonance
from etudegen.instrument.valves import OPEN, POSITIONS
from etudegen.plain_text import printable
from etudegen.study import Line, Paper, Rest, Skipped, Study, Tone, fingered, total
from etudegen.theory.pitch import SoundingPitch, WrittenPitch
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.swing import EVEN, SWUNG
from etudegen.theory.tempo import FASTEST, SLOWEST

# The fundamental of the longest tube, and the sixteenth partial of the shortest.
LOWEST_WRITTEN = Resonance(POSITIONS[-1], 1).written
HIGHEST_WRITTEN = Resonance(OPEN, 16).written
# Common practice, no source: a whole step above what is comfortable, and only where it is asked for.
_MOST_REACH = 2
LONGEST_TITLE = 120
LARGEST_SEED = 2**31 - 1
BAR = Fraction(4)
_SECONDS_IN_A_BREATH = 10

HEALTH = "Stop at pain, numbness or swelling, and see a teacher or a clinician who knows musicians."


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


# Any note that some partial of some valve combination carries.
NOTES = note_between(LOWEST_WRITTEN, HIGHEST_WRITTEN)
INSTRUMENTS = Values(Instrument, instrument, "give an instrument of the catalogue", text=lambda player: player.key)


def checked_reach(reach: WrittenPitch | None, high: WrittenPitch) -> None:
    """Raise :class:`InputError` for a reach, the note to aim at on a good day, that is not from ``high`` on upwards."""
    if reach is not None and not 0 <= reach.number - high.number <= _MOST_REACH:
        raise InputError(f"reach {reach} is not allowed: from high {high} up to a whole step above it")


def tempo_setting(default: int, slowest: int = SLOWEST, fastest: int = FASTEST) -> Any:
    """Declare the tempo with a default, and perhaps limits, of its own."""
    values = whole_number("tempo", slowest, fastest)
    return setting(default, f"quarter notes a minute, {slowest} to {fastest}", values, "BPM")


def fingerings_setting(default: Fingerings) -> Any:
    """Declare where fingerings are printed with a default of its own."""
    meaning = "print fingerings at every note, where the valves change (changes), or none"
    return setting(default, meaning, one_of(Fingerings, "fingerings"), "WHERE")


@dataclass(frozen=True, kw_only=True)
class Common(ABC):
    """What can be set on every exercise. Checked when made: raises :class:`InputError`.

    The constructor takes values; :meth:`of` takes texts and numbers as well. ``kind`` is the name of the kind of
    exercise, ``sounding`` the settings that ``concert`` reads as sounding.
    """

    kind: ClassVar[str]
    sounding: ClassVar[tuple[str, ...]] = ("low", "high")

    instrument: Instrument = setting(instrument(USUAL), "instrument the sheet is for", INSTRUMENTS, "NAME", USUAL)
    low: WrittenPitch = setting(WrittenPitch("F", 1, 3), "lowest comfortable note, written", NOTES, "NOTE")
    high: WrittenPitch = setting(WrittenPitch("G", 0, 5), "highest comfortable note, written", NOTES, "NOTE")
    tempo: int = tempo_setting(72)
    rests: Rests = setting(
        Rests.EQUAL,
        "rest after each line, against its playing time: none, half or equal",
        one_of(Rests, "rest"),
        "REST",
    )
    fingerings: Fingerings = fingerings_setting(Fingerings.CHANGES)
    partial_numbers: bool = flag("print the number of each partial above its note")
    seed: int = setting(
        1,
        "number that picks among shuffled orders; the same seed gives the same sheet",
        whole_number("seed", 0, LARGEST_SEED),
        "NUMBER",
    )
    paper: Paper = setting(Paper.A4, "paper: A4 or Letter", one_of(Paper, "paper"), "PAPER")
    title: str = setting(
        "",
        "title of the sheet, in place of the usual one",
        any_text("give a title", LONGEST_TITLE),
        "TEXT",
        "the kind of exercise",
    )

    def __post_init__(self) -> None:
        for name, known in settings_of(type(self)).items():
            known.check(name, getattr(self, name))
        if self.low.number > self.high.number:
            raise InputError(f"low {self.low} is above high {self.high}: low must be the lower note")

    @classmethod
    def values_of(cls, plain: Mapping[str, Any]) -> dict[str, Any]:
        """Return values by field name of what is given as texts, numbers, true and false, or values (None: left out).

        Raises :class:`InputError` with what is wrong, which value, and what is allowed; whether values go together is
        told only where parameters are made of them.
        """
        known = settings_of(cls)
        values = {}
        for name, given in plain.items():
            if name not in known:
                raise InputError(f"unknown setting {name!r}: choose among {', '.join(known)}")
            if given is not None:
                values[name] = known[name].value(name, given)
        return values

    @classmethod
    def checked_values(cls, plain: Mapping[str, Any]) -> dict[str, Any]:
        """Return values by field name as :meth:`values_of` does, if parameters can be made of them."""
        values = cls.values_of(plain)
        cls(**values)
        return values

    @classmethod
    def of(cls, plain: Mapping[str, Any] | None = None, /, *, concert: bool = False, **more: Any) -> Self:
        """Make parameters of texts, numbers, true and false, or values by field name (None: the default).

        ``concert`` reads the notes of the range as sounding. Raises :class:`InputError` with what is wrong, which
        value, and what is allowed.
        """
        values = cls.values_of({**(plain or {}), **more})
        if not concert:
            return cls(**values)
        given = {name: values[name] for name in cls.sounding if name in values}
        player = values.get("instrument", instrument(USUAL))
        for name, note in given.items():
            written = player.written(SoundingPitch(note.step, note.alter, note.octave))
            values[name] = written if abs(written.alter) <= 1 else WrittenPitch.from_number(written.number)
        try:
            return cls(**values)
        except InputError as error:
            if not given:
                raise
            typed = ", ".join(f"{name} {note}" for name, note in given.items())
            raise InputError(f"{error} (given in concert pitch: {typed})") from error

    @abstractmethod
    def about(self, lines: Sequence[Line]) -> Iterable[str]:
        """Return what stands under the title of a sheet with these lines, besides the instrument."""

    @property
    def rhythms(self) -> tuple[Rhythm, ...]:
        """The rhythms that move on the sheet, which its tempo has to allow; long notes move in quarters at most."""
        return (Rhythm.QUARTERS,)

    @property
    def bar(self) -> Fraction:
        """The length of a bar in quarter notes."""
        return BAR

    @property
    def span(self) -> str:
        """The range as a page names it."""
        return f"{self.low.pretty} to {self.high.pretty}"

    def holds(self, note: WrittenPitch) -> bool:
        """Tell whether a written note lies inside the player's range."""
        return self.low.number <= note.number <= self.high.number

    def dressed(self, tones: Iterable[Tone]) -> tuple[Tone, ...]:
        """Return the tones of one line with the fingerings and partial numbers that are to be printed."""
        numbered = tuple(
            replace(tone, partial_number=str(tone.partial))
            if self.partial_numbers and tone.partial is not None
            else tone
            for tone in tones
        )
        return tuple(tone for tone in fingered(numbered, self.fingerings) if isinstance(tone, Tone))

    def bars_within(self, seconds: int) -> int:
        """Return how many whole bars there is breath for in so many seconds, one at least."""
        return max(1, int(seconds * self.tempo / (60 * self.bar)))

    def with_breaths(
        self, tones: Sequence[Tone], *, in_slurs: bool = True, begins: Fraction = Fraction(0)
    ) -> tuple[Tone, ...]:
        """Return the tones of a line with breath marks, so that no breath has to last much longer than ten seconds.

        A breath falls at a barline, and ends a slur there if it may (``in_slurs``); none in the last bar, which leads
        into the rest. The first tone ``begins`` so many quarter notes into a bar.
        """
        bars = self.bars_within(_SECONDS_IN_A_BREATH)
        whole = begins + total(tone.duration for tone in tones)
        if whole - begins < bars * self.bar:
            return tuple(tones)
        played, since = begins, Fraction(0)
        breathing = []
        for tone in tones:
            played, since = played + tone.duration, since + tone.duration
            breathes = played % self.bar == 0 and since >= bars * self.bar and whole - played > self.bar
            breathes = breathes and (in_slurs or not tone.slurred)
            breathing.append(replace(tone, breath=True, slurred=False) if breathes else tone)
            since = Fraction(0) if breathes else since
        return tuple(breathing)

    def rest_after(self, playing: Fraction, silent: Fraction = Fraction(0)) -> Fraction:
        """Return how long to rest, in quarter notes, after so much playing: whole bars are full afterwards.

        ``silent`` is what rests inside the line have filled.
        """
        wanted = {Rests.NONE: Fraction(0), Rests.HALF: playing / 2, Rests.EQUAL: playing}[self.rests]
        return wanted + -(playing + silent + wanted) % self.bar

    def with_rest(self, events: tuple[Tone | Rest, ...]) -> tuple[Tone | Rest, ...]:
        """Return the events of a line with the rest that the settings ask for after them."""
        playing = total(event.duration for event in events if isinstance(event, Tone))
        silent = total(event.duration for event in events if isinstance(event, Rest))
        resting = self.rest_after(playing, silent)
        return (*events, Rest(resting)) if resting else events

    def subtitle(self, lines: Sequence[Line]) -> str:
        """Return the text under the title of a sheet with these lines."""
        return " · ".join((self.instrument.name, *self.about(lines)))

    def study(
        self,
        *,
        title: str,
        instruction: str,
        caution: str,
        lines: Iterable[Line],
        skipped: Iterable[Skipped] = (),
        swing: bool = False,
        contact_seconds: Fraction | None = None,
    ) -> Study:
        """Return a study with everything these settings say about it.

        Raises :class:`InputError` when no line is left to play.
        """
        played, left_out = tuple(lines), tuple(skipped)
        if not played:
            reasons = "; ".join(sorted({each.why for each in left_out})) or "nothing fits"
            raise InputError(f"no line can be made of what was asked for: {reasons}")
        return Study(
            name=sheet_name(self),
            title=printable(self.title) or title,
            subtitle=self.subtitle(played),
            instruction=instruction,
            caution=caution,
            instrument=self.instrument,
            tempo=self.tempo,
            paper=self.paper,
            lines=played,
            skipped=left_out,
            metre=(int(self.bar), 4),
            feel=SWUNG if swing else EVEN,
            contact_seconds=contact_seconds,
        )


def ordinary_tone(note: WrittenPitch, duration: Fraction) -> Tone:
    """Return a tone with the fingering of the charts; raise :class:`InputError` where no partial serves the note."""
    resonance = ordinary(note)
    if resonance is None:
        raise InputError(f"{note} has no fingering: a partial of some valve combination must serve it")
    return Tone(note, duration, resonance.valves, resonance.partial)
