"""Files that nobody should be able to do harm with, made in a folder when a test needs them.

The attacks are those of public record: entity expansion and external entities (OWASP "XML External Entity Prevention
Cheat Sheet"; CWE-776, CWE-611), decompression bombs (CWE-409), path traversal in archives (CWE-22).
"""

import os
import struct
import zipfile
import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

SECRET = "harbour-master-s-secret"
PUBLIC_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
ATTRIBUTES = (
    "<attributes><divisions>2</divisions><key><fifths>0</fifths></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
)


def note(step: str = "C", duration: int = 2, inside: str = "", octave: int = 5, before: str = "") -> str:
    """A note of some duration in eighths; ``inside`` comes after the duration, ``before`` before the pitch."""
    return (
        f"<note>{before}<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
        f"<duration>{duration}</duration>{inside}</note>"
    )


def rest(duration: int = 8, inside: str = "") -> str:
    """A rest of some duration in eighths."""
    return f"<note><rest/><duration>{duration}</duration>{inside}</note>"


def voice(number: int) -> str:
    """What says which voice a note belongs to."""
    return f"<voice>{number}</voice>"


def back(duration: int) -> str:
    """The way back to where another voice begins."""
    return f"<backup><duration>{duration}</duration></backup>"


FULL = note(duration=8)


def bars(*contents: str) -> str:
    """Bars numbered from one; the first is given divisions, key and metre."""
    return "".join(
        f'<measure number="{number}">{ATTRIBUTES if number == 1 else ""}{content}</measure>'
        for number, content in enumerate(contents, start=1)
    )


def score(*parts: str, names: tuple[str, ...] = ("Trumpet 1", "Trumpet 2", "Trumpet 3"), doctype: str = "") -> str:
    """A partwise score of parts, each given as its bars."""
    named = list(zip(range(1, len(parts) + 1), parts, names, strict=False))
    listed = "".join(
        f'<score-part id="P{number}"><part-name>{name}</part-name></score-part>' for number, _, name in named
    )
    written = "".join(f'<part id="P{number}">{part}</part>' for number, part, _ in named)
    return (
        f'<?xml version="1.0"?>{doctype}<score-partwise version="4.0"><work><work-title>Quay</work-title></work>'
        f"<part-list>{listed}</part-list>{written}</score-partwise>"
    )


def packed(members: dict[str, str | bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A zip file of members."""
    memory = BytesIO()
    with zipfile.ZipFile(memory, "w", method) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return memory.getvalue()


def container(full_path: str = "score.xml") -> str:
    """The list of contents of a compressed score."""
    return f'<?xml version="1.0"?><container><rootfiles><rootfile full-path="{full_path}"/></rootfiles></container>'


def compressed(content: str | bytes, name: str = "score.xml", method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A compressed score with its list of contents."""
    return packed({"META-INF/container.xml": container(name), name: content}, method)


def _billion_laughs() -> str:
    levels = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    doctype = f'<!DOCTYPE score-partwise [<!ENTITY l0 "lol">{levels}]>'
    return score(
        bars(FULL + "<direction><direction-type><words>&l9;</words></direction-type></direction>"), doctype=doctype
    )


def _quadratic() -> str:
    doctype = f'<!DOCTYPE score-partwise [<!ENTITY a "{"x" * 100_000}">]>'
    return score(bars(FULL), names=("&a;" * 100_000,), doctype=doctype)


def _outside(declaration: str) -> str:
    return score(bars(FULL), names=("&secret;",), doctype=f"<!DOCTYPE score-partwise [{declaration}]>")


def _secret(folder: Path) -> Path:
    path = folder / "secret.txt"
    path.write_text(score(bars(FULL), names=(SECRET,)))
    return path


def _zip_bomb() -> bytes:
    """A quarter of a gigabyte of white space in a quarter of a megabyte."""
    memory = BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", container())
        with archive.open("score.xml", "w") as member:
            member.write(b"<score-partwise>")
            for _ in range(250):
                member.write(b" \n" * 500_000)
    return memory.getvalue()


def _nested_zip() -> bytes:
    inner = packed({"bomb": b"\0" * 10_000_000})
    for _ in range(3):
        inner = packed({"bomb": inner})
    return compressed(inner)


def _lying_size() -> bytes:
    """A member of 60 million spaces whose headers tell of 100 bytes."""
    content = b"<score-partwise>" + b" " * 60_000_000
    whole = bytearray(compressed(content))
    for signature, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        place = whole.rindex(signature)
        whole[place + at : place + at + 4] = struct.pack("<I", 100)
    return bytes(whole)


def _wrong_sum() -> bytes:
    whole = bytearray(compressed(score(bars(FULL))))
    for signature, at in ((b"PK\x03\x04", 14), (b"PK\x01\x02", 16)):
        place = whole.rindex(signature)
        whole[place + at : place + at + 4] = struct.pack("<I", zlib.crc32(b"something else"))
    return bytes(whole)


def _encrypted() -> bytes:
    whole = bytearray(compressed(score(bars(FULL))))
    for signature, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = whole.rindex(signature)
        whole[place + at] |= 1
    return bytes(whole)


def _text(content: str) -> Callable[[Path], Path]:
    return _bytes(content.encode())


def _bytes(content: bytes | Callable[[], bytes]) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        path = folder / "tune.musicxml"
        path.write_bytes(content if isinstance(content, bytes) else content())
        return path

    return make


def _late(content: Callable[[], str]) -> Callable[[Path], Path]:
    return _bytes(lambda: content().encode())


def _with_secret(content: Callable[[Path], str | bytes]) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        made = content(_secret(folder))
        path = folder / "tune.musicxml"
        path.write_bytes(made.encode() if isinstance(made, str) else made)
        return path

    return make


def _fifo(folder: Path) -> Path:
    os.mkfifo(folder / "pipe.musicxml")
    return folder / "pipe.musicxml"


def _folder(folder: Path) -> Path:
    (folder / "tunes.musicxml").mkdir()
    return folder / "tunes.musicxml"


def _deep(levels: int) -> str:
    return '<?xml version="1.0"?><score-partwise>' + "<work>" * levels


_CHORD = FULL + note("E", 8, before="<chord/>")
_TWO = note("C", 8, voice(1)) + back(8) + note("E", 8, voice(2))

# By name: what makes the file, and words of the sentence that refuses it.
CORPUS: dict[str, tuple[Callable[[Path], Path], tuple[str, ...]]] = {
    # Declared, fetched, expanded.
    "billion laughs": (_late(_billion_laughs), ("DOCTYPE",)),
    "quadratic blowup": (_late(_quadratic), ("DOCTYPE",)),
    "external entity": (
        _with_secret(lambda path: _outside(f'<!ENTITY secret SYSTEM "{path.as_uri()}">')),
        ("DOCTYPE",),
    ),
    "parameter entity": (
        _with_secret(lambda path: _outside(f'<!ENTITY % secret SYSTEM "{path.as_uri()}"> %secret;')),
        ("DOCTYPE",),
    ),
    "attribute defaults": (_late(lambda: _outside('<!ATTLIST note print-object CDATA "no">')), ("DOCTYPE",)),
    "entity of the outer document type": (
        _late(lambda: score(bars(FULL), names=("&secret;",), doctype=PUBLIC_DOCTYPE)),
        ("entity 'secret'",),
    ),
    "entity without document type": (_late(lambda: score(bars(FULL), names=("&nbsp;",))), ("line 1", "entity")),
    # Too much.
    "depth of 100,000": (_late(lambda: _deep(100_000)), ("40 levels",)),
    "a million elements": (_late(lambda: '<?xml version="1.0"?><score-partwise>' + "<a/>" * 1_000_000), ("500,000",)),
    "ten thousand bars": (_late(lambda: score(bars(*[FULL] * 10_000))), ("10000 bars", "2000")),
    "30,000 notes": (_late(lambda: score(bars(*[note() * 300] * 100))), ("30000 notes", "20000")),
    "a text without end": (_late(lambda: score(bars(FULL), names=("x" * 1_000_000,))), ("10,000 characters",)),
    "a tag without end": (
        _late(lambda: "<score-partwise " + " ".join(f'a{n}="x"' for n in range(1_500_000)) + "/>"),
        ("262,144 bytes",),
    ),
    "a comment without end": (_late(lambda: "<score-partwise><!--" + "x" * 15_000_000), ("262,144 bytes",)),
    "a large file": (_bytes(lambda: b"<" + b" " * 20_000_001), ("20 MB",)),
    # Packed.
    "zip bomb": (_bytes(_zip_bomb), ("40 MB",)),
    "nested zip": (_bytes(_nested_zip), ("no MusicXML",)),
    "zip with a lying size": (_bytes(_lying_size), ("damaged",)),
    "zip with a wrong checksum": (_bytes(_wrong_sum), ("damaged",)),
    "encrypted zip": (_bytes(_encrypted), ("encrypted",)),
    "zip by another method": (
        _bytes(lambda: compressed(b"<score-partwise>" + b" " * 100_000_000, method=zipfile.ZIP_LZMA)),
        ("method",),
    ),
    "zip of many members": (_bytes(lambda: packed({str(n): b"" for n in range(100_000)})), ("200 packed files",)),
    "truncated zip": (_bytes(lambda: compressed(score(bars(FULL)))[:-30]), ("damaged",)),
    "zip without container": (_bytes(lambda: packed({"score.xml": score(bars(FULL))})), ("META-INF/container.xml",)),
    "container without score": (
        _bytes(lambda: packed({"META-INF/container.xml": "<container><rootfiles/></container>"})),
        ("does not say", "META-INF/container.xml"),
    ),
    "container pointing nowhere": (
        _bytes(lambda: packed({"META-INF/container.xml": container("gone.xml")})),
        ("'gone.xml'", "holds no such file"),
    ),
    "container pointing outside": (
        _with_secret(lambda _: packed({"META-INF/container.xml": container("../secret.txt")})),
        ("'../secret.txt'", "holds no such file"),
    ),
    "container with a full path": (
        _with_secret(lambda path: packed({"META-INF/container.xml": container(path.as_posix())})),
        ("holds no such file",),
    ),
    "container with entities": (
        _bytes(lambda: packed({"META-INF/container.xml": '<!DOCTYPE a [<!ENTITY b "c">]><container>&b;</container>'})),
        ("container.xml", "DOCTYPE"),
    ),
    "container of another kind": (
        _bytes(lambda: packed({"META-INF/container.xml": "<html/>"})),
        ("<html>", "<container>"),
    ),
    "itself as its score": (
        _bytes(lambda: packed({"META-INF/container.xml": container("META-INF/container.xml")})),
        ("<container>", "score-partwise"),
    ),
    # Something else, or broken.
    "empty file": (_text(""), ("empty",)),
    "white space": (_text(" \n\t\n"), ("empty",)),
    "missing file": (lambda folder: folder / "missing.musicxml", ("missing.musicxml'", "no such file")),
    "name with a null": (lambda folder: folder / "nu\0ll.musicxml", ("cannot read",)),
    "folder": (_folder, ("a folder",)),
    "pipe": (_fifo, ("a device",)),
    "MIDI": (_bytes(b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60"), ("MIDI", "MusicXML")),
    "picture": (_bytes(b"\x89PNG\r\n\x1a\n" + bytes(100)), ("no MusicXML",)),
    "PDF": (_bytes(b"%PDF-1.7\n"), ("no MusicXML",)),
    "web page": (_text("<html><body>Quay</body></html>"), ("<html>",)),
    "opus": (_text('<?xml version="1.0"?><opus><title>Quay</title></opus>'), ("<opus>",)),
    "truncated": (_late(lambda: score(bars(FULL, FULL))[:-60]), ("broken XML", "line 1")),
    "crossed tags": (_text("<score-partwise>\n<part>\n</score-partwise>"), ("line 3", "mismatched tag")),
    "two roots": (_late(lambda: score(bars(FULL)) + "\n<score-partwise/>"), ("line 2", "junk")),
    "Latin bytes called UTF-8": (
        _bytes(lambda: score(bars(FULL), names=("Flügelhorn",)).encode("latin-1")),
        ("line 1", "not well-formed"),
    ),
    "UTF-16 cut in half": (_bytes(lambda: score(bars(FULL)).encode("utf-16")[:201]), ("broken XML",)),
    "unknown encoding": (_text('<?xml version="1.0" encoding="rot-13"?><score-partwise/>'), ("encoding", "UTF-8")),
    "encoding of many bytes": (
        _text('<?xml version="1.0" encoding="shift_jis"?><score-partwise/>'),
        ("encoding", "UTF-8"),
    ),
    "UTF-16 that is none": (_text('<?xml version="1.0" encoding="utf-16"?><score-partwise/>'), ("line 1",)),
    # Not a melody.
    "no parts": (_text("<score-partwise/>"), ("no notes",)),
    "empty part": (_text(score(bars(""))), ("no notes",)),
    "rests only": (_text(score(bars(rest(), rest()))), ("no notes",)),
    "cue notes only": (_text(score(bars(note(duration=8, before="<cue/>")))), ("no notes",)),
    "several parts": (
        _text(score(bars(FULL), bars(FULL), bars(rest()))),
        ("--part", "1 'Trumpet 1', 2 'Trumpet 2'"),
    ),
    "chord": (_text(score(bars(FULL, FULL, _CHORD))), ("bar 3 of 'tune.musicxml'", "chord", "one note at a time")),
    "two voices": (_text(score(bars(FULL, _TWO))), ("bar 2 of 'tune.musicxml'", "2 voices")),
    "one voice over itself": (
        _text(score(bars(FULL, note("C", 8) + back(4) + note("E", 4)))),
        ("bar 2", "two notes at once"),
    ),
    "second staff": (
        _text(score(bars(FULL, note("C", 4, "<staff>1</staff>") + note("C", 4, "<staff>2</staff>")))),
        ("bar 2", "second staff"),
    ),
    "drums": (_text(score(bars("<note><unpitched/><duration>8</duration></note>"))), ("bar 1", "without pitch")),
    "no duration": (
        _text(score(bars("<note><pitch><step>C</step><octave>5</octave></pitch></note>"))),
        ("bar 1", "without duration"),
    ),
    "back too far": (_text(score(bars(FULL + back(9)))), ("bar 1", "before its beginning")),
    "divisions in the middle": (
        _text(score(bars(FULL + "<attributes><divisions>4</divisions></attributes>"))),
        ("bar 1", "divisions"),
    ),
    "a very long note": (_text(score(bars(note(duration=129)))), ("bar 1", "64 quarter notes")),
    "no divisions": (
        _text(score(bars(FULL)).replace("<divisions>2", "<divisions>0")),
        ("bar 1", "divisions", "'0'"),
    ),
    "duration that is none": (
        _text(score(bars(FULL)).replace("<duration>8", "<duration>1e999")),
        ("bar 1", "duration", "'1e999'", "number from 0"),
    ),
    "duration below zero": (_text(score(bars(FULL)).replace("<duration>8", "<duration>-8")), ("duration", "'-8'")),
    "octave that is none": (_text(score(bars(note(octave=40)))), ("octave", "'40'", "0 to 9")),
    "step that is none": (_text(score(bars(note(step="H")))), ("step", "'H'", "A, B, C, D, E, F, G")),
    "metre that is none": (_text(score(bars(FULL)).replace("<beats>4", "<beats>four")), ("beats", "'four'")),
    "metre of nothing": (_text(score(bars(FULL)).replace("<beats>4", "<beats>0")), ("beats", "'0'")),
    "metre without beats": (
        _text(score(bars(FULL)).replace("<beats>4</beats>", "")),
        ("bar 1", "time without beats"),
    ),
    "pitch without octave": (
        _text(score(bars(FULL)).replace("<octave>5</octave>", "")),
        ("bar 1", "pitch without octave"),
    ),
    "a character that is none": (
        _text(score(bars(FULL)).replace('number="1"', 'number="1&#x202e;&#xffff;"')),
        ("broken XML",),
    ),
}
