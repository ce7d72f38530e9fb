// SPDX-License-Identifier: GPL-3.0-or-later
#include "lettering_impl.h"

#include <algorithm>
#include <array>

namespace holdfast::picture {

namespace {

// Of characters 32 to 126, in thousandths of the size.
constexpr std::array<int, 95> regular = {
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361,  318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635,  611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352,  635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592,  525, 636, 337, 636, 838};
constexpr std::array<int, 95> bold = {
    348, 456,  521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415,  380, 365, 696, 696,  696,
    696, 696,  696, 696, 696, 696,  696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830,  683,
    683, 821,  837, 372, 372, 775,  637, 995, 837, 850, 733, 850, 770, 720,  682, 812, 774, 1103, 771,
    724, 725,  457, 365, 457, 838,  500, 500, 675, 716, 593, 716, 678, 435,  716, 712, 343, 343,  665,
    343, 1042, 712, 687, 716, 716,  493, 595, 478, 712, 652, 924, 645, 652,  582, 712, 365, 712,  838};
constexpr int widest = 1103;  // what is beyond ASCII

bool is_continuation(char c) { return (static_cast<unsigned char>(c) & 0xc0) == 0x80; }

}  // namespace

double text_width(std::string_view text, double size, bool is_bold) {
  int sum = 0;
  for (const char c : text) {
    const auto code = static_cast<unsigned char>(c);
    if (is_continuation(c)) continue;
    sum += code >= 32 && code < 127 ? (is_bold ? bold : regular)[code - 32u] : code < 127 ? regular[0] : widest;
  }
  return size * sum / 1000.0;
}

std::vector<std::string> wrapped(std::string_view text, double width, double size, bool is_bold) {
  std::vector<std::string> lines = {""};
  const auto fits = [&](const std::string& line) { return text_width(line, size, is_bold) <= width; };
  for (std::size_t at = 0; at < text.size();) {
    const auto end = std::min(text.find(' ', at), text.size());
    const std::string word(text.substr(at, end - at));
    at = end + 1;
    if (lines.back().empty() ? fits(word) : fits(lines.back() + ' ' + word)) {
      if (!lines.back().empty()) lines.back() += ' ';
      lines.back() += word;
      continue;
    }
    if (!lines.back().empty()) lines.emplace_back();
    for (std::size_t k = 0; k < word.size();) {
      std::size_t next = k + 1;
      while (next < word.size() && is_continuation(word[next])) ++next;
      const std::string character = word.substr(k, next - k);
      if (!lines.back().empty() && !fits(lines.back() + character)) lines.emplace_back();
      lines.back() += character;
      k = next;
    }
  }
  return lines;
}

}  // namespace holdfast::picture
