#!/usr/bin/env bash
# Changed inputs to every reader, guided by the branches that they take. Needs a C++ compiler (c++) and python3.
#
# usage: tests/fuzz/run.sh [SECONDS [READER…]]     seconds for each reader (300), readers as in tests/all/fuzz/readers.rs (all)
#
# What takes a branch of its own is kept under target/fuzz/found and used by the next run; the part of it that covers most goes to tests/corpus.
# Inputs that fail (a panic, 20 s, 2 GB) lie in target/fuzz/faults; the status is then 1.
set -euo pipefail
cd "$(dirname "$0")/../.."
seconds=${1:-300}
shift || true
all="diameters.csv levels.csv indicator.csv clamp.csv moves.csv lone.csv trial.toml limits.toml diameters.xlsx diameters.ods sheet1.xml content.xml"
readers=${*:-$all}
place=target/fuzz
changed=$place/release/changed

RUSTC_WRAPPER=$PWD/tests/fuzz/instrumented.sh cargo build --release --locked --manifest-path tests/fuzz/Cargo.toml --target-dir "$place"
mkdir -p "$place/faults" "$place/logs"
WORDS=$place/words.txt "$changed"

# The samples and what is kept in tests/corpus, for one reader.
seeds() {
    local reader=$1 into=$2 files=()
    rm -rf "$into"
    mkdir -p "$into"
    case $reader in
    diameters.csv | lone.csv) mapfile -t files < <(find sample-data tests/sheets tests/corpus -name '*.csv' -o -name '*.csv-*') ;;
    *.csv) mapfile -t files < <(find sample-data tests/corpus -name "${reader%.csv}*.csv" -o -name "$reader-*") ;;
    trial.toml) mapfile -t files < <(find sample-data tests/corpus -name '*.toml' -o -name '*.toml-*') ;;
    limits.toml) mapfile -t files < <(find src/ingest/criteria/sets tests/corpus -name '*.toml' -o -name 'limits.toml-*') ;;
    *) mapfile -t files < <(find tests/sheets tests/corpus -name "*.${reader##*.}" -o -name "$reader-*") ;;
    esac
    for file in "${files[@]}"; do
        [ "$(stat -c %s "$file")" -gt 20000 ] || cp "$file" "$into/$(sha256sum "$file" | cut -c1-12)"
    done
}

# Branches that a folder of inputs takes, and how many inputs it holds.
covered() { "$changed" -runs=0 -artifact_prefix="$place/faults/$READER-" -timeout=20 -report_slow_units=20 -rss_limit_mb=2048 "$@" 2>&1 | sed -n 's/.*INITED *cov: \([0-9]*\).*/\1/p' || true; }

status=0
export RAYON_NUM_THREADS=1 TIMEFORMAT=%U
for READER in $readers; do
    export READER
    begun=$place/seeds/$READER found=$place/found/$READER log=$place/logs/$READER
    seeds "$READER" "$begun"
    mkdir -p "$found"
    before=$(covered "$begun")
    case $READER in *.xlsx | *.ods) longest=20000 ;; *) longest=10000 ;; esac
    options=(-max_total_time="$seconds" -timeout=20 -report_slow_units=20 -rss_limit_mb=2048 -max_len="$longest" -dict="$place/words.txt" -print_final_stats=1)
    { time nice -n 19 "$changed" "${options[@]}" -artifact_prefix="$place/faults/$READER-" "$found" "$begun" >"$log" 2>&1; } 2>"$log-seconds" ||
        { status=1; echo "$READER: a fault, see $log"; }
    runs=$(sed -n 's/stat::number_of_executed_units: *//p' "$log")
    echo "$READER: $(ls "$begun" | wc -l) inputs take ${before:-?} branches; after ${runs:-?} runs in $(tail -n 1 "$log-seconds") s of the processor $(covered "$begun" "$found"), $(ls "$found" | wc -l) inputs found"
done
exit $status
