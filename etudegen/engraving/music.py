"""The music of a page as LilyPond text, its notes through abjad."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import cache
from typing import Any

from etudegen.engraving import leaves
from etudegen.engraving.lean_abjad import abjad
from etudegen.engraving.page import Measure, Page, Sign
from etudegen.engraving.systems import broken_lines, most_systems
from etudegen.engraving.text import quoted

# A line of more systems may be broken between pages.
_SYSTEMS_KEPT_ON_A_PAGE = 5
_SYSTEMS_UNDER_A_HEADING = 2
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
    if measure.new_system:
        commands.append(r"\break")
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


def _kept(lines: Sequence[tuple[list[Measure], set[int]]], most: int) -> Iterator[bool]:
    """Yield for each line or phrase whether all of what it belongs to is kept on one page."""
    systems = [0]
    members: list[int] = []
    for line, wanted in lines:
        if not line[0].new_phrase:
            systems.append(0)
        systems[-1] += 1 + len(wanted)
        members.append(len(systems) - 1)
    return (systems[member] < most for member in members)


def music(page: Page) -> Iterator[str]:
    """Yield the music of a page, bar by bar."""
    metre = (4, 4)
    before: Measure | None = None
    lines = list(broken_lines(page))
    headed = False
    for (line, wanted), kept in zip(lines, _kept(lines, most_systems(page)), strict=True):
        whole = len(wanted) < _SYSTEMS_KEPT_ON_A_PAGE
        if headed and len(wanted) < _SYSTEMS_UNDER_A_HEADING and not line[0].heading:
            # A heading with a single line under it looks lost at the foot of a page.
            yield r"\noPageBreak"
        headed = bool(line[0].heading) and len(wanted) < _SYSTEMS_UNDER_A_HEADING
        for place, measure in enumerate(line):
            metre = measure.metre or metre
            if place and whole:
                # Nobody turns a page within a line. LilyPond fails where it may neither break a page nor keep a line
                # on one, so it is told as well where this line is broken into systems.
                yield r"\break \noPageBreak" if place in wanted else r"\noBreak"
            elif place in wanted:
                yield r"\break"
            if place == 1 and line[0].label:
                # Where a line runs on to a second system, the label would look like that of a new line; on another page
                # it is wanted.
                yield r"\no-label" if whole else rf"\going-on {quoted(line[0].label)}"
            if line[0].label and _is_divided(line[0]) and place in (0, 1):
                yield r"\tuplet-numbers-off" if place else r"\tuplet-numbers-on"
            if measure.new_phrase:
                yield r"\phrase-break" if kept else r"\break"
            yield _following(before, _measure_text(measure, metre))
            before = measure
    if before is not None and before.ending_stops:
        yield r"\end-of-ending"


def _following(before: Measure | None, text: str) -> str:
    """Return a measure's text with what hangs on the measure before: signs of two at one place are one command."""
    if before is not None and before.repeat_ends:
        text = text.replace(r'\bar ".|:"', r'\bar ":..:"', 1)
    if before is not None and before.ending_stops:
        text = text.replace(r"\ending ", r"\next-ending ", 1) if r"\ending " in text else f"\\end-of-ending\n{text}"
    return text
