#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Builds the bench preset and runs all benchmarks, or those named (geometry, graph, search ...): JSON into
# build/bench/results, one file a benchmark and run. README.md says how to read it.
set -eu
cd "$(dirname "$0")/.."
. cli/packages.sh
# shellcheck disable=SC2086 # lists of names
install_packages $build_packages $bench_packages
cmake --preset bench >&2
cmake --build --preset bench >&2

results=build/bench/results
mkdir -p "$results"
commit=$(git describe --always --dirty 2>/dev/null || echo unknown)
compiler=$(sed -n 's/^CMAKE_CXX_COMPILER:[A-Z]*=//p' build/bench/CMakeCache.txt)
compiler="$(basename "$compiler") $("$compiler" -dumpfullversion)"
flags=$(sed -n 's/^CMAKE_CXX_FLAGS_RELEASE:[A-Z]*=//p' build/bench/CMakeCache.txt)
cpu=$(sed -n 's/^model name[[:space:]]*: //p' /proc/cpuinfo | head -n 1 | tr ',=' '  ')
stamp=$(date -u +%Y%m%dT%H%M%SZ)
for program in build/bench/bench/*_bench; do
  name=$(basename "$program" _bench)
  [ $# -eq 0 ] || case " $* " in *" $name "*) ;; *) continue ;; esac
  out="$results/$name-$stamp.json"
  "$program" --benchmark_out="$out" --benchmark_out_format=json \
    --benchmark_context="commit=$commit,compiler=$compiler,flags=$flags,cpu=${cpu:-unknown},threads=$(nproc)"
  echo "written: $out" >&2
done
