// SPDX-License-Identifier: GPL-3.0-or-later
#include <cstdio>

#include "holdfast/model/read.h"
#include "holdfast/report/report.h"
#include "holdfast/route/route.h"

using namespace holdfast;

int main(int, char** argv) {
  const auto model = model::read_model(argv[1]);
  const auto scene = geometry::build_scene(model.structure, model.structure.default_configuration());
  const auto& suit = model.kit.suits.front();
  const auto graph = graph::build_handrail_graph(scene, graph::body_of(suit, model.kit.design));
  const auto answer =
      route::find_route(graph, {.kit = model.kit, .suit = suit}, {.from = "lock-hatch", .to = "beam-end"});
  std::fputs(report::text({model.structure, model.kit, suit, argv[1], "consumer"}, answer).c_str(), stdout);
  return answer.route() ? 0 : 1;
}
