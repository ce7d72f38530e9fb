#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs the fuzz targets under libFuzzer with address and undefined-behaviour sanitizers, one after another, from their
# seeds: sh tests/fuzz/run.sh [SECONDS [TARGET...]]    60 s each when not given
# Needs clang 16 with its run-time library (Debian: clang-16 libclang-rt-16-dev). An input that ends a target, takes over
# 10 s or over 1 GiB is kept in build/fuzz/found. What reached new code is kept in build/fuzz/corpus for the next run.
set -u
cd "$(dirname "$0")/../.." || exit 2
seconds=${1:-60}
[ $# -gt 0 ] && shift
targets=${*:-mesh model table excursion result store route}
compiler=${CXX:-clang++-16}
command -v "$compiler" > /dev/null || { echo "no $compiler: apt-get install clang-16 libclang-rt-16-dev" >&2; exit 2; }
[ -f build/fuzz/build.ninja ] || CXX=$compiler cmake --preset fuzz || exit 2
mkdir -p build/fuzz/found
status=0
for target in $targets; do
  cmake --build build/fuzz --target "${target}_fuzzer" || exit 2
  mkdir -p "build/fuzz/corpus/$target"
  if UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1 "build/fuzz/tests/fuzz/${target}_fuzzer" -max_total_time="$seconds" -timeout=10 \
    -rss_limit_mb=1024 -max_len=40000 -artifact_prefix="build/fuzz/found/$target-" "build/fuzz/corpus/$target" "tests/fuzz/seeds/$target" \
    > "build/fuzz/$target.log" 2>&1; then
    tail -n 1 "build/fuzz/$target.log" | sed "s/^/$target: /"
  else
    tail -n 30 "build/fuzz/$target.log"
    status=1
  fi
done
exit $status
