#include "app/hooks.h"

#include <openssl/crypto.h>
#include <openssl/rand.h>

#include <array>

namespace app {
namespace {

constexpr std::array<std::string_view, 2> kR4{"4.0", "4.3"};
constexpr std::array<std::string_view, 1> kR5{"5.0"};

}  // namespace

void Hooks::name(std::string source, std::string prefix, std::string header) {
  const std::scoped_lock lock(mutex_);
  source_ = std::move(source);
  prefix_ = std::move(prefix);
  header_ = std::move(header);
}

void Hooks::put(const std::string& name, Hook hook) {
  const std::scoped_lock lock(mutex_);
  hooks_[name] = std::move(hook);
}

void Hooks::drop(const std::string& name) {
  const std::scoped_lock lock(mutex_);
  hooks_.erase(name);
}

bool Hooks::has_our_form(const IntakePath& path) const { return !prefix_.empty() && path.source == source_ && path.hook.starts_with(prefix_); }

bool Hooks::ours(const IntakePath& path) const {
  const std::scoped_lock lock(mutex_);
  return has_our_form(path);
}

Hooks::Verdict Hooks::judge(const IntakePath& path, const transport::Headers& headers) const {
  const std::scoped_lock lock(mutex_);
  if (!has_our_form(path)) return Verdict::not_ours;
  const auto hook = hooks_.find(path.hook);
  if (hook == hooks_.end()) return Verdict::unknown;
  const std::string& secret = hook->second.secret;
  const auto given = headers.get(header_).value_or(std::string_view{});
  const bool genuine = !secret.empty() && given.size() == secret.size() && CRYPTO_memcmp(given.data(), secret.data(), secret.size()) == 0;
  if (genuine) shut_out_.erase(path.hook);
  else shut_out_.insert(path.hook);
  return genuine ? Verdict::genuine : Verdict::forged;
}

bool Hooks::shut_out(const std::string& name) {
  const std::scoped_lock lock(mutex_);
  return shut_out_.erase(name) > 0;
}

std::span<const std::string_view> Hooks::versions(const std::string& name) const {
  const std::scoped_lock lock(mutex_);
  const auto hook = hooks_.find(name);
  if (hook != hooks_.end() && hook->second.r5) return kR5;
  return kR4;
}

std::string fresh_secret() {
  std::array<unsigned char, 32> bytes{};
  if (RAND_bytes(bytes.data(), static_cast<int>(bytes.size())) != 1) return {};
  constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  for (const unsigned char byte : bytes) out += digits[byte >> 4U], out += digits[byte & 15U];
  return out;
}

}  // namespace app
