#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The same questions to several builds of the command, or to one on several processors: the same bytes?
#   sh tests/determinism.sh build/dev/holdfast build/release/holdfast
#   sh tests/determinism.sh --few build/dev/holdfast "qemu-x86_64-static -cpu Nehalem build/dev/holdfast"
# --few: questions that take a second each, for an emulator. Nothing is kept from run to run. Exit code 1 and a list of
# the answers that differ, else 0.
set -u
cd "$(dirname "$0")/.." || exit 2
few=false
[ "${1-}" = --few ] && few=true && shift
[ $# -ge 2 ] || { sed -n '3,7s/^# //p' "$0" >&2; exit 2; }
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

yard=models/yard
small=tests/fuzz/model
block=tests/fuzz/block.obj
questions() {
  cat <<END
check $small --json
route $small --from hatch --to bench --json
route $small --from hatch --to bench --load crate --json
home $small --to hatch --json
tether $small --from hatch --to bench --tether reel --anchor hook --json
cable $small --cable cord --from plug-a --to plug-b --json
reach $small seat --for plug-b --json
sight $small --json
plan $small $small/excursion.yaml --json
rails $block --json
route $yard --from lock-hatch --to battery-bay --json
route $yard --from lock-hatch --to battery-bay --by distance
END
  $few || cat <<END
check $yard --json
check $yard --lose --from lock-hatch --to battery-bay --json
route $yard --from lock-hatch --to battery-bay --by moves --csv -FILE-
route $yard --from lock-hatch --to battery-bay --load bulky-bag --json
route $yard --from lock-hatch --to battery-bay --load tool-bag --brief
route $yard --from lock-hatch --to dish-service --json
route $yard --from lock-hatch --to spur-root --state dish=tracking --json
route $yard --from lock-hatch --to port-window --via mast-foot --json
route $yard --from lock-hatch --to battery-bay --alternatives 3 --json
route $yard --from lock-hatch --to battery-bay --trade-offs --json
route $yard --from lock-hatch --to battery-bay --threads 1 --json
route models/cabin --from hatch --to window --json
compare $yard --from lock-hatch --to battery-bay --load none --load bulky-bag --json
home $yard --to lock-hatch --json
home $yard --to lock-hatch --load crew-member --json
matrix $yard --json
tether $yard --from lock-hatch --to battery-bay --tether reel-26 --anchor hatch-anchor-1 --json
cable $yard --cable port-power --from stores-plug --to port-plug --json
cable $yard --cable hub-link --from stores-plug --to hub-plug --json
cable $yard --cable port-power --from stores-plug --to mast-foot --json
reach $yard port-socket --for port-plug --from lock-hatch --json
reach $yard --all --json
sight $yard --json
plan $yard $yard/excursion-short.yaml --json
plan $yard $yard/excursion.yaml --json
order $yard $yard/excursion-tasks.yaml --json
rails models/cabin/cabin.obj --json
draw $yard --svg -FILE-
draw $yard --html -FILE-
draw $yard --glb -FILE-
END
}

run=0
for program in "$@"; do
  run=$((run + 1))
  mkdir "$scratch/$run"
  number=0
  questions | while read -r words; do
    number=$((number + 1))
    out="$scratch/$run/$(printf %02d $number)"
    # shellcheck disable=SC2046,SC2086 # words
    XDG_CACHE_HOME="$scratch/cache-$run" $program $(echo "$words" | sed "s|-FILE-|$out.file|") --no-cache > "$out" 2> "$out.errors" < /dev/null
    echo "exit code $?" >> "$out"
    sed -i "s|$scratch/$run|SCRATCH|g" "$out" "$out.errors"
  done
done
status=0
run=1
for program in "$@"; do
  same=0 number=0
  questions > "$scratch/questions"
  while read -r words; do
    number=$((number + 1))
    name=$(printf %02d $number)
    differs=false
    for file in "$scratch/1/$name"*; do cmp -s "$file" "$scratch/$run/$(basename "$file")" || differs=true; done
    if $differs; then
      echo "differs: $program: $words"
      diff "$scratch/1/$name" "$scratch/$run/$name" | head -n 6
      status=1
    else
      same=$((same + 1))
    fi
  done < "$scratch/questions"
  [ $run -eq 1 ] || echo "$program: $same of $number answers are those of $1 to the byte"
  run=$((run + 1))
done
grep -l "exit code [3-9]\|exit code 1[0-9]" "$scratch"/*/?? && status=1
exit $status
