"""The rows over and under a staff, as LilyPond text: chord symbols, and the words of a tune."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from etudegen.engraving.page import ChordName, Measure, Sign
from etudegen.engraving.text import quoted


def _symbol(chord: ChordName) -> str:
    # The letter m for minor stands on the line, what follows it is raised.
    minor = "m" if chord.suffix.startswith("m") and not chord.suffix.startswith("maj") else ""
    raised = chord.suffix.removeprefix(minor).replace("b", "♭").replace("#", "♯")
    texts = (chord.root + minor, raised, f"/{chord.bass}" if chord.bass else "")
    return rf"^\markup \chord-symbol {' '.join(map(quoted, texts))}"


def _bar(measure: Measure, length: Fraction) -> str:
    ends = [*(chord.at for chord in measure.chords), length]
    skips = [f"s1*{ends[0]}"] if ends[0] else []
    for chord, following in zip(measure.chords, ends[1:], strict=True):
        skips.append(f"s1*{following - chord.at}{_symbol(chord)}")
    return " ".join(skips)


def chord_row(measures: Sequence[Measure]) -> str:
    """Return the row of chord symbols over measures: silent skips that carry them; empty where there are none."""
    if not any(measure.chords for measure in measures):
        return ""
    metre = (4, 4)
    bars = []
    for measure in measures:
        metre = measure.metre or metre
        bars.append(_bar(measure, measure.length(metre)))
    return "\n".join(bars)


def _sung(signs: Sequence[Sign], verse: int) -> Iterator[str]:
    for sign in signs:
        if not sign.length:
            continue
        syllable = dict(sign.sung).get(verse)
        if syllable is None:
            yield rf"\skip1*{sign.length}"
        else:
            yield f"{quoted(syllable.text)}1*{sign.length}{' --' if syllable.hyphen else ''}"


def lyric_rows(measures: Sequence[Measure]) -> Iterator[str]:
    """Yield the row of each verse, its syllables as long as their notes."""
    verses = sorted({verse for measure in measures for sign in measure.signs for verse, _ in sign.sung})
    for verse in verses:
        metre = (4, 4)
        bars = []
        for measure in measures:
            metre = measure.metre or metre
            row = [rf"\skip1*{measure.length(metre)}"] if measure.rest_bars else _sung(measure.signs, verse)
            bars.append(" ".join(row))
        yield "\n".join(bars)
