"""Things that are practised, as the journal knows them and as a player would say them."""

from collections.abc import Iterable
from dataclasses import dataclass

from etudegen.exercises.kinds import practice_of


@dataclass(frozen=True, slots=True, order=True)
class Item:
    """One thing that a session practises.

    ``kind`` is a kind of exercise or of card; ``choice`` what was chosen of it (a scale, a contour), if anything is,
    and ``unit`` the part of the sheet: a key by its written tonic such as ``Bb``, a valve position such as ``12``.
    """

    kind: str
    choice: str = ""
    unit: str = ""


# Of more than so many units of one thing the first few are told where there is little room.
_MANY, _FEW = 6, 4


def said(items: Iterable[Item], *, shortly: bool = False) -> str:
    """Return items as a player would say them, such as ``harmonic minor in F B♭``; cards say nothing.

    ``shortly`` tells the first of many keys and how many others there are.
    """
    by_choice: dict[tuple[str, str], list[str]] = {}
    for item in items:
        by_choice.setdefault((item.kind, item.choice), []).append(item.unit)
    told = []
    for (kind, choice), units in by_choice.items():
        practice = practice_of(kind)
        if practice:
            cut = shortly and len(units) > _MANY
            more = f" and {len(units) - _FEW} more" if cut else ""
            told.append(f"{practice.told(choice, units[:_FEW] if cut else units)}{more}")
    return ", ".join(filter(None, told))
