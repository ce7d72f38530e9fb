holdfast_bench(tether SOURCES tether_bench.cpp LIBS holdfast::engine)
