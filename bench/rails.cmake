# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(rails SOURCES rails_bench.cpp LIBS holdfast::rails)
