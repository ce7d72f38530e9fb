#!/bin/sh
# The main job on the demo yard: installs what is missing, builds the release, checks the model and finds a route.
set -eu
cd "$(dirname "$0")/.."
. cli/packages.sh
# shellcheck disable=SC2086 # lists of names
install_packages $build_packages

echo "Building holdfast (some minutes the first time) ..." >&2
log=$(mktemp)
trap 'rm -f "$log"' EXIT
{ cmake --preset release && cmake --build --preset release; } >"$log" 2>&1 || { cat "$log" >&2; exit 2; }
holdfast=build/release/holdfast

run() {
  printf '\n$ holdfast %s\n\n' "$*"
  "$holdfast" "$@"
}
run check models/yard
run route models/yard --from lock-hatch --to dish-service
cat <<END

Where to go next
  $holdfast route models/yard --from lock-hatch --to spur-root --state dish=tracking
  $holdfast route models/yard --from lock-hatch --to outpost-panel          (there is no way, and why)
  $holdfast route --help
  models/yard/README.md   what there is to see in the demo yard
  models/README.md        how to write a model of your own
END
