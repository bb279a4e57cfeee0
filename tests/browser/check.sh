#!/usr/bin/env bash
# Looks at pages with a headless browser, on the screen and on paper; what is looked for is in looks.mjs and paper.mjs. First it must
# pass a good page and find the fault of every page made to be bad (bad.mjs). The audit's rules are those of axe-core, fetched by npm
# into a temporary folder at a fixed version and known by its hash.
#
# usage: tests/browser/check.sh PAGE.html…        (BROWSER names the browser where it is not called chromium; AXE a copy of axe.min.js;
# PROGRAM the program: pages are then also made of hostile texts, see hostile.mjs)
set -euo pipefail
axe_version=4.14.1
axe_sha256=29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c
browser=${BROWSER:-$(command -v chromium || command -v chromium-browser || command -v google-chrome || true)}
[ -n "$browser" ] || { echo "no browser found: install chromium, or name one in BROWSER"; exit 2; }
for tool in node npm pdftotext; do
    command -v "$tool" >/dev/null || { echo "$tool not found: install nodejs, npm and poppler-utils"; exit 2; }
done
[ $# -gt 0 ] || { echo "usage: tests/browser/check.sh PAGE.html…"; exit 2; }
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
axe=${AXE:-}
if [ -z "$axe" ]; then
    npm install --silent --no-audit --no-fund --ignore-scripts --prefix "$scratch" "axe-core@$axe_version"
    axe=$scratch/node_modules/axe-core/axe.min.js
fi
echo "$axe_sha256  $axe" | sha256sum --check --quiet || { echo "this is not axe-core $axe_version"; exit 2; }
node "$(dirname "$0")/check.mjs" "$browser" "$axe" "$@"
if [ -n "${PROGRAM:-}" ]; then node "$(dirname "$0")/hostile.mjs" "$browser" "$PROGRAM"; fi
