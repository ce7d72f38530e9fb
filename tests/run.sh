#!/bin/sh
# Installs what is missing, builds, runs every test; ends with `N passed, N failed`.
set -eu
cd "$(dirname "$0")/.."
. cli/packages.sh
install_packages $build_packages $test_packages

cmake --preset dev
cmake --build --preset dev
status=0
ctest --preset dev --output-junit test-results.xml || status=$?
results=build/dev/test-results.xml
total=$(sed -n 's/.*tests="\([0-9]*\)".*/\1/p' $results | head -n 1)
failed=$(sed -n 's/.*failures="\([0-9]*\)".*/\1/p' $results | head -n 1)
echo "$((total - failed)) passed, $failed failed"
exit $status
