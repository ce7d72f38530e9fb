# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(picture SOURCES picture_bench.cpp LIBS holdfast::engine)
target_compile_definitions(picture_bench PRIVATE HOLDFAST_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
