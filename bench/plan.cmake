# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(plan SOURCES plan_bench.cpp LIBS holdfast::plan)
