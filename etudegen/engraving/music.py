"""The music of a page as LilyPond text, its notes through abjad."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import cache
from typing import Any

import abjad

from etudegen.engraving import leaves
from etudegen.engraving.page import Measure, Page, Sign
from etudegen.engraving.text import quoted

# A line of more bars may be broken between pages.
_BARS_OF_A_LONG_LINE = 20
_BARLINES = {"double": "||", "final": "|."}
_KEYS = ("cf", "gf", "df", "af", "ef", "bf", "f", "c", "g", "d", "a", "e", "b", "fs", "cs")


def _before(*commands: str) -> Any:
    return abjad.LilyPondLiteral(list(commands), site="before")


def _after(*commands: str) -> Any:
    return abjad.LilyPondLiteral(list(commands), site="after")


def _leaf(sign: Sign) -> Any:
    if sign.pitch is None:
        rest = leaves.rest(sign.value)
        _attach_texts(sign, rest)
        return rest
    leaf = leaves.note(leaves.pitch(*sign.pitch), sign.value)
    # Said outright, so that reminders are printed where the score has them.
    if sign.shows_accidental:
        leaves.force_accidental(leaf)
    if sign.slash:
        abjad.attach(_before(r"\slash-beat"), leaf)
    if sign.bracket_starts:
        abjad.attach(_before(r"\ottava #-1"), leaf)
    if sign.bracket_stops:
        abjad.attach(_after(r"\ottava #0"), leaf)
    _attach_texts(sign, leaf)
    if sign.tied:
        abjad.attach(abjad.Tie(), leaf)
    if sign.slur_stops:
        abjad.attach(abjad.StopSlur(), leaf)
    if sign.slur_starts:
        abjad.attach(abjad.StartSlur(), leaf)
    if sign.beam:
        abjad.attach(abjad.StartBeam() if sign.beam == "[" else abjad.StopBeam(), leaf)
    for style, text, direction in (
        ("fingering-digits", sign.fingering, abjad.DOWN),
        ("tongue-syllable", sign.syllable, abjad.DOWN),
        ("partial-number", sign.partial_number, abjad.UP),
        ("remark", sign.remark, abjad.UP),
    ):
        if text:
            abjad.attach(abjad.Markup(rf"\markup \{style} {quoted(text)}"), leaf, direction=direction)
    if sign.bent:
        abjad.attach(abjad.Markup(r"\markup \bend-sign"), leaf, direction=abjad.UP)
    return leaf


def _attach_texts(sign: Sign, leaf: Any) -> None:
    """Attach what a note and a rest can have alike."""
    _attach_dynamics(sign, leaf)
    for mark in sign.marks:
        abjad.attach(abjad.Articulation(mark), leaf)
    for words, above in sign.words:
        side = abjad.UP if above else abjad.DOWN
        abjad.attach(abjad.Markup(rf"\markup \words {quoted(words)}"), leaf, direction=side)


def _attach_dynamics(sign: Sign, leaf: Any) -> None:
    """Attach dynamics, through silent skips beside the note where one falls inside it."""
    # In one piece with the breath, which must come last: abjad puts several into the order of the alphabet.
    breath = [r"\breathe"] if sign.breath else []
    if all(at == 0 for at, _ in sign.dynamics):
        if sign.dynamics or breath:
            abjad.attach(_after(*(rf"\{command}" for _, command in sign.dynamics), *breath), leaf)
        return
    moments = sorted({at for at, _ in sign.dynamics})
    skips = [] if moments[0] == 0 else [f"s1*{moments[0]}"]
    for at, following in zip(moments, [*moments[1:], sign.value], strict=True):
        commands = " ".join(rf"\{command}" for when, command in sign.dynamics if when == at)
        skips.append(f"s1*{following - at} {commands}" if following > at else f"<> {commands}")
    abjad.attach(_before("<< {"), leaf)
    abjad.attach(_after("} { " + " ".join(skips) + " } >>", *breath), leaf)


def _groups(signs: Iterable[Sign]) -> Iterator[tuple[Sign, ...]]:
    """Yield the signs one by one, those of a tuplet together, and the grace notes before one."""
    group: list[Sign] = []
    for sign in signs:
        if group and group[-1].grace and not sign.grace and not any(each.tuplet for each in group):
            yield tuple(group)
            group = []
        group.append(sign)
        if not sign.grace and (sign.tuplet is None or sign.tuplet.stops):
            yield tuple(group)
            group = []
    if group:
        yield tuple(group)


def _graces(signs: Sequence[Sign]) -> str:
    inside = "\n".join(abjad.lilypond(_leaf(sign)) for sign in signs)
    return f"\\{'slashedGrace' if signs[0].grace == 'slashed' else 'grace'} {{\n{inside}\n}}"


def _leaves_with_graces(signs: Sequence[Sign]) -> Iterator[Any]:
    """Yield the leaves of a tuplet, each with the grace notes before it."""
    graces: list[Sign] = []
    for sign in signs:
        if sign.grace:
            graces.append(sign)
            continue
        leaf = _leaf(sign)
        if graces:
            abjad.attach(_before(_graces(graces)), leaf)
            graces = []
        yield leaf


@cache
def _group_text(signs: tuple[Sign, ...]) -> str:
    """Return one sign, a tuplet, or grace notes as text; in exercises the same ones come again and again."""
    tuplet = signs[0].tuplet
    if signs[0].grace:
        return _graces(signs)
    if tuplet is None:
        (component,) = map(_leaf, signs)
    else:
        component = abjad.Tuplet(f"{tuplet.actual}:{tuplet.normal}", list(_leaves_with_graces(signs)))
        if not tuplet.bracket:
            abjad.attach(_before(r"\once \omit TupletBracket"), component[0])
    text: str = abjad.lilypond(component)
    return text


def _opening(measure: Measure) -> list[str]:
    """Return what changes at the start of a measure, in the order in which LilyPond wants it."""
    commands = []
    if measure.repeat_starts:
        commands.append(r'\bar ".|:"')
    if measure.ending:
        commands.append(rf"\ending {quoted(measure.ending)}")
    if measure.rehearsal:
        commands.append(rf"\mark \markup \box {quoted(measure.rehearsal)}")
    if measure.label:
        commands.append(rf"\line-label {quoted(measure.label)}")
    if measure.heading:
        commands.append(rf"\stage-heading {quoted(measure.heading)}")
    if measure.clef:
        commands.append(rf"\clef {quoted(measure.clef)}")
    if measure.sharps is not None:
        commands.append(rf"\key {_KEYS[measure.sharps + 7]} \major")
    if measure.metre is not None:
        commands.append(r"\time {}/{}".format(*measure.metre))
    if measure.tempo is not None:
        commands.append(rf"\swing-tempo #{measure.tempo}" if measure.swing else rf"\tempo 4 = {measure.tempo}")
    return commands


def _measure_text(measure: Measure, metre: tuple[int, int]) -> str:
    length = measure.length(metre)
    irregular = not measure.rest_bars and length != Fraction(*metre)
    if measure.rest_bars:
        count = f"*{measure.rest_bars}" if measure.rest_bars > 1 else ""
        whole = f"R1*{metre[0]}/{metre[1]}" if metre != (4, 4) else "R1"
        body = whole + count
    else:
        body = "\n".join(["{", *map(_group_text, _groups(measure.signs)), "}"])
    parts = [*_opening(measure), body]
    if irregular:
        parts.insert(-1, rf"\bar-of #{length}")
        parts.append(rf"\bar-of #{Fraction(*metre)}")
    if measure.times:
        parts.append(rf"\times-played {quoted(measure.times)}")
    if measure.repeat_ends:
        parts.append(r'\bar ":|."')
    elif measure.barline:
        parts.append(rf'\bar "{_BARLINES[measure.barline]}"')
    return "\n".join(parts)


def _is_divided(measure: Measure) -> bool:
    """Tell whether a bar is all in beamed tuplets, whose numbers need not be said again."""
    return any(sign.tuplet for sign in measure.signs) and not any(
        sign.tuplet is None or sign.tuplet.bracket for sign in measure.signs
    )


def _lines(measures: Iterable[Measure]) -> Iterator[list[Measure]]:
    """Yield the measures of each line or phrase that begins on a system of its own.

    A second ending is too short for one: it may follow the first.
    """
    line: list[Measure] = []
    for measure in measures:
        if (measure.new_system or (measure.new_phrase and not measure.ending)) and line:
            yield line
            line = []
        line.append(measure)
    yield line


def _inside(line: Sequence[Measure], place: int) -> Iterator[str]:
    """Yield what stands before a bar of a line that is not its first."""
    long = len(line) > _BARS_OF_A_LONG_LINE
    yield rf"\inside{'-long' if long else ''}-{'pair' if place % 2 else 'line'}"
    if place == 1 and line[0].label:
        # Where a line runs on to a second system, the label would look like that of a new line; on another page
        # it is wanted.
        yield rf"\going-on {quoted(line[0].label)}" if long else r"\no-label"


def music(page: Page) -> Iterator[str]:
    """Yield the music of a page, bar by bar; every line begins a system, and LilyPond breaks those that need more."""
    metre = (4, 4)
    before: Measure | None = None
    headed = False
    for line in _lines(page.measures):
        under_heading = headed and not line[0].heading
        headed = bool(line[0].heading)
        for place, measure in enumerate(line):
            metre = measure.metre or metre
            if place:
                yield from _inside(line, place)
            elif before is not None:
                yield _break(measure, under_heading=under_heading)
            if line[0].label and _is_divided(line[0]) and place in (0, 1):
                yield r"\tuplet-numbers-off" if place else r"\tuplet-numbers-on"
            yield _following(before, _measure_text(measure, metre))
            before = measure
    if before is not None and before.ending_stops:
        yield r"\end-of-ending"


def _break(measure: Measure, *, under_heading: bool) -> str:
    """Return the command that begins a line or phrase."""
    if measure.new_phrase:
        return r"\phrase-break"
    return r"\line-under-heading" if under_heading else r"\break"


def _following(before: Measure | None, text: str) -> str:
    """Return a measure's text with what hangs on the measure before: signs of two at one place are one command."""
    if before is not None and before.repeat_ends:
        text = text.replace(r'\bar ".|:"', r'\bar ":..:"', 1)
    if before is not None and before.ending_stops:
        text = text.replace(r"\ending ", r"\next-ending ", 1) if r"\ending " in text else f"\\end-of-ending\n{text}"
    return text
