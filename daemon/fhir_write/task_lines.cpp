#include "fhir_write/task_lines.h"

#include <algorithm>

#include "clinical/phrases.h"
#include "fhir_write/elements.h"

namespace fhir_write {
namespace {

using clinical::Step;

bool pressed_by_device(const clinical::CasePlan& plan, const clinical::Item& item) {
  const auto* site = site_of(plan, item.key.site);
  return site && site->closure == clinical::Closure::mechanical;
}

// The set-up of a device is looked at before the sheath comes out and again where its Task begins; what is done on arrival, at the first check.
std::vector<std::string> lists_of(const clinical::CasePlan& plan, const clinical::Item& item) {
  const bool device = pressed_by_device(plan, item);
  switch (*item.key.step) {
    case Step::confirm_readiness: return device ? std::vector<std::string>{"lines.ready.", "lines.device."} : std::vector<std::string>{"lines.ready."};
    case Step::remove_sheath: return device ? std::vector<std::string>{"lines.pull.", "lines.device."} : std::vector<std::string>{"lines.pull."};
    case Step::firm_compression: return device ? std::vector<std::string>{"lines.device."} : std::vector<std::string>{};
    case Step::reduce_pressure: return device ? std::vector<std::string>{"lines.step-down."} : std::vector<std::string>{};
    case Step::end_compression: return device ? std::vector<std::string>{"lines.device-off."} : std::vector<std::string>{};
    case Step::check_site: return item.key.ordinal == 1 ? std::vector<std::string>{"lines.arrival."} : std::vector<std::string>{};
    case Step::raise_head: return {"lines.rest."};
    case Step::stand_and_walk: return {"lines.walk."};
    case Step::ask_anticoagulant_plan: return {"lines.anticoagulant-plan."};
    case Step::discharge_check: return {"lines.discharge.", "lines.home."};
    default: return {};
  }
}

}  // namespace

std::vector<std::string> task_lines(const WriterContext& context, const clinical::CasePlan& plan, const clinical::Item& item) {
  std::vector<std::string> lines;
  if (item.key.kind != clinical::ItemKind::task || !item.key.step || !item.milestone) return lines;
  for (const auto& list : lists_of(plan, item))
    for (int i = 1; context.words.has_reason(list + std::to_string(i)); ++i) lines.push_back(say(context, clinical::Reason{list + std::to_string(i), {}}));
  return lines;
}

}  // namespace fhir_write
