// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/cable/span_store.h"

#include <cmath>

#include "holdfast/geometry/kept_scene.h"
#include "holdfast/store/bytes.h"
#include "holdfast/store/store.h"

namespace holdfast::cable {

namespace {

constexpr std::string_view kind = "spans";

std::string key_of(const geometry::Scene& scene, const std::vector<Tie>& ties, const SpanRules& rules) {
  store::Writer all;
  all.put(std::string_view(model::model_digest(scene.structure())));
  all.put(std::string_view(geometry::solids_digest(scene)));
  for (const auto& [id, position] : scene.configuration().positions)
    all.put(std::string_view(id)), all.put(std::string_view(position));
  for (const double value : {rules.radius_m, rules.span_m, rules.free_span_m, rules.lies_within_m}) all.put(value);
  for (const auto& tie : ties) all.put(tie.way);
  return model::digest_of(all.bytes());
}

std::string pack(const SpanTable& table) {
  store::Writer out;
  out.put(static_cast<std::uint64_t>(table.spans.size()));
  for (const auto& span : table.spans) {
    out.put(span.a), out.put(span.b), out.put(static_cast<std::uint64_t>(span.over.size()));
    for (const auto& point : span.over) out.put(point.at), out.put(point.fold_rad), out.put(point.part.value);
  }
  out.put(static_cast<std::uint64_t>(table.missing.size()));
  for (const auto& pair : table.missing) out.put(pair.a), out.put(pair.b), out.put(pair.kind), out.put(pair.value_m);
  return out.take();
}

std::optional<SpanTable> unpack(std::string_view bytes, std::size_t ties, std::size_t parts) {
  store::Reader in(bytes);
  SpanTable table;
  const auto are_ends = [&](std::uint32_t a, std::uint32_t b) { return a < b && b < ties; };
  constexpr std::size_t least_span = 2 * sizeof(std::uint32_t) + sizeof(std::uint64_t);
  constexpr std::size_t least_point = 4 * sizeof(double) + sizeof(std::uint32_t);
  constexpr std::size_t least_pair = 2 * sizeof(std::uint32_t) + sizeof(NoSpanKind) + sizeof(double);
  table.spans.resize(in.take_count(least_span));
  for (Span& span : table.spans) {
    span.a = in.take<std::uint32_t>(), span.b = in.take<std::uint32_t>();
    if (!are_ends(span.a, span.b)) return std::nullopt;
    span.over.resize(in.take_count(least_point));
    for (OverPoint& point : span.over) {
      point.at = in.take_point(), point.fold_rad = in.take<double>(), point.part.value = in.take<std::uint32_t>();
      if (point.part.index() >= parts || !point.at.allFinite() || !std::isfinite(point.fold_rad)) return std::nullopt;
    }
  }
  table.missing.resize(in.take_count(least_pair));
  for (NoSpan& pair : table.missing) {
    pair.a = in.take<std::uint32_t>(), pair.b = in.take<std::uint32_t>();
    const auto why = in.take<std::underlying_type_t<NoSpanKind>>();
    pair.value_m = in.take<double>();
    if (!are_ends(pair.a, pair.b) || why < 0 || why > static_cast<int>(NoSpanKind::OpenSpace)) return std::nullopt;
    pair.kind = static_cast<NoSpanKind>(why);
  }
  return in.is_good() && in.is_at_end() ? std::optional(std::move(table)) : std::nullopt;
}

}  // namespace

std::string pack_spans(const SpanTable& table, const std::string& key) { return store::sealed(kind, key, pack(table)); }

std::optional<SpanTable> unpack_spans(const std::string& bytes, const std::string& key, std::size_t ties,
                                      std::size_t parts) {
  const auto body = store::opened(bytes, kind, key);
  return body ? unpack(*body, ties, parts) : std::nullopt;
}

FoundSpans find_spans(const geometry::Scene& scene, const std::vector<Tie>& ties, const SpanRules& rules,
                      const SpanStore* place) {
  if (!place || scene.structure().files.empty()) return {build_spans(scene, ties, rules), SpanSource::Computed, ""};
  const std::string key = key_of(scene, ties, rules);
  const store::Store store(place->folder);
  if (const auto entry = store.find(kind, key))
    if (auto table = unpack(entry->body(), ties.size(), scene.structure().parts.size()))
      return {std::move(*table), SpanSource::Kept, ""};
  FoundSpans found{build_spans(scene, ties, rules), SpanSource::Computed, ""};
  store.put(kind, key, pack(found.table));
  for (const auto& incident : store.incidents())
    if (incident.kind == store::IncidentKind::NotKept) found.not_kept = incident.file + ": " + incident.why;
  return found;
}

}  // namespace holdfast::cable
