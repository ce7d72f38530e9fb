// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Spans kept on disk from run to run: they take the time, and depend on the model and the cable's size alone.
//
//   const cable::SpanStore store{"/home/me/.cache/holdfast"};
//   const auto table = cable::find_spans(scene, ties, rules, &store);
//
// One file a content: its name is the digest of the model's files, the configuration, the rules, the ties and the
// version of this format. A file that is damaged, cut short or of other content is not used, and written afresh.

#include <string>

#include "holdfast/cable/spans.h"

namespace holdfast::cable {

struct SpanStore {
  std::string folder;  ///< made when it is not there
};

enum class SpanSource { Computed, Kept };

struct FoundSpans {
  SpanTable table;
  SpanSource source = SpanSource::Computed;
  std::string not_kept;  ///< why they could not be written; empty when they were, or there is no store
};

/// From the store, else computed and put into it. Without a store, or for a structure that was not read from files:
/// computed. A store that cannot be written is no fault of the question: `not_kept` says so.
[[nodiscard]] FoundSpans find_spans(const geometry::Scene& scene, const std::vector<Tie>& ties, const SpanRules& rules,
                                    const SpanStore* store);

/// Bytes of a table and back; nothing for bytes that are no table of `ties` ties under this key. For tests and the
/// store.
[[nodiscard]] std::string pack_spans(const SpanTable& table, const std::string& key);
[[nodiscard]] std::optional<SpanTable> unpack_spans(const std::string& bytes, const std::string& key, std::size_t ties,
                                                    std::size_t parts);

}  // namespace holdfast::cable
