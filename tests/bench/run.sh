#!/bin/sh
# Time the main job against a bare loop, in one run. Arguments: the command, the folder of the bench
# programs. DATA, when set, names a folder with weather/*.epw; otherwise an invented file is used.
set -eu
command=$1 bare=$2/bare
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
epw=$(ls "${DATA:-/nowhere}"/weather/*.epw 2>/dev/null | head -n 1)
if [ -z "$epw" ]; then
  epw=$folder/invented.epw
  "$bare" epw "$epw"
fi
script=scenarios/five_homes_deep_well.lua
loop=$("$bare" loop 25)

best() { "$bare" time 25 "$command" run "$script" --out "$folder/out" --set years=25 "$@"; }

failed=0
report() { # title, seconds, limit
  awk -v title="$1" -v took="$2" -v loop="$loop" -v limit="$3" 'BEGIN {
    ratio = took / loop
    printf "%-62s %7.1f ms  %6.1f times the bare loop", title, took * 1e3, ratio
    if (limit > 0) printf "  (at most %d)%s", limit, ratio <= limit ? "" : "  EXCEEDED"
    printf "\n"
    exit limit > 0 && ratio > limit }' || failed=1
}

awk -v loop="$loop" 'BEGIN { printf "bare loop, 25 years, loop only %41.3f ms\n", loop * 1e3 }'
report 'demo site, 25 years, EPW file, start to CSV' \
  "$(best --set weather="$epw" --set judge=false)" 25
report 'demo site, 25 years, 25 synthetic years, start to CSV' \
  "$(best --set weather_years=25 --set judge=false)" 100
report 'whole demo: with the baseline, appraisal and all files, EPW' "$(best --set weather="$epw")" 0
report 'whole demo, 25 synthetic years' "$(best --set weather_years=25)" 0
echo
"$2/plane" check || failed=1
exit $failed
