# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(store SOURCES store_bench.cpp LIBS holdfast::engine)
target_compile_definitions(store_bench PRIVATE HOLDFAST_COMMAND="$<TARGET_FILE:holdfast>")
add_dependencies(store_bench holdfast)
