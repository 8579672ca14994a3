#include "app/told.h"

#include <algorithm>
#include <sstream>

namespace app {
namespace {

constexpr const char* kKey = "told of";  // of the store: "Type/id tries" a line

}  // namespace

Told::Told(store::Store& store) : store_(store) {
  const auto kept = store.meta(kKey);
  if (kept.has_error() || !*kept) return;
  std::istringstream lines(**kept);
  std::string reference;
  for (int tries = 0; lines >> reference >> tries;) tries_[reference] = tries;
}

bool Told::add(const std::vector<std::string>& references) {
  const auto before = tries_;
  for (const std::string& reference : references) tries_[reference] = 0;
  if (tries_.size() <= kMost && keep()) return true;
  tries_ = before;
  return false;
}

std::vector<std::string> Told::all() const {
  std::vector<std::string> references;
  for (const auto& [reference, tries] : tries_) references.push_back(reference);
  return references;
}

void Told::settled(const std::set<std::string>& references) {
  if (std::erase_if(tries_, [&](const auto& one) { return references.contains(one.first); }) > 0) (void)keep();
}

std::vector<std::string> Told::unanswered(const std::set<std::string>& references) {
  std::vector<std::string> given_up;
  for (const std::string& reference : references) {
    const auto one = tries_.find(reference);
    if (one != tries_.end() && ++one->second >= kTries) given_up.push_back(reference);
  }
  for (const std::string& reference : given_up) tries_.erase(reference);
  if (!references.empty()) (void)keep();
  return given_up;
}

/// What could not be kept is kept with the next change; until then it is in memory only.
bool Told::keep() {
  std::string text;
  for (const auto& [reference, tries] : tries_) text += reference + " " + std::to_string(tries) + "\n";
  return store_.set_meta(kKey, text).has_value();
}

}  // namespace app
