# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(cable
  SOURCES cable_bench.cpp
  LIBS holdfast::engine TBB::tbb Boost::headers)
target_compile_definitions(cable_bench PRIVATE HOLDFAST_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
