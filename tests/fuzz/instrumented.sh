#!/bin/sh
# Stands between cargo and the compiler (RUSTC_WRAPPER): our crate and the libraries that read with it count the branches that they take and tell what they compare.
compiler=$1
shift
case " $* " in
*" --crate-name "taperwright" "* | *" --crate-name "calamine" "* | *" --crate-name "csv" "* | *" --crate-name "csv_core" "* | *" --crate-name "quick_xml" "* | *" --crate-name "toml" "* | *" --crate-name "toml_parser" "* | *" --crate-name "zip" "*)
    exec "$compiler" "$@" -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 -Cllvm-args=-sanitizer-coverage-inline-8bit-counters \
        -Cllvm-args=-sanitizer-coverage-pc-table -Cllvm-args=-sanitizer-coverage-trace-compares
    ;;
esac
exec "$compiler" "$@"
