"""What somebody wants to play along with."""

from dataclasses import dataclass

from etudegen.errors import InputError, check_type, shown

MOST_COUNT_IN = 4


@dataclass(frozen=True, slots=True)
class Backing:
    """What a play-along has; raises :class:`~etudegen.errors.InputError` for what nobody can play along with.

    ``count_in`` in bars (0 to 4); ``click`` all through; ``drone`` under each line, on the note that it ends on;
    ``answer`` leaves each phrase free once after it was played, where the click goes on in any case; ``band`` plays
    the chord changes; ``melody`` is the part itself; ``swing`` plays eighths swung (True) or even (False).

    None leaves it to the music: a band where there are chord changes, a click or a drone where there is no band,
    eighths as the sheet has them.
    """

    count_in: int = 1
    click: bool | None = None
    drone: bool | None = False
    answer: bool = False
    band: bool | None = None
    melody: bool = True
    swing: bool | None = None

    def __post_init__(self) -> None:
        if type(self.count_in) is not int or not 0 <= self.count_in <= MOST_COUNT_IN:
            raise InputError(f"count-in {shown(self.count_in)} is not allowed: give 0 to {MOST_COUNT_IN} bars")
        for name in ("click", "drone", "band", "swing"):
            check_type(name, getattr(self, name), (bool, type(None)), "True, False or None")
        for name in ("answer", "melody"):
            check_type(name, getattr(self, name), bool, "True or False")
        if self.answer and not self.melody:
            raise InputError("call and response needs the melody: ask for both or for neither")
