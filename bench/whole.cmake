# SPDX-License-Identifier: GPL-3.0-or-later
holdfast_bench(whole SOURCES whole_bench.cpp ${PROJECT_SOURCE_DIR}/tests/geometry/second_opinion_cgal.cpp
  LIBS holdfast::engine CGAL::CGAL Boost::headers)
