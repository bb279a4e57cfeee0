#!/usr/bin/env bash
# Makes the spreadsheet files of this folder with LibreOffice (made with 7.4.7 of Debian 12): the same log typed in under English and under German
# settings, a column that became dates, a workbook of two sheets from two-sheets.fods, and one with hidden and filtered rows from hidden-rows.fods.
set -euo pipefail
cd "$(dirname "$0")"
profile=$(mktemp -d)
trap 'rm -rf "$profile"' EXIT
# Tokens of the text filter: separator, quote, character set, first line, column formats, language, quoted fields as text, detect dates.
convert() { soffice -env:UserInstallation="file://$profile" --headless --convert-to "$1" "${@:3}" "$2" >/dev/null 2>&1; }
for ending in xlsx ods; do
    convert "$ending" english.csv --infilter="CSV:44,34,76,1,,1033,false,true"
    convert "$ending" german.csv --infilter="CSV:59,34,76,1,,1031,false,true"
    convert "$ending" dates.csv --infilter="CSV:44,34,76,1,,1033,false,true"
    convert "$ending" two-sheets.fods
    convert "$ending" hidden-rows.fods
done
