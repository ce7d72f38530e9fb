# Debian packages that building and testing need, and a function that installs the missing ones. Sourced by the scripts.
build_packages="g++ cmake ninja-build ccache libcgal-dev libgmp-dev libmpfr-dev libeigen3-dev libboost-graph-dev libtbb-dev libassimp-dev libfmt-dev libyaml-cpp-dev libcsv-dev libssl-dev libcli11-dev libnanoflann-dev nlohmann-json3-dev"
test_packages="libgtest-dev libgmock-dev libvalijson-dev libfcl-dev liblemon-dev libigraph-dev assimp-testmodels"
bench_packages="libbenchmark-dev"

install_packages() {
  missing=""
  for package in "$@"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing="$missing $package"
  done
  [ -n "$missing" ] || return 0
  echo "Installing:$missing" >&2
  sudo=""
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || { echo "These packages are missing and neither root nor sudo is at hand:$missing" >&2; exit 2; }
    sudo="sudo"
  fi
  $sudo apt-get update -qq
  # shellcheck disable=SC2086 # a list of names
  $sudo env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null
}
