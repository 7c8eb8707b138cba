"""What exercises in keys share: which keys in which order, and how their notes are spoken."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import zip_longest
from pathlib import Path

from etudegen.errors import InputError
from etudegen.exercises.common import BAR, HEALTH, Common, Fingerings, fingerings_setting, ordinary_tone
from etudegen.exercises.exercise import Occasion, told_plainly
from etudegen.exercises.settings import Values, any_text, is_pitch, one_of, setting, several
from etudegen.study import Line, Skipped, Tone
from etudegen.theory.articulation import Articulation, articulation, articulation_names
from etudegen.theory.keys import KeyOrder, all_tonics, in_order, parse_keys, tonic
from etudegen.theory.pitch import WrittenPitch
from etudegen.theory.rhythm import Rhythm, running_then_held
from etudegen.theory.scales import ConcreteScale, Scale, well_spelled

_LEAST_HOLD = Fraction(2)
# After these tokens of a mask the next note is not tongued.
_GOES_ON = ("(", "-")
CAUTION = f"Rest when the rests say so. {HEALTH}"


# What is looked up or read as degrees; the longest texts are cells of sixteen degrees, and names of the player's own.
NAMES = any_text("give a name or degrees", 200)


def file_path(what: str) -> Values[Path]:
    """Return the paths of files of a sort, such as ``TOML``."""
    only = f"give the path of a {what} file"

    def read(text: str) -> Path:
        if not text.strip():
            raise InputError(f"the name of a file is empty: {only}")
        return Path(text)

    return Values(Path, read, only)


def own_file_setting(what: str) -> Path | None:
    """Declare a file of the player's own with more of something."""
    return setting(None, f"TOML file with {what} of your own", file_path("TOML"), "FILE", "none")  # type: ignore[no-any-return]


def rhythm_setting(default: Rhythm) -> Rhythm:
    """Declare the rhythm of the moving notes with a default of its own."""
    return setting(  # type: ignore[no-any-return]
        default, f"rhythm of the moving notes: {', '.join(Rhythm)}", one_of(Rhythm, "rhythm"), "RHYTHM"
    )


@dataclass(frozen=True, kw_only=True)
class Spoken(Common):
    """An exercise whose running notes can be articulated."""

    fingerings: Fingerings = fingerings_setting(Fingerings.NONE)
    rhythm: Rhythm = rhythm_setting(Rhythm.EIGHTHS)
    articulation: str = setting("tongued", f"one of {', '.join(articulation_names())}, or your own", NAMES, "NAME")
    articulations: Path | None = own_file_setting("articulations")

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.spoken.swing and self.running is not Rhythm.EIGHTHS:
            raise InputError(f"articulation {self.articulation!r} swings eighths: rhythm {self.running} is not allowed")

    @property
    def spoken(self) -> Articulation:
        """The articulation asked for."""
        return articulation(self.articulation, self.articulations)

    @property
    def running(self) -> Rhythm:
        """The rhythm of the moving notes."""
        return self.rhythm

    @property
    def rhythms(self) -> tuple[Rhythm, ...]:
        """The rhythms that move on the sheet, which its tempo has to allow."""
        return (self.running,)

    def run(self, notes: Sequence[WrittenPitch]) -> tuple[Tone, ...]:
        """Return notes as a run in the rhythm with the last one held, fingered, articulated, whole bars long."""
        durations = running_then_held(len(notes), self.running, BAR, _LEAST_HOLD)
        tones = [ordinary_tone(note, duration) for note, duration in zip(notes, durations, strict=True)]
        return self.with_breaths(self.dressed(laid_over(self.spoken, tones)))


def laid_over(spoken: Articulation, tones: Sequence[Tone]) -> Iterable[Tone]:
    """Yield the tones of one run with slurs, marks and syllables on them.

    The last, held one ends any slur; a note that is repeated is tongued whatever the mask says.
    """
    joined = False
    for place, (tone, following) in enumerate(zip_longest(tones, tones[1:])):
        last = following is None
        token = "-" if spoken.whole else spoken.token(place)
        slurred = token in _GOES_ON and not last and following.pitch.number != tone.pitch.number
        tongued = not joined and not last
        yield replace(
            tone,
            slurred=slurred,
            marks=(*tone.marks, spoken.mark) if tongued and spoken.mark else tone.marks,
            syllable=spoken.spoken(place) if tongued else "",
        )
        joined = slurred


TONIC = Values(
    WrittenPitch,
    tonic,
    "give a key",
    lambda note: is_pitch(note) and abs(note.alter) <= 1,
    lambda note: note.name,
)
KEYS = several(
    TONIC,
    parse_keys,
    "give keys by their written tonic, each once, like Bb or F#, or all",
    least=0,
    none="all",
    alike=lambda note: note.number % 12,
)


@dataclass(frozen=True, kw_only=True)
class Keyed(Spoken):
    """An exercise that goes through keys."""

    keys: tuple[WrittenPitch, ...] = setting((), "keys by their written tonic, or all", KEYS, "LIST", "all")
    order: KeyOrder | None = setting(
        None,
        f"order of the keys: {', '.join(KeyOrder)}",
        one_of(KeyOrder, "order"),
        "ORDER",
        "fourths; keys of your own as you list them",
    )

    @property
    def tonics(self) -> tuple[WrittenPitch, ...]:
        """The tonics in the order asked for."""
        if self.order is None and self.keys:
            return self.keys
        return in_order(self.keys or all_tonics(), self.order or KeyOrder.FOURTHS, self.seed)

    def key(self, tonic: WrittenPitch, scale: Scale) -> ConcreteScale:
        """Return a scale on a tonic, spelled the way the player named it if that reads well."""
        return well_spelled(tonic, scale, keep=bool(self.keys))

    def in_keys(
        self, of: Scale, notes: Callable[[ConcreteScale], Sequence[WrittenPitch]], unfit: str
    ) -> tuple[list[Line], list[Skipped]]:
        """Return a line for each key, of the notes that it gives, and what is skipped, with ``unfit`` as the reason."""
        lines: list[Line] = []
        skipped: list[Skipped] = []
        for each in self.tonics:
            key = self.key(each, of)
            run = notes(key)
            if run:
                lines.append(Line(key.name, self.with_rest(self.run(run)), sharps=key.sharps))
            else:
                skipped.append(Skipped(f"{key.name} {of.name}", unfit))
        return lines, skipped

    def keys_text(self, lines: Sequence[Line]) -> str:
        """Return the keys that are played as a page names them."""
        if len(lines) == len(all_tonics()):
            return "all keys" + (f", {self.order}" if self.order else "")
        return "in " + " ".join(line.label for line in lines)


def daily_keys(of: Scale, occasion: Occasion) -> tuple[WrittenPitch, ...]:
    """Return the keys of a sheet that a session draws from, by the names that read best for a scale.

    They are those that are asked for, else those within the player's bounds; who knows few has the easiest first.
    """
    if occasion.asked.get("keys"):
        return tuple(occasion.asked["keys"])
    bounds = occasion.bounds
    known = [
        key
        for key in _twelve_keys(of)
        if abs(key.sharps) <= bounds.signature and key.tonic.number % len(all_tonics()) in bounds.keys
    ]
    if bounds.knows_few_keys:
        known.sort(key=lambda key: abs(key.sharps))
    return tuple(key.tonic for key in known)


@cache
def _twelve_keys(of: Scale) -> tuple[ConcreteScale, ...]:
    return tuple(well_spelled(each, of, keep=False) for each in in_order(all_tonics(), KeyOrder.FOURTHS, 0))


def told_in_keys(choice: str, units: Sequence[str]) -> str:
    """Return a choice and its keys as a player would say them, such as ``harmonic minor in F B♭``."""
    return told_plainly(choice, [unit.replace("#", "♯").replace("b", "♭") for unit in units])
