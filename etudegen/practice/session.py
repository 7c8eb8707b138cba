"""A session of one day: the plan, the studies that fill its blocks, and what its plan page says."""

import datetime
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from etudegen.exercises.kinds import kind_named, practice_of
from etudegen.practice import rules
from etudegen.practice.entries import KeptBlock
from etudegen.practice.filling import Filled, NothingFitsError, fill, fill_as_asked
from etudegen.practice.items import Item, said
from etudegen.practice.own_material import OwnTune, todays_changes, todays_etude, todays_tune
from etudegen.practice.plan import Block, Plan, make_plan
from etudegen.practice.pools import Today
from etudegen.practice.profile import Aim, Profile
from etudegen.practice.routines import Routine
from etudegen.practice.rules import Manner, Part
from etudegen.practice.spacing import History, days_off
from etudegen.study import Study

_POINTS = {
    "repertoire": (
        "Choose one piece, or one passage of it, and say before you start what is to be better at the end.",
        "Slowly and right first; then at the tempo; then once through as on stage, without stopping.",
        "Breathe where the music does, and put the instrument down between the times through.",
    ),
    "transpose": (
        "Choose a tune that you know by heart, and one key for each few minutes.",
        "Sing the tonic, then play: by ear first, slowly and right; look at nothing.",
        "Put the instrument down between the keys, and hear the next one before you play it.",
    ),
    "improvising": (
        "Choose a tune or a progression and one key for today.",
        "Sing a line, then play it. Then leave every second chorus empty and hear it go on.",
        "Guide tones first: thirds and sevenths, by the smallest step; then the line around them.",
    ),
    "writing-down": (
        "Listen to one chorus or one phrase until you can sing it.",
        "Play it by ear, phrase by phrase; then write down four bars of it.",
        "Say in a word what makes it good: time, sound, or choice of notes.",
        "What to listen to may be today's changes or tune as well: etudegen play-along makes them sound.",
    ),
}
# How music is played where it is not worked on as one piece.
_POINTS_BY_MANNER = {
    Manner.THROUGH: (
        "Play through what you know, from beginning to end, as on stage: no stopping, no going back.",
        "Put the instrument down between two pieces for about as long as the first one lasted.",
        "Then say what was best, and which one place to mend; mend it, and play that piece through again.",
    ),
    Manner.EXCERPTS: (
        "Choose short passages, and say before each one tempo, style and first note.",
        "One time, as if it counted. Then listen inside: what was it like? Then work on one thing of it.",
        "Take them in another order at the end: each comes out of nothing, as it will.",
    ),
    Manner.SIGHT_READING: (
        "Something that you have never played: look at key, metre, the hardest bar and the end, then begin.",
        "Go on whatever happens: the beat is what you keep.",
    ),
}
_HEARD = "To hear them while you play: etudegen play-along, with the MusicXML file beside this book."
_POINTS_OF_A_TUNE = (
    "Sing the tonic, then play: slowly and right first, then at the tempo, then from memory.",
    "Breathe where the music does, and put the instrument down between the keys.",
    "To hear it first: etudegen play-along, with the MusicXML file beside this book.",
)
# After a rest a card goes on.
_POINTS_CONTINUED = {
    "repertoire": (
        "The same piece: first the places that are not right yet, slowly, then at the tempo.",
        "At the end once through as on stage.",
    ),
    "improvising": (
        "The same tune in the same key: leave every second chorus empty, hear it go on, and answer it in the next.",
    ),
    "transpose": (
        "The same tune in the keys that have not been played yet.",
        "At the end once more in the key that was hardest.",
    ),
    "writing-down": ("The same chorus: play it by ear once more, then write down the next four bars.",),
}
# The same for music that is not worked on as one piece.
_POINTS_CONTINUED_BY_MANNER = {
    Manner.THROUGH: (
        "Go on playing through what you know: the next pieces, each from beginning to end.",
        "At the end once more through the place that you wanted to mend.",
    ),
    Manner.EXCERPTS: (
        "The next passages: one time as if it counted, then work on one thing of it.",
        "At the end all of today's, in another order.",
    ),
    Manner.SIGHT_READING: (
        "Something else that you have never played: look at it first, then go on whatever happens.",
    ),
}
# A session with time for two pieces.
_POINTS_OF_A_SECOND = {
    "repertoire": (
        "Another piece than before, one that you know.",
        "Play it through as on stage, without stopping; then say what was best, and what was not.",
        "Mend one such place, and play it through again.",
    ),
}
_POINTS_OF_AN_ETUDE = (
    "Sing it through, or finger it; then once slowly, without stopping, to know where it goes.",
    "Then its phrases one by one, and the place that is highest; put the instrument down between them.",
    "At the end once through as on stage. Bring a piece of your own as well, if you have one.",
)
_POINTS_AT_SIGHT = (
    "Before each: key, metre, the hardest bar and the end. Then once through at an even beat, whatever happens.",
)
# What stands for a tune's own key among keys.
_HOME = "home"
# How far the pools turn on when a kind comes twice in a session.
_STEP_ON = 5
# How often a session is planned anew where the range gives too little music for a block.
_MOST_PLANS = 8
_LEVELS = (85, 94, 100)


@dataclass(frozen=True, slots=True)
class Session:
    """A session made for a player and a day.

    By their places among the blocks: what ``filled`` has for exercises, the ``tunes`` for repertoire, if the player has
    any, the ``changes`` for improvising, and the ``etudes`` where there is no tune, or at sight.
    """

    profile: Profile
    day: datetime.date
    plan: Plan
    filled: Mapping[int, Filled]
    tunes: Mapping[int, OwnTune]
    changes: Mapping[int, Study]
    etudes: Mapping[int, Study]

    @property
    def sheets(self) -> Mapping[int, Study]:
        """What is printed for blocks of music, by their places: changes and etudes."""
        return {**self.changes, **self.etudes}

    @property
    def items(self) -> tuple[Item, ...]:
        """Everything that is practised in it."""
        return tuple(dict.fromkeys(item for items in self.blocks_with_items for item in items))

    @property
    def kept_blocks(self) -> tuple[KeptBlock, ...]:
        """Its blocks as the journal keeps them."""
        return tuple(
            KeptBlock(str(block.part), block.kind, block.minutes, items)
            for block, items in zip(self.plan.blocks, self.blocks_with_items, strict=True)
        )

    @property
    def blocks_with_items(self) -> list[tuple[Item, ...]]:
        """What each block, rests included, has in it, by its place."""
        return [
            self.filled[place].items if place in self.filled else _card_items(block)
            for place, block in enumerate(self.plan.blocks)
        ]


def _card_items(block: Block) -> tuple[Item, ...]:
    return () if block.part is Part.REST else (Item(block.kind),)


def make_session(
    profile: Profile,
    day: datetime.date,
    minutes: int,
    aim: Aim | Mapping[Aim, int] | None = None,
    routine: Routine | None = None,
    history: History[Item] | None = None,
    *,
    with_rests: bool = False,
) -> Session:
    """Make a session of exactly so many minutes; what comes up depends on the day and on what was before."""
    known: History[Item] = history or History()
    profile = _as_of(profile, day, known)

    def planned(most: Mapping[str, int], missing: frozenset[str]) -> Plan:
        number = day.toordinal()
        return make_plan(profile, minutes, aim, routine, day=number, with_rests=with_rests, most=most, missing=missing)

    plan, filled = _planned_and_filled(planned, profile, day, known)
    tunes: dict[int, OwnTune] = {}
    changes: dict[int, Study] = {}
    etudes: dict[int, Study] = {}
    for place, block in enumerate(plan.blocks):
        at_sight = block.settings.get("manner") is Manner.SIGHT_READING
        if block.kind in ("repertoire", "transpose") and not block.continued and not at_sight:
            tune = todays_tune(profile, day.toordinal(), block, len(tunes))
            tunes |= {place: tune} if tune else {}
        if block.kind == "repertoire" and not block.continued and place not in tunes and _wants_an_etude(block):
            made = todays_etude(profile, day.toordinal(), len(etudes), block, known.tempo(Item(block.kind)))
            etudes |= {place: made} if made else {}
        if block.kind == "improvising" and not block.continued:
            sheet = todays_changes(profile, day.toordinal(), len(changes), block, known.tempo(Item(block.kind)))
            changes |= {place: sheet} if sheet else {}
    return Session(profile, day, plan, filled, tunes, changes, etudes)


def _wants_an_etude(block: Block) -> bool:
    # Excerpts are of pieces that one has, and what one plays through one knows.
    return block.settings.get("manner", Manner.PIECE) in (Manner.PIECE, Manner.SIGHT_READING)


def _planned_and_filled(
    planned: Callable[[Mapping[str, int], frozenset[str]], Plan],
    profile: Profile,
    day: datetime.date,
    known: History[Item],
) -> tuple[Plan, dict[int, Filled]]:
    """Return a plan and what its blocks are filled with; it is made anew where the range gives too little music.

    ``planned`` makes one with so many minutes of some materials at most, and without others.
    """
    most: dict[str, int] = {}
    missing: frozenset[str] = frozenset()
    told: list[str] = []
    for turn in range(_MOST_PLANS):
        plan = planned(most, missing)
        try:
            filled = _filled(plan, profile, day, known)
        except NothingFitsError as error:
            if not error.block.material or error.block.material in missing or turn + 1 == _MOST_PLANS:
                raise
            missing |= {error.block.material}
            continue
        lacking = {begins: _minutes_had(pieces) for begins, pieces in _blocks(filled) if any(e.lacks for e in pieces)}
        fresh = {begins: had for begins, had in lacking.items() if plan.blocks[begins].material not in most}
        told += [_too_narrow(plan, begins, had) for begins, had in fresh.items()]
        most |= {plan.blocks[begins].material: had for begins, had in fresh.items()}
        if not any(plan.blocks[begins].material for begins in fresh):
            break
    return replace(plan, remarks=(*plan.remarks, *dict.fromkeys(told))), filled


def _filled(plan: Plan, profile: Profile, day: datetime.date, known: History[Item]) -> dict[int, Filled]:
    """Return what the blocks of a plan that are exercises are filled with, by their places."""
    filled: dict[int, Filled] = {}
    begun: list[Block] = []
    for place, block in enumerate(plan.blocks):
        if block.part is Part.REST or block.kind in rules.OWN_MATERIAL or block.continued:
            continue
        pieces = _pieces(plan, place)
        if practice_of(block.kind) is None:
            # A kind that is made of the player's own material, with all that was said of it.
            filled |= {each: fill_as_asked(plan.blocks[each], profile) for each in pieces}
            continue
        # A second block of a kind begins with something else than the first.
        again = sum(before.kind == block.kind for before in begun)
        begun.append(block)
        today = Today(day.toordinal() + _STEP_ON * again, known)
        made = fill([plan.blocks[each] for each in pieces], profile, today)
        filled |= dict(zip(pieces, made, strict=True))
        known = replace(known, had={**known.had, **{item: known.days for each in made for item in each.items}})
    return filled


def _blocks(filled: Mapping[int, Filled]) -> Iterator[tuple[int, list[Filled]]]:
    """Yield what was filled block by block, the pieces of one together, with the place where it begins."""
    begins, pieces = -1, list[Filled]()
    for place, each in filled.items():
        if not each.block.continued and pieces:
            yield begins, pieces
            pieces = []
        begins = begins if pieces else place
        pieces.append(each)
    if pieces:
        yield begins, pieces


def _minutes_had(pieces: Sequence[Filled]) -> int:
    """Return for how many minutes of a block there is music."""
    return sum(each.block.minutes for each in pieces) - round(sum(each.lacks for each in pieces) / 60)


def _too_narrow(plan: Plan, begins: int, had: int) -> str:
    block = plan.blocks[begins]
    then = "the others go to other blocks" if block.material else "the others are rest"
    return f"{kind_name(block.kind).capitalize()}: within this range there is music for {had} minutes, {then}."


def _pieces(plan: Plan, place: int) -> list[int]:
    """Return the places of the pieces of a block that begins at a place."""
    pieces = [place]
    for after in range(place + 1, len(plan.blocks)):
        block = plan.blocks[after]
        if block.part is Part.REST:
            continue
        if not (block.continued and block.kind == plan.blocks[place].kind):
            break
        pieces.append(after)
    return pieces


def _as_of(profile: Profile, day: datetime.date, history: History[Item]) -> Profile:
    """Return a player as of a day: since when there was no playing is what the journal or the profile knows last."""
    practised = sorted({*history.practised, *([profile.last_played] if profile.last_played else [])})
    off = days_off(day, [each for each in practised if each < day], rules.WEEKS_OFF)
    return profile if off is None else replace(profile, days_since_played=off)


def kind_name(kind: str) -> str:
    """Return a kind of exercise or card as a page names it, such as ``lip slurs``."""
    return kind if practice_of(kind) is None else kind_named(kind).exercise.page_name


def block_name(block: Block) -> str:
    """Return a block as a page names it, such as ``warm-up: long tones``."""
    if block.part is Part.REST:
        return "rest"
    return f"{block.part}: {kind_name(block.kind)}"


def _signs(names: str) -> str:
    return names.replace("#", "♯").replace("b", "♭")


def clock(minutes: int) -> str:
    """Return elapsed minutes as hours and minutes, such as ``1:05``."""
    return f"{minutes // 60}:{minutes % 60:02d}"


def card_points(session: Session, place: int) -> tuple[str, ...]:
    """Return what a card for the player's own material, at a place among the blocks, tells to aim for."""
    block = session.plan.blocks[place]
    manner = block.settings.get("manner", Manner.PIECE)
    if block.continued:
        return _POINTS_CONTINUED_BY_MANNER.get(manner, _POINTS_CONTINUED[block.kind])
    if place in session.tunes:
        return _POINTS_OF_A_TUNE
    if place in session.changes:
        return (*_POINTS["improvising"][1:], _HEARD)
    if place in session.etudes:
        return _POINTS_AT_SIGHT if manner is Manner.SIGHT_READING else _POINTS_OF_AN_ETUDE
    if manner in _POINTS_BY_MANNER:
        return _POINTS_BY_MANNER[manner]
    second = any(before.kind == block.kind for before in session.plan.blocks[:place])
    return _POINTS_OF_A_SECOND.get(block.kind, _POINTS[block.kind]) if second else _POINTS[block.kind]


def has_music(session: Session, place: int) -> bool:
    """Tell whether there is music for a block at a place, or for the one that it goes on with."""
    begins = next(_begun(session.plan, place), place) if session.plan.blocks[place].continued else place
    return begins in session.tunes or begins in session.sheets


def _etude_told(etude: Study) -> str:
    """Return an etude as a plan tells it, such as ``waltz in B♭ major``; several by their number."""
    name = f"{etude.title[:1].lower()}{etude.title[1:]}"
    if len(etude.lines) > 1:
        return f"{name}, {len(etude.lines)} pieces"
    return f"{name} in {etude.lines[0].label} {etude.lines[0].mode}"


def _begun(plan: Plan, place: int) -> Iterator[int]:
    """Yield where the block began that goes on at a place."""
    for before in range(place - 1, -1, -1):
        block = plan.blocks[before]
        if block.kind == plan.blocks[place].kind and not block.continued:
            yield before
            return


def reasons(plan: Plan) -> list[str]:
    """Return why each block is there, as a plan tells it: the reason for resting once."""
    said: set[str] = set()
    told = []
    for block in plan.blocks:
        told.append("" if block.part is Part.REST and block.why in said else block.why)
        said.add(block.why)
    return told


def today(session: Session, place: int) -> str:
    """Return what a block at a place has today, as a plan tells it: keys or positions, and tempi."""
    if place in session.tunes:
        tune = session.tunes[place]
        keys = "its own key" if tune.keys == (_HOME,) else _signs(" ".join(tune.keys))
        return f"{tune.name} in {keys}"
    studies = session.filled[place].studies if place in session.filled else ()
    studies = (session.sheets[place],) if place in session.sheets else studies
    told = said(session.blocks_with_items[place], shortly=True)
    if place in session.changes:
        told = f"changes in {session.changes[place].lines[0].label}"
    if place in session.etudes:
        told = _etude_told(session.etudes[place])
    tempi = [study.tempo for study in studies]
    tempi += [each.tempo for study in studies for line in study.lines for each in line.measures if each.tempo]
    if not tempi:
        return told
    slow, fast = min(tempi), max(tempi)
    # Without a break between the word and the number.
    at = f"tempo\u00a0{slow}" if slow == fast else f"tempo\u00a0{slow}\u00a0to\u00a0{fast}"
    return f"{told} · {at}" if told else at


def minutes_told(session: Session) -> str:
    """Return how many minutes of a session are for playing and how many for rest, as a plan sums them up."""
    resting = sum(block.minutes for block in session.plan.blocks if block.part is Part.REST)
    seconds = sum(study.resting_seconds for filled in session.filled.values() for study in filled.studies)
    printed = round(seconds / 60)
    within = f", {printed} of them rests within the studies" if printed else ""
    return f"Playing {session.plan.minutes - resting} minutes{within}; resting {resting} between the blocks."


def remarks(session: Session, level: float | None = None) -> tuple[str, ...]:
    """Return what the plan page says under the blocks: the teacher's notes, and the cautions once for the book."""
    allowed = ", ".join(f"{each} dBA {_minutes(rules.noise_minutes(each))}" for each in _LEVELS)
    told = [minutes_told(session)]
    if session.profile.notes.strip():
        told.append(f"Notes: {session.profile.notes.strip()}")
    if session.plan.remarks:
        told.append(" ".join(session.plan.remarks))
    if any(block.kind == "repertoire" for block in session.plan.blocks) and not session.tunes:
        told.append(
            "Music of your own is better than any that is made for you: a tune that is in the profile (--tune FILE) is "
            "printed here."
        )
    if session.plan.returning:
        told.append(
            f"In the first week after {session.profile.days_since_played} days off: lower, easier and with more rest "
            "than usual; nothing strenuous. Add to it day by day."
        )
    now = "" if level is None else f" At {level:g} dBA that is {_minutes(rules.noise_minutes(level))} a day."
    told += [
        "Rest with the instrument down: at least five minutes after twenty-five of playing, ten in the hour, more when "
        "it is strenuous (G. Klickstein, Taking Breaks, 2011).",
        "Stop at pain, numbness, swelling or loss of control; never numb the lips. If it does not pass, see a teacher, "
        "and a clinician who treats musicians. This plan advises; it does not treat.",
        f"Hearing: as a guide, the time a day that NIOSH recommends as a limit at work: {allowed}. Practice rooms are "
        f"often louder than they seem; wear protection.{now}",
    ]
    return tuple(told)


def _minutes(minutes: float) -> str:
    if minutes >= 60:
        hours = minutes / 60
        return f"{hours:.1f} h" if hours % 1 else f"{hours:.0f} h"
    return f"{minutes:.0f} min" if minutes >= 10 else f"{minutes:.1f} min"
