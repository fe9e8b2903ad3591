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
# Ratios without a limit. What a question costs is what a command that asks it takes beyond one that
# asks nothing, and a year by the rules is a twentieth of twenty.
ask() { "$bare" time 15 "$command" run tests/bench/asks.lua --out "$folder/out" --set "what=$1" --set "years=$2"; }
nothing=$(ask nothing 1) rules=$(ask rules 20)
compare() { # title, seconds, years that are compared with
  awk -v title="$1" -v took="$2" -v years="$3" -v nothing="$nothing" -v rules="$rules" 'BEGIN {
    took = took - nothing
    plain = (rules - nothing) * years / 20
    printf "%-62s %7.1f ms  %6.1f times %.2f ms\n", title, took * 1e3, took / plain, plain * 1e3 }'
}
compare 'rules.decide, 20 years, against the rules' "$(ask decide 20)" 20
compare 'ride_through from every hour of a year, against a year' "$(ask ride 1)" 1
compare 'ride_through from every hour of five years, against a year' "$(ask ride 5)" 1
echo
"$2/plane" check || failed=1
exit $failed
