"""For each kind of exercise an easy sheet and hard ones, by the texts that ask for them.

The hard ones have keys of six and seven accidentals, sixteenths and triplets, ties and hairpins inside notes, swing,
tonguing syllables, octave brackets, bends, and everything printed that can be.
"""

from etudegen.exercises.kinds import KINDS
from etudegen.study import Study
from tests.kinds.strategies import OWN, Asked

ALL_PRINTED: dict[str, str | bool] = {"fingerings": "every", "partial_numbers": True}
HARD_KEYS = "Gb C# B"

TEXTS: dict[str, dict[str, dict[str, str | bool]]] = {
    "long-tones": {
        "easy": {"low": "C4", "high": "F4"},
        "swells over barlines": {
            "counts": "7", "dynamics": "swell", "low": "Bb3", "high": "Gb5", "instrument": "flugelhorn", **ALL_PRINTED,
        },
        "very long, without rests": {
            "counts": "13", "dynamics": "swell", "rests": "none", "order": "down", "low": "A3", "start": "C4",
        },
    },
    "slurs": {
        "easy": {"low": "G3", "high": "C5"},
        "sixteenths": {
            "contour": "climb", "rhythm": "sixteenths", "high": "C6", "far_partials": True, "positions": "0 123",
            **ALL_PRINTED,
        },
        "triplets of their own": {
            "contour": "2 3 4 3 5", "rhythm": "triplets", "rests": "half", "instrument": "trumpet-c", "repeats": "2",
        },
        "ramp": {"ramp": True, "positions": "1 12", "paper": "Letter"},
    },
    "bends": {
        "easy": {"low": "E4", "high": "G4"},
        "whole steps": {"whole_step": True, "both_ways": True, "low": "Bb4", "high": "D5", **ALL_PRINTED},
        "with cents": {"show_cents": True, "low": "B3", "high": "E5", "tempo": "96", "rests": "none", **ALL_PRINTED},
    },
    "pedals": {
        "easy": {},
        "under brackets": {
            "form": "chromatic", "brackets": True, "lowest": "C2", "bent_fingering": "longest", "low": "B3",
            **ALL_PRINTED,
        },
        "there and back under brackets": {"form": "octave", "brackets": True, "rests": "half", "instrument": "cornet"},
        "brackets without rests": {"form": "scale", "brackets": True, "rests": "none"},
    },
    "contact": {
        "easy": {"minutes": "2"},
        "swells": {"form": "swells", "start": "Gb4", "high": "C5", "minutes": "2", "tempo": "47", **ALL_PRINTED},
        "intervals": {"form": "intervals", "start": "F#4", "high": "B5", "minutes": "2", "partial_numbers": True},
    },
    "scales": {
        "easy": {"keys": "C", "extent": "one"},
        "swing": {
            "keys": HARD_KEYS, "scale": "harmonic-minor", "articulation": "swing", "tempo": "168", "high": "C6",
            "fingerings": "every",
        },
        "triple tongue": {
            "keys": HARD_KEYS, "scale": "chromatic", "extent": "one", "rhythm": "triplets",
            "articulation": "triple-tongue",
        },
        # Slurs and the numbers of triplets meet in every way that there is.
        "slurred triplets": {
            "keys": "C Db E Gb A B", "rhythm": "triplets", "articulation": "slur-three-tongue-one", "high": "C6",
        },
        "staccato sixteenths": {
            "keys": "C# F#", "scale": "bebop-dorian", "rhythm": "sixteenths", "articulation": "staccato",
            "order": "fifths", **ALL_PRINTED,
        },
    },
    "patterns": {
        "easy": {"keys": "C", "pattern": "1 2 3 5", "extent": "one"},
        "triplets bent": {
            "keys": HARD_KEYS, "pattern": "1 b3 5", "scale": "melodic-minor", "rhythm": "triplets", "extent": "one",
            "articulation": "triple-tongue", "fingerings": "changes",
        },
        "sixteenths": {
            "keys": "Gb", "pattern": "turn", "scale": "altered", "rhythm": "sixteenths",
            "articulation": "slur-three-tongue-one", "high": "B5",
        },
        "slow swing": {"keys": "C#", "pattern": "thirds", "articulation": "swing", "tempo": "60"},
    },
    "arpeggios": {
        "easy": {"keys": "C", "extent": "one"},
        "broken ninths": {
            "keys": HARD_KEYS, "chord": "dominant-ninth", "inversion": "2", "shape": "broken", "rhythm": "sixteenths",
            "articulation": "double-tongue", **ALL_PRINTED,
        },
        "chords of a key": {
            "own_chords": True, "keys": "Gb B", "chord": "major-seventh", "rhythm": "triplets", "extent": "one",
            "articulation": "legato",
        },
        "diminished": {
            "keys": HARD_KEYS, "chord": "diminished-seventh", "articulation": "slur-two", "rhythm": "quarters",
        },
    },
    "changes": {
        "easy": {"keys": "C"},
        "repeats and no chord": {
            "from_file": str(OWN / "changes.txt"), "keys": "home", "fingerings": "every", "partial_numbers": True,
        },
        "swing in flats": {
            "keys": "Gb", "progression": "| Fm7b5 Bb7b9 | Ebm6/9 . . Ab7#11 | Dbmaj7/F | % |", "articulation": "swing",
            "tempo": "80", "high": "C6",
        },
        "fast swing": {"keys": "B", "progression": "| C7alt | Fmaj7#11 |", "articulation": "swing", "tempo": "240"},
        "sixteenths in three": {
            "keys": HARD_KEYS, "beats": "3", "progression": "|: Am7 D7 | Gmaj13 :|", "rhythm": "sixteenths",
            "articulation": "slur-two-tongue-two", "parts": "chord-tones,improvise",
        },
        "triplets in five": {
            "keys": "F#", "beats": "5", "progression": "| Cmaj7 Am7 | Dm7 . . G7 . |", "rhythm": "triplets",
            "rests": "half", "instrument": "cornet", "parts": "scales guide-tones",
        },
    },
    "vocabulary": {
        "easy": {"keys": "C"},
        "placed": {
            "keys": HARD_KEYS, "progression": "| Dm7 | G7 | Cmaj7 | % |", "phrase": "r/4 5/8t b3/8t 2/8t 1/8 b7/4.",
            **ALL_PRINTED,
        },
        "slurred in seven": {
            "keys": "Gb B", "beats": "7", "over": "7#11", "phrase": "3/8. 5/16 b7/4 9/8 #11/2. r/8 1/8",
            "articulation": "slurred",
        },
    },
    "etudes": {
        "easy": {"difficulty": "1", "low": "C4", "high": "C5", "bars": "8"},
        "hard keys in minor, with everything": {
            "keys": "Eb F#", "mode": "minor", "difficulty": "5", "style": "technical", "chords": True, "high": "C6",
            **ALL_PRINTED,
        },
        "seven eighths": {"metre": "7/8", "difficulty": "5", "keys": HARD_KEYS, "subject": "arpeggio"},
        "swing": {"style": "swing", "keys": "Gb", "tempo": "160", "difficulty": "4", "chords": True},
        "to be read at sight": {
            "sight_reading": True, "pieces": "3", "metre": "6/8", "difficulty": "4", "rests": "none",
        },
    },
    "range": {
        "easy": {},
        "scales with a reach": {
            "form": "scale", "keys": HARD_KEYS, "rhythm": "sixteenths", "articulation": "accented", "reach": "C6",
            "high": "Bb5", **ALL_PRINTED,
        },
        "arpeggios slurred": {
            "form": "arpeggio", "keys": "Gb B", "rhythm": "triplets", "articulation": "slurred", "reach": "Ab5",
        },
        "climb in fast swing": {"articulation": "swing", "tempo": "280", "high": "C6"},
    },
}  # fmt: skip

CASES = {f"{kind.name}, {name}": Asked(kind, texts) for kind in KINDS for name, texts in TEXTS[kind.name].items()}


def study_of(name: str) -> Study:
    """Return the study of a case."""
    return CASES[name].study()


def cases_with(wanted: str) -> list[str]:
    """Return the names of the cases in whose texts a word stands, as a setting or as its value."""
    return [name for name, request in CASES.items() if wanted in (*request.texts, *request.texts.values())]
