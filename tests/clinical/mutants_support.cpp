#include "mutants_support.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

namespace clinical {
namespace {

using Words = std::vector<std::string>;

std::string joined(const Words& words, const char* with) { return fmt::format("{}", fmt::join(words, with)); }

std::string told(seconds length) {
  if (length.count() % 3600 == 0) return fmt::format("{}h", length.count() / 3600);
  if (length.count() % 60 == 0) return fmt::format("{}min", length.count() / 60);
  return fmt::format("{}s", length.count());
}

std::string told(const Argument& argument) {
  return std::visit(
      [](const auto& v) -> std::string {
        using T = std::decay_t<decltype(v)>;
        if constexpr (std::is_same_v<T, std::string>) return v;
        else if constexpr (std::is_same_v<T, Value>) return v.written;
        else if constexpr (std::is_same_v<T, std::int64_t>) return std::to_string(v);
        else if constexpr (std::is_same_v<T, Moment>) return "[" + say(v.earliest) + ".." + say(v.latest) + "]";
        else if constexpr (std::is_same_v<T, Instant>) return say(v);
        else return told(v);
      },
      argument);
}

void add(Words& words, const char* name, const std::optional<Instant>& at) {
  if (at) words.push_back(std::string(name) + say(at));
}

template <class T>
std::string names(const std::vector<T>& all) {
  Words words;
  for (const auto& one : all) words.emplace_back(name_of(one));
  return joined(words, ",");
}

}  // namespace

std::string say(Instant at) {
  const auto day = std::chrono::floor<std::chrono::days>(at);
  const auto days = (day - std::chrono::floor<std::chrono::days>(hm(0))).count();
  const auto second = (at - day).count() % 60;
  return (days ? fmt::format("{:+}d ", days) : "") + fmt::format("{:%H:%M}", at) + (second ? fmt::format(":{:02}", second) : "");
}
std::string say(const std::optional<Instant>& at) { return at ? say(*at) : "-"; }

std::string say(const Reason& reason) {
  Words words;
  for (const auto& [name, value] : reason.arguments) words.push_back(name + "=" + told(value));
  return reason.code + (words.empty() ? "" : "{" + joined(words, " ") + "}");
}

std::string say(const std::vector<Source>& sources) {
  Words words;
  for (const auto& s : sources) words.push_back(s.reference.starts_with("Test/") ? s.reference.substr(5) : s.reference);
  return joined(words, " ");
}

std::string say(const Gate& gate) {
  Words words{std::string(name_of(gate.state))};
  add(words, "opens ", gate.opens_at);
  add(words, "until ", gate.expires_at);
  add(words, "since ", gate.since);
  add(words, "clock ", gate.clock_ends);
  if (!gate.needs.empty()) words.push_back("asks " + names(gate.needs));
  if (!gate.value_seen.empty()) words.push_back("seen '" + gate.value_seen + "'");
  Words parts{joined(words, " "), say(gate.why), gate.rule};
  if (!gate.inputs.empty()) parts.push_back("from " + say(gate.inputs));
  return joined(parts, " | ");
}

std::string say(const Milestone& m) {
  Words words{std::string(name_of(m.status))};
  if (m.ordinal) words.push_back("#" + std::to_string(m.ordinal));
  add(words, m.expected ? "" : "from ", m.earliest);
  if (m.expected && m.expected != m.earliest) words.push_back("expected " + say(m.expected));
  add(words, "latest ", m.latest);
  add(words, "actual ", m.actual);
  if (m.planned) words.push_back(std::to_string(m.planned->count()) + "min");
  if (m.after_t0) words.push_back("t0+" + std::to_string(m.after_t0->count()));
  if (m.released) words.emplace_back("released");
  if (m.late) words.emplace_back("late");
  return joined(words, " ") + (m.why ? " | " + say(*m.why) : "");
}

std::string say(const Basis& basis) {
  return basis.rule + " " + say(basis.arithmetic) + (basis.inputs.empty() ? "" : " from " + say(basis.inputs));
}
std::vector<std::string> say(const std::vector<Basis>& all) {
  Words lines;
  for (const auto& basis : all) lines.push_back(say(basis));
  return lines;
}

std::string say(const Alert& alert) {
  Words words{std::string(name_of(alert.level))};
  if (!alert.site.empty()) words.push_back(alert.site);
  words.push_back("since " + say(alert.since));
  Words parts{joined(words, " "), say(alert.why)};
  if (!alert.inputs.empty()) parts.push_back("from " + say(alert.inputs));
  return joined(parts, " | ");
}

std::string say(const Missing& m) {
  Words words{std::string(name_of(m.fact)), std::string(name_of(m.asked_of))};
  if (!m.blocks.empty()) words.push_back("blocks " + names(m.blocks));
  if (!m.site.empty()) words.push_back(m.site);
  if (!m.about.empty()) words.push_back(m.about);
  return joined(words, " ");
}

std::string say(const Conflict& c) {
  Words words{std::string(name_of(c.fact))};
  if (!c.about.empty()) words.push_back(c.about);
  if (!c.values.empty()) words.push_back("[" + joined(c.values, ", ") + "]");
  if (!c.inputs.empty()) words.push_back("from " + say(c.inputs));
  if (!c.site.empty()) words.push_back(c.site);
  return joined(words, " ");
}

std::vector<std::string> say(const CasePlan& plan, Step step) {
  Words lines;
  for (const auto& m : plan.sites.front().milestones)
    if (m.step == step) lines.push_back(say(m));
  return lines;
}

const Alert* find_alert(const CasePlan& plan, std::string_view trigger) {
  for (const auto& a : plan.alerts)
    if (a.trigger == trigger) return &a;
  return nullptr;
}

}  // namespace clinical
