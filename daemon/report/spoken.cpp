#include "report/spoken.h"

#include <algorithm>
#include <set>

#include "clinical/names.h"

namespace report {

std::string fact_name(const words::Voice& v, const clinical::CasePlan& plan, const clinical::Source& source) {
  const auto same = [&](const auto& shown) { return shown.source.reference == source.reference; };
  const auto with_reference = [&](const std::string& name) { return name + " (" + source.reference + ")"; };
  if (const auto value = std::ranges::find_if(plan.shown_values, same); value != plan.shown_values.end() && value->value)
    return with_reference(v.term("analyte", name_of(value->analyte)) + " " + value->value->written);
  if (const auto dose = std::ranges::find_if(plan.shown_doses, same); dose != plan.shown_doses.end())
    return with_reference(dose->name.empty() ? v.term("agent", name_of(dose->agent)) : dose->name);
  return source.reference;
}

std::string fact_names(const words::Voice& v, const clinical::CasePlan& plan, const std::vector<clinical::Source>& sources, std::size_t most) {
  std::vector<std::string> names;
  for (const auto& source : sources)
    if (auto name = fact_name(v, plan, source); !source.reference.empty() && std::ranges::find(names, name) == names.end()) names.push_back(std::move(name));
  const std::size_t more = names.size() > most ? names.size() - most : 0;
  names.resize(names.size() - more);
  std::string text = words::joined(names, ", ");
  if (more > 0) text += " " + v.say("record.and-more", {{"n", static_cast<std::int64_t>(more)}});
  return text;
}

std::string person_line(const clinical::CasePlan& plan) {
  std::vector<std::string> parts;
  for (const auto& part : {plan.patient.name, plan.patient.birth_written, plan.patient.record_number, plan.place})
    if (!part.empty()) parts.push_back(part);
  return words::joined(parts, ", ");
}

std::string zone_name(const words::Voice& v) { return v.context.zone ? v.context.zone->name() : "UTC"; }

std::string head_line(const words::Voice& v, const std::string& protocol, const std::string& version, bool approved, clinical::Instant as_of) {
  return v.say(approved ? "record.head-approved" : "record.head", {{"at", v.words.time(as_of, v.context, words::Format::date)},
                                                                    {"zone", zone_name(v)},
                                                                    {"protocol", protocol},
                                                                    {"version", version}});
}

}  // namespace report
