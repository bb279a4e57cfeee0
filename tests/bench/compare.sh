#!/usr/bin/env bash
# One 36-row log to a page and a result file, in one process each: the program against the same work with pandas, statsmodels
# and matplotlib. Prints both times (wall clock and processor), their ratios and both peaks of memory, and
# the program's times for a typical trial of 200 readings in two settings. Needs hyperfine, GNU time, python3 with those libraries.
set -euo pipefail
cd "$(dirname "$0")/../.."
program=${PROGRAM:-}
[ -n "$program" ] || { cargo build --release --quiet; program=$PWD/target/release/taperwright; }
log=$PWD/tests/bench/small-log.csv
python=${PYTHON:-python3}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
ours=("$program" report "$log" --out "$scratch/ours" --quiet)
theirs=("$python" "$PWD/tests/bench/same_work.py" "$log" "$scratch/theirs")
hyperfine --warmup 3 --min-runs 30 --export-json "$scratch/ours.json" "$(printf '%q ' "${ours[@]}")" >/dev/null 2>&1
hyperfine --warmup 1 --runs 8 --export-json "$scratch/theirs.json" "$(printf '%q ' "${theirs[@]}")" >/dev/null 2>&1
typical=("$program" report "$PWD/tests/bench/typical" --out "$scratch/typical" --quiet)
hyperfine --warmup 3 --min-runs 20 --export-json "$scratch/typical.json" "$(printf '%q ' "${typical[@]}")" >/dev/null 2>&1
/usr/bin/time -f %M -o "$scratch/typical.kb" "${typical[@]}" >/dev/null
/usr/bin/time -f %M -o "$scratch/ours.kb" "${ours[@]}" >/dev/null
/usr/bin/time -f %M -o "$scratch/theirs.kb" "${theirs[@]}" >/dev/null
"$python" - "$scratch" <<'END'
import json, pathlib, sys
folder = pathlib.Path(sys.argv[1])
def result(name):
    return json.loads((folder / f"{name}.json").read_text())["results"][0]
def wall(name):
    return result(name)["median"]
def processor(name):
    return result(name)["user"] + result(name)["system"]
def megabytes(name):
    return int((folder / f"{name}.kb").read_text().split()[-1]) / 1000
print("                 wall      processor    memory")
for title, name in (("program", "ours"), ("script", "theirs"), ("typical", "typical")):
    print(f"{title:8} {wall(name) * 1000:9.1f} ms {processor(name) * 1000:9.1f} ms {megabytes(name):7.1f} MB")
print(f"ratio    {wall('theirs') / wall('ours'):9.1f}    {processor('theirs') / processor('ours'):9.1f}")
END
