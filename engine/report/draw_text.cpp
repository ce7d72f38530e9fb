// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <cmath>

#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

std::string text(const Context& context, const Drawn& drawn) {
  std::string out =
      fmt::format("{}: {}, with {} route{}\n", context.structure.name,
                  configuration_words(context.structure, drawn.configuration), drawn.ways, drawn.ways == 1 ? "" : "s");
  for (const auto& file : drawn.files) {
    const auto bytes = static_cast<double>(file.bytes);
    out += bytes < 1e5 ? fmt::format("  written: {}, {:.0f} kB", file.file, std::ceil(bytes / 1e3))
                       : fmt::format("  written: {}, {:.1f} MB", file.file, bytes / 1e6);
    if (file.scale > 0) out += fmt::format(", scale 1:{} on A3", file.scale);
    out += "\n";
  }
  for (const auto& sentence : set_aside_sentences(context)) paragraph(out, "  SET ASIDE: ", sentence, 4);
  return out + "\n" + std::string(caution) + "\n";
}

}  // namespace holdfast::report
