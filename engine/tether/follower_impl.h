// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A tether along a path, grip by grip, as a reel keeps its line taut.

#include <vector>

#include "trail_impl.h"

namespace holdfast::tether::detail {

/// Zones for tethers that hold.
[[nodiscard]] std::vector<model::ZoneId> tether_zones(const graph::HandrailGraph& graph);

/// Follows steps and looks at the line at every grip, and at what it sweeps between them: rows only gather what was
/// seen, so that the same path told in other rows gets the same verdict.
class Follower {
 public:
  /// Keeps references to the graph and the tether.
  Follower(const graph::HandrailGraph& graph, const model::Tether& tether, route::Hook anchor);

  void follow(const std::vector<Step>& steps);

  std::vector<LineMark> marks;    ///< one a row, and one more where a tether swap is done
  std::vector<ZoneStay> zones;    ///< in the order of the file
  std::vector<LineState> states;  ///< at every grip, and again after each tether swap
  struct Stay {
    route::Hook hook;
    double most_m;
    std::size_t first_mark;
  };
  /// Hooks with what is out from them at most.
  [[nodiscard]] std::vector<Stay> stays() const;
  /// The first step at which the line was in a zone that it must not be in, or too long in one with a limit.
  struct Breach {
    std::size_t step = 0;
    double gone_m = 0;  ///< the path since the hook
  };
  [[nodiscard]] const std::optional<Breach>& breach() const { return breach_; }
  [[nodiscard]] Breach here() const { return {step_, gone_}; }

 private:
  void swap_to(const std::string& hook, const Step& step);
  void look(double since_s);
  void mark(const Step& step);
  void enter(model::ZoneId zone, double seconds);

  const graph::HandrailGraph& graph_;
  const model::Tether& tether_;
  route::Hook hook_;
  Reel reel_;
  const std::vector<model::ZoneId> tether_zones_;
  double gone_ = 0;
  std::vector<Vec3> last_line_;  // at the last look; empty: a new hook
  struct Row {                   // since the last mark
    double most_m = 0, least_m = 0;
    std::vector<model::PartId> bears_on;
    std::vector<model::ZoneId> zones;
  } row_;
  std::vector<Stay> stays_;
  double stay_most_ = 0;
  std::size_t stay_first_ = 0;
  std::size_t hooks_ = 0;  // before this one
  std::size_t step_ = 0;
  std::optional<Breach> breach_;
};

}  // namespace holdfast::tether::detail
