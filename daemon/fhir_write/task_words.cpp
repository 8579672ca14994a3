#include "fhir_write/task_words.h"

#include "clinical/names.h"
#include "clinical/phrases.h"
#include "fhir_write/elements.h"
#include "fhir_write/task_inputs.h"
#include "fhir_write/task_lines.h"

namespace fhir_write {
namespace {

using clinical::ItemKind;
using clinical::Step;

void append(std::string& text, const std::string& sentence) {
  if (!sentence.empty()) text += (text.empty() ? "" : " ") + sentence;
}

std::string where(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  return words::where(voice(context), plan, item.sites.empty() ? words::site_keys(plan) : item.sites);
}

// Steps that a worklist must tell apart by their times.
bool is_kept_to_the_clock(Step step) {
  return clinical::is_shared_step(step) || step == Step::check_site || step == Step::check_after_walk;
}

// Which words a call has: a question about a gate or a step, a Task in hand that no longer holds, an alert of some level.
std::string call_kind(const clinical::Item& item) {
  if (item.milestone) return "step";
  if (item.key.cause.starts_with("gate ")) return item.value_seen.empty() ? "ask-plain" : "ask";
  return item.key.cause.starts_with("claimed ") ? "claimed" : "alert-" + item.value_seen;
}

std::string subject_of(const clinical::Item& item) {
  if (item.key.cause.starts_with("gate ")) return "@gate." + item.subject;
  return item.key.cause.starts_with("claimed ") ? "@step." + item.subject : item.subject;
}

std::string code_of(const char* prefix, const clinical::Item& item) {
  std::string code = prefix + std::string(name_of(*item.key.step));
  if (item.key.kind == ItemKind::cancellation) return std::string(prefix) + "cancellation";
  if (item.key.step == Step::call_clinician) code += "-" + call_kind(item);
  if (item.key.step == Step::print_sheet && !item.value_seen.empty()) code += "-" + item.value_seen;
  return code;
}

words::Arguments arguments_of(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  words::Arguments all{{"where", where(context, plan, item)}, {"sheath", words::sheaths(voice(context), plan, item.sites)}, {"step", "@step." + std::string(name_of(*item.key.step))}, {"press", press_term(plan, item.sites)}};
  all.emplace_back("length", item.milestone && item.milestone->planned ? clinical::Argument(std::chrono::duration_cast<clinical::seconds>(*item.milestone->planned))
                                                                       : clinical::Argument(clinical::seconds{0}));
  all.emplace_back("limit", context.protocol.act_limit.whole_number());
  all.emplace_back("swelling", context.protocol.swelling_limit.whole_number());
  all.emplace_back("low", context.protocol.systolic_low.whole_number());
  all.emplace_back("high", context.protocol.systolic_close.whole_number());
  all.emplace_back("subject", subject_of(item));
  all.emplace_back("value", item.value_seen);
  return all;
}

std::string window(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  if (item.key.kind == ItemKind::cancellation || !item.milestone || !item.start) return {};
  if (clinical::is_patient_step(*item.key.step) && clinical::waits_for_emergency(plan, *item.milestone)) return say(context, "record.up-after-emergency");
  if (item.end && *item.end > *item.start) return say(context, "record.window", {{"from", *item.start}, {"to", *item.end}});
  return say(context, *item.start <= context.now ? "record.window-open" : "record.not-before", {{"from", *item.start}});
}

std::string limits(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  if (item.key.step != Step::remove_sheath && item.key.step != Step::confirm_readiness) return {};
  const auto* site = site_of(plan, item.key.site);
  const auto expiry = site ? first_expiry(*site) : std::nullopt;
  return expiry ? say(context, "record.do-not-start-after", {{"at", *expiry}}) : std::string();
}

/// As the record names them; where a clinician is to be called only.
std::vector<std::string> whom_to_call(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  std::vector<std::string> lines;
  if (item.key.kind != ItemKind::task || item.key.step != Step::call_clinician) return lines;
  for (const auto& caution : plan.cautions)
    if (caution.code == "caution.contact" || caution.code == "caution.contact-no-number") lines.push_back(say(context, caution));
  return lines;
}

/// In the last Task that is given, where others wait.
std::string what_waits(const WriterContext& context, const clinical::Item& item) {
  if (context.held_back.empty() || item.key != context.last_given) return {};
  if (!context.group_held_back) return more_follow(context);
  std::vector<std::string> list;
  for (const auto& one : context.held_back)
    list.push_back(say(context, "record.listed-step", {{"step", "@step." + std::string(name_of(*one.key.step))}, {"at", one.start.value_or(context.now)}}));
  return more_follow(context) + " " + say(context, "record.grouped", {{"list", words::joined(list, "; ")}});
}

}  // namespace

std::string task_title(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  const std::string title = say(context, code_of("record.title.", item), arguments_of(context, plan, item));
  const bool timed = item.milestone && item.start && item.key.kind == ItemKind::task && is_kept_to_the_clock(*item.key.step);
  return timed ? say(context, "record.title-at", {{"title", title}, {"at", *item.start}}) : title;
}

std::string task_reason(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  if (item.key.kind == ItemKind::task && item.key.step == Step::provide_missing) return words::joined(words::open_points(voice(context), plan), " ");
  if (item.milestone) return words::step_reason(voice(context), *item.milestone);
  return item.why ? say(context, *item.why) : std::string();
}

std::string task_description(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  std::string text = say(context, code_of("record.do.", item), arguments_of(context, plan, item));
  append(text, window(context, plan, item));
  append(text, limits(context, plan, item));
  for (const auto& line : task_lines(context, plan, item)) append(text, line);
  append(text, task_reason(context, plan, item));
  for (const auto& line : whom_to_call(context, plan, item)) append(text, line);
  if (item.raised_again) append(text, say(context, clinical::Reason{"alert.raised-again", {{"at", *item.raised_again}}}));
  append(text, what_waits(context, item));
  if (item.last && item.start) append(text, say(context, "record.last-task", {{"at", *item.start}}));
  if (plan.valid_until) append(text, say(context, "record.task-valid-until", {{"at", *plan.valid_until}}));
  append(text, standing_words(context));
  return text;
}

}  // namespace fhir_write
