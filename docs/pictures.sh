#!/usr/bin/env bash
# Makes the pictures of the README anew. Needs etudegen on PATH, pdftoppm (poppler) and Pillow for its python.
set -euo pipefail
cd "$(dirname "$0")"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
picture() { # NAME, lines of pixels to keep, COMMAND ...
  local name=$1 height=$2
  shift 2
  etudegen "$@" --format pdf --out "$work/$name" >/dev/null 2>&1
  pdftoppm -r 70 -png -f 1 -l 1 "$work/$name"/*.pdf "$work/$name/page"
  python3 - "$work/$name"/page*.png "$name.png" "$height" <<'PY'
import sys
from PIL import Image
page = Image.open(sys.argv[1]).convert("L")
page.crop((0, 0, page.width, min(page.height, int(sys.argv[3])))).quantize(16).save(sys.argv[2], optimize=True)
PY
}
picture slurs 9999 slurs --title "Lip slurs, second chair"
picture long-tones 330 long-tones --low C4 --high C5 --dynamics swell --title "Long tones, fourth chair"
picture bends 300 bends
picture pedals 330 pedals --form scale --brackets
picture contact 330 contact --form rising
picture scales 330 scales --scale harmonic-minor --articulation swing --high C6
picture patterns 330 patterns
picture arpeggios 330 arpeggios --own-chords --chord major-seventh --keys Gb
picture range 330 range --high C6 --title "Range study, first chair"
picture etudes 440 etudes --style waltz --keys D --mode minor --chords --seed 4
picture transpose 640 transpose ../demo/harbour-band/quay-waltz.musicxml --profile ../demo/harbour-band/third-chair.toml
picture changes 440 changes "| Dm7 | G7 alt | Cmaj7 | % |" --keys C

etudegen session --low F#3 --high A5 --minutes 60 --aim flexibility --date 2026-11-25 --out "$work/session" >/dev/null
pdftoppm -r 60 -png "$work/session"/*.pdf "$work/session/page"
python3 - "$work/session" <<'PY'
import sys
from pathlib import Path
from PIL import Image
pages = [Image.open(path).convert("L") for path in sorted(Path(sys.argv[1]).glob("page*.png"))]
pages[0].crop((0, 0, pages[0].width, 420)).quantize(16).save("session.png", optimize=True)
spread = Image.new("L", (2 * pages[0].width, 420), 255)
for place, page in enumerate((pages[-2], pages[4])):
    spread.paste(page.crop((0, 0, page.width, 420)), (place * page.width, 0))
spread.quantize(16).save("book.png", optimize=True)
PY
