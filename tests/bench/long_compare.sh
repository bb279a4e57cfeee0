#!/usr/bin/env bash
# A long log to a page and a result file: the program against the same work with pandas, statsmodels and matplotlib, against polars and numpy making only
# the sums, and against reading every byte once. One run prints all times, peaks of memory and their ratios; then how time grows from one million rows
# to ten. Needs GNU time, python3 with numpy, pandas, statsmodels, scipy, matplotlib and polars; R if it is there.
# usage: tests/bench/long_compare.sh [REPEATS]   (rows = 200 stations x 50 passes x REPEATS, 1000 by default)
set -euo pipefail
cd "$(dirname "$0")/../.."
export CARGO_TARGET_DIR=${CARGO_TARGET_DIR:-$PWD/target}
cargo build --release --quiet
cargo bench --quiet --bench long_log --no-run
program=$CARGO_TARGET_DIR/release/taperwright
python=${PYTHON:-python3}
repeats=${1:-1000}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
"$python" tests/bench/long_log.py 200 50 "$repeats" > "$scratch/long.csv"
"$python" tests/bench/long_log.py 200 50 $((repeats / 10)) > "$scratch/tenth.csv"
measure() {
    local name=$1; shift
    for _ in 1 2 3; do /usr/bin/time -a -f "%e %U %S %M" -o "$scratch/$name.time" "$@" > "$scratch/$name.out" 2>&1; done
}
once() {
    local name=$1; shift
    /usr/bin/time -a -f "%e %U %S %M" -o "$scratch/$name.time" "$@" > "$scratch/$name.out" 2>&1
}
measure floor wc -l "$scratch/long.csv"
measure sums "$python" tests/bench/long_sums.py "$scratch/long.csv"
measure program "$program" report "$scratch/long.csv" --out "$scratch/ours" --quiet
measure tenth "$program" report "$scratch/tenth.csv" --out "$scratch/ours" --quiet
once script "$python" tests/bench/long_same_work.py "$scratch/long.csv" "$scratch/theirs"
if command -v Rscript > /dev/null; then once R Rscript tests/bench/long_same_work.R "$scratch/long.csv"; fi
for _ in 1 2 3; do cargo bench --quiet --bench long_log -- "$scratch/long.csv" >> "$scratch/parts.json"; done
"$python" - "$scratch" <<'END'
import json, pathlib, statistics, sys
folder = pathlib.Path(sys.argv[1])
def figures(name):
    rows = [[float(word) for word in line.split()] for line in (folder / f"{name}.time").read_text().splitlines() if line[0].isdigit()]
    wall = statistics.median(row[0] for row in rows)
    return wall, statistics.median(row[1] + row[2] for row in rows), max(row[3] for row in rows) / 1000
table = {name: figures(name) for name in ("floor", "sums", "program", "tenth", "script", "R") if (folder / f"{name}.time").exists()}
print("             wall      processor   memory")
for name, (wall, processor, memory) in table.items():
    print(f"{name:8} {wall:8.2f} s {processor:8.2f} s {memory:8.0f} MB")
parts = [json.loads(line) for line in (folder / "parts.json").read_text().splitlines() if line.startswith("{")]
middle = lambda key: statistics.median(part[key] for part in parts)
read, fit = middle("read_s"), middle("fit_s")
print(f"reading {read:.2f} s, fit {fit:.2f} s, all shapes {middle('shapes_s'):.2f} s, memory {middle('peak_mb'):.0f} MB")
program, sums, script = table["program"], table["sums"], table["script"]
print(f"script / program: {script[0] / program[0]:.1f} times the time, {script[2] / program[2]:.1f} times the memory (wanted: 6, 3)")
print(f"reading and fit / sums: {(read + fit) / sums[0]:.2f} (wanted: at most 1.5)")
print(f"everything / sums: {program[0] / sums[0]:.2f} (wanted: at most 4)")
print(f"memory: {program[2]:.0f} MB (wanted: at most 600)")
print(f"ten times the rows: {program[1] / table['tenth'][1]:.2f} times the processor time, start included")
print("page:", round(next(folder.glob("ours/long.html")).stat().st_size / 1e6, 2), "MB (wanted: less than 2)")
END
