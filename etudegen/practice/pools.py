"""What the blocks of a session draw from: for each kind of exercise, sheets of units that are chosen one by one.

A unit is a key, a valve position or a line. Which sheet and which unit come first turns with the day.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from etudegen.exercises.contours import NAMED
from etudegen.instrument.valves import POSITIONS
from etudegen.practice.plan import Block
from etudegen.practice.player import Player
from etudegen.practice.rotation import todays, turned
from etudegen.theory.keys import Order as KeyOrder
from etudegen.theory.keys import all_tonics, in_order
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm

Texts = Mapping[str, str | bool]

_SCALES = ("major", "natural-minor", "dorian", "harmonic-minor", "mixolydian", "melodic-minor", "chromatic")
_CELLS = ("1 2 3 5", "1 3", "1 3 2 4", "1 2 3 1", "1 2 3 4", "1 3 5 3", "1 2 3")
_CHORDS = ("major", "minor", "dominant-seventh", "major-seventh", "minor-seventh", "diminished-seventh", "augmented")
_CONTACT_FORMS = ("rising", "swells", "intervals")
_DESCENTS = ("triad", "octave", "scale", "chromatic")
_BEND_SPANS = (("C4", "G4"), ("G3", "B3"), ("G#4", "C5"))
_COUNTS = ("8", "12", "16")
_SHORTEST_CONTACT, _LONGEST_CONTACT = 2, 6


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet that a block may have.

    ``texts`` are the settings of its exercise; ``units`` what ``unit_setting`` can be given, in today's order (with no
    such setting the lines of the sheet are its units); ``whole`` sheets are played once and in one piece; ``item``
    names a unit in the journal.
    """

    kind: str
    texts: Texts
    unit_setting: str = ""
    units: Sequence[str] = ()
    label: str = ""
    whole: bool = False

    def item(self, unit: str) -> str:
        """Return the name under which the journal knows a unit."""
        return ":".join(part for part in (self.kind, self.label, unit) if part)


@dataclass(frozen=True, slots=True)
class Today:
    """What the order of things depends on: the day's number, and how well things practised before are retained."""

    day: int
    retained: Mapping[str, float]

    def order(self, kind: str, label: str, units: Sequence[str]) -> list[str]:
        """Return the units of a sheet in today's order."""
        prefix = f"{kind}:{label}:"
        retained = {
            item.removeprefix(prefix): chance for item, chance in self.retained.items() if item.startswith(prefix)
        }
        return todays(units, self.day, retained)


def _key_names() -> list[str]:
    return [tonic.name for tonic in in_order(all_tonics(), KeyOrder.FOURTHS, 0)]


def _keyed(block: Block, today: Today, setting: str, pool: Sequence[str]) -> Iterator[Sheet]:
    """Yield a sheet for each scale, chord or cell of the pool, its units the keys; one if the outline names it."""
    named = block.settings.get(setting)
    for label in [str(named)] if named else turned(pool, today.day):
        yield Sheet(
            block.kind,
            {**block.settings, setting: label},
            "keys",
            today.order(block.kind, label, _key_names()),
            label,
        )


def _slurs(block: Block, today: Today) -> Iterator[Sheet]:
    positions = [str(valves) for valves in POSITIONS]
    if block.settings.get("ramp"):
        yield Sheet("slurs", block.settings, "positions", today.order("slurs", "ramp", positions), "ramp")
        return
    named = block.settings.get("contour")
    contours = [str(named)] if named else turned([*NAMED], today.day)
    for rhythm in (Rhythm.QUARTERS, Rhythm.EIGHTHS, Rhythm.TRIPLETS):
        for contour in contours:
            texts = {**block.settings, "contour": contour, "rhythm": str(rhythm)}
            yield Sheet("slurs", texts, "positions", today.order("slurs", contour, positions), contour)


def _longtones(block: Block, today: Today) -> Iterator[Sheet]:
    for counts in turned(_COUNTS, today.day) if "counts" not in block.settings else [block.settings["counts"]]:
        yield Sheet("longtones", {**block.settings, "counts": counts})


def _bends(block: Block, today: Today) -> Iterator[Sheet]:
    for low, high in _BEND_SPANS:
        inside = (
            max(block.low.number, WrittenPitch.parse(low).number),
            min(block.high.number, WrittenPitch.parse(high).number),
        )
        if inside[0] <= inside[1]:
            span = {"low": str(WrittenPitch.from_number(inside[0])), "high": str(WrittenPitch.from_number(inside[1]))}
            yield Sheet("bends", {**block.settings, **span})


def _pedals(block: Block, today: Today) -> Iterator[Sheet]:
    for form in turned(_DESCENTS, today.day):
        yield Sheet("pedals", {**block.settings, "form": form}, label=form)


def _contact(block: Block, today: Today) -> Iterator[Sheet]:
    # Half of the block is contact, the other half rest with the instrument down.
    minutes = max(_SHORTEST_CONTACT, min(_LONGEST_CONTACT, block.minutes // 2))
    form = turned(_CONTACT_FORMS, today.day)[0]
    yield Sheet("contact", {**block.settings, "minutes": str(minutes), "form": form}, label=form, whole=True)


def _ranges(block: Block, today: Today) -> Iterator[Sheet]:
    yield Sheet("ranges", {**block.settings, "form": "climb"}, label="climb")
    for form in turned(("arpeggio", "scale"), today.day):
        yield Sheet("ranges", {**block.settings, "form": form}, "keys", today.order("ranges", form, _key_names()), form)


_SHEETS: Mapping[str, Callable[[Block, Today], Iterator[Sheet]]] = {
    "longtones": _longtones,
    "slurs": _slurs,
    "bends": _bends,
    "pedals": _pedals,
    "contact": _contact,
    "scales": lambda block, today: _keyed(block, today, "scale", _SCALES),
    "patterns": lambda block, today: _keyed(block, today, "pattern", _CELLS),
    "arpeggios": lambda block, today: _keyed(block, today, "chord", _CHORDS),
    "ranges": _ranges,
}


def sheets_for(block: Block, player: Player, today: Today) -> list[Sheet]:
    """Return the sheets that a block may be filled from, in today's order, for this player's range and tempi."""
    sheets = []
    for sheet in _SHEETS[block.kind](block, today):
        rhythm = Rhythm(str(sheet.texts.get("rhythm", Rhythm.QUARTERS)))
        texts = {
            "instrument": player.instrument.key,
            "low": str(block.low),
            "high": str(block.high),
            "tempo": str(min(block.tempo, player.clean_tempo(rhythm))),
            **sheet.texts,
        }
        sheets.append(replace(sheet, texts=texts))
    return sheets
