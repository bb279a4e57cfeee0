#!/usr/bin/env bash
# Uses the index page of a batch in a headless browser as a reader would: sorts it by every column with the Enter key, both ways, and filters it; then looks whether it is
# whole where its script is forbidden. First it must find that such a page sorts nothing.
#
# usage: tests/browser/index.sh INDEX.html        (BROWSER names the browser where it is not called chromium)
set -euo pipefail
browser=${BROWSER:-$(command -v chromium || command -v chromium-browser || command -v google-chrome || true)}
[ -n "$browser" ] || { echo "no browser found: install chromium, or name one in BROWSER"; exit 2; }
command -v node >/dev/null || { echo "node not found: install nodejs"; exit 2; }
[ $# = 1 ] || { echo "usage: tests/browser/index.sh INDEX.html"; exit 2; }
node "$(dirname "$0")/index.mjs" "$browser" "$1"
