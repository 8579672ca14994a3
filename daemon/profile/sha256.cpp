#include "profile/sha256.h"

#include <openssl/sha.h>

#include <array>

namespace profile {

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, SHA256_DIGEST_LENGTH> digest{};
  std::string input{bytes};
  SHA256(reinterpret_cast<const unsigned char*>(input.data()), input.size(), digest.data());
  constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  for (const unsigned char byte : digest) {
    out += digits[byte >> 4U];
    out += digits[byte & 15U];
  }
  return out;
}

}  // namespace profile
