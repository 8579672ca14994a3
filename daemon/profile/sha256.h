// A fingerprint of bytes.
#pragma once

#include <string>
#include <string_view>

namespace profile {

/// SHA-256 (FIPS 180-4), 64 lower-case hexadecimal digits.
std::string sha256_hex(std::string_view bytes);

}  // namespace profile
