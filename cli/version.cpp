// SPDX-License-Identifier: GPL-3.0-or-later
#include "version.h"

#include <CGAL/version.h>
#include <fmt/core.h>
#include <openssl/crypto.h>
#include <tbb/version.h>

#include <CLI/Version.hpp>
#include <Eigen/Core>
#include <boost/version.hpp>
#include <nlohmann/json_fwd.hpp>

// CGAL has its version as bare tokens.
#define HOLDFAST_TEXT_OF(tokens) #tokens
#define HOLDFAST_TEXT(macro) HOLDFAST_TEXT_OF(macro)

namespace holdfast::cli {

std::string version_words() {
  return fmt::format(
      "holdfast {}\n"
      "built by {} {} as {}\n"
      "with Boost {}.{}.{}, CGAL {}, CLI11 {}, Eigen {}.{}.{}, fmt {}.{}.{}, JSON {}.{}.{}, oneTBB {}, {}, yaml-cpp {}",
      HOLDFAST_VERSION, HOLDFAST_COMPILER, HOLDFAST_COMPILER_VERSION, HOLDFAST_BUILD, BOOST_VERSION / 100'000,
      BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100, HOLDFAST_TEXT(CGAL_VERSION), CLI11_VERSION, EIGEN_WORLD_VERSION,
      EIGEN_MAJOR_VERSION, EIGEN_MINOR_VERSION, FMT_VERSION / 10'000, FMT_VERSION / 100 % 100, FMT_VERSION % 100,
      NLOHMANN_JSON_VERSION_MAJOR, NLOHMANN_JSON_VERSION_MINOR, NLOHMANN_JSON_VERSION_PATCH, TBB_VERSION_STRING,
      OpenSSL_version(OPENSSL_VERSION), HOLDFAST_YAML_VERSION);
}

}  // namespace holdfast::cli
