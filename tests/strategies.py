"""Random things that a player may ask for, for every property test.

``parameters`` may ask for what cannot be played; ``studies`` are those that could be made, with what they were
made of.
"""

import dataclasses
from itertools import pairwise

from hypothesis import assume
from hypothesis import strategies as st

from etudegen.errors import InputError
from etudegen.exercises.common import Fingerings, Rests
from etudegen.exercises.contours import NAMED, Contour, parse_contour
from etudegen.exercises.slurs import PositionOrder, SlurParameters, study
from etudegen.instrument.catalogue import instrument, instrument_keys
from etudegen.instrument.valves import COMBINATIONS
from etudegen.study import Paper, Study
from etudegen.theory.pitch import STEPS, WrittenPitch
from etudegen.theory.rhythm import Rhythm

# Written F#2 to C7, in MIDI key numbers: what SlurParameters allow at most.
LOWEST, HIGHEST = 42, 96

NASTY_TITLES = (
    'say "hello"',
    "back\\slash \\",
    '" #(system "touch HACKED") "',
    '\\markup "x" %{ %} % #(exit 3)',
    "tab\tnew\nline\r\nand\u2028separator",
    "-o /etc/passwd; ../../up",
    "<b>&amp;</b> ]]> <!-- -->",
    "😀 שלום e\u0301 \u202eright to left",
    "   ",
)


def notes(low: int = LOWEST, high: int = HIGHEST) -> st.SearchStrategy[WrittenPitch]:
    """Written notes between two key numbers in any spelling with up to two accidentals, B♯♯ and F♭♭ too."""
    spellings = [
        WrittenPitch(step, alter, octave) for octave in range(1, 8) for step in STEPS for alter in (0, 1, -1, 2, -2)
    ]
    return st.sampled_from([note for note in spellings if low <= note.number <= high])


@st.composite
def ranges(draw: st.DrawFn) -> tuple[WrittenPitch, WrittenPitch]:
    """A lowest and a highest note: often an octave or two apart, sometimes the same or the whole instrument."""
    low = draw(st.integers(LOWEST, HIGHEST))
    high = min(HIGHEST, low + draw(st.integers(0, 12) | st.integers(12, 30) | st.just(HIGHEST - LOWEST)))
    return draw(notes(low, low)), draw(notes(high, high))


def own_contours(highest: int = 16) -> st.SearchStrategy[Contour]:
    """Partial numbers as a player types them, never the same one twice in a row."""
    steps = st.lists(st.integers(2, highest), min_size=2, max_size=9)
    moving = steps.filter(lambda typed: all(a != b for a, b in pairwise(typed)))
    return st.builds(
        lambda typed, comma: parse_contour((", " if comma else " ").join(map(str, typed))),
        moving,
        st.booleans(),
    )


def contours() -> st.SearchStrategy[Contour]:
    return st.sampled_from(list(NAMED.values())) | own_contours(6) | own_contours()


def clean_titles() -> st.SearchStrategy[str]:
    """Titles without control characters, unpaired surrogates and what Unicode says is no character."""
    characters = st.characters(exclude_categories=("Cc", "Cs", "Cn"))
    clean = [title for title in NASTY_TITLES if "\n" not in title]
    return st.just("") | st.sampled_from(clean) | st.text(characters, max_size=120)


def titles() -> st.SearchStrategy[str]:
    """Any titles, with characters that no file format takes."""
    return clean_titles() | st.sampled_from(NASTY_TITLES) | st.text(st.characters(), max_size=120)


@st.composite
def parameters(
    draw: st.DrawFn,
    *,
    title: st.SearchStrategy[str] | None = None,
    most_positions: int = len(COMBINATIONS),
    most_repeats: int = 4,
    ramp: bool | None = None,
) -> SlurParameters:
    """Parameters of slurs that are allowed, whether or not anything can be played with them."""
    low, high = draw(ranges())
    ramped = draw(st.integers(0, 5).map(lambda number: number == 5)) if ramp is None else ramp
    shape = {} if ramped else {"contour": draw(contours()), "rhythm": draw(st.sampled_from(Rhythm))}
    positions = st.lists(st.sampled_from(COMBINATIONS), min_size=1, max_size=most_positions, unique_by=str)
    return SlurParameters(
        instrument=instrument(draw(st.sampled_from(instrument_keys()))),
        low=low,
        high=high,
        tempo=draw(st.integers(20, 300)),
        rests=draw(st.sampled_from(Rests)),
        fingerings=draw(st.sampled_from(Fingerings)),
        partial_numbers=draw(st.booleans()),
        seed=draw(st.integers(0, 2**31 - 1)),
        paper=draw(st.sampled_from(Paper)),
        title=draw(titles() if title is None else title),
        positions=tuple(draw(positions)),
        direction=draw(st.sampled_from(PositionOrder)),
        repeats=draw(st.none() | st.integers(1, most_repeats)),
        far_partials=draw(st.booleans()),
        ramp=ramped,
        **shape,
    )


@st.composite
def studies(draw: st.DrawFn, asked: st.SearchStrategy[SlurParameters] | None = None) -> tuple[SlurParameters, Study]:
    """What was asked for, and the study made of it."""
    wanted = draw(parameters() if asked is None else asked)
    try:
        return wanted, study(wanted)
    except InputError:
        # Too few notes to play on. Where a wider range helps, take that; the rest are left to their own test.
        wider = dataclasses.replace(
            wanted, low=WrittenPitch("F", 1, 2), high=WrittenPitch("C", 0, 7), far_partials=True
        )
    try:
        return wider, study(wider)
    except InputError:
        assume(False)
        raise


def small_studies() -> st.SearchStrategy[tuple[SlurParameters, Study]]:
    """Studies of few lines with clean titles, for tests that are slow or that write files."""
    return studies(parameters(title=clean_titles(), most_positions=2, most_repeats=2))
