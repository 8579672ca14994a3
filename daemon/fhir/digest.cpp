#include "fhir/digest.h"

#include "fhir/uuid.h"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <algorithm>
#include <stdexcept>

namespace fhir {
namespace {

const unsigned char* as_bytes(std::string_view text) { return reinterpret_cast<const unsigned char*>(text.data()); }

std::string digest(std::string_view bytes, const EVP_MD* method) {
  std::string out(static_cast<std::size_t>(EVP_MD_get_size(method)), '\0');
  if (EVP_Digest(bytes.data(), bytes.size(), reinterpret_cast<unsigned char*>(out.data()), nullptr, method, nullptr) != 1) {
    throw std::runtime_error("OpenSSL refuses a digest");
  }
  return out;
}

}  // namespace

std::string sha256_hex(std::string_view bytes) {
  std::string hex;
  for (const char c : digest(bytes, EVP_sha256())) hex += fmt::format("{:02x}", static_cast<unsigned char>(c));
  return hex;
}

std::string sha1_base64(std::string_view bytes) { return base64(digest(bytes, EVP_sha1())); }

std::string base64(std::string_view bytes) {
  std::string out(4 * ((bytes.size() + 2) / 3) + 1, '\0');
  const int n = EVP_EncodeBlock(reinterpret_cast<unsigned char*>(out.data()), as_bytes(bytes), static_cast<int>(bytes.size()));
  out.resize(static_cast<std::size_t>(n));
  return out;
}

std::optional<std::string> from_base64(std::string_view text) {
  std::string packed;
  std::ranges::copy_if(text, std::back_inserter(packed), [](char c) { return c != ' ' && c != '\n' && c != '\r' && c != '\t'; });
  if (packed.size() % 4 != 0) return std::nullopt;
  const auto padding = static_cast<std::size_t>(std::count(packed.end() - std::min<std::ptrdiff_t>(2, std::ssize(packed)), packed.end(), '='));
  std::string out(packed.size() / 4 * 3, '\0');
  const int n = EVP_DecodeBlock(reinterpret_cast<unsigned char*>(out.data()), as_bytes(packed), static_cast<int>(packed.size()));
  if (n < 0) return std::nullopt;
  out.resize(static_cast<std::size_t>(n) - padding);
  return out;
}

Uuid uuid5(const Uuid& name_space, std::string_view name) {
  std::string input(reinterpret_cast<const char*>(name_space.bytes.data()), name_space.bytes.size());
  input += name;
  const auto hash = digest(input, EVP_sha1());
  Uuid uuid;
  std::copy_n(hash.begin(), uuid.bytes.size(), uuid.bytes.begin());
  uuid.bytes[6] = static_cast<std::uint8_t>((uuid.bytes[6] & 0x0f) | 0x50);
  uuid.bytes[8] = static_cast<std::uint8_t>((uuid.bytes[8] & 0x3f) | 0x80);
  return uuid;
}

std::string to_string(const Uuid& uuid) {
  std::string text;
  for (std::size_t i = 0; i < uuid.bytes.size(); ++i) {
    if (i == 4 || i == 6 || i == 8 || i == 10) text += '-';
    text += fmt::format("{:02x}", uuid.bytes[i]);
  }
  return text;
}

std::optional<Uuid> parse_uuid(std::string_view text) {
  constexpr std::string_view urn = "urn:uuid:";
  if (text.starts_with(urn)) text.remove_prefix(urn.size());
  if (text.size() != 36) return std::nullopt;
  Uuid uuid;
  std::size_t nibble = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (i == 8 || i == 13 || i == 18 || i == 23) {
      if (c != '-') return std::nullopt;
      continue;
    }
    const char low = c >= 'A' && c <= 'F' ? static_cast<char>(c + 32) : c;
    const bool digit = low >= '0' && low <= '9';
    if (!digit && !(low >= 'a' && low <= 'f')) return std::nullopt;
    const auto value = static_cast<std::uint8_t>(digit ? low - '0' : low - 'a' + 10);
    auto& byte = uuid.bytes[nibble / 2];
    byte = static_cast<std::uint8_t>(nibble++ % 2 == 0 ? value << 4 : byte | value);
  }
  return uuid;
}

}  // namespace fhir
