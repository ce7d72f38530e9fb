#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Installs what is missing, builds, runs every test. The last line is `N passed, N failed`, whatever happens; the exit
# code is 0 only when all passed.
set -u
cd "$(dirname "$0")/.." || exit 2

# give_up WHAT: a failure before any test ran counts as one.
give_up() {
  echo "$1" >&2
  echo "0 passed, 1 failed"
  exit 1
}

. cli/packages.sh
# shellcheck disable=SC2086 # lists of names
install_packages $build_packages $test_packages || give_up "The packages that the tests need could not be installed."
cmake --preset dev || give_up "Configuring failed."
cmake --build --preset dev || give_up "The build failed."

results="$(pwd)/build/dev/test-results.xml"
rm -f "$results"
status=0
ctest --preset dev --output-junit "$results" || status=$?
[ -s "$results" ] || give_up "The tests left no results."
total=$(sed -n 's/.*<testsuite.* tests="\([0-9]*\)".*/\1/p; s/^[[:space:]]*tests="\([0-9]*\)".*/\1/p' "$results" | head -n 1)
passed=$(grep -c '<testcase.* status="run"' "$results")
skipped=$(grep -c '<skipped' "$results")
failed=$((${total:-0} - passed - skipped))
[ "$status" -eq 0 ] || [ "$failed" -gt 0 ] || failed=1 # ctest failed in another way: a test that could not be started
echo "$passed passed, $failed failed"
exit "$status"
