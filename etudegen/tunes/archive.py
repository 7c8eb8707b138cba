"""The bytes of a score: straight from a file, or out of a compressed one (.mxl), never more than the limits."""

import zipfile
import zlib
from collections.abc import Iterator
from io import BytesIO
from itertools import chain
from pathlib import Path
from xml.etree.ElementTree import Element

from etudegen.errors import InputError
from etudegen.files.reading import read_content
from etudegen.tunes.safe_xml import parse, short

# A full score of an hour for orchestra stays below it.
_LARGEST_FILE = 20_000_000
_LARGEST_UNPACKED = 40_000_000
# A compressed score holds itself, its container and perhaps parts and pictures.
_MOST_MEMBERS = 200
_PIECE = 64 * 1024
_CONTAINER = "META-INF/container.xml"
_ROOTS = ("score-partwise", "score-timewise")
_KIND = "MusicXML score"
# What starts an XML text in the encodings that are read: UTF-8, UTF-16, or a single byte a character.
_STARTS = (b"<", b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", b"\0<")
_NO_ZIP = (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError)


def read_file(path: Path) -> bytes:
    """Return what is in a file, at most a little more than a score may have.

    Raises :class:`InputError` where there is none, :class:`MachineError` for one that may not be read.
    """
    return read_content(path, _LARGEST_FILE)


def score_of(content: bytes, file: str) -> Element:
    """Return the tree of a MusicXML file, plain or compressed, whatever its name ends in.

    ``file`` is its name in complaints. Raises :class:`InputError` for what is too large, or something else.
    """
    name = repr(short(file, 80))
    if len(content) > _LARGEST_FILE:
        raise InputError(f"{name} is larger than {_LARGEST_FILE // 1_000_000} MB: a score of one melody is small")
    if not content.strip():
        raise InputError(f"{name} is empty: a MusicXML file is wanted")
    if content.startswith(b"PK\x03\x04"):
        return _unpacked(content, name)
    return _score(iter([content]), name)


def _score(pieces: Iterator[bytes], name: str) -> Element:
    first = next(pieces, b"")
    beginning = first[:1000].lstrip()
    if beginning.startswith(b"MThd"):
        raise InputError(f"{name} is a MIDI file: export the tune as MusicXML")
    if not beginning.startswith(_STARTS):
        raise InputError(f"{name} is no MusicXML file: export the tune as .musicxml or .mxl")
    small = (first[at : at + _PIECE] for at in range(0, len(first), _PIECE))
    return parse(chain(small, pieces), name, _ROOTS, _KIND)


def _unpacked(content: bytes, name: str) -> Element:
    # Every entry of the directory begins so; counted here, since ZipFile would make an object of each first.
    if content.count(b"PK\x01\x02") > _MOST_MEMBERS:
        raise InputError(f"{name} holds more than {_MOST_MEMBERS} packed files: a compressed score holds a few")
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            if _CONTAINER not in archive.NameToInfo:
                raise InputError(f"{name} is no compressed MusicXML file: it holds no {_CONTAINER}")
            container = parse(
                _member(archive, _CONTAINER, name), f"{_CONTAINER} in {name}", ("container",), "list of contents"
            )
            # The first one named is the score (MusicXML 4.0, "Compressed .MXL files"); it is looked up among the
            # packed files only, so what path it claims to have does not matter.
            first = container.find("rootfiles/rootfile")
            score = "" if first is None else first.get("full-path", "")
            if not score:
                raise InputError(f"{name} does not say in {_CONTAINER} which file is its score: export it once more")
            if score not in archive.NameToInfo:
                raise InputError(f"{name} names {short(score, 80)!r} as its score, but holds no such file")
            return _score(_member(archive, score, name), f"{short(score, 80)!r} in {name}")
    except InputError:
        raise
    except _NO_ZIP as error:
        raise InputError(f"{name} is a damaged or encrypted compressed file: export it once more") from error


def _member(archive: zipfile.ZipFile, member: str, name: str) -> Iterator[bytes]:
    info = archive.NameToInfo[member]
    # Other methods are unpacked in one go, however much that is; MusicXML allows these two.
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise InputError(f"{name} is packed by a method that is not read here: export it once more")
    unpacked = 0
    with archive.open(info) as packed:
        while piece := packed.read(_PIECE):
            unpacked += len(piece)
            if unpacked > _LARGEST_UNPACKED:
                raise InputError(f"{name} unpacks to more than {_LARGEST_UNPACKED // 1_000_000} MB: no melody does")
            yield piece
