// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Trusses made at random whose nodes are plates, with or without handrails on posts: what is a member is known, and
// what is a rail.

#include <Eigen/Geometry>
#include <numbers>
#include <optional>
#include <random>

#include "railed_mesh.h"

namespace holdfast::support {

/// A truss with node plates: its members are in `members`, handrails on it in `railed.rails`.
struct GussetTruss {
  RailedMesh railed;
  std::vector<std::pair<Vec3, Vec3>> members;
  double member_m = 0;
};

class GussetTrussMaker {
 public:
  explicit GussetTrussMaker(unsigned seed) : random_(seed) {}

  /// `finish`, where given, has the mesh last, and may make another of it.
  GussetTruss make(const std::function<TriangleMesh(const TriangleMesh&)>& finish = {}) {
    const int faces = pick(0, 2);  // plane, three chords, four
    bracing_ = pick(0, 4);
    bays_ = pick(2, 6), corners_ = faces == 0 ? 2 : faces + 2;
    bay_ = real(0.6, 1.8), width_ = real(0.6, 1.6), turn_ = real(0, 3);
    chord_ = real(0.012, 0.045), web_ = chord_ * real(0.5, 1);
    is_square_ = chance(0.3), sides_ = pick(5, 24);
    plates_ = static_cast<Plates>(pick(0, 4));
    plate_.thickness = real(0.004, 0.016), plate_.half_length = real(0.06, 0.22), plate_.depth = real(0.08, 0.3);
    plate_.over = chance(0.5) ? chord_ + real(0, 0.02) : real(0, 0.5) * chord_, plate_.is_cut = chance(0.5);
    webs_stop_ = chance(0.6), chords_stop_ = chance(0.3);
    lap_ = real(0.02, 0.09);
    for (int k = 0; k < corners_; ++k) chord(k);
    for (int k = 0; k < (corners_ == 2 ? 1 : corners_); ++k) face(k);
    // Among sheets nothing tells whether a post's foot is inside a chord: they carry none.
    if (chance(0.5) && plates_ != Plates::Sheets) handrails();
    const Eigen::AngleAxisd turned(real(0, 3), Vec3(real(-1, 1), real(-1, 1), real(-1, 1)).normalized());
    const auto place = [&](const Vec3& p) { return Vec3(turned * p + Vec3(3, -2, 5)); };
    for (auto& v : out_.railed.mesh.vertices) v = place(v);
    for (auto& [a, b] : out_.members) a = place(a), b = place(b);
    for (auto& rail : out_.railed.rails) {
      for (auto& p : rail.line) p = place(p);
      for (auto& n : rail.outward) n = turned * n;
    }
    out_.railed.what = what();
    if (chance(0.3)) decimate(out_.railed.mesh, 0.0005, random_), out_.railed.what += ", decimated";
    if (chance(0.5)) {
      out_.railed.what += ", perturbed";
      std::map<std::array<double, 3>, Vec3> moved;
      for (auto& v : out_.railed.mesh.vertices)
        v += moved.try_emplace({v.x(), v.y(), v.z()}, 0.0006 * Vec3(real(-1, 1), real(-1, 1), real(-1, 1)))
                 .first->second;
    }
    if (finish) out_.railed.mesh = finish(out_.railed.mesh);
    return std::move(out_);
  }

 private:
  enum class Plates { Middle, OneSide, BothSides, Sheets, Hubs };
  struct Plate {
    double thickness = 0, half_length = 0, depth = 0, over = 0;
    bool is_cut = false;  ///< its inner corners
  };

  double real(double low, double high) { return std::uniform_real_distribution<double>(low, high)(random_); }
  int pick(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }
  bool chance(double p) { return real(0, 1) < p; }

  [[nodiscard]] Vec3 at(int k, double x) const {
    if (corners_ == 2) return {x, 0, (k % 2) * width_};
    const double a = 2 * std::numbers::pi * k / corners_ + turn_;
    return {x, width_ / 1.4 * std::cos(a), width_ / 1.4 * std::sin(a)};
  }
  [[nodiscard]] std::string what() const {
    static const std::array<const char*, 5> names = {"N", "Warren", "X", "K", "Vierendeel"};
    static const std::array<const char*, 5> sides = {"plates in the middle", "plates on one side",
                                                     "plates on both sides", "sheets", "hubs"};
    return std::string(names[static_cast<std::size_t>(bracing_)]) + ", " + std::to_string(corners_) + " chords, " +
           (is_square_ ? "square" : std::to_string(sides_) + " sides") + ", " +
           sides[static_cast<std::size_t>(plates_)] + (webs_stop_ ? ", webs stop" : "") +
           (chords_stop_ ? ", chords stop" : "") + (out_.railed.rails.empty() ? "" : ", handrails");
  }

  void bar(const Vec3& a, const Vec3& b, double radius, const Vec3& up) {
    const auto outline = is_square_ ? square_outline(2 * radius) : round_outline(2 * radius, sides_, 0);
    sweep(out_.railed.mesh, {a, b}, std::vector<Vec3>(2, up), outline, false, {true, true});
    out_.members.emplace_back(a, b), out_.member_m += (b - a).norm();
  }
  void chord(int k) {
    const Vec3 up = Vec3::UnitX().cross(Vec3(0, 0.3, 1)).normalized();
    if (!chords_stop_) return bar(at(k, 0), at(k, bay_ * bays_), chord_, up);
    for (int i = 0; i < bays_; ++i) bar(at(k, bay_ * i + 0.005), at(k, bay_ * (i + 1) - 0.005), chord_, up);
  }

  /// From the node at the chord of `a` to that of `b`; `normal` is the face's.
  void web(const Vec3& a, const Vec3& b, const Vec3& normal, bool ends_at_chord = true) {
    const Vec3 d = (b - a).normalized(), across = normal.cross(Vec3::UnitX()).normalized();
    Vec3 from = a, to = b;
    if (webs_stop_ && plates_ != Plates::Hubs) {
      // Where the bar leaves the plate, less what it laps it by.
      const double along = std::abs(d.x()), deep = std::abs(d.dot(across));
      const double out =
          std::min(along > 1e-9 ? plate_.half_length / along : 9.0, deep > 1e-9 ? plate_.depth / deep : 9.0);
      const double stop = std::max(0.0, std::min(out - lap_, 0.35 * (b - a).norm()));
      from += stop * d;
      if (ends_at_chord) to -= stop * d;
    }
    bar(from, to, web_, normal);
  }

  void face(int k) {
    const Vec3 across = (at(k + 1, 0) - at(k, 0)).normalized(), normal = Vec3::UnitX().cross(across);
    for (int i = 0; i <= bays_; ++i) {
      const double x = bay_ * i, half = bay_ * (i + 0.5), next = bay_ * (i + 1);
      if (bracing_ != 1) web(at(k, x), at(k + 1, x), normal);  // Warren has no verticals
      plate(at(k, x), across, normal), plate(at(k + 1, x), -across, normal);
      if (i == bays_) break;
      if (bracing_ == 0) web(at(k + i % 2, x), at(k + 1 - i % 2, next), normal);
      if (bracing_ == 1) {
        web(at(k, x), at(k + 1, half), normal), web(at(k + 1, half), at(k, next), normal);
        plate(at(k + 1, half), -across, normal);
      }
      if (bracing_ == 2) web(at(k, x), at(k + 1, next), normal), web(at(k + 1, x), at(k, next), normal);
      if (bracing_ == 3) {
        const Vec3 middle = (at(k, next) + at(k + 1, next)) / 2;
        web(at(k, x), middle, normal, false), web(at(k + 1, x), middle, normal, false);
      }
    }
  }

  void plate(const Vec3& node, const Vec3& inward, const Vec3& normal) {
    const auto one = [&](double off) {
      const double h = plate_.half_length, d = plate_.depth, o = -plate_.over, t = plate_.thickness / 2;
      std::vector<Eigen::Vector2d> outline = {{-h, o}, {h, o}, {h, d}, {-h, d}};
      if (plate_.is_cut) outline = {{-h, o}, {h, o}, {h, 0.5 * d}, {0.5 * h, d}, {-0.5 * h, d}, {-h, 0.5 * d}};
      const auto base = static_cast<std::uint32_t>(out_.railed.mesh.vertices.size());
      const auto n = static_cast<std::uint32_t>(outline.size());
      for (const double s : {off - t, off + t})
        for (const auto& p : outline)
          out_.railed.mesh.vertices.push_back(node + p.x() * Vec3::UnitX() + p.y() * inward + s * normal);
      auto& triangles = out_.railed.mesh.triangles;
      for (std::uint32_t i = 1; i + 1 < n; ++i) {
        triangles.push_back({base, base + i + 1, base + i});
        if (plates_ != Plates::Sheets) triangles.push_back({base + n, base + n + i, base + n + i + 1});
      }
      if (plates_ == Plates::Sheets) return;
      for (std::uint32_t i = 0; i < n; ++i) {
        const auto a = base + i, b = base + (i + 1) % n;
        triangles.push_back({a, b, b + n}), triangles.push_back({a, b + n, a + n});
      }
    };
    const double aside = web_ + plate_.thickness / 2;
    if (plates_ == Plates::Hubs) {  // a drum across the face
      const double h = 1.3 * chord_;
      sweep(out_.railed.mesh, {node - h * normal, node + h * normal}, std::vector<Vec3>(2, Vec3::UnitX()),
            round_outline(plate_.half_length, 16, 0), false, {true, true});
      return;
    }
    if (plates_ == Plates::Middle || plates_ == Plates::Sheets) return one(0);
    one(aside);
    if (plates_ == Plates::BothSides) one(-aside);
  }

  /// Along the chords, one a bay or over several, away from the middle of the truss (of a plane one: off its plane).
  void handrails() {
    for (int k = 0; k < corners_; ++k) {
      Vec3 out = corners_ == 2 ? Vec3(0, k == 0 ? 1 : -1, 0) : Vec3(at(k, 0) - Vec3(0, 0, 0));
      out.x() = 0, out.normalize();
      const double diameter = real(0.025, 0.04), gap = real(0.062, 0.11);
      // Beyond the chord and the plates or hubs that stand out past it.
      const double beside = plates_ == Plates::Hubs ? 1.3 * chord_ : web_ + plate_.thickness;
      const double past = plates_ == Plates::Hubs ? plate_.half_length / 2 : std::max(plate_.over, chord_);
      const double off = std::max(std::hypot(beside, past), chord_ * (is_square_ ? 1.42 : 1)) + gap + diameter / 2;
      double x = real(0.1, 0.3);
      while (x < bays_ * bay_ - 0.6) {
        const double length = std::min(real(0.5, 2.2), bays_ * bay_ - 0.1 - x);
        const Vec3 a = at(k, x) + off * out, b = at(k, x + length) + off * out;
        const auto outline =
            chance(0.5) ? round_outline(diameter, pick(6, 24), 0) : racetrack_outline(0.035, 0.019, 12);
        sweep(out_.railed.mesh, {a, b}, {out, out}, outline, false, {true, true});
        for (const double s : {0.06, length - 0.06}) {
          const Vec3 p = at(k, x + s);
          sweep(out_.railed.mesh, {p + 0.8 * chord_ * out, p + off * out}, std::vector<Vec3>(2, Vec3::UnitX()),
                round_outline(real(0.016, 0.026), pick(5, 16), 0), false, {true, true});
        }
        out_.railed.rails.push_back({{a, b}, {out, out}, "handrail"});
        x += length + real(0.2, 0.5);
      }
    }
  }

  std::mt19937 random_;
  GussetTruss out_;
  int bracing_ = 0, bays_ = 0, corners_ = 0, sides_ = 8;
  double bay_ = 1, width_ = 1, turn_ = 0, chord_ = 0.03, web_ = 0.02, lap_ = 0.05;
  bool is_square_ = false, webs_stop_ = false, chords_stop_ = false;
  Plates plates_ = Plates::Middle;
  Plate plate_;
};

}  // namespace holdfast::support
