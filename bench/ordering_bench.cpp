// SPDX-License-Identifier: GPL-3.0-or-later
// Orders of two crew members: the engine's search against constraint programming (Gecode) on the same instances, one
// thread each. The model in Gecode: a start for each task, one circuit over the tasks and two vehicles, legs by element
// constraints, the finish minimised; branching on the successor with the nearest start. State-dependent legs, items and
// optional tasks are not in it, so the instances have none.

#include <benchmark/benchmark.h>

#include <gecode/int.hh>
#include <gecode/minimodel.hh>
#include <gecode/search.hh>

#include "reference_order.h"

namespace {

using namespace holdfast::plan;

/// Nodes: tasks (a task for both twice), then start 1, start 2, end 1, end 2.
class Model : public Gecode::IntMinimizeSpace {
 public:
  explicit Model(const instances::Instance& instance) : finish_(*this, 0, 40'000'000) {
    using namespace Gecode;
    const auto& tasks = instance.problem.tasks;
    std::vector<int> node;  // of the matrix
    std::vector<int> duration, task_of;
    std::vector<std::vector<int>> copies(tasks.size());
    for (std::size_t t = 0; t < tasks.size(); ++t)
      for (int k = 0; k <= (tasks[t].together ? 1 : 0); ++k) {
        copies[t].push_back(static_cast<int>(node.size()));
        node.push_back(instance.travel.node_of[t]);
        duration.push_back(static_cast<int>(tasks[t].duration_us[0]));
        task_of.push_back(static_cast<int>(t));
      }
    const int visits = static_cast<int>(node.size());
    const int all = visits + 4;
    for (int k = 0; k < 4; ++k) node.push_back(0), duration.push_back(0);
    next_ = IntVarArray(*this, all, 0, all - 1);
    start_ = IntVarArray(*this, all, 0, 40'000'000);
    who_ = IntVarArray(*this, all, 0, 1);
    for (int c = 0; c < 2; ++c) {
      rel(*this, start_[visits + c] == 0);
      rel(*this, who_[visits + c] == c);
      rel(*this, who_[visits + 2 + c] == c);
      rel(*this, next_[visits + 2 + c] == visits + 1 - c);  // the end of one is followed by the start of the other
      rel(*this, finish_ >= start_[visits + 2 + c]);
    }
    circuit(*this, next_, IPL_DOM);
    for (int i = 0; i < visits + 2; ++i) {
      IntArgs leg(all);
      for (int j = 0; j < all; ++j)
        leg[j] = static_cast<int>(instance.travel.cost[static_cast<std::size_t>(node[static_cast<std::size_t>(i)])]
                                                      [static_cast<std::size_t>(node[static_cast<std::size_t>(j)])]);
      IntVar its_leg(*this, 0, 1'000'000), then(*this, 0, 40'000'000), whose(*this, 0, 1);
      element(*this, leg, next_[i], its_leg);
      element(*this, start_, next_[i], then);
      element(*this, who_, next_[i], whose);
      rel(*this, whose == who_[i]);
      rel(*this, then >= start_[i] + duration[static_cast<std::size_t>(i)] + its_leg);
    }
    for (std::size_t t = 0; t < tasks.size(); ++t) {
      for (const int a : tasks[t].after)
        rel(*this, start_[copies[t][0]] >= start_[copies[static_cast<std::size_t>(a)][0]] +
                                               static_cast<int>(tasks[static_cast<std::size_t>(a)].duration_us[0]));
      if (tasks[t].together) {
        rel(*this, start_[copies[t][0]] == start_[copies[t][1]]);
        rel(*this, who_[copies[t][0]] == 0);
        rel(*this, who_[copies[t][1]] == 1);
      } else if (tasks[t].crew != 3) {
        rel(*this, who_[copies[t][0]] == (tasks[t].crew == 1 ? 0 : 1));
      }
    }
    // The work and the legs of both fit between zero and the finish.
    IntVarArgs loads;
    int work = 0;
    for (int i = 0; i < visits; ++i) work += duration[static_cast<std::size_t>(i)];
    rel(*this, start_[visits + 2] + start_[visits + 3] >= work);
    branch(*this, next_, INT_VAR_SIZE_MIN(), INT_VAL_MIN());
    branch(*this, start_, INT_VAR_MIN_MIN(), INT_VAL_MIN());
    branch(*this, finish_, INT_VAL_MIN());
  }
  Model(Model& other) : IntMinimizeSpace(other) {
    next_.update(*this, other.next_);
    start_.update(*this, other.start_);
    who_.update(*this, other.who_);
    finish_.update(*this, other.finish_);
  }
  Gecode::Space* copy() override { return new Model(*this); }
  [[nodiscard]] Gecode::IntVar cost() const override { return finish_; }
  [[nodiscard]] std::int64_t finish() const { return finish_.val(); }

 private:
  Gecode::IntVarArray next_, start_, who_;
  Gecode::IntVar finish_;
};

void BM_Order_Ours(benchmark::State& state) {
  const auto instance = reference::excursion(static_cast<int>(state.range(0)), 1, static_cast<int>(state.range(1)));
  OrderAnswer answer;
  for (auto _ : state) answer = find_order(instance.problem, instance.travel);
  state.counters["finish_ms"] = static_cast<double>(answer.best ? answer.best->value.finish_us : 0);
  state.counters["gap"] = answer.gap();
  state.counters["nodes"] = static_cast<double>(answer.nodes);
}
BENCHMARK(BM_Order_Ours)
    ->ArgsProduct({{6, 8, 10, 12}, {0}})
    ->Args({12, 3})
    ->Args({20, 0})
    ->Unit(benchmark::kMillisecond)
    ->Iterations(1);

void BM_Order_Gecode(benchmark::State& state) {
  const auto instance = reference::excursion(static_cast<int>(state.range(0)), 1);
  Gecode::Search::TimeStop stop(60'000);
  Gecode::Search::Options options;
  options.threads = 1;
  options.stop = &stop;
  std::int64_t finish = 0;
  bool is_proven = false;
  for (auto _ : state) {
    auto* root = new Model(instance);
    Gecode::BAB<Model> search(root, options);
    delete root;
    while (Model* found = search.next()) {
      finish = found->finish();
      delete found;
    }
    is_proven = !search.stopped();
  }
  const auto ours = find_order(instance.problem, instance.travel);
  if (is_proven && ours.outcome == OrderOutcome::Best && ours.best->value.finish_us != finish)
    state.SkipWithError("the finishes differ");
  state.counters["finish_ms"] = static_cast<double>(finish);
  state.counters["proven"] = is_proven;
}
BENCHMARK(BM_Order_Gecode)->Arg(6)->Arg(8)->Arg(10)->Arg(12)->Unit(benchmark::kMillisecond)->Iterations(1);

}  // namespace

BENCHMARK_MAIN();
