# SPDX-License-Identifier: GPL-3.0-or-later
# Debian packages by CPack: `holdfast`, the command with its pages and the models, and `libholdfast-dev`, the library.
#   cmake --build build/release && (cd build/release && cpack)
# try_packages.sh beside this tries both on a clean Debian 12.
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME holdfast)
set(CPACK_PACKAGE_CONTACT "holdfast developers <holdfast@localhost>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY ${PROJECT_DESCRIPTION})
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_COMPONENTS_ALL command library)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_COMMAND_PACKAGE_NAME holdfast)
set(CPACK_DEBIAN_COMMAND_PACKAGE_SECTION science)
set(CPACK_DEBIAN_COMMAND_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_NAME libholdfast-dev)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_SECTION libdevel)
# What the package's config file looks for, and what its static libraries link.
set(CPACK_DEBIAN_LIBRARY_PACKAGE_DEPENDS "libeigen3-dev, libboost-dev, libtbb-dev, libfmt-dev, libyaml-cpp-dev, libssl-dev, nlohmann-json3-dev, libnanoflann-dev, libtinygltf-dev, libcsv-dev, libgmp-dev, libmpfr-dev")
include(CPack)
