# SPDX-License-Identifier: GPL-3.0-or-later
# Debian packages that building, testing and benchmarks need, and a function that installs the missing ones. Sourced by
# the scripts.
build_packages="g++ cmake ninja-build ccache libcgal-dev libgmp-dev libmpfr-dev libeigen3-dev libboost-graph-dev libtbb-dev libfmt-dev libyaml-cpp-dev libcsv-dev libssl-dev libcli11-dev libnanoflann-dev nlohmann-json3-dev libjs-three libtinygltf-dev"
test_packages="librapidcheck-dev libassimp-dev libgtest-dev libgmock-dev libvalijson-dev libfcl-dev liblemon-dev coinor-libipopt-dev pkg-config assimp-testmodels libpugixml-dev fonts-dejavu-core chromium/chromium node/nodejs npm/npm"
bench_packages="libbenchmark-dev libgecode-dev"

# install_packages NAME...: by apt, as root or with sudo, and only what is missing. COMMAND/NAME is missing only where
# there is no such command, wherever it came from. Fails with a message.
install_packages() {
  missing=""
  for package in "$@"; do
    case "$package" in
      */*)
        command -v "${package%%/*}" >/dev/null && continue
        package=${package##*/}
        ;;
    esac
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing="$missing $package"
  done
  [ -n "$missing" ] || return 0
  command -v apt-get >/dev/null || { echo "These packages are missing, and apt-get is not here:$missing" >&2; return 1; }
  sudo=""
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || { echo "These packages are missing, and neither root nor sudo is at hand:$missing" >&2; return 1; }
    sudo="sudo"
  fi
  echo "Installing:$missing" >&2
  # shellcheck disable=SC2086 # a list of names
  $sudo apt-get update -qq >&2 &&
    $sudo env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null ||
    { echo "Installing failed:$missing" >&2; return 1; }
}
