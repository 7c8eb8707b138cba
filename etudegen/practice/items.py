"""Things that are practised, as the journal knows them and as a player would say them."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Item:
    """One thing that a session practises.

    ``kind`` is a kind of exercise or of card; ``choice`` what was chosen of it (a scale, a contour), if anything is, and
    ``unit`` the part of the sheet: a key by its written tonic such as ``Bb``, a valve position such as ``12``.
    """

    kind: str
    choice: str = ""
    unit: str = ""
