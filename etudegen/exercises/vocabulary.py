"""Vocabulary: a short phrase of the player's own over the chords that it fits, through keys."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from itertools import groupby

from etudegen.errors import InputError
from etudegen.exercises.common import ordinary_tone
from etudegen.exercises.exercise import Exercise
from etudegen.exercises.keyed import CAUTION, NAMES
from etudegen.exercises.over_chords import OverChords, measures, slashes, symbols
from etudegen.exercises.settings import Values, setting
from etudegen.study import Line, Rest, Skipped, Study, Tone
from etudegen.theory.chords import Quality
from etudegen.theory.degrees import Degree, parse_degree
from etudegen.theory.guide_tones import in_octaves
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.progressions import Progression, ProgressionMeasure, Stretch
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.scales import ConcreteScale
from etudegen.theory.symbols import ChordSymbol, parse_quality, readable

INSTRUCTION = (
    "Sing the phrase before you play it, and play it as one thought in every key; where there are slashes, go on in "
    "your own words."
)
_USUAL = "1/8 2/8 b3/8 5/8 b7/8 5/8 b3/4"
_WORD = re.compile(r"([^/\s]+)/(2|4|8|16)(\.|t)?")
_REST = "r"
_LONGEST_TEXT, _MOST_NOTES, _MOST_BARS = 1_000, 32, 4
_OCTAVE = 12
_WHOLE_NOTE = Fraction(4)
_LONGER = {"": Fraction(1), ".": Fraction(3, 2), "t": Fraction(2, 3)}
_HOW = "write degrees with note values, like '1/8 b3/8 5/4.' (t for a triplet: 1/8t; r for a rest: r/4)"


@dataclass(frozen=True, slots=True)
class Phrase:
    """A phrase as it is typed: degrees over a root, None for a rest, each with its quarter notes."""

    text: str
    notes: tuple[tuple[Degree | None, Fraction], ...]

    @property
    def duration(self) -> Fraction:
        """Its length in quarter notes."""
        return sum((duration for _, duration in self.notes), Fraction(0))

    @property
    def degrees(self) -> tuple[Degree, ...]:
        """Its degrees without the rests."""
        return tuple(degree for degree, _ in self.notes if degree is not None)

    def fits(self, key: ConcreteScale) -> bool:
        """Tell whether all of its notes are in a scale on the root that it is thought from."""
        return {degree.half_steps % _OCTAVE for degree in self.degrees} <= {
            height % _OCTAVE for height in key.scale.half_steps
        }


def _note(word: str) -> tuple[Degree | None, Fraction]:
    match = _WORD.fullmatch(word)
    if match is None or (match[2] == "16" and match[3]) or (match[3] == "t" and match[2] != "8"):
        raise InputError(f"cannot read the note {word[:40]!r} of the phrase: {_HOW}")
    duration = _WHOLE_NOTE / int(match[2]) * _LONGER[match[3] or ""]
    return None if match[1] == _REST else parse_degree(match[1]), duration


def parse_phrase(text: str) -> Phrase:
    """Read a phrase such as ``1/8 b3/8 5/4``; raise :class:`InputError` for what is no phrase or cannot be written."""
    words = text.split()
    if len(text) > _LONGEST_TEXT or not 1 <= len(words) <= _MOST_NOTES:
        raise InputError(f"a phrase of {len(words)} notes is not allowed: give 1 to {_MOST_NOTES}; {_HOW}")
    phrase = Phrase(" ".join(words), tuple(map(_note, words)))
    if not phrase.degrees:
        raise InputError(f"the phrase {phrase.text!r} is silent: it needs one note at least")
    at = Fraction(0)
    for word, (_, duration) in zip(words, phrase.notes, strict=True):
        triplet = duration.denominator % 3 == 0
        if at.denominator not in ((1, 3) if triplet else (1, 2, 4)):
            raise InputError(f"{word!r} in the phrase begins inside a beat of another kind: triplets fill whole beats")
        at += duration
    if at.denominator % 3 == 0:
        raise InputError(f"the phrase {phrase.text!r} ends inside a triplet: triplets fill whole beats")
    return phrase


def _is_phrase(phrase: Phrase) -> bool:
    return isinstance(phrase.text, str) and parse_phrase(phrase.text) == phrase


_PHRASES = Values(Phrase, parse_phrase, _HOW, _is_phrase, lambda phrase: phrase.text)


@dataclass(frozen=True, kw_only=True)
class VocabularyParameters(OverChords):
    """What a sheet of vocabulary can be asked for. Checked when made: raises :class:`InputError`."""

    kind = "vocabulary"

    phrase: Phrase = setting(
        parse_phrase(_USUAL), "your phrase, as degrees with note values, r for a rest", _PHRASES, "PHRASE", _USUAL,
        positional=True,
    )  # fmt: skip
    over: str = setting(
        "m7", "what follows the root of the chord to play it over, without a progression", NAMES, "CHORD"
    )
    # The phrase has a rhythm of its own.
    rhythm: Rhythm = field(default=Rhythm.EIGHTHS, init=False)

    def __post_init__(self) -> None:
        super().__post_init__()
        parse_quality(self.over, self.chords)
        if self.phrase.duration > _MOST_BARS * self.bar:
            raise InputError(
                f"a phrase of {self.phrase.duration} quarter notes is too long: {_MOST_BARS} bars of {self.beats} are "
                "allowed"
            )
        if self.spoken.swing and any(duration % Fraction(1, 2) for _, duration in self.phrase.notes):
            raise InputError(
                f"articulation {self.articulation!r} swings eighths: the phrase must be without triplets and sixteenths"
            )
        self.changes  # noqa: B018 - read here, so that what is wrong is told early

    @property
    def quality(self) -> Quality:
        """The kind of chord that the phrase is played over where there is no progression."""
        return parse_quality(self.over, self.chords)

    def about(self, lines: Sequence[Line]) -> Iterator[str]:
        """Yield the range, the keys, and over what it is played."""
        over = "a progression" if self.changes else self.quality.pretty_symbol or "major"
        yield self.span
        yield self.keys_text(lines)
        yield f"over {over}, {self.spoken.name}"

    @cached_property
    def changes(self) -> Progression | None:
        """The progression that the phrase is placed in; raise :class:`InputError` where it fits no chord of it."""
        progression = self.typed
        if progression is not None and not any(self.takes(*span) for span in spans(progression)):
            raise InputError(
                f"the phrase {self.phrase.text!r} fits no chord of the progression: its notes must be in the scale of "
                "a chord that lasts as long"
            )
        return progression

    def takes(self, chord: ChordSymbol | None, lasts: Fraction) -> bool:
        """Tell whether the phrase is placed over a chord that lasts so many quarter notes."""
        return chord is not None and self.phrase.duration <= lasts and self.phrase.fits(self.scale_over(chord))


def spans(progression: Progression) -> Iterator[tuple[ChordSymbol | None, Fraction]]:
    """Yield each chord of a progression as long as it goes on, over barlines too, with its quarter notes."""
    lasting: list[Stretch] = []
    for each in progression.stretches:
        if lasting and each.changes:
            yield lasting[0].chord, sum((part.duration for part in lasting), Fraction(0))
            lasting = []
        lasting.append(each)
    yield lasting[0].chord, sum((part.duration for part in lasting), Fraction(0))


def _placed(parameters: VocabularyParameters, chord: ChordSymbol) -> list[Tone | Rest]:
    """Return the phrase over a chord in the octave nearest to the middle of the range, nothing where none holds it."""
    low, high = parameters.lowest_fingered, parameters.high.number
    bottom = min(parameters.phrase.degrees, key=lambda degree: degree.half_steps)
    ambitus = max(degree.half_steps for degree in parameters.phrase.degrees) - bottom.half_steps
    lowest = bottom.above(chord.root)
    places = in_octaves(lowest, low, high - ambitus)
    if not places:
        return []
    place = min(places, key=lambda note: (abs(2 * note.number + ambitus - low - high), note.number))
    octaves = (place.number - lowest.number) // _OCTAVE
    root = chord.root.above(7 * octaves, _OCTAVE * octaves)
    events: list[Tone | Rest] = []
    for sounds, group in groupby(parameters.phrase.notes, key=lambda note: note[0] is not None):
        together = list(group)
        if sounds:
            tones = [_tone(degree, root, duration) for degree, duration in together if degree is not None]
            events += parameters.spoken_run(tones)
        else:
            events += [Rest(duration) for _, duration in together]
    return events


def _tone(degree: Degree, root: WrittenPitch, duration: Fraction) -> Tone:
    return ordinary_tone(readable(degree.above(root)), duration)


def _progressions(parameters: VocabularyParameters) -> Iterator[tuple[ConcreteScale, str, Progression]]:
    """Yield for each key its label and the chords in it: the progression, or one chord as long as the phrase."""
    if parameters.changes is not None:
        for key, moved in parameters.in_keys_of(parameters.changes):
            yield key, parameters.label(key), moved
        return
    bars = -(-parameters.phrase.duration // parameters.bar)
    for each in parameters.tonics:
        plain = parameters.scale_over(ChordSymbol(each, parameters.quality)).scale
        key = parameters.key(each, plain)
        chord = ChordSymbol(key.tonic, parameters.quality)
        yield key, key.name, Progression(parameters.beats, (ProgressionMeasure(((Fraction(0), chord),)),) * int(bars))


def _events(parameters: VocabularyParameters, progression: Progression) -> tuple[Tone | Rest, ...]:
    """Return the events of a line: the phrase where it fits, slashes elsewhere; none where it leaves the range."""
    events: list[Tone | Rest] = []
    for chord, lasts in spans(progression):
        if chord is None:
            events.append(Rest(lasts))
        elif parameters.changes is None or parameters.takes(chord, lasts):
            placed = _placed(parameters, chord)
            if not placed:
                return ()
            events += placed
            if parameters.changes is not None:
                events += _rest_of(lasts - parameters.phrase.duration)
        else:
            events += slashes(lasts)
    last = events[-1]
    free_at_end = isinstance(last, Tone) and last.slash
    return _merged(events if free_at_end else parameters.with_rest(tuple(events)))


def _rest_of(time: Fraction) -> tuple[Tone | Rest, ...]:
    """Return slashes for the whole beats that a chord goes on after the phrase, and a rest up to the first of them."""
    within = time % 1
    return (*([Rest(within)] if within else []), *slashes(time - within))


def _merged(events: Iterable[Tone | Rest]) -> tuple[Tone | Rest, ...]:
    """Return events with rests that follow each other as one, those of a triplet only with one another.

    A triplet that is all rest is a plain beat of it.
    """
    merged: list[Tone | Rest] = []
    end = Fraction(0)
    for event in events:
        merged.append(event)
        end += event.duration
        while len(merged) > 1 and _are_one_rest(merged[-2], merged[-1], end):
            last = merged.pop()
            merged[-1] = Rest(merged[-1].duration + last.duration)
    return tuple(merged)


def _are_one_rest(one: Tone | Rest, other: Tone | Rest, end: Fraction) -> bool:
    """Tell whether two events are rests, the second up to ``end``, that are written as one."""
    if not (isinstance(one, Rest) and isinstance(other, Rest)):
        return False
    begins = end - other.duration
    parts_of_triplets = [_splits_a_triplet(begins), _splits_a_triplet(begins - one.duration), _splits_a_triplet(end)]
    # Between the two there is a moment inside a triplet, or no triplet on either side.
    return parts_of_triplets[0] or not any(parts_of_triplets)


def _splits_a_triplet(moment: Fraction) -> bool:
    return moment.denominator % 3 == 0


def study(parameters: VocabularyParameters) -> Study:
    """Make a study of a phrase: one line a key, every bar full."""
    lines: list[Line] = []
    skipped: list[Skipped] = []
    parameters.checked_length(len(parameters.changes.bars) if parameters.changes else _MOST_BARS)
    for key, label, progression in _progressions(parameters):
        events = _events(parameters, progression)
        if events:
            stretches = tuple(progression.stretches)
            lines.append(Line(label, events, None, key.sharps, symbols(stretches), measures(progression)))
        else:
            skipped.append(Skipped(label, f"the phrase does not fit {parameters.span}"))
    return parameters.study(
        title="Vocabulary",
        instruction=INSTRUCTION,
        caution=CAUTION,
        lines=lines,
        skipped=skipped,
        swing=parameters.spoken.swing,
    )


EXERCISE = Exercise(
    parameters=VocabularyParameters, study=study, page_name="vocabulary", practice=None, phrase_of_tune=True
)
