#!/usr/bin/env bash
# Uses the index page of a batch in a headless browser as a reader would: sorts it by each column, both ways, and filters it; then looks whether it is whole where
# scripts are forbidden. The checks are first given a page whose script is forbidden and must find that nothing is sorted.
#
# usage: tests/browser/index.sh INDEX.html        (BROWSER names the browser where it is not called chromium)
set -uo pipefail
browser=${BROWSER:-$(command -v chromium || command -v chromium-browser || command -v google-chrome || true)}
[ -n "$browser" ] || { echo "no browser found: install chromium, or name one in BROWSER"; exit 2; }
[ $# = 1 ] || { echo "usage: tests/browser/index.sh INDEX.html"; exit 2; }
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

use() { # use PAGE: prints one line a fault, and "done" at the end
    cat >"$scratch/use.html" <<END
<!doctype html><meta charset="utf-8"><title>use</title>
<iframe width="1400" height="900" src="file://$1"></iframe>
<pre id="seen"></pre>
<script>
addEventListener("load", () => {
  const faults = [];
  const expect = (holds, what) => { if (!holds) faults.push("fault " + what); };
  try {
    const page = document.querySelector("iframe").contentDocument;
    const table = page.querySelector("table.sorts");
    const rows = () => [...table.tBodies[0].rows];
    const shown = () => rows().filter(row => !row.hidden);
    const heads = [...table.tHead.rows[0].cells];
    const number = (row, column) => { const cell = row.cells[column]; return cell.querySelector("data") ? Number(cell.querySelector("data").value) : cell.textContent; };
    const all = rows().length;
    const order = () => rows().map(row => row.dataset.place).join();
    expect(all > 3, "fewer than four rows");
    heads.forEach((head, column) => {
      const button = head.querySelector("button");
      expect(button && button.tabIndex === 0, head.textContent + " cannot be reached with the keyboard");
      if (!button) return;
      button.click();
      expect(head.getAttribute("aria-sort") === "ascending", head.textContent + " is not ascending");
      expect(heads.filter(each => each.hasAttribute("aria-sort")).length === 1, "more than one sorted column");
      expect(page.getElementById("status").textContent.includes(head.textContent), "the sort is not said");
      const rising = order();
      button.click();
      expect(head.getAttribute("aria-sort") === "descending", head.textContent + " is not descending");
      expect(order() !== rising || new Set(rows().map(row => row.cells[column].textContent)).size === 1, head.textContent + " does not turn round");
      expect(rows().length === all, "rows are lost");
    });
    const taper = heads.findIndex(head => head.textContent.startsWith("Taper"));
    heads[taper].querySelector("button")?.click();
    const values = rows().map(row => number(row, taper)).filter(value => typeof value === "number");
    expect(values.length > 2 && values.every((value, at) => at === 0 || values[at - 1] <= value), "tapers are not in order: " + values);
    const words = page.getElementById("words");
    const type = text => { words.value = text; words.dispatchEvent(new Event("input")); };
    const name = rows()[0].cells[0].textContent;
    type(name.toUpperCase());
    expect(shown().length >= 1 && shown().length < all && shown().every(row => row.textContent.includes(name)), "filter by words: " + shown().length + " of " + all);
    type("no trial is called this");
    expect(shown().length === 0 && page.getElementById("status").textContent.startsWith("0 of"), "a filter that nothing passes");
    type("");
    const decision = page.getElementById("decision");
    const code = rows().map(row => row.dataset.decision)[0];
    decision.value = code;
    decision.dispatchEvent(new Event("change"));
    expect(shown().length >= 1 && shown().every(row => row.dataset.decision === code), "filter by decision");
    expect(!page.getElementById("choose").hidden, "the form is hidden");
  } catch (error) {
    faults.push("fault " + error);
  }
  document.getElementById("seen").textContent = [...faults, "done"].join("\n");
});
</script>
END
    rm -rf "$scratch/profile"
    timeout 120 "$browser" --headless --no-sandbox --disable-gpu --disable-background-networking --disable-component-update --disable-sync --disable-default-apps \
        --disable-extensions --no-first-run --no-pings --user-data-dir="$scratch/profile" --host-resolver-rules="MAP * ~NOTFOUND" \
        --allow-file-access-from-files --virtual-time-budget=20000 --dump-dom "file://$scratch/use.html" 2>/dev/null |
        sed -n '/<pre id="seen">/,/<\/pre>/p' | sed 's/.*<pre id="seen">//; s/<\/pre>.*//' | grep -E '^(fault|done)'
}

page=$(realpath "$1")
sed "s/script-src 'sha256-[^']*'/script-src 'none'/" "$page" >"$scratch/without.html"
use "$scratch/without.html" >"$scratch/found"
if ! grep -q 'cannot be reached' "$scratch/found" || ! grep -q 'done' "$scratch/found"; then
    echo "FAIL the check itself: it did not see that a page without its script sorts nothing; it saw:"
    cat "$scratch/found"
    exit 1
fi
rows=$(grep -c '<tr data-decision' "$page")
[ "$(grep -c 'id="choose" hidden' "$page")" = 1 ] || { echo "FAIL $1: the form is not hidden where no script runs"; exit 1; }
use "$page" >"$scratch/found"
if [ "$(cat "$scratch/found")" != done ]; then
    sed "s|^|FAIL $1: |" "$scratch/found"
    exit 1
fi
echo "ok   $1 sorts and filters $rows rows"
