"""The settings that every exercise shares, and what follows from them for every study."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Any, Self

from etudegen.errors import InputError
from etudegen.exercises.settings import flag, one_of, setting, settings_of, whole_number
from etudegen.instrument.catalogue import Instrument, instrument
from etudegen.instrument.fingerings import ordinary
from etudegen.instrument.partials import Resonance
from etudegen.instrument.valves import OPEN, POSITIONS
from etudegen.plain_text import plain_name, printable
from etudegen.study import Line, Paper, Rest, Skipped, Study, Tone, fingered
from etudegen.theory.pitch import SoundingPitch, WrittenPitch
from etudegen.theory.swing import EVEN, SWUNG
from etudegen.theory.tempo import FASTEST, SLOWEST, checked_tempo

# The fundamental of the longest tube, and the sixteenth partial of the shortest.
LOWEST_WRITTEN = Resonance(POSITIONS[-1], 1).written
HIGHEST_WRITTEN = Resonance(OPEN, 16).written
LONGEST_TITLE = 120
BAR = Fraction(4)
_SECONDS_IN_A_BREATH = 10
_USUAL_INSTRUMENT = "trumpet-bflat"
_FILE_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "s", 2: "ss"}

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


def tempo_setting(default: int) -> Any:
    """Declare the tempo with a default of its own."""
    read = whole_number("tempo", SLOWEST, FASTEST)
    return setting(default, f"quarter notes a minute, {SLOWEST} to {FASTEST}", read, "BPM")


def fingerings_setting(default: Fingerings) -> Any:
    """Declare where fingerings are printed with a default of its own."""
    meaning = "print fingerings at every note, where the valves change (changes), or none"
    return setting(default, meaning, one_of(Fingerings, "fingerings"), "WHERE")


@dataclass(frozen=True, kw_only=True)
class Common:
    """What can be set on every exercise. Checked when made: raises :class:`InputError`."""

    instrument: Instrument = setting(
        instrument(_USUAL_INSTRUMENT), "instrument the sheet is for", instrument, "NAME", _USUAL_INSTRUMENT
    )
    low: WrittenPitch = setting(WrittenPitch("F", 1, 3), "lowest comfortable note, written", WrittenPitch.parse, "NOTE")
    high: WrittenPitch = setting(
        WrittenPitch("G", 0, 5), "highest comfortable note, written", WrittenPitch.parse, "NOTE"
    )
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
        whole_number("seed", 0, 2**31 - 1),
        "NUMBER",
    )
    paper: Paper = setting(Paper.A4, "paper: A4 or Letter", one_of(Paper, "paper"), "PAPER")
    title: str = setting("", "title of the sheet, in place of the usual one", str, "TEXT", "the kind of exercise")

    def __post_init__(self) -> None:
        checked_tempo(self.tempo)
        for name, note in (("low", self.low), ("high", self.high)):
            if not LOWEST_WRITTEN.number <= note.number <= HIGHEST_WRITTEN.number:
                raise InputError(
                    f"{name} {note} is beyond the instrument: allowed are written {LOWEST_WRITTEN} to {HIGHEST_WRITTEN}"
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
        if not concert:
            return cls(**values)
        given = {name: values[name] for name in ("low", "high") if name in values}
        player = values.get("instrument", instrument(_USUAL_INSTRUMENT))
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

    def with_breaths(
        self, tones: Sequence[Tone], *, in_slurs: bool = True, begins: Fraction = Fraction(0)
    ) -> tuple[Tone, ...]:
        """Return the tones of a line with breath marks, so that no breath has to last much longer than ten seconds.

        A breath falls at a barline, and ends a slur there if it may (``in_slurs``); none in the last bar, which leads
        into the rest. The first tone ``begins`` so many quarter notes into a bar.
        """
        bars = max(1, int(_SECONDS_IN_A_BREATH * self.tempo / (60 * self.bar)))
        whole = sum((tone.duration for tone in tones), begins)
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
        playing = sum((event.duration for event in events if isinstance(event, Tone)), Fraction(0))
        silent = sum((event.duration for event in events if isinstance(event, Rest)), Fraction(0))
        resting = self.rest_after(playing, silent)
        return (*events, Rest(resting)) if resting else events

    def file_stem(self, *words: str) -> str:
        """Return the plain name of the files of a sheet: the player's title, or else the words, then the range.

        ASCII letters, digits and hyphens only, at most 100 of them, so that every file system takes it.
        """
        notes = (f"{note.step}{_FILE_SIGNS[note.alter]}{note.octave}" for note in (self.low, self.high))
        stem = plain_name(self.title).lower() or plain_name("-".join(words))
        other = "" if self.instrument == instrument(_USUAL_INSTRUMENT) else f"{self.instrument.key}-"
        return f"{stem}-{other}{'-'.join(notes)}-{self.tempo}"

    def study(
        self,
        *,
        name: str,
        title: str,
        about: Iterable[str],
        instruction: str,
        caution: str,
        lines: Iterable[Line],
        skipped: Iterable[Skipped] = (),
        swing: bool = False,
        contact_seconds: Fraction | None = None,
    ) -> Study:
        """Return a study with everything these settings say about it; ``about`` goes under its title.

        Raises :class:`InputError` when no line is left to play.
        """
        played, left_out = tuple(lines), tuple(skipped)
        if not played:
            reasons = "; ".join(sorted({each.why for each in left_out})) or "nothing fits"
            raise InputError(f"no line can be made of what was asked for: {reasons}")
        return Study(
            name=name,
            title=printable(self.title) or title,
            subtitle=" · ".join((self.instrument.name, *about)),
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
