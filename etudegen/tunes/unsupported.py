"""What a sheet of one melody cannot keep of a score, told bar by bar."""

from collections.abc import Iterator
from xml.etree.ElementTree import Element

from etudegen.notation.own_marks import OCTAVE_DOWN
from etudegen.tunes.one_voice import bar_name
from etudegen.tunes.safe_xml import short

_MOST_SENTENCES = 40
_MOST_BARS = 6

# Signs that hang in these elements: those that are kept, and what the others are called.
_KEPT = {
    "notations": {"tied", "tuplet", "slur", "fermata", "dynamics", "articulations", "ornaments", "technical"},
    "articulations": {"staccato", "staccatissimo", "tenuto", "accent", "strong-accent", "breath-mark"},
    "ornaments": set[str](),
    # Fingerings are put in anew.
    "technical": {"brass-bend", "fingering"},
    "direction-type": {"dynamics", "wedge", "words", "rehearsal", "metronome", "octave-shift"},
}
# They tell about the lines of a file or what another sign looks like, not about the music.
_SILENT = {"footnote", "level", "accidental-mark"}
_CALLED = {
    "accordion-registration": "an accordion registration",
    "arpeggiate": "an arpeggio",
    "arrow": "an arrow",
    "bend": "a bend",
    "bracket": "a bracket",
    "caesura": "a caesura",
    "coda": "a coda",
    "damp": "a damping mark",
    "damp-all": "a damping mark",
    "dashes": "a dashed line",
    "delayed-inverted-turn": "a turn",
    "delayed-turn": "a turn",
    "detached-legato": "a detached legato",
    "doit": "a doit",
    "double-tongue": "a double-tonguing mark",
    "down-bow": "a bowing",
    "eyeglasses": "a pair of eyeglasses",
    "falloff": "a fall-off",
    "flip": "a flip",
    "glissando": "a glissando",
    "golpe": "a golpe",
    "half-muted": "a half-muted note",
    "harmon-mute": "a mute position",
    "harmonic": "a harmonic",
    "harp-pedals": "a harp pedalling",
    "haydn": "a Haydn ornament",
    "hole": "a fingering of holes",
    "image": "a picture",
    "inverted-mordent": "an inverted mordent",
    "inverted-turn": "an inverted turn",
    "inverted-vertical-turn": "a turn",
    "mordent": "a mordent",
    "non-arpeggiate": "a sign against arpeggio",
    "octave-shift": "an octave sign",
    "open": "an open note",
    "open-string": "an open string",
    "other-articulation": "an articulation of its own",
    "other-direction": "a direction of its own",
    "other-notation": "a sign of its own",
    "other-ornament": "an ornament of its own",
    "other-technical": "a playing technique of its own",
    "pedal": "a pedal mark",
    "percussion": "a percussion sign",
    "plop": "a plop",
    "principal-voice": "a mark of the principal voice",
    "schleifer": "a schleifer",
    "scoop": "a scoop",
    "scordatura": "a scordatura",
    "segno": "a segno",
    "shake": "a shake",
    "slide": "a slide",
    "smear": "a smear",
    "soft-accent": "a soft accent",
    "spiccato": "a spiccato",
    "staff-divide": "a division of the staff",
    "stopped": "a stopped note",
    "stress": "a stress mark",
    "string-mute": "a mute instruction",
    "symbol": "a symbol",
    "tremolo": "a tremolo",
    "trill-mark": "a trill",
    "triple-tongue": "a triple-tonguing mark",
    "turn": "a turn",
    "unstress": "an unstressed mark",
    "up-bow": "a bowing",
    "vertical-turn": "a turn",
    "wavy-line": "a wavy line",
}
# Elements that matter wherever they stand, and attributes of ``sound``.
_ANYWHERE = {
    "figured-bass": "a figured bass",
    "measure-repeat": "a bar-repeat sign",
    "beat-repeat": "a beat-repeat sign",
    "slash": "slash notation",
    "senza-misura": "a passage without metre",
    "staff-tuning": "a scordatura",
}
_JUMPS = {
    "dacapo": "a da capo",
    "dalsegno": "a dal segno",
    "segno": "a segno",
    "coda": "a coda",
    "tocoda": "a jump to the coda",
    "fine": "a fine",
}


def unsupported(root: Element) -> tuple[str, ...]:
    """Return a sentence for each kind of sign that a melody sheet cannot keep, with its bars; few of many kinds."""
    found: dict[str, dict[str, None]] = {}
    for bar in root.iterfind("part/measure"):
        for sign in _signs(bar):
            found.setdefault(sign, {})[bar_name(bar).removeprefix("bar ")] = None
    sentences = [f"{sign} in {_bars(list(bars))}" for sign, bars in found.items()]
    more = len(sentences) - _MOST_SENTENCES
    if more > 0:
        sentences[_MOST_SENTENCES:] = [f"and {more} more kind{'s' if more > 1 else ''}"]
    return tuple(sentences)


def _signs(bar: Element) -> Iterator[str]:
    for element in bar.iter():
        if element.tag in _ANYWHERE:
            yield _ANYWHERE[element.tag]
        elif element.tag == "sound":
            yield from (_JUMPS[attribute] for attribute in element.attrib if attribute in _JUMPS)
        elif element.tag == "swing" and (element.findtext("swing-type") or "eighth").strip() != "eighth":
            yield "a swing of other notes than eighths"
        elif element.tag == "octave-shift" and element.get("type") in ("up", "down"):
            if (element.get("type"), element.get("size", "8")) != OCTAVE_DOWN:
                yield _CALLED["octave-shift"]
        elif element.tag == "notehead" and (element.text or "normal").strip() not in ("normal", "slash"):
            yield "a special notehead"
        elif element.tag == "alter" and float(element.text or 0) % 1:
            yield "a microtone"
        elif element.tag in _KEPT:
            kept = _KEPT[element.tag] | _SILENT
            # The end of a line is no second sign.
            lost = (
                sign.tag for sign in element if sign.tag not in kept and sign.get("type") not in ("stop", "continue")
            )
            yield from (_CALLED.get(tag, f"the sign {short(tag)!r}") for tag in lost)


def _bars(bars: list[str]) -> str:
    if len(bars) == 1:
        return f"bar {bars[0]}"
    if len(bars) > _MOST_BARS:
        return f"bars {', '.join(bars[:_MOST_BARS])} and {len(bars) - _MOST_BARS} more"
    return f"bars {', '.join(bars[:-1])} and {bars[-1]}"
