#!/usr/bin/env bash
# Makes the two font files of this folder: Besley (SIL Open Font License 1.1, no reserved names) cut down to what the page
# sets in it. Upright: English text, figures and the signs beside them. Italic: letters and digits, because only symbols
# are set in it. Wants Python with fonttools and brotli; the files are kept, so that a build needs neither.
# Usage: make.sh [PYTHON]
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"
from=../node_modules/@fontsource/besley
cut() {
  "${1}" -m fontTools.subset "$from/files/$2.woff2" --unicodes="$3" --output-file="$4" --flavor=woff2 --no-hinting \
    --layout-features=kern,liga
}
cut "${1:-python3}" besley-latin-600-normal 'U+0020-007E,U+00A0,U+00B0-00B7,U+00D7,U+2010-2026,U+2212,U+2190-2193' besley-600.woff2
cut "${1:-python3}" besley-latin-600-italic 'U+0020,U+0030-0039,U+0041-005A,U+0061-007A' besley-600-italic.woff2
cp "$from/LICENSE" LICENSE.txt
