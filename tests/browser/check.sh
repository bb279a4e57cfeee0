#!/usr/bin/env bash
# Looks at pages with a headless browser: no console message of an error, no request, nothing wider than the window at 360 and
# 1280 pixels, and all text on the paper when printed on A4 and Letter. First it must find every fault of a page made to be bad.
#
# usage: tests/browser/check.sh PAGE.html…        (BROWSER names the browser where it is not called chromium)
set -uo pipefail
browser=${BROWSER:-$(command -v chromium || command -v chromium-browser || command -v google-chrome || true)}
[ -n "$browser" ] || { echo "no browser found: install chromium, or name one in BROWSER"; exit 2; }
for tool in pdfinfo pdftotext; do
    command -v "$tool" >/dev/null || { echo "$tool not found: install poppler-utils"; exit 2; }
done
[ $# -gt 0 ] || { echo "usage: tests/browser/check.sh PAGE.html…"; exit 2; }
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
passed=0
failed=0

browse() { # browse EXTRA… URL; messages of the console go to $scratch/log, requests to $scratch/net.json
    rm -rf "$scratch/profile" "$scratch/net.json"
    timeout 120 "$browser" --headless --no-sandbox --disable-gpu --disable-background-networking --disable-component-update \
        --disable-sync --disable-default-apps --disable-extensions --no-first-run --no-pings --user-data-dir="$scratch/profile" \
        --host-resolver-rules="MAP * ~NOTFOUND" --allow-file-access-from-files --enable-logging=stderr \
        --log-net-log="$scratch/net.json" "$@" 2>"$scratch/log"
}

# A page that holds the checked page in two frames of fixed width and writes down how wide their contents are.
measure() { # measure PAGE -> lines "WIDTH CONTENT"
    cat >"$scratch/frames.html" <<END
<!doctype html><meta charset="utf-8"><title>frames</title>
<iframe width="360" height="700" style="border:0" src="file://$1"></iframe>
<iframe width="1280" height="700" style="border:0" src="file://$1"></iframe>
<pre id="seen"></pre>
<script>
addEventListener("load", () => {
  const lines = [...document.querySelectorAll("iframe")].map(frame => {
    const root = frame.contentDocument.documentElement;
    return "seen " + frame.width + " " + Math.max(root.scrollWidth, frame.contentDocument.body.scrollWidth);
  });
  document.getElementById("seen").textContent = lines.join("\n");
});
</script>
END
    browse --window-size=1400,900 --virtual-time-budget=5000 --dump-dom "file://$scratch/frames.html" | grep -o 'seen [0-9]* [0-9]*' | cut -d' ' -f2-
}

faults() { # faults PAGE: prints one line a fault
    local page width content sheet wide
    page=$(realpath "$1")
    measure "$page" >"$scratch/widths"
    [ "$(wc -l <"$scratch/widths")" = 2 ] || echo "the browser did not load the page"
    while read -r width content; do
        [ "$content" -le "$width" ] || echo "at $width pixels the content is $content wide"
    done <"$scratch/widths"
    grep -E 'CONSOLE' "$scratch/log" | sed 's/^[^"]*/console: /' | sort -u
    # the browser has requests of its own; those of the page carry the page's site as their key
    grep -F '"network_isolation_key":"file://' "$scratch/net.json" | grep -oE '"url":"(https?|wss?|ftp)://[^"]*"' | sort -u | sed 's/^/request: /'
    for sheet in A4 Letter; do
        # the sheet's size is set behind the page's own style
        { cat "$page"; echo "<style>@page { size: $sheet }</style>"; } >"$scratch/print.html"
        rm -f "$scratch/print.pdf"
        browse --no-pdf-header-footer --print-to-pdf="$scratch/print.pdf" "file://$scratch/print.html" >/dev/null
        pdfinfo "$scratch/print.pdf" 2>/dev/null | grep -qi "page size.*$sheet" || { echo "no PDF of size $sheet"; continue; }
        pdftotext -bbox "$scratch/print.pdf" "$scratch/words" >/dev/null 2>&1
        wide=$(awk -F'"' '/<page / { limit = $2 } /<word / { if ($6 > limit + 0.5 || $2 < -0.5) n++; words++ }
                          END { if (!words) print "no text"; else if (n) print n " words beyond the edge" }' "$scratch/words")
        [ -z "$wide" ] || echo "printed on $sheet: $wide"
    done
}

cat >"$scratch/bad.html" <<'END'
<!doctype html><meta charset="utf-8"><title>bad</title>
<div style="width:2000px;white-space:nowrap;text-align:right">wide</div><img src="http://saltmarsh-quay.invalid/a.png" alt="">
<script>console.error("wrong")</script>
END
faults "$scratch/bad.html" >"$scratch/found"
for expected in 'at 360' 'at 1280' 'console: ' 'request: .*saltmarsh' 'printed on A4' 'printed on Letter'; do
    if ! grep -q "$expected" "$scratch/found"; then
        echo "FAIL the check itself: it did not see '$expected' in a page made to be bad; it saw:"
        cat "$scratch/found"
        exit 1
    fi
done

for page in "$@"; do
    faults "$page" >"$scratch/found"
    if [ -s "$scratch/found" ]; then
        failed=$((failed + 1))
        sed "s|^|FAIL $page: |" "$scratch/found"
    else
        passed=$((passed + 1))
        echo "ok   $page"
    fi
done
echo "browser checks: $passed passed, $failed failed"
[ "$failed" = 0 ]
