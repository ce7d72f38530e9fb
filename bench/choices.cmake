# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(choices
  SOURCES choices_bench.cpp
  LIBS holdfast::engine Boost::headers)
target_compile_definitions(choices_bench PRIVATE HOLDFAST_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
