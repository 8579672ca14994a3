#include "fhir/codes.h"
#include "fhir_read/access_site.h"
#include "fhir_read/intake.h"
#include "fhir_read/note_text.h"
#include "fhir_read/observation.h"
#include "fhir_read/readers.h"
#include "fhir_read/values.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::AccessEventKind;
using clinical::TaskState;

TaskState state_named(std::string_view word) {
  using S = TaskState;
  constexpr std::pair<std::string_view, S> table[] = {
      {"requested", S::requested}, {"received", S::requested}, {"ready", S::ready},         {"accepted", S::accepted}, {"in-progress", S::in_progress},
      {"on-hold", S::on_hold},     {"completed", S::completed}, {"failed", S::failed},       {"rejected", S::rejected}, {"cancelled", S::cancelled}};
  const auto it = std::ranges::find(table, word, &std::pair<std::string_view, S>::first);
  return it == std::end(table) ? S::other : it->second;
}

std::string own_identity(const json::Value& task) {
  for (const auto& identifier : task["identifier"].items()) {
    if (identifier["system"].text() == fhir::item_identifier_system) return std::string(identifier["value"].text());
  }
  return {};
}

std::string procedure_of(const Resource& r) {
  for (const auto* name : {"reasonReference", "focus"}) {
    if (auto key = first_key(r.body[name], "Procedure", r); !key.empty()) return key;
  }
  for (const auto& reason : r.body["reason"].items()) {
    if (auto key = first_key(reason["reference"], "Procedure", r); !key.empty()) return key;
  }
  return {};
}

bool has_code(const json::Value& type, std::string_view code) {
  return std::ranges::any_of(type["coding"].items(), [&](const json::Value& c) { return c["code"].text() == code; });
}

// An `access-site` output, else input, says which groin. An output may also name the site's own Procedure.
void read_access_site(const Resource& r, Reading& reading, clinical::TaskFact& out) {
  for (const auto* list : {"output", "input"}) {
    for (const auto& parameter : r.body[list].items()) {
      if (!has_code(parameter["type"], "access-site")) continue;
      AccessSite site;
      add_body_sites(parameter["valueCodeableConcept"], r, reading, site);
      if (const auto text = parameter["valueString"].text(); !text.empty()) {
        add_body_sites(json::Value::object({{"text", "femoral " + std::string(text)}}), r, reading, site);
      }
      out.side = only_side(site);
      out.vessel = only_vessel(site);
      if (auto key = first_key(parameter["valueReference"], "Procedure", r); !key.empty()) out.procedure = key;
      if (!site.sides.empty() || !site.vessels.empty()) return;
    }
  }
}

struct DoneAt {
  std::optional<clinical::Moment> at;
  bool recording_time_only = false;
  bool conflict = false;
};

// The later of the execution's end and an output's time; else when it was written down.
DoneAt done_at(const Resource& r, Reading& reading) {
  const auto end = moment_of(r.body["executionPeriod"]["end"], r, "executionPeriod.end", reading);
  std::optional<clinical::Moment> output;
  const auto outputs = r.body["output"].items();
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    const auto path = "output[" + std::to_string(i) + "]";
    for (const auto* name : {"valueDateTime", "valueInstant"}) {
      const auto at = moment_of(outputs[i][name], r, path + "." + name, reading);
      if (at && (!output || at->latest > output->latest)) output = at;
    }
  }
  if (!end && !output) {
    const auto written_down = moment_of(r.body["lastModified"], r, "lastModified", reading);
    if (written_down) reading.inform(r, "lastModified", "recording-time", "No time of doing is recorded; the time of recording is used.");
    return {written_down, true, false};
  }
  if (!end || !output) return {end ? end : output, false, false};
  const auto later = std::max(*end, *output, [](const auto& a, const auto& b) { return a.latest < b.latest; });
  const auto earlier = std::min(*end, *output, [](const auto& a, const auto& b) { return a.latest < b.latest; });
  const bool conflict = later.earliest - earlier.latest > std::chrono::minutes(5);
  if (conflict) reading.warn(r, "executionPeriod.end", "times-disagree", "The end of the execution and the time of an output are over 5 minutes apart.");
  return {later, false, conflict};
}

void add_event(AccessEventKind kind, const DoneAt& done, const clinical::TaskFact& task, Reading& reading) {
  clinical::AccessEvent event;
  event.source = task.source;
  event.kind = kind;
  event.at = done.at;
  event.recording_time_only = done.recording_time_only;
  event.procedure = task.procedure;
  event.side = task.side;
  event.vessel = task.vessel;
  event.from_task = true;
  event.time_conflict = done.conflict;
  reading.record.access_events.push_back(std::move(event));
}

/// What somebody wrote beside a Task: notes, the output for them, and why it was not done. Why one is cancelled is our own word.
std::string words_beside(const Resource& r) {
  auto all = notes_of(r.body);
  const auto add = [&](std::string_view text) {
    if (!text.empty()) all += (all.empty() ? "" : "; ") + std::string(text);
  };
  for (const auto& output : r.body["output"].items())
    if (has_code(output["type"], "note")) add(output["valueString"].text());
  if (r.body["status"].text() != "cancelled") add(title_of(concept_in(r.body["statusReason"])));
  return all;
}

bool at_the_bed(const clinical::TaskFact& task) {
  constexpr std::string_view steps[] = {"check-site", "check-after-walk", "remove-sheath", "end-compression", "firm-compression", "partial-compression", "light-compression", "dress-site", "raise-head", "sit-up", "stand-and-walk", "discharge-check"};
  return std::ranges::find(steps, task.step) != std::end(steps);
}

/// The findings among the outputs, a check of its own; `demanded`: without any the step was not done.
void add_check(const Resource& r, const DoneAt& done, const clinical::TaskFact& task, bool demanded, Reading& reading) {
  clinical::SiteCheck check;
  check.source = task.source;
  check.at = done.at;
  check.procedure = task.procedure;
  check.side = task.side;
  const auto outputs = r.body["output"].items();
  bool any = false;
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    any = take_finding(outputs[i], outputs[i]["type"], r, "output[" + std::to_string(i) + "]", check, reading) || any;
  }
  if (at_the_bed(task)) add_note(check, words_beside(r), !demanded, reading);
  if (any || !check.unread.empty()) {
    if (!check.at) time_unknown(check, r, r.key(), reading);
    reading.record.checks.push_back(std::move(check));
  } else if (demanded) {
    reading.warn(r, "output", "no-findings", "The check was completed without its findings; it does not count as one.");
  }
}

/// The answer to a call: which gate or step, and the value that the clinician had before the eyes. Whose it is says the owner, when that is a person.
void add_decision(const Resource& r, const DoneAt& done, Reading& reading) {
  clinical::Decision decision;
  decision.source = r.fact_source();
  decision.at = done.at;
  bool any = false;
  for (const auto& output : r.body["output"].items()) {
    const auto what = code_in(output["type"], fhir::system_uri::access_statement, reading);
    if (what == "gate") decision.subject = code_value(output, "", reading);
    if (what == "value-seen") decision.value_seen = seen_value(output, reading);
    any = any || what == "gate" || what == "value-seen";
  }
  if (!any) return;
  if (decision.subject.empty()) return reading.error(r, "output", "no-gate", "The decision does not say for which gate or step it is; it is not used.");
  const bool person = !first_key(r.body["owner"], "Practitioner", r).empty() || !first_key(r.body["owner"], "PractitionerRole", r).empty();
  if (person) decision.performer = shown(r.body["owner"], r, reading);
  if (decision.performer.empty()) reading.error(r, "owner", "no-performer", "The decision does not say whose it is; it opens nothing.");
  reading.record.decisions.push_back(std::move(decision));
}

// Whoever gives a step of the pull back and says why has seen something at the groin or in the order. A Task that we cancelled ourselves says why in our words.
void take_refusal(const Resource& r, const clinical::TaskFact& task, Reading& reading) {
  using S = TaskState;
  const bool given_back = task.state == S::rejected || task.state == S::failed || task.state == S::on_hold || (task.state == S::cancelled && task.identity.empty());
  const auto& why = r.body["statusReason"].has("concept") ? r.body["statusReason"]["concept"] : r.body["statusReason"];
  const auto said = title_of(why);
  if (!given_back || said.empty() || (task.step != "confirm-readiness" && task.step != "remove-sheath")) return;
  clinical::Decision no;
  no.source = task.source;
  no.subject = task.step;
  no.value_seen = said;
  no.performer = task.owner;
  no.at = task.changed;
  no.refused = true;
  reading.record.decisions.push_back(std::move(no));
}

void take_completion(const Resource& r, const clinical::TaskFact& task, const DoneAt& done, Reading& reading) {
  if (task.step == "remove-sheath") {
    add_event(AccessEventKind::sheath_removed, done, task, reading);
    add_event(AccessEventKind::compression_started, done, task, reading);
  } else if (task.step == "end-compression") {
    add_event(AccessEventKind::compression_ended, done, task, reading);
    if (note_says(words_beside(r), reading.terms) != NoteSays::trouble) add_event(AccessEventKind::haemostasis_confirmed, done, task, reading);
  }
  const bool look = task.step == "check-site" || task.step == "check-after-walk";
  add_check(r, done, task, look, reading);
  if (task.step == "call-clinician") add_decision(r, done, reading);
}

}  // namespace

void read_task(const Resource& r, Reading& reading) {
  clinical::TaskFact out;
  out.source = r.fact_source();
  out.step = code_in(r.body["code"], fhir::system_uri::aftercare_step, reading);
  if (out.step.empty()) return;
  if (!fhir::is_step_code(out.step)) return reading.error(r, "code", "unknown-code", "\"" + out.step + "\" is no step.");
  if (r.body["doNotPerform"].boolean() == true) return reading.warn(r, "doNotPerform", "not-done", "A Task not to do this; it moves nothing.");
  out.identity = own_identity(r.body);
  out.procedure = procedure_of(r);
  if (out.identity.empty() && out.procedure.empty()) {
    return reading.warn(r, "reasonReference", "no-case", "The Task is not one of ours and names no Procedure; it moves nothing.");
  }
  const auto brief = task_brief(r.body);
  out.state = state_named(brief.status);
  out.owner = r.body["owner"].is_object() ? shown(r.body["owner"], r, reading) : std::string();
  read_access_site(r, reading, out);
  out.changed = moment_of(r.body["lastModified"], r, "lastModified", reading);
  if (out.state == TaskState::completed) {
    const auto done = done_at(r, reading);
    take_completion(r, out, done, reading);
    out.changed = done.at;
  } else if (at_the_bed(out) && out.state != TaskState::requested && note_says(words_beside(r), reading.terms) == NoteSays::trouble) {
    add_check(r, done_at(r, reading), out, false, reading);  // not done, and what stands beside it is trouble
  }
  take_refusal(r, out, reading);
  reading.record.tasks.push_back(std::move(out));
}

}  // namespace fhir_read
