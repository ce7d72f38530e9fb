# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(search SOURCES search_bench.cpp LIBS holdfast::search Boost::headers)
