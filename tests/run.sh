#!/bin/sh
# Installs what is missing, builds, runs every test; the last line is `N passed, N failed`.
set -u
cd "$(dirname "$0")/.." || exit 2
. cli/packages.sh
# shellcheck disable=SC2086 # lists of names
install_packages $build_packages $test_packages || { echo "0 passed, 1 failed"; exit 2; }

if ! { cmake --preset dev && cmake --build --preset dev; }; then
  echo "The build failed; no test was run." >&2
  echo "0 passed, 1 failed"
  exit 1
fi
results=$PWD/build/dev/test-results.xml
rm -f "$results"
status=0
ctest --preset dev --output-junit "$results" || status=$?
total=$(sed -n 's/.*tests="\([0-9]*\)".*/\1/p' "$results" | head -n 1)
failed=$(sed -n 's/.*failures="\([0-9]*\)".*/\1/p' "$results" | head -n 1)
echo "$((${total:-0} - ${failed:-0})) passed, ${failed:-1} failed"
exit "$status"
