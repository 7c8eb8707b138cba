"""In which order bars are played: repeats and endings followed."""

from collections.abc import Sequence
from dataclasses import dataclass

_MOST_TIMES = 9
# No sheet is played for longer; a file that asks for more is not followed through.
_MOST_BARS = 20_000


@dataclass(frozen=True, slots=True)
class RepeatSigns:
    """The repeat signs of one bar: ``endings`` are the times it is played in, empty for every time.

    ``section`` begins a piece of its own: no repeat goes back behind it.
    """

    starts: bool = False
    ends: bool = False
    times: int = 2
    endings: tuple[int, ...] = ()
    section: bool = False


def playing_order(bars: Sequence[RepeatSigns]) -> list[int]:
    """Return the places of bars in the order in which they are played."""
    order: list[int] = []
    place, start, time = 0, 0, 1
    while place < len(bars) and len(order) < _MOST_BARS:
        bar = bars[place]
        if (bar.section or bar.starts) and place != start:
            start, time = place, 1
        if bar.endings and time not in bar.endings:
            place += 1
            continue
        order.append(place)
        following = bars[place + 1] if place + 1 < len(bars) else RepeatSigns(section=True)
        if bar.ends and time < _times(bars, place):
            time += 1
            place = start
            continue
        leaves_endings = bar.endings and not following.endings
        place += 1
        if bar.ends or leaves_endings or following.section:
            start, time = place, 1
    return order


def _times(bars: Sequence[RepeatSigns], place: int) -> int:
    """Return how often what a repeat sign ends is played: as often as it says, or until the last of its endings."""
    if not bars[place].endings:
        return min(bars[place].times, _MOST_TIMES)
    last = max(bars[place].endings)
    for bar in bars[place + 1 :]:
        if not bar.endings:
            break
        last = max(last, *bar.endings)
    return min(last, _MOST_TIMES)
