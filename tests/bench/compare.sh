#!/usr/bin/env bash
# One 36-row log to a page and a result file, in one process each: the program against the same work with pandas, statsmodels
# and matplotlib. Prints both times, their ratio and both peaks of memory. Needs hyperfine, GNU time, python3 with those libraries.
set -euo pipefail
cd "$(dirname "$0")/../.."
cargo build --release --quiet
program=$PWD/target/release/taperwright
log=$PWD/tests/bench/small-log.csv
python=${PYTHON:-python3}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
ours=("$program" report "$log" --out "$scratch/ours" --quiet)
theirs=("$python" "$PWD/tests/bench/same_work.py" "$log" "$scratch/theirs")
hyperfine --warmup 3 --min-runs 30 --export-json "$scratch/ours.json" "$(printf '%q ' "${ours[@]}")" >/dev/null 2>&1
hyperfine --warmup 1 --runs 8 --export-json "$scratch/theirs.json" "$(printf '%q ' "${theirs[@]}")" >/dev/null 2>&1
/usr/bin/time -f %M -o "$scratch/ours.kb" "${ours[@]}" >/dev/null
/usr/bin/time -f %M -o "$scratch/theirs.kb" "${theirs[@]}" >/dev/null
"$python" - "$scratch" <<'END'
import json, pathlib, sys
folder = pathlib.Path(sys.argv[1])
def median(name):
    return json.loads((folder / f"{name}.json").read_text())["results"][0]["median"]
def megabytes(name):
    return int((folder / f"{name}.kb").read_text().split()[-1]) / 1000
ours, theirs = median("ours"), median("theirs")
print(f"program  {ours * 1000:8.1f} ms  {megabytes('ours'):6.1f} MB")
print(f"script   {theirs * 1000:8.1f} ms  {megabytes('theirs'):6.1f} MB")
print(f"ratio    {theirs / ours:8.1f}")
END
