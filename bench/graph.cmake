holdfast_bench(graph SOURCES graph_bench.cpp LIBS holdfast::engine)
