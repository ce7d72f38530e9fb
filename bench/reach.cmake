# SPDX-License-Identifier: GPL-3.0-or-later
find_package(TBB REQUIRED)
holdfast_bench(reach SOURCES reach_bench.cpp ${PROJECT_SOURCE_DIR}/tests/geometry/second_opinion_cgal.cpp LIBS holdfast::engine CGAL::CGAL TBB::tbb)
