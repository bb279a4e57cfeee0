#!/usr/bin/env bash
# Many trials in one run: 2,000 folders of 36 readings each, made by `simulate` with a seed of their own, reported by the program; against the same work with pandas, statsmodels and
# matplotlib started afresh for each (a sample of it, times 2,000). Says whether time goes with the number of trials, what memory they take above one trial, and whether
# the bytes are the same with one job. Exits with 1 where memory or bytes miss what is wanted.
#
# usage: tests/bench/many.sh [TRIALS]        needs GNU time, python3 with those libraries (PYTHON names it), hyperfine
set -euo pipefail
cd "$(dirname "$0")/../.."
trials=${1:-2000}
program=${PROGRAM:-}
[ -n "$program" ] || { cargo build --release --quiet; program=$PWD/target/release/taperwright; }
python=${PYTHON:-python3}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

for number in $(seq -f %05g "$trials"); do
    mkdir -p "$scratch/all/$number"
    sed "s/^name = .*/name = \"trial-$number\"/" tests/bench/many.toml >"$scratch/all/$number/trial.toml"
    "$program" simulate "$scratch/all/$number/trial.toml" --seed "$((10#$number))" --quiet
done
part() { # part FOLDER COUNT: the first COUNT trials
    mkdir "$scratch/$1"
    (cd "$scratch/all" && ls | sed -n "1,${2}p") | while read -r name; do cp -r "$scratch/all/$name" "$scratch/$1/"; done
}
part one 1
part few $((trials / 20 > 2 ? trials / 20 : 2))
part half $((trials / 2))

timed() { # timed NAME ARGUMENT…: seconds by the clock, of processors (user, system), and kilobytes into NAME.time
    local name=$1
    shift
    /usr/bin/time -f '%e %U %S %M' -o "$scratch/$name.time" "$program" report "$@" --quiet
}
timed one "$scratch/one" --out "$scratch/pages-one"
timed half "$scratch/half" --out "$scratch/pages-half"
timed all "$scratch/all" --out "$scratch/pages-all"
timed few "$scratch/few" --out "$scratch/pages-few" --jobs 1
timed again "$scratch/few" --out "$scratch/pages-again" --jobs 4
hyperfine --warmup 1 --runs 8 --export-json "$scratch/theirs.json" \
    "$(printf '%q ' "$python" "$PWD/tests/bench/same_work.py" "$PWD/tests/bench/small-log.csv" "$scratch/theirs")" >/dev/null 2>&1
same=yes
diff -r "$scratch/pages-few" "$scratch/pages-again" >/dev/null || same=no
"$python" - "$scratch" "$trials" "$same" <<'END'
import json, pathlib, sys
folder, trials, same = pathlib.Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
def run(name):
    clock, user, system, kilobytes = (float(number) for number in (folder / f"{name}.time").read_text().split()[-4:])
    return clock, user + system, kilobytes / 1000
one, half, whole = run("one"), run("half"), run("all")
theirs = json.loads((folder / "theirs.json").read_text())["results"][0]
script = theirs["median"], theirs["user"] + theirs["system"]
above = whole[2] - one[2]
for place, what in enumerate(["clock", "processor time"]):
    print(f"{what}: {trials} trials {whole[place]:.1f} s, {1000 * whole[place] / trials:.1f} ms a trial; over twice the time of half of them {whole[place] / (2 * half[place]):.3f} (wanted 0.9 to 1.1)")
    print(f"{what}: script {1000 * script[place]:.0f} ms a run (8 runs), {trials} runs {trials * script[place]:.0f} s; ratio {trials * script[place] / whole[place]:.1f} (wanted 100 by the clock)")
print(f"memory: one trial {one[2]:.1f} MB, half {half[2]:.1f} MB, all {whole[2]:.1f} MB: {above:.1f} MB above one (wanted at most 150)")
print(f"the same bytes with one job and with four: {same}")
sys.exit(0 if above <= 150 and same == "yes" else 1)
END
