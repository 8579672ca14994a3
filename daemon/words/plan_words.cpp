#include "words/plan_words.h"

#include <algorithm>

#include "clinical/names.h"
#include "clinical/phrases.h"

namespace words {
namespace {

using clinical::name_of;

bool goes_on_beside(clinical::Step step) {
  return step == clinical::Step::check_site || step == clinical::Step::provide_missing || step == clinical::Step::dress_site;
}

// Sums are clauses, reasons are sentences: "6 F x 1 h = 6 h; any artery: at least 4 h = 6 h. Not before 20:30."
std::string sentences(const std::vector<std::string>& parts) {
  std::string text;
  for (std::string part : parts) {
    const bool begins = text.empty() || text.ends_with('.');
    if (begins && !part.empty() && part[0] >= 'a' && part[0] <= 'z') part[0] = static_cast<char>(part[0] - 'a' + 'A');
    text += (text.empty() ? "" : begins ? " " : "; ") + part;
  }
  if (!text.empty() && !text.ends_with('.')) text += '.';
  return text;
}

// The step a reader looks for: the first that may be done, else the one with the earliest time.
const clinical::Milestone* next_step(const clinical::CasePlan& plan) {
  const clinical::Milestone* timed = nullptr;
  for (const auto& site : plan.sites)
    for (const auto& m : site.milestones) {
      if (goes_on_beside(m.step)) continue;
      if (m.status == clinical::StepStatus::due) return &m;
      if (m.status == clinical::StepStatus::expected && m.earliest && (!timed || *m.earliest < *timed->earliest)) timed = &m;
    }
  return timed;
}

std::string term_of(const char* group, std::string_view name) { return std::string("@") + group + "." + std::string(name); }

// Not two values of one fact, but something else that is wrong with it.
bool is_about_time_or_place(const Voice& v, const clinical::Conflict& one) {
  return !one.about.empty() && one.about != "differs" && v.words.has_term("conflict." + one.about);
}

}  // namespace

std::string Voice::term(std::string_view group, std::string_view name) const { return words.term(std::string(group) + "." + std::string(name)); }

std::string where(const Voice& v, const clinical::CasePlan& plan, const std::vector<std::string>& keys) { return v.say(where_phrase(plan, keys)); }

std::string sheaths(const Voice& v, const clinical::CasePlan& plan, const std::vector<std::string>& keys) {
  std::vector<std::string> all;
  for (const auto& key : keys)
    if (const auto* site = site_of(plan, key)) all.push_back(v.say(sheath_phrase(*site)));
  return joined(all, "; ");
}

std::string site_line(const Voice& v, const clinical::CasePlan& plan, const clinical::SitePlan& site) {
  return v.say("record.site-line",
               {{"where", where(v, plan, {site.key})}, {"sheath", v.say(sheath_phrase(site))}, {"closure", term_of(is_pressed_or_out(site) ? "closure" : "closure-planned", name_of(site.closure))}});
}

std::string rebled_line(const Voice& v, const clinical::SitePlan& site) {
  std::string text;
  for (const auto at : site.rebleeds) text += " " + v.say("record.rebled", {{"at", at}});
  return text;
}

std::string watch_line(const Voice& v, const clinical::SitePlan& site) {
  std::vector<std::string> why;
  for (const auto& reason : site.watched_for) why.push_back(v.say(reason));
  return why.empty() ? std::string() : v.say("record.watched-for", {{"why", joined(why, v.words.label("list.comma"))}});
}

std::string missing_fact(const Words& words, const clinical::Missing& one) {
  return words.term(one.about.empty() ? "fact." + std::string(name_of(one.fact)) : "missing." + one.about);
}

bool names_fact(const clinical::Conflict& one) {
  if (one.about != "future-time" && one.about != "negative-interval") return false;
  const bool event = one.fact == clinical::Fact::dose_time || one.fact == clinical::Fact::stop_time || one.fact == clinical::Fact::haemostasis_time;
  return one.values.empty() || !event;
}

std::string missing_item(const Voice& v, const clinical::Missing& one) {
  return v.say("record.missing-item", {{"fact", missing_fact(v.words, one)}, {"who", term_of("asked-of", name_of(one.asked_of))}});
}

std::string conflict_value(const Words& words, const clinical::Conflict& conflict, const std::string& value) {
  const std::string key = std::string(name_of(conflict.fact)) + "." + value;
  return words.has_term(key) ? words.term(key) : value;
}

std::string conflict_item(const Voice& v, const clinical::Conflict& one) {
  std::vector<std::string> said;
  for (const auto& value : one.values) said.push_back(conflict_value(v.words, one, value));
  if (is_about_time_or_place(v, one)) {
    const std::string values = joined(said, " / ");
    const std::string what = names_fact(one) ? v.term("fact", name_of(one.fact)) + (values.empty() ? "" : " " + values) : values;
    const std::string about = "@conflict." + one.about;
    return what.empty() ? v.say("record.conflict-bare", {{"about", about}}) : v.say("record.conflict-item", {{"fact", about}, {"values", what}});
  }
  return v.say("record.conflict-item", {{"fact", term_of("fact", name_of(one.fact))}, {"values", joined(said, " / ")}});
}

std::vector<std::string> open_points(const Voice& v, const clinical::CasePlan& plan) {
  std::vector<std::string> lines;
  for (const auto& one : plan.missing) {
    std::vector<std::string> blocks;
    for (const auto& step : one.blocks) blocks.push_back(v.term("step", name_of(step)));
    lines.push_back(blocks.empty() ? v.say("record.missing-plain", {{"item", missing_item(v, one)}})
                                   : v.say("record.missing-blocks", {{"item", missing_item(v, one)}, {"blocks", joined(blocks, v.words.label("list.comma"))}}));
  }
  for (const auto& one : plan.conflicts) lines.push_back(v.say(is_about_time_or_place(v, one) ? "record.conflict-about" : "record.conflict-plain", {{"item", conflict_item(v, one)}}));
  return lines;
}

std::string step_name(const Voice& v, const clinical::Milestone& m) {
  const std::string name = v.term("step", name_of(m.step));
  return m.ordinal > 0 ? name + " " + std::to_string(m.ordinal) : name;
}

std::string step_reason(const Voice& v, const clinical::Milestone& m) {
  std::vector<std::string> parts;
  const auto add = [&](const clinical::Reason& reason) {
    auto text = v.say(reason);
    if (!text.empty() && std::find(parts.begin(), parts.end(), text) == parts.end()) parts.push_back(std::move(text));
  };
  if (m.why) add(*m.why);
  if (m.status != clinical::StepStatus::done && m.status != clinical::StepStatus::cancelled && m.step != clinical::Step::check_site)
    for (const auto& basis : m.basis) add(basis.arithmetic);
  return sentences(parts);
}

std::string next_act(const Voice& v, const clinical::CasePlan& plan) {
  const auto* next = next_step(plan);
  return next ? v.say("record.next-act", {{"step", term_of("step", name_of(next->step))}, {"when", v.say(when_phrase(*next))}}) : std::string();
}

std::string projection_line(const Voice& v, const clinical::SitePlan& site) {
  const auto& p = site.projection;
  std::vector<std::string> parts;
  if (p && p->computed && p->p10 && p->p50 && p->p90)
    parts.push_back(v.say("record.projection", {{"limit", p->limit / clinical::kMicro}, {"p10", *p->p10}, {"p50", *p->p50}, {"p90", *p->p90}}));
  if (p && p->next_draw) parts.push_back(v.say("record.next-draw", {{"at", *p->next_draw}}));
  return joined(parts, " ");
}

std::vector<std::string> site_keys(const clinical::CasePlan& plan) {
  std::vector<std::string> keys;
  for (const auto& site : plan.sites) keys.push_back(site.key);
  return keys;
}

std::string joined(const std::vector<std::string>& parts, std::string_view separator) {
  std::string text;
  for (const auto& part : parts) text += (text.empty() ? "" : std::string(separator)) + part;
  return text;
}

}  // namespace words
