#!/usr/bin/env bash
# Long logs of many passes or many stations: passes x stations grow with the rows. Three kinds of ten readings at each station of each pass (100 stations, 10, 1,000) and one
# whose every reading has a station of its own (50 passes), each with 1.25, 2.5, 5 and 10 million rows, read and reported by the program; and two that are just within what
# the joint estimate of the causes takes one by one. Prints processor time, peak of memory, size of the
# page, and how the time of each doubling of the rows compares with twice the time of the half, start included. Exits with 1 where memory or page miss what is wanted.
#
# usage: tests/bench/long_passes.sh [PART]   (PART 100: a hundredth of the passes, for a quick look)     needs GNU time, python3 with numpy
set -euo pipefail
cd "$(dirname "$0")/../.."
smaller=${1:-1}
program=${PROGRAM:-}
[ -n "$program" ] || { cargo build --release --quiet; program=${CARGO_TARGET_DIR:-$PWD/target}/release/taperwright; }
python=${PYTHON:-python3}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
run() { # run KIND STATIONS PASSES REPEATS: one line into runs.txt
    "$python" tests/bench/long_log.py "$2" "$3" "$4" >"$scratch/log.csv"
    /usr/bin/time -f '%U %S %M' -o "$scratch/time" "$program" report "$scratch/log.csv" --out "$scratch/out" --quiet
    echo "$1 $2 $3 $4 $(tail -n 1 "$scratch/time") $(stat -c %s "$scratch/out/log.html") $(grep -c 'causes were not estimated' "$scratch/out/log.html" || true)" >>"$scratch/runs.txt"
}
for kind in "100 10000" "10 100000" "1000 1000"; do
    read -r stations passes <<<"$kind"
    for part in 8 4 2 1; do run "grows-$stations" "$stations" $((passes / part / smaller)) 10; done
done
for part in 8 4 2 1; do run unlike $((200000 / part / smaller)) 50 1; done
run within-100 100 $((1100 / smaller)) $((91))
run within-20 20 $((3900 / smaller)) $((128))
"$python" - "$scratch/runs.txt" "$smaller" <<'END'
import sys
rows = [line.split() for line in open(sys.argv[1])]
bad, before = False, {}
print("stations  passes repeats     rows   processor     memory      page   over twice the half   causes")
for kind, stations, passes, repeats, user, system, kilobytes, page, without in rows:
    seconds, megabytes, page = float(user) + float(system), int(kilobytes) / 1000, int(page) / 1e6
    ratio = f"{seconds / (2 * before[kind]):21.3f}" if kind in before else " " * 21
    before[kind] = seconds
    count = int(stations) * int(passes) * int(repeats)
    print(f"{stations:>8} {passes:>7} {repeats:>7} {count:>8} {seconds:9.2f} s {megabytes:7.0f} MB {page:6.2f} MB {ratio}   {'not estimated' if int(without) else 'estimated'}")
    bad |= megabytes > 600 or page > 2
print("wanted: at most 600 MB, a page below 2 MB, twice the time for twice the rows to a tenth")
sys.exit(1 if bad else 0)
END
