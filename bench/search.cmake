holdfast_bench(search SOURCES search_bench.cpp LIBS holdfast::search Boost::headers)
