#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Builds the bench preset and runs all benchmarks, or those named (geometry, graph, search ...): JSON into
# build/bench/results, one file a benchmark and run, and a table of them against targets.csv at the end.
# --short first: those of the table alone that are quick, about two minutes. README.md says how to read it.
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
short=""
if [ "${1:-}" = --short ]; then
  short=$(build/bench/bench/bench_table --filter bench/targets.csv)
  shift
fi
cpu=$(sed -n 's/^model name[[:space:]]*: //p' /proc/cpuinfo | head -n 1 | tr ',=' '  ')
stamp=$(date -u +%Y%m%dT%H%M%SZ)
written=""
for program in build/bench/bench/*_bench; do
  name=$(basename "$program" _bench)
  [ $# -eq 0 ] || case " $* " in *" $name "*) ;; *) continue ;; esac
  out="$results/$name-$stamp.json"
  # shellcheck disable=SC2086 # no option, or one without spaces
  "$program" ${short:+"--benchmark_filter=$short" --benchmark_min_time=0.1} --benchmark_out="$out" --benchmark_out_format=json \
    --benchmark_context="commit=$commit,compiler=$compiler,flags=$flags,cpu=${cpu:-unknown},threads=$(nproc)"
  echo "written: $out" >&2
  written="$written $out"
done
echo
# shellcheck disable=SC2086 # file names without spaces
build/bench/bench/bench_table bench/targets.csv $written
