#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# try_packages.sh BUILD [ROOT]: makes the Debian packages of a build folder, installs them in a clean Debian 12 root (made
# by debootstrap, kept in ROOT for the next time), runs the command there and builds the example project against the
# library. Needs root, and a Debian mirror. Prints `packages work` at the end.
set -eu
build=$(cd "$1" && pwd)
root=${2:-/var/tmp/holdfast-root}
source=$(cd "$(dirname "$0")/../.." && pwd)
. "$source/cli/packages.sh"
install_packages debootstrap
[ -x "$root/usr/bin/apt-get" ] || debootstrap --variant=minbase bookworm "$root" http://deb.debian.org/debian >/dev/null
rm -rf "$root/root/try"
mkdir -p "$root/root/try"
(cd "$build" && cpack -B "$root/root/try") >/dev/null
cp -R "$source/tests/consumer/project" "$root/root/try/project"
cat >"$root/root/try/inside.sh" <<'INSIDE'
set -eu
export DEBIAN_FRONTEND=noninteractive
install() { apt-get install -y -qq --no-install-recommends "$@" >/dev/null; }
cd /root/try
apt-get update -qq
apt-get purge -y -qq holdfast libholdfast-dev >/dev/null 2>&1 || true
install ./holdfast_*.deb
holdfast --version
holdfast check /usr/share/holdfast/models/yard >/dev/null
holdfast route /usr/share/holdfast/models/yard --from lock-hatch --to battery-bay | head -n 1
install g++ cmake make ./libholdfast-dev_*.deb
cmake -S project -B built >/dev/null
cmake --build built >/dev/null
./built/consumer /usr/share/holdfast/models/yard
INSIDE
mount --bind /proc "$root/proc"
trap 'umount "$root/proc"' EXIT
chroot "$root" sh /root/try/inside.sh
echo "packages work"
