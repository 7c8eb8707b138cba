"""A piece: its form, harmony and rhythm put together, and notes drawn for them until all that must hold does."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import exp
from random import Random

from etudegen.exercises.composing import harmony, rhythms
from etudegen.exercises.composing.forms import PHRASE_BARS, Ending, Form, form_of
from etudegen.exercises.composing.ladder import LEADING, STEPS, Ladder
from etudegen.exercises.composing.notes import Drawing, Taste, Wanted, height, in_chord
from etudegen.theory.keyfinding import key_heard
from etudegen.theory.melody import melody_tables
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Metre, bar_length

# How strongly what comes back is like what it was, what is moved like what it is moved from (log of a weight a step).
_ALIKE, _MOVED = 4.5, 2.2
_MOST_TRIES, _KEYS_TRIED = 40, 8
# Of how much a note not in the chord is worth: on a downbeat, on a beat or long, else; as the first of a phrase.
_OUTSIDE = {"downbeat": 0.035, "beat": 0.25, "offbeat": 0.75}
_OUTSIDE_FIRST = 0.003
_SMALL = 7
# Farther away than so many steps is no less like it.
_FAR = 4
_TONIC, _HALF_ENDS = 0, {4: 1.0, 1: 1.0, 6: 0.5}
# The curve of a phrase over its notes, about its middle: up to the second third, and down again.
_ARCH, _MIDDLE = 0.22, 0.40
_LIFT = 0.14
_SPREAD, _SPREAD_BEFORE_HEIGHT = 0.20, 0.08
# Over how many notes the line climbs to its height, and comes down from it.
_NOTES_UP, _NOTES_DOWN = 7, 4
_OTHER_LEVEL, _LED_ELSEWHERE = 0.14, 0.2


@dataclass(frozen=True, slots=True)
class Wish:
    """What a piece is to be like.

    ``shortest`` is its shortest value in quarter notes and ``density`` how many notes a beat it has; a melody of
    ``chords`` has hardly a note that is not in them; the first bars have the steps of a ``cell``, from 0, if any.
    """

    bars: int
    metre: Metre
    shortest: Fraction
    density: float
    taste: Taste = field(default_factory=Taste)
    chords: bool = False
    cell: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Note:
    """A note of a piece: its bar from 0, where it begins in it and how long it lasts in quarter notes."""

    bar: int
    at: Fraction
    value: Fraction
    pitch: WrittenPitch


@dataclass(frozen=True, slots=True)
class Piece:
    """A finished piece with all that it was made of."""

    form: Form
    chords: tuple[tuple[harmony.Harmony, ...], ...]
    notes: tuple[Note, ...]
    ladder: Ladder


def compose(ladder: Ladder, wish: Wish, seed: int) -> Piece | None:
    """Return a piece on a ladder, the same for the same seed; None where nothing can be drawn.

    Of several tries the first is kept whose key is heard by its notes alone.
    """
    kept = None
    found = 0
    for tried in range(_MOST_TRIES):
        piece = _Composing(ladder, wish, Random(f"{seed} {tried}")).piece()  # noqa: S311 - music, no secret
        if piece is None:
            continue
        kept = kept or piece
        found += 1
        sounding = [(note.pitch.number, note.value) for note in piece.notes]
        if key_heard(sounding) == (ladder.key.tonic.number % 12, ladder.mode):
            return piece
        if found == _KEYS_TRIED:
            break
    return kept


class _Composing:
    def __init__(self, ladder: Ladder, wish: Wish, chance: Random) -> None:
        self._ladder, self._wish, self._chance = ladder, wish, chance
        bar = bar_length(wish.metre)
        self._beat = rhythms.beat_of(wish.metre)
        self._form = form_of(wish.bars, chance)
        self._chords = harmony.harmonies(self._form, ladder.mode, bar, chance)
        self._rhythm = rhythms.rhythm(self._form, wish.metre, wish.shortest, wish.density, chance)
        self._size = len(ladder.notes)
        self._small = ladder.numbers[-1] - ladder.numbers[0] <= _SMALL
        self._tables = melody_tables()
        # The place of each note that was drawn, bar by bar.
        self._drawn: list[list[int]] = []
        self._height = self._height_note()
        self._leading = self._leading_note()
        # Phrases that are not alike lie higher or lower.
        letters = dict.fromkeys(phrase.letter for phrase in self._form.phrases)
        self._levels = {
            letter: chance.uniform(-_OTHER_LEVEL, _OTHER_LEVEL) if letter != "A" else 0 for letter in letters
        }

    def _height_note(self) -> tuple[int, int]:
        """Return the bar and the place in it of the highest note: a long one, rather on a beat."""
        bar = self._form.climax
        values = self._rhythm[bar]
        starts = rhythms.starts(values)
        worth = [(value, at % self._beat == 0, -at) for value, at in zip(values, starts, strict=True)]
        return bar, worth.index(max(worth))

    def _leading_note(self) -> tuple[int, int] | None:
        """Return where a piece in minor has its leading note for sure: over the dominant before its end."""
        bar = len(self._rhythm) - 2
        starts = rhythms.starts(self._rhythm[bar])
        over = [
            place for place, at in enumerate(starts) if harmony.sounding(self._chords[bar], at).root == harmony.DOMINANT
        ]
        return (bar, self._chance.choice(over)) if over and self._ladder.mode == "minor" else None

    def piece(self) -> Piece | None:
        """Return the piece, None where the drawing came to a dead end."""
        drawing = Drawing(self._ladder, self._wish.taste, self._chance)
        known: dict[str, int] = {}
        for number, phrase in enumerate(self._form.phrases):
            first = number * PHRASE_BARS
            parts = [(first, first + 2), (first + 2, first + 4)] if phrase.goes_on else [(first, first + 4)]
            shift = self._shift() if phrase.goes_on else 0
            for start, end in parts:
                wanted = [
                    self._wanted(number, bar, place, known.get(phrase.letter), shift if bar - first == 2 else 0)
                    for bar in range(start, end)
                    for place in range(len(self._rhythm[bar]))
                ]
                if not drawing.draw(wanted, new_phrase=start == first):
                    return None
                places = iter(drawing.places[-len(wanted) :])
                self._drawn += [[next(places) for _ in self._rhythm[bar]] for bar in range(start, end)]
            known.setdefault(phrase.letter, first)
        return Piece(self._form, tuple(self._chords), tuple(self._notes()), self._ladder)

    def _shift(self) -> int:
        """Return by how many steps what goes on is moved, mostly one."""
        return self._chance.choices((-2, -1, 1, 2, 3), (2, 6, 5, 2, 1))[0]

    def _notes(self) -> Sequence[Note]:
        notes = []
        for bar, (values, places) in enumerate(zip(self._rhythm, self._drawn, strict=True)):
            for at, value, place in zip(rhythms.starts(values), values, places, strict=True):
                raised = harmony.sounding(self._chords[bar], at).root == harmony.DOMINANT
                notes.append(Note(bar, at, value, self._ladder.note(place, raised=raised)))
        return notes

    def _place_in_bar(self, at: Fraction) -> str:
        if at == 0:
            return "downbeat"
        return "beat" if at % self._beat == 0 else "offbeat"

    def _wanted(self, phrase: int, bar: int, place: int, like: int | None, shift: int) -> Wanted:
        values = self._rhythm[bar]
        at = sum(values[:place], Fraction(0))
        chord = harmony.sounding(self._chords[bar], at)
        inside = in_chord(self._ladder, chord.steps)
        raised = chord.root == harmony.DOMINANT
        in_phrase = bar - phrase * PHRASE_BARS
        is_first = in_phrase == 0 and place == 0
        is_last = in_phrase == PHRASE_BARS - 1 and place == len(values) - 1
        weights = self._curve(phrase, bar, place, at)
        where = self._place_in_bar(at)
        outside = (
            _OUTSIDE_FIRST if is_first else _OUTSIDE[where if values[place] < 1 or where == "downbeat" else "beat"]
        )
        if self._wish.chords:
            outside = min(outside, 0.02)
        degrees = self._tables.degrees[self._ladder.mode, where]
        exponent = min(1.76, 0.8 * (0.55 + 0.45 * float(values[place]) + (0.25 if where == "downbeat" else 0)))
        often = [(STEPS * degree) ** exponent for degree in degrees]
        weights = [
            weight * often[step] * (1.0 if within else outside)
            for weight, step, within in zip(weights, self._ladder.steps, inside, strict=True)
        ]
        self._be_like(weights, bar, place, in_phrase, like, shift)
        if is_last:
            self._end(weights, phrase)
        if (bar, place) == self._leading:
            led = [weight if step == LEADING else 0.0 for weight, step in zip(weights, self._ladder.steps, strict=True)]
            weights = led if any(led) else weights
        self._keep_top(weights, bar, place)
        return Wanted(weights, inside, raised)

    def _curve(self, phrase: int, bar: int, place: int, at: Fraction) -> list[float]:
        """Return how good each place is for the line: each phrase an arch, the whole one that leads to its height."""
        height_bar, _height_place = self._height
        length = bar_length(self._wish.metre)
        way = float((bar - phrase * PHRASE_BARS + at / length) / PHRASE_BARS)
        arch = 1 - abs(way - 0.55) / 0.55
        middle = _MIDDLE + _ARCH * (arch - 0.5) + self._levels[self._form.phrases[phrase].letter]
        distance = abs(phrase - height_bar // PHRASE_BARS)
        middle += _LIFT * (1 - min(2, distance))
        if self._small:
            middle = 0.5 + (middle - 0.5) / 2
        middle, spread = min(0.85, max(0.15, middle)), _SPREAD
        if bar >= len(self._rhythm) - 2:
            # Home is where the piece began, and no leap away.
            middle = min(middle, _MIDDLE)
        from_height = self._notes_from_height(bar, place)
        lead = _NOTES_UP if from_height < 0 else _NOTES_DOWN
        if abs(from_height) <= lead:
            near = 1 - (abs(from_height) - 1) / lead
            middle = near * 0.88 + (1 - near) * middle
            spread = near * _SPREAD_BEFORE_HEIGHT + (1 - near) * _SPREAD
        return height(self._size, middle, spread)

    def _notes_from_height(self, bar: int, place: int) -> int:
        """Return how many notes after the highest one a note is, negative before it."""
        height_bar, height_place = self._height
        if bar < height_bar:
            between = sum(len(self._rhythm[each]) for each in range(bar, height_bar))
            return place - between - height_place
        return sum(len(self._rhythm[each]) for each in range(height_bar, bar)) + place - height_place

    def _be_like(
        self, weights: list[float], bar: int, place: int, in_phrase: int, like: int | None, shift: int
    ) -> None:
        """Make a note like the one that it repeats, or like one that it repeats moved."""
        model, alike, moved = None, _ALIKE, 0
        if like is not None and in_phrase < PHRASE_BARS - 1:
            model = like + in_phrase
        elif shift:
            model, alike, moved = bar - 2, _MOVED, shift
        if model is not None and self._rhythm[model] == self._rhythm[bar]:
            target: int | None = self._drawn[model][place] + moved
        else:
            target, alike = self._of_cell(bar, place), _MOVED
        if -_NOTES_UP <= self._notes_from_height(bar, place) <= _NOTES_DOWN:
            # On the way to the height of the piece what comes back is led elsewhere.
            alike *= _LED_ELSEWHERE
        if target is not None:
            away = [exp(-alike * steps) for steps in range(_FAR + 1)]
            for each in range(self._size):
                weights[each] *= away[min(_FAR, abs(each - target))]

    def _of_cell(self, bar: int, place: int) -> int | None:
        """Return where a note of the first two bars is to be that have the cell, moved up a step each time."""
        cell = self._wish.cell
        if not cell or bar > 1:
            return None
        number = place + (len(self._rhythm[0]) if bar else 0)
        tonics = [at for at, step in enumerate(self._ladder.steps) if step == _TONIC]
        first = next((at for at in tonics if at + max(cell) + 1 < self._size), None)
        return None if first is None else first + cell[number % len(cell)] + number // len(cell)

    def _end(self, weights: list[float], phrase: int) -> None:
        ending = self._form.phrases[phrase].ending
        for each, step in enumerate(self._ladder.steps):
            if ending is Ending.FULL:
                good = 1.0 if step == _TONIC else 0.0
            elif ending is Ending.HALF:
                good = _HALF_ENDS.get(step, 0.0)
            else:
                # An open end is on the chord of the tonic, and not on its root.
                good = {2: 1.0, 4: 0.8}.get(step, 0.0)
            weights[each] *= good

    def _keep_top(self, weights: list[float], bar: int, place: int) -> None:
        """Leave the highest note to where the height of the piece is, but where there are but five notes."""
        if (bar, place) == self._height:
            # The highest that the chord has; where it has none at the top, the top itself passes by.
            for each in range(self._size - 1):
                weights[each] = 0.0
            weights[-1] = max(weights[-1], 1e-6)
        elif not self._small:
            weights[-1] = 0.0
