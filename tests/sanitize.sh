#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The suite under sanitizers, one executable after another, and 2,000 changed inputs to the command:
#   sh tests/sanitize.sh          address and undefined behaviour
#   sh tests/sanitize.sh tsan     threads: the tests that have them
# The browser's tests and those of the installed package are left out. An hour or two of two cores with the build.
set -u
cd "$(dirname "$0")/.." || exit 2
preset=${1:-asan}
cmake --preset "$preset" && cmake --build --preset "$preset" || exit 2
export UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1
tests=$(find "build/$preset/tests" -name '*_tests' -type f -perm -u+x | sort)
[ "$preset" != tsan ] || tests=$(echo "$tests" | grep -E '/(store|kept|kept_answers|geometry|graph|route|cable|command_store)_tests$')
status=0
for test in $tests; do
  filter='-Browser*'
  [ "$preset" != tsan ] || filter='*'
  if "$test" --gtest_brief=1 --gtest_filter="$filter" > "build/$preset/last.log" 2>&1; then
    echo "$(basename "$test"): $(grep -o '\[  PASSED  \] [0-9]*' "build/$preset/last.log" | tail -n 1)"
  else
    tail -n 40 "build/$preset/last.log"
    status=1
  fi
done
[ "$preset" = tsan ] || python3 tests/fuzz/mutated.py --runs 2000 "build/$preset/holdfast" || status=1
exit $status
