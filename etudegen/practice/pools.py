"""What the blocks of a session draw from: for each kind of exercise, sheets of units that are chosen one by one.

A unit is a key, a valve position or a line. Which sheet and which unit come first turns with the day.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from pathlib import Path

from etudegen.errors import InputError
from etudegen.exercises.common import Common
from etudegen.exercises.contours import NAMED
from etudegen.exercises.kinds import KINDS
from etudegen.exercises.ramp import STAGES
from etudegen.instrument.valves import POSITIONS
from etudegen.practice import rules
from etudegen.practice.plan import Block
from etudegen.practice.profile import Profile
from etudegen.practice.rotation import todays, turned
from etudegen.theory.chords import chord
from etudegen.theory.keys import KeyOrder, all_tonics, in_order
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm
from etudegen.theory.scales import Scale, scale, well_spelled

Texts = Mapping[str, str | bool]

_KINDS = {kind.name: kind for kind in KINDS}
_SCALES = ("major", "natural-minor", "dorian", "harmonic-minor", "mixolydian", "melodic-minor", "chromatic")
_CELLS = ("1 2 3 5", "1 3", "1 3 2 4", "1 2 3 1", "1 2 3 4", "1 3 5 3", "1 2 3")
_CHORDS = ("major", "minor", "dominant-seventh", "major-seventh", "minor-seventh", "diminished-seventh", "augmented")
_CONTACT_FORMS = ("rising", "swells", "intervals")
_DESCENTS = ("triad", "octave", "scale", "chromatic")
_WHOLE_RANGE = ("arpeggio", "scale")
# Where the bends of a sheet begin and end; the lowest note is only bent down to.
_BEND_SPANS = (("B3", "G4"), ("F#3", "B3"), ("G4", "C5"))
_COUNTS = (6, 8, 10, 12, 14, 16)
_MOST_SHEETS_OF_LONG_TONES = 3
_SHORTEST_CONTACT, _LONGEST_CONTACT = 2, 6
# What comes after the rhythm that a kind usually has, where there is time for more.
_RHYTHMS = (Rhythm.EIGHTHS, Rhythm.TRIPLETS, Rhythm.SIXTEENTHS)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet that a block may have.

    ``texts`` are the settings of its exercise, its own tempo among them; ``units`` what ``unit_setting`` can be given,
    in today's order (with no such setting the lines of the sheet are its units); ``whole`` sheets are played once and
    in one piece; ``item`` names a unit in the journal.
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


def said(items: Sequence[str]) -> str:
    """Return what the journal calls items as a player would say it, such as ``harmonic minor in F B♭``."""
    by_sheet: dict[tuple[str, str], list[str]] = {}
    for item in items:
        kind, label, unit = (*item.split(":"), "", "")[:3]
        by_sheet.setdefault((kind, label), []).append(unit)
    return ", ".join(filter(None, (_said(kind, label, units) for (kind, label), units in by_sheet.items())))


def _said(kind: str, label: str, units: list[str]) -> str:
    if kind == "slurs":
        shape = "from easy to demanding" if label == "ramp" else label
        return f"{shape} in position{'s' if len(units) > 1 else ''} {' '.join(units)}"
    name = label.replace("-", " ")
    keys = " ".join(unit.replace("#", "♯").replace("b", "♭") for unit in units if unit)
    return f"{name} in {keys}" if keys else name


def _settings_of(block: Block, **more: str) -> dict[str, str | bool]:
    """Return what the routine asks for, and what else it does not say."""
    return {**more, **block.settings}


@cache
def _key_names(of: Scale) -> tuple[str, ...]:
    """Return the twelve keys by the names that read best for a scale."""
    tonics = in_order(all_tonics(), KeyOrder.FOURTHS, 0)
    return tuple(well_spelled(tonic, of, keep=False).tonic.name for tonic in tonics)


def _own_file(block: Block, setting: str) -> Path | None:
    named = block.settings.get(setting)
    return Path(str(named)) if named else None


def _scale_of(block: Block, setting: str, label: str) -> Scale:
    """Return the notes that a key has on a sheet."""
    if setting == "chord":
        return chord(label, _own_file(block, "chords")).as_scale()
    name = label if setting == "scale" else str(block.settings.get("scale", "major"))
    return scale(name, _own_file(block, "scales"))


def _rhythms(texts: Texts, kind: str) -> list[Rhythm]:
    """Return the rhythms that a sheet can be had in, the usual one first."""
    if "rhythm" in texts:
        return [Rhythm(str(texts["rhythm"]))]
    try:
        usual = _rhythm(kind, texts)
    except InputError:
        # What the kind usually has does not go with the other settings; some other rhythm may.
        return [*_RHYTHMS]
    return [usual, *(rhythm for rhythm in _RHYTHMS if rhythm is not usual)]


def _in_rhythms(sheets: Sequence[Sheet]) -> Iterator[Sheet]:
    """Yield sheets in their usual rhythms, then in others."""
    rhythms = [_rhythms(sheet.texts, sheet.kind) for sheet in sheets]
    for turn in range(max(map(len, rhythms), default=0)):
        for sheet, allowed in zip(sheets, rhythms, strict=True):
            if turn < len(allowed):
                yield replace(sheet, texts={**sheet.texts, "rhythm": str(allowed[turn])})


def _keyed(block: Block, today: Today, setting: str, pool: Sequence[str]) -> Iterator[Sheet]:
    """Yield a sheet for each scale, chord or cell of the pool, its units the keys; one if the routine names it."""
    named = block.settings.get(setting)
    sheets = []
    for label in [str(named)] if named else turned(pool, today.day):
        keys = today.order(block.kind, label, _key_names(_scale_of(block, setting, label)))
        sheets.append(Sheet(block.kind, _settings_of(block, **{setting: label}), "keys", keys, label))
    yield from _in_rhythms(sheets)


def _slurs(block: Block, today: Today) -> Iterator[Sheet]:
    positions = [str(valves) for valves in POSITIONS]
    if block.settings.get("ramp"):
        yield Sheet("slurs", block.settings, "positions", today.order("slurs", "ramp", positions), "ramp")
        return
    named = block.settings.get("contour")
    contours = [str(named)] if named else turned([*NAMED], today.day)
    rhythms = [str(block.settings["rhythm"])] if "rhythm" in block.settings else [*map(str, Rhythm)]
    for rhythm in rhythms:
        for contour in contours:
            texts = _settings_of(block, contour=contour, rhythm=rhythm)
            yield Sheet("slurs", texts, "positions", today.order("slurs", contour, positions), contour)


def _long_tones(block: Block, today: Today) -> Iterator[Sheet]:
    lengths = [str(block.settings["counts"])] if "counts" in block.settings else _lengths(block, today)
    for counts in lengths:
        yield Sheet("long-tones", _settings_of(block, counts=counts))


def _lengths(block: Block, today: Today) -> list[str]:
    """Return lengths of long tones in counts: first those of sheets that fill the block together, whole ones."""
    range_of = {"low": str(block.low), "high": str(block.high)}
    texts = {**_settings_of(block, counts=str(_COUNTS[0])), **range_of, "tempo": str(block.tempo)}
    shortest = _KINDS["long-tones"].study(_parameters("long-tones", texts))
    count = (shortest.playing_seconds + shortest.resting_seconds) / _COUNTS[0]
    for sheets in range(1, _MOST_SHEETS_OF_LONG_TONES + 1):
        fitting = [
            lengths
            for lengths in combinations(_COUNTS, sheets)
            if rules.SLOWEST_SHARE * 60 * block.minutes <= sum(lengths) * count <= 60 * block.minutes
        ]
        if fitting:
            chosen = turned(fitting, today.day)[0]
            return [*map(str, chosen), *(str(each) for each in _COUNTS if each not in chosen)]
    return [*map(str, _COUNTS)]


def _bends(block: Block, today: Today) -> Iterator[Sheet]:
    for low, high in _BEND_SPANS:
        inside = (
            max(block.low.number, WrittenPitch.parse(low).number),
            min(block.high.number, WrittenPitch.parse(high).number),
        )
        if inside[0] < inside[1]:
            span = {"low": str(WrittenPitch.from_number(inside[0])), "high": str(WrittenPitch.from_number(inside[1]))}
            yield Sheet("bends", {**block.settings, **span})


def _forms(block: Block, today: Today, pool: Sequence[str]) -> list[str]:
    """Return the forms that a kind has, as they come today; only that which the routine names."""
    return [str(block.settings["form"])] if "form" in block.settings else turned(pool, today.day)


def _pedals(block: Block, today: Today) -> Iterator[Sheet]:
    for form in _forms(block, today, _DESCENTS):
        yield Sheet("pedals", _settings_of(block, form=form), label=form)


def _contact(block: Block, today: Today) -> Iterator[Sheet]:
    # Half of the block is contact, the other half rest with the instrument down.
    minutes = max(_SHORTEST_CONTACT, min(_LONGEST_CONTACT, block.minutes // 2))
    form = _forms(block, today, _CONTACT_FORMS)[0]
    yield Sheet("contact", {**block.settings, "minutes": str(minutes), "form": form}, label=form, whole=True)


def _ranges(block: Block, today: Today) -> Iterator[Sheet]:
    forms = [str(block.settings["form"])] if "form" in block.settings else ["climb", *turned(_WHOLE_RANGE, today.day)]
    sheets = []
    for form in forms:
        keys = _key_names(scale("major") if form == "scale" else chord("major").as_scale())
        texts = _settings_of(block, form=form)
        if form == "climb":
            # It leads up to the top note: half of it is none.
            yield Sheet("range", texts, label=form, whole=True)
        else:
            sheets.append(Sheet("range", texts, "keys", today.order("range", form, keys), form))
    yield from _in_rhythms(sheets)


_SHEETS: Mapping[str, Callable[[Block, Today], Iterator[Sheet]]] = {
    "long-tones": _long_tones,
    "slurs": _slurs,
    "bends": _bends,
    "pedals": _pedals,
    "contact": _contact,
    "scales": lambda block, today: _keyed(block, today, "scale", _SCALES),
    "patterns": lambda block, today: _keyed(block, today, "pattern", _CELLS),
    "arpeggios": lambda block, today: _keyed(block, today, "chord", _CHORDS),
    "range": _ranges,
}
assert set(_SHEETS) == set(rules.STUDIES)


def _parameters(kind: str, texts: Texts) -> Common:
    return _KINDS[kind].parameters.from_texts(texts)


def _rhythm(kind: str, texts: Texts) -> Rhythm:
    """Return the rhythm of the moving notes; long notes move in quarters at most."""
    return getattr(_parameters(kind, texts), "rhythm", Rhythm.QUARTERS)


def _tempo(sheet: Sheet, profile: Profile) -> int:
    """Return the fastest tempo for everything that moves on a sheet."""
    ramp = sheet.texts.get("ramp")
    moving = [stage.rhythm for stage in STAGES] if ramp else [_rhythm(sheet.kind, sheet.texts)]
    returning = profile.days_since_played >= rules.WEEKS_OFF
    return min(rules.working_tempo(profile.clean_tempo(rhythm), returning=returning) for rhythm in moving)


def sheets_for(block: Block, profile: Profile, today: Today) -> list[Sheet]:
    """Return the sheets that a block may be filled from, in today's order, each at this player's tempo for it."""
    sheets = []
    for sheet in _SHEETS[block.kind](block, today):
        try:
            tempo = min(block.tempo, _tempo(sheet, profile), int(sheet.texts.get("tempo", block.tempo)))
        except InputError:
            # A cell or an articulation that this rhythm does not fit.
            continue
        texts = {
            "instrument": profile.instrument.key,
            "low": str(block.low),
            "high": str(block.high),
            **sheet.texts,
            "tempo": str(tempo),
        }
        sheets.append(replace(sheet, texts=texts))
    return sheets
