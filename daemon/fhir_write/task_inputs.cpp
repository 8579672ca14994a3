#include "fhir_write/task_inputs.h"

#include <algorithm>

#include "clinical/names.h"
#include "clinical/phrases.h"
#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir_write/elements.h"

namespace fhir_write {
namespace {

using clinical::Step;
using json::Value;

constexpr auto kSnomed = fhir::system_uri::snomed;

class Inputs {
 public:
  explicit Inputs(const WriterContext& context) : context_(context) {}

  void add(const char* code, const char* element, Value value) {
    Value type = concept_of({coding(fhir::system_uri::task_input, code)}, say(context_, std::string("record.input.") + code));
    all_.push(Value::object({{"type", std::move(type)}, {element, std::move(value)}}));
  }
  void add(const char* code, const clinical::Setting& setting, const char* unit, const char* ucum, const char* comparator) {
    add(code, "valueQuantity", quantity(setting.micro, unit, ucum, comparator));
  }
  void add(const char* code, const std::string& text) {
    if (!text.empty()) add(code, "valueString", text);
  }
  void add(const char* code, const std::optional<clinical::Instant>& at) {
    if (at) add(code, "valueDateTime", fhir::format_utc(*at));
  }
  Value take() { return std::move(all_); }

 private:
  const WriterContext& context_;
  Value all_ = Value::array();
};

// SNOMED CT codes of the Global Patient Set; of a vein only the generic structure is known there, so that the side stands beside it.
std::vector<Value> site_codings(const clinical::SitePlan& site) {
  using clinical::Side;
  using clinical::Vessel;
  const bool left = site.side == Side::left, right = site.side == Side::right;
  if (site.vessel == Vessel::artery)
    return {left ? coding(kSnomed, "113270003") : right ? coding(kSnomed, "69833005") : coding(kSnomed, "7657000")};
  std::vector<Value> codings;
  if (site.vessel == Vessel::vein) codings.push_back(coding(kSnomed, "83419000"));
  if (left) codings.push_back(coding(kSnomed, "7771000"));
  if (right) codings.push_back(coding(kSnomed, "24028007"));
  return codings;
}

Value access_site(const WriterContext& context, const clinical::CasePlan& plan, const clinical::SitePlan& site) {
  return concept_of(site_codings(site), say(context, "record.access-site",
                                            {{"where", words::where(voice(context), plan, {site.key})}, {"sheath", say(context, sheath_phrase(site))}}));
}

void add_limits(Inputs& inputs, const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  const auto& protocol = context.protocol;
  const Step step = *item.key.step;
  if (step == Step::draw_coagulation) inputs.add("act-below", protocol.act_limit, "s", "s", "<");
  if (step == Step::check_site || step == Step::check_after_walk) inputs.add("swelling-below", protocol.swelling_limit, "cm", "cm", "<");
  if (step == Step::sit_up || step == Step::stand_and_walk || step == Step::raise_head) {
    inputs.add("systolic-at-least", protocol.systolic_low, "mmHg", "mm[Hg]", ">=");
    inputs.add("systolic-below", protocol.systolic_close, "mmHg", "mm[Hg]", "<");
  }
  if (step == Step::remove_sheath || step == Step::confirm_readiness)
    if (const auto* site = site_of(plan, item.key.site)) inputs.add("do-not-start-after", first_expiry(*site));
  if (item.milestone && item.milestone->planned && step != Step::stand_and_walk && step != Step::sit_up && step != Step::raise_head)
    inputs.add("duration", "valueDuration", quantity(clinical::whole(item.milestone->planned->count()), "min", "min"));
}

void add_open_points(Inputs& inputs, const WriterContext& context, const clinical::CasePlan& plan) {
  for (const auto& missing : plan.missing) {
    const std::string code(name_of(missing.fact));
    inputs.add("missing-fact", "valueCodeableConcept",
               concept_of({coding(AFTERSHEATH_BASE "/CodeSystem/fact", code)}, missing_item(voice(context), missing)));
  }
  for (const auto& conflict : plan.conflicts) {
    const std::string code(name_of(conflict.fact));
    inputs.add("conflicting-fact", "valueCodeableConcept",
               concept_of({coding(AFTERSHEATH_BASE "/CodeSystem/fact", code)}, conflict_item(voice(context), conflict)));
    for (const auto& source : conflict.inputs) inputs.add("conflicting-source", "valueReference", reference(source.reference));
  }
}

}  // namespace

Value task_inputs(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  Inputs inputs(context);
  for (const auto& key : item.sites)
    if (const auto* site = site_of(plan, key)) inputs.add("access-site", "valueCodeableConcept", access_site(context, plan, *site));
  inputs.add("valid-until", plan.valid_until);
  add_limits(inputs, context, plan, item);
  if (item.key.step == Step::provide_missing) add_open_points(inputs, context, plan);
  if (item.key.step == Step::call_clinician) {
    inputs.add("subject", item.subject);
    inputs.add("value-seen", item.value_seen);
  }
  return inputs.take();
}

}  // namespace fhir_write
