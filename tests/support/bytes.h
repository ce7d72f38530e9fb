// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Bytes of binary files, and how text carries them.

#include <algorithm>
#include <bit>
#include <cstdint>
#include <cstring>
#include <string>
#include <string_view>

namespace holdfast::support {

template <class T>
void put(std::string& out, T value, std::endian order = std::endian::little) {
  char raw[sizeof value];
  std::memcpy(raw, &value, sizeof value);
  if (order != std::endian::native) std::reverse(raw, raw + sizeof value);
  out.append(raw, sizeof value);
}

/// RFC 4648, padded.
inline std::string base64(const std::string& bytes) {
  constexpr std::string_view digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t bits = 0;
    for (std::size_t k = 0; k < 3; ++k)
      bits = bits << 8 | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0u);
    for (std::size_t k = 0; k < 4; ++k)
      out.push_back(i + k <= bytes.size() ? digits[(bits >> (18 - 6 * k)) & 63] : '=');
  }
  return out;
}

}  // namespace holdfast::support
