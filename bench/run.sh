#!/bin/sh
# Builds and runs all benchmarks; writes build/bench/*.json. bench/README.md says how to read them.
set -eu
cd "$(dirname "$0")/.."
. cli/packages.sh
# shellcheck disable=SC2086 # lists of names
install_packages $build_packages $bench_packages

cmake --preset bench >/dev/null
cmake --build --preset bench
context="--benchmark_context=commit=$(git rev-parse --short HEAD 2>/dev/null || echo unknown),compiler=$(c++ -dumpfullversion),cpu=$(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1 | tr ',=' '  ')"
for stage in geometry graph search; do
  build/bench/bench/${stage}_bench "$context" --benchmark_out="build/bench/$stage.json" --benchmark_out_format=json
done

# The whole command, files to answer.
start=$(date +%s%N)
for _ in 1 2 3 4 5; do build/bench/holdfast route models/yard --from lock-hatch --to beam-end --quiet >/dev/null; done
end=$(date +%s%N)
echo "route on the demo yard, whole command: $(((end - start) / 5000000)) ms (mean of 5)"
