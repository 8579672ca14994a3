#include "auth/sender_proof.h"

#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>

#include <algorithm>
#include <charconv>

namespace auth {
namespace {

constexpr std::int64_t kWindow = 300;

bool same(std::string_view a, std::string_view b) { return a.size() == b.size() && CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0; }

std::string hmac(std::string_view key, std::string_view text) {
  unsigned char out[EVP_MAX_MD_SIZE];
  unsigned size = 0;
  HMAC(EVP_sha256(), key.data(), static_cast<int>(key.size()), reinterpret_cast<const unsigned char*>(text.data()), text.size(), out, &size);
  return {reinterpret_cast<const char*>(out), size};
}

std::string hexadecimal(std::string_view bytes) {
  constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  for (const char c : bytes) out += digits[static_cast<unsigned char>(c) >> 4U], out += digits[static_cast<unsigned char>(c) & 15U];
  return out;
}

std::string base64(std::string_view bytes) {
  std::string out(4 * ((bytes.size() + 2) / 3), '\0');
  EVP_EncodeBlock(reinterpret_cast<unsigned char*>(out.data()), reinterpret_cast<const unsigned char*>(bytes.data()), static_cast<int>(bytes.size()));
  return out;
}

// A secret of these conventions may be written "whsec_BASE64": then its bytes are the key.
std::string key_bytes(const std::string& secret) {
  constexpr std::string_view prefix = "whsec_";
  if (!secret.starts_with(prefix)) return secret;
  const std::string text = secret.substr(prefix.size());
  std::string out(text.size(), '\0');
  const int size = EVP_DecodeBlock(reinterpret_cast<unsigned char*>(out.data()), reinterpret_cast<const unsigned char*>(text.data()), static_cast<int>(text.size()));
  if (size < 0) return secret;
  out.resize(static_cast<std::size_t>(size) - static_cast<std::size_t>(std::ranges::count(text, '=')));
  return out;
}

std::string_view field(const transport::Request& request, std::string_view name) { return request.headers.get(name).value_or(std::string_view{}); }

bool any_word(std::string_view list, const std::string& wanted) {
  bool found = false;
  while (!list.empty()) {
    const auto word = list.substr(0, list.find(' '));
    found |= same(word, wanted);
    list.remove_prefix(std::min(list.size(), word.size() + 1));
  }
  return found;
}

}  // namespace

bool SenderProof::asks_for_nothing() {
  const std::scoped_lock lock(mutex_);
  return !rules_.asks_secret && !rules_.asks_signature;
}

void SenderProof::replace(SenderRules rules) {
  const std::scoped_lock lock(mutex_);
  rules_ = std::move(rules);
}

std::optional<SenderProof::Objection> SenderProof::objection(const transport::Request& request, std::int64_t now) {
  const std::scoped_lock lock(mutex_);
  if (auto why = about_secret(request)) return Objection{false, false, std::move(*why)};
  return rules_.asks_signature ? about_signature(request, now) : std::nullopt;
}

std::optional<std::string> SenderProof::objection_to_head(const transport::Request& request) {
  const std::scoped_lock lock(mutex_);
  if (auto why = about_secret(request)) return why;
  if (rules_.asks_signature && field(request, rules_.signature_header).empty()) return "the signature in " + rules_.signature_header + " is missing";
  return std::nullopt;
}

std::optional<std::string> SenderProof::about_secret(const transport::Request& request) const {
  if (!rules_.asks_secret) return std::nullopt;
  bool known = false;
  for (const auto& secret : rules_.secrets) known |= same(field(request, rules_.secret_header), secret);
  return known ? std::nullopt : std::optional("the sender's key in " + rules_.secret_header + " is missing or wrong");
}

std::optional<SenderProof::Objection> SenderProof::about_signature(const transport::Request& request, std::int64_t now) {
  if (request.method == "DELETE" || (request.body.empty() && request.method != "GET" && request.method != "HEAD"))
    return Objection{false, false, "a signature covers the body alone: " + request.method + " without a body is not taken here"};
  const auto signature = field(request, rules_.signature_header);
  if (signature.empty()) return Objection{false, false, "the signature in " + rules_.signature_header + " is missing"};
  if (!transport::equal_ignoring_case(rules_.signature_header, "webhook-signature")) {
    const auto digits = signature.starts_with("sha256=") ? signature.substr(7) : signature;
    bool genuine = false;
    for (const auto& secret : rules_.signing_secrets) genuine |= same(digits, hexadecimal(hmac(secret, request.body)));
    return genuine ? std::nullopt : std::optional(Objection{false, false, "the signature does not fit the body"});
  }
  const std::string id(field(request, "webhook-id")), time(field(request, "webhook-timestamp"));
  std::int64_t at = 0;
  const auto [end, fault] = std::from_chars(time.data(), time.data() + time.size(), at);
  if (id.empty() || time.empty() || fault != std::errc{} || end != time.data() + time.size()) return Objection{false, false, "webhook-id or webhook-timestamp is missing"};
  bool genuine = false;
  for (const auto& secret : rules_.signing_secrets) genuine |= any_word(signature, "v1," + base64(hmac(key_bytes(secret), id + "." + time + "." + request.body)));
  if (!genuine) return Objection{false, false, "the signature does not fit the body"};
  if (at < now - kWindow || at > now + kWindow) return Objection{false, false, "the signature was made too long ago, or the clocks differ"};
  std::erase_if(seen_, [now](const auto& one) { return one.second.at < now - 2 * kWindow; });
  const auto [seen, first] = seen_.try_emplace(id, Seen{at, false});
  if (!first) {
    seen->second.at = std::max(seen->second.at, at);
    if (seen->second.taken) return Objection{true, false, "this message has come before and was taken"};
    return Objection{false, true, "this message has come before and is being taken; try again"};
  }
  return std::nullopt;
}

void SenderProof::forget(const transport::Request& request) {
  const std::scoped_lock lock(mutex_);
  seen_.erase(std::string(field(request, "webhook-id")));
}

void SenderProof::taken(const transport::Request& request) {
  const std::scoped_lock lock(mutex_);
  if (const auto seen = seen_.find(std::string(field(request, "webhook-id"))); seen != seen_.end()) seen->second.taken = true;
}

std::vector<std::string> secrets_of(std::string_view text) {
  std::vector<std::string> found;
  while (!text.empty()) {
    auto line = text.substr(0, text.find('\n'));
    text.remove_prefix(std::min(text.size(), line.size() + 1));
    while (!line.empty() && (line.back() == ' ' || line.back() == '\r' || line.back() == '\t')) line.remove_suffix(1);
    while (!line.empty() && (line.front() == ' ' || line.front() == '\t')) line.remove_prefix(1);
    if (!line.empty() && line.front() != '#') found.emplace_back(line);
  }
  return found;
}

}  // namespace auth
