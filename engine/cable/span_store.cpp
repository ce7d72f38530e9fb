// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/cable/span_store.h"

#include <fmt/format.h>

#include <cmath>
#include <cstring>
#include <filesystem>
#include <type_traits>

#include "holdfast/model/plain_file.h"
#include "holdfast/model/write_file.h"

namespace holdfast::cable {

namespace {

constexpr std::string_view magic = "holdfast spans 1\n";  // raised when what a span is, or how it is found, changes
constexpr std::size_t digest_size = 64;

template <class T>
void put(std::string& bytes, T value) {
  static_assert(std::is_trivially_copyable_v<T>);
  bytes.append(reinterpret_cast<const char*>(&value), sizeof value);
}
void put(std::string& bytes, const Vec3& v) {
  for (int axis = 0; axis < 3; ++axis) put(bytes, v[axis]);
}

/// Reads what `put` wrote; once past the end everything is 0 and `is_good` false.
class Taker {
 public:
  explicit Taker(std::string_view bytes) : bytes_(bytes) {}
  template <class T>
  T take() {
    T value{};
    if (bytes_.size() < sizeof value) {
      is_good = false;
      bytes_ = {};
      return value;
    }
    std::memcpy(&value, bytes_.data(), sizeof value);
    bytes_.remove_prefix(sizeof value);
    return value;
  }
  [[nodiscard]] bool is_at_end() const { return bytes_.empty(); }
  [[nodiscard]] std::size_t left() const { return bytes_.size(); }
  bool is_good = true;

 private:
  std::string_view bytes_;
};

std::string key_of(const geometry::Scene& scene, const std::vector<Tie>& ties, const SpanRules& rules) {
  std::string all(magic);
  all += model::model_digest(scene.structure());
  for (const auto& [id, position] : scene.configuration().positions) all += id + '=' + position + '\n';
  for (const double value : {rules.radius_m, rules.span_m, rules.free_span_m, rules.lies_within_m}) put(all, value);
  for (const auto& tie : ties) put(all, tie.way);
  return model::digest_of(all);
}

}  // namespace

std::string pack_spans(const SpanTable& table, const std::string& key) {
  std::string body;
  put(body, static_cast<std::uint64_t>(table.spans.size()));
  put(body, static_cast<std::uint64_t>(table.missing.size()));
  for (const auto& span : table.spans) {
    put(body, span.a), put(body, span.b), put(body, static_cast<std::uint32_t>(span.over.size()));
    for (const auto& point : span.over)
      put(body, point.at), put(body, point.fold_rad), put(body, static_cast<std::uint32_t>(point.part.index()));
  }
  for (const auto& pair : table.missing)
    put(body, pair.a), put(body, pair.b), put(body, static_cast<std::uint32_t>(pair.kind)), put(body, pair.value_m);
  return std::string(magic) + key + model::digest_of(body) + body;
}

std::optional<SpanTable> unpack_spans(const std::string& bytes, const std::string& key, std::size_t ties,
                                      std::size_t parts) {
  const std::string head = std::string(magic) + key;
  if (bytes.size() < head.size() + digest_size || bytes.compare(0, head.size(), head) != 0) return std::nullopt;
  const std::string_view body = std::string_view(bytes).substr(head.size() + digest_size);
  if (bytes.compare(head.size(), digest_size, model::digest_of(body)) != 0) return std::nullopt;
  Taker in(body);
  const auto spans = in.take<std::uint64_t>(), missing = in.take<std::uint64_t>();
  constexpr std::size_t least_size = 12;  // of a span: what the counts promise must be there
  if (spans > in.left() / least_size || missing > in.left() / least_size) return std::nullopt;
  SpanTable table;
  const auto are_ends = [&](std::uint32_t a, std::uint32_t b) { return a < b && b < ties; };
  for (std::uint64_t i = 0; i < spans && in.is_good; ++i) {
    Span span;
    span.a = in.take<std::uint32_t>(), span.b = in.take<std::uint32_t>();
    const auto points = in.take<std::uint32_t>();
    if (!are_ends(span.a, span.b) || points > in.left()) return std::nullopt;
    for (std::uint32_t p = 0; p < points && in.is_good; ++p) {
      OverPoint point;
      for (int axis = 0; axis < 3; ++axis) point.at[axis] = in.take<double>();
      point.fold_rad = in.take<double>();
      const auto part = in.take<std::uint32_t>();
      if (part >= parts || !point.at.allFinite() || !std::isfinite(point.fold_rad)) return std::nullopt;
      point.part = model::PartId(part);
      span.over.push_back(point);
    }
    table.spans.push_back(std::move(span));
  }
  for (std::uint64_t i = 0; i < missing && in.is_good; ++i) {
    NoSpan pair;
    pair.a = in.take<std::uint32_t>(), pair.b = in.take<std::uint32_t>();
    const auto kind = in.take<std::uint32_t>();
    pair.value_m = in.take<double>();
    if (!are_ends(pair.a, pair.b) || kind > static_cast<std::uint32_t>(NoSpanKind::OpenSpace)) return std::nullopt;
    pair.kind = static_cast<NoSpanKind>(kind);
    table.missing.push_back(pair);
  }
  if (!in.is_good || !in.is_at_end()) return std::nullopt;
  return table;
}

FoundSpans find_spans(const geometry::Scene& scene, const std::vector<Tie>& ties, const SpanRules& rules,
                      const SpanStore* store) {
  namespace fs = std::filesystem;
  if (!store || scene.structure().files.empty()) return {build_spans(scene, ties, rules), SpanSource::Computed, ""};
  const std::string key = key_of(scene, ties, rules);
  const fs::path file = fs::path(store->folder) / (key + ".spans");
  // What is kept is ours, but anything may lie under its name.
  if (const auto kept = model::read_plain_file(file.string()); kept.fault == model::FileFault::None)
    if (auto table = unpack_spans(kept.bytes, key, ties.size(), scene.structure().parts.size()))
      return {std::move(*table), SpanSource::Kept, ""};
  FoundSpans found{build_spans(scene, ties, rules), SpanSource::Computed, ""};
  std::error_code error;
  fs::create_directories(file.parent_path(), error);
  try {
    model::write_file(file.string(), pack_spans(found.table, key));
  } catch (const model::InputError& refusal) {
    found.not_kept = refusal.diagnostics().front().text();
  }
  return found;
}

}  // namespace holdfast::cable
