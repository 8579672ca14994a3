#include "transport/http_message.h"

#include <algorithm>

namespace transport {
namespace {

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

bool is_token_char(char c) {
  return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') ||
         std::string_view("!#$%&'*+-.^_`|~").find(c) != std::string_view::npos;
}

auto named(std::string_view name) {
  return [name](Header const& field) { return equal_ignoring_case(field.name, name); };
}

}  // namespace

bool equal_ignoring_case(std::string_view a, std::string_view b) { return std::ranges::equal(a, b, {}, lower, lower); }

bool is_token(std::string_view text) { return !text.empty() && std::ranges::all_of(text, is_token_char); }

bool is_header_value(std::string_view text) { return text.find_first_of(std::string_view("\r\n\0", 3)) == std::string_view::npos; }

void Headers::add(std::string name, std::string value) { fields_.push_back({std::move(name), std::move(value)}); }

void Headers::set(std::string name, std::string value) {
  erase(name);
  add(std::move(name), std::move(value));
}

void Headers::erase(std::string_view name) { std::erase_if(fields_, named(name)); }

std::optional<std::string_view> Headers::get(std::string_view name) const {
  auto const found = std::ranges::find_if(fields_, named(name));
  if (found == fields_.end()) return std::nullopt;
  return found->value;
}

std::size_t Headers::count(std::string_view name) const { return static_cast<std::size_t>(std::ranges::count_if(fields_, named(name))); }

}  // namespace transport
