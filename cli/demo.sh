#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# From a bare Debian 12 to an answer: installs what is missing, builds, and runs the command on the demo yard.
set -u
cd "$(dirname "$0")/.." || exit 2

log=build/demo.log
# quietly WHAT COMMAND...: says what goes on, keeps the output in the log, shows its end when the command fails.
quietly() {
  echo "$1 ..." >&2
  shift
  "$@" >>"$log" 2>&1 && return 0
  tail -n 40 "$log" >&2
  echo "That failed: $*. All of its output is in $log." >&2
  exit 2
}
show() {
  echo
  echo "\$ holdfast $*"
  echo
  "$holdfast" "$@"
}

. cli/packages.sh
# shellcheck disable=SC2086 # a list of names
install_packages $build_packages || exit 2
mkdir -p build && : >"$log"
quietly "Configuring" cmake --preset release
quietly "Building the release preset; the first time takes some minutes" cmake --build --preset release
holdfast=build/release/holdfast

show check models/yard || [ $? -eq 1 ] || exit 2
show route models/yard --from lock-hatch --to dish-service || exit 2
show compare models/yard --from lock-hatch --to battery-bay --load none --load tool-bag --load bulky-bag || exit 2
show plan models/yard excursion.yaml || exit 2
pages=$(mktemp -d) || exit 2
"$holdfast" route models/yard --from lock-hatch --to battery-bay --load bulky-bag --json >"$pages/bag.json" || exit 2
show draw models/yard "$pages/bag.json" --html "$pages/bag.html" --svg "$pages/bag.svg" || exit 2
"$holdfast" plan models/yard excursion.yaml --json >"$pages/excursion.json" || exit 2
show draw models/yard "$pages/excursion.json" --html "$pages/excursion.html" --cards "$pages/cards.html" \
  --timeline "$pages/timeline.svg" || exit 2
cat <<END

Where to go next:
  $holdfast route models/yard --from lock-hatch --to outpost-panel
      no route, and why not
  $holdfast route models/yard --from lock-hatch --to outpost-panel --state arm=reaching
      the route that there is once the arm reaches over
  $pages/bag.html
      the route with the bag, to turn and to play: open it in a browser
  $pages/excursion.html, $pages/cards.html, $pages/timeline.svg
      the excursion of both crew members on one clock, a cue card for each to print, and the sheet with both timelines
  $holdfast route --help
      all options
  models/yard/README.md
      what there is to see in the demo yard
  README.md, models/README.md
      a model of your own in ten minutes; every field of a model
END
