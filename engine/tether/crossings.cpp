#include <algorithm>
#include <array>
#include <optional>

#include "trail_impl.h"

namespace holdfast::tether::detail {

namespace {

/// Where the segment goes through the triangle, and in which sense; 0 where it does not.
int pierces(const Vec3& from, const Vec3& to, const std::array<Vec3, 3>& triangle, Vec3& at) {
  const Vec3 normal = (triangle[1] - triangle[0]).cross(triangle[2] - triangle[0]);
  const double before = normal.dot(from - triangle[0]), after = normal.dot(to - triangle[0]);
  if ((before < 0) == (after < 0) || before == after) return 0;
  at = from + before / (before - after) * (to - from);
  for (int k = 0; k < 3; ++k) {
    const Vec3& a = triangle[static_cast<std::size_t>(k)];
    const Vec3& b = triangle[static_cast<std::size_t>((k + 1) % 3)];
    if (normal.dot((b - a).cross(at - a)) < 0) return 0;
  }
  return after > before ? 1 : -1;
}

/// A mover passes a line where it goes through the curtain that hangs from the structure under the hands, past the
/// hands and the body, and on outward: below the body one goes over the line, beyond it under the line.
class Curtain {
 public:
  Curtain(const Step& from, const Step& to) {
    constexpr double down_m = 0.4, up_m = 4.0;  // the surface under a rail; a line hanging free beyond the body
    const auto hang = [&](const Step& step) {
      const Vec3 out = (step.body - step.hand).normalized();
      return std::array<Vec3, 3>{step.hand - down_m * out, step.body, step.body + up_m * out};
    };
    const auto a = hang(from), b = hang(to);
    for (std::size_t band = 0; band < 2; ++band) {
      bands_[band][0] = {a[band], b[band], b[band + 1]};
      bands_[band][1] = {a[band], b[band + 1], a[band + 1]};
    }
  }
  struct Pass {
    bool is_over;
    int sense;
    Vec3 at;
  };
  [[nodiscard]] std::vector<Pass> passes(const std::vector<Vec3>& line) const {
    std::vector<Pass> found;
    for (std::size_t band = 0; band < 2; ++band)
      for (const auto& triangle : bands_[band])
        for (std::size_t i = 1; i < line.size(); ++i) {
          Vec3 at;
          if (const int sense = pierces(line[i - 1], line[i], triangle, at); sense != 0)
            found.push_back({band == 0, sense, at});
        }
    return found;
  }

 private:
  std::array<std::array<std::array<Vec3, 3>, 2>, 2> bands_;
};

struct Event {
  Crossing crossing;
  int sense;
};

/// What `mover` passes of the lines of `other`, in time.
void collect(const Mover& mover, const Mover& other, bool second_moves, std::vector<Event>& events) {
  const std::size_t begun = events.size();
  std::size_t there = 0;
  for (std::size_t i = 1; i < mover.steps.size(); ++i) {
    const Step& from = mover.steps[i - 1];
    const Step& to = mover.steps[i];
    if ((to.hand - from.hand).norm() < 1e-9 && (to.body - from.body).norm() < 1e-9) continue;
    while (there + 1 < other.steps.size() && other.steps[there + 1].at_s <= to.at_s) ++there;
    if (other.steps[there].at_s > to.at_s) continue;  // not outside yet
    for (const auto& pass : Curtain(from, to).passes(other.lines[there])) {
      // On the seam of two curtains, or of their halves, a line is met twice.
      constexpr double same_m = 0.01;
      const bool is_seam = events.size() > begun && events.back().sense == pass.sense &&
                           events.back().crossing.is_over == pass.is_over &&
                           (events.back().crossing.point - pass.at).norm() < same_m;
      if (!is_seam) events.push_back({{to.at_s, second_moves, pass.is_over, to.at, pass.at}, pass.sense});
    }
  }
}

}  // namespace

Crossings find_crossings(const Mover& first, const Mover& second) {
  std::vector<Event> events;
  collect(first, second, false, events);
  collect(second, first, true, events);
  std::stable_sort(events.begin(), events.end(),
                   [](const Event& x, const Event& y) { return x.crossing.at_s < y.crossing.at_s; });
  // Who passes back the way they came has undone it.
  std::vector<Event> kept;
  for (auto& event : events) {
    if (!kept.empty() && kept.back().crossing.second_moves == event.crossing.second_moves &&
        kept.back().crossing.is_over == event.crossing.is_over && kept.back().sense == -event.sense)
      kept.pop_back();
    else
      kept.push_back(std::move(event));
  }
  Crossings crossings;
  for (auto& event : kept) crossings.events.push_back(event.crossing);
  for (std::size_t i = crossings.events.size(); i-- > 0;) crossings.undo.push_back(i);
  return crossings;
}

}  // namespace holdfast::tether::detail
