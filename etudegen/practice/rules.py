"""The rules that every plan keeps, in one place: numbers first, then what follows from them.

Published advice is named at its number; the rest is common practice, no source.
"""

from enum import StrEnum
from fractions import Fraction

from etudegen.exercises.kinds import Strain, all_kinds
from etudegen.theory.tempo import SLOWEST

SHORTEST_SESSION, LONGEST_SESSION = 10, 240
# Sound levels in a practice room, in dBA: quieter is no practice, louder no room.
LEAST_LEVEL, MOST_LEVEL = 60.0, 130.0

# Rest: five minutes after twenty-five of playing (G. Klickstein, "Taking Breaks", 2011,
# musiciansway.com/blog/2011/07/taking-breaks/), and sooner when the playing is strenuous, so that two and a half
# strenuous hours carry about half an hour of it.
REST = 5
LONGEST_RUN = 25
LONGEST_STRENUOUS_RUN = 20

# A session of an hour or more, or with anything strenuous in it, ends in easy low playing: a fifteenth of it, about ten
# minutes after two and a half hours.
LONG_SESSION = 60
SHORTEST_WARM_DOWN, LONGEST_WARM_DOWN = 3, 10
WARM_DOWN_SHARE = 15
# The same in per cent of what is not rest, where an aim says nothing of it.
WARM_DOWN_PER_CENT = 7

SHORTEST_WARM_UP, LONGEST_WARM_UP = 3, 15
SHORTEST_BLOCK = 3

# To fill its time a block may be played a little slower than planned; what is still missing is rest.
SLOWEST_SHARE = Fraction(17, 20)
# A sheet with less on it, unless it is all there is, is not worth turning a page for: so many lines and seconds of
# playing, or so many seconds.
FEWEST_LINES, LEAST_PLAYING, PLAYING_ENOUGH = 3, 20, 60
# How often a line, or a chorus to improvise on, is played at most before something else is.
MOST_TIMES = 4

# Up to half an hour bends and slurs alone are a sound choice; beyond it music is always kept.
NO_MUSIC_UP_TO = 30
LEAST_MUSIC = 5

# After two weeks off: nothing strenuous, three half steps lower at the top, a tenth slower, and more rest.
WEEKS_OFF = 14
LOWER_AFTER_WEEKS_OFF = 3
SLOWER_AFTER_WEEKS_OFF = Fraction(9, 10)
LONGEST_RUN_AFTER_WEEKS_OFF = 12
LONGEST_AFTER_WEEKS_OFF = 75
# From this place among the levels on a player may do without music for a day.
ADVANCED = 4
# A block that is cut by a rest leaves pieces of at least so many minutes.
SHORTEST_PIECE, SHORTEST_PIECE_AFTER_WEEKS_OFF = 8, 6

# Warm-up and warm-down stay at or below C5, and no faster than 60.
EASY_TOP = 72
EASY_TEMPO = 60


class Manner(StrEnum):
    """How music is worked on: piece by piece, played through, short passages, or at sight."""

    PIECE = "piece"
    THROUGH = "through"
    EXCERPTS = "excerpts"
    SIGHT_READING = "sight-reading"


class Part(StrEnum):
    """What a block is in a session."""

    WARM_UP = "warm-up"
    CONDITIONING = "conditioning"
    TECHNIQUE = "technique"
    RANGE = "range"
    MUSIC = "music"
    CHANGES = "changes"
    WARM_DOWN = "warm-down"
    REST = "rest"


# Blocks of the player's own material: a card tells what, how long, what to aim for.
OWN_MATERIAL = ("repertoire", "transpose", "improvising", "writing-down")


def studies() -> tuple[str, ...]:
    """Return the kinds of exercise that sessions draw; for what is the player's own they leave room on cards."""
    return tuple(kind.name for kind in all_kinds() if kind.exercise.practice is not None)


def is_strenuous(kind: str) -> bool:
    """Tell whether a kind of exercise strains the lips."""
    return any(each.name == kind and each.strain is Strain.STRENUOUS for each in all_kinds())


def longest_run(*, strenuous: bool, returning: bool) -> int:
    """Return the most minutes of playing without a rest."""
    if returning:
        return LONGEST_RUN_AFTER_WEEKS_OFF
    return LONGEST_STRENUOUS_RUN if strenuous else LONGEST_RUN


def working_tempo(clean: int, *, returning: bool) -> int:
    """Return the fastest tempo to practise at, in quarter notes a minute, for the fastest clean one."""
    return max(SLOWEST, int(clean * SLOWER_AFTER_WEEKS_OFF)) if returning else clean


def rests_needed(minutes: int, run: int) -> int:
    """Return the fewest rests between which no run of playing is longer than ``run`` minutes."""
    return max(0, -(-(minutes - run) // (run + REST)))


def warm_down_minutes(minutes: int) -> int:
    """Return how long the warm-down of a session that needs one is."""
    return min(LONGEST_WARM_DOWN, max(SHORTEST_WARM_DOWN, round(minutes / WARM_DOWN_SHARE)))


def noise_minutes(level: float) -> float:
    """Return the minutes a day at a sound level in dBA that make a full noise dose.

    NIOSH recommended exposure limit: 85 dBA over 8 hours with a 3 dB exchange rate, T = 480 / 2**((L - 85) / 3); it
    is stated for work, so call it a guide.
    """
    return float(480 / 2 ** ((level - 85) / 3))
