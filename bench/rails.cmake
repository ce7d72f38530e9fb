holdfast_bench(rails SOURCES rails_bench.cpp LIBS holdfast::rails)
