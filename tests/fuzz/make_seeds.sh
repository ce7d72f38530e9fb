#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Makes the seeds of results anew, from the small model beside this: sh tests/fuzz/make_seeds.sh build/dev/holdfast
# They hold digests of the model's files, and are refused after one of these changes.
set -eu
command=$(realpath "$1")
cd "$(dirname "$0")"
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
export XDG_CACHE_HOME="$scratch/cache"

# seed NAME WORDS...: what the command prints, without what JSON does not need.
seed() {
  name=$1
  shift
  "$command" "$@" --json > "$scratch/$name.json" || [ $? -eq 1 ]
  sed 's/^ *//; s/": /":/' "$scratch/$name.json" | tr -d '\n' > "seeds/result/$name"
}
mkdir -p seeds/result
seed route route model --from hatch --to bench
seed refusal route model --from hatch --to bench --close line-1 --close line-2 --close side-1 --close side-2
seed towed route model --from hatch --to bench --load crate
seed alternatives route model --from hatch --to bench --alternatives 2
seed trade-offs route model --from hatch --to bench --trade-offs
seed comparison compare model --from hatch --to shelf --load none --load bag
seed home home model --to hatch
seed tether tether model --from hatch --to bench --tether reel --anchor hook
seed cable cable model --cable cord --from plug-a --to plug-b
seed stage cable model --cable cord --from plug-a --to shelf
seed reach reach model seat --for plug-b
seed sight sight model
seed plan plan model model/excursion.yaml
seed rails rails block.obj
