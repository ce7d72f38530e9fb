# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(graph SOURCES graph_bench.cpp LIBS holdfast::engine)
