# SPDX-License-Identifier: GPL-3.0-or-later
# Gecode is read here alone: the engine does not use it.
find_library(GECODE_SEARCH gecodesearch REQUIRED)
find_library(GECODE_MINIMODEL gecodeminimodel REQUIRED)
find_library(GECODE_INT gecodeint REQUIRED)
find_library(GECODE_KERNEL gecodekernel REQUIRED)
find_library(GECODE_SUPPORT gecodesupport REQUIRED)
holdfast_bench(ordering SOURCES ordering_bench.cpp
  LIBS holdfast::plan ${GECODE_SEARCH} ${GECODE_MINIMODEL} ${GECODE_INT} ${GECODE_KERNEL} ${GECODE_SUPPORT})
