"""What stands behind the cards of a session: the player's own tunes in today's keys, and changes to improvise on.

Changes are named here because a card can only have what can be improvised on.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from etudegen.errors import InputError
from etudegen.exercises.changes import ChangesParameters, ChangesPart, study
from etudegen.exercises.common import LARGEST_SEED, Rests
from etudegen.exercises.composing.ladder import key_of
from etudegen.exercises.etudes import FEWEST_BARS, EtudeParameters, Mode
from etudegen.exercises.etudes import study as etude
from etudegen.exercises.over_chords import Home
from etudegen.files.tables import Table
from etudegen.practice import rules
from etudegen.practice.levels import MOST_ACCIDENTALS
from etudegen.practice.plan import Block
from etudegen.practice.pools import towards
from etudegen.practice.profile import Aim, Profile
from etudegen.practice.rotation import turned
from etudegen.study import Study
from etudegen.theory.keys import KeyOrder, all_tonics, in_order
from etudegen.theory.library import library
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.tempo import at_or_below

# So many minutes go to a tune in one key, at most so many keys a day.
_MINUTES_A_KEY = 3
_MOST_KEYS = 4
# Keys step on by a fifth of the round from one day to the next, so that neighbours in time are none in sound.
_STEP = 5
# The characters of etudes that are played as music; the first two suit first months.
_CHARACTERS = ("lyrical", "march", "waltz", "swing")
_JAZZ = ("swing", "lyrical", "swing", "waltz")
# So long etudes may be, in bars, at most by level; they are played so often in their time, and no faster than that.
_LENGTHS, _LONGEST = (8, 12, 16, 24, 32), (16, 16, 24, 32, 32)
_TIMES_THROUGH, _MOST_OF_AN_ETUDE, _MOST_AT_SIGHT = 3, 96, 6
_MINOR_EVERY = 3


@dataclass(frozen=True, slots=True)
class Changes:
    """A progression as it is typed, and the key it is typed in, if that is told."""

    bars: str
    home: Home | None = None


@dataclass(frozen=True, slots=True)
class OwnTune:
    """A tune of the player's and the keys it is for today, by their written tonics."""

    path: Path
    keys: tuple[str, ...]

    @property
    def name(self) -> str:
        """Its name as a card tells it."""
        return self.path.stem.replace("-", " ").replace("_", " ")


def _changes(_: str, entry: Table) -> Changes:
    entry.only("bars", "home")
    try:
        read = ChangesParameters.of(progression=entry.text("bars"), home=entry.text("home"))
    except InputError as error:
        raise entry.wrong("bars", str(error)) from error
    return Changes(read.text, read.home)


def progressions() -> Mapping[str, Changes]:
    """Return the progressions there are for players who have none of their own, by name."""
    return library("progressions", _changes)


def todays_keys(day: int, count: int) -> tuple[WrittenPitch, ...]:
    """Return so many keys of a day, by their written tonics; each of the twelve comes first once in twelve days."""
    return tuple(turned(in_order(all_tonics(), KeyOrder.FOURTHS, 0), day * _STEP)[:count])


def todays_tune(profile: Profile, day: int, block: Block, turn: int) -> OwnTune | None:
    """Return the tune for the ``turn``-th block of repertoire of a day, None for a player without tunes.

    A tune that the block names comes in the keys that are asked for, else in those there is time for.
    """
    if block.kind == "transpose":
        most = len(all_tonics())
        named = block.settings.get("keys") or todays_keys(day, min(most, max(1, block.minutes // _MINUTES_A_KEY)))
        file = Path(block.own) if block.own else (turned(profile.tunes, day)[0] if profile.tunes else None)
        return None if file is None else OwnTune(file, tuple(tonic.name for tonic in named))
    if block.own:
        return OwnTune(Path(block.own), ("home",))
    if not profile.tunes:
        return None
    tunes = turned(profile.tunes, day)
    count = min(_MOST_KEYS, max(1, block.minutes // _MINUTES_A_KEY))
    return OwnTune(tunes[turn % len(tunes)], tuple(tonic.name for tonic in todays_keys(day, count)))


def todays_changes(
    profile: Profile, day: int, turn: int, block: Block | None = None, aimed_at: int | None = None
) -> Study | None:
    """Return the sheet of changes for the ``turn``-th block of improvising of a day, in one key.

    Where guide tones and scales do not fit into the range there are slashes alone; None where not even they can be had.
    Its tempo is the one that is ``aimed_at``, within limits, if any. Its choruses are repeated, those to improvise on
    most often, as often as half of the block has time for.
    """
    asked = dict(block.settings) if block else {}
    tempo = asked.get("tempo") or _aimed(aimed_at, profile.clean_tempo(Rhythm.EIGHTHS))
    own = [Changes(bars) for bars in profile.progressions] or list(progressions().values())
    if "changes" in asked:
        own = [Changes(asked["changes"])]
    chosen = turned(turned(own, day), turn)
    for parts in (tuple(ChangesPart), (ChangesPart.IMPROVISE,)):
        for each in chosen:
            try:
                made = study(
                    ChangesParameters(
                        instrument=profile.instrument,
                        low=profile.low,
                        high=profile.high,
                        tempo=tempo,
                        rests=Rests.HALF,
                        progression=each.bars,
                        keys=asked.get("keys") or todays_keys(day, 1),
                        home=each.home,
                        parts=parts,
                    )
                )
                return made if block is None else _repeated(made, block.minutes)
            except InputError:
                continue
    return None


def todays_etude(profile: Profile, day: int, turn: int, block: Block, aimed_at: int | None = None) -> Study | None:
    """Return the etude for the ``turn``-th block of music of a day for which there is no tune.

    It is another every day: its key and its character take turns; its tempo is the one that is ``aimed_at``, within
    limits, if any. What is to be read at sight is a page of short ones.
    None where a player's range has too few notes for any.
    """
    known, at_sight = profile.knows, block.settings.get("manner") is rules.Manner.SIGHT_READING
    signature = known.signature if not profile.keys else MOST_ACCIDENTALS
    mode = Mode.MINOR if known.place > 1 and (day + turn) % _MINOR_EVERY == 0 else Mode.MAJOR
    keys = [key for key in in_order(all_tonics(), KeyOrder.FOURTHS, 0) if abs(key_of(key, mode).sharps) <= signature]
    named = [key for key in keys if not profile.keys or key.number % 12 in {each.number % 12 for each in profile.keys}]
    characters = _CHARACTERS[: 2 if known.place == 1 else None]
    if profile.chief_aim is Aim.JAZZ and known.place > 1:
        characters = _JAZZ
    asked: dict[str, Any] = {
        "instrument": profile.instrument, "low": profile.low, "high": profile.high, "rests": Rests.NONE,
        "difficulty": min(known.place, len(_LONGEST)), "seed": (day * _STEP + turn) % LARGEST_SEED,
        "sight_reading": at_sight,
        "mode": mode,
        "style": turned(characters, day + turn)[0],
    }  # fmt: skip
    for key in turned(named or keys, (day + turn) * _STEP):
        try:
            made = EtudeParameters(**asked, keys=(key,), bars=FEWEST_BARS)
            tempo = min(_MOST_OF_AN_ETUDE, *map(profile.clean_tempo, made.rhythms))
            made = replace(made, tempo=_aimed(None if at_sight else aimed_at, at_or_below(tempo)))
            bars = [
                each
                for each in _LENGTHS
                if each <= _LONGEST[min(known.place, len(_LONGEST)) - 1]
                and _TIMES_THROUGH * each * made.bar * Fraction(60, made.tempo) <= 60 * block.minutes
            ]
            pieces = min(_MOST_AT_SIGHT, max(2, block.minutes // 2))
            return etude(replace(made, bars=max(bars, default=FEWEST_BARS), pieces=pieces))
        except InputError:
            continue
    return None


def _aimed(at: int | None, usual: int) -> int:
    return usual if at is None else towards(at, usual)


def _repeated(made: Study, minutes: int) -> Study:
    """Return changes with lines that come more often: the last, to improvise on, up to four times, others twice."""
    room = Fraction(60 * minutes, 2)
    for others, last in ((2, rules.MOST_TIMES), (1, rules.MOST_TIMES), (1, 2)):
        times = [others] * (len(made.lines) - 1) + [last]
        longer = replace(made, lines=tuple(replace(line, times=n) for line, n in zip(made.lines, times, strict=True)))
        if longer.whole_seconds <= room:
            return longer
    return made
