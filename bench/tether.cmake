# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(tether SOURCES tether_bench.cpp LIBS holdfast::engine)
