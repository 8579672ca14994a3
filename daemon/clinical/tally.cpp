#include "clinical/tally.h"

#include <algorithm>

namespace clinical {

void Tally::line(const Setting& setting, Reason why, std::vector<Source> inputs) {
  why.arguments.emplace_back("total", seconds{value_});
  std::ranges::sort(inputs);
  if (lines_.capacity() == 0) lines_.reserve(8);  // as many as most lengths have
  lines_.push_back({setting.rule.key, setting.rule.source, std::move(inputs), std::move(why)});
}

void Tally::start(minutes value, const Setting& setting, Reason why, std::vector<Source> inputs) {
  value_ = value;
  line(setting, std::move(why), std::move(inputs));
}

void Tally::cap(const Setting& setting, const char* code) {
  if (value_ <= setting.whole_minutes()) return;
  value_ = setting.whole_minutes();
  line(setting, {code, {{"limit", setting.span()}}}, {});
}

void Tally::raise_to(const Setting& setting, Reason why, std::vector<Source> inputs) {
  raise_to(setting.whole_minutes(), setting, std::move(why), std::move(inputs));
}

void Tally::raise_to(minutes value, const Setting& setting, Reason why, std::vector<Source> inputs) {
  value_ = std::max(value_, value);
  why.arguments.reserve(why.arguments.size() + 2);
  why.arguments.emplace_back("floor", seconds{value});
  line(setting, std::move(why), std::move(inputs));
}

void Tally::raise_to_order(minutes value, std::string_view rule, Reason why, std::vector<Source> inputs) {
  value_ = std::max(value_, value);
  why.arguments.emplace_back("floor", seconds{value});
  why.arguments.emplace_back("total", seconds{value_});
  lines_.push_back({std::string(rule), {}, std::move(inputs), std::move(why)});
}

void Tally::add(minutes amount, const Setting& setting, Reason why, std::vector<Source> inputs) {
  value_ += amount;
  why.arguments.reserve(why.arguments.size() + 2);
  why.arguments.emplace_back("amount", seconds{amount});
  line(setting, std::move(why), std::move(inputs));
}

}  // namespace clinical
